package clock

import (
	"fmt"
	"math"
	"sync"

	"needlepace/machine"
	"needlepace/stitch"
)

// Run clocks a design on a machine. The sheet and the job must be valid
// (machine.Validate, Job.Validate).
func Run(d *stitch.Design, s *machine.Sheet, job Job) *Result {
	c := New(s, job)
	defer laws.Put(c.law) // nobody else has it
	return c.Run(d)
}

// Clock is a machine and a job made ready. It keeps its own copies of their
// numbers and may be used from many goroutines.
type Clock struct {
	law        *law
	shaft      shaft
	job        Job
	rated      float64 // stitches/min
	set        float64 // stitches/min, what the job leaves of it
	needles    int
	soft       int // S, revolutions of soft start
	invSoft    float64
	invLag     float64 // 1/s; 0: the shaft follows its cap at once
	slow       machine.Slow
	invSlow    float64 // s a revolution where the machine is let in gently; 0: it is not
	rest       machine.Rest
	travel     axisLaw
	byShaft    bool
	perJump    float64 // s a jump record, in shaft travel
	homing     bool
	trimAfter  int
	modelStale int // the sheet's model version where it is not ours, else 0
}

// results are shared by all clocks, as windows are.
var results = sync.Pool{New: func() any { return new(Result) }}

// New makes a clock ready for one machine and one job.
func New(s *machine.Sheet, job Job) *Clock {
	c := &Clock{
		law:       newLaw(s, job),
		job:       job,
		rated:     s.MaxSpeed,
		set:       job.setSpeed(s),
		needles:   s.Needles,
		rest:      s.Rest,
		travel:    axisLaw{accel: s.Travel.Accel, speed: s.Travel.Speed},
		byShaft:   s.Travel.Mode == machine.ShaftTravel,
		perJump:   60 / s.Travel.ShaftSpeed,
		homing:    s.Travel.ReturnToStart,
		trimAfter: s.Reading.TrimAfterJumps,
	}
	if s.Fit != nil && s.Fit.ModelVersion != machine.ModelVersion {
		c.modelStale = s.Fit.ModelVersion
	}
	if v := s.Slow.Speed; v > 0 && v < 1 && (s.Slow.Seconds > 0 || s.Slow.Stitches > 0) {
		c.slow, c.invSlow = s.Slow, c.law.invSet/v
	}
	c.drive(s.Shaft)
	return c
}

// drive takes over what is of the shaft alone.
func (c *Clock) drive(s machine.Shaft) {
	c.soft, c.invSoft, c.invLag = s.SoftStartStitches, 60/s.SoftStartSpeed, 0
	if s.Lag > 0 {
		c.invLag = 1 / s.Lag
	}
	c.shaft = newShaft(s.AccelUp, s.AccelDown, s.CreepSpeed/60, c.law.nSet)
}

// WithShaft is the clock of the same machine and job with another shaft: what the
// frame and the set speed allow is shared, for those who try a thousand shafts.
func (c *Clock) WithShaft(s machine.Shaft) *Clock {
	n := *c
	n.law = c.law.withShaft(s)
	n.drive(s)
	return &n
}

// HoldsOn is the speed in stitches/min that the shaft may hold on stitches of
// (dx, dy) units, each after one of (px, py) units: the cap of MODEL section 2,
// in the controller's steps.
func (c *Clock) HoldsOn(dx, dy, px, py int) float64 {
	return 60 / c.law.stepped(c.law.cap(dx, dy, px, py).inv)
}

// Run clocks a design.
func (c *Clock) Run(d *stitch.Design) *Result { return c.run(d, nil) }

// Seconds is Run's Seconds of bare records, to the last bit, and nothing else: for
// those who clock a thousand variants of a design.
func (c *Clock) Seconds(rec []stitch.Record) float64 {
	r := results.Get().(*Result)
	defer results.Put(r)
	c.charge(rec, r, nil)
	sum := 0.0
	for i := range r.Blocks {
		sum += r.Blocks[i].Seconds
	}
	return sum
}

// run charges a design to a new result and says what is to be said of it.
func (c *Clock) run(d *stitch.Design, tr *Trace) *Result {
	r := new(Result)
	c.charge(d.Records, r, tr)
	r.Index = -1
	for i := range r.Blocks {
		r.add(&r.Blocks[i])
	}
	r.Needle = r.Blocks[0].Needle
	c.warn(r)
	return r
}

// charge walks the events of records in the machine's order and charges each to
// its colour block of r, which is begun anew, and leaves the whole to be added up; tr, where not nil, is filled on the way.
func (c *Clock) charge(rec []stitch.Record, r *Result, tr *Trace) {
	w := c.window()
	defer windows.Put(w)

	*r = Result{SetSpeed: c.set, RatedSpeed: c.rated, Blocks: r.Blocks[:0]}
	r.Blocks = append(r.Blocks, Block{Needle: c.job.needle(0, c.needles)})
	b := &r.Blocks[0]
	made := c.job.From // stitches to pass over: they are made
	start := func() {
		b.Parts.StartEnd += c.rest.Start
		tr.rest(c.rest.Start)
	}
	if made == 0 {
		start()
	}
	var at stitch.Point
	for e := range stitch.Events(rec, c.trimAfter) {
		if made > 0 {
			from, stood := e.To, at
			switch e.Kind {
			case stitch.Run:
				from, made, stood = past(rec, e, made, at)
			case stitch.ColourCut:
				r.Blocks = append(r.Blocks, Block{Index: e.Block, Needle: c.job.needle(e.Block, c.needles)})
				b = &r.Blocks[len(r.Blocks)-1]
			case stitch.Travel:
				stood.X, stood.Y = at.X+e.DX, at.Y+e.DY
			}
			at = stood
			if made > 0 {
				continue
			}
			start()
			if e.From = from; e.From == e.To {
				continue
			}
		}
		switch e.Kind {
		case stitch.Run:
			w.slow = 0
			if c.invSlow > 0 {
				w.slow = c.gently(rec[e.From:e.To], r)
				if tr != nil {
					tr.slow = append(tr.slow, w.slow)
				}
			}
			c.sew(rec[e.From:e.To], w, b, tr, e.From, &at)
		case stitch.TrimCut:
			b.Trims++
			b.Parts.Trims += c.rest.Trim
			tr.event(e, c.rest.Trim)
		case stitch.ColourCut:
			next := Block{Index: e.Block, Needle: c.job.needle(e.Block, c.needles), ColourStops: 1}
			next.Parts.ColourStops = c.rest.ColourStop +
				c.rest.PerNeedle*math.Abs(float64(next.Needle-b.Needle))
			r.Blocks = append(r.Blocks, next)
			b = &r.Blocks[len(r.Blocks)-1]
			tr.event(e, next.Parts.ColourStops)
		case stitch.OperatorStop:
			b.Stops++
			b.Parts.Stops += c.rest.Stop
			tr.event(e, c.rest.Stop)
		case stitch.Travel:
			t := c.travelSeconds(e.DX, e.DY, e.Moves)
			b.Jumps += e.Jumps
			b.Parts.Travel += t
			tr.event(e, t)
			at.X += e.DX
			at.Y += e.DY
		}
	}
	if c.homing && (at.X != 0 || at.Y != 0) {
		// No record asks for this move, so it costs the frame's time in either
		// travel mode.
		t := c.frameTravel(-at.X, -at.Y)
		b.Parts.Travel += t
		tr.event(stitch.Event{Kind: stitch.Travel, From: len(rec), To: len(rec), Block: b.Index, DX: -at.X,
			DY: -at.Y}, t)
	}
	b.Parts.StartEnd += c.rest.End
	tr.rest(c.rest.End)

	for i := range r.Blocks {
		b := &r.Blocks[i]
		b.Parts.LongStitches = b.LongBy.Sum()
		b.Seconds = b.Parts.sum()
	}
}

// past goes over the first stitches of a sewn run: from is the record that comes next,
// left how many stitches are still to be gone over after the run, to where the frame then is.
func past(rec []stitch.Record, e stitch.Event, made int, at stitch.Point) (from, left int, to stitch.Point) {
	for from = e.From; from < e.To && made > 0; from++ {
		at.X += int(rec[from].DX)
		at.Y += int(rec[from].DY)
		if rec[from].Op.Penetrates() {
			made--
		}
	}
	return from, made, at
}

// travelSeconds is a straight move where nothing is sewn (MODEL section 4).
func (c *Clock) travelSeconds(dx, dy, moves int) float64 {
	if c.byShaft {
		return float64(moves) * c.perJump
	}
	return c.frameTravel(dx, dy)
}

func (c *Clock) frameTravel(dx, dy int) float64 {
	return c.travel.units(max(dx, -dx, dy, -dy)) // the law is one for both axes and the longer way takes longer
}

func (c *Clock) warn(r *Result) {
	say := func(code, format string, a ...any) {
		r.Warnings = append(r.Warnings, stitch.Warning{Code: code, Offset: -1, Text: fmt.Sprintf(format, a...)})
	}
	if r.Stitches == 0 && c.job.From == 0 {
		say("no-stitches", "the design sews no stitch; its time is start, end and moves only")
	}
	if n := len(r.Blocks); n > 1 && r.Blocks[n-1].Revolutions == 0 && r.Stitches > 0 {
		say("stop-at-end", "the design ends with a colour stop after which nothing is sewn: its %.1f s are in the "+
			"run time", r.Blocks[n-1].Parts.ColourStops)
	}
	for _, b := range r.Blocks {
		if b.Needle >= c.needles {
			say("no-needle", "colour block %d is put on needle %d; the machine has %d", b.Index+1, b.Needle+1,
				c.needles)
		}
	}
	ahead := 0 // colour changes
	for k := range r.Blocks {
		if k == 0 || r.Blocks[k].ColourStops == 0 { // what is on the needle now
			continue
		}
		ahead++
		if c.job.ByHand(k, c.needles) {
			r.Rethreads++
		}
	}
	if n := len(r.Blocks); r.Rethreads > 0 {
		say("rethread", "%d colour blocks on %d needles: %s by hand, whose time is not in the run time", n, c.needles,
			rethreads(r.Rethreads))
	} else if ahead > 0 && c.needles == 1 {
		r.Rethreads = ahead
		say("rethread", "one needle: %s by hand, whose time is the sheet's colour_stop", rethreads(r.Rethreads))
	}
	if c.modelStale > 0 {
		say("stale-fit", "the sheet was fitted under model version %d, this is version %d: fit it again", c.modelStale,
			machine.ModelVersion)
	}
}

func rethreads(n int) string {
	if n == 1 {
		return "1 re-thread"
	}
	return fmt.Sprintf("%d re-threads", n)
}
