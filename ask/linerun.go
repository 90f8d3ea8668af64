package ask

import (
	"context"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/words"
)

// LineRun is one run of an order's line on a machine: a piece on each head in
// use, at the setting the workshop and the goods ask for.
type LineRun struct {
	MachineID string         `json:"machine"`
	Machine   string         `json:"machine_name"`
	Heads     int            `json:"heads"`
	SetSpeed  float64        `json:"set_speed"` // stitches/min
	Seconds   float64        `json:"seconds"`   // start button to standing
	Interval  clock.Interval `json:"interval"`  // 0 to 0 where nobody asked how sure it is
	Parts     clock.Parts    `json:"parts"`

	letters map[string]float64 // s of each name's file, by its ID
	blocks  []letterBlock      // of the names' files
}

// letterBlock is a colour block of names' files: the first of them, the second, and so on.
type letterBlock struct {
	thread   string
	needle   int     // from 0
	stitches float64 // a piece
	seconds  float64 // a run
}

// RunOfLine is a run of a line of an order on a machine, as quotes and plans
// take it; how sure it is is not asked. A machine that cannot make the line is an error that says why.
func RunOfLine(ctx context.Context, from LineFrom, o *book.Order, line int, machineID string) (*LineRun, error) {
	l := o.Line(line)
	if l == nil {
		return nil, noLine(o, line)
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	st, k, err := lineOnMachine(ctx, from, w, l, machineID)
	if err != nil {
		return nil, err
	}
	if !k.Why.IsZero() {
		return nil, st.refuses(k.Why)
	}
	job := st.clockJob(l, k)
	run := &LineRun{}
	if k.Names == nil || !l.NamesAlone {
		r, err := timedOn(ctx, from, l.DesignID, st, job)
		if err != nil {
			return nil, err
		}
		run.add(clocked{Result: r})
	}
	if err := run.letter(ctx, from, st, job, k.Names, false); err != nil {
		return nil, err
	}
	run.MachineID, run.Machine, run.Heads = st.ID, st.Name, st.heads
	return run, nil
}

// add adds a run of a design after what is there.
func (r *LineRun) add(c clocked) { r.addTimes(c, 1) }

// addTimes is add, so many times. What the sheet does not know of the machine is the same
// in each: the ends of the intervals add up.
func (r *LineRun) addTimes(c clocked, times float64) {
	if r.SetSpeed == 0 {
		r.SetSpeed = c.SetSpeed
	}
	r.Seconds += times * c.Seconds
	r.Parts.Add(c.Parts, times)
	if c.how != nil {
		r.Interval.Low, r.Interval.High = r.Interval.Low+times*c.how.Low, r.Interval.High+times*c.how.High
	}
}

// letter adds the names of a run, one after the other; sure: with how sure it is.
func (r *LineRun) letter(ctx context.Context, from LineFrom, st *station, job clock.Job, a *lettering, sure bool) error {
	if a == nil {
		return nil
	}
	r.letters = map[string]float64{}
	for _, f := range a.Files {
		job.Needles = f.Needles
		var c clocked
		var err error
		if sure {
			c, err = clockOn(ctx, from, f.d.ID, st, job)
		} else {
			c.Result, err = timedOn(ctx, from, f.d.ID, st, job)
		}
		if err != nil {
			return err
		}
		share := float64(f.n) / float64(a.Names)
		r.addTimes(c, a.PerRun*share)
		r.letters[f.d.ID] = c.Seconds
		for i, b := range c.Blocks {
			if i == len(r.blocks) {
				r.blocks = append(r.blocks, letterBlock{thread: f.threads[i], needle: b.Needle})
			}
			r.blocks[i].stitches += share * float64(b.Stitches)
			r.blocks[i].seconds += a.PerRun * share * b.Seconds
		}
	}
	return nil
}

// Expected is what pieces of a line should ask of a machine, for a report of
// the floor to be held against.
type Expected struct {
	Machine  Machine
	Heads    int
	Stitches int     // of a piece
	SetSpeed float64 // stitches/min
	run      float64 // s of a run, start button to standing
	cycle    float64 // s a run holds the machine, with the breaks that are usual
	unbroken float64 // the same without thread breaks
	perBreak float64 // s a thread break holds it
	idle     float64 // s of a cycle that a head without a piece saves
}

// Expect is what a line should ask of a machine. A machine that cannot make it
// is an error that says why.
func Expect(ctx context.Context, from LineFrom, l *book.OrderLine, machineID string) (*Expected, error) {
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	st, k, err := lineOnMachine(ctx, from, w, l, machineID)
	if err != nil {
		return nil, err
	}
	if !k.Why.IsZero() {
		return nil, st.refuses(k.Why)
	}
	return &Expected{
		Machine: st.Machine, Heads: st.heads, Stitches: k.Stitches, SetSpeed: k.SetSpeed,
		run: k.Seconds, cycle: k.Cycle, unbroken: k.NoBreaks, perBreak: k.PerBreak, idle: k.Idle,
	}, nil
}

// Pace is how many pieces a second the machine makes, with the usual thread breaks.
func (e *Expected) Pace() float64 { return float64(e.Heads) / e.cycle }

// Seconds is how long a number of pieces should hold the machine, with the
// thread breaks that were counted; below 0: with the usual ones.
func (e *Expected) Seconds(pieces, breaks int) float64 {
	u := e.Usual(pieces)
	if breaks >= 0 {
		u.Breaks = float64(breaks) * e.perBreak
	}
	return u.Sewing + u.Breaks + u.Loading
}

// Usual is how long a number of pieces should hold the machine with the usual
// thread breaks, by part.
func (e *Expected) Usual(pieces int) *book.Held {
	runs := float64((pieces + e.Heads - 1) / e.Heads)
	idle := runs*float64(e.Heads) - float64(pieces)
	breaks := (e.cycle - e.unbroken) / float64(e.Heads) // of a piece
	return &book.Held{Sewing: runs * e.run, Breaks: float64(pieces) * breaks,
		Loading: runs*(e.unbroken-e.run) - idle*max(0, e.idle-breaks), Break: e.perBreak}
}

// NobodyMakes says of every machine of the shop why it cannot make a line. It says nothing
// where one of them can, or the shop has none.
func NobodyMakes(ctx context.Context, from LineFrom, l *book.OrderLine) (why words.Message, err error) {
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return why, err
	}
	all, err := stations(ctx, from, w)
	if err != nil {
		return why, err
	}
	d, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return why, err
	}
	if l.Partner.Sews() {
		return why, nil
	}
	whole := *l
	whole.Good = 0
	for _, part := range whole.Parts(nil) {
		if why, err = nobodyMakes(ctx, from, all, part.Line, d); err != nil || !why.IsZero() {
			return why, err
		}
	}
	return why, nil
}

func nobodyMakes(
	ctx context.Context, from LineFrom, all []*station, l *book.OrderLine, d *book.Design,
) (why words.Message, err error) {
	sh, err := shapeOf(ctx, from, l, d)
	if err != nil {
		return why, err
	}
	var whys words.Sentences
	for _, st := range all {
		reason := sh.unfit(l, d, st)
		if reason.IsZero() {
			return why, nil
		}
		whys = append(whys, st.because(reason))
	}
	return inARow(whys), nil
}
