package sound

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestAStrokeWhoseTimeIsKnownHoldsTheRow: a row of strokes as long apart as the turns is not taken
// for itself a stroke later where one's time is known.
func TestAStrokeWhoseTimeIsKnownHoldsTheRow(t *testing.T) {
	wide := make([]int16, 3000)
	o := make([]float32, len(wide))
	for i := range wide {
		wide[i] = -300
	}
	for k := range 10 { // at 1 to 1.9 s
		wide[1000+100*k], o[1000+100*k] = wideUnit, 1
	}
	lay := func(known int) float64 { // ten strokes from 1.1 s on, of which nine are heard
		l := laid{passage: &passage{at: make([]float64, 10), number: make([]int, 10)}}
		for i := range 10 {
			l.want = append(l.want, 1.1+0.1*float64(i))
		}
		l.follow(wide, o, drifting{reach: 0.15, step: 0.1, ends: 0.1, known: known})
		return l.score
	}
	if free := lay(0); math.Abs(free-10) > 0.01 {
		t.Errorf("where no stroke's time is known the row earns %.2f, want all ten", free)
	}
	for _, known := range []int{1, 5} {
		if held := lay(known); math.Abs(held-8.85) > 0.01 {
			t.Errorf("with stroke %d known the row earns %.2f, want nine less what one costs where nothing is", known-1, held)
		}
	}
}

// TestPiecesAreSortedAsByTryingAll holds the search over a passage's pieces to one that tries
// every way.
func TestPiecesAreSortedAsByTryingAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 2))
	const n = 60
	for range 60 {
		pieces := []piece{{0, 0, 20}, {0, 18, 40}, {0, 40, n}}
		all := make([][]move, len(pieces))
		for i := range all {
			for _, by := range []int{-2, 0, 3} {
				m := move{by: by, mid: rng.Float64()}
				for g := range m.begins {
					m.begins[g], m.ends[g] = math.Inf(-1), math.Inf(-1)
				}
				for range 4 {
					g := stopMost - 5 + rng.IntN(10)
					if i == 0 {
						g = stopMost
					}
					m.begins[g] = 3 * rng.Float64()
					if g = stopMost - 5 + rng.IntN(10); i == len(pieces)-1 {
						g = stopMost
					}
					m.ends[g] = 3 * rng.Float64()
				}
				all[i] = append(all[i], m)
			}
		}
		var best func(i, last int) float64
		best = func(i, last int) float64 {
			if i == len(pieces) {
				return 0
			}
			most := math.Inf(-1)
			for _, m := range all[i] {
				for g, begins := range m.begins {
					b := pieces[i].from + m.by + g - stopMost
					if i == 0 {
						b = 0
					}
					if math.IsInf(begins, -1) || i > 0 && b > last {
						continue
					}
					if i > 0 && b < last {
						begins -= sewnAgain
					}
					for h, ends := range m.ends {
						e := pieces[i].to + m.by + h - stopMost
						if i == len(pieces)-1 {
							e = n
						}
						if !math.IsInf(ends, -1) && e > b && e <= n {
							most = max(most, begins+m.mid+ends+best(i+1, e))
						}
					}
				}
			}
			return most
		}
		want := best(0, 0)
		found, got := sortPieces(all, pieces, n)
		if math.Abs(got-want) > 1e-9 && !(math.IsInf(got, -1) && math.IsInf(want, -1)) {
			t.Fatalf("sorted so that %.3f is earned, %.3f can be", got, want)
		}
		for i := 1; i < len(found); i++ {
			if found[i].from > found[i-1].to {
				t.Fatalf("stitches are left out: %v", found)
			}
		}
	}
}
