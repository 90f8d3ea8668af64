package plan

import (
	"math"
	"slices"
)

// maxClasses bounds the classes of machines in the bound.
const maxClasses = 8

// apart is how far the speeds of two neighbouring machines must lie apart (the
// logarithm of their mean ratio) to be of two classes.
const apart = 0.15

// classes puts machines of about one speed together, at most most classes: the
// machines sorted by the mean logarithm of their work against a job's best, cut at
// the widest gaps. It gives the machines of each and that speed, 1 for machines that
// are best for all they can make.
func (md *model) classes(most int) (machines [][]int, pace []float64) {
	slow, count := make([]float64, md.m), make([]float64, md.m)
	for t := range md.job {
		best := math.Inf(1)
		for _, m := range md.fits[t] {
			best = min(best, md.at[m][t].work)
		}
		for _, m := range md.fits[t] {
			slow[m] += math.Log(max(md.at[m][t].work, 1e-9) / max(best, 1e-9))
			count[m]++
		}
	}
	var all []int
	for m := range slow {
		if count[m] > 0 {
			slow[m] /= count[m]
			all = append(all, m)
		}
	}
	slices.SortStableFunc(all, func(a, b int) int {
		switch {
		case slow[a] < slow[b]:
			return -1
		case slow[a] > slow[b]:
			return 1
		}
		return a - b
	})
	gap := func(i int) float64 { return slow[all[i]] - slow[all[i-1]] }
	var cuts []int
	for i := 1; i < len(all); i++ {
		if gap(i) > apart {
			cuts = append(cuts, i)
		}
	}
	if len(cuts) >= most {
		slices.SortStableFunc(cuts, func(a, b int) int {
			if gap(a) > gap(b) {
				return -1
			}
			return 1
		})
		cuts = cuts[:most-1]
		slices.Sort(cuts)
	}
	from := 0
	for _, to := range append(cuts, len(all)) {
		if to == from {
			continue
		}
		sum := 0.0
		for _, m := range all[from:to] {
			sum += slow[m]
		}
		machines = append(machines, all[from:to])
		pace = append(pace, math.Exp(-sum/float64(to-from)))
		from = to
	}
	return machines, pace
}

// relax makes the relaxation; nil where there is nothing to make.
func (md *model) relax() *relaxed {
	jobs := 0
	for t := range md.job {
		if t == 0 || md.job[t] != md.job[t-1] {
			jobs++
		}
	}
	slots, _, most := boundSize(jobs)
	machines, pace := md.classes(most)
	if len(machines) == 0 {
		return nil
	}
	x := &relaxed{jobs: md.boundJobs(machines)}
	// What each class has to do if all end together, and what no other can do.
	total, speed := 0.0, 0.0
	own := make([]float64, len(machines))
	longest := make([]float64, len(machines))
	for i := range x.jobs {
		best, fit, only := math.Inf(1), 0, 0
		for c := range machines {
			on := &x.jobs[i].on[c]
			if math.IsInf(on.work, 1) {
				continue
			}
			longest[c] = max(longest[c], on.work/on.wide)
			best = min(best, on.work)
			fit, only = fit+1, c
		}
		total += best
		if fit == 1 {
			own[only] += best
		}
	}
	for c := range machines {
		speed += pace[c] * float64(len(machines[c]))
	}
	last := 0.0
	for i := range x.jobs {
		last = max(last, x.jobs[i].release)
	}
	for c := range machines {
		need := total
		if len(machines) > 1 {
			need = max(own[c], 1.2*total/speed*float64(len(machines[c])))
		}
		pl := md.newPool(machines[c], need, longest[c], last)
		for i := range x.jobs {
			on := &x.jobs[i].on[c]
			if math.IsInf(on.work, 1) {
				on.from = math.Inf(1)
				continue
			}
			on.dueU = pl.at(max(x.jobs[i].due, 0))
			at := pl.at(max(x.jobs[i].release, 0))
			on.from = max(at-on.setup, 0)
			on.ready = on.from + on.work/on.wide
			if on.wide == 1 {
				on.ready = max(at, on.setup) + on.run
			}
		}
		g := newGrid(pl, slots, need)
		g.pace, g.longest = pace[c], longest[c]
		x.class = append(x.class, g)
		for k := range g.end {
			x.ticks = append(x.ticks, g.wallFrom[k]+g.width[k])
		}
	}
	slices.Sort(x.ticks)
	x.ticks = slices.Compact(x.ticks)
	for _, g := range x.class {
		u := make([]float64, len(x.ticks))
		for i, wall := range x.ticks {
			u[i] = g.at(wall)
		}
		x.tickU = append(x.tickU, u)
	}
	return x
}

// leastSetups are, machine by kind, the least set-ups before a kind, from any other
// or as first.
func (md *model) leastSetups() [][]float64 {
	least := make([][]float64, md.m)
	for m := range least {
		least[m] = slices.Clone(md.first[m])
	}
	perKind := make([]int, md.kinds)
	jobOf := make([]int32, md.kinds)
	for t, k := range md.kind {
		if perKind[k] == 0 || jobOf[k] != md.job[t] {
			perKind[k]++
		}
		jobOf[k] = md.job[t]
	}
	before := func(a, b int) bool { return a != b || perKind[b] > 1 } // its own kind only if another job has it
	for b := 0; b < md.kinds; b++ {
		var codes [codeCount]bool // the changes that any job before can ask for
		if !md.over {
			for a := 0; a < md.kinds; a++ {
				if before(a, b) {
					codes[md.code(int32(a), int32(b))] = true
				}
			}
		}
		for m := range least {
			if md.over {
				for a := 0; a < md.kinds; a++ {
					if before(a, b) {
						least[m][b] = min(least[m][b], md.full[m][a*md.kinds+b])
					}
				}
				continue
			}
			for c, there := range codes {
				if there {
					least[m][b] = min(least[m][b], md.tab[m][c])
				}
			}
		}
	}
	return least
}

// boundJobs are the jobs with their least work on each class of machines.
func (md *model) boundJobs(machines [][]int) (jobs []boundJob) {
	least := md.leastSetups()
	for t := 0; t < md.n; {
		last := t + 1
		for last < md.n && md.job[last] == md.job[t] {
			last++
		}
		j := &md.p.Jobs[md.job[t]]
		b := boundJob{weight: j.Weight, due: j.due(), release: j.Release, lots: last - t,
			on: make([]boundOn, len(machines))}
		for c := range machines {
			on := &b.on[c]
			*on = boundOn{work: math.Inf(1), run: math.Inf(1), setup: math.Inf(1),
				wide: float64(min(last-t, len(machines[c])))}
			for _, m := range machines[c] {
				f := j.fit(m)
				if f == nil || !md.can[m][t] {
					continue
				}
				run := j.work(f, j.Quantity)
				if last > t+1 { // lots on several machines may save idle heads
					run = f.Run * float64(j.Quantity) / float64(f.Pieces)
				}
				set := least[m][md.kind[t]]
				on.work, on.run = min(on.work, run+set), min(on.run, run)
				on.setup = min(on.setup, set)
			}
		}
		jobs = append(jobs, b)
		t = last
	}
	return jobs
}
