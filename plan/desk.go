package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Desk holds a plan ready for questions: what does this move by hand cost,
// when could one more job be done. Making one takes the work of reading the
// problem (some ten milliseconds for 2,000 jobs on 40 machines); a question
// after that is far quicker. It is not safe for use by several goroutines.
type Desk struct {
	p    *Problem
	md   *model
	s    *state
	work *state
	lots []int32 // index in Schedule.Lots → lot of the model
	now  *Schedule
}

// seed is one lot of an earlier plan, in terms of the problem at hand.
type seed struct{ job, machine, quantity int }

// NewDesk takes a plan of the problem up. Jobs of the problem that the plan
// does not have are put where they cost least.
func NewDesk(p *Problem, s *Schedule) (*Desk, error) {
	if err := Check(p); err != nil {
		return nil, err
	}
	seeds, err := seedsOf(p, s)
	if err != nil {
		return nil, err
	}
	d := &Desk{p: p}
	d.md, d.s = fromSeeds(p, seeds)
	d.work = newState(d.md)
	d.read()
	return d, nil
}

// seedsOf are the lots of a plan of a problem as seeds.
func seedsOf(p *Problem, s *Schedule) (seeds []seed, err error) {
	for i := range s.Lots {
		l := &s.Lots[i]
		if l.Job < 0 || l.Job >= len(p.Jobs) || l.Machine < 0 || l.Machine >= len(p.Machines) {
			return nil, errors.New("the schedule has a lot of a job or machine that the problem does not " +
				"have; make the plan anew")
		}
		seeds = append(seeds, seed{l.Job, l.Machine, l.Quantity})
	}
	return seeds, nil
}

// read writes the plan down and finds the model's lots in it.
func (d *Desk) read() {
	d.now = d.s.schedule()
	d.lots = d.lots[:0]
	for i := range d.now.Lots {
		l := &d.now.Lots[i]
		// Lots of one job that follow each other were written as one.
		q := d.s.rows[l.Machine].seq
		k := 0
		if i > 0 && d.now.Lots[i-1].Machine == l.Machine {
			k = int(d.s.pos[d.lots[i-1]]) + 1
			for k < len(q) && d.md.job[q[k]] != int32(l.Job) {
				k++
			}
		}
		d.lots = append(d.lots, q[k])
	}
}

// Schedule is the plan on the desk.
func (d *Desk) Schedule() *Schedule { return d.now }

// fromSeeds makes a model whose lots are those of an earlier plan, and the
// state with its queues. Lots that no longer fit where they were, and jobs
// without any, are put where they cost least.
func fromSeeds(p *Problem, seeds []seed) (*model, *state) {
	md, s, loose := seeded(p, staffed(p), seeds)
	insertBest(s, loose)
	return md, s
}

// seeded is fromSeeds with the lots left out that have no place yet; windows are what staffed gives.
func seeded(p *Problem, windows [][]Window, seeds []seed) (md *model, s *state, loose []int32) {
	parts := make([][]int, len(p.Jobs))
	where := make([][]int, len(p.Jobs))
	rank := make([][]int, len(p.Jobs))
	for r, sd := range seeds {
		parts[sd.job] = append(parts[sd.job], sd.quantity)
		where[sd.job] = append(where[sd.job], sd.machine)
		rank[sd.job] = append(rank[sd.job], r)
	}
	cut := splitIn(p, windows, p.lotSeconds())
	md = compileIn(p, windows, func(j *Job, i int) []int {
		if len(parts[i]) == 0 {
			return cut(j, i)
		}
		parts[i] = fitQuantity(parts[i], j.Quantity)
		return parts[i]
	})
	type placed struct {
		lot  int32
		rank int
	}
	queues := make([][]placed, md.m)
	k := 0
	for t := range md.job {
		j := int(md.job[t])
		if t == 0 || md.job[t-1] != md.job[t] {
			k = 0
		} else {
			k++
		}
		switch {
		case p.Jobs[j].Pin != nil && p.Jobs[j].Pin.Running:
			queues[p.Jobs[j].Pin.Machine] = append(queues[p.Jobs[j].Pin.Machine], placed{int32(t), t - md.n})
		case k < len(where[j]) && md.can[where[j][k]][t]:
			queues[where[j][k]] = append(queues[where[j][k]], placed{int32(t), rank[j][k]})
		default:
			loose = append(loose, int32(t))
		}
	}
	seqs := make([][]int32, md.m)
	for m, q := range queues {
		slices.SortStableFunc(q, func(a, b placed) int { return a.rank - b.rank })
		for _, x := range q {
			seqs[m] = append(seqs[m], x.lot)
		}
	}
	s = newState(md)
	s.set(seqs)
	return md, s, loose
}

// fitQuantity makes the parts add up to the quantity: what is too much goes
// from the last parts, what is missing to the first.
func fitQuantity(parts []int, quantity int) []int {
	sum := 0
	for _, q := range parts {
		sum += q
	}
	out := slices.Clone(parts)
	if sum < quantity {
		out[0] += quantity - sum
	}
	for k := len(out) - 1; sum > quantity && k >= 0; k-- {
		cut := min(out[k], sum-quantity)
		out[k] -= cut
		sum -= cut
	}
	kept := out[:0]
	for _, q := range out {
		if q > 0 {
			kept = append(kept, q)
		}
	}
	return kept
}

// Effect is what a change does to a plan.
type Effect struct {
	Before, After Totals
	Cost          float64 // change of the goal: below 0 is better
	Jobs          []Ripple
}

// Ripple is a job whose end an effect changes.
type Ripple struct {
	Job           int
	Before, After float64 // s of its end
	LateBefore    float64 // s late
	LateAfter     float64
}

// WhatIfMove says what it costs to put a lot of the plan (index into
// Schedule().Lots) on a machine at a place of its queue (0: first; counted
// without the lot itself). Nothing is changed.
func (d *Desk) WhatIfMove(lot, machine, place int) (*Effect, error) {
	c, err := d.change(lot, machine, place)
	if err != nil {
		return nil, err
	}
	if c == nil {
		return &Effect{Before: d.now.Totals, After: d.now.Totals}, nil
	}
	d.work.copyFrom(d.s)
	d.work.apply(c)
	return effect(d.p, d.now, d.work.schedule()), nil
}

// comesTo is what the plan comes to with a lot put elsewhere, as WhatIfMove takes it: totals are known far sooner
// than the plan is written.
func (d *Desk) comesTo(lot, machine, place int) (t Totals, err error) {
	c, err := d.change(lot, machine, place)
	if err != nil {
		return t, err
	}
	d.work.copyFrom(d.s)
	if c != nil {
		d.work.apply(c)
	}
	return d.work.totals(), nil
}

// change makes the move of a lot; nil where it stands there already.
func (d *Desk) change(lot, machine, place int) (*change, error) {
	if lot < 0 || lot >= len(d.lots) {
		return nil, fmt.Errorf("the plan has %d lots; there is no lot %d", len(d.lots), lot)
	}
	if machine < 0 || machine >= d.md.m {
		return nil, fmt.Errorf("there is no machine number %d", machine+1)
	}
	t := d.lots[lot]
	j := &d.p.Jobs[d.md.job[t]]
	mach := &d.p.Machines[machine]
	a, i := int(d.s.mach[t]), int(d.s.pos[t])
	r := &d.s.rows[machine]
	// The lots of a written lot stand together.
	size := 1
	for q := d.s.rows[a].seq; i+size < len(q) && d.md.job[q[i+size]] == d.md.job[t]; size++ {
	}
	if machine != a && !d.md.can[machine][t] {
		job, there := label(j.Name, j.ID, "job", int(d.md.job[t])), label(mach.Name, mach.ID, "machine", machine)
		switch {
		case j.Pin != nil && j.Pin.Machine != machine:
			held := &d.p.Machines[j.Pin.Machine]
			return nil, fmt.Errorf("%s is pinned to %s; take the pin off before it is moved to %s", job,
				label(held.Name, held.ID, "machine", j.Pin.Machine), there)
		case j.fit(machine) != nil: // it fits, and cannot: no hours
			return nil, fmt.Errorf("%s has no working hours entered from now on, so %s cannot go there", there,
				job)
		}
		return nil, fmt.Errorf("%s is none of the machines that can make %s", there, job)
	}
	if i < d.s.rows[a].locked {
		return nil, fmt.Errorf("%s is running and cannot be moved", label(j.Name, j.ID, "job", int(d.md.job[t])))
	}
	// Places count written lots; count the model's.
	queue := d.now.Queue(machine)
	off := 0
	for k := range d.now.Lots {
		if d.now.Lots[k].Machine == machine {
			off = k
			break
		}
	}
	n := len(queue)
	if machine == a {
		n--
	}
	if place < 0 || place > n {
		return nil, fmt.Errorf("place %d is not in the queue of %s, which has places 0 to %d", place,
			label(mach.Name, mach.ID, "machine", machine), n)
	}
	k := place
	if machine == a && off+place >= lot {
		k++ // places count without the lot itself
	}
	at := len(r.seq)
	if k < len(queue) {
		at = int(d.s.pos[d.lots[off+k]])
	}
	if at < r.locked {
		return nil, fmt.Errorf("%s is running a job that must be finished first",
			label(mach.Name, mach.ID, "machine", machine))
	}
	c := &change{kind: moveBlock, a: a, i: i, b: machine, j: at, size: size}
	if a == machine && at >= i && at <= i+size {
		return nil, nil
	}
	if !d.s.legal(c) {
		return nil, errors.New("the move is not possible")
	}
	return c, nil
}

// effect compares two plans of one problem.
func effect(p *Problem, before, after *Schedule) *Effect {
	e := &Effect{Before: before.Totals, After: after.Totals, Cost: after.Cost - before.Cost}
	a, b := before.Ends(p), after.Ends(p)
	for i := range a {
		if math.Abs(a[i]-b[i]) > 0.5 {
			due := p.Jobs[i].due()
			e.Jobs = append(e.Jobs, Ripple{i, a[i], b[i], max(a[i]-due, 0), max(b[i]-due, 0)})
		}
	}
	return e
}
