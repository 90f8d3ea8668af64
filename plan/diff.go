package plan

import (
	"math"
	"slices"
	"time"

	"needlepace/words"
)

// ChangeKind is what became of a job between two plans.
type ChangeKind string

// The kinds of change, the most telling first where several apply.
const (
	Added    ChangeKind = "added"      // not in the plan before
	Removed  ChangeKind = "removed"    // no longer in the plan
	Rerouted ChangeKind = "machine"    // made on another machine, or shared otherwise
	Later    ChangeKind = "later"      // done later
	Earlier  ChangeKind = "earlier"    // done earlier
	Dropped  ChangeKind = "not placed" // in the problem, but no machine can make it
)

// Change is one job whose plan changed, and why.
type Change struct {
	Job        string // ID
	Name       string
	Kind       ChangeKind
	From, To   []string      // machine IDs before and after
	Before     time.Time     // end before; zero where there was none
	After      time.Time     // end after
	LateBefore time.Duration // late before
	LateAfter  time.Duration
	Why        words.Message
}

// minShift is the least change of an end that is worth a line, in s.
const minShift = 60

// Diff says what moved between two plans and why, the jobs with the most
// change of lateness first. Jobs and machines are known by their IDs.
func Diff(before, after Plan) []Change {
	b, a := look(before), look(after)
	d := diff{b: b, a: a, moved: moved(b, a)}
	var out []Change
	for i := range after.Problem.Jobs {
		j := &after.Problem.Jobs[i]
		now, ok := a.jobs[j.ID]
		was, had := b.jobs[j.ID]
		c := Change{Job: j.ID, Name: j.Name}
		if had {
			c.From, c.Before, c.LateBefore = was.machines, was.end, was.late
		}
		if ok {
			c.To, c.After, c.LateAfter = now.machines, now.end, now.late
		}
		switch {
		case !ok && !had:
			continue
		case !ok:
			c.Kind, c.Why = Dropped, unplacedWhy(after.Schedule, i)
		case !had:
			c.Kind = Added
			c.Why = words.Say("plan-why.new")
		case !slices.Equal(was.machines, now.machines):
			c.Kind = Rerouted
		case now.end.Sub(was.end) > minShift*time.Second:
			c.Kind = Later
		case was.end.Sub(now.end) > minShift*time.Second:
			c.Kind = Earlier
		default:
			continue
		}
		out = append(out, c)
	}
	d.reasons(out)
	for i := range before.Problem.Jobs {
		j := &before.Problem.Jobs[i]
		was, had := b.jobs[j.ID]
		if _, still := a.index[j.ID]; had && !still {
			out = append(out, Change{Job: j.ID, Name: j.Name, Kind: Removed, From: was.machines, Before: was.end,
				LateBefore: was.late, Why: words.Say("plan-why.gone")})
		}
	}
	for i := range before.Schedule.Made { // of which nothing was left to plan
		m := &before.Schedule.Made[i]
		j := &before.Problem.Jobs[m.Job]
		_, still := a.index[j.ID]
		if _, had := b.jobs[j.ID]; had || still || m.Gone <= m.Else {
			continue
		}
		c := Change{Job: j.ID, Name: j.Name, Kind: Removed, Why: words.Say("plan-why.gone")}
		if k := slices.IndexFunc(out, func(x Change) bool { return x.Job == j.ID && x.Kind == Removed }); k >= 0 {
			c = out[k]
			out = slices.Delete(out, k, k+1)
		}
		if id := before.Problem.Machines[m.Machine].ID; !slices.Contains(c.From, id) {
			c.From = append(c.From, id)
		}
		if end := before.Problem.At(m.To); end.After(c.Before) {
			c.Before = end
		}
		if !math.IsInf(j.due(), 1) {
			c.LateBefore = max(c.Before.Sub(before.Problem.At(j.due())), 0)
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(x, y Change) int {
		dx, dy := (x.LateAfter - x.LateBefore).Abs(), (y.LateAfter - y.LateBefore).Abs()
		switch {
		case dx > dy:
			return -1
		case dx < dy:
			return 1
		}
		return 0
	})
	return out
}

func unplacedWhy(s *Schedule, job int) words.Message {
	for _, u := range s.Unplaced {
		if u.Job == job {
			return u.Why
		}
	}
	return words.Say("plan-why.no-place")
}

// seen is a job in a plan.
type seen struct {
	machines []string // in the order of the lots' start
	start    time.Time
	end      time.Time
	late     time.Duration
	lots     []int // indices into the schedule
}

type view struct {
	Plan
	jobs  map[string]seen
	index map[string]int // job ID → index in the problem
	mach  map[string]int
}

func look(pl Plan) *view {
	v := &view{pl, map[string]seen{}, map[string]int{}, map[string]int{}}
	for i := range pl.Problem.Jobs {
		v.index[pl.Problem.Jobs[i].ID] = i
	}
	for m := range pl.Problem.Machines {
		v.mach[pl.Problem.Machines[m].ID] = m
	}
	for i := range pl.Schedule.Lots {
		l := &pl.Schedule.Lots[i]
		id := pl.Problem.Jobs[l.Job].ID
		s, ok := v.jobs[id]
		start, end := pl.Problem.At(l.SetupFrom), pl.Problem.At(l.To)
		if !ok || start.Before(s.start) {
			s.start = start
		}
		if end.After(s.end) {
			s.end = end
		}
		if m := pl.Problem.Machines[l.Machine].ID; !slices.Contains(s.machines, m) {
			s.machines = append(s.machines, m)
		}
		s.lots = append(s.lots, i)
		v.jobs[id] = s
	}
	for id, s := range v.jobs {
		slices.Sort(s.machines)
		if due := pl.Problem.Jobs[v.index[id]].due(); !math.IsInf(due, 1) {
			s.late = max(s.end.Sub(pl.Problem.At(due)), 0)
		}
		v.jobs[id] = s
	}
	return v
}

func (j *Job) anyFit(m int) *Fit {
	for i := range j.Fits {
		if j.Fits[i].Machine == m {
			return &j.Fits[i]
		}
	}
	return nil
}

// openTime is the time in from…to within the windows, in s.
func openTime(win []Window, from, to float64) float64 {
	if len(win) == 0 {
		return max(0, to-from)
	}
	sum := 0.0
	for _, w := range win {
		sum += max(0, min(w.To, to)-max(w.From, from))
	}
	return sum
}

// hours is a time in s as a reason says it: 45 min, 12.5 h.
func hours(s float64) words.Value {
	if s < 3600 {
		return words.Say("plan-why.min", words.Args{"min": words.Fixed(s/60, 0)})
	}
	return words.Say("plan-why.h", words.Args{"h": words.Fixed(s/3600, 1)})
}
