package audit

import (
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/stitch"
)

// A square millimetre is summed only where a coarse count says that it can be over
// the limit. Held to every square millimetre summed cell by cell: none over the
// limit is missed, on the edges neither, and none is another.
func TestFieldSlidesWhereItCounts(t *testing.T) {
	for _, size := range []int{0, 7, 90, 400, 9_000} { // 0.1 mm; the last has larger cells
		for seed := range uint64(4) {
			rng := rand.New(rand.NewPCG(seed, uint64(size)))
			height := size/3 + 1
			f := newField(stitch.Bounds{MaxX: size, MaxY: height})
			if size == 9_000 {
				f = newField(stitch.Bounds{MaxX: size, MaxY: 2 * size})
			}
			x, y := 0.0, 0.0
			for k := range 3_000 {
				if k%100 == 0 {
					x, y = float64(size)*rng.Float64(), float64(height)*rng.Float64()
				}
				f.add(min(max(x+10*rng.Float64()-5, 0), float64(size)), min(max(y+10*rng.Float64()-5, 0), float64(height)),
					aLayer*rng.Float64()/10)
			}
			for range 3 {
				f.noStack(float64(size)*rng.Float64(), float64(height)*rng.Float64())
			}
			was, n := slices.Clone(f.values), int(stitch.UnitsPerMM/f.side)
			const limit = 2.5
			f.slide(limit)
			over := 0
			for c := range was {
				sum := 0
				cx, cy := c%f.nx, c/f.nx
				if size == 9_000 && cy > height/int(f.side)+5 {
					break // nothing lies there
				}
				for y := max(0, cy-n/2); y < min(f.ny, cy-n/2+n); y++ {
					for x := max(0, cx-n/2); x < min(f.nx, cx-n/2+n); x++ {
						sum += int(was[y*f.nx+x])
					}
				}
				if sum <= limit*aLayer {
					if f.values != nil && f.values[c] > limit*aLayer {
						t.Fatalf("size %d, seed %d: cell %d, %d is %d and not over", size, seed, cx, cy, sum)
					}
					continue
				}
				if over >= len(f.over) || f.over[over] != c || int(f.values[c]) != sum {
					t.Fatalf("size %d, seed %d: cell %d, %d of %d × %d is %d, over the limit, and not said", size, seed, cx, cy,
						f.nx, f.ny, sum)
				}
				over++
			}
			if over != len(f.over) || size >= 90 && over == 0 {
				t.Errorf("size %d, seed %d: %d cells are over, %d are said", size, seed, over, len(f.over))
			}
		}
	}
}
