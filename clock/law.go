package clock

import (
	"cmp"
	"math"
	"slices"

	"needlepace/machine"
	"needlepace/stitch"
)

// Bound is which limit held the shaft back on a revolution.
type Bound uint8

// The limits of MODEL section 2.
const (
	BoundSet    Bound = iota // the set speed: nothing held it back
	BoundFrameX              // the frame's move along x
	BoundFrameY              // the frame's move along y
	BoundLadder              // the controller's speed ladder
)

// limit is the cap on one revolution in the three forms the passes need.
type limit struct {
	n   float64 // rev/s
	n2  float64 // (rev/s)²
	inv float64 // s
}

func limitAt(inv float64) limit {
	n := 1 / inv
	return limit{n, n * n, inv}
}

// axisLaw is the frame along one axis: rest to rest, symmetric trapezoid.
type axisLaw struct{ accel, speed float64 } // mm/s², mm/s

// seconds is t(d) of MODEL section 2 for d ≥ 0 mm.
func (a axisLaw) seconds(d float64) float64 {
	switch {
	case d == 0:
		return 0
	case d <= a.speed*a.speed/a.accel:
		return 2 * math.Sqrt(d/a.accel)
	default:
		return d/a.speed + a.speed/a.accel
	}
}

// units is t(d) for a displacement of either sign in units of 0.1 mm.
func (a axisLaw) units(d int) float64 {
	return a.seconds(math.Abs(float64(d)) / stitch.UnitsPerMM)
}

// core is the speed law of MODEL section 2 for one machine and job.
type core struct {
	nSet, invSet float64
	x, y         axisLaw
	perWindow    float64 // 1/w
	settle, turn float64
	ladder       []rung
}

// law is the speed law with its tables.
type law struct {
	core
	secX, secY [256]float64 // t(d) for a displacement of one signed byte, units

	// simple is true where a revolution's cap depends on |dx| and |dy| apart
	// (no turn penalty, no ladder). Then the cap of a displacement of one
	// signed byte per axis is limits[min(rankX[dx], rankY[dy])]: the table
	// is sorted slowest first, so the smaller rank is the slower axis. The
	// last entry of the first half is the set speed. The second half is the
	// same table under the soft-start speed.
	simple       bool
	rankX, rankY [256]uint16
	limits       []limit
	bounds       []Bound // of the first half
	half         int
}

type rung struct {
	length float64 // mm
	inv    float64 // s per revolution
}

func newLaw(s *machine.Sheet, job Job) *law {
	l := &law{core: newCore(s, job)}
	for d := -128; d < 128; d++ {
		l.secX[uint8(d)] = l.x.units(d)
		l.secY[uint8(d)] = l.y.units(d)
	}
	l.simple = l.turn == 0 && len(l.ladder) == 0
	if l.simple {
		l.tabulate(s.Shaft.SoftStartSpeed / 60)
	}
	return l
}

func newCore(s *machine.Sheet, job Job) core {
	f := job.AccelFactor
	if f == 0 {
		f = 1
	}
	c := core{
		nSet:      job.setSpeed(s.MaxSpeed) / 60,
		x:         axisLaw{s.Frame.AccelX * f, s.Frame.SpeedX},
		y:         axisLaw{s.Frame.AccelY * f, s.Frame.SpeedY},
		perWindow: 1 / s.Frame.Window,
		settle:    s.Frame.Settle,
		turn:      s.Frame.Turn,
	}
	c.invSet = 1 / c.nSet
	for k, length := range s.Ladder.Length {
		c.ladder = append(c.ladder, rung{length, 60 / s.Ladder.Speed[k]})
	}
	return c
}

// tabulate fills the rank and limit tables of the simple law.
func (l *law) tabulate(nSoft float64) {
	type entry struct {
		inv   float64
		bound Bound
		d     int // |displacement|, units
	}
	var slow []entry
	for d := 1; d <= 128; d++ {
		mm := float64(d) / stitch.UnitsPerMM
		for _, a := range []struct {
			law   axisLaw
			bound Bound
		}{{l.x, BoundFrameX}, {l.y, BoundFrameY}} {
			if inv := (a.law.seconds(mm) + l.settle) * l.perWindow; inv > l.invSet {
				slow = append(slow, entry{inv, a.bound, d})
			}
		}
	}
	// Slowest first; on a tie x stands first, as it does in cap.
	slices.SortStableFunc(slow, func(a, b entry) int {
		return cmp.Or(cmp.Compare(b.inv, a.inv), cmp.Compare(a.bound, b.bound))
	})
	l.half = len(slow) + 1
	free := uint16(len(slow))
	for i := range 256 {
		l.rankX[i], l.rankY[i] = free, free
	}
	for k, e := range slow {
		l.limits = append(l.limits, limitAt(e.inv))
		l.bounds = append(l.bounds, e.bound)
		rank := &l.rankX
		if e.bound == BoundFrameY {
			rank = &l.rankY
		}
		if e.d < 128 {
			rank[uint8(e.d)] = uint16(k)
		}
		rank[uint8(-e.d)] = uint16(k)
	}
	l.limits = append(l.limits, limit{l.nSet, l.nSet * l.nSet, l.invSet})
	l.bounds = append(l.bounds, BoundSet)
	for _, m := range l.limits[:l.half] {
		if m.n > nSoft {
			m = limitAt(1 / nSoft)
		}
		l.limits = append(l.limits, m)
	}
}

// revolution is the cap on one revolution and what the turn adds to it.
type revolution struct {
	inv   float64 // 1/N_i, s
	turn  float64 // what the turn factor adds to inv, s
	bound Bound
}

// cap is MODEL section 2 for any displacement: (dx, dy) units after (px, py)
// in the same run; (0, 0) before the first.
func (l *law) cap(dx, dy, px, py int) revolution {
	r := revolution{inv: l.invSet}
	if dx != 0 || dy != 0 {
		var tx, ty float64
		if uint(dx+128)|uint(dy+128) < 256 {
			tx, ty = l.secX[uint8(dx)], l.secY[uint8(dy)]
		} else {
			tx, ty = l.x.units(dx), l.y.units(dy)
		}
		t, bound := tx, BoundFrameX
		if ty > tx {
			t, bound = ty, BoundFrameY
		}
		straight := (t + l.settle) * l.perWindow
		inv := straight
		if l.turn != 0 {
			inv = (t*(1+l.turn*(1-turnCos(dx, dy, px, py))/2) + l.settle) * l.perWindow
		}
		if inv > r.inv {
			r = revolution{inv, inv - math.Max(straight, r.inv), bound}
		}
	}
	if len(l.ladder) > 0 {
		if inv := l.rungFor(stitch.LengthMM(dx, dy)); inv >= r.inv && inv > l.invSet {
			r = revolution{inv: inv, bound: BoundLadder}
		} else if r.turn > 0 {
			// Without the turn the ladder might have been the limit.
			r.turn = math.Min(r.turn, r.inv-inv)
		}
	}
	return r
}

// rungFor is the ladder's seconds a revolution at stitch length L mm.
func (l *core) rungFor(mm float64) float64 {
	for _, r := range l.ladder {
		if mm <= r.length {
			return r.inv
		}
	}
	return l.ladder[len(l.ladder)-1].inv
}

// turnCos is cos θ between two displacements; 1 where either is zero.
func turnCos(dx, dy, px, py int) float64 {
	a := dx*dx + dy*dy
	b := px*px + py*py
	if a == 0 || b == 0 {
		return 1
	}
	return float64(dx*px+dy*py) / math.Sqrt(float64(a)*float64(b))
}
