package shop

import (
	"context"
	"errors"
	"testing"
	"time"
)

func TestOneWhoOnlyReadsLooksOnceInAMoment(t *testing.T) {
	looked := 0
	look := func(context.Context) (Revision, error) { looked++; return Revision{Designs: int64(looked)}, nil }
	reader := Reading(t.Context())
	for _, c := range []struct {
		ctx  context.Context
		want int64
	}{{reader, 1}, {reader, 1}, {t.Context(), 2}, {t.Context(), 3}, {Reading(t.Context()), 4}, {reader, 1}} {
		if r, err := RevisionOf(c.ctx, look); err != nil || r.Designs != c.want {
			if c.ctx == reader && r.Designs == int64(looked) {
				t.Skip("this computer is too busy: the moment was over")
			}
			t.Errorf("%+v, %v; want %d", r, err, c.want)
		}
	}
	time.Sleep(readingFor)
	if r, _ := RevisionOf(reader, look); r.Designs != 5 {
		t.Errorf("the moment never ends: %+v", r)
	}
}

func TestWhatIsKeptIsReadAnewOnceItsCountGrew(t *testing.T) {
	reads := 0
	read := func() (int, error) { reads++; return reads, nil }
	var k Kept[int]
	byID := KeptByID[int]{Most: 2}
	for _, c := range []struct {
		name string
		got  func() (int, error)
		want int
	}{
		{"first", func() (int, error) { return k.Get(1, read) }, 1},
		{"kept", func() (int, error) { return k.Get(1, read) }, 1},
		{"changed", func() (int, error) { return k.Get(2, read) }, 2},
		{"a", func() (int, error) { return byID.Get(1, "a", read) }, 3},
		{"b", func() (int, error) { return byID.Get(1, "b", read) }, 4},
		{"a kept", func() (int, error) { return byID.Get(1, "a", read) }, 3},
		{"a changed", func() (int, error) { return byID.Get(2, "a", read) }, 5},
		{"asked by one who looked before", func() (int, error) { return byID.Get(1, "a", read) }, 6},
		{"that one left nothing old", func() (int, error) { return byID.Get(2, "a", read) }, 5},
		{"b again", func() (int, error) { return byID.Get(2, "b", read) }, 7},
		{"one too many", func() (int, error) { return byID.Get(2, "c", read) }, 8},
		{"all forgotten", func() (int, error) { return byID.Get(2, "a", read) }, 9},
	} {
		if got, err := c.got(); err != nil || got != c.want {
			t.Errorf("%s: %d, %v; want %d", c.name, got, err, c.want)
		}
	}
	broken := errors.New("broken")
	if _, err := k.Get(3, func() (int, error) { return 0, broken }); err != broken {
		t.Error(err)
	}
	if got, err := k.Get(3, read); err != nil || got != 10 {
		t.Errorf("after a failure: %d, %v", got, err)
	}
}
