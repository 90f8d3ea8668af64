package plan

import "math"

// places is where the plan before had the lots. A lot that is put on another
// machine is moved; of those that stay on theirs, one is moved wherever two that
// follow each other stand the other way round than before: that of the two which
// was first. New lots are not, and may stand between.
type places struct {
	machine []int32   // lot → machine; −1: it was in no plan
	rank    []int32   // lot → its place in that machine's queue
	part    []float64 // lot → what a move of it counts, 1 for the first jobs
	weight  float64   // cost of a move that counts 1
}

// A move of what begins at once counts 1, of what begins moveHalf seconds later
// half of it, and so on down to moveLeast: hands have laid out the first jobs'
// goods and cones, and nobody has begun on the last.
const (
	moveHalf  = 8 * 3600.0
	moveLeast = 0.1
)

// remember takes the places of a state as those of the plan before. known says
// whether it had a job. The lots' first seconds are the state's.
func (md *model) remember(s *state, known func(job int) bool) {
	if md.w.Move == 0 {
		return
	}
	o := &places{machine: make([]int32, md.n), rank: make([]int32, md.n), part: make([]float64, md.n), weight: md.w.Move}
	for t := range o.machine {
		o.machine[t] = -1
	}
	for m := range s.rows {
		for k, t := range s.rows[m].seq {
			if !known(int(md.job[t])) || md.p.Jobs[md.job[t]].Pin != nil {
				continue // a hand's decision is no move of the plan's
			}
			begins := md.lines[m].start(s.rows[m].end[k] - md.at[m][t].work)
			o.machine[t], o.rank[t] = int32(m), int32(k)
			o.part[t] = max(moveLeast, math.Exp2(-max(begins, 0)/moveHalf))
		}
	}
	md.old = o
	for m := range s.rows { // with the charges
		s.refresh(m, 0)
	}
	s.total()
}

// of is the same for n lots of a model of which is names those it is known of.
func (o *places) of(is []int32, n int) *places {
	to := &places{machine: make([]int32, n), rank: make([]int32, n), part: make([]float64, n), weight: o.weight}
	for t := range to.machine {
		to.machine[t] = -1
	}
	for t, u := range is {
		to.machine[u], to.rank[u], to.part[u] = o.machine[t], o.rank[t], o.part[t]
	}
	return to
}

// moved is what lot t on machine m counts as moved behind the lots before it;
// last is the rank of the last of them that stayed on the machine, −1: none.
func (o *places) moved(m int, t int32, last *int32) float64 {
	switch {
	case o.machine[t] < 0:
		return 0
	case o.machine[t] != int32(m):
		return o.part[t]
	}
	was := *last
	*last = o.rank[t]
	if was > o.rank[t] {
		return o.part[t]
	}
	return 0
}

// charge is the cost of that.
func (o *places) charge(m int, t int32, last *int32) float64 { return o.weight * o.moved(m, t, last) }
