package zoo

import (
	"math"
	"math/rand/v2"

	"needlepace/machine"
	"needlepace/stitch"
)

// Machine is one synthetic machine: the constants of a sheet and what its
// controller does that the sheet's model does not know. Speeds are fractions
// of the set speed where a field says share; 0 means that the thing is absent.
type Machine struct {
	Family string
	Sheet  *machine.Sheet

	// The frame.
	JerkX, JerkY float64 // s until an axis has its full acceleration (trapezoid of acceleration)
	Power        float64 // a move takes time as length to this power (0.5: the model), the same at 4 mm
	Euclid       bool    // one drive for the length of the move, x's, not the slower axis
	FarSlow      float64 // share lost for every 100 mm from the start
	Uneven       float64 // share gained towards Towards and lost away from it
	Towards      float64 // radians
	Goods        float64 // log spread of the frame's acceleration from one run to the next

	// Caps on a revolution.
	Ladder       machine.Ladder
	LadderByAxis bool    // the longer axis picks the rung, not the length
	Step         float64 // stitches/min: speeds are rounded down to multiples of it
	FreeSet      bool    // of Step: the set speed itself is held as it is set
	Turns        Turns
	AvoidFrom    float64 // rev/s: speeds between AvoidFrom and AvoidTo are not held
	AvoidTo      float64
	SoftSeconds  float64 // s at the soft-start speed after every stop
	Recover      int     // stitches after a colour stop at RecoverShare
	RecoverShare float64
	Brake        int // stitches before every stop at BrakeShare
	BrakeShare   float64
	WarmSeconds  float64 // s after the start at WarmShare
	WarmShare    float64

	// The shaft.
	TrueShare      float64 // what it turns over what is set; 0: as set
	TopShare       float64 // of the machine's top speed, never passed; 0: none
	LagUp, LagDown float64 // s: first-order lag of a rise; of a fall (begun so much earlier)
	Sees           int     // stitches: what is further away is not known
	Careful        bool    // of Sees: never faster than it could stop within them; else it brakes hard
	Torque         float64 // share of the rising acceleration lost at the machine's top speed

	// At rest.
	TrimSpread   float64 // each trim differs by up to this share
	Cam          bool    // a colour change takes by the root of the needles crossed
	ChangeSpread float64 // log spread of colour stops: people
	JumpByJump   bool    // each jump of a travel comes to rest

	// What no law of one stitch can say.
	Wander       float64 // share of the speed that wanders either way
	WanderEvery  float64 // s from one turning point to the next
	Tire         float64 // share of the speed lost in a long design
	TireStitches float64 // stitches in which two thirds of it are lost
	Stumble      float64 // chance that a patch of dense short stitches is sewn at half speed

	Habits
}

// Turns cap the shaft where short stitches turn.
type Turns struct {
	From, To float64 // degrees
	Length   float64 // mm: both stitches are at most so long
	Share    float64
}

// Timing is what one run took, in seconds.
type Timing struct {
	Seconds float64
	Blocks  []float64 // as a person times a colour block: learn.BlockRun
	Changes []float64 // before each block: the start or the colour stop, and the way to the first stitch
}

// sewing is one run under way.
type sewing struct {
	*Machine
	set      float64 // rev/s
	rng      *rand.Rand
	x, y     float64 // mm
	seconds  float64 // since the start button
	stitches int
	accel    float64   // factor on the frame's accelerations
	knots    []float64 // of the wandering
	stumbles bool      // in this patch
	fresh    bool      // nothing sewn since the colour stop
	trimmed  bool      // nothing sewn since the trim
	needles  []int     // of each block; what is not there is 0, 1, 2…
	most     float64   // rev/s: what this block may have

	moves        [2][256]float64 // s, of each axis by 0.1 mm; 0: not yet reckoned
	caps, bounds []float64
}

// Run sews a design at a set speed (stitches/min). needles has the needle of
// each block, nil for 0, 1, 2…; rng is what differs from one run to the next
// (it may be nil where nothing does).
func (m *Machine) Run(d *stitch.Design, setSpeed float64, needles []int, rng *rand.Rand) Timing {
	if rng == nil {
		rng = rand.New(rand.NewPCG(0, 0))
	}
	s := &sewing{Machine: m, set: min(setSpeed, m.Sheet.MaxSpeed) / 60, rng: rng, accel: 1, seconds: m.Sheet.Rest.Start,
		needles: needles}
	if m.TrueShare > 0 {
		s.set *= m.TrueShare
	}
	if m.TopShare > 0 {
		s.set = min(s.set, m.TopShare*m.Sheet.MaxSpeed/60)
	}
	if m.WideMM > 0 && extent(d) > m.WideMM {
		s.set = min(s.set, m.WideShare*m.Sheet.MaxSpeed/60)
	}
	if m.Goods > 0 {
		s.accel = math.Exp(m.Goods * rng.NormFloat64())
	}
	t := Timing{Blocks: []float64{0}, Changes: []float64{s.seconds}}
	sewn := -1
	for e := range d.Events(m.Sheet.Reading.TrimAfterJumps) {
		before := s.seconds
		switch e.Kind {
		case stitch.Run:
			sewn = e.Block
			s.most = s.set
			if m.NeedleShare > 0 && s.ofNeedle(e.Block) == m.Needle {
				s.most = min(s.most, m.NeedleShare*m.Sheet.MaxSpeed/60)
			}
			s.run(d.Records[e.From:e.To])
		case stitch.TrimCut:
			s.trimmed = true
			s.seconds += m.Sheet.Rest.Trim * (1 + m.TrimSpread*(2*rng.Float64()-1))
		case stitch.OperatorStop:
			s.seconds += m.Sheet.Rest.Stop
		case stitch.ColourCut:
			t.Blocks, t.Changes = append(t.Blocks, 0), append(t.Changes, 0)
			s.fresh, s.trimmed = true, false
			s.seconds += s.change(e.Block)
		case stitch.Travel:
			s.travel(d.Records[e.From:e.To], e)
		}
		at := &t.Blocks[e.Block]
		if e.Kind == stitch.ColourCut || e.Kind == stitch.Travel && sewn != e.Block {
			at = &t.Changes[e.Block]
		}
		*at += s.seconds - before
	}
	s.seconds += m.Sheet.Rest.End
	if m.Sheet.Travel.ReturnToStart {
		s.seconds += s.move(s.x, s.y)
	}
	t.Seconds = s.seconds
	return t
}

func (s *sewing) change(block int) float64 {
	way := math.Abs(float64(s.ofNeedle(block) - s.ofNeedle(block-1)))
	if s.Cam {
		way = math.Sqrt(way)
	}
	t := s.Sheet.Rest.ColourStop + s.Sheet.Rest.PerNeedle*way
	if s.ChangeSpread > 0 {
		t *= math.Exp(s.ChangeSpread * s.rng.NormFloat64())
	}
	if s.Parks {
		t += 2 * s.move(s.ParkX-s.x, s.ParkY-s.y)
	}
	return t
}

// move is a straight travel (mm) by the travel drive.
func (s *sewing) move(dx, dy float64) float64 {
	t := s.Sheet.Travel
	return max(trapezoid(math.Abs(dx), t.Accel, t.Speed), trapezoid(math.Abs(dy), t.Accel, t.Speed))
}

func (s *sewing) travel(rec []stitch.Record, e stitch.Event) {
	dx, dy := float64(e.DX)/stitch.UnitsPerMM, float64(e.DY)/stitch.UnitsPerMM
	s.x += dx
	s.y += dy
	switch {
	case s.Sheet.Travel.Mode == machine.ShaftTravel:
		s.seconds += float64(e.Moves) * 60 / s.Sheet.Travel.ShaftSpeed
	case s.JumpByJump:
		for _, r := range rec {
			x, y := float64(r.DX)/stitch.UnitsPerMM, float64(r.DY)/stitch.UnitsPerMM
			s.seconds += s.move(x, y)
			dx, dy = dx-x, dy-y
		}
		s.seconds += s.move(dx, dy) // what a stop or trim record carries
	default:
		s.seconds += s.move(dx, dy)
	}
}

// run sews revolutions with no stop between: caps, then boundary speeds as far
// as the controller looks ahead, then the time of each.
func (s *sewing) run(rec []stitch.Record) {
	n := len(rec)
	s.setCaps(rec)
	caps := s.caps
	creep, up, down := s.Sheet.Shaft.CreepSpeed/60, s.Sheet.Shaft.AccelUp, s.Sheet.Shaft.AccelDown
	b := s.bounds[:0]
	b = append(b, min(creep, caps[0]))
	for i := 1; i < n; i++ {
		b = append(b, min(caps[i-1], caps[i]))
	}
	b = append(b, min(creep, caps[n-1]))
	s.bounds = b
	s.lookAhead(creep, down)
	rises := 0.0 // s that the shaft has been rising
	for i, c := range caps {
		u, began := b[i], s.seconds
		a := up * (1 - s.Torque*min(u*60/s.Sheet.MaxSpeed, 1))
		if s.Build > 0 {
			a *= min((rises+0.5/u)/s.Build, 1)
		}
		b[i+1] = min(b[i+1], math.Sqrt(u*u+2*a))
		if s.LagUp > 0 {
			b[i+1] = min(b[i+1], lagged(u, c, s.LagUp))
			c = max(u, b[i+1])
		}
		if v := b[i+1]; s.LagUp > 0 && v >= u || s.LagDown > 0 && v < u {
			s.seconds += 2 / (u + v)
		} else {
			s.seconds += revolution(u, v, c, a, down)
		}
		if rises += s.seconds - began; b[i+1] <= u {
			rises = 0
		}
		if s.OilEvery > 0 && (s.stitches+i+1)%s.OilEvery == 0 {
			s.seconds += s.OilFor
		}
	}
	s.stitches += n
	s.fresh, s.trimmed = false, false
}

// lagged is the speed after one revolution that begins at u and tends to the
// target with a first-order lag (s): the revolution's time by its mean speed.
func lagged(u, target, lag float64) float64 {
	v := u
	for range 4 {
		v = u + (target-u)*-math.Expm1(-2/((u+v)*lag))
	}
	return v
}

// lookAhead lowers boundaries so that what comes can be obeyed.
func (s *sewing) lookAhead(creep, down float64) {
	b, n := s.bounds, len(s.caps)
	switch {
	case s.Sees == 0 || s.Careful:
		for i := n - 1; i >= 0; i-- {
			v := b[i+1]
			b[i] = min(b[i], math.Sqrt(v*v+2*down))
			if s.Careful {
				b[i] = min(b[i], math.Sqrt(creep*creep+2*down*float64(s.Sees)))
			}
			if s.LagDown > 0 {
				b[i] = min(b[i], lagged(v, s.caps[i], s.LagDown))
			}
		}
	default: // in place: a boundary is lowered by those after it, which are still as they were
		for i := range n {
			for k := 1; k <= s.Sees && i+k <= n; k++ {
				v := b[i+k]
				b[i] = min(b[i], math.Sqrt(v*v+2*down*float64(k)))
			}
		}
	}
}

// revolution is the time of one turn of the shaft from u to v rev/s under a
// cap. Where the ramps cannot do it the machine brakes evenly, as hard as needed.
func revolution(u, v, cap, up, down float64) float64 {
	if v*v-u*u > 2*up || u*u-v*v > 2*down {
		return 2 / (u + v)
	}
	cap = max(cap, u, v)
	if p := math.Sqrt((2*up*down + down*u*u + up*v*v) / (up + down)); p <= cap {
		return (p-u)/up + (p-v)/down
	}
	return (cap-u)/up + (cap-v)/down + (1-(cap*cap-u*u)/(2*up)-(cap*cap-v*v)/(2*down))/cap
}
