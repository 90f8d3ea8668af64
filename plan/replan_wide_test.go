package plan

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// A rush order of 24 pieces and nothing at all are small changes, in a shop with little to do too; a machine that is down for days is a wide one,
// and so are a hundred orders at once.
func TestWhichChangesAreWide(t *testing.T) {
	for _, load := range []float64{.5, .9, 1.1} {
		p := shop(rand.New(rand.NewPCG(41, 1)), 160, 6, load)
		s := must(t, p, Options{Moves: 200_000, NoBound: true})
		rush := p.Jobs[1]
		rush.ID, rush.Due, rush.Weight, rush.Release = "rush", 10*3600, 4, 0
		rush.Quantity = 24
		large := rush
		large.Quantity = 150
		many := *p
		for i := range 100 {
			j := p.Jobs[i]
			j.ID, j.Due, j.Release = j.ID+" again", 3*86400, 0
			many.Jobs = append(slices.Clip(many.Jobs), j)
		}
		type change struct {
			to   *Problem
			wide bool
		}
		changes := map[string]change{
			"nothing": {p, false}, "a rush order": {withJob(p, rush), false},
			"a machine down": {withDown(p, 3, 0, 5*86400, 0), true}, "a hundred orders": {&many, true},
		}
		if load > 1 { // where much is late already
			changes["a large rush order"] = change{withJob(p, large), false}
		}
		for what, c := range changes {
			_, left := fromSeeds(c.to, carry(Plan{p, s}, c.to))
			if left.wide(s.Lateness) != c.wide {
				t.Errorf("load %v, %s: wide %v; late by %.0f h, was by %.0f h", load, what, !c.wide, left.totals().Lateness/3600, s.Lateness/3600)
			}
		}
	}
}
