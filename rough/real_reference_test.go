package rough

import (
	"os"
	"path/filepath"
	"sort"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitchfile"
)

// real are the designs of the open collection in ../shared/data/real (its README
// names source and licence), clocked on a built-in class.
func real(t *testing.T) []Example {
	t.Helper()
	files, err := filepath.Glob("../../shared/data/real/*.*")
	if err != nil || len(files) == 0 {
		t.Skip("the real designs are not beside the tree")
	}
	sheet, ok := machine.Class("single-15-light")
	if !ok {
		t.Fatal("no such class")
	}
	var out []Example
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all, err := stitchfile.Decode(b, filepath.Base(f))
		if err != nil {
			continue
		}
		d, n, ok := Of(all)
		if !ok {
			continue
		}
		out = append(out, Example{Design: d, Stitches: n, Seconds: clock.Run(all, sheet, clock.Job{}).Seconds, Weight: 1})
	}
	return out
}

// Each design foretold from the others: eight in ten lie in their range of 80 %.
func TestEachRealDesignIsForetoldFromTheOthers(t *testing.T) {
	all := real(t)
	in, inTime := 0, 0
	var off, offTime []float64
	for i := range all {
		others := append(append([]Example{}, all[:i]...), all[i+1:]...)
		m := Learn(others)
		r := m.Stitches(all[i].Design, .8)
		n := float64(all[i].Stitches)
		if n >= r.Low && n <= r.High {
			in++
		}
		s, _ := m.Seconds(all[i].Design, .8)
		if all[i].Seconds >= s.Low && all[i].Seconds <= s.High {
			inTime++
		}
		off = append(off, max(n/r.Mid, r.Mid/n))
		offTime = append(offTime, max(all[i].Seconds/s.Mid, s.Mid/all[i].Seconds))
	}
	sort.Float64s(off)
	sort.Float64s(offTime)
	share := func(n int) float64 { return float64(n) / float64(len(all)) }
	t.Logf("%d designs: stitches in range %.0f %%, off by a factor of %.2f (half), %.2f (nine in ten); time %.0f %%, %.2f, %.2f",
		len(all), 100*share(in), off[len(off)/2], off[len(off)*9/10], 100*share(inTime), offTime[len(off)/2], offTime[len(off)*9/10])
	if share(in) < .7 || share(in) > .92 || share(inTime) < .7 || share(inTime) > .92 {
		t.Errorf("in the range of 80 %%: %.2f of stitches, %.2f of times", share(in), share(inTime))
	}
}
