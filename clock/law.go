package clock

import (
	"math"
	"slices"
	"sync"

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
	BoundTurn                // the turn before it; only Trace.HeldBy says it
)

// limit is the cap on one revolution in the three forms the passes need.
type limit struct {
	n, inv float64 // rev/s, s
	square square
}

func limitAt(inv float64) limit {
	n := 1 / inv
	return limit{n, inv, squareOf(n * n)}
}

// axisLaw is the frame along one axis: rest to rest, symmetric trapezoid, or
// with a jerk time the symmetric double S.
type axisLaw struct {
	accel, speed float64 // mm/s², mm/s
	jerkTime     float64 // s from no to full acceleration
}

// seconds is t(d) of MODEL section 2 for d ≥ 0 mm.
func (a axisLaw) seconds(d float64) float64 {
	switch {
	case a.jerkTime > 0:
		return a.jerked(d)
	case d == 0:
		return 0
	case d <= a.speed*a.speed/a.accel:
		return 2 * math.Sqrt(d/a.accel)
	default:
		return d/a.speed + a.speed/a.accel
	}
}

// jerked is t(d) where the acceleration a is reached after t_j, at the jerk
// j = a/t_j (L. Biagiotti and C. Melchiorri, Trajectory Planning for Automatic
// Machines and Robots, Springer 2008, section 3.4, with no speed at the ends).
// A ramp to the top speed v takes v/a + t_j, or 2·sqrt(v/j) where v < a·t_j is
// reached before full acceleration. Then
//
//	d ≥ v·ramp:   t = d/v + ramp            the top speed is reached
//	d < 2·a·t_j²: t = 4·(d/(2j))^(1/3)      full acceleration is not
//	between:      t = t_j + sqrt(t_j² + 4d/a)
func (a axisLaw) jerked(d float64) float64 {
	full := a.accel * a.jerkTime // speed when full acceleration is reached
	ramp := a.speed/a.accel + a.jerkTime
	if a.speed < full {
		ramp = 2 * math.Sqrt(a.speed*a.jerkTime/a.accel)
	}
	switch {
	case d == 0:
		return 0
	case d >= a.speed*ramp:
		return d/a.speed + ramp
	case d < 2*full*a.jerkTime:
		return 4 * math.Cbrt(d*a.jerkTime/(2*a.accel))
	default:
		return a.jerkTime + math.Sqrt(a.jerkTime*a.jerkTime+4*d/a.accel)
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
	byAxis       bool    // of the ladder: the longer axis' move picks the rung
	step, creep  float64 // rev/s; step 0: any speed
	freeSet      bool    // of step: the set speed is held as it is set

	turning   bool  // the cap depends on the turn
	corrected bool  // it has a cap at turns, or corrections
	byLength  curve // mm
	byTurn    curve // degrees
	sharpest  float64
	leastTurn float64 // the cap at turns holds for cosines from sharpest to here
	turnReach float64 // and displacements whose squares are no more, units²
	invTurn   float64 // s a revolution at such turns; 0: no cap
}

// law is the speed law with its tables.
type law struct {
	core
	secX, secY [256]float64 // t(d) for a displacement of one signed byte, units

	// simple is true where a revolution's cap depends on |dx| and |dy| apart
	// (no turn penalty or cap, no ladder, no corrections). Then the cap of a displacement of one
	// signed byte per axis is limits[min(rankX[dx], rankY[dy])]: the table
	// is sorted slowest first, so the smaller rank is the slower axis. The
	// last entry of the first half is the set speed. The second half is the
	// same table under the soft-start speed.
	simple       bool
	rankX, rankY [256]uint16
	limits       []limit
	over         []float64 // overX and overY stand in it
	overX, overY []float64 // of the first half: what the frame's way along x, or y, adds to the set speed, s
	steps        []float64 // and the speed step to that, s; nil without
	half         int
}

type rung struct {
	length float64 // mm
	inv    float64 // s per revolution
}

// laws are those whose runs are done with: an interval makes dozens a design.
var laws = sync.Pool{New: func() any { return new(law) }}

func newLaw(s *machine.Sheet, job Job) *law {
	l := laws.Get().(*law)
	*l = law{core: newCore(s, job), limits: l.limits, over: l.over}
	for d := 0; d <= 128; d++ { // of either sign
		l.secX[uint8(-d)], l.secY[uint8(-d)] = l.x.units(d), l.y.units(d)
		if d < 128 {
			l.secX[d], l.secY[d] = l.secX[uint8(-d)], l.secY[uint8(-d)]
		}
	}
	l.simple = !l.turning && !l.corrected && len(l.ladder) == 0
	if l.simple {
		l.tabulate()
		l.soften(s.Shaft.SoftStartSpeed / 60)
	}
	return l
}

// withShaft is the law of the same frame, job and controller with another shaft.
func (l *law) withShaft(s machine.Shaft) *law {
	n := *l
	n.step, n.freeSet, n.creep = float64(s.SpeedStep)/60, s.StepFreeSet > 0, s.CreepSpeed/60
	if n.simple {
		n.limits = slices.Clip(l.limits[:l.half]) // the rest is the other's
		if l.step > 0 || n.step > 0 {             // a step is not taken below creep
			n.limits, n.over = nil, nil
			n.tabulate()
		}
		n.soften(s.SoftStartSpeed / 60)
	}
	return &n
}

func newCore(s *machine.Sheet, job Job) core {
	f := job.accelFactor(s)
	c := core{
		nSet:      job.turns(s) / 60,
		x:         axisLaw{s.Frame.AccelX * f, s.Frame.SpeedX, s.Frame.JerkTime},
		y:         axisLaw{s.Frame.AccelY * f, s.Frame.SpeedY, s.Frame.JerkTime},
		perWindow: 1 / s.Frame.Window,
		settle:    s.Frame.Settle,
		turn:      s.Frame.Turn,
		step:      float64(s.Shaft.SpeedStep) / 60,
		freeSet:   s.Shaft.StepFreeSet > 0,
		creep:     s.Shaft.CreepSpeed / 60,
		byLength:  newCurve(s.Correction.Length, s.Correction.Factor),
		byTurn:    newCurve(s.Correction.TurnAngle, s.Correction.TurnFactor),
	}
	c.invSet = 1 / c.nSet
	if t := s.Turns; t.Speed > 0 && t.Speed < 1 {
		c.invTurn = c.invSet / t.Speed
		c.leastTurn = math.Cos(min(t.Angle, 180)*math.Pi/180) + sameTurn
		c.sharpest = math.Cos(min(t.To, 180)*math.Pi/180) - sameTurn
		c.turnReach = t.Length * t.Length * stitch.UnitsPerMM * stitch.UnitsPerMM * (1 + sameTurn)
	}
	c.corrected = c.invTurn > 0 || len(c.byTurn.at)+len(c.byLength.at) > 0
	c.turning = c.turn != 0 || c.invTurn > 0 || len(c.byTurn.at) > 0
	c.byAxis = s.Ladder.ByAxis > 0
	for k, length := range s.Ladder.Length {
		c.ladder = append(c.ladder, rung{length, 60 / s.Ladder.Speed[k]})
	}
	return c
}

// sameTurn is how far a turn's cosine, or a length's square, may lie beyond a
// bound of the cap at turns and still count as on it: rounding must not decide.
const sameTurn = 1e-9

// sharp reports whether the cap at turns holds for a displacement after
// another, with cos the cosine of the turn between them.
func (l *core) sharp(dx, dy, px, py int, cos float64) bool {
	a, b := dx*dx+dy*dy, px*px+py*py
	return a > 0 && b > 0 && cos >= l.sharpest && cos <= l.leastTurn && float64(max(a, b)) <= l.turnReach
}

// tabulate fills the rank and limit tables of the simple law, but for their second half.
func (l *law) tabulate() {
	inv := func(seconds *[256]float64, d int) float64 { return (seconds[uint8(-d)] + l.settle) * l.perWindow }
	l.half = 1
	for d := 1; d <= 128; d++ {
		if inv(&l.secX, d) > l.invSet {
			l.half++
		}
		if inv(&l.secY, d) > l.invSet {
			l.half++
		}
	}
	l.limits, l.steps = slices.Grow(l.limits[:0], 2*l.half), nil
	l.over = slices.Grow(l.over[:0], 2*l.half)[:2*l.half]
	clear(l.over)
	l.overX, l.overY = l.over[:l.half], l.over[l.half:]
	free := uint16(l.half - 1)
	for i := range 256 {
		l.rankX[i], l.rankY[i] = free, free
	}
	add := func(inv float64) {
		stepped := l.stepped(inv)
		l.limits = append(l.limits, limitAt(stepped))
		if l.step > 0 {
			l.steps = append(l.steps, stepped-inv)
		}
	}
	// Slowest first: on each axis that is the longest. On a tie x stands first, as it
	// does in cap.
	for x, y, k := 128, 128, 0; k < l.half-1; k++ {
		sec, rank, d, over := &l.secX, &l.rankX, &x, l.overX
		if x == 0 || y > 0 && inv(&l.secY, y) > inv(&l.secX, x) {
			sec, rank, d, over = &l.secY, &l.rankY, &y, l.overY
		}
		seconds := inv(sec, *d)
		over[k] = seconds - l.invSet
		add(seconds)
		if *d < 128 {
			rank[uint8(*d)] = uint16(k)
		}
		rank[uint8(-*d)] = uint16(k)
		*d--
	}
	add(l.invSet)
	if l.step == 0 {
		l.limits[l.half-1] = limit{l.nSet, l.invSet, squareOf(l.nSet * l.nSet)}
	}
}

// soften fills the second half of the limits: the first under the soft-start speed, rev/s.
func (l *law) soften(nSoft float64) {
	l.limits = slices.Grow(l.limits, l.half)
	for _, m := range l.limits[:l.half] {
		if m.n > nSoft {
			m = limitAt(1 / nSoft)
		}
		l.limits = append(l.limits, m)
	}
}

// revolution is the cap on one revolution and what the turn adds to it.
type revolution struct {
	inv  float64 // 1/N_i, s
	turn float64 // what the turn adds to inv: penalty, correction and cap, s
	// bound is the limit that the rest of what inv has over the set speed is
	// charged to.
	bound Bound
}

// along is t(d) along x and y of any displacement.
func (l *law) along(dx, dy int) (tx, ty float64) {
	if uint(dx+128)|uint(dy+128) < 256 {
		return l.secX[uint8(dx)], l.secY[uint8(dy)]
	}
	return l.x.units(dx), l.y.units(dy)
}

// cap is MODEL section 2 for any displacement: (dx, dy) units after (px, py)
// in the same run; (0, 0) before the first.
func (l *law) cap(dx, dy, px, py int) revolution {
	if l.corrected {
		return l.capCorrected(dx, dy, px, py)
	}
	r := revolution{inv: l.invSet}
	if dx != 0 || dy != 0 {
		t, ty := l.along(dx, dy)
		bound := BoundFrameX
		if ty > t {
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
		if inv := l.ladder[l.rungOf(dx, dy)].inv; inv >= r.inv && inv > l.invSet {
			r = revolution{inv: inv, bound: BoundLadder}
		} else if r.turn > 0 {
			// Without the turn the ladder might have been the limit.
			r.turn = math.Min(r.turn, r.inv-inv)
		}
	}
	return r
}

// capCorrected is cap with a cap at turns and corrections.
func (l *law) capCorrected(dx, dy, px, py int) revolution {
	var frame, straight, atTurn, ladder float64 // s; straight is frame without the turn
	bound, mm := BoundSet, 0.0
	if len(l.byLength.at) > 0 {
		mm = stitch.LengthMM(dx, dy)
	}
	if dx != 0 || dy != 0 {
		t, ty := l.along(dx, dy)
		if bound = BoundFrameX; ty > t {
			t, bound = ty, BoundFrameY
		}
		straight = (t + l.settle) * l.perWindow
		frame = straight
		if l.turning {
			cos := turnCos(dx, dy, px, py)
			if l.turn != 0 {
				frame = (t*(1+l.turn*(1-cos)/2) + l.settle) * l.perWindow
			}
			if len(l.byTurn.at) > 0 {
				frame *= l.byTurn.factor(turnDegrees(dx, dy, px, py))
			}
			if l.invTurn > 0 && l.sharp(dx, dy, px, py, cos) {
				atTurn = l.invTurn
			}
		}
		if len(l.byLength.at) > 0 {
			f := l.byLength.factor(mm)
			straight *= f
			frame *= f
		}
	}
	if len(l.ladder) > 0 {
		ladder = l.ladder[l.rungOf(dx, dy)].inv
	}
	r := revolution{inv: max(l.invSet, frame, ladder, atTurn)}
	r.turn = r.inv - max(l.invSet, min(straight, frame), ladder)
	switch {
	case ladder >= frame && ladder > l.invSet:
		r.bound = BoundLadder
	case frame > l.invSet:
		r.bound = bound
	}
	return r
}

// charge puts what a revolution has over the set speed to the limits it is
// from.
func (by *LongBy) charge(r *revolution, invSet float64) {
	by.Turn += r.turn
	over := r.inv - invSet - r.turn
	switch r.bound {
	case BoundFrameX:
		by.FrameX += over
	case BoundFrameY:
		by.FrameY += over
	case BoundLadder:
		by.Ladder += over
	}
}

// rungOf is the rung of the ladder for a displacement: by its length, or by the longer of its axes' moves.
func (l *core) rungOf(dx, dy int) int {
	mm := stitch.LengthMM(dx, dy)
	if l.byAxis {
		mm = float64(max(dx, -dx, dy, -dy)) / stitch.UnitsPerMM
	}
	for k, r := range l.ladder {
		if mm <= r.length {
			return k
		}
	}
	return len(l.ladder) - 1
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
