package jobs

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// every is a round that is due every so often and notes when it was done.
type every struct {
	mu    sync.Mutex
	of    time.Duration // 0: turned off
	last  time.Time
	done  []time.Time
	takes time.Duration
	fail  int // times that it could not be kept
	cut   int // times that it was stopped in its midst
}

func (e *every) Name() string { return "every" }

func (e *every) Due(context.Context) (at, last time.Time, err error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	switch {
	case e.of == 0:
		return at, e.last, nil
	case e.last.IsZero():
		return time.Now(), e.last, nil
	}
	return e.last.Add(e.of), e.last, nil
}

func (e *every) Do(ctx context.Context) error {
	began := time.Now()
	select {
	case <-time.After(e.takes):
	case <-ctx.Done():
		e.mu.Lock()
		defer e.mu.Unlock()
		e.cut++
		return ctx.Err()
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.fail > 0 {
		e.fail--
		return errors.New("cannot be kept")
	}
	e.last = began
	e.done = append(e.done, began)
	return nil
}

func (e *every) set(of time.Duration) { e.mu.Lock(); e.of = of; e.mu.Unlock() }

// Rounds are done in this program when they are due, however long each takes and whatever else is under way; one that cannot be
// kept is done again, one that is turned off is not done, and the end waits for none to go on.
func TestRoundsAreDoneRegularly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := NewLocal(time.Minute, time.Now, nil)
		hold := make(chan struct{})
		for range 9 { // all slots of people's work are taken
			if _, err := q.Begin("plan", "Ada", func(ctx context.Context, _ Step) (any, error) { <-hold; return nil, nil }); err != nil {
				t.Fatal(err)
			}
		}
		began := time.Now()
		a, b := &every{of: time.Hour, takes: 5 * time.Minute}, &every{fail: 1}
		var said strings.Builder
		end := Regularly(slog.New(slog.NewTextHandler(&said, nil)), In(q), a, b)
		time.Sleep(3*time.Hour + 10*time.Minute)
		after := func(of *every) (all []time.Duration) {
			of.mu.Lock()
			defer of.mu.Unlock()
			for _, at := range of.done {
				all = append(all, at.Sub(began))
			}
			return all
		}
		// A round may take longer than people's work: a minute here.
		if got, want := after(a), []time.Duration{0, time.Hour, 2 * time.Hour, 3 * time.Hour}; !slices.Equal(got, want) {
			t.Errorf("each hour: %v", got)
		}
		if len(after(b)) != 0 || said.Len() != 0 {
			t.Errorf("turned off it was done %v; %s", after(b), said.String())
		}
		// Where nothing can be kept it is tried again, less and less often.
		b.fail = 100
		b.set(24 * time.Hour)
		time.Sleep(2 * time.Hour)
		b.mu.Lock()
		tried := 100 - b.fail
		b.fail = 1
		b.mu.Unlock()
		if tried < 6 || tried > 9 {
			t.Errorf("in two hours in which nothing can be kept it was tried %d times", tried)
		}
		time.Sleep(3 * time.Hour)
		if got := after(b); len(got) != 1 || !strings.Contains(said.String(), "cannot be kept") {
			t.Errorf("turned on, and kept at last: %v; %s", got, said.String())
		}
		time.Sleep(time.Until(began.Add(9*time.Hour + time.Minute))) // in the midst of the next
		end()
		if n := len(after(a)); n != 9 || a.cut != 1 {
			t.Errorf("ended in its midst it was done %d times, and stopped %d times", n, a.cut)
		}
		time.Sleep(2 * time.Hour)
		if n := len(after(a)); n != 9 || a.cut != 1 {
			t.Errorf("after the end it was done %d times, and stopped %d times", n, a.cut)
		}
		close(hold)
		q.Close()
	})
}
