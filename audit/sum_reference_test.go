package audit

import (
	"context"
	"maps"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// TestFindingsCostNoMoreThanAnyMendSaves holds the sum of an audit's findings to a
// bound that knows nothing of how they were solved: no mend of the places named
// takes less than start and end, every stitch that no finding would drop at the set
// speed, one colour stop fewer than the threads these are sewn in and, where no
// finding would sew in another order, each trim that none names.
//
// Source: 131 real stitch files in six formats from public repositories (data
// beside the project, terms mostly unstated, for checking only).
func TestFindingsCostNoMoreThanAnyMendSaves(t *testing.T) {
	designs, cut := realDesigns(t), 0
	for _, name := range slices.Sorted(maps.Keys(designs)) {
		d := designs[name]
		if testing.Short() && len(d.Records) > 10_000 {
			continue
		}
		threads, _ := ThreadsOf(d, Blocks(d))
		for _, id := range []string{"single-15-1200", "home-1"} {
			sheet := class(t, id)
			r, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: threads})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			alone := 0.0
			for _, f := range r.Findings {
				alone += f.Alone
			}
			most := r.Seconds - leastLeft(d, sheet, r, threads)
			if r.Total > most+1e-6 {
				t.Errorf("%s on %s: the findings cost %.3f s together, no mend saves more than %.3f s of %.3f s", name, id,
					r.Total, most, r.Seconds)
			}
			if alone > most {
				cut++
			}
		}
	}
	if cut == 0 {
		t.Error("nowhere do costs alone add up to more than could be saved: the test says little")
	}
	t.Logf("on %d of them costs alone would add up to more", cut)
}

// leastLeft is a bound, s, from below on the run of whatever a mend of all that a
// report names leaves.
func leastLeft(d *stitch.Design, sheet *machine.Sheet, r *Report, threads []int) float64 {
	dropped := make([]bool, r.Stitches)
	cuts, reordered := 0, false
	for _, f := range r.Findings {
		if f.Seconds <= 0 {
			continue
		}
		for _, p := range append(f.Places, f.asPlace())[:max(1, len(f.Places))] {
			switch f.Kind {
			case ShortStitches, SameHole, DenseSpot, FewStitches:
				for k := p.From; k < p.To; k++ {
					dropped[k] = true
				}
			}
		}
		switch f.Kind {
		case NeedlessTrim, DoubleCut:
			cuts += f.Count
		case LongStitches, ShortStitches, SameHole, DenseSpot, IdleStop:
		default:
			reordered = true
		}
	}
	run := clock.Run(d, sheet, clock.Job{})
	left, k, sewn := 0, 0, map[int]bool{}
	block := 0
	for _, rec := range d.Records {
		if rec.Op == stitch.ColourStop {
			block++
		}
		if !rec.Op.Penetrates() {
			continue
		}
		if !dropped[k] {
			left++
			if threads == nil {
				sewn[block] = true
			} else {
				sewn[threads[block]] = true
			}
		}
		k++
	}
	least := sheet.Rest.Start + sheet.Rest.End + float64(left)*60/run.SetSpeed + float64(max(0, len(sewn)-1))*sheet.Rest.ColourStop
	if !reordered {
		least += float64(max(0, run.Trims-cuts)) * sheet.Rest.Trim
	}
	return least
}
