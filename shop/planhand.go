package shop

import (
	"context"
	"fmt"
	"sync"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// HandMove is what it does to the plan to put a lot elsewhere by hand.
type HandMove struct {
	Lot           PlanLot    `json:"lot"`
	To            string     `json:"to"` // machine
	Place         int        `json:"place"`
	Before        PlanTotals `json:"before"`
	After         PlanTotals `json:"after"`
	Lines         []HandLine `json:"lines"`      // whose end changes
	LateHours     float64    `json:"late_hours"` // more (below 0: fewer) weighted late hours
	MachineHours  float64    `json:"machine_hours"`
	SetupHours    float64    `json:"set_up_hours"`
	DoneLaterHour float64    `json:"done_later_hours"`
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

// MoveCost says what it costs to put a line's lot of the kept plan (that on
// machine fromID, or its only one where that is empty) on a machine at a place
// of its queue (0: first; −1: last; counted without the lot itself). Nothing
// is changed: to keep it there, HoldLine and make the plan anew.
func (s *Shop) MoveCost(ctx context.Context, orderID string, line int, fromID, toID string, place int) (*HandMove, error) {
	s.hand.mu.Lock() // a desk answers one at a time
	defer s.hand.mu.Unlock()
	p, desk, err := s.onDesk(ctx)
	if err != nil {
		return nil, err
	}
	now := desk.Schedule()
	lot, to := -1, -1
	for m, st := range p.stations {
		if st.ID == toID {
			to = m
		}
	}
	if to < 0 {
		return nil, Errorf(NotFound, "there is no such machine on the list")
	}
	several := false
	for i := range now.Lots {
		of := p.jobs[now.Lots[i].Job]
		if of.order.ID == orderID && of.line.Line == line && (fromID == "" || p.stations[now.Lots[i].Machine].ID == fromID) {
			several = lot >= 0
			lot = i
		}
	}
	switch {
	case lot < 0:
		return nil, Errorf(NotFound, "that line is not in the plan; make the plan anew")
	case several:
		return nil, Errorf(Invalid, "that line is on several machines; say which part is meant")
	}
	if err := p.stuck(now.Lots[lot], to); err != nil {
		return nil, err
	}
	if place < 0 {
		place = len(now.Queue(to))
		if now.Lots[lot].Machine == to {
			place--
		}
	}
	e, err := desk.WhatIfMove(lot, to, place)
	if err != nil {
		return nil, planError(err)
	}
	w := s.write(p, &plan.Schedule{Lots: now.Lots[lot : lot+1]}, &PlanQuestion{NoBound: true})
	totals := func(t plan.Totals) PlanTotals { return p.totals(&plan.Schedule{Totals: t}) }
	out := &HandMove{
		Lot: w.Lots[0], To: p.stations[to].Name, Place: place, Before: totals(e.Before), After: totals(e.After), Lines: []HandLine{},
		LateHours: (e.After.Lateness - e.Before.Lateness) / 3600, MachineHours: (e.After.Work - e.Before.Work) / 3600,
		SetupHours: (e.After.Setup - e.Before.Setup) / 3600, DoneLaterHour: (e.After.MakeSpan - e.Before.MakeSpan) / 3600,
	}
	for _, r := range e.Jobs {
		of := p.jobs[r.Job]
		out.Lines = append(out.Lines, HandLine{book.LineName(of.order, of.line.Line), of.order.Customer, p.At(r.Before).UTC(), p.At(r.After).UTC(), r.LateBefore, r.LateAfter})
	}
	return out, nil
}

// stuck says why a lot cannot be put on a machine whatever its queue: it is
// held elsewhere, or the machine cannot make it. nil where it can.
func (p *problem) stuck(l plan.Lot, to int) error {
	of, there := p.jobs[l.Job], p.stations[to].Name
	switch {
	case to == l.Machine:
	case of.hold != nil && of.hold.Running:
		return Errorf(Invalid, "%s is on %s now and stays there: record its pieces, or take it off the machine, first", book.LineName(of.order, of.line.Line), p.stations[l.Machine].Name)
	case of.hold != nil:
		return Errorf(Invalid, "%s is held on %s by hand: release it before it is moved to %s", book.LineName(of.order, of.line.Line), p.stations[l.Machine].Name, there)
	case of.on[to] != nil && of.on[to].Why != "":
		return Errorf(Invalid, "%s cannot be made on %s: %s", book.LineName(of.order, of.line.Line), there, of.on[to].Why)
	}
	return nil
}

// handDesk is the kept plan made ready for questions about moves by hand, kept
// as long as nothing changes. One process holds the shop, so what changes goes
// through it.
type handDesk struct {
	mu   sync.Mutex
	key  string
	p    *problem
	desk *plan.Desk
}

// onDesk is the kept plan on the desk, with the orders as they are now.
func (s *Shop) onDesk(ctx context.Context) (*problem, *plan.Desk, error) {
	kept, err := s.store.LastPlan(ctx)
	if err != nil {
		return nil, nil, err
	}
	if kept == nil {
		return nil, nil, Errorf(NotFound, "there is no plan yet; make one first")
	}
	machines, versions, err := s.store.Machines(ctx)
	if err != nil {
		return nil, nil, err
	}
	h := &s.hand
	key := fmt.Sprint(kept.Version, s.changes.Count())
	for i, m := range machines {
		key += " " + m.ID + versions[i].Digest
	}
	if h.key == key {
		return h.p, h.desk, nil
	}
	before, err := readPlan(kept)
	if err != nil {
		return nil, nil, err
	}
	p, err := s.problem(ctx, &PlanQuestion{At: before.From, NoBound: true})
	if err != nil {
		return nil, nil, err
	}
	desk, err := plan.NewDesk(p.Problem, p.again(before))
	if err != nil {
		return nil, nil, planError(err)
	}
	h.key, h.p, h.desk = key, p, desk
	return p, desk, nil
}

// again is a kept plan as a schedule of a problem: its lots, by machine and in
// their order.
func (p *problem) again(kept *Plan) *plan.Schedule {
	jobs, machines := map[string]int{}, map[string]int{}
	for i := range p.Jobs {
		jobs[p.Jobs[i].ID] = i
	}
	for m := range p.Machines {
		machines[p.Machines[m].ID] = m
	}
	sc := &plan.Schedule{Complete: true}
	for i := range kept.Lots {
		l := &kept.Lots[i]
		j, ok := jobs[l.Job]
		m, there := machines[l.MachineID]
		if ok && there {
			sc.Lots = append(sc.Lots, plan.Lot{Job: j, Machine: m, Quantity: l.Quantity, From: p.Second(l.From), To: p.Second(l.To)})
		}
	}
	return sc
}
