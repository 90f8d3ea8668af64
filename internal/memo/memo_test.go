package memo_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"

	"needlepace/internal/memo"
)

type heavy string

func (h heavy) Weight() int { return len(h) }

func TestWhatWasAskedForLastStaysLongest(t *testing.T) {
	var m memo.Memo[int, heavy]
	made := 0
	ask := func(n int, text heavy) {
		t.Helper()
		got, err := m.Get(t.Context(), 10, n, func() (heavy, error) { made++; return text, nil })
		if err != nil || got != text {
			t.Fatalf("%d: %q, %v", n, got, err)
		}
	}
	ask(1, "four")
	ask(2, "four")
	ask(1, "four") // 2 was asked for longest ago
	ask(3, "four")
	if made != 3 || m.Weight() != 8 {
		t.Fatalf("made %d, which weigh %d", made, m.Weight())
	}
	ask(1, "four")
	if made != 3 {
		t.Error("what was asked for last was forgotten")
	}
	ask(2, "four")
	if made != 4 {
		t.Error("what was asked for longest ago was remembered beyond the weight")
	}
	for range 2 {
		ask(4, "too heavy to be kept")
	}
	if made != 6 || m.Weight() > 10 {
		t.Errorf("made %d, which weigh %d of 10", made, m.Weight())
	}
}

func TestAnErrorIsNotRemembered(t *testing.T) {
	var m memo.Memo[string, int]
	bad := errors.New("bad")
	if _, err := m.Get(t.Context(), 1, "a", func() (int, error) { return 0, bad }); !errors.Is(err, bad) {
		t.Fatal(err)
	}
	if v, err := m.Get(t.Context(), 1, "a", func() (int, error) { return 7, nil }); v != 7 || err != nil {
		t.Fatal(v, err)
	}
	func() {
		defer func() { recover() }() //nolint:errcheck // it panics on purpose
		m.Get(t.Context(), 1, "b", func() (int, error) { panic("on purpose") })
	}()
	if v, err := m.Get(t.Context(), 1, "b", func() (int, error) { return 8, nil }); v != 8 || err != nil {
		t.Fatal(v, err)
	}
}

// Those who ask at once share one; where who makes it gives up, another makes it, and who waits
// no longer than their own time.
func TestThoseWhoAskAtOnceShare(t *testing.T) {
	var m memo.Memo[string, int]
	var made atomic.Int32
	begun, on := make(chan struct{}), make(chan struct{})
	gone, leave := context.WithCancel(t.Context())
	first := make(chan error)
	go func() {
		_, err := m.Get(gone, 9, "a", func() (int, error) { close(begun); <-on; return 0, context.Cause(gone) })
		first <- err
	}()
	<-begun
	short, end := context.WithCancel(t.Context())
	end()
	if _, err := m.Get(short, 9, "a", func() (int, error) { return 0, errors.New("made twice") }); !errors.Is(err, context.Canceled) {
		t.Errorf("who could not wait got %v", err)
	}
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			v, err := m.Get(t.Context(), 9, "a", func() (int, error) { return int(made.Add(1)), nil })
			if v != 1 || err != nil {
				t.Error(v, err)
			}
		})
	}
	leave()
	close(on)
	if err := <-first; !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	all.Wait()
	if made.Load() != 1 {
		t.Errorf("made %d times", made.Load())
	}
}

func TestManyAtOnceStayWithinTheWeight(t *testing.T) {
	var m memo.Memo[int, heavy]
	var all sync.WaitGroup
	for g := range 8 {
		all.Go(func() {
			for i := range 500 {
				n := (i*7 + g) % 40
				v, err := m.Get(t.Context(), 50, n, func() (heavy, error) { return heavy(fmt.Sprintf("%05d", n)), nil })
				if err != nil || string(v) != fmt.Sprintf("%05d", n) {
					t.Error(v, err)
				}
			}
		})
	}
	all.Wait()
	if m.Weight() > 50 || m.Weight() < 30 {
		t.Errorf("%d of 50", m.Weight())
	}
}
