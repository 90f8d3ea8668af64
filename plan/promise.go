package plan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
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
}

// Promised is when a job may be promised.
type Promised struct {
	Job     int
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
	o.join(ends)
	planned := s.Ends(p)
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
	return out, nil
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
	lines := make([]timeline, len(p.Machines))
	for m, win := range staffed(p) {
		lines[m] = newTimeline(win)
	}
	planned := s.Ends(p)
	ends := make([][]float64, len(p.Jobs))
	asked := func(job int) bool { return o.Of == nil || slices.Contains(o.Of, job) }
	for i := range planned {
		if !math.IsNaN(planned[i]) && asked(i) {
			ends[i] = make([]float64, 0, o.Draws)
		}
	}
	until := make([]int, len(lines)) // lots of a machine that an asked job waits for
	for m := range lines {
		for i, l := range s.Queue(m) {
			if asked(l.Job) {
				until[m] = i + 1
			}
		}
	}
	src := rand.NewPCG(o.Seed, 0x70726f6d)
	rng := rand.New(src)
	// Whoever is asked for, the same draws are theirs: those of what nobody waits for are leapt over.
	rests := make([]leap, len(lines))
	for m := range lines {
		n := 0
		if until[m] == 0 && unc.Machine != nil {
			n++
		}
		for _, l := range s.Queue(m)[until[m]:] {
			if unc.Setup != nil && l.Setup > 0 {
				n++
			}
			if unc.Lot != nil {
				n++
			}
		}
		rests[m] = leapOf(n)
	}
	var of []int // jobs that are asked for and placed
	for i := range ends {
		if ends[i] != nil {
			of = append(of, i)
		}
	}
	end := make([]float64, len(p.Jobs)) // of those
	factor := func(f func(float64) float64) float64 {
		// Strictly inside (0, 1): a quantile function may be infinite at the ends.
		return f((rng.Float64()*(1<<53-2) + 1) / (1 << 53))
	}
	for d := 0; d < o.Draws; d++ {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		for _, i := range of {
			end[i] = 0
		}
		for m := range lines {
			if until[m] == 0 {
				rests[m].leap(src)
				continue
			}
			queue := s.Queue(m)
			whole := 1.0
			if unc.Machine != nil {
				whole = factor(func(u float64) float64 { return unc.Machine(m, u) })
			}
			e := lines[m].work(max(p.Machines[m].Free, 0))
			for _, l := range queue[:until[m]] {
				j := &p.Jobs[l.Job]
				set, work := l.Setup, l.Work*whole
				if unc.Setup != nil && set > 0 {
					set *= factor(func(u float64) float64 { return unc.Setup(m, u) })
				}
				if unc.Lot != nil {
					work *= factor(func(u float64) float64 { return unc.Lot(l.Job, m, u) })
				}
				if !(work >= 0) || !(set >= 0) || math.IsInf(work+set, 1) {
					return nil, errors.New("an uncertain time came out as no number; " +
						"the quantile function must give positive numbers")
				}
				release := j.Release
				if j.Pin != nil && !j.Pin.Running {
					release = max(release, j.Pin.Start)
				}
				e += set
				if release > 0 {
					e = max(e, lines[m].work(release))
				}
				e += work
				if ends[l.Job] != nil {
					end[l.Job] = max(end[l.Job], lines[m].end(e))
				}
			}
			rests[m].leap(src)
		}
		for _, i := range of {
			ends[i] = append(ends[i], end[i])
		}
	}
	return ends, nil
}

// upper is the order statistic at or next above rank chance·(n+1).
func upper(sorted []float64, chance float64) float64 {
	n := len(sorted)
	k := int(math.Ceil(chance*float64(n+1) - 1e-9))
	return sorted[min(max(k, 1), n)-1]
}
