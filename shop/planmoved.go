package shop

import (
	"math"
	"slices"
	"strings"
	"time"

	"needlepace/plan"
)

// Moved is a line (or a held part of one) that a plan has elsewhere, or done
// at another time, than the plan before, and why.
type Moved struct {
	Kind     string    `json:"kind"` // added, removed, machine, later, earlier, not placed
	Name     string    `json:"name"` // "1003 Larkess Ferries"
	Was      string    `json:"was"`  // machines; empty: not planned before
	Is       string    `json:"is"`   // machines; empty: not planned any more
	EndWas   time.Time `json:"end_was"`
	EndIs    time.Time `json:"end_is"`
	LateWas  float64   `json:"late_was_seconds"`
	LateIs   float64   `json:"late_is_seconds"`
	Why      string    `json:"why"`
	distance time.Duration
}

// worthTelling is how much a line's end must move to be told of.
const worthTelling = 15 * time.Minute

// keptJob is what a kept plan remembers of a job, so that the next plan can
// say what changed.
type keptJob struct {
	ID       string    `json:"id"`
	Name     string    `json:"name"`
	Quantity int       `json:"quantity"`
	Due      float64   `json:"due"` // s after the plan's From; −1: none
	Weight   float64   `json:"weight"`
	Release  float64   `json:"release"`
	Design   string    `json:"design"`
	Pin      *plan.Pin `json:"pin,omitempty"`
}

func keepJobs(p *plan.Problem) []keptJob {
	out := []keptJob{}
	for i := range p.Jobs {
		j := &p.Jobs[i]
		k := keptJob{j.ID, j.Name, j.Quantity, j.Due, j.Weight, j.Release, j.Design, j.Pin}
		if math.IsInf(k.Due, 1) || math.IsNaN(k.Due) {
			k.Due = -1e18
		}
		out = append(out, k)
	}
	return out
}

// asPlan is a kept plan as package plan takes it: what was on which machine,
// in which order, and what was known of the jobs.
func (p *Plan) asPlan() plan.Plan {
	pr, sc := &plan.Problem{Origin: p.From}, &plan.Schedule{Totals: plan.Totals{Late: p.Late, Lateness: p.LateHours * 3600}}
	machines, jobs := map[string]int{}, map[string]int{}
	for _, m := range p.Machines {
		machines[m.ID] = len(pr.Machines)
		x := plan.Machine{ID: m.ID, Name: m.Name}
		for _, o := range m.Open {
			x.Windows = append(x.Windows, plan.Window{From: pr.Second(o.From), To: pr.Second(o.To), Rate: 1})
		}
		pr.Machines = append(pr.Machines, x)
	}
	for _, k := range p.Jobs {
		j := plan.Job{ID: k.ID, Name: k.Name, Quantity: k.Quantity, Due: k.Due, Weight: k.Weight, Release: k.Release, Design: k.Design, Pin: k.Pin}
		if k.Due <= -1e17 {
			j.Due = math.Inf(1)
		}
		jobs[k.ID] = len(pr.Jobs)
		pr.Jobs = append(pr.Jobs, j)
	}
	for i := range p.Lots {
		l := &p.Lots[i]
		j, ok := jobs[l.Job]
		m, there := machines[l.MachineID]
		if ok && there {
			sc.Lots = append(sc.Lots, plan.Lot{Job: j, Machine: m, Quantity: l.Quantity, SetupFrom: pr.Second(l.SetupFrom), From: pr.Second(l.From), To: pr.Second(l.To), Setup: l.Setup, Work: l.Work})
		}
	}
	return plan.Plan{Problem: pr, Schedule: sc}
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
		m := Moved{Kind: string(c.Kind), Name: c.Name, Was: strings.Join(c.From, ", "), Is: strings.Join(c.To, ", "), EndWas: c.Before.UTC(), EndIs: c.After.UTC(),
			LateWas: c.LateBefore.Seconds(), LateIs: c.LateAfter.Seconds(), Why: c.Why}
		m.distance = c.After.Sub(c.Before).Abs()
		if (c.Kind == plan.Later || c.Kind == plan.Earlier) && m.distance < worthTelling {
			continue
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
