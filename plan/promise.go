package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// Uncertainty says how far run times may differ from the plan's. A function is
// a quantile function: the multiplier of the planned time at probability u in
// (0, 1). Nil functions mean certainty.
type Uncertainty struct {
	// Machine is drawn once for each machine: what we do not know of its
	// constants and of the floor's usual yield holds for all its lots.
	Machine func(machine int, u float64) float64
	// Lot is drawn for each lot on its own: breaks, people, a bad batch.
	Lot func(job, machine int, u float64) float64
	// Setup is drawn for each set-up.
	Setup func(machine int, u float64) float64

	// Laws names the quantile functions of a set-up and of a lot: those of one name are the
	// same, so that what was drawn of them may be taken from Kept; nil: nothing is kept.
	Laws func(job, machine int) (setup, lot float64)
	Kept *Drawn
}

// LogNormal is the quantile function of a log-normal multiplier of median 1
// whose logarithm has standard deviation sd.
func LogNormal(sd float64) func(u float64) float64 {
	return func(u float64) float64 { return math.Exp(sd * math.Sqrt2 * math.Erfinv(2*u-1)) }
}

// PromiseOptions are how dates to promise are simulated.
type PromiseOptions struct {
	Chance float64 // wanted chance of being done by the date, e.g. 0.9
	Draws  int     // simulated courses of the plan; 0: 1,000
	Seed   uint64
	// Of are the jobs that are asked for; nil: all. Each comes out as it does with all.
	Of []int
	// Wholes are jobs that count as one: each comes out with the days and the chance of the
	// last of them to be done. A whole with a job that is not asked for, or not placed, is none.
	Wholes [][]int
	// Groups are jobs of which it is also asked when the last is done and with which chance all are
	// in time: they come out behind the jobs, group k as job −1−k. One with a job that is not placed
	// comes not out.
	Groups [][]int
}

// Promised is when a job may be promised.
type Promised struct {
	Job     int     // below 0: a group
	Planned float64 // s: end if all goes as planned
	Promise float64 // s: done by then with the wanted chance
	Median  float64 // s: done by then in half of the cases
	OnTime  float64 // chance of being done by the due date; 1 without one
}

// Promise simulates the plan as it stands, queue by queue with uncertain
// times, and gives for each placed job the date to promise. The plan is not
// mended in the simulation, as a shop would do, so the dates are on the safe
// side where jobs can still change machines. The q-th of n draws is taken
// by the p(n+1) rule, the next one up: the promise is never optimistic for
// want of draws.
func Promise(ctx context.Context, p *Problem, s *Schedule, unc Uncertainty, o PromiseOptions) ([]Promised, error) {
	if !(o.Chance > 0 && o.Chance < 1) {
		return nil, fmt.Errorf("the chance to promise with must lie between 0 and 1, have %v", o.Chance)
	}
	if o.Draws == 0 {
		o.Draws = 1000
	}
	if o.Draws < 1 || float64(o.Draws+1)*o.Chance > float64(o.Draws) {
		return nil, fmt.Errorf("%d draws cannot show a chance of %v; take at least %d", o.Draws, o.Chance,
			int(math.Ceil(o.Chance/(1-o.Chance)-1e-9)))
	}
	ends, err := Courses(ctx, p, s, unc, o)
	if err != nil {
		return nil, err
	}
	planned := s.Ends(p)
	groups := o.groups(p, ends, planned)
	o.join(ends)
	var out []Promised
	for i, e := range ends {
		if e == nil || o.Of != nil && !slices.Contains(o.Of, i) {
			continue
		}
		slices.Sort(e)
		due := p.Jobs[i].due()
		in, _ := slices.BinarySearch(e, math.Nextafter(due, math.Inf(1)))
		out = append(out, Promised{
			Job: i, Planned: planned[i],
			Promise: upper(e, o.Chance), Median: upper(e, 0.5),
			OnTime: float64(in) / float64(len(e)),
		})
	}
	return append(out, groups...), nil
}

// groups is when the last of each group is done.
func (o *PromiseOptions) groups(p *Problem, ends [][]float64, planned []float64) (out []Promised) {
	last := make([]float64, o.Draws)
	for k, jobs := range o.Groups {
		if slices.ContainsFunc(jobs, func(i int) bool { return ends[i] == nil }) {
			continue
		}
		g, in := Promised{Job: -1 - k}, 0
		for d := range last {
			fine := true
			last[d] = 0
			for _, i := range jobs {
				last[d] = max(last[d], ends[i][d])
				fine = fine && ends[i][d] <= p.Jobs[i].due()
			}
			if fine {
				in++
			}
		}
		for _, i := range jobs {
			g.Planned = max(g.Planned, planned[i])
		}
		slices.Sort(last)
		g.Promise, g.Median, g.OnTime = upper(last, o.Chance), upper(last, .5), float64(in)/float64(len(last))
		out = append(out, g)
	}
	return out
}

// join gives each job of a whole, in each draw, the end of the last of them.
func (o *PromiseOptions) join(ends [][]float64) {
	for _, jobs := range o.Wholes {
		if slices.ContainsFunc(jobs, func(i int) bool { return ends[i] == nil }) {
			continue
		}
		for d := range o.Draws {
			last := 0.0
			for _, i := range jobs {
				last = max(last, ends[i][d])
			}
			for _, i := range jobs {
				ends[i][d] = last
			}
		}
	}
}

// Courses simulates the plan as Promise does: of each job the second at which it
// is done in each draw; nil for a job that is not placed. Of the jobs that are not asked
// for it says nothing.
func Courses(ctx context.Context, p *Problem, s *Schedule, unc Uncertainty, o PromiseOptions) ([][]float64, error) {
	if o.Draws == 0 {
		o.Draws = 1000
	}
	if err := Check(p); err != nil {
		return nil, err
	}
	ends := make([][]float64, len(p.Jobs))
	for i, e := range s.Ends(p) {
		if !math.IsNaN(e) && (o.Of == nil || slices.Contains(o.Of, i)) {
			ends[i] = make([]float64, max(o.Draws, 0))
		}
	}
	for m, win := range staffed(p) {
		queue := s.Queue(m)
		for len(queue) > 0 && ends[queue[len(queue)-1].Job] == nil {
			queue = queue[:len(queue)-1] // nobody who is asked for waits for it
		}
		if len(queue) == 0 {
			continue
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		line := newTimeline(win)
		if err := courses(p, m, &line, queue, &unc, &o, ends); err != nil {
			return nil, err
		}
	}
	return ends, nil
}

// courses is Courses of one machine's queue: of the jobs that are asked for, the ends become those on
// this machine where they are later.
func courses(p *Problem, m int, line *timeline, queue []Lot, unc *Uncertainty, o *PromiseOptions, ends [][]float64) error {
	of := drawing{unc: unc, seed: o.Seed, draws: o.Draws, machine: m}
	whole, err := of.pace()
	if err != nil {
		return err
	}
	at := make([]float64, o.Draws) // working seconds
	for d := range at {
		at[d] = line.work(max(p.Machines[m].Free, 0))
	}
	for _, l := range queue {
		j := &p.Jobs[l.Job]
		release := j.Release
		if j.Pin != nil && !j.Pin.Running {
			release = max(release, j.Pin.Start)
		}
		least := math.Inf(-1)
		if release > 0 {
			least = line.work(release)
		}
		set, work, err := of.lot(p, l.Job, l.Setup > 0)
		if err != nil {
			return err
		}
		for d := range at {
			at[d] = max(at[d]+l.Setup*set.of(d), least) + l.Work*whole.of(d)*work.of(d)
		}
		if end := ends[l.Job]; end != nil {
			for d := range end {
				end[d] = max(end[d], line.end(at[d]))
			}
		}
	}
	return nil
}

// rank is the number of the draw, of n sorted ones, that a chance promises: the p(n+1) rule, the next one up.
func rank(chance float64, n int) int {
	return min(max(int(math.Ceil(chance*float64(n+1)-1e-9)), 1), n)
}

// Sure reports whether a share of so many draws that are in time is enough to promise with a chance: just where
// Promise lies no later than the due second.
func Sure(onTime, chance float64, draws int) bool {
	return math.Round(onTime*float64(draws)) >= float64(rank(chance, draws))
}

// upper is the order statistic at or next above rank chance·(n+1).
func upper(sorted []float64, chance float64) float64 {
	return sorted[rank(chance, len(sorted))-1]
}
