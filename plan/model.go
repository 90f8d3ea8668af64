package plan

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"needlepace/words"
)

// entry is a lot on a machine, in working seconds of that machine.
type entry struct {
	work    float64 // +Inf: does not fit there
	release float64 // −Inf: none
	due     float64
	base    float64 // cost whatever the order: machine time, leaving its old machine
	safe    float64 // the latest end without any risk; +Inf: no risk is counted
	sure    float64 // from this end on it is surely late
	idle    bool    // it has no pieces, and so no risk of its own
}

// model is a problem made ready for the search: jobs cut into lots, times in
// working seconds, set-ups as table look-ups.
type model struct {
	p       *Problem
	w       Weights
	m, n    int // machines, lots
	lines   []timeline
	windows [][]Window
	closed  []bool // machines without working hours from second 0 on

	job      []int32 // lot → index into p.Jobs
	quantity []int   // lot → pieces
	at       [][]entry
	weight   []float64 // lot: Weights.Lateness times job weight
	risk     []float64 // lot: Weights.Risk times job weight; 0: no due date
	rate     []float64 // machine: Rate
	setWork  []float64 // machine: cost of one second of set-up
	spread2  []float64 // machine: Spread²
	scatter2 []float64 // machine: Scatter²
	due      []float64 // lot, s
	hold     []float64 // lot: pinned start in s, −1: none
	order    []int32   // lot → index of a job of several lots, −1: a job of one lot
	orders   [][]int32 // the lots of jobs of several lots
	free     []float64 // machine: working seconds until it is free
	fits     [][]int32 // lot → machines
	can      [][]bool  // machine × lot: fits there

	kind       []int32 // lot → kind of set-up
	kinds      int
	needs      []need      // kind: what a set-up has to put on, without Changeover
	tab        [][]float64 // machine: seconds of a code
	first      [][]float64 // machine × kind: s from what is mounted at second 0
	firstCones [][]int     // machine × kind: cones to put on then
	full       [][]float64 // with Changeover: machine: kinds × kinds seconds
	over       bool        // full is used

	guide    *guide     // the goal is not what is priced, but this; nil: the goal
	old      *places    // where the plan before had the lots; nil: moves cost nothing
	running  [][]int32  // machine: lots that are on it now
	unplaced []Unplaced // jobs left out, and why
}

// need is what must be on a machine for a kind of set-up. What must be changed from kind to kind is
// counted each time: a table of all pairs does not fit in a core's cache, and cost the search a third
// of its time.
type need struct {
	cones        [2]uint64 // the first 128 cones of the problem, a bit each
	more         []uint64  // the others
	hoop, design int32
}

// conesFrom is how many cones must be put on for n where those of have are on, at most codeHoop − 1.
func (n *need) conesFrom(have *need) int {
	c := bits.OnesCount64(n.cones[0]&^have.cones[0]) + bits.OnesCount64(n.cones[1]&^have.cones[1])
	for i, w := range n.more {
		c += bits.OnesCount64(w &^ have.more[i])
	}
	return min(c, codeHoop-1)
}

// code is the code of the set-up from kind a to kind b.
func (md *model) code(a, b int32) int {
	have, n := &md.needs[a], &md.needs[b]
	c := n.conesFrom(have)
	if have.hoop != n.hoop {
		c |= codeHoop
	}
	if have.design != n.design {
		c |= codeJob
	}
	return c
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

// sure is how many standard deviations away a due date is certain to be met, or
// missed: the chance of the other is below 1 in 30,000 and is not counted.
const sure = 4.0

// sureTail is the normal distribution's chance beyond sure.
var sureTail = math.Erfc(sure/math.Sqrt2) / 2

// limits are the latest end (working seconds) with no risk to miss a due date,
// and the earliest that surely misses it: the roots of due − e = ± sure·σ(e) with
// σ² = (spread·x)² + scatter²·x and x = e − free.
func limits(mach *Machine, free, due float64) (safe, late float64) {
	d := due - free
	if d <= 0 {
		return math.Inf(-1), free
	}
	a := 1 - sure*sure*mach.Spread*mach.Spread
	b := 2*d + sure*sure*mach.Scatter*mach.Scatter
	root := math.Sqrt(max(b*b-4*a*d*d, 0))
	late = math.Inf(1)
	if a > 0 {
		late = free + (b+root)/(2*a)
	}
	return free + 2*d*d/(b+root), late
}

// chance is that of a lot to end after its due date where the plan ends it at
// working second e of machine m: the end is taken as normal (Machine.Spread).
func (md *model) chance(m int, a *entry, e float64) float64 {
	switch {
	case e <= a.safe || a.idle:
		return 0
	case e >= a.sure:
		return 1
	}
	x := e - md.free[m]
	if x < 0 {
		x = 0
	}
	sd := math.Sqrt(md.spread2[m]*x*x + md.scatter2[m]*x)
	if sd == 0 { // it stands still between safe and sure: at its due second
		return 0
	}
	return over((a.due - e) / sd)
}

// overSteps is how many pieces the table of over has for each unit.
const overSteps = 64

// overTable is over in cubic pieces from −sure on: at both ends of a piece they have
// its value and its slope, between them they are within 1e-9 of it. To reckon it anew
// each time takes half of a search's time.
var overTable = func() (table [2*sure*overSteps + 1][4]float64) {
	exact := func(z float64) (v, slope float64) {
		all := 1 - 2*sureTail
		return (math.Erfc(z/math.Sqrt2)/2 - sureTail) / all, -math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) / all / overSteps
	}
	for k := range table {
		z := float64(k)/overSteps - sure
		v, s := exact(z)
		w, r := exact(z + 1.0/overSteps)
		table[k] = [4]float64{v, s, 3*(w-v) - 2*s - r, 2*(v-w) + s + r}
	}
	return table
}()

// over is the chance of a normal value to be above z, without the tails beyond sure.
func over(z float64) float64 {
	x := (z + sure) * overSteps
	switch {
	case x <= 0:
		return 1
	case x >= 2*sure*overSteps:
		return 0
	}
	k := int(x)
	x -= float64(k)
	c := &overTable[k]
	switch v := c[0] + x*(c[1]+x*(c[2]+x*c[3])); {
	case v < 0:
		return 0
	case v > 1:
		return 1
	default:
		return v
	}
}

// bell is how fast over falls at z, by the same table.
func bell(z float64) float64 {
	x := (z + sure) * overSteps
	if x <= 0 || x >= 2*sure*overSteps {
		return 0
	}
	k := int(x)
	x -= float64(k)
	c := &overTable[k]
	return -overSteps * (c[1] + x*(2*c[2]+x*3*c[3]))
}

// compile makes the model. p has passed Check.
func compile(p *Problem, cut func(j *Job, job int) []int) *model {
	return compileIn(p, staffed(p), cut)
}

// compileIn is compile with what staffed gives.
func compileIn(p *Problem, windows [][]Window, cut func(j *Job, job int) []int) *model {
	md := &model{p: p, windows: windows, w: p.Weights.orDefault(), m: len(p.Machines)}
	md.lines = linesOf(windows)
	md.closed = closedIn(windows)
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
	md.risk = make([]float64, md.n)
	for m := range p.Machines {
		mach := &p.Machines[m]
		md.rate = append(md.rate, told(mach.Rate))
		md.setWork = append(md.setWork, md.w.Setup+md.w.Money*md.rate[m])
		md.spread2 = append(md.spread2, told(mach.Spread*mach.Spread))
		md.scatter2 = append(md.scatter2, told(mach.Scatter*mach.Scatter))
	}
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
		if !math.IsInf(md.due[t], 1) {
			md.risk[t] = md.w.Risk * j.Weight
		}
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
			e := entry{release: math.Inf(-1), due: md.lines[m].work(md.due[t]), safe: math.Inf(1), sure: math.Inf(1)}
			if md.risk[t] > 0 {
				e.safe, e.sure = limits(&p.Machines[m], md.free[m], e.due+hair)
			}
			if release > 0 {
				e.release = md.lines[m].work(release)
			}
			if !math.IsInf(e.due, 1) {
				e.due += hair
			}
			md.at[m][t] = e
			if j.Pin != nil && j.Pin.Running {
				md.running[m] = append(md.running[m], int32(t))
			}
		}
	}
	for t := range md.job {
		md.size(int32(t), md.quantity[t])
	}
	md.setups()
	return md
}

// told is x to about ten digits: what a sum of floats may have in its last ones is not
// to decide between plans.
func told(x float64) float64 {
	const bits = 1 << 19 // of a float's 52 that are dropped
	return math.Float64frombits((math.Float64bits(x) + bits/2) &^ (bits - 1))
}

// size gives a lot so many pieces: its work and its cost on every machine.
func (md *model) size(t int32, pieces int) {
	md.quantity[t] = pieces
	j := &md.p.Jobs[md.job[t]]
	for _, m := range md.fits[t] {
		f, a := j.fit(int(m)), &md.at[m][t]
		a.work, a.idle = told(j.work(f, pieces)), pieces == 0
		a.base = (md.w.Work + md.w.Money*md.rate[m]) * a.work
	}
}

// lots makes the lots of every job that can be planned.
func (md *model) lots(cut func(j *Job, job int) []int) {
	for i := range md.p.Jobs {
		j := &md.p.Jobs[i]
		if why := unfit(md.p, j, md.closed); !why.IsZero() {
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
// seconds on its best machine (see sharers) is cut into lots, one for each of as many of its
// best machines as bring it below that. Each lot is as large as its machine is
// fast, in whole runs of it, so that all take about the same time; the first takes
// the rest.
func split(p *Problem, seconds float64) func(j *Job, job int) []int {
	return splitIn(p, staffed(p), seconds)
}

// splitIn is split with what staffed gives.
func splitIn(p *Problem, windows [][]Window, seconds float64) func(j *Job, job int) []int {
	closed, lines := closedIn(windows), linesOf(windows)
	return func(j *Job, _ int) []int {
		on := sharers(p, closed, lines, j)
		if len(on) < 2 || !(seconds > 0) {
			return []int{j.Quantity}
		}
		lots, sum := 1, pace(on[0])
		for lots < len(on) && float64(j.Quantity) > seconds*sum {
			sum += pace(on[lots])
			lots++
		}
		parts, left := make([]int, lots), j.Quantity
		for k := lots - 1; k > 0; k-- {
			runs := math.Floor(float64(j.Quantity) * pace(on[k]) / sum / float64(on[k].Pieces))
			parts[k] = int(runs) * on[k].Pieces // less than its share, so that the first has some
			left -= parts[k]
		}
		parts[0] = left
		return slices.DeleteFunc(parts, func(q int) bool { return q <= 0 })
	}
}

// pace is how many pieces a second a machine makes.
func pace(f *Fit) float64 { return float64(f.Pieces) / f.Run }

// sharers are the machines on which a job may be at a time, the best first: the fastest of those that can sew it by its due
// date, if nothing else were to do there; then those that cannot, as one that is down until then, the soonest done first.
func sharers(p *Problem, closed []bool, lines []timeline, j *Job) (on []*Fit) {
	fastest, due := 0.0, j.due()
	ends := map[*Fit]float64{}
	for m := range p.Machines {
		if f := j.fit(m); f != nil && !closed[m] && f.Run > 0 {
			on = append(on, f)
			fastest = max(fastest, pace(f))
			l := &lines[m]
			if end := l.end(l.work(max(p.Machines[m].Free, j.Release, 0)) + j.work(f, j.Quantity)); end > due+hair {
				ends[f] = end
			}
		}
	}
	slices.SortStableFunc(on, func(a, b *Fit) int {
		return cmp.Or(cmp.Compare(ends[a], ends[b]), cmp.Compare(pace(b), pace(a)))
	})
	on = slices.DeleteFunc(on, func(f *Fit) bool { return !(pace(f) > slowest*fastest) })
	most := min(len(on), maxLots)
	if j.MaxLots > 0 {
		most = min(most, j.MaxLots)
	}
	return on[:most]
}

// slowest is the pace, as a share of the fastest machine's, below which a machine
// gets no lot of its own: its set-up would not pay.
const slowest = 0.05

// maxLots bounds the lots of one job: more machines on one order than this
// cost more in set-ups and oversight than they save.
const maxLots = 8

// closedIn are the machines, by what staffed gives, whose working windows are all past, or at which no
// operator is ever there: nothing can be planned on them.
func closedIn(windows [][]Window) []bool {
	out := make([]bool, len(windows))
	for m, win := range windows {
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
func unfit(p *Problem, j *Job, closed []bool) (why words.Message) {
	switch {
	case j.Quantity <= 0:
		return words.Say("plan-why.nothing-to-make")
	case len(j.Fits) == 0:
		return words.Say("plan-why.no-machine-given")
	}
	fits := false
	for m := range p.Machines {
		if j.fit(m) != nil {
			if !closed[m] {
				return why
			}
			fits = true
		}
	}
	if fits {
		return words.Say("plan-why.no-hours")
	}
	return words.Say("plan-why.pinned-wrongly")
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
	var key []byte
	for t, ji := range md.job {
		if t > 0 && md.job[t-1] == ji {
			md.kind[t] = md.kind[t-1]
			continue
		}
		j := &p.Jobs[ji]
		design := j.Design
		if design == "" {
			design = "\x00" + j.ID // no design named: one of its own
		}
		key = append(append(append(key[:0], design...), 1), j.Hoop...)
		for _, c := range j.Cones {
			key = append(append(key, 1), c...)
		}
		i, ok := index[string(key)]
		if !ok {
			k := kind{design: design, hoop: j.Hoop}
			for _, c := range j.Cones {
				k.cones = append(k.cones, cone(c))
			}
			slices.Sort(k.cones)
			k.cones = slices.Compact(k.cones)
			i = int32(len(all))
			index[string(key)] = i
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
	words := max(len(number)/64-1, 0) // of the cones from 128 on
	set := func(cs []int) need {
		n := need{more: make([]uint64, words)}
		for _, c := range cs {
			if c < 128 {
				n.cones[c/64] |= 1 << (c % 64)
			} else {
				n.more[c/64-2] |= 1 << (c % 64)
			}
		}
		return n
	}
	md.kinds = len(all)
	md.needs = make([]need, md.kinds)
	hoops := map[string]int32{}
	designs := map[string]int32{}
	id := func(m map[string]int32, s string) int32 {
		i, ok := m[s]
		if !ok {
			i = int32(len(m))
			m[s] = i
		}
		return i
	}
	for i, k := range all {
		md.needs[i] = set(k.cones)
		md.needs[i].hoop, md.needs[i].design = id(hoops, k.hoop), id(designs, k.design)
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
			c := md.needs[k].conesFrom(&have)
			md.firstCones[m][k] = c
			c |= codeJob
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
	return md.tab[m][md.code(md.kind[a], md.kind[b])]
}

// changes is how many cones are put on before lot b by the cone model.
func (md *model) changes(m int, a, b int32) int {
	switch {
	case md.over:
		return 0
	case a < 0:
		return md.firstCones[m][md.kind[b]]
	}
	return md.code(md.kind[a], md.kind[b]) % codeHoop
}
