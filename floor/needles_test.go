package floor

import (
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/thread"
)

// Twenty colour blocks of two threads on 15 needles: where the needles are said,
// nobody re-threads; where they are not, the last five are put on by hand.
func TestBlocksWithANeedleAreNotRethreaded(t *testing.T) {
	d := &stitch.Design{}
	for b := range 20 {
		if b > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		for range 30 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.Sew, DX: 20})
		}
	}
	s, ok := machine.Class("single-15-light")
	if !ok {
		t.Fatal("no such class")
	}
	var said []int
	for b := range 20 {
		said = append(said, b%2)
	}
	for _, c := range []struct {
		needles []int
		want    int
	}{{nil, 5}, {said, 0}, {said[:17], 3}} {
		job := clock.Job{Needles: c.needles}
		run, err := NewRun(d, s, job, DefaultWork, 1, thread.Default, nil)
		if err != nil {
			t.Fatal(err)
		}
		if n := clock.Run(d, s, job).Rethreads; len(run.Stops) != c.want || n != c.want {
			t.Errorf("%d needles said: %d stops for a re-thread, the clock counts %d, want %d", len(c.needles), len(run.Stops), n, c.want)
		}
	}
}
