package ask

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/stitch"
)

// onMachine is the part of a line that a machine is at.
type onMachine struct {
	o     *book.Order
	l     *book.OrderLine
	lot   *book.PlanLot // of the plan; nil: it has none
	basis Basis
	// since is when the first of left pieces was begun; done were sewn here before.
	since      time.Time
	done, left int
	colour     string
}

// machine is one machine now.
func (t *today) machine(ctx context.Context, st *station) (*TodayMachine, error) {
	m := &TodayMachine{ID: st.ID, Name: st.Name}
	hours := t.hours[st.ID]
	if !hours.openAt(t.Now) {
		m.Open = hours.after(t.Now, 0)
	}
	on := t.running(st)
	if on == nil {
		on = t.planned(st)
	}
	if on != nil {
		var err error
		if m.On, err = t.place(ctx, st, on, hours); err != nil {
			return nil, err
		}
	}
	m.Next = t.next(st, on, m.On)
	return m, nil
}

// running is what the floor has put on a machine; nil: nothing.
func (t *today) running(st *station) *onMachine {
	for _, o := range t.orders {
		for i := range o.Lines {
			l := &o.Lines[i]
			k := slices.IndexFunc(l.Holds, func(h book.Hold) bool { return h.Running && h.MachineID == st.ID })
			if k < 0 || l.Left() == 0 {
				continue
			}
			h := &l.Holds[k]
			on := &onMachine{o: o, l: l, basis: ByReport, since: lastWord(t.reports, o.ID, l.Line, h), colour: h.Colour, left: h.Quantity}
			on.lot = lotOn(t.plan, st.ID, o.ID, l.Line, h.Colour)
			for j := range t.reports {
				r := &t.reports[j]
				if r.OrderID == o.ID && r.Line == l.Line && r.MachineID == st.ID {
					on.done += r.Good
				}
			}
			if on.left == 0 {
				on.left = l.Left()
				for _, other := range l.Holds { // what others have of it
					on.left = max(1, on.left-other.Quantity)
				}
				if on.lot != nil && on.lot.Quantity < on.left { // the rest is for another machine
					on.left = max(1, on.lot.Quantity-t.since(st, o, l, t.plan.Made))
				}
			}
			if on.since.IsZero() { // put on before that was kept
				on.since = o.Changed
				if on.lot != nil && on.lot.From.Before(t.Now) {
					on.since = on.lot.From
				}
			}
			return on
		}
	}
	return nil
}

// since is how many good pieces of a line were reported from a machine after a time.
func (t *today) since(st *station, o *book.Order, l *book.OrderLine, at time.Time) (n int) {
	for i := range t.reports {
		r := &t.reports[i]
		if r.OrderID == o.ID && r.Line == l.Line && r.MachineID == st.ID && r.Added.After(at) {
			n += r.Good
		}
	}
	return n
}

// line is a lot's order and line as they are now; nil where nothing of it is left.
func (t *today) line(orderID string, line int) (*book.Order, *book.OrderLine) {
	o := t.byID[orderID]
	if o == nil {
		return nil, nil
	}
	l := o.Line(line)
	if l == nil || l.Left() == 0 {
		return nil, nil
	}
	return o, l
}

// elsewhere reports whether all of a line was put on other machines by hand.
func elsewhere(l *book.OrderLine, st *station) bool {
	all := false
	for _, h := range l.Holds {
		if h.MachineID == st.ID {
			return false
		}
		all = all || h.Quantity == 0
	}
	return all
}

// planned is what the plan has on a machine now; nil: nothing. What is on another
// machine by a report is not here.
func (t *today) planned(st *station) *onMachine {
	if t.plan == nil {
		return nil
	}
	for i := range t.plan.Lots {
		lot := &t.plan.Lots[i]
		if lot.MachineID != st.ID || lot.SetupFrom.After(t.Now) || !lot.To.After(t.Now) {
			continue
		}
		o, l := t.line(lot.OrderID, lot.Line)
		if o == nil || elsewhere(l, st) {
			continue
		}
		on := &onMachine{o: o, l: l, lot: lot, basis: ByPlan, since: lot.From, left: lot.Quantity, colour: lot.Colour}
		if n := t.since(st, o, l, t.plan.Made); n > 0 { // recorded, and nobody said that it is on
			on.done, on.left, on.basis = n, min(l.Left(), max(1, lot.Quantity-n)), ByReport
			for j := range t.reports {
				if r := &t.reports[j]; r.OrderID == o.ID && r.Line == l.Line && r.MachineID == st.ID {
					on.since = r.Added
				}
			}
		}
		return on
	}
	return nil
}

// next is what the plan has on a machine after what is on it.
func (t *today) next(st *station, on *onMachine, now *TodayOn) *TodayNext {
	if t.plan == nil {
		return nil
	}
	sewn := t.plan.Sewn(t.reports)
	for i := range t.plan.Lots {
		lot := &t.plan.Lots[i]
		if lot.MachineID != st.ID || sewn[i] == lot.Quantity || on != nil && (lot == on.lot || on.lot != nil && lot.From.Before(on.lot.From)) ||
			!lot.To.After(t.Now) && (on == nil || on.lot == nil) { // of a machine that is behind what should be done by now comes too
			continue
		}
		o, l := t.line(lot.OrderID, lot.Line)
		if o == nil || elsewhere(l, st) || on != nil && on.lot == nil && on.o.ID == o.ID && on.l.Line == l.Line {
			continue
		}
		n := &TodayNext{OrderID: o.ID, Number: o.Number, Line: l.Line, Name: lot.Name, Customer: o.Customer, Colour: lot.Colour,
			Pieces: min(lot.Quantity-sewn[i], l.Left()), Cones: lot.Cones, SetUpFrom: lot.SetupFrom, From: lot.From, Again: lot.Again}
		if now != nil && now.Ends.After(n.SetUpFrom) { // what is before it takes longer
			n.From, n.SetUpFrom = n.From.Add(now.Ends.Sub(n.SetUpFrom)), now.Ends
		}
		return n
	}
	return nil
}

// place says where a machine is in what is on it: by a clock's law within the run,
// and run by run as the plan reckons with breaks, loading and hands.
func (t *today) place(ctx context.Context, st *station, on *onMachine, hours *openHours) (*TodayOn, error) {
	l := on.l.InColour(on.colour)
	d, err := t.from.Design(ctx, l.DesignID)
	if err != nil {
		return nil, err
	}
	out := &TodayOn{OrderID: on.o.ID, Number: on.o.Number, Line: l.Line, Name: book.LineName(on.o, l.Line),
		Customer: on.o.Customer, Design: d.Name, DesignID: d.ID, Colour: on.colour, Basis: on.basis, Phase: Sewing,
		DueDay: on.o.Wanted(), Pieces: on.done + on.left, unplanned: on.lot == nil}
	if on.colour != "" {
		out.Name = strings.TrimSpace(out.Name + " " + on.colour)
	}
	if !out.DueDay.IsZero() {
		out.Due = t.w.DueTime(out.DueDay).UTC()
	}
	k, err := lineAt(ctx, t.from, l, d, st)
	if err != nil {
		return nil, err
	}
	if !k.Why.IsZero() { // it is on a machine that cannot make it: that is all there is to say
		out.Phase, out.Piece, out.PieceTo, out.Runs, out.Run = Overdue, on.done+1, on.done+1, 1, 1
		out.RunEnds, out.Ends = t.Now.UTC(), t.Now.UTC()
		return out, nil
	}
	mv, err := movesOf(ctx, t.from, l, d, st, k)
	if err != nil {
		return nil, err
	}
	heads := max(1, min(st.heads, on.left))
	runs := (on.left + heads - 1) / heads
	slow := st.rates.Pace / (1 - k.Spoilt)
	cycle := k.Cycle * slow
	all := float64(runs)*cycle - k.Idle*slow*float64(runs*st.heads-on.left) // the last run may have empty heads
	// A run's sewing with the breaks that are usual, and the part of a cycle that is not sewing.
	sewing := cycle * (1 - (k.NoBreaks-k.Seconds)/k.Cycle)
	spent := hours.between(on.since, t.Now)
	run := min(int(spent/cycle), runs-1)
	within := spent - float64(run)*cycle
	at := within * mv.seconds / sewing // s of the clock
	heard := t.heard(st, l.DesignID)
	if l.NamesAlone || heard != nil && heard.Ended && !heard.At.After(on.since) { // that was another line's
		heard = nil
	}
	if heard != nil {
		out.Basis = ByEar
		if heard.Told {
			out.Basis = ByItself
			if run = heard.endsAfter(on.since); heard.Ended {
				run-- // the garments are being changed
			}
			run = min(max(run, 0), runs-1)
		}
		since := max(0, t.Now.Sub(heard.At).Seconds())
		switch at = mv.at(heard.Stitch); {
		case heard.Ended:
			at = mv.seconds
		case heard.Cause == "":
			at += since
		}
		if within = at * sewing / mv.seconds; heard.Ended {
			within = min(within+since, cycle)
		}
	}
	from := t.Now
	if heard == nil { // one that is heard sews, whatever the plan says
		from = later(from, on.since)
	}
	when := func(wall float64) time.Time {
		if wall <= within {
			return from.UTC()
		}
		return hours.after(from, wall-within)
	}
	out.At, out.Seconds, out.Parts = min(at, mv.seconds), mv.seconds, mv.parts
	out.Stitch, out.Stitches = mv.stitchAt(out.At), mv.stitches
	out.Run, out.Runs = run+1, runs
	out.Piece, out.PieceTo = on.done+run*heads+1, on.done+min((run+1)*heads, on.left)
	out.RunEnds, out.Ends = when(sewing), when(all-float64(run)*cycle)
	switch {
	case from.After(t.Now) && hours.openAt(t.Now):
		out.Phase = SettingUp
		if on.lot != nil && hours.between(on.lot.SetupFrom, t.Now) >= on.lot.Setup {
			out.Phase = Waiting
		}
	case heard != nil && heard.Cause != "":
		out.Phase = Standing
		out.Stands = &TodayNeed{Kind: NeedStands, At: t.Now.UTC(), MachineID: st.ID, Machine: st.Name, Name: out.Name,
			Cause: heard.Cause, Since: heard.At}
	case within >= all-float64(run)*cycle:
		out.Phase = Overdue
	case !hours.openAt(t.Now):
		out.Phase = Closed
	case within >= sewing:
		out.Phase = Loading
	}
	t.judge(out, on)
	t.countdowns(out, st, on, k, mv, countdown{when, sewing, cycle, within, run, heads})
	return out, nil
}

// judge says how late what is on a machine is.
func (t *today) judge(out *TodayOn, on *onMachine) {
	end := out.Ends
	if on.lot != nil {
		out.Behind = out.Ends.Sub(on.lot.To).Seconds()
		for i := range t.plan.Ends {
			if e := &t.plan.Ends[i]; e.OrderID == on.o.ID && e.Line == on.l.Line && e.End.After(on.lot.To) {
				end = later(end, e.End) // another lot of the line ends it
			}
		}
	}
	if s := end.Sub(out.Due).Seconds(); !out.Due.IsZero() && s >= lateFrom {
		out.Late = s
	}
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// endsAfter is how many runs ended after a time.
func (h *HeardAt) endsAfter(at time.Time) (n int) {
	for _, e := range h.Ends {
		if e.After(at) {
			n++
		}
	}
	return n
}

// heard is where a machine is believed to be by what it tells, else by its sound; nil: by
// neither.
func (t *today) heard(st *station, design string) *HeardAt {
	k := slices.IndexFunc(t.Heard, func(h HeardAt) bool {
		return h.Machine == st.ID && (h.Design == design || h.Told && h.Design == "") && (h.Stitch > 0 || h.Told)
	})
	if k < 0 {
		return nil
	}
	return &t.Heard[k]
}

// countdown is where a run is in its time.
type countdown struct {
	when          func(wall float64) time.Time // s after the run's beginning
	sewing, cycle float64
	within        float64
	run, heads    int
}

// countdowns fills in when the machine changes a colour, stops, wants bobbins, ends.
func (t *today) countdowns(out *TodayOn, st *station, on *onMachine, k *lineOn, mv *runMoves, c countdown) {
	need := func(kind NeedKind, wall float64) *TodayNeed {
		return &TodayNeed{Kind: kind, At: c.when(wall), MachineID: st.ID, Machine: st.Name, Name: out.Name}
	}
	job := st.clockJob(on.l, k)
	if out.Phase == Overdue {
		out.End = need(NeedLast, c.sewing)
		return
	}
	stretch := c.sewing / mv.seconds
	ahead := func(s float64) (wall float64, ok bool) {
		switch wall = s * stretch; {
		case wall > c.within:
			return wall, true
		case out.Run < out.Runs: // in the next run
			return wall + c.cycle, true
		}
		return 0, false
	}
	for pass := range 2 { // what is left of this run, then the next
		for _, m := range mv.moments {
			wall, ok := ahead(m.At)
			if !ok || (wall > c.cycle) != (pass == 1) {
				continue
			}
			switch {
			case m.Kind == stitch.ColourCut && out.Change == nil:
				n := need(NeedColour, wall)
				n.Block = m.Block + 1
				if m.Block < len(mv.threads) {
					n.Thread = mv.threads[m.Block]
				}
				n.ByItself = st.Sheet.Needles > 1 && !job.ByHand(m.Block, st.Sheet.Needles)
				out.Change = n
			case m.Kind == stitch.OperatorStop && out.Stop == nil:
				out.Stop = need(NeedStop, wall)
				out.Stop.Block = m.Block + 1
			}
		}
	}
	end, wall, run := NeedEnd, c.sewing, out.Run
	if c.within >= c.sewing && run < out.Runs { // it is being loaded: the next run's end
		wall += c.cycle
		run++
	}
	if run == out.Runs {
		end = NeedLast
	}
	out.End = need(end, wall)
	out.End.NextRun = run > out.Run
	t.bobbins(out, on, mv, c, need)
}

// bobbins says when bobbins are next changed: full ones are put in with the first piece,
// all at once, and changed after the last run that they last for.
func (t *today) bobbins(out *TodayOn, on *onMachine, mv *runMoves, c countdown, need func(NeedKind, float64) *TodayNeed) {
	if mv.perBobbin <= 0 {
		return
	}
	before := on.done/c.heads + c.run // runs sewn
	if mv.perBobbin < 1 {
		sewn := float64(before) + min(c.within/c.sewing, 1)
		next := (float64(int(sewn/mv.perBobbin)) + 1) * mv.perBobbin
		if run := int(next); run-before < out.Runs-out.Run+1 {
			out.Bobbin = need(NeedBobbin, float64(run-before)*c.cycle+(next-float64(run))*c.sewing)
		}
		return
	}
	last := int(mv.perBobbin)
	ahead := last - before%last // runs, this one among them
	if ahead == last && c.within >= c.sewing {
		ahead = last + 1
	}
	if ahead-1 <= out.Runs-out.Run-1 { // after the last run nobody needs them for this job
		out.Bobbin = need(NeedBobbin, float64(ahead-1)*c.cycle+c.sewing)
	}
}

// runMoves is a run of a design as the clock has it: what happens when.
type runMoves struct {
	seconds   float64
	parts     clock.Parts
	starts    []float64 // s at which each stitch begins
	moments   []clock.Moment
	stitches  int
	perBobbin float64 // pieces; 0: it takes none
	threads   []string
}

// at is when a stitch (from 1) is made; 0 before the first.
func (m *runMoves) at(stitch int) float64 {
	switch {
	case stitch < 1:
		return 0
	case stitch >= len(m.starts):
		return m.seconds
	}
	return m.starts[stitch]
}

// stitchAt is the stitch that is being made at a second of the run.
func (m *runMoves) stitchAt(s float64) int {
	n, _ := slices.BinarySearch(m.starts, s)
	return n
}

// movesOf is a line's run on a machine, clocked once.
func movesOf(
	ctx context.Context, from LineFrom, l *book.OrderLine, d *book.Design, st *station, k *lineOn,
) (*runMoves, error) {
	job := st.clockJob(l, k)
	key := fmt.Sprint(l.DesignID, " ", st.digest, " ", st.Digest, " ", job)
	if k.Names != nil {
		key += fmt.Sprint(l.NamesAlone, l.Names, k.Names.PerRun)
	}
	m, err := from.Memory().moves.get(ctx, mostMoves, key, func() (*runMoves, error) {
		m := &runMoves{}
		if !l.NamesAlone {
			design, err := from.Stitches(ctx, l.DesignID)
			if err != nil {
				return nil, err
			}
			m.trace(design, clock.New(st.Sheet, job).Trace(design))
		}
		if k.Names != nil { // each name's own time is after the design's
			r := LineRun{}
			if err := r.letter(ctx, from, st, job, k.Names, false); err != nil {
				return nil, err
			}
			m.seconds += r.Seconds
			m.parts.Add(r.Parts, 1)
		}
		return m, nil
	})
	if err != nil {
		return nil, err
	}
	out := *m // what follows hangs on the line and the workshop
	use, blocks, err := useOf(ctx, from, l, d, st)
	if err != nil {
		return nil, err
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	out.threads = blocks
	if use.Total.Bobbin > 0 {
		out.perBobbin = w.Supply(st.work).Bobbin / use.Total.Bobbin
	}
	return &out, nil
}

func (m *runMoves) trace(d *stitch.Design, tr *clock.Trace) {
	m.seconds, m.parts, m.stitches = tr.Result.Seconds, tr.Result.Parts, tr.Result.Stitches
	for i, r := range d.Records {
		if r.Op.Penetrates() {
			m.starts = append(m.starts, tr.Starts[i])
		}
	}
	for _, x := range tr.Moments {
		if x.Kind == stitch.ColourCut || x.Kind == stitch.OperatorStop {
			m.moments = append(m.moments, x)
		}
	}
}
