package plan

import (
	"math"
	"math/bits"
	"slices"
	"sort"
	"strings"
)

// entry is a lot on a machine, in working seconds of that machine.
type entry struct {
	work    float64 // +Inf: does not fit there
	release float64 // −Inf: none
	due     float64
	base    float64 // cost whatever the order: machine time, leaving its old place
}

// model is a problem made ready for the search: jobs cut into lots, times in
// working seconds, set-ups as table look-ups.
type model struct {
	p      *Problem
	w      Weights
	m, n   int // machines, lots
	lines  []timeline
	closed []bool // machines without working hours from second 0 on

	job      []int32 // lot → index into p.Jobs
	quantity []int   // lot → pieces
	at       [][]entry
	weight   []float64 // lot: Weights.Lateness times job weight
	due      []float64 // lot, s
	hold     []float64 // lot: pinned start in s, −1: none
	order    []int32   // lot → index of a job of several lots, −1: a job of one lot
	orders   [][]int32 // the lots of jobs of several lots
	free     []float64 // machine: working seconds until it is free
	fits     [][]int32 // lot → machines
	can      [][]bool  // machine × lot: fits there

	kind       []int32 // lot → kind of set-up
	kinds      int
	code       []uint16    // kinds × kinds: what must be changed (see code)
	tab        [][]float64 // machine: seconds of a code
	first      [][]float64 // machine × kind: s from what is mounted at second 0
	firstCones [][]int     // machine × kind: cones to put on then
	full       [][]float64 // with Changeover: machine: kinds × kinds seconds
	over       bool        // full is used

	running  [][]int32  // machine: lots that are on it now
	unplaced []Unplaced // jobs left out, and why
}

// The code of a set-up: cones to put on (0…63), hoop change, job change.
const (
	codeHoop  = 64
	codeJob   = 128
	codeCount = 256
)

// heldWeight is the cost of one second that a pinned start is missed by: more
// than any lateness, so that the hand's decision stands if it can.
const heldWeight = 1e4

// compile makes the model. p has passed Check.
func compile(p *Problem, cut func(j *Job, job int) []int) *model {
	md := &model{p: p, w: p.Weights.orDefault(), m: len(p.Machines)}
	for _, win := range staffed(p) {
		md.lines = append(md.lines, newTimeline(win))
	}
	md.closed = closedMachines(p)
	md.free = make([]float64, md.m)
	md.running = make([][]int32, md.m)
	for m := range p.Machines {
		md.free[m] = md.lines[m].work(max(p.Machines[m].Free, 0))
	}
	md.lots(cut)
	md.n = len(md.job)
	md.at = make([][]entry, md.m)
	md.can = make([][]bool, md.m)
	md.fits = make([][]int32, md.n)
	md.weight = make([]float64, md.n)
	md.due = make([]float64, md.n)
	md.hold = make([]float64, md.n)
	for m := range md.at {
		md.at[m] = make([]entry, md.n)
		md.can[m] = make([]bool, md.n)
	}
	for t := range md.job {
		j := &p.Jobs[md.job[t]]
		md.weight[t] = md.w.Lateness * j.Weight
		md.due[t] = j.due()
		md.hold[t] = -1
		release := j.Release
		if j.Pin != nil && !j.Pin.Running && j.Pin.Start >= 0 {
			md.hold[t] = j.Pin.Start
			release = max(release, j.Pin.Start)
		}
		for m := range md.at {
			f := j.fit(m)
			if f == nil || md.closed[m] {
				md.at[m][t].work = math.Inf(1)
				continue
			}
			md.fits[t] = append(md.fits[t], int32(m))
			md.can[m][t] = true
			e := entry{work: f.Run * float64(f.Runs(md.quantity[t])), release: math.Inf(-1),
				due: md.lines[m].work(md.due[t])}
			if release > 0 {
				e.release = md.lines[m].work(release)
			}
			if !math.IsInf(e.due, 1) {
				e.due += hair
			}
			e.base = md.w.Work * e.work
			md.at[m][t] = e
			if j.Pin != nil && j.Pin.Running {
				md.running[m] = append(md.running[m], int32(t))
			}
		}
	}
	md.setups()
	return md
}

// lots makes the lots of every job that can be planned.
func (md *model) lots(cut func(j *Job, job int) []int) {
	for i := range md.p.Jobs {
		j := &md.p.Jobs[i]
		if why := unfit(md.p, j, md.closed); why != "" {
			md.unplaced = append(md.unplaced, Unplaced{Job: i, Why: why})
			continue
		}
		parts := cut(j, i)
		order := int32(-1)
		if len(parts) > 1 {
			order = int32(len(md.orders))
			md.orders = append(md.orders, nil)
		}
		for _, q := range parts {
			t := int32(len(md.job))
			md.job = append(md.job, int32(i))
			md.quantity = append(md.quantity, q)
			md.order = append(md.order, order)
			if order >= 0 {
				md.orders[order] = append(md.orders[order], t)
			}
		}
	}
}

// split is the usual cut: a job that may be shared and takes longer than
// seconds on its best machine is cut into lots of about that time. Lots are
// whole runs of the machine with the most heads, the last one takes the rest.
func split(p *Problem, seconds float64) func(j *Job, job int) []int {
	closed := closedMachines(p)
	return func(j *Job, _ int) []int {
		best, heads, machines := math.Inf(1), 1, 0
		for m := range p.Machines {
			if f := j.fit(m); f != nil && !closed[m] {
				best = min(best, f.Run*float64(f.Runs(j.Quantity)))
				heads = max(heads, f.Pieces)
				machines++
			}
		}
		lots := 1
		if machines > 1 && j.MaxLots != 1 && seconds > 0 {
			most := min(machines, maxLots)
			if j.MaxLots > 0 {
				most = min(most, j.MaxLots)
			}
			lots = int(max(1, min(math.Ceil(best/seconds), float64(most), float64(j.Quantity/heads))))
		}
		runs := (j.Quantity + heads - 1) / heads
		left := j.Quantity
		var parts []int
		for k := 0; k < lots; k++ {
			q := min((runs*(k+1)/lots-runs*k/lots)*heads, left)
			if k == lots-1 {
				q = left
			}
			if q > 0 {
				parts = append(parts, q)
			}
			left -= q
		}
		return parts
	}
}

// maxLots bounds the lots of one job: more machines on one order than this
// cost more in set-ups and oversight than they save.
const maxLots = 8

// closedMachines are those whose working windows are all past, or at which no
// operator is ever there: nothing can be planned on them.
func closedMachines(p *Problem) []bool {
	out := make([]bool, len(p.Machines))
	for m, win := range staffed(p) {
		out[m] = len(win) > 0
		for _, w := range win {
			if w.To > max(w.From, 0) {
				out[m] = false
				break
			}
		}
	}
	return out
}

// unfit says why a job cannot be planned, "" where it can.
func unfit(p *Problem, j *Job, closed []bool) string {
	switch {
	case j.Quantity <= 0:
		return "nothing to make: the quantity is not above zero"
	case len(j.Fits) == 0:
		return "no machine is given that can make it"
	}
	fits := false
	for m := range p.Machines {
		if j.fit(m) != nil {
			if !closed[m] {
				return ""
			}
			fits = true
		}
	}
	if fits {
		return "no machine that can make it has working hours entered from now on"
	}
	return "it is pinned to a machine that cannot make it"
}

// setups numbers the kinds of set-up and fills the tables.
func (md *model) setups() {
	p := md.p
	md.kind = make([]int32, md.n)
	if p.Changeover != nil {
		md.over = true
		md.kinds = len(p.Jobs)
		copy(md.kind, md.job)
		md.full = make([][]float64, md.m)
		md.first = make([][]float64, md.m)
		for m := range md.full {
			b := p.Changeover.between(m)
			md.first[m] = make([]float64, md.kinds)
			for j := range md.first[m] {
				md.first[m][j] = p.Changeover.first(m, j)
			}
			if m > 0 && len(p.Changeover.Between) == 1 {
				md.full[m] = md.full[0]
				continue
			}
			md.full[m] = make([]float64, md.kinds*md.kinds)
			for i := range b {
				copy(md.full[m][i*md.kinds:], b[i])
				md.full[m][i*md.kinds+i] = 0 // lots of one job
			}
		}
	} else {
		md.coneKinds()
	}
	// What already runs is set up.
	for m, run := range md.running {
		if len(run) > 0 {
			md.first[m][md.kind[run[0]]] = 0
			if !md.over {
				md.firstCones[m][md.kind[run[0]]] = 0
			}
		}
	}
}

// coneKinds makes the tables of the cone and hoop model. Only the job just
// before counts: a cone is taken as still on its needle if that job used it.
func (md *model) coneKinds() {
	p := md.p
	number := map[string]int{}
	cone := func(name string) int {
		i, ok := number[name]
		if !ok {
			i = len(number)
			number[name] = i
		}
		return i
	}
	type kind struct {
		design, hoop string
		cones        []int
	}
	var all []kind
	index := map[string]int32{}
	for t, ji := range md.job {
		j := &p.Jobs[ji]
		k := kind{design: j.Design, hoop: j.Hoop}
		for _, c := range j.Cones {
			k.cones = append(k.cones, cone(c))
		}
		sort.Ints(k.cones)
		k.cones = slices.Compact(k.cones)
		if k.design == "" {
			k.design = "\x00" + j.ID // no design named: one of its own
		}
		sorted := slices.Clone(j.Cones)
		sort.Strings(sorted)
		key := k.design + "\x01" + k.hoop + "\x01" + strings.Join(sorted, "\x01")
		i, ok := index[key]
		if !ok {
			i = int32(len(all))
			index[key] = i
			all = append(all, k)
		}
		md.kind[t] = i
	}
	loaded := make([][]int, md.m)
	for m := range p.Machines {
		for _, c := range p.Machines[m].Loaded {
			loaded[m] = append(loaded[m], cone(c))
		}
	}
	words := len(number)/64 + 1
	set := func(cs []int) []uint64 {
		b := make([]uint64, words)
		for _, c := range cs {
			b[c/64] |= 1 << (c % 64)
		}
		return b
	}
	md.kinds = len(all)
	sets := make([][]uint64, md.kinds)
	hoops := map[string]int{}
	hoop := make([]int, md.kinds)
	design := make([]int, md.kinds)
	designs := map[string]int{}
	id := func(m map[string]int, s string) int {
		i, ok := m[s]
		if !ok {
			i = len(m)
			m[s] = i
		}
		return i
	}
	for i, k := range all {
		sets[i] = set(k.cones)
		hoop[i] = id(hoops, k.hoop)
		design[i] = id(designs, k.design)
	}
	missing := func(need, have []uint64) uint16 {
		c := 0
		for w := range need {
			c += bits.OnesCount64(need[w] &^ have[w])
		}
		return uint16(min(c, codeHoop-1))
	}
	md.code = make([]uint16, md.kinds*md.kinds)
	for i := range all {
		row := md.code[i*md.kinds : (i+1)*md.kinds]
		for j := range all {
			c := missing(sets[j], sets[i])
			if hoop[i] != hoop[j] {
				c |= codeHoop
			}
			if design[i] != design[j] {
				c |= codeJob
			}
			row[j] = c
		}
	}
	md.tab = make([][]float64, md.m)
	md.firstCones = make([][]int, md.m)
	md.first = make([][]float64, md.m)
	for m := range p.Machines {
		s := p.Machines[m].Setup
		tab := make([]float64, codeCount)
		for c := range tab {
			tab[c] = s.Cone * float64(c%codeHoop)
			if c&codeHoop != 0 {
				tab[c] += s.Hoop
			}
			if c&codeJob != 0 {
				tab[c] += s.Job
			}
		}
		md.tab[m] = tab
		have := set(loaded[m])
		md.first[m] = make([]float64, md.kinds)
		md.firstCones[m] = make([]int, md.kinds)
		for k := range all {
			c := missing(sets[k], have) | codeJob
			md.firstCones[m][k] = int(c % codeHoop)
			if all[k].hoop != p.Machines[m].Hoop {
				c |= codeHoop
			}
			md.first[m][k] = tab[c]
		}
	}
}

// setup is the set-up in s on machine m from lot a (−1: none) to lot b.
func (md *model) setup(m int, a, b int32) float64 {
	switch {
	case a < 0:
		return md.first[m][md.kind[b]]
	case md.over:
		return md.full[m][int(md.kind[a])*md.kinds+int(md.kind[b])]
	}
	return md.tab[m][md.code[int(md.kind[a])*md.kinds+int(md.kind[b])]]
}

// changes is how many cones are put on before lot b by the cone model.
func (md *model) changes(m int, a, b int32) int {
	switch {
	case md.over:
		return 0
	case a < 0:
		return md.firstCones[m][md.kind[b]]
	}
	return int(md.code[int(md.kind[a])*md.kinds+int(md.kind[b])] % codeHoop)
}
