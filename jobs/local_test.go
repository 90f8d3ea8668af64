package jobs_test

import (
	"context"
	"runtime"
	"sync"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/machine"
	"needlepace/shop"
)

// Where queues share slots, together they do no more at a time than there are slots,
// and one with much work does not keep another's waiting behind all of it.
func TestQueuesOfOneProgramTakeTurns(t *testing.T) {
	shared, slots := jobs.NewSlots(), max(1, runtime.GOMAXPROCS(0)/2)
	busy, calm := jobs.NewLocal(time.Minute, time.Now, shared), jobs.NewLocal(time.Minute, time.Now, shared)
	defer busy.Close()
	defer calm.Close()
	step, done := make(chan struct{}), make(chan string, 100)
	defer close(step)
	begin := func(q *jobs.Local, name string) {
		t.Helper()
		if _, err := q.Begin("audit", "", func(context.Context, jobs.Step) (any, error) {
			done <- "begun"
			<-step
			done <- name
			return nil, nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	for range 20 {
		begin(busy, "busy")
	}
	for range slots {
		<-done
	}
	time.Sleep(20 * time.Millisecond) // the others wait by then
	begin(calm, "calm")
	time.Sleep(20 * time.Millisecond)
	if n := len(done); n != 0 {
		t.Fatalf("%d more pieces of work run than there are slots", n)
	}
	if busy.Open() != 20 || calm.Open() != 1 {
		t.Errorf("%d and %d pieces of work are open, want 20 and 1", busy.Open(), calm.Open())
	}
	for ended := 0; ; {
		select {
		case step <- struct{}{}:
		case name := <-done:
			if name == "calm" {
				return
			}
			if name == "busy" {
				ended++
			}
		case <-time.After(10 * time.Second):
			t.Fatal("nothing goes on")
		}
		if ended > 3*slots {
			t.Fatalf("%d of the other's came before it", ended)
		}
	}
}

// away is somebody who makes what is heavy elsewhere, and lets it be seen that it waits.
type away struct{ begun, end chan struct{} }

func (a away) Make(ctx context.Context, _ string, _ [][]byte, _ func(done, of float64)) ([][]byte, bool, error) {
	a.begun <- struct{}{}
	select {
	case <-a.end:
	case <-ctx.Done():
	}
	return nil, false, nil
}

// Work whose heavy part is made elsewhere takes no slot while it waits for it, and one
// again for the rest; stopped, it ends though it has none.
func TestWhoWaitsForOthersTakesNoSlot(t *testing.T) {
	sheet, _ := machine.Class("single-15-light")
	shared := jobs.NewSlots()
	q := jobs.NewLocal(time.Minute, time.Now, shared)
	defer q.Close()
	slots := max(1, runtime.GOMAXPROCS(0)/2)
	begin := func(do func(context.Context, jobs.Step) (any, error)) string {
		t.Helper()
		w, err := q.Begin("testpiece", "", do)
		if err != nil {
			t.Fatal(err)
		}
		return w.ID
	}
	var waiting []string
	var by []away
	for k := range slots + 2 {
		by = append(by, away{make(chan struct{}), make(chan struct{})})
		waiting = append(waiting, begin(func(ctx context.Context, _ jobs.Step) (any, error) {
			return ask.TestPiece(ask.WithElsewhere(ctx, by[k]), ask.Given{On: sheet}, ask.TestPieceQuestion{})
		}))
		select {
		case <-by[k].begun:
		case <-time.After(10 * time.Second):
			t.Fatal("who waits for others keeps more from asking them")
		}
	}
	block, ran := make(chan struct{}), make(chan struct{}, 100)
	hold := func(context.Context, jobs.Step) (any, error) {
		until := block
		ran <- struct{}{}
		<-until
		return nil, nil
	}
	for range slots { // they get all slots though others wait
		begin(hold)
	}
	for range slots {
		select {
		case <-ran:
		case <-time.After(10 * time.Second):
			t.Fatal("what waits for others keeps the slots")
		}
	}
	if err := q.Stop(waiting[0]); err != nil {
		t.Fatal(err)
	}
	if w, err := q.Look(t.Context(), waiting[0], 10*time.Second); err != nil || w.State != jobs.Cancel {
		t.Errorf("stopped: %+v, %v", w, err)
	}
	by[1].end <- struct{}{} // nobody made it: it is made here, when there is a slot
	time.Sleep(30 * time.Millisecond)
	if w, err := q.Look(t.Context(), waiting[1], 0); err != nil || w.State != jobs.Running {
		t.Errorf("without a slot: %+v, %v", w, err)
	}
	close(block)
	if w, err := q.Look(t.Context(), waiting[1], 30*time.Second); err != nil || w.State != jobs.Done {
		t.Errorf("made here: %+v, %v", w, err)
	}
	for _, id := range waiting {
		q.Stop(id) //nolint:errcheck // it may be done
	}
	block = make(chan struct{})
	defer close(block)
	for range slots + 3 { // every slot is there again, and no more
		begin(hold)
	}
	for range slots {
		select {
		case <-ran:
		case <-time.After(30 * time.Second):
			t.Fatal("slots were lost")
		}
	}
	time.Sleep(30 * time.Millisecond)
	if n := len(ran); n != 0 {
		t.Errorf("%d more run than there are slots", n)
	}
}

// What came out is kept for twenty minutes, and of two hundred pieces of work at most, the oldest go.
func TestResultsAreKeptForATimeAndNotWithoutEnd(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	var mu sync.Mutex
	q := jobs.NewLocal(time.Minute, func() time.Time { mu.Lock(); defer mu.Unlock(); return now }, nil)
	defer q.Close()
	later := func(d time.Duration) { mu.Lock(); defer mu.Unlock(); now = now.Add(d) }
	begin := func(do func(context.Context, jobs.Step) (any, error)) string {
		t.Helper()
		w, err := q.Begin("audit", "", do)
		if err != nil {
			t.Fatal(err)
		}
		return w.ID
	}
	done := func() string {
		t.Helper()
		id := begin(func(context.Context, jobs.Step) (any, error) { return 1, nil })
		if w, err := q.Look(t.Context(), id, 10*time.Second); err != nil || w.State != jobs.Done {
			t.Fatalf("%+v, %v", w, err)
		}
		return id
	}
	there := func(what, id string, want bool) {
		t.Helper()
		if _, err := q.Look(t.Context(), id, 0); (err == nil) != want || !want && shop.CodeOf(err) != shop.NotFound {
			t.Errorf("%s: %v", what, err)
		}
	}
	first := done()
	later(19 * time.Minute)
	second := done()
	there("after 19 minutes", first, true)
	later(2 * time.Minute)
	third := done()
	there("after 21 minutes", first, false)
	there("after 2 minutes", second, true)
	for range 200 {
		later(time.Millisecond)
		done()
	}
	there("the oldest of 202", second, false)
	there("the second of 202", third, false)
}

// 32 pieces of work are open at most, and one more where one of them has ended.
func TestNoMoreWorkIsTakenThanCanWait(t *testing.T) {
	q := jobs.NewLocal(time.Minute, time.Now, nil)
	defer q.Close()
	block := make(chan struct{})
	begin := func() (string, error) {
		w, err := q.Begin("audit", "", func(ctx context.Context, _ jobs.Step) (any, error) {
			select {
			case <-block:
			case <-ctx.Done():
			}
			return nil, ctx.Err()
		})
		return w.ID, err
	}
	first, err := begin()
	for n := 2; n <= 32 && err == nil; n++ {
		_, err = begin()
	}
	if err != nil {
		t.Fatal(err)
	}
	if _, err := begin(); shop.CodeOf(err) != shop.Busy {
		t.Errorf("the 33rd: %v", err)
	}
	if err := q.Stop(first); err != nil {
		t.Fatal(err)
	}
	if w, err := q.Look(t.Context(), first, 10*time.Second); err != nil || w.State != jobs.Cancel {
		t.Errorf("stopped: %+v, %v", w, err)
	}
	if _, err := begin(); err != nil {
		t.Errorf("when one has ended: %v", err)
	}
	close(block)
}
