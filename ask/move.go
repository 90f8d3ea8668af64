package ask

import (
	"context"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// HandMove is what it does to the plan to put a lot elsewhere by hand.
type HandMove struct {
	Lot           book.PlanLot    `json:"lot"`
	To            string          `json:"to"` // machine
	Place         int             `json:"place"`
	Before        book.PlanTotals `json:"before"`
	After         book.PlanTotals `json:"after"`
	Lines         []HandLine      `json:"lines"`      // whose end changes
	LateHours     float64         `json:"late_hours"` // more (below 0: fewer) weighted late hours
	MachineHours  float64         `json:"machine_hours"`
	SetupHours    float64         `json:"set_up_hours"`
	DoneLaterHour float64         `json:"done_later_hours"`
	// From is from when on the line must be held to stand there.
	From time.Time `json:"hold_from"`
	Seen book.Seen `json:"seen" doc:"what it was made from, in one word; given back it guards against what changed since"`
	// Verdict is what it does; Caveats what else is to be known.
	Verdict words.Sentences `json:"verdict"`
	Caveats words.Sentences `json:"caveats"`

	zone   words.Zone
	begins time.Time // the plan does
}

// HandLine is a line whose end a move changes.
type HandLine struct {
	Name     string    `json:"name"`
	Customer string    `json:"customer"`
	Before   time.Time `json:"before"`
	After    time.Time `json:"after"`
	LateWas  float64   `json:"late_was_seconds"`
	LateIs   float64   `json:"late_is_seconds"`
}

// MoveQuestion asks what it costs to put a line's lot of the kept plan on a
// machine. Nothing is changed by it: to keep it there, the line is held.
type MoveQuestion struct {
	Now   time.Time // what has not begun by now begins no sooner; zero: the plan's beginning
	Order string    // its ID
	Line  int
	From  string // ID of the machine it is on; may be empty where it is on one only
	To    string // ID of the machine it is put on
	Place int    // in that machine's queue, counted from 1 without the lot itself; 0: last
}

// Move says what a move by hand does to the plan.
func Move(ctx context.Context, from PlanFrom, q MoveQuestion) (*HandMove, error) {
	if q.Place < 0 {
		return nil, refusing(words.Say("refused.move-place", words.Args{"n": words.Whole(q.Place)}))
	}
	memory := from.Memory()
	memory.hand.Lock()
	defer memory.hand.Unlock()
	p, desk, err := onDesk(ctx, from, memory, q.Now)
	if err != nil {
		return nil, err
	}
	now := desk.Schedule()
	lot, to := -1, -1
	for m, st := range p.stations {
		if st.ID == q.To {
			to = m
		}
	}
	if to < 0 {
		return nil, unfound(words.Say("refused.no-such-machine"))
	}
	fits, parts, twice := 0, 0, false
	for i := range now.Lots {
		of := p.jobs[now.Lots[i].Job]
		on := p.stations[now.Lots[i].Machine].ID
		if of.order.ID != q.Order || of.line.Line != q.Line {
			continue
		}
		if parts++; q.From == "" || on == q.From {
			fits++
			twice = twice || lot >= 0 && now.Lots[lot].Machine == now.Lots[i].Machine
			lot = i
		}
	}
	switch {
	case lot < 0:
		return nil, unfound(words.Say("refused.line-unplanned"))
	case twice:
		return nil, refusing(words.Say("refused.line-in-lots"))
	case fits > 1:
		return nil, refusing(words.Say("refused.line-on-several"))
	}
	if err := p.stuck(now.Lots[lot], to); err != nil {
		return nil, err
	}
	place := q.Place - 1
	if q.Place == 0 {
		place = len(now.Queue(to))
		if now.Lots[lot].Machine == to {
			place--
		}
	}
	e, err := desk.WhatIfMove(lot, to, place)
	if err != nil {
		return nil, wrong(err)
	}
	out := &HandMove{
		Lot: p.lot(&now.Lots[lot]), To: p.stations[to].Name, Place: place,
		Seen: memory.seen, Before: p.totals(e.Before), After: p.totals(e.After), Lines: []HandLine{},
		LateHours: (e.After.Lateness - e.Before.Lateness) / 3600, MachineHours: (e.After.Work - e.Before.Work) / 3600,
		SetupHours:    (e.After.Setup - e.Before.Setup) / 3600,
		DoneLaterHour: (e.After.MakeSpan - e.Before.MakeSpan) / 3600,
	}
	ends := now.Ends(p.Problem)
	out.Lot.Late = ends[now.Lots[lot].Job] >= p.Jobs[now.Lots[lot].Job].Due+lateFrom
	for _, r := range e.Jobs {
		of := p.jobs[r.Job]
		out.Lines = append(out.Lines, HandLine{
			Name: book.LineName(of.order, of.line.Line), Customer: of.order.Customer,
			Before: p.At(r.Before).UTC(), After: p.At(r.After).UTC(), LateWas: r.LateBefore, LateIs: r.LateAfter,
		})
	}
	out.From = startAt(p, now, lot, to, place, e)
	out.zone, out.begins = p.w.Zone, p.Origin
	out.say(parts > 1)
	return out, nil
}

// startAt is from when a lot can be held so that it stands at its place: when
// the one before it there is done, after the move; the first from the plan's
// beginning on.
func startAt(p *problem, now *plan.Schedule, lot, to, place int, e *plan.Effect) time.Time {
	var queue []plan.Lot
	for _, l := range now.Queue(to) {
		if l.Job != now.Lots[lot].Job || l.Machine != now.Lots[lot].Machine {
			queue = append(queue, l)
		}
	}
	if place < 1 || place > len(queue) {
		return p.utc(0)
	}
	before := queue[place-1]
	for _, r := range e.Jobs {
		if r.Job == before.Job {
			return p.utc(r.After)
		}
	}
	return p.utc(before.To)
}

// stuck says why a lot cannot be put on a machine whatever its queue: it is
// held elsewhere, or the machine cannot make it. nil where it can.
func (p *problem) stuck(l plan.Lot, to int) error {
	of, here, there := p.jobs[l.Job], p.stations[l.Machine].Name, p.stations[to].Name
	name := words.Name(book.LineName(of.order, of.line.Line))
	switch {
	case to == l.Machine:
	case of.hold != nil && of.hold.Running:
		return refusing(words.Say("refused.line-runs", words.Args{"order": name, "machine": words.Name(here)}))
	case of.hold != nil:
		return refusing(words.Say("refused.line-held", words.Args{"order": name, "machine": words.Name(here), "to": words.Name(there)}))
	case of.on[to] != nil && !of.on[to].Why.IsZero():
		return refusing(words.Say("refused.line-unfit", words.Args{"order": name, "machine": words.Name(there), "why": of.on[to].Why}))
	}
	return nil
}

// onDesk is the kept plan made ready for questions about moves by hand, with the
// orders as they are now. It is remembered as long as nothing changes, at most sinceFor.
func onDesk(ctx context.Context, from PlanFrom, m *Memory, now time.Time) (*problem, *plan.Desk, error) {
	seen, err := from.Seen(ctx)
	if err != nil {
		return nil, nil, err
	}
	now = now.Truncate(sinceFor)
	if m.desk != nil && m.seen == seen && m.deskAt.Equal(now) {
		return m.p, m.desk, nil
	}
	kept, err := from.LastPlan(ctx)
	if err != nil {
		return nil, nil, err
	}
	if kept == nil {
		return nil, nil, unfound(words.Say("refused.no-plan"))
	}
	p, err := problemOf(ctx, from, &PlanQuestion{At: kept.From, NoBound: true})
	if err != nil {
		return nil, nil, err
	}
	sc := p.written(p.goOn(kept))
	p.goOnFrom(sc, now)
	desk, err := plan.NewDesk(p.Problem, sc)
	if err != nil {
		return nil, nil, wrong(err)
	}
	m.seen, m.deskAt, m.p, m.desk = seen, now, p, desk
	return p, desk, nil
}

// written is a plan as a schedule of a problem: the lots of its jobs, by machine and in their order.
func (p *problem) written(on *book.Plan) *plan.Schedule {
	jobs, machines := make(map[string]int, len(p.Jobs)), map[string]int{}
	for i := range p.Jobs {
		jobs[p.Jobs[i].ID] = i
	}
	for m := range p.Machines {
		machines[p.Machines[m].ID] = m
	}
	sc := &plan.Schedule{Complete: true, Lots: make([]plan.Lot, 0, len(on.Lots))}
	for i := range on.Lots {
		l := &on.Lots[i]
		j, ok := jobs[l.Job]
		m, there := machines[l.MachineID]
		if ok && there {
			from, to := p.Second(l.From), p.Second(l.To)
			sc.Lots = append(sc.Lots, plan.Lot{Job: j, Machine: m, Quantity: l.Quantity, From: from, To: to})
		}
	}
	return sc
}
