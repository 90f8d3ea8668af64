package plan

import (
	"math"
	"slices"
)

// construct builds queues by a priority index: whenever a machine falls free,
// the lot of highest
//
//	w/p · exp(−max(d − p − t, 0)/(k1·p̄)) · exp(−s/(k2·s̄)) · (p_best/p)²
//
// goes on it: the ATCS rule (apparent tardiness cost with set-ups; Lee,
// Bhaskaran, Pinedo, IIE Transactions 29, 1997) with a last factor, ours, for
// machines that take unlike times. t is the plan's second, p the lot's work
// and s its set-up on that machine. Lots of weight 0 follow by shortest time.
func construct(md *model, k1, k2 float64) [][]int32 {
	seqs := make([][]int32, md.m)
	used := make([]bool, md.n)
	e := slices.Clone(md.free)
	prev := make([]int32, md.m)
	open := make([]bool, md.m)
	for m := range seqs {
		prev[m] = -1
		open[m] = true
		for _, t := range md.running[m] {
			e[m] += md.setup(m, prev[m], t) + md.at[m][t].work
			seqs[m] = append(seqs[m], t)
			prev[m], used[t] = t, true
		}
	}
	best := make([]float64, md.n)
	pBar, sBar, count := 0.0, 0.0, 0
	for t := range best {
		best[t] = math.Inf(1)
		for _, m := range md.fits[t] {
			best[t] = min(best[t], md.at[m][t].work)
			sBar += md.first[m][md.kind[t]]
			count++
		}
		pBar += best[t]
	}
	pBar = max(pBar/float64(max(md.n, 1)), 1e-9)
	sBar = max(sBar/float64(max(count, 1)), pBar/100)
	left := make([]int32, 0, md.n)
	for t := range used {
		if !used[t] {
			left = append(left, int32(t))
		}
	}
	minW := math.Inf(1)
	for _, w := range md.weight {
		if w > 0 {
			minW = min(minW, w)
		}
	}
	if math.IsInf(minW, 1) {
		minW = 1
	}
	for len(left) > 0 {
		m, at := -1, math.Inf(1)
		for k := range seqs {
			if open[k] {
				if s := md.lines[k].start(e[k]); m < 0 || s < at {
					m, at = k, s
				}
			}
		}
		pick, index := -1, math.Inf(-1)
		for i, t := range left {
			a := &md.at[m][t]
			if math.IsInf(a.work, 1) {
				continue
			}
			set := md.setup(m, prev[m], t)
			begin := max(e[m]+set, a.release)
			w, due := md.weight[t], a.due
			if w == 0 || math.IsInf(due, 1) {
				w, due = max(w, minW)*1e-3, begin+50*pBar
			}
			// The logarithm of the index: no underflow, one exponential less.
			wait := max(due-begin-a.work, 0)/(k1*pBar) + set/(k2*sBar) + (begin-e[m]-set)/pBar
			v := math.Log(w) - math.Log(max(a.work, 1e-9)) - wait + 2*math.Log(max(best[t], 1e-9)/max(a.work, 1e-9))
			if pick < 0 || v > index {
				pick, index = i, v
			}
		}
		if pick < 0 {
			open[m] = false
			continue
		}
		t := left[pick]
		left = slices.Delete(left, pick, pick+1)
		e[m] = max(e[m]+md.setup(m, prev[m], t), md.at[m][t].release) + md.at[m][t].work
		seqs[m] = append(seqs[m], t)
		prev[m] = t
	}
	return seqs
}

// insertMost is up to how many lots a plan is also started by insertion, whose
// work grows with the square of their number.
const insertMost = 6000

// constructBest tries a few settings of the index and, where annealing follows,
// insertion lot by lot, and sets s to the best.
func constructBest(md *model, s *state) {
	k1s, k2s := []float64{0.7, 2, 5}, []float64{0.3, 1.5}
	if md.n > 1000 {
		k1s, k2s = []float64{2}, []float64{0.5}
	}
	best := make([][]int32, md.m)
	value := math.Inf(1)
	for _, k1 := range k1s {
		for _, k2 := range k2s {
			seqs := construct(md, k1, k2)
			s.set(seqs)
			if v := s.value(); v < value {
				value, best = v, seqs
			}
		}
	}
	if md.n > exhaustive && md.n <= insertMost {
		empty := make([][]int32, md.m)
		var lots []int32
		running := make([]bool, md.n)
		for m, run := range md.running {
			empty[m] = run
			for _, t := range run {
				running[t] = true
			}
		}
		for t := range md.job {
			if !running[t] {
				lots = append(lots, int32(t))
			}
		}
		s.set(empty)
		insertBest(s, lots)
		if s.value() <= value {
			return
		}
	}
	s.set(best)
}

// insertBest puts lots that are in no queue each in its cheapest place, the
// earliest due first.
func insertBest(s *state, lots []int32) {
	md := s.md
	for _, t := range lots { // where they were in another plan counts no more
		s.done[t], s.odds[t] = 0, 0
	}
	s.total()
	slices.SortStableFunc(lots, func(a, b int32) int {
		switch {
		case md.due[a] < md.due[b]:
			return -1
		case md.due[a] > md.due[b]:
			return 1
		}
		return int(a - b)
	})
	for _, t := range lots {
		m, j := s.cheapest(t)
		s.rows[m].seq = slices.Insert(s.rows[m].seq, j, t)
		s.refresh(m, j)
		s.total()
	}
}

// cheapest is the place where one more lot costs least; of places that cost the same on a machine the last,
// where what was planned before stands as it did.
func (s *state) cheapest(t int32) (machine, place int) {
	best := math.Inf(1)
	machine = int(s.md.fits[t][0])
	place = s.rows[machine].locked
	same := 1e-9 * max(1, math.Abs(s.value())) // what a sum of floats has in its last digits decides nothing
	for _, m := range s.md.fits[t] {
		r := &s.rows[m]
		for j := len(r.seq); j >= r.locked; j-- {
			if d := s.insertion(int(m), j, t, best); d < best-same {
				best, machine, place = d, int(m), j
			}
		}
	}
	return machine, place
}

// saves reports whether lots behind place j end earlier with lot t before them: where
// its set-ups save more than it takes.
func (s *state) saves(m, j int, t int32) bool {
	md, seq, prev := s.md, s.rows[m].seq, int32(-1)
	if j > 0 {
		prev = seq[j-1]
	}
	if j == len(seq) {
		return false
	}
	return md.setup(m, prev, t)+md.at[m][t].work+md.setup(m, t, seq[j]) < md.setup(m, prev, seq[j])
}

// insertion is the change of cost by lot t, in no queue yet, before place j.
func (s *state) insertion(m, j int, t int32, most float64) float64 {
	r := &s.rows[m]
	one := [1]int32{t}
	var g segs
	g.other(one[:])
	g.own(r.seq, j, len(r.seq))
	s.begin()
	room := most
	if s.saves(m, j, t) {
		room = s.room(most, m, -1)
	} // else no lot ends earlier, and nothing is saved
	cost, end := s.tail(m, j, &g, len(r.seq)-j, r.cost()+room, nil)
	if math.IsInf(cost, 1) {
		return cost
	}
	d, _ := s.delta(cost-r.cost(), m, end, 1, -1, 0, 0)
	return d
}
