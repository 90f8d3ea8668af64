package plan

import (
	"context"
	"math"
	"slices"
)

// The lower bound relaxes the machines to one pool of capacity and prices its
// use over time: with prices λ(u) ≥ 0 per working second,
//
//	Σ_j min_C [ w_j·T_j(C) + cheapest use of p_j seconds before C ] − ∫ λ·capacity
//
// is below the weighted lateness of every plan (Lagrangian relaxation of the
// time-indexed formulation; see Pinedo, Scheduling, or Dyer and Wolsey 1990).
// p_j is the job's least work on any machine with the least set-up that can
// come before it. Prices that never rise with time make the cheapest use the
// last possible, whatever the calendars cut out, so that one price curve
// serves all machines. A subgradient method finds good prices.

// boundSlots and boundRounds are the fineness of the price curve and the steps
// of the subgradient method, for a problem of n jobs.
func boundSize(n int) (slots, rounds int) {
	switch {
	case n <= 120:
		return 600, 400
	case n <= 600:
		return 400, 150
	}
	return 240, 60
}

// pool is the machines' capacity along u: plan seconds in which at least one
// machine runs.
type pool struct {
	u, wall  []float64 // ends of stretches, ascending: u and the wall second there
	from     []float64 // wall second at the start of the stretch
	capacity []float64 // machine seconds in the stretch
}

// newPool lays the machines' windows over each other. need is the machine
// seconds that must fit and longest the longest job.
func newPool(md *model, need, longest float64) *pool {
	var cuts []float64
	always := 0
	end := 0.0
	for m := range md.lines {
		l := &md.lines[m]
		if l.always {
			always++
			continue
		}
		for _, w := range l.win {
			cuts = append(cuts, w.From, w.To)
		}
		end = max(end, l.horizon())
	}
	cuts = append(cuts, 0)
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	p := &pool{}
	next := make([]int, md.m)
	u, total := 0.0, 0.0
	add := func(a, b, rate float64) {
		u += b - a
		total += (b - a) * rate
		p.from = append(p.from, a)
		p.wall = append(p.wall, b)
		p.u = append(p.u, u)
		p.capacity = append(p.capacity, (b-a)*rate)
	}
	for i := 0; i+1 < len(cuts); i++ {
		a, b := cuts[i], cuts[i+1]
		rate := float64(always)
		for m := range md.lines {
			win := md.lines[m].win
			for next[m] < len(win) && win[next[m]].To <= a {
				next[m]++
			}
			if next[m] < len(win) && win[next[m]].From <= a {
				rate += win[next[m]].Rate
			} else if next[m] >= len(win) && !md.lines[m].always {
				rate += 1 // after its last window: taken as always open, which bounds any estimate
			}
		}
		if rate > 0 && b > 0 {
			add(max(a, 0), b, rate)
		}
	}
	// After the last window every machine is taken as open, for as long as is
	// needed.
	rest := max(need-total, 0)/float64(md.m) + longest + 1
	add(end, end+rest, float64(md.m))
	return p
}

// at is u at a wall second.
func (p *pool) at(wall float64) float64 {
	k, _ := slices.BinarySearch(p.wall, wall)
	if k == len(p.wall) {
		return p.u[k-1]
	}
	before := 0.0
	if k > 0 {
		before = p.u[k-1]
	}
	return before + max(wall-p.from[k], 0)
}

// boundJob is a job in the relaxation.
type boundJob struct {
	weight, due float64 // due in wall seconds
	dueU        float64
	work        float64 // least machine seconds
	wide        float64 // machines at once
	ready       float64 // u before which it cannot end
}

// bound is a lower bound on Σ job weight × seconds late. upper is the lateness
// of a plan, for the step length.
func bound(ctx context.Context, md *model, upper float64) float64 {
	if upper <= 0 {
		return 0
	}
	jobs, need, longest := md.boundJobs()
	if len(jobs) == 0 {
		return 0
	}
	pl := newPool(md, need, longest)
	for i := range jobs {
		j := &jobs[i]
		j.dueU = pl.at(max(j.due, 0))
		j.ready = pl.at(max(j.ready, 0)) + j.work/j.wide
	}
	slots, rounds := boundSize(len(jobs))
	g := newGrid(pl, slots, need)
	lambda := make([]float64, len(g.end))
	use := make([]float64, len(g.end))
	best, theta, stuck := 0.0, 1.0, 0
	for r := 0; r < rounds && ctx.Err() == nil; r++ {
		v := g.value(jobs, lambda, use)
		if v > best*(1+1e-6) {
			best, stuck = v, 0
		} else if stuck++; stuck >= 8 {
			theta, stuck = theta*0.7, 0
		}
		if best >= upper*(1-1e-9) {
			return upper
		}
		norm := 0.0
		for k := range use {
			d := use[k] - g.capacity[k]
			norm += d * d / g.width[k]
		}
		if norm == 0 {
			break
		}
		step := theta * (1.02*upper - v) / norm
		for k := range lambda {
			lambda[k] = max(0, lambda[k]+step*(use[k]-g.capacity[k])/g.width[k])
		}
		neverRising(lambda, g.width)
		// Ends past the grid are not looked at: the last stretch, long enough
		// for any job, is free, so that none of them could be cheaper.
		for k := len(lambda) - 1; k >= 0 && g.end[k] > g.end[len(g.end)-1]-longest; k-- {
			lambda[k] = 0
		}
	}
	return min(best, upper)
}

// boundJobs are the jobs with their least work; need is the sum of it.
func (md *model) boundJobs() (jobs []boundJob, need, longest float64) {
	// The least set-up before a kind on a machine, from any other or as first.
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
					codes[md.code[a*md.kinds+b]] = true
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
	for t := 0; t < md.n; {
		last := t + 1
		for last < md.n && md.job[last] == md.job[t] {
			last++
		}
		j := &md.p.Jobs[md.job[t]]
		b := boundJob{weight: j.Weight, due: j.due(), work: math.Inf(1), wide: float64(last - t), ready: j.Release}
		for _, m := range md.fits[t] {
			f := j.fit(int(m))
			w := f.Run * float64(f.Runs(j.Quantity))
			if last > t+1 { // lots on several machines may save idle heads
				w = f.Run * float64(j.Quantity) / float64(f.Pieces)
			}
			b.work = min(b.work, w+least[m][md.kind[t]])
		}
		need += b.work
		longest = max(longest, b.work)
		jobs = append(jobs, b)
		t = last
	}
	return jobs, need, longest
}

// grid cuts u into slots, with all ends of stretches among the slots' ends, so
// that wall time is straight inside a slot.
type grid struct {
	end, width, capacity []float64
	wallFrom             []float64 // wall second at the slot's start; at its end it is this + width
}

func newGrid(p *pool, slots int, need float64) *grid {
	g := &grid{}
	// Fine slots up to where all the work could be done, one a stretch after it.
	last, sum := p.u[len(p.u)-1], 0.0
	for k := range p.u {
		if sum += p.capacity[k]; sum >= need {
			last = p.u[k]
			break
		}
	}
	size := last / float64(slots)
	before := 0.0
	for k := range p.u {
		w := p.u[k] - before
		n := 1
		if before < last {
			n = int(min(max(math.Ceil(w/size-1e-9), 1), float64(slots)))
		}
		for i := 0; i < n; i++ {
			g.end = append(g.end, before+w*float64(i+1)/float64(n))
			g.width = append(g.width, w/float64(n))
			g.capacity = append(g.capacity, p.capacity[k]/float64(n))
			g.wallFrom = append(g.wallFrom, p.from[k]+w*float64(i)/float64(n))
		}
		before = p.u[k]
	}
	return g
}

// value is the relaxation's value for prices lambda and the use of the slots
// in its solution.
func (g *grid) value(jobs []boundJob, lambda, use []float64) float64 {
	n := len(g.end)
	sum := make([]float64, n+1) // ∫ λ to the slot's start
	total := 0.0
	for k := range lambda {
		sum[k+1] = sum[k] + lambda[k]*g.width[k]
		total -= lambda[k] * g.capacity[k]
		use[k] = 0
	}
	integral := func(u float64, k int) float64 { return sum[k] + lambda[k]*(u-(g.end[k]-g.width[k])) }
	for i := range jobs {
		j := &jobs[i]
		length := j.work / j.wide
		best, bestC := math.Inf(1), 0.0
		// try prices the end C, in slot k; a is the slot of C − length.
		a := 0
		try := func(c float64, k int) {
			s := max(c-length, 0)
			for a > 0 && g.end[a]-g.width[a] > s {
				a--
			}
			for a < n-1 && g.end[a] < s {
				a++
			}
			late := g.wallFrom[k] + (c - (g.end[k] - g.width[k])) - j.due
			v := j.wide * (integral(c, k) - integral(s, a))
			if late > 0 {
				v += j.weight * late
			}
			if v < best-1e-12 {
				best, bestC = v, c
			}
		}
		first, _ := slices.BinarySearch(g.end, j.ready)
		first = min(first, n-1)
		try(j.ready, first)
		if math.IsInf(j.due, 1) || j.weight == 0 {
			try(g.end[n-1], n-1) // it can wait to the very end
		} else {
			d, _ := slices.BinarySearch(g.end, j.dueU)
			if j.dueU > j.ready && d < n {
				try(j.dueU, d)
			}
			// Up to the due date λ never rises: no earlier end is cheaper.
			for k := max(first, min(d, n-1)); k < n; k++ {
				if g.end[k] >= j.ready {
					try(g.end[k], k)
				}
				// The place where the job's start meets a slot's end lies in
				// slot k for some start slots.
				if v := j.weight * (g.wallFrom[k] - j.due); v > best {
					break // lateness alone costs more from here on
				}
			}
			// Ends with the start on a slot's end.
			q := first
			for k := range n {
				c := g.end[k] + length
				if c < j.ready || c < j.dueU {
					continue
				}
				for q < n && g.end[q] < c {
					q++
				}
				if q == n {
					break
				}
				if v := j.weight * (g.wallFrom[q] - j.due); v > best {
					break
				}
				try(c, q)
			}
		}
		total += best
		g.occupy(use, max(bestC-length, 0), bestC, j.wide)
	}
	return total
}

// occupy adds the use of the stretch from…to by wide machines.
func (g *grid) occupy(use []float64, from, to, wide float64) {
	k, _ := slices.BinarySearch(g.end, from)
	for ; k < len(use) && g.end[k]-g.width[k] < to; k++ {
		use[k] += wide * max(0, min(to, g.end[k])-max(from, g.end[k]-g.width[k]))
	}
}

// neverRising makes v the closest sequence (weighted least squares) that never
// rises: pool adjacent violators.
func neverRising(v, weight []float64) {
	type block struct {
		sum, w float64
		n      int
	}
	var b []block
	for i := range v {
		b = append(b, block{v[i] * weight[i], weight[i], 1})
		for k := len(b) - 1; k > 0 && b[k].sum*b[k-1].w > b[k-1].sum*b[k].w; k-- {
			b[k-1] = block{b[k-1].sum + b[k].sum, b[k-1].w + b[k].w, b[k-1].n + b[k].n}
			b = b[:k]
		}
	}
	i := 0
	for _, x := range b {
		for k := 0; k < x.n; k++ {
			v[i] = x.sum / x.w
			i++
		}
	}
}
