package audit

import (
	"fmt"
	"math"
	"slices"

	"needlepace/stitch"
)

// But is how a written file may differ from the design that was to be written,
// since its format cannot do otherwise: all that was said of it and no more.
type But struct {
	Shift stitch.Point // the file lies so much further up and to the right, 0.1 mm
	Added []int        // penetrations of the file, from 0, that the design has not
	Tail  bool         // the way after the last stitch is not in the file
	Stops bool         // colour stops stand up to stopSlack nearer to the stitch before them, or at it and not at the next
}

// stopSlack, 0.1 mm: as near as that to the stitch before it a stop is not one
// that the frame was driven away for, whatever stands around it.
const stopSlack = drivenTo

// offLine, 0.1 mm: how far from the straight way an added penetration may lie,
// for it lies on a point of the file's lattice.
const offLine = 1

// SameSewing says where a design and its file would be sewn differently: other
// holes, cuts, stops or ways, but for what may differ. How a way is cut into jumps
// does not matter. It is how a written file is checked against the design.
func SameSewing(a, b *stitch.Design, trimAfter int, but But) error {
	la, err := lay(a.Records, trimAfter)
	if err != nil {
		return err
	}
	lb, err := lay(b.Records, trimAfter)
	if err != nil {
		return err
	}
	if err := lb.without(but); err != nil {
		return err
	}
	if len(la.holes) != len(lb.holes) {
		return fmt.Errorf("%d stitches in one, %d in the other", len(la.holes), len(lb.holes))
	}
	for k := range la.holes {
		p, q := la.holes[k], lb.holes[k]
		if p.x != q.x || p.y != q.y {
			return fmt.Errorf("stitch %d lies at (%.1f, %.1f) mm in one, at (%.1f, %.1f) mm in the other", k+1,
				float64(p.x)/10, float64(p.y)/10, float64(q.x)/10, float64(q.y)/10)
		}
	}
	if len(la.objects) != len(lb.objects) {
		return fmt.Errorf("%d pieces of thread in one, %d in the other", len(la.objects), len(lb.objects))
	}
	for k := range la.joints {
		p, q := &la.joints[k], &lb.joints[k]
		for _, op := range []stitch.Op{stitch.Trim, stitch.ColourStop, stitch.Stop} {
			if p.count(op) != q.count(op) {
				return fmt.Errorf("before piece of thread %d: %d × %v in one, %d in the other", k+1, p.count(op),
					op, q.count(op))
			}
		}
		if k < len(la.objects) {
			x, y := la.objects[k], lb.objects[k]
			if x.First != y.First || x.Block != y.Block || x.Wall != y.Wall {
				return fmt.Errorf("piece of thread %d begins with stitch %d of block %d in one, %d of block "+
					"%d in the other", k+1, x.First+1, x.Block+1, y.First+1, y.Block+1)
			}
		}
		if at, in := p.stops(), q.stops(); !slices.Equal(at, in) && !(but.Stops && la.nearly(k, at, in)) {
			return fmt.Errorf("before piece of thread %d the frame stops at %v in one, at %v in the other, in "+
				"0.1 mm", k+1, at, in)
		}
	}
	if la.end != lb.end && !but.Tail {
		return fmt.Errorf("one ends at (%d, %d), the other at (%d, %d) in 0.1 mm", la.end.X, la.end.Y, lb.end.X,
			lb.end.Y)
	}
	return nil
}

// stops is where the frame stands at the stops of a joint, in their order.
func (j *joint) stops() (at []stitch.Point) {
	for _, c := range j.cuts {
		if c.op != stitch.Trim {
			at = append(at, c.at)
		}
	}
	return at
}

// nearly reports whether the first of the stops before object k, which stand at
// at, may stand at the stitch before it, as in has it, and the others stand as
// they did.
func (l *layout) nearly(k int, at, in []stitch.Point) bool {
	if k == 0 || len(at) != len(in) || !slices.Equal(at[1:], in[1:]) || in[0] != l.objects[k-1].End {
		return false
	}
	last := l.objects[k-1].Last
	return l.apart(at[0], last-1) <= stopSlack || l.apart(at[0], last) <= samePlace
}

// without takes back what may differ: the penetrations that were added, which
// must lie on the straight way between those around them, and the shift.
func (l *layout) without(but But) error {
	gone := func(k int) bool {
		_, found := slices.BinarySearch(but.Added, k)
		return found
	}
	for _, k := range but.Added {
		from, to := k-1, k+1
		for gone(from) {
			from--
		}
		for gone(to) {
			to++
		}
		if from < 0 || to >= len(l.holes) || !between(l.holes[k], l.holes[from], l.holes[to]) {
			return fmt.Errorf("stitch %d, which was added, does not lie on the way from the one before to the "+
				"one after", k+1)
		}
	}
	kept := make([]hole, 0, len(l.holes))
	before := make([]int, len(l.holes)+1) // of each hole, how many are kept before it
	for k, h := range l.holes {
		before[k] = len(kept)
		if !gone(k) {
			kept = append(kept, hole{h.x - int32(but.Shift.X), h.y - int32(but.Shift.Y), h.record})
		}
	}
	before[len(l.holes)] = len(kept)
	l.holes = kept
	back := func(p *stitch.Point) { p.X, p.Y = p.X-but.Shift.X, p.Y-but.Shift.Y }
	for k := range l.objects {
		o := &l.objects[k]
		o.First, o.Last = before[o.First], before[o.Last]
		for _, p := range []*stitch.Point{&o.Lead, &o.Start, &o.End, &o.Exit} {
			back(p)
		}
	}
	for k := range l.joints {
		for i := range l.joints[k].cuts {
			back(&l.joints[k].cuts[i].at)
		}
	}
	back(&l.end)
	return nil
}

// between reports whether p lies on the straight way from a to b.
func between(p, a, b hole) bool {
	ux, uy := float64(b.x-a.x), float64(b.y-a.y)
	px, py := float64(p.x-a.x), float64(p.y-a.y)
	along, long := ux*px+uy*py, ux*ux+uy*uy
	return along > 0 && along < long && math.Abs(ux*py-uy*px) <= offLine*math.Sqrt(long)
}
