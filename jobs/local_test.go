package jobs_test

import (
	"context"
	"runtime"
	"testing"
	"time"

	"needlepace/jobs"
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
