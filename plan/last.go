package plan

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// The last word: of plans of equal worth the one in which what is due first is done
// first, and of what is due at once the job that stands first in the problem. Sums of
// floats differ in their last digits, and a search may meet either plan first.

// inTurn are the lots by due date and the jobs' order in the problem.
func (md *model) inTurn() []int32 {
	order := make([]int32, md.n)
	for t := range order {
		order[t] = int32(t)
	}
	slices.SortStableFunc(order, func(a, b int32) int {
		return cmp.Or(cmp.Compare(md.due[a], md.due[b]), cmp.Compare(md.job[a], md.job[b]))
	})
	return order
}

// lastMoves is how many moves the last word may price, lastWhole up to how many lots it
// looks at every place of every lot; above only at neighbours in a queue.
const lastMoves, lastWhole = 200_000, 60

// lastWord makes moves that change nothing of the plan's worth, as long as they bring
// forward what is due first.
func (x *search) lastWord(ctx context.Context) {
	s, y, turn := x.best, newState(x.md), x.turn
	equal := 1e-9 * max(1, math.Abs(s.value()))
	left := lastMoves
	try := func(c change) bool {
		left--
		if !s.legal(&c) || math.Abs(s.price(&c, equal)) > equal {
			return false
		}
		y.copyFrom(s)
		y.apply(&c)
		if !y.sooner(s, turn) {
			return false
		}
		s.copyFrom(y)
		return true
	}
	for again := true; again && left > 0 && ctx.Err() == nil; {
		again = false
		for a := range s.rows {
			for i := s.rows[a].locked; i+1 < len(s.rows[a].seq); i++ {
				q := s.rows[a].seq
				if x.after(q[i], q[i+1]) && try(change{kind: moveSwap, a: a, i: i, b: a, j: i + 1}) {
					again = true
					i = max(i-2, s.rows[a].locked-1)
				}
			}
		}
		if x.md.n > lastWhole {
			continue
		}
		for _, t := range x.free {
			for _, m := range x.md.fits[t] {
				for j := s.rows[m].locked; j <= len(s.rows[m].seq) && left > 0; j++ {
					a, i := int(s.mach[t]), int(s.pos[t])
					again = try(change{kind: moveBlock, a: a, i: i, b: int(m), j: j, size: 1}) ||
						try(change{kind: moveSwap, a: a, i: i, b: int(m), j: j}) ||
						int(m) != a && try(change{kind: moveTails, a: a, i: i, b: int(m), j: j}) || again
				}
			}
		}
	}
}

// after reports whether lot a is due after lot b, or as soon and stands after it.
func (x *search) after(a, b int32) bool {
	return cmp.Or(cmp.Compare(x.md.due[a], x.md.due[b]), cmp.Compare(x.md.job[a], x.md.job[b])) > 0
}

// sooner reports whether the first lot in turn that ends at another time than in o ends
// sooner; where all end at the same time, whether the first on another machine is on one
// that stands before.
func (s *state) sooner(o *state, turn []int32) bool {
	end := func(s *state, t int32) float64 {
		m := s.mach[t]
		return s.md.lines[m].end(s.rows[m].end[s.pos[t]])
	}
	for _, t := range turn {
		if a, b := end(s, t), end(o, t); math.Abs(a-b) > hair {
			return a < b
		}
	}
	for _, t := range turn {
		if s.mach[t] != o.mach[t] {
			return s.mach[t] < o.mach[t]
		}
	}
	return false
}
