package learn

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A machine of the model fits; one whose every row is off by a per cent or two for
// no reason does not, nor one that is held up again and again; rows that the
// constants use up leave it open.
func TestVerdict(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(4, 4))
	truth, _, piece := timedPiece(t, s, 5)
	obs := piece
	for k := range 3 {
		obs = append(obs, timed(truth, rng, somewhat(uint64(k), 4, 1500), 900-150*float64(k), true)...)
	}
	res := fit(t, s, obs, noDraws)
	if v := res.Verdict; v.Fits != FitsWell && v.Fits != FitsWithin || v.Within <= 0 || v.Within > withinNot {
		t.Errorf("a machine of the model: %+v", v)
	}
	if l := res.LeaveOut; l.Runs+l.Apart != len(obs) {
		t.Errorf("of %d rows %d are judged and %d stand apart", len(obs), l.Runs, l.Apart)
	}
	odd := append([]Observation(nil), obs...)
	for i := range odd {
		odd[i].Seconds *= math.Exp(0.015 * rng.NormFloat64())
	}
	if v := fit(t, s, odd, noDraws).Verdict; v.Fits != FitsNot {
		t.Errorf("rows that are 1.5 %% off for no reason: %+v", v)
	}
	held := append([]Observation(nil), obs...)
	for _, i := range []int{1, 3, 5} {
		held[i].Seconds += 45
		held[0].Seconds += 45
	}
	if v := fit(t, s, held, noDraws).Verdict; v.Fits != FitsNot {
		t.Errorf("three blocks held up: %+v", v)
	}
	if v := fit(t, s, piece, noDraws).Verdict; v.Fits != FitsOpen {
		t.Errorf("a test piece alone, which says as much as there are constants: %+v", v)
	}
}

// Of many variants one does well by luck: the only good one of four costs ln 4,
// four alike cost nothing.
func TestTheChoiceAmongVariantsCosts(t *testing.T) {
	if got := choosing([]float64{-3, -3, -3, -3}, -3); got != 0 {
		t.Errorf("four alike cost %v", -got)
	}
	if got := choosing([]float64{-60, -3, -70, -80}, -3); math.Abs(got+math.Log(4)) > 1e-12 {
		t.Errorf("the one of four costs %v, want ln 4", -got)
	}
}

// Colour changes that people have a hand in differ from one to the next: their scatter is learned, and intervals hold
// it; where all take the same it is nearly nothing.
func TestTheScatterOfColourChangesIsLearned(t *testing.T) {
	s := mustClass(t, "single-15-light")
	s.Rest.ColourStop = 12
	for _, c := range []struct{ sd, least, most float64 }{{0, 0, 0.05}, {0.3, 0.12, 0.6}} {
		rng := rand.New(rand.NewPCG(9, 4))
		truth, _, obs := timedPiece(t, s, 6)
		for k := range 3 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 1500), 900-150*float64(k), true)...)
		}
		for i := range obs {
			if o := &obs[i]; o.Kind == WholeRun {
				for range o.Design.Count().ColourStops {
					o.Seconds += truth.Rest.ColourStop * c.sd * rng.NormFloat64()
				}
			}
		}
		res := fit(t, s, obs, noDraws)
		if got := res.Sheet.Fit.Changes; got < c.least || got > c.most {
			t.Errorf("colour changes that differ by %v: learned %v", c.sd, got)
		}
		if v := res.Verdict.Fits; v == FitsNot {
			t.Errorf("colour changes that differ by %v: %v", c.sd, v)
		}
	}
}
