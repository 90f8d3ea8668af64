package audit

import (
	"fmt"
	"slices"

	"needlepace/stitch"
)

// SameSewing says where two designs would be sewn differently: other holes,
// cuts, stops or ways. How a way is cut into jumps does not matter. It is how
// a written file is checked against the design that was to be written.
func SameSewing(a, b *stitch.Design, trimAfter int) error {
	la, err := lay(a.Records, trimAfter)
	if err != nil {
		return err
	}
	lb, err := lay(b.Records, trimAfter)
	if err != nil {
		return err
	}
	if len(la.holes) != len(lb.holes) {
		return fmt.Errorf("audit: %d stitches in one, %d in the other", len(la.holes), len(lb.holes))
	}
	for k := range la.holes {
		p, q := la.holes[k], lb.holes[k]
		if p.x != q.x || p.y != q.y {
			return fmt.Errorf("audit: stitch %d lies at (%.1f, %.1f) mm in one, at (%.1f, %.1f) mm in the other", k+1,
				float64(p.x)/10, float64(p.y)/10, float64(q.x)/10, float64(q.y)/10)
		}
	}
	if len(la.objects) != len(lb.objects) {
		return fmt.Errorf("audit: %d pieces of thread in one, %d in the other", len(la.objects), len(lb.objects))
	}
	for k := range la.joints {
		p, q := &la.joints[k], &lb.joints[k]
		for _, op := range []stitch.Op{stitch.Trim, stitch.ColourStop, stitch.Stop} {
			if p.count(op) != q.count(op) {
				return fmt.Errorf("audit: before piece of thread %d: %d × %v in one, %d in the other", k+1, p.count(op),
					op, q.count(op))
			}
		}
		stops := func(j *joint) (at []stitch.Point) {
			for _, c := range j.cuts {
				if c.op != stitch.Trim {
					at = append(at, c.at)
				}
			}
			return at
		}
		if at, in := stops(p), stops(q); !slices.Equal(at, in) {
			return fmt.Errorf("audit: before piece of thread %d the frame stops at %v in one, at %v in the other, in "+
				"0.1 mm", k+1, at, in)
		}
		if k < len(la.objects) {
			x, y := la.objects[k], lb.objects[k]
			if x.First != y.First || x.Block != y.Block || x.Wall != y.Wall {
				return fmt.Errorf("audit: piece of thread %d begins with stitch %d of block %d in one, %d of block "+
					"%d in the other", k+1, x.First+1, x.Block+1, y.First+1, y.Block+1)
			}
		}
	}
	if la.end != lb.end {
		return fmt.Errorf("audit: one ends at (%d, %d), the other at (%d, %d) in 0.1 mm", la.end.X, la.end.Y, lb.end.X,
			lb.end.Y)
	}
	return nil
}
