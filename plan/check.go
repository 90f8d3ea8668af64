package plan

import (
	"errors"
	"fmt"
	"math"

	"needlepace/words"
)

// Check says what is wrong with a problem so that no plan can be made from it:
// numbers that are not numbers, negative times, machines that do not exist. A
// job that merely cannot be placed is not an error: Solve lists it.
func Check(p *Problem) error {
	var errs []error
	bad := func(format string, args ...any) { errs = append(errs, fmt.Errorf(""+format, args...)) }
	number := func(v float64) bool { return v >= 0 && !math.IsInf(v, 1) }
	if len(p.Machines) == 0 {
		bad("there is no machine to plan on; enter one first")
	}
	w := p.Weights
	if !number(w.Lateness) || !number(w.MakeSpan) || !number(w.Setup) || !number(w.Work) || !number(w.Money) ||
		!number(w.Risk) || !number(w.Move) {
		bad("a weight of the goal is negative or not a number: %+v", w)
	}
	ids := map[string]bool{}
	for i := range p.Machines {
		m := &p.Machines[i]
		name := label(m.Name, m.ID, "machine", i)
		if m.ID != "" && ids[m.ID] {
			bad("%s: the id %q is used twice", name, m.ID)
		}
		ids[m.ID] = true
		if !number(m.Setup.Job) || !number(m.Setup.Cone) || !number(m.Setup.Hoop) {
			bad("%s: set-up times must be 0 s or more, have %+v", name, m.Setup)
		}
		if !number(m.Rate) || !number(m.Spread) || !number(m.Scatter) {
			bad("%s: what a second costs (%v), its spread (%v) and scatter (%v) must be numbers of 0 or more", name, m.Rate,
				m.Spread, m.Scatter)
		}
		if math.IsNaN(m.Free) || math.IsInf(m.Free, 0) || !number(m.Attention) {
			bad("%s: busy until %v s and attention %v must be numbers", name, m.Free, m.Attention)
		}
		last := math.Inf(-1)
		for k, win := range m.Windows {
			if math.IsNaN(win.From) || math.IsNaN(win.To) || math.IsInf(win.From, 0) || math.IsInf(win.To, 0) ||
				win.To < win.From || win.From < last || !(win.Rate >= 0 && win.Rate <= 1) {
				bad("%s: working window %d (%v to %v s at rate %v) must follow the one before, end after it begins "+
					"and have a rate of 0 to 1", name, k+1, win.From, win.To, win.Rate)
			}
			last = win.To
		}
	}
	for k, c := range p.Crew {
		if math.IsNaN(c.From) || math.IsNaN(c.To) || c.To < c.From || !number(c.Operators) {
			bad("operators on duty, entry %d: %v to %v s with %v operators is not possible", k+1, c.From, c.To,
				c.Operators)
		}
	}
	jobs := map[string]bool{}
	for i := range p.Jobs {
		j := &p.Jobs[i]
		name := label(j.Name, j.ID, "job", i)
		if j.ID != "" && jobs[j.ID] {
			bad("%s: the id %q is used twice", name, j.ID)
		}
		jobs[j.ID] = true
		if !number(j.Weight) {
			bad("%s: the weight %v must be a number of 0 or more", name, j.Weight)
		}
		if math.IsInf(j.Due, -1) || math.IsNaN(j.Release) || math.IsInf(j.Release, 0) {
			bad("%s: due %v s or release %v s is no time", name, j.Due, j.Release)
		}
		for _, f := range j.Fits {
			switch {
			case f.Machine < 0 || f.Machine >= len(p.Machines):
				bad("%s: there is no machine number %d", name, f.Machine+1)
			case !number(f.Run) || f.Pieces < 1 || !(f.Idle >= 0 && f.Idle*float64(f.Pieces) <= f.Run*(1+1e-9)):
				bad("%s: a run of %v s for %d pieces on %s is not possible", name, f.Run, f.Pieces,
					label(p.Machines[f.Machine].Name, p.Machines[f.Machine].ID, "machine", f.Machine))
			}
		}
		if j.Pin != nil && !(j.Pin.Done >= 0 && !math.IsInf(j.Pin.Done, 1)) {
			bad("%s: %v s of its work are done; give 0 or more", name, j.Pin.Done)
		}
		if j.Pin != nil && (j.Pin.Machine < 0 || j.Pin.Machine >= len(p.Machines) || math.IsNaN(j.Pin.Start)) {
			bad("%s: it is pinned to machine number %d at %v s, which does not exist", name, j.Pin.Machine+1,
				j.Pin.Start)
		}
	}
	if c := p.Changeover; c != nil {
		errs = append(errs, c.check(len(p.Machines), len(p.Jobs))...)
	}
	return errors.Join(errs...)
}

func (c *Changeover) check(machines, jobs int) []error {
	if len(c.Between) != 1 && len(c.Between) != machines {
		return []error{fmt.Errorf("set-up matrices for %d machines, there are %d", len(c.Between), machines)}
	}
	if len(c.First) > 1 && len(c.First) != machines {
		return []error{fmt.Errorf("first set-ups for %d machines, there are %d", len(c.First), machines)}
	}
	row := func(r []float64) bool {
		for _, v := range r {
			if !(v >= 0) || math.IsInf(v, 1) {
				return false
			}
		}
		return len(r) == jobs
	}
	for m, b := range c.Between {
		if len(b) != jobs {
			return []error{fmt.Errorf("the set-up matrix of machine %d has %d rows for %d jobs", m+1, len(b),
				jobs)}
		}
		for i := range b {
			if !row(b[i]) {
				return []error{fmt.Errorf("the set-up matrix of machine %d, row %d, needs %d times of 0 s or "+
					"more", m+1, i+1, jobs)}
			}
		}
	}
	for m := range c.First {
		if !row(c.First[m]) {
			return []error{fmt.Errorf("the first set-ups of machine %d need %d times of 0 s or more", m+1, jobs)}
		}
	}
	return nil
}

// label names a thing for people.
func label(name, id, what string, i int) string {
	switch {
	case name != "":
		return what + " " + name
	case id != "":
		return what + " " + id
	}
	return fmt.Sprintf("%s %d", what, i+1)
}

// remarks are what a planner should know of the jobs that are planned.
func remarks(p *Problem) (out []Note) {
	for i := range p.Jobs {
		j := &p.Jobs[i]
		if j.due() < 0 {
			out = append(out, Note{Job: i, Say: words.Say("plan-why.due-passed")})
		}
		if j.Release > max(j.due(), 0) {
			say := words.Say("plan-why.goods-after-due")
			if j.Approval {
				say = words.Say("plan-why.approval-after-due")
			}
			out = append(out, Note{Job: i, Say: say})
		}
	}
	return out
}
