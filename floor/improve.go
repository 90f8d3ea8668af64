package floor

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// Change is one thing done differently, and what a shift then gives: the
// difference is taken shift by shift with the same chances (common random
// numbers), which makes it far better known than the two yields themselves.
type Change struct {
	Name   string
	Kind   ChangeKind
	At     int      // the machine of MoreHeadsAt
	Pieces Estimate // more pieces a shift
	// Sooner is how many seconds earlier the last job is done; only meaningful
	// where both shops get all their work done.
	Sooner Estimate
	AllWas bool // did the shop as it is get all its work done in every shift?
	Result *Result
}

// ChangeKind is what a Change does.
type ChangeKind string

// The changes. A head is only offered on machines that have several: a
// single-head machine cannot be given one.
const (
	MoreOperators ChangeKind = "operator"    // one more operator with all duties
	MoreHeads     ChangeKind = "head"        // one more head on every machine of several heads
	MoreHeadsAt   ChangeKind = "head-at"     // one more head on machine At
	MoreHoopSets  ChangeKind = "hoop-set"    // one more hoop set for every machine hooped beside
	HoopingBeside ChangeKind = "hoop-beside" // two sets hooped beside instead of on the machine
	FewerBreaks   ChangeKind = "half-breaks" // half the thread breaks
)

// OneMore says what one more head, operator or hoop set would give, and what
// fewer thread breaks would: each change is simulated for as many shifts as
// base was, under the same seed. base must come from Simulate with opt.
func OneMore(ctx context.Context, base *Result, opt Options, progress func(done, of int)) ([]Change, error) {
	s := base.Shop
	type variant struct {
		name string
		kind ChangeKind
		at   int
		do   func(*Shop)
	}
	all := func(f func(*Machine)) func(*Shop) {
		return func(x *Shop) {
			for i := range x.Machines {
				f(&x.Machines[i])
			}
		}
	}
	vs := []variant{
		{"one more operator", MoreOperators, 0, func(x *Shop) {
			x.Operators = append(x.Operators, Operator{Name: "one more"})
		}},
	}
	head := func(m *Machine) {
		if m.Heads > 1 {
			m.Heads = min(m.Heads+1, MaxHeads)
		}
	}
	several := 0
	for _, m := range s.Machines {
		if m.Heads > 1 {
			several++
		}
	}
	switch {
	case several == len(s.Machines):
		vs = append(vs, variant{"one more head on every machine", MoreHeads, 0, all(head)})
	case several > 1:
		vs = append(vs, variant{"one more head on every machine of several", MoreHeads, 0, all(head)})
	}
	if len(s.Machines) > 1 && several <= 12 {
		for i, m := range s.Machines {
			if m.Heads > 1 {
				vs = append(vs, variant{"one more head on " + m.Name, MoreHeadsAt, i,
					func(x *Shop) { head(&x.Machines[i]) }})
			}
		}
	}
	off := 0
	for _, m := range s.Machines {
		if !m.HoopOn {
			off++
		}
	}
	if off > 0 {
		vs = append(vs, variant{"one more hoop set for every machine", MoreHoopSets, 0, all(func(m *Machine) {
			if !m.HoopOn {
				m.HoopSets++
			}
		})})
	}
	if off < len(s.Machines) {
		vs = append(vs, variant{"hooping beside the machine, two sets", HoopingBeside, 0, all(func(m *Machine) {
			if m.HoopOn {
				m.HoopOn, m.HoopSets = false, 2
			}
		})})
	}
	vs = append(vs, variant{"half the thread breaks", FewerBreaks, 0, all(func(m *Machine) { m.Breaks /= 2 })})

	opt.Min, opt.Max = base.Replications, base.Replications
	var out []Change
	for k, v := range vs {
		x := s.clone()
		v.do(x)
		r, err := Simulate(ctx, x, opt, nil)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", v.name, err)
		}
		c := Change{Name: v.name, Kind: v.kind, At: v.at, Pieces: paired(r.ByShift, base.ByShift, base.Level),
			Result: r, AllWas: base.allDone()}
		if c.AllWas && r.allDone() {
			c.Sooner = paired(base.ByFinished, r.ByFinished, base.Level)
		}
		out = append(out, c)
		if progress != nil {
			progress(k+1, len(vs))
		}
	}
	return out, nil
}

// allDone reports whether every shift got all its work done.
func (r *Result) allDone() bool {
	return !slices.Contains(r.ByFinished, 0)
}

func paired(a, b []float64, level float64) Estimate {
	d := make([]float64, len(a))
	for i := range d {
		d[i] = a[i] - b[i]
	}
	return estimate(d, level)
}

func (s *Shop) clone() *Shop {
	c := *s
	c.Machines = append([]Machine(nil), s.Machines...)
	c.Operators = append([]Operator(nil), s.Operators...)
	c.Jobs = append([]Job(nil), s.Jobs...)
	return &c
}

// Crew is a number of like machines that one operator looks after.
type Crew struct {
	Machines   int
	Pieces     Estimate // a shift, all machines together
	PerMachine float64
	HandUse    float64
	Waiting    float64 // share of the machines' time spent waiting for the operator or for a set
}

// CrewOf simulates 1, 2, … most machines like machine m under one operator
// with all duties, on m's own jobs (over again where they would run out in
// the shift), and gives each number's yield. It stops early where one more
// machine adds less than a twentieth of what the first yields.
func CrewOf(ctx context.Context, s *Shop, m, most int, opt Options, progress func(done, of int)) ([]Crew, error) {
	if m < 0 || m >= len(s.Machines) {
		return nil, fmt.Errorf("there is no machine number %d", m+1)
	}
	var out []Crew
	for n := 1; n <= most; n++ {
		x := s.clone()
		x.Operators = []Operator{{Name: "one"}}
		x.Pauses = nil
		for _, p := range s.Pauses {
			if p.Operators == nil {
				x.Pauses = append(x.Pauses, p)
			}
		}
		x.Machines = nil
		for k := range n {
			c := s.Machines[m]
			c.Name = fmt.Sprintf("%s, %d", c.Name, k+1)
			c.Place = nil
			x.Machines = append(x.Machines, c)
		}
		var err error
		if x.Jobs, err = repeatJobs(s, m, n); err != nil {
			return nil, err
		}
		r, err := Simulate(ctx, x, opt, nil)
		if err != nil {
			return nil, err
		}
		c := Crew{Machines: n, Pieces: r.Pieces, PerMachine: r.Pieces.Mean / float64(n), HandUse: r.HandUse(0)}
		var stand, there float64
		for _, mr := range r.Machines {
			stand += mr.Seconds[Waiting] + mr.Seconds[WaitHoop]
			there += r.Length - mr.Seconds[Pausing] - mr.Seconds[NoWork]
		}
		c.Waiting = ratio(stand, there)
		out = append(out, c)
		if progress != nil {
			progress(n, most)
		}
		if n > 1 && c.Pieces.Mean-out[n-2].Pieces.Mean < out[0].Pieces.Mean/20 {
			break
		}
	}
	return out, nil
}

// repeatJobs is machine m's jobs for n machines like it, in their order, over
// again until there is work for one and a half shifts.
func repeatJobs(s *Shop, m, n int) ([]Job, error) {
	var own []Job
	seconds := 0.0 // of work for one machine
	for _, j := range s.Jobs {
		if !j.on(m) {
			continue
		}
		c := j
		c.Machines = nil
		c.Quantity = j.Quantity * n
		c.Runs = nil
		for range n {
			c.Runs = append(c.Runs, j.Runs[m])
		}
		own = append(own, c)
		if j.Quantity == 0 {
			return own, nil
		}
		runs := math.Ceil(float64(j.Quantity) / float64(s.Machines[m].Heads))
		seconds += runs * j.Runs[m].MeanSeconds()
	}
	if len(own) == 0 {
		return nil, keyErr("job", "tables give machine %q no work", s.Machines[m].Name)
	}
	jobs := own
	for t := seconds; t < 1.5*s.Seconds && len(jobs)+len(own) <= MaxJobs; t += seconds {
		jobs = append(jobs[:len(jobs):len(jobs)], own...)
	}
	return jobs, nil
}

// Keeps is the largest number of machines under one operator at which each
// still yields at least the given share of what it yields alone: the answer
// where no costs are known.
func Keeps(crews []Crew, share float64) int {
	best := 0
	for i, c := range crews {
		if c.PerMachine >= share*crews[0].PerMachine {
			best = i
		}
	}
	return best
}
