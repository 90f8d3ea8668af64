package shop_test

import (
	"context"
	"testing"

	"needlepace/shop"
)

// A slot is held once and left once, however often that is said; who cannot have it again holds none.
func TestASlotIsHeldOnce(t *testing.T) {
	slots := make(shop.Slots, 2)
	h, err := slots.Hold(t.Context())
	if err != nil || len(slots) != 1 {
		t.Fatalf("%d are held, %v", len(slots), err)
	}
	if err := h.Return(t.Context()); err != nil || len(slots) != 1 {
		t.Errorf("held again: %d are held, %v", len(slots), err)
	}
	for range 2 {
		h.Leave()
		if len(slots) != 0 {
			t.Errorf("left: %d are held", len(slots))
		}
	}
	slots <- struct{}{}
	slots <- struct{}{}
	over, stop := context.WithCancel(t.Context())
	stop()
	if err := h.Return(over); shop.CodeOf(err) != shop.Stopped {
		t.Errorf("stopped: %v", err)
	}
	h.Leave()
	if len(slots) != 2 {
		t.Errorf("who holds none left one: %d are held", len(slots))
	}
}
