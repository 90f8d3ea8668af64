package ask

import (
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// watch gathers what else needs a person.
func (t *today) watch(ctx context.Context, a *TodayAnswer) error {
	add := func(kind WatchKind, number int, say words.Message) {
		a.Watch = append(a.Watch, TodayAttention{Kind: kind, Number: number, Say: say})
	}
	for i := range a.Machines {
		if on := a.Machines[i].On; on != nil && on.Phase == Overdue {
			add(WatchOverdue, on.Number, words.Say("today.overdue", words.Args{"order": words.Name(on.Name),
				"machine": words.Name(a.Machines[i].Name)}))
		}
	}
	if t.plan == nil && len(t.orders) > 0 {
		add(WatchNoPlan, 0, words.Say("today.no-plan", words.Args{"orders": words.Count(len(t.orders), "order")}))
	}
	if t.plan != nil {
		n, err := changedSince(ctx, t.from, t.Now)
		if err != nil {
			return err
		}
		for i := range a.Machines { // put on another machine than the plan has
			if m := &a.Machines[i]; m.On != nil && m.On.Basis != ByPlan && m.On.unplanned {
				n++
			}
		}
		if n > 0 {
			add(WatchStale, 0, words.Say("today.stale", words.Args{"n": words.Whole(n)}))
		}
		t.missed(add)
		t.takenOff(a)
		t.late(a, add)
	}
	today := t.w.Zone.Day(t.Now)
	for _, o := range t.orders {
		for i := range o.Lines {
			l := &o.Lines[i]
			if l.Left() == 0 {
				continue
			}
			name, customer := words.Name(book.LineName(o, l.Line)), words.Name(o.Customer)
			for _, b := range l.GarmentBatches(o.Goods, today) {
				if !b.Late.IsZero() {
					add(WatchGoods, o.Number, words.Say("today.goods", words.Args{"order": name, "customer": customer,
						"garments": words.Count(b.Pieces, "garment"), "day": words.NearDay{Day: b.Late, Today: today}}))
				}
			}
			if at := l.AtPartner(o.Goods, today); l.Partner.Sews() &&
				(l.Partner.Sent.IsZero() && !at.From.After(today) || !l.Partner.Sent.IsZero() && !at.Back.After(today.Add(1))) {
				add(WatchPartner, o.Number, words.Say("today.partner", words.Args{"order": name, "customer": customer,
					"how": l.PartnerText(o.Goods, today)}))
			}
			if l.Approval.Wanted() {
				add(WatchApproval, o.Number, words.Say("today.approval", words.Args{"order": name, "customer": customer,
					"how": l.Approval.Text(today)}))
			}
			if n := l.Garments(); n > 0 {
				add(WatchSpoilt, o.Number, words.Say("today.spoilt", words.Args{"order": name, "customer": customer,
					"garments": words.Count(n, "garment")}))
			}
		}
	}
	return nil
}

// off lists machines that have changed, or whose sheets never were right: what was timed since is off from what was
// predicted before it by more than chance. Of one that was found to have changed on a day, that is said.
func (a *TodayAnswer) off(scores map[string]*ScoreAnswer, drifted map[string]Drifted) {
	for i := range a.Machines {
		m := &a.Machines[i]
		if d, ok := drifted[m.ID]; ok {
			name, since, by := words.Name(m.Name), words.NearDay{Day: d.Since, Today: a.Zone.Day(a.Now)}, words.Share(math.Abs(d.Change))
			say := words.Say("today.drifted-slower", words.Args{"machine": name, "since": since, "by": by})
			if d.Change < 0 {
				say = words.Say("today.drifted-faster", words.Args{"machine": name, "since": since, "by": by})
			}
			a.Watch = append(a.Watch, TodayAttention{Kind: WatchMachine, MachineID: m.ID, Say: say})
			continue
		}
		sc := scores[m.ID]
		if sc == nil || !sc.biased {
			continue
		}
		name, runs, by := words.Name(m.Name), words.Count(sc.Last.Runs, "run"), words.Share(math.Abs(sc.Last.Bias))
		say := words.Say("today.machine-slower", words.Args{"machine": name, "runs": runs, "by": by})
		if sc.Last.Bias < 0 {
			say = words.Say("today.machine-faster", words.Args{"machine": name, "runs": runs, "by": by})
		}
		a.Watch = append(a.Watch, TodayAttention{Kind: WatchMachine, MachineID: m.ID, Say: say})
	}
}

// changedSince is how many things changed since the kept plan was made, but for what goes on as usual; 0 too without a plan.
func changedSince(ctx context.Context, from PlanFrom, now time.Time) (n int, err error) {
	since, err := Since(ctx, from, SinceQuestion{Now: now})
	if err != nil || since == nil {
		return 0, err
	}
	return since.Moved(), nil
}

// Moved is how many things changed, but for what goes on as usual; none where there is no plan.
func (a *SinceAnswer) Moved() (n int) {
	if a == nil {
		return 0
	}
	for i := range a.Changes {
		if !asUsual(&a.Changes[i].InputChange) {
			n++
		}
	}
	return n
}

// stale says that things changed since the kept plan was made; empty where none did.
func stale(ctx context.Context, from PlanFrom, now time.Time) (words.Message, error) {
	n, err := changedSince(ctx, from, now)
	if err != nil || n == 0 {
		return words.Message{}, err
	}
	return words.Say("today.stale", words.Args{"n": words.Whole(n)}), nil
}

// asUsual reports whether something changed since the plan was made only in that the
// work goes on: pieces are recorded, jobs are put on their machines.
func asUsual(c *book.InputChange) bool {
	if c.Kind == book.ReportsInput {
		return true
	}
	_, rest, isLine := lineOf(c.Key)
	return isLine && (strings.HasPrefix(rest, "holds[") || slices.Contains([]string{"good", "spoilt", "again"}, rest))
}

// missed are lots that were to be done by now and of which nothing is recorded.
func (t *today) missed(add func(WatchKind, int, words.Message)) {
	for i := range t.plan.Lots {
		lot := &t.plan.Lots[i]
		o, l := t.line(lot.OrderID, lot.Line)
		if lot.To.After(t.Now) || o == nil || len(l.Holds) > 0 {
			continue
		}
		if slices.ContainsFunc(t.reports, func(r book.Report) bool {
			return r.OrderID == o.ID && r.Line == l.Line && r.MachineID == lot.MachineID && r.Added.After(t.plan.Made)
		}) {
			continue
		}
		add(WatchOverdue, o.Number, words.Say("today.missed", words.Args{"order": words.Name(lot.Name),
			"machine": words.Name(lot.Machine), "at": onDay(t.w.Zone, lot.To, t.Now)}))
	}
}

// late are lines that miss their day, by the plan or as what is on a machine goes.
func (t *today) late(a *TodayAnswer, add func(WatchKind, int, words.Message)) {
	for i := range t.plan.Ends {
		e := &t.plan.Ends[i]
		o, _ := t.line(e.OrderID, e.Line)
		if o == nil {
			continue
		}
		late, end := 0.0, e.End
		if day := o.Wanted(); !day.IsZero() { // the day of now: it may be another than the plan was made for
			if s := end.Sub(t.w.DueTime(day)).Seconds(); s >= lateFrom {
				late = s
			}
		}
		for k := range a.Machines {
			if on := a.Machines[k].On; on != nil && on.OrderID == e.OrderID && on.Line == e.Line && on.Late > late {
				late, end = on.Late, later(end, on.Ends)
			}
		}
		if late <= 0 {
			continue
		}
		add(WatchLate, e.Number, words.Say("today.late", words.Args{"order": words.Name(e.Name),
			"customer": words.Name(e.Customer), "at": onDay(t.w.Zone, end, t.Now), "late": words.Span(late / 3600)}))
	}
}

// say puts the answer into sentences.
func (a *TodayAnswer) say(t *today) {
	work, byPlan, bobbins := 0, false, false
	for i := range a.Machines {
		if on := a.Machines[i].On; on != nil {
			if on.Phase == Sewing || on.Phase == Loading || on.Phase == SettingUp {
				work++
			}
			byPlan, bobbins = byPlan || on.Basis == ByPlan, bobbins || on.Bobbin != nil
		}
	}
	a.Verdict.Say("today.at-work", words.Args{"n": words.Whole(work), "of": words.Count(len(a.Machines), "machine")})
	if len(a.Needs) > 0 {
		n := &a.Needs[0]
		a.Verdict.Say("today.first", words.Args{"machine": words.Name(n.Machine), "what": n.Say(), "order": words.Name(n.Name),
			"at": onDay(a.Zone, n.At, a.Now)})
	}
	if n := len(a.Watch); n > 0 {
		a.Verdict.Say("today.watch", words.Args{"n": words.Whole(n)})
	}
	if byPlan {
		a.Caveats.Say("today.by-plan-only")
	}
	if work > 0 {
		a.Caveats.Say("today.reckoned")
	}
	if bobbins {
		a.Caveats.Say("today.bobbins-full")
	}
	if !t.given {
		a.Caveats.Say("plan.assumed-hours")
	}
}

// Say is what the machine is in need of.
func (n *TodayNeed) Say() words.Message {
	switch n.Kind {
	case NeedColour:
		if n.Thread == "" {
			return words.Say("today.need-colour-bare", words.Args{"n": words.Whole(n.Block)})
		}
		return words.Say("today.need-colour", words.Args{"n": words.Whole(n.Block), "thread": words.Name(n.Thread)})
	case NeedStop:
		return words.Say("today.need-stop", words.Args{"n": words.Whole(n.Block)})
	case NeedBobbin:
		return words.Say("today.need-bobbin")
	case NeedEnd:
		if n.NextRun {
			return words.Say("today.need-next-end")
		}
		return words.Say("today.need-end")
	case NeedLast:
		return words.Say("today.need-last")
	case NeedStands:
		return words.Say("today.need-stands", words.Args{"cause": words.Say("stands." + string(n.Cause))})
	}
	return words.Say("today.need-set-up")
}

// Says are the words for what a place rests on.
func (b Basis) Says() words.Message {
	switch b {
	case ByPlan:
		return words.Say("today.by-plan")
	case ByReport:
		return words.Say("today.by-report")
	case ByItself:
		return words.Say("today.by-itself")
	}
	return words.Say("today.by-heard")
}

// Says are the words for a phase.
func (p Phase) Says() words.Message {
	switch p {
	case SettingUp:
		return words.Say("today.phase-set-up")
	case Waiting:
		return words.Say("today.phase-waits")
	case Sewing:
		return words.Say("today.phase-sewing")
	case Loading:
		return words.Say("today.phase-loading")
	case Closed:
		return words.Say("today.phase-closed")
	case Standing:
		return words.Say("today.phase-stands")
	}
	return words.Say("today.phase-overdue")
}

// Progress is which pieces are in the machine, of how many.
func (o *TodayOn) Progress() words.Message {
	piece, of := words.Whole(o.Piece), words.Whole(o.Pieces)
	if o.PieceTo > o.Piece {
		return words.Say("today.pieces", words.Args{"piece": piece, "to": words.Whole(o.PieceTo), "of": of})
	}
	return words.Say("today.piece", words.Args{"piece": piece, "of": of})
}

// at is a moment as people say it today: the time of day, with the day where it is another.
func (a *TodayAnswer) at(t time.Time) words.Value {
	near := a.Zone.Near(t, a.Now)
	if t.IsZero() {
		return words.None{}
	}
	if a.Zone.Day(t) == a.Zone.Day(a.Now) {
		return timed{near.Moment, a.Zone.ClockAt(t)}
	}
	return near
}

// onDay is a moment for a sentence, by the shop's clocks whoever reads it: the time of day,
// with the day where it is another than now's.
func onDay(z words.Zone, t, now time.Time) words.Value {
	if z.Day(t) == z.Day(now) {
		return z.ClockAt(t)
	}
	return words.Say("day.moment", words.Args{"day": words.NearDay{Day: z.Day(t), Today: z.Day(now)}, "time": z.ClockAt(t)})
}

// At is a moment as people say it today.
func (a *TodayAnswer) At(t time.Time) words.Value { return a.at(t) }

// needAt is when a machine is in need of something; nothing where it is not.
func (a *TodayAnswer) needAt(n *TodayNeed) words.Value {
	if n == nil {
		return nil
	}
	return a.at(n.At)
}

// MachineTable is what is on every machine.
func (a *TodayAnswer) MachineTable() *Table {
	t := table("now", words.Say("today.now"),
		column("machine", "column.machine"),
		column("order", "column.order"),
		column("customer", "column.customer"),
		column("phase", "today.is"),
		column("pieces", "column.pieces"),
		number("piece", "today.piece-column").inFile(),
		number("of", "column.pieces").inFile(),
		column("by", "today.known"),
		column("next_colour", "today.next-colour"),
		column("next_bobbin", "today.next-bobbin"),
		column("end_of_run", "today.end-of-run"),
		column("ends", "today.ends"),
		number("late_hours", "column.late"),
		column("next", "today.next"),
		column("opens", "today.opens"),
	)
	for i := range a.Machines {
		m := &a.Machines[i]
		var next words.Value
		if n := m.Next; n != nil {
			next = words.Say("today.next-at", words.Args{"order": words.Name(n.Name), "at": a.at(n.SetUpFrom)})
		}
		var opens words.Value
		if !m.Open.IsZero() {
			opens = a.at(m.Open)
		}
		on := m.On
		if on == nil {
			t.add(words.Name(m.Name), nil, nil, words.Say("today.nothing-on"), nil, nil, nil, nil, nil, nil, nil, nil, nil, next, opens)
			continue
		}
		var late words.Value
		if on.Late > 0 {
			late = words.Span(on.Late / 3600)
		}
		t.add(words.Name(m.Name), words.Name(on.Name), words.Name(on.Customer), coded{on.Phase.Says(), string(on.Phase)},
			on.Progress(), words.Whole(on.Piece), words.Whole(on.Pieces), coded{on.Basis.Says(), string(on.Basis)},
			a.needAt(on.Change), a.needAt(on.Bobbin), a.needAt(on.End), a.at(on.Ends), late, next, opens)
	}
	return t
}

// NeedTable is who needs a person, the soonest first.
func (a *TodayAnswer) NeedTable() *Table {
	t := table("needs", words.Say("today.needs"),
		column("at", "today.when"),
		column("machine", "column.machine"),
		column("what", "today.what"),
		column("order", "column.order"),
	)
	for i := range a.Needs {
		n := &a.Needs[i]
		t.add(a.at(n.At), words.Name(n.Machine), n.Say(), words.Name(n.Name))
	}
	return t
}
