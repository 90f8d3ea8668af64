package learn

import (
	"math/rand/v2"
	"testing"
)

// A machine that is slower in the first minute and a half of a run: where the rows are sure of it the sheet counts it at the start,
// and every kind of machine in it does; where they leave it open it is one kind more, as strongly as it is believed; where there is
// none no kind starts later.
func TestASlowStartOfRunsIsWeighed(t *testing.T) {
	s := mustClass(t, "single-15-light")
	for _, c := range []struct {
		share      float64
		sure, open bool
	}{{0, false, false}, {0.06, false, true}, {0.15, true, false}} {
		if testing.Short() && !c.open {
			continue
		}
		truth, _, obs := timedPiece(t, s, 8)
		rng := rand.New(rand.NewPCG(6, 4))
		for k := range 2 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 2000), 900-180*float64(k), true)...)
		}
		whole, now := 0, 0.0
		for i := range obs {
			if obs[i].Kind == WholeRun {
				whole, now = i, 0
				continue
			}
			lost := c.share * max(min(obs[i].Seconds, 90-now), 0)
			now += obs[i].Seconds + 10
			obs[i].Seconds += lost
			obs[whole].Seconds += lost
		}
		res := fit(t, s, obs, noDraws)
		start := res.Sheet.Rest.Start
		if sure := res.WarmUp > 4 && start > truth.Rest.Start+4; sure != c.sure {
			t.Errorf("loses %v: a run loses %.1f s, starts after %.1f s, truly %.1f s", c.share, res.WarmUp, start, truth.Rest.Start)
		}
		later, earlier := 0.0, 0.0 // how strongly kinds are believed that start so
		for _, a := range res.Sheet.Fit.Also {
			if v, ok := a.Values["rest.start"]; ok && v > start+2 {
				later += a.Weight
			} else if ok && v < start-2 {
				earlier += a.Weight
			}
		}
		if open := later > 0.05 && later < 0.5; open != c.open || earlier > 0 {
			t.Errorf("loses %v: kinds that start later %.2f, earlier %.2f", c.share, later, earlier)
		}
	}
}
