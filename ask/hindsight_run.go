package ask

import (
	"cmp"
	"context"
	"math"
	"slices"

	"needlepace/book"
	"needlepace/plan"
)

// replayed is the shop as a plan of the past sees it: another fleet, the orders as
// they came, no plan before, nothing sewn.
type replayed struct {
	HindsightFrom
	orders  []*book.Order
	days    int // to lay the calendar out for, beyond the workshop's own
	add     *offer
	without string
	headsOf string
	heads   int
	noShift func(book.ShiftHours) bool
}

// offered is the ID of the machine that might be had.
const offered = "offered"

// id is its name among the machines of the shop.
func (o *offer) id() string { return o.name + " (" + offered + ")" }

// mostDays is the longest calendar that a workshop can have, in days.
const mostDays = 730

// Workshop has the fleet's hours and settings.
func (r *replayed) Workshop(ctx context.Context) (*book.Workshop, bool, error) {
	w, given, err := r.HindsightFrom.Workshop(ctx)
	if err != nil {
		return nil, false, err
	}
	w.Horizon = min(w.Horizon+r.days, mostDays)
	if r.noShift != nil {
		w.Shift = slices.DeleteFunc(slices.Clone(w.Shift), r.noShift)
	}
	w.Machine = slices.Clone(w.Machine)
	if r.without != "" {
		w.Machine = slices.DeleteFunc(w.Machine, func(m book.WorkshopMachine) bool { return m.ID == r.without })
	}
	if r.headsOf != "" {
		k := slices.IndexFunc(w.Machine, func(m book.WorkshopMachine) bool { return m.ID == r.headsOf })
		if k >= 0 {
			w.Machine[k].Heads = &r.heads
		}
	}
	if r.add != nil {
		keys := book.WorkshopMachine{CapFrame: true}
		for _, m := range w.Machine {
			if m.ID == r.add.like {
				keys = m
			}
		}
		keys.Name, keys.ID = r.add.id(), offered
		if r.add.sheet != nil {
			keys.Heads = nil
		}
		w.Machine = append(w.Machine, keys)
	}
	return w, given, nil
}

// Machines are the fleet.
func (r *replayed) Machines(ctx context.Context) ([]Machine, error) {
	all, err := r.HindsightFrom.Machines(ctx)
	if err != nil {
		return nil, err
	}
	all = slices.Clone(all)
	if r.add != nil {
		m := Machine{ID: offered, Name: r.add.id(), Sheet: r.add.sheet}
		for i := range all {
			if all[i].ID == r.add.like && m.Sheet == nil {
				m.Sheet, m.Digest = all[i].Sheet, all[i].Digest
			}
		}
		all = append(all, m)
	}
	for i := range all {
		if all[i].ID == r.headsOf {
			s := *all[i].Sheet
			s.Heads = r.heads
			all[i].Sheet, all[i].Digest = &s, "" // supposed
		}
	}
	return slices.DeleteFunc(all, func(m Machine) bool { return m.ID == r.without }), nil
}

// Planned are the orders as they came.
func (r *replayed) Planned(context.Context) ([]*book.Order, error) { return r.orders, nil }

// LastPlan is none.
func (r *replayed) LastPlan(context.Context) (*book.Plan, error) { return nil, nil }

// Reports tell of the machines as ever, but of no order: nothing is sewn yet.
func (r *replayed) Reports(ctx context.Context) ([]book.Report, error) {
	all, err := r.HindsightFrom.Reports(ctx)
	all = slices.Clone(all)
	for i := range all {
		all[i].OrderID = ""
	}
	return all, err
}

// Order is one of the book; that of a report has no lines.
func (r *replayed) Order(ctx context.Context, id string) (*book.Order, error) {
	if id == "" {
		return &book.Order{}, nil
	}
	return r.HindsightFrom.Order(ctx, id)
}

// step tells how far the replay is.
func (h *hindsight) step() {
	h.done++
	if h.q.Progress != nil {
		h.q.Progress(min(1, h.done/h.of))
	}
}

// run replays the book with changes to the fleet; base is the fleet as it is.
func (h *hindsight) run(ctx context.Context, all []change, base *course) (*course, error) {
	c := &course{drawn: &plan.Drawn{}, from: &replayed{HindsightFrom: h.from, orders: h.orders, days: h.days}}
	q := PlanQuestion{Now: h.start, At: h.start, Seed: h.q.Seed, NoBound: true}
	adds := base != nil
	for _, x := range all {
		x.to(c.from, &q)
		adds = adds && x.only
	}
	var err error
	if c.p, err = problemOf(ctx, c.from, &q); err != nil {
		return nil, err
	}
	c.crew = c.p.Crew
	for _, st := range c.p.stations {
		c.fleet = append(c.fleet, st.Machine)
	}
	c.p.Weights.Move = 0 // there is no plan that somebody stands by
	if c.sc, err = solve(ctx, c.p, nil, &q); err != nil {
		return nil, err
	}
	c.measure()
	if base != nil {
		// The plan of the fleet as it is, carried over: the search may not have found it.
		o := plan.Options{Seed: h.q.Seed, NoBound: true, Keep: true}
		sc, err := plan.Replan(ctx, plan.Plan{Problem: base.p.Problem, Schedule: base.sc}, c.p.Problem, o)
		if err != nil {
			return nil, wrong(err)
		}
		if x := (course{p: c.p, sc: sc, drawn: c.drawn, from: c.from, crew: c.crew, fleet: c.fleet}); x.measure() && x.better(c) {
			*c = x
		}
		if adds && base.better(c) {
			x := *base
			x.from, x.crew, x.fleet, x.unused = c.from, c.crew, c.fleet, true
			*c = x
			if c.from.add != nil {
				if err := c.staff(ctx, h.q.Seed); err != nil {
					return nil, err
				}
			}
		}
	}
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	h.step()
	if err := c.draw(ctx); err != nil {
		return nil, err
	}
	h.step()
	if c.unused {
		return c, nil
	}
	if err := c.refuse(ctx, h); err != nil {
		return nil, err
	}
	if adds && len(c.refused) > len(base.refused) {
		c.refused = base.refused // what was added may stand still
	}
	h.step()
	return c, nil
}

// staff finds how late the book would be with operators enough for its machines at any time, where that is half as late or less: then they are what
// lacks, and no machine.
func (c *course) staff(ctx context.Context, seed uint64) error {
	if len(c.p.Crew) == 0 || c.hours == 0 {
		return nil
	}
	staffed, enough := *c.p, *c.p.Problem
	enough.Crew, staffed.Problem = nil, &enough
	sc, err := plan.Replan(ctx, plan.Plan{Problem: c.p.Problem, Schedule: c.sc}, &enough, plan.Options{Seed: seed, NoBound: true, Keep: true})
	if err != nil {
		return wrong(err)
	}
	x := course{p: &staffed, sc: sc}
	if x.measure(); x.hours <= c.hours/2 {
		c.staffed = &x
	}
	return nil
}

// orderEnds is when each order is done and wanted, of ends job by job, in s; NaN
// for one that is not placed.
func (c *course) orderEnds(ends func(job int) float64) (late map[*book.Order]float64) {
	late = map[*book.Order]float64{}
	for i := range c.p.Jobs {
		o := c.p.jobs[i].order
		if s := ends(i) - c.p.Jobs[i].Due; s >= lateFrom {
			late[o] = max(late[o], s)
		}
	}
	return late
}

// measure counts what is late if all goes as planned.
func (c *course) measure() bool {
	ends := c.sc.Ends(c.p.Problem)
	late := c.orderEnds(func(i int) float64 { return ends[i] })
	c.late, c.hours = len(late), 0
	for _, o := range c.p.orders {
		c.hours += late[o] / 3600
	}
	return true
}

// better reports whether a course is less late than another, or as late and
// cheaper by the plan's goal.
func (c *course) better(than *course) bool {
	const same = 1e-6
	if d := c.left() - than.left(); d != 0 {
		return d < 0
	}
	if math.Abs(c.hours-than.hours) > same {
		return c.hours < than.hours
	}
	return cmp.Or(cmp.Compare(c.late, than.late), cmp.Compare(c.sc.Cost, than.sc.Cost)) < 0
}

// left is how many lines are not sewn.
func (c *course) left() int { return len(c.p.left) + len(c.sc.Unplaced) }

// draw simulates the course as promises are simulated.
func (c *course) draw(ctx context.Context) error {
	o := plan.PromiseOptions{Draws: promiseDraws, Seed: 1}
	all, err := plan.Courses(ctx, c.p.Problem, c.sc, c.p.uncertainty(c.sc, c.drawn), o)
	if ctx.Err() != nil {
		return stopped(ctx)
	}
	if err != nil {
		return wrong(err)
	}
	c.draws = make([]int, promiseDraws)
	for d := range c.draws {
		c.draws[d] = len(c.orderEnds(func(i int) float64 {
			if all[i] == nil {
				return math.NaN()
			}
			return all[i][d]
		}))
	}
	return nil
}

// busiest is the machine that sews longest.
func (c *course) busiest() (most int) {
	work := make([]float64, len(c.p.stations))
	for _, l := range c.sc.Lots {
		if work[l.Machine] += l.Work + l.Setup; work[l.Machine] > work[most] {
			most = l.Machine
		}
	}
	return most
}

// refuse asks of one order after another, on the day it came, whether its date
// can be promised beside what was taken before; what cannot is refused. What has
// begun by then stays as it is.
func (c *course) refuse(ctx context.Context, h *hindsight) error {
	c.refused = nil
	now := *c.p.Problem
	now.Machines, now.Jobs = slices.Clone(now.Machines), nil
	at, sc := *c.p, &plan.Schedule{}
	at.Problem, at.jobs = &now, nil
	for _, o := range h.orders {
		var err error
		sc = at.begun(sc, max(0, c.p.Second(o.Made)))
		with, mine := at, len(at.Jobs)
		next := sc
		fits, due := true, math.Inf(1)
		var lines []plan.Job
		with.jobs = slices.Clip(with.jobs)
		for i := range c.p.Jobs {
			if c.p.jobs[i].order == o {
				lines, with.jobs = append(lines, c.p.Jobs[i]), append(with.jobs, c.p.jobs[i])
				due = min(due, c.p.Jobs[i].Due)
			}
		}
		if len(lines) > 0 {
			offer, e := plan.Earliest(with.Problem, next, lines...)
			if fits = e == nil; fits {
				with.Problem, next = offer.With, offer.Plan
				for i, end := range next.Ends(with.Problem)[mine:] {
					fits = fits && end < lines[i].Due+lateFrom
				}
			}
		}
		if fits && !math.IsInf(due, 1) && len(with.Jobs) > mine {
			var all []plan.Promised
			if all, err = promised(ctx, &with, next, c.drawn, h.a.Chance, mine); err != nil {
				return err
			}
			for _, pr := range all {
				fits = fits && (pr.Job < mine || plan.Sure(pr.OnTime, h.a.Chance, promiseDraws))
			}
		}
		if !fits {
			c.refused = append(c.refused, o)
			continue
		}
		at, sc = with, next
	}
	return nil
}

// begun takes what a plan has begun before a moment out of it: those lots are on
// their machines until they end.
func (p *problem) begun(sc *plan.Schedule, t float64) *plan.Schedule {
	now := *p.Problem
	now.Machines, now.Jobs = slices.Clone(now.Machines), nil
	left := make([]int, len(p.Jobs))
	var lots []plan.Lot
	for m := range now.Machines {
		on := &now.Machines[m]
		for _, l := range sc.Queue(m) {
			if l.SetupFrom >= t {
				left[l.Job] += l.Quantity
				lots = append(lots, l)
				continue
			}
			j := &p.Jobs[l.Job]
			on.Free, on.Loaded, on.Hoop = max(on.Free, l.To), j.Cones, j.Hoop
		}
		on.Free = max(on.Free, t)
	}
	index := make([]int, len(p.Jobs))
	var jobs []jobOf
	for i, n := range left {
		if n == 0 {
			continue
		}
		j := p.Jobs[i]
		j.Quantity = n
		index[i] = len(now.Jobs)
		now.Jobs, jobs = append(now.Jobs, j), append(jobs, p.jobs[i])
	}
	for i := range lots {
		lots[i].Job = index[lots[i].Job]
	}
	p.Problem, p.jobs = &now, jobs
	return &plan.Schedule{Lots: lots}
}
