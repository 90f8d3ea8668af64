package plan

import (
	"math"
	"slices"
)

// pool is some machines' capacity along u: plan seconds in which at least one of
// them runs.
type pool struct {
	u, wall  []float64 // ends of stretches, ascending: u and the wall second there
	from     []float64 // wall second at the start of the stretch
	capacity []float64 // machine seconds in the stretch
}

// newPool lays the machines' windows over each other. need is the machine
// seconds that must fit, longest the longest job and last the wall second at which
// the last goods come: there is room for any job after it.
func (md *model) newPool(machines []int, need, longest, last float64) *pool {
	var cuts []float64
	always := 0
	end := 0.0
	for _, m := range machines {
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
		for _, m := range machines {
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
	n := float64(len(machines))
	rest := max(max(need-total, 0)/n, last-end) + longest + 1
	add(end, end+rest, n)
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

// grid cuts a pool's u into slots, with all ends of stretches among the slots' ends,
// so that wall time is straight inside a slot; with a price and a use of each.
type grid struct {
	end, width, capacity []float64
	wallFrom             []float64 // wall second at the slot's start; at its end it is this + width
	lambda, use          []float64 // price of a machine second; machine seconds used
	sum                  []float64 // ∫ λ to the slot's start
	pace                 float64   // of its machines, against the best for a job
	longest              float64   // u that the longest job takes
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
	n := len(g.end)
	g.lambda, g.use, g.sum = make([]float64, n), make([]float64, n), make([]float64, n+1)
	return g
}

// at is u at a wall second.
func (g *grid) at(wall float64) float64 {
	k, _ := slices.BinarySearchFunc(g.wallFrom, wall, func(from, wall float64) int {
		if from <= wall {
			return -1
		}
		return 1
	})
	if k == 0 {
		return 0
	}
	k--
	return g.end[k] - g.width[k] + min(wall-g.wallFrom[k], g.width[k])
}

// reset clears the use and gives what the whole capacity costs.
func (g *grid) reset() float64 {
	total := 0.0
	for k := range g.lambda {
		g.sum[k+1] = g.sum[k] + g.lambda[k]*g.width[k]
		total += g.lambda[k] * g.capacity[k]
		g.use[k] = 0
	}
	return total
}

// cheapest is the least that a job costs here, by its lateness and its use of the
// machines, and the u at which it then ends; +Inf where that is not below most.
func (g *grid) cheapest(on *boundOn, weight, due, most float64) (best, end float64) {
	best = most
	if math.IsInf(on.work, 1) {
		return math.Inf(1), 0
	}
	n := len(g.end)
	length := on.work / on.wide
	integral := func(u float64, k int) float64 { return g.sum[k] + g.lambda[k]*(u-(g.end[k]-g.width[k])) }
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
		late := g.wallFrom[k] + (c - (g.end[k] - g.width[k])) - due
		v := on.wide * (integral(c, k) - integral(s, a))
		if late > 0 {
			v += weight * late
		}
		if v < best-1e-12 {
			best, end = v, c
		}
	}
	first, _ := slices.BinarySearch(g.end, on.ready)
	first = min(first, n-1)
	a = first
	try(on.ready, first)
	if math.IsInf(due, 1) || weight == 0 {
		try(g.end[n-1], n-1) // it can wait to the very end
		return better(best, end, most)
	}
	d, _ := slices.BinarySearch(g.end, on.dueU)
	if on.dueU > on.ready && d < n {
		try(on.dueU, d)
	}
	// Up to the due date λ never rises: no earlier end is cheaper.
	for k := max(first, min(d, n-1)); k < n; k++ {
		if g.end[k] >= on.ready {
			try(g.end[k], k)
		}
		if v := weight * (g.wallFrom[k] - due); v > best {
			break // lateness alone costs more from here on
		}
	}
	// Ends with the start on a slot's end.
	q := first
	low, _ := slices.BinarySearch(g.end, max(on.ready, on.dueU)-length)
	for k := low; k < n; k++ {
		c := g.end[k] + length
		if c < on.ready || c < on.dueU {
			continue
		}
		for q < n && g.end[q] < c {
			q++
		}
		if q == n {
			break
		}
		if v := weight * (g.wallFrom[q] - due); v > best {
			break
		}
		try(c, q)
	}
	return better(best, end, most)
}

func better(best, end, most float64) (float64, float64) {
	if best < most {
		return best, end
	}
	return math.Inf(1), 0
}

// occupy adds the use of the stretch from…to by wide machines.
func (g *grid) occupy(from, to, wide float64) {
	k, _ := slices.BinarySearch(g.end, from)
	for ; k < len(g.use) && g.end[k]-g.width[k] < to; k++ {
		g.use[k] += wide * max(0, min(to, g.end[k])-max(from, g.end[k]-g.width[k]))
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
