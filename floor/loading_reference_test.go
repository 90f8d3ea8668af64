package floor

import (
	"context"
	"testing"
)

func TestLoadingTakesOneToTwoMinutesAHead(t *testing.T) {
	// Trade press, multi-head article of May 2017: 1 to 2 minutes to unload and load one head; 7,500 stitches sewn in about 13 minutes are 15 minutes a run.
	if l := DefaultWork.Load.Mean; l < 60 || l > 120 {
		t.Errorf("a head is loaded in %g s by default", l)
	}
	m := DefaultWork.Machine("x", 1)
	run := Run{Seconds: []float64{13 * 60}, Stitches: 7500}
	if c := Cycle(&m, &run, 13*60, 1, 1) / 60; c < 14 || c > 15.1 {
		t.Errorf("a run takes %.1f min, in the article about 15", c)
	}
}

func TestLoadingIsSharedByThoseWhoLoad(t *testing.T) {
	// Common practice, no published source: plan 60 s × heads ÷ operators who load.
	w := DefaultWork
	w.Loaders = new(12)
	m := w.Machine("x", 12)
	for _, operators := range []int{1, 2, 3, 4, 6, 12} {
		near(t, "loading", m.LoadSeconds(12, operators), 60*12/float64(operators), 1e-9)
	}
}

func TestTwelveHeadsUnderOneOperatorYieldAbout270(t *testing.T) {
	// Common practice, no published source: with a minute a head, twelve heads and one operator give some 270 pieces of a design of 5,000 stitches in 8 hours; with 20 s a head it would be far above 400.
	yield := func(load float64) float64 {
		w := DefaultWork
		w.Load = &Spread{Mean: load, CV: w.Load.CV}
		s := &Shop{Seconds: 8 * 3600, Ready: true, Walk: Walk{Seconds: 10}, Notice: 10,
			Machines: []Machine{w.Machine("x", 12)}, Operators: []Operator{{}},
			Jobs: []Job{{Runs: []Run{{Seconds: []float64{375}, Planned: 375, Stitches: 5000, BobbinMetres: 15}}}}}
		r, err := Simulate(context.Background(), s, Options{Seed: 1, Min: 64, Max: 64}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return r.Pieces.Mean
	}
	near(t, "pieces", yield(DefaultWork.Load.Mean), 270, 13)
	if y := yield(20); y < 400 {
		t.Errorf("at 20 s a head %g pieces", y)
	}
}
