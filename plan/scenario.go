package plan

import "slices"

// What-if problems. Each gives a changed copy and leaves the original alone;
// solve the copy with Replan and compare with Diff.

// WithJob is the problem with one more order.
func WithJob(p *Problem, j Job) *Problem {
	q := *p
	q.Jobs = append(slices.Clone(p.Jobs), j)
	return &q
}

// WithDown is the problem with a machine down from second from to second to.
// A machine that was always open gets working windows up to horizon (s).
func WithDown(p *Problem, machine int, from, to, horizon float64) *Problem {
	q := *p
	q.Machines = slices.Clone(p.Machines)
	m := &q.Machines[machine]
	win := m.Windows
	if len(win) == 0 {
		win = []Window{{0, max(horizon, to+1), 1}}
	}
	m.Windows = without(win, from, to)
	return &q
}

// WithOperators is the problem with n operators more (or fewer) at all times at
// which there are any. It matters only where Crew is given.
func WithOperators(p *Problem, n float64) *Problem {
	q := *p
	q.Crew = slices.Clone(p.Crew)
	for i := range q.Crew {
		if q.Crew[i].Operators > 0 {
			q.Crew[i].Operators = max(q.Crew[i].Operators+n, 0)
		}
	}
	return &q
}
