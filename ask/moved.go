package ask

import (
	"math"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// Moved is a line (or a held part of one) that a plan has elsewhere, or done
// at another time, than the plan before, and why.
type Moved struct {
	Kind    string        `json:"kind"` // added, removed, machine, later, earlier, not placed
	Name    string        `json:"name"` // "1003 Larkess Ferries"
	Was     string        `json:"was"`  // machines; empty: not planned before
	Is      string        `json:"is"`   // machines; empty: not planned any more
	EndWas  time.Time     `json:"end_was"`
	EndIs   time.Time     `json:"end_is"`
	LateWas float64       `json:"late_was_seconds"`
	LateIs  float64       `json:"late_is_seconds"`
	Why     string        `json:"why"`
	say     words.Message // Why
}

// worthTelling is how much a line's end must move to be told of.
const worthTelling = 15 * time.Minute

func keepJobs(p *plan.Problem) []book.PlannedJob {
	out := []book.PlannedJob{}
	for i := range p.Jobs {
		j := &p.Jobs[i]
		k := book.PlannedJob{
			ID: j.ID, Name: j.Name, Quantity: j.Quantity, Due: j.Due, Weight: j.Weight, Release: j.Release,
			Approval: j.Approval, Design: j.Design, Pin: j.Pin,
		}
		if math.IsInf(k.Due, 1) || math.IsNaN(k.Due) {
			k.Due = book.NoDue
		}
		out = append(out, k)
	}
	return out
}

// named is a plan whose machines are called by their names, which is what its
// reasons for people say.
func named(pl plan.Plan) plan.Plan {
	q := *pl.Problem
	q.Machines = slices.Clone(q.Machines)
	for m := range q.Machines {
		q.Machines[m].ID = q.Machines[m].Name
	}
	return plan.Plan{Problem: &q, Schedule: pl.Schedule}
}

// moves says what moved between two plans, what matters most first.
func moves(before, after plan.Plan) []Moved {
	out := []Moved{}
	for _, c := range plan.Diff(named(before), named(after)) {
		m := Moved{
			Kind: string(c.Kind), Name: c.Name, Was: strings.Join(c.From, ", "), Is: strings.Join(c.To, ", "),
			EndWas: c.Before.UTC(), EndIs: c.After.UTC(),
			LateWas: c.LateBefore.Seconds(), LateIs: c.LateAfter.Seconds(), Why: c.Why.Raw(), say: c.Why,
		}
		if (c.Kind == plan.Later || c.Kind == plan.Earlier) && c.After.Sub(c.Before).Abs() < worthTelling {
			continue
		}
		if c.Kind == plan.Added && strings.HasSuffix(c.Job, madeAgain) {
			m.say = words.Say("plan-why.again")
			m.Why = m.say.Raw()
		}
		if c.Before.IsZero() {
			m.EndWas = time.Time{}
		}
		if c.After.IsZero() {
			m.EndIs = time.Time{}
		}
		out = append(out, m)
	}
	return out
}
