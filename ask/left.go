package ask

import (
	"context"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/stitch"
	"needlepace/words"
)

// LeftQuestion asks how long is left of the run on a machine that stands at a stitch.
type LeftQuestion struct {
	Now     time.Time
	Machine string // ID or name
	Stitch  int    // made already, from 1
	// Order and Line are what is on it; empty: what the floor or the plan has there.
	Order string
	Line  int
}

// LeftAnswer is what is left of a run, by the clock's law stitch by stitch.
type LeftAnswer struct {
	MachineID string         `json:"machine"`
	Machine   string         `json:"machine_name"`
	Number    int            `json:"order"`
	Line      int            `json:"line"`
	Name      string         `json:"name"`
	Customer  string         `json:"customer"`
	Design    string         `json:"design"`
	DesignID  string         `json:"design_id"`
	Stitch    int            `json:"at_stitch"`
	Stitches  int            `json:"of_stitches"`
	SetSpeed  float64        `json:"set_speed" doc:"stitches/min"`
	Seconds   float64        `json:"seconds" doc:"from the start button to standing, without thread breaks"`
	Interval  clock.Interval `json:"interval"`
	Parts     clock.Parts    `json:"parts"`
	Names     float64        `json:"names_seconds" doc:"of seconds, what the names after the design take"`
	Ends      time.Time      `json:"run_ends" doc:"when it is started now"`
	Block     int            `json:"block" doc:"the colour block that it stands in, from 1"`
	Blocks    int            `json:"blocks"`
	// Next is until the next colour stop or stop of the design; 0: none is left.
	Next    float64         `json:"next_stop_seconds" doc:"until the next colour stop or stop; 0: none is left"`
	Verdict words.Sentences `json:"verdict"`
	Caveats words.Sentences `json:"caveats"`
	Result  *clock.Result   `json:"-"`
}

// Left says how long is left of the run on a machine that stands at a stitch.
func Left(ctx context.Context, from PlanFrom, q LeftQuestion) (*LeftAnswer, error) {
	switch {
	case q.Now.IsZero():
		return nil, Errorf("the time of day is missing")
	case q.Stitch < 0:
		return nil, wrong(clock.Job{From: q.Stitch}.Validate()).(*Error).At("at_stitch")
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	t := &today{TodayQuestion: TodayQuestion{Now: q.Now}, from: from, w: w}
	if t.all, err = stations(ctx, from, w); err != nil {
		return nil, err
	}
	machines, err := from.Machines(ctx)
	if err != nil {
		return nil, err
	}
	mach, err := machineNamed(machines, "machine", q.Machine)
	if err != nil {
		return nil, err
	}
	st := t.all[slices.IndexFunc(t.all, func(st *station) bool { return st.ID == mach.ID })]
	o, l, err := t.on(ctx, st, &q)
	if err != nil {
		return nil, err
	}
	return left(ctx, from, st, o, l, &q)
}

// on is what is on the machine that is asked about.
func (t *today) on(ctx context.Context, st *station, q *LeftQuestion) (o *book.Order, l *book.OrderLine, err error) {
	if q.Order != "" {
		if o, err = t.from.Order(ctx, q.Order); err != nil {
			return nil, nil, err
		}
		if l = o.Line(max(q.Line, 1)); l == nil {
			return nil, nil, noLine(o, q.Line).At("line")
		}
		return o, l, nil
	}
	if err := t.read(ctx); err != nil {
		return nil, nil, err
	}
	on := t.running(st)
	if on == nil {
		on = t.planned(st)
	}
	if on == nil {
		return nil, nil, Errorf("nothing is known to be on %s now: name the order, or say that one is on it", st.Name).At("machine")
	}
	return on.o, on.l.InColour(on.colour), nil
}

func left(
	ctx context.Context, from LineFrom, st *station, o *book.Order, l *book.OrderLine, q *LeftQuestion,
) (*LeftAnswer, error) {
	d, err := from.Design(ctx, l.DesignID)
	if err != nil {
		return nil, err
	}
	k, err := lineAt(ctx, from, l, d, st)
	if err != nil {
		return nil, err
	}
	name := book.LineName(o, l.Line)
	switch {
	case !k.Why.IsZero():
		return nil, st.refuses(k.Why).At("machine")
	case l.NamesAlone:
		return nil, Errorf("each piece of %s is sewn with a file of its own: ask it of that file, with the clock", name)
	}
	if err := standsAt(q.Stitch, d.Stitches, d.Name); err != nil {
		return nil, err
	}
	design, err := from.Stitches(ctx, l.DesignID)
	if err != nil {
		return nil, err
	}
	job := st.clockJob(l, k)
	job.From = q.Stitch
	res, how := clock.How(design, st.Sheet, job, clock.DefaultLevel)
	a := &LeftAnswer{MachineID: st.ID, Machine: st.Name, Number: o.Number, Line: l.Line, Name: name, Customer: o.Customer,
		Design: d.Name, DesignID: d.ID, Stitch: q.Stitch, Stitches: d.Stitches, SetSpeed: res.SetSpeed, Seconds: res.Seconds,
		Interval: how.Interval, Parts: res.Parts, Blocks: len(res.Blocks), Result: res,
		Verdict: words.Sentences{}, Caveats: words.Sentences{}}
	for i := range res.Blocks {
		if b := &res.Blocks[i]; b.Seconds > 0 {
			a.Block = i + 1
			break
		}
	}
	_, stages := clock.New(st.Sheet, job).Stages(design)
	for _, m := range stages {
		if (m.Kind == stitch.ColourCut || m.Kind == stitch.OperatorStop) && a.Next == 0 {
			a.Next = m.At
		}
	}
	if k.Names != nil {
		r := LineRun{}
		job.From = 0
		if err := r.letter(ctx, from, st, job, k.Names, true); err != nil {
			return nil, err
		}
		a.Names = r.Seconds
		a.Seconds += r.Seconds
		a.Interval.Low, a.Interval.High = a.Interval.Low+r.Interval.Low, a.Interval.High+r.Interval.High
		a.Parts.Add(r.Parts, 1)
	}
	a.Ends = q.Now.Add(time.Duration(a.Seconds * float64(time.Second))).UTC().Truncate(time.Second)
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	a.say(st, w.Zone)
	return a, nil
}

// say puts the answer into sentences.
func (a *LeftAnswer) say(st *station, zone words.Zone) {
	a.Verdict.Say("left.left", words.Args{"time": words.Seconds(a.Seconds), "machine": words.Name(a.Machine),
		"stitch": words.Whole(a.Stitch), "of": words.Count(a.Stitches, "stitch"), "design": words.Name(a.Design),
		"order": words.Name(a.Name)})
	if standingOf(st.Sheet) != noSpreads {
		a.Verdict.Say("left.between", words.Args{"level": words.Level(a.Interval.Level), "low": words.Clock(a.Interval.Low),
			"high": words.Clock(a.Interval.High)})
	}
	a.Verdict.Say("left.ends", words.Args{"at": zone.ClockAt(a.Ends)})
	if a.Next > 0 {
		a.Verdict.Say("left.next", words.Args{"time": words.Seconds(a.Next)})
	}
	if a.Names > 0 {
		a.Verdict.Say("left.names", words.Args{"time": words.Seconds(a.Names)})
	}
	a.Caveats.Say("left.count")
}
