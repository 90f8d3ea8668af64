package clock

import (
	"needlepace/stitch"
)

// Trace is a run record by record: what pictures and audits read.
type Trace struct {
	// Seconds is the time of each record that is a revolution, 0 for others.
	Seconds []float64
	// CapSeconds is 1/N_i of each revolution (MODEL section 2), 0 for others.
	CapSeconds []float64
	// Control is what the controller's speed steps and lag add to the cap of each
	// revolution, in seconds; nil where the machine has neither.
	Control []float64
	// Bounds is which limit set each revolution's cap; at a turn that slows, the
	// one that would have without it.
	Bounds []Bound
	// TurnSeconds is what the turn before each revolution adds to its cap, 0 for others.
	TurnSeconds []float64
	// Starts is when each record begins, from the start button, in seconds;
	// a record of a travel begins when the travel does.
	Starts []float64
	// Moments are the events that are not sewing, in order of time.
	Moments []Moment
	Result  *Result

	now  float64
	slow []int // of each run, how many revolutions are slow because the machine is let in gently
}

// Moment is a trim, colour stop, stop or travel and when it happened.
type Moment struct {
	stitch.Event
	At, Seconds float64
}

// Trace clocks a design and keeps each record's time. It needs about 41
// bytes a record.
func (c *Clock) Trace(d *stitch.Design) *Trace {
	n := len(d.Records)
	tr := &Trace{
		Seconds:     make([]float64, n),
		CapSeconds:  make([]float64, n),
		Bounds:      make([]Bound, n),
		TurnSeconds: make([]float64, n),
		Starts:      make([]float64, n),
	}
	if c.law.step > 0 || c.invLag > 0 {
		tr.Control = make([]float64, n)
	}
	tr.Result = c.run(d, tr)
	return tr
}

// Stages clocks a design and keeps when what is not sewing happened, and how
// long it took, in order of time: a Trace's Moments, for little more than Run.
func (c *Clock) Stages(d *stitch.Design) (*Result, []Moment) {
	var tr Trace
	r := c.run(d, &tr)
	return r, tr.Moments
}

// Turns puts the seconds of each revolution of one sewn run, from a stand to a
// stand, into seconds, which is as long as the run: what a Trace has of it and
// nothing else, for those who try a thousand laws. Where the machine is let in gently
// (machine.Slow) it is a run after that.
func (c *Clock) Turns(run []stitch.Record, seconds []float64) {
	w := c.window()
	defer windows.Put(w)
	var b Block
	var at stitch.Point
	c.sew(run, w, &b, &Trace{Seconds: seconds}, 0, &at)
}

// rest passes time in which nothing is recorded.
func (t *Trace) rest(seconds float64) {
	if t != nil {
		t.now += seconds
	}
}

func (t *Trace) event(e stitch.Event, seconds float64) {
	if t == nil {
		return
	}
	t.Moments = append(t.Moments, Moment{e, t.now, seconds})
	for i := e.From; i < e.To && t.Starts != nil; i++ {
		t.Starts[i] = t.now
	}
	t.now += seconds
}

// sewn records revolutions from ≤ i < to of the run that begins at record
// first, whose Seconds the shaft has just filled.
func (t *Trace) sewn(c *Clock, rec []stitch.Record, first, from, to int) {
	if t.CapSeconds == nil { // only the seconds are asked for
		return
	}
	var px, py int
	if from > 0 {
		px, py = int(rec[from-1].DX), int(rec[from-1].DY)
	}
	for i := from; i < to; i++ {
		dx, dy := int(rec[i].DX), int(rec[i].DY)
		rev := c.law.cap(dx, dy, px, py)
		px, py = dx, dy
		t.CapSeconds[first+i] = rev.inv
		if c.law.step > 0 {
			t.Control[first+i] += c.law.stepped(rev.inv) - rev.inv
		}
		t.Bounds[first+i] = rev.bound
		t.TurnSeconds[first+i] = rev.turn
		t.Starts[first+i] = t.now
		t.now += t.Seconds[first+i]
	}
}

// Speed is the mean shaft speed over record i in stitches/min; 0 where the
// record is not a revolution.
func (t *Trace) Speed(i int) float64 {
	if t.Seconds[i] <= 0 {
		return 0
	}
	return 60 / t.Seconds[i]
}

// HeldBy is which limit sets the cap of record i: BoundTurn where the turn
// before it slows it more than all others do.
func (t *Trace) HeldBy(i int) Bound {
	if t.TurnSeconds[i] > 0 {
		return BoundTurn
	}
	return t.Bounds[i]
}

// Cap is the most that the law and the controller's speed steps and lag let
// the shaft turn on record i, in stitches/min; 0 where it is not a revolution.
// A run that is still gaining or losing speed is slower: see Speed.
func (t *Trace) Cap(i int) float64 {
	seconds := t.CapSeconds[i]
	if t.Control != nil {
		seconds += t.Control[i]
	}
	if seconds <= 0 {
		return 0
	}
	return 60 / seconds
}
