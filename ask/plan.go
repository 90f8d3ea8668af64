package ask

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// PlanQuestion is what a plan is made for: as things are, or as they might be.
type PlanQuestion struct {
	Now   time.Time // the time of day
	At    time.Time // plan from here on; zero: Now
	Seed  uint64    // of the search: the same seed gives the same plan; 0: 1
	Moves int64     // effort; 0: by the number of lines
	// Freeze: what the kept plan begins within this time stays where it is.
	Freeze time.Duration
	// Fresh makes the plan from nothing; else what is planned moves only where
	// that is worth it.
	Fresh bool
	// NoBound leaves the bound out: a plan is made sooner.
	NoBound bool
	// Progress, if not nil, is called from time to time.
	Progress func(plan.Progress)

	// What if:
	Rush      []Rush            // orders taken in as if they were agreed, and pressing
	Down      []book.DownTime   // more down times
	Operators float64           // more (or, below 0, fewer) operators in every shift
	Hours     []book.ShiftHours // more shifts

	extra []*book.Order // orders taken in as they stand here
	same  bool          // nothing changed since the kept plan but the time
	anew  bool          // search even so
}

// Rush is an order that is taken as agreed and pressing.
type Rush struct {
	Order    string    // its ID
	Priority *float64  // against an ordinary order's 1; nil: RushPriority
	Due      words.Day // the day it is wanted; none: its own
}

// RushPriority is the priority of a rush order where nobody says another.
const RushPriority = 5.0

// WhatIf reports whether the question is about how things might be.
func (q *PlanQuestion) WhatIf() bool {
	return len(q.Rush)+len(q.Down)+len(q.Hours) > 0 || q.Operators != 0
}

// mostFreeze is how far ahead a plan can be left as it is.
const mostFreeze = 10_000 * time.Hour

// check fills in what is left out and refuses what makes no sense.
func (q *PlanQuestion) check() error {
	if q.Now.IsZero() {
		return Errorf("the time of day is missing")
	}
	if q.Seed == 0 {
		q.Seed = 1
	}
	if q.Freeze < 0 || q.Freeze > mostFreeze {
		return Errorf("the hours that stay as they are are %v; give 0 or more, at most %.0f",
			q.Freeze.Hours(), mostFreeze.Hours())
	}
	if q.Moves < 0 {
		return Errorf("the effort is %d moves; give 0 (by the number of lines) or more", q.Moves)
	}
	return nil
}

// CheckPlan says what is wrong with a question about the plan before it is worked
// on.
func CheckPlan(q PlanQuestion) error { return q.check() }

// CheckWhatIf says what is wrong with a what-if before it is worked on.
func CheckWhatIf(ctx context.Context, from PlanFrom, q PlanQuestion) error {
	if !q.WhatIf() {
		return refusing(words.Say("refused.nothing-asked"))
	}
	if err := q.check(); err != nil {
		return err
	}
	if err := q.rushed(ctx, from); err != nil {
		return err
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return err
	}
	down, err := downOf(ctx, from, q.Down)
	if err != nil {
		return err
	}
	return wrong(w.Suppose(down, q.Hours, q.Operators))
}

// rushed adds the rush orders as they would be.
func (q *PlanQuestion) rushed(ctx context.Context, from PlanFrom) error {
	for _, r := range q.Rush {
		was, err := from.Order(ctx, r.Order)
		if err != nil {
			return err
		}
		if !was.State.Open() || was.State == book.Sewn {
			return refusing(words.Say("refused.rush-state", words.Args{"order": words.Name(strconv.Itoa(was.Number)), "state": words.Say("order-state." + string(was.State))}))
		}
		o := *was
		if !o.State.Planned() {
			o.State = book.Agreed
		}
		o.Weight = RushPriority
		if r.Priority != nil {
			o.Weight = *r.Priority
		}
		if !(o.Weight >= 0 && o.Weight <= book.MostWeight) {
			return refusing(words.Say("refused.priority-outside", words.Args{"n": words.Fixed(o.Weight, 1),
				"most": words.Whole(int(book.MostWeight))})).At("priority")
		}
		if !r.Due.IsZero() {
			o.Due, o.Promised = r.Due, words.Day{} // what is asked now counts, not what was told before
		}
		q.extra = append(q.extra, &o)
	}
	return nil
}

// PlanAnswer is a plan against the one before.
type PlanAnswer struct {
	Plan   *book.Plan `json:"plan"`
	Before *book.Plan `json:"before"` // nil: there was none
	Moved  []Moved    `json:"moved"`
	// Verdict is what the plan comes to; Caveats what it stands on.
	Verdict words.Sentences `json:"verdict"`
	Caveats words.Sentences `json:"caveats"`
	Watch   []AboutOrder    `json:"watch" doc:"lines at risk, left out, or planned otherwise than asked"`
	Seen    book.Seen       `json:"seen" doc:"what it was made from, in one word; given back it guards against what changed since"`
	// Since is what changed since it was made, of a kept plan that is shown.
	Since  *SinceAnswer `json:"since,omitempty" doc:"what it was made from and is another now, and what that does to it"`
	full   plan.Plan
	whatIf bool // Before is the plan without what is asked
}

// Plan plans the agreed orders against the plan that is kept, and says what
// moved and why. Where the question is a what-if, Before is the plan without
// it, made in the same way.
func Plan(ctx context.Context, from PlanFrom, q PlanQuestion) (*PlanAnswer, error) {
	if err := q.check(); err != nil {
		return nil, err
	}
	if !q.WhatIf() {
		return planned(ctx, from, &q)
	}
	if err := q.rushed(ctx, from); err != nil {
		return nil, err
	}
	plain := PlanQuestion{Now: q.Now, At: q.At, Seed: q.Seed, Moves: q.Moves, Freeze: q.Freeze, NoBound: true, anew: true}
	before, err := planned(ctx, from, &plain)
	if err != nil {
		return nil, err
	}
	p, err := problemOf(ctx, from, &q)
	if err != nil {
		return nil, err
	}
	on := freeze(p, before.Plan, q.Freeze)
	q.same = plan.Alike(before.full.Problem, p.Problem)
	after, err := solve(ctx, p, on, &q)
	if err != nil {
		return nil, err
	}
	a := &PlanAnswer{Plan: write(p, after, &q), Before: before.Plan, Seen: before.Seen, whatIf: true}
	if err := promise(ctx, p, after, &from.Memory().drawn, a.Plan); err != nil {
		return nil, err
	}
	a.Moved = moves(before.full, plan.Plan{Problem: p.Problem, Schedule: after})
	a.say()
	return a, nil
}

// planned plans a question against the kept plan.
func planned(ctx context.Context, from PlanFrom, q *PlanQuestion) (*PlanAnswer, error) {
	seen, err := from.Seen(ctx)
	if err != nil {
		return nil, err
	}
	before, err := from.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	p, err := problemOf(ctx, from, q)
	if err != nil {
		return nil, err
	}
	on := before // as this plan goes on with it
	if before != nil {
		on = freeze(p, p.goOn(before), q.Freeze)
	}
	now, err := PlanInputs(ctx, from)
	if err != nil {
		return nil, err
	}
	q.same = unchanged(before, now, p.w, q)
	sched, err := solve(ctx, p, on, q)
	if err == nil {
		err = p.takeOff(ctx, sched, q.Seed)
	}
	if err != nil {
		return nil, err
	}
	a := &PlanAnswer{
		Plan: write(p, sched, q), Before: before, Moved: []Moved{}, Seen: seen,
		full: plan.Plan{Problem: p.Problem, Schedule: sched},
	}
	told := make(chan bool) // why something moved is found while it is simulated
	go func() {
		defer close(told)
		if before != nil {
			a.Moved = moves(p.told(before, on), a.full)
		}
	}()
	err = promise(ctx, p, sched, &from.Memory().drawn, a.Plan)
	<-told
	if err != nil {
		return nil, err
	}
	a.Plan.Inputs = now
	a.say()
	return a, nil
}

// solve finds the plan: from the one before where there is one and the
// question is not Fresh.
func solve(ctx context.Context, p *problem, before *book.Plan, q *PlanQuestion) (*plan.Schedule, error) {
	if len(p.Jobs) == 0 {
		return &plan.Schedule{Complete: true}, nil
	}
	asked := planAsked{Problem: p.Problem, Seed: q.Seed, Moves: q.Moves, Keep: q.same, NoBound: q.NoBound}
	if before != nil && len(before.Lots) > 0 && !q.Fresh {
		last := before.AsPlan()
		asked.Before = &last
	}
	sched, err := searched.make(ctx, &asked, func(done, of float64) {
		if q.Progress != nil {
			q.Progress(plan.Progress{Moves: int64(done), Of: int64(of)})
		}
	})
	return sched, wrong(err)
}

// unchanged reports whether a plan would be made from the same things as the kept
// one: then nothing is moved, for nothing asks for it. What is past counts as
// nothing.
func unchanged(before *book.Plan, now []book.Input, w *book.Workshop, q *PlanQuestion) bool {
	if before == nil || before.Inputs == nil || q.anew || len(q.extra) > 0 {
		return false
	}
	return !slices.ContainsFunc(book.ChangedInputs(before.Inputs, now), func(c book.InputChange) bool {
		return !c.Past(w, q.Now)
	})
}

// freeze holds what the plan before begins soon where it is. Of a job that several machines share, each
// lot that begins soon is held as a job of its own, and the rest is free. It is the plan before as the jobs
// are then.
func freeze(p *problem, before *book.Plan, within time.Duration) *book.Plan {
	if within <= 0 {
		return before
	}
	until := p.Origin.Add(within)
	lots := map[string][]*book.PlanLot{}
	for i := range before.Lots {
		l := &before.Lots[i]
		lots[l.Job] = append(lots[l.Job], l)
	}
	split := false
	for i := range p.Jobs {
		old := lots[p.Jobs[i].ID]
		if p.Jobs[i].Pin != nil {
			continue
		}
		for k, l := range old {
			m, there := p.index[l.MachineID]
			if !l.SetupFrom.Before(until) || !there || !fitsOn(&p.Jobs[i], m) {
				continue
			}
			j := p.Jobs[i]
			pin := &plan.Pin{Machine: m, Start: max(0, p.Second(l.From))}
			if len(old) == 1 || l.Quantity >= j.Quantity { // all of it, or all that is left
				p.Jobs[i].Pin = pin
				break
			}
			split = true
			j.ID, j.Quantity, j.MaxLots, j.Pin = fmt.Sprintf("%s=%d", j.ID, k+1), l.Quantity, 1, pin
			p.Jobs[i].Quantity -= l.Quantity
			if p.Jobs[i].MaxLots > 1 {
				p.Jobs[i].MaxLots--
			}
			p.add(j, p.jobs[i])
		}
	}
	if !split {
		return before
	}
	return p.goOn(before)
}

func fitsOn(j *plan.Job, m int) bool {
	return slices.ContainsFunc(j.Fits, func(f plan.Fit) bool { return f.Machine == m })
}
