package sequence

import (
	"context"
	"math"
)

// An order is a spanning arborescence rooted at its first node in which every
// node but the last has one way out. Leaving the ways out to multipliers gives
// a bound at least as good as the assignment's: it also sees that everything
// must hang together.

// arborescence finds cheapest spanning arborescences (Chu and Liu 1965,
// Edmonds 1967) on dense graphs. Its memory is kept from call to call.
type arborescence struct {
	w       []int64
	next    []int64
	in      []int
	best    []int64 // cheapest way into each node
	comp    []int
	state   []int
	rounds  []contraction
	src, to []int32 // original tail and head behind an arc of the contracted graph
	nsrc    []int32
	nto     []int32
}

type contraction struct {
	k       int
	in      []int
	comp    []int
	src, to []int32
}

const far = math.MaxInt64 / 8

// value is the cost of the cheapest arborescence over k nodes with root 0;
// w holds k×k costs by rows, far where there is no arc, and is overwritten.
// far is returned where there is none.
func (a *arborescence) value(k int) int64 { return a.solve(k, nil) }

// solve is value that also writes, for every node but the root, the tail of
// its arc into tail (if not nil).
func (a *arborescence) solve(k int, tail []int32) int64 {
	n := k
	if tail != nil {
		a.src, a.to = resize(a.src, n*n), resize(a.to, n*n)
		for i := range n {
			for j := range n {
				a.src[i*n+j], a.to[i*n+j] = int32(i), int32(j)
			}
		}
		a.rounds = a.rounds[:0]
	}
	root := 0
	var total int64
	a.in, a.best = resize(a.in, n), resize(a.best, n)
	a.comp, a.state = resize(a.comp, n), resize(a.state, n)
	w := a.w
	for {
		in, best := a.in[:n], a.best[:n]
		for j := range n {
			in[j], best[j] = -1, far
			w[j*n+j] = far
		}
		for i := range n { // row by row, as the costs lie in memory
			for j, c := range w[i*n : i*n+n] {
				if c < best[j] {
					best[j], in[j] = c, i
				}
			}
		}
		in[root], best[root] = -1, 0
		for j := range n {
			if best[j] == far {
				return far
			}
			total += best[j]
		}
		comp, state := a.comp[:n], a.state[:n]
		for j := range n {
			comp[j], state[j] = -1, -1
		}
		c, cycle := 0, false
		for j := range n {
			i := j
			for i != root && state[i] < 0 {
				state[i] = j
				i = in[i]
			}
			if i != root && state[i] == j && comp[i] < 0 { // a new cycle
				cycle = true
				for q := i; ; {
					comp[q] = c
					if q = in[q]; q == i {
						break
					}
				}
				c++
			}
		}
		if !cycle {
			if tail != nil {
				for j := range n {
					if j != root {
						e := in[j]*n + j
						tail[a.to[e]] = a.src[e]
					}
				}
				a.unwind(tail)
			}
			return total
		}
		for j := range n {
			if comp[j] < 0 {
				comp[j] = c
				c++
			}
		}
		if tail != nil {
			a.rounds = append(a.rounds, contraction{n, append([]int(nil), in...), append([]int(nil), comp...),
				append([]int32(nil), a.src[:n*n]...), append([]int32(nil), a.to[:n*n]...)})
			a.nsrc, a.nto = resize(a.nsrc, c*c), resize(a.nto, c*c)
		}
		a.next = resize(a.next, c*c)
		next := a.next
		for e := range next {
			next[e] = far
			if tail != nil {
				a.nsrc[e], a.nto[e] = -1, -1
			}
		}
		for i := range n {
			ci := comp[i] * c
			for j, x := range w[i*n : i*n+n] {
				if x == far || comp[j]*c == ci {
					continue
				}
				if x -= best[j]; x < next[ci+comp[j]] {
					next[ci+comp[j]] = x
					if tail != nil {
						a.nsrc[ci+comp[j]], a.nto[ci+comp[j]] = a.src[i*n+j], a.to[i*n+j]
					}
				}
			}
		}
		a.w, a.next = next, w
		w = next
		if tail != nil {
			a.src, a.nsrc = a.nsrc, a.src
			a.to, a.nto = a.nto, a.to
		}
		root = comp[root]
		n = c
	}
}

// unwind opens the contracted cycles from the last to the first: the arc that
// enters a cycle replaces the cycle's own arc into the node it enters at.
func (a *arborescence) unwind(tail []int32) {
	for r := len(a.rounds) - 1; r >= 0; r-- {
		q := &a.rounds[r]
		n := q.k
		// the original head at which each cycle is entered is known by its
		// having a tail; all other nodes of the cycle take the cycle's arc.
		size := make([]int, n)
		for j := range n {
			size[q.comp[j]]++
		}
		for j := range n {
			if q.in[j] < 0 || size[q.comp[j]] < 2 {
				continue
			}
			e := q.in[j]*n + j
			if head := q.to[e]; tail[head] < 0 && !a.entered(q, j, tail) {
				tail[head] = q.src[e]
			}
		}
	}
}

// entered says whether some original node inside j already has its tail.
func (a *arborescence) entered(q *contraction, j int, tail []int32) bool {
	// every arc into j ends at an original node inside j
	for i := range q.k {
		if head := q.to[i*q.k+j]; i != j && head >= 0 && tail[head] >= 0 {
			return true
		}
	}
	return false
}

func resize[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// lagrange improves the prices of leaving a node so that the arborescence
// bound becomes as large as it gets in the given number of steps (subgradient
// steps, Held, Wolfe and Crowder 1974). It returns the multipliers and the
// bound, both in 1/scale of a cost.
func (n *network) lagrange(ctx context.Context, pi []int64, upper int64, steps int) ([]int64, int64) {
	m := n.m
	a := &arborescence{}
	best := int64(math.MinInt64)
	bestPi := append([]int64(nil), pi...)
	cur := append([]int64(nil), pi...)
	tail := make([]int32, m)
	degree := make([]int, m)
	lambda, stale := 1.0, 0
	for step := 0; step < steps && ctx.Err() == nil; step++ {
		a.w = resize(a.w, m*m)
		for i := range m {
			for j := range m {
				c := n.cost[i*m+j]
				if c == forbidden || j == 0 {
					a.w[i*m+j] = far
				} else {
					a.w[i*m+j] = int64(c)*scale - cur[i]
				}
			}
		}
		for i := range tail {
			tail[i] = -1
		}
		v := a.solve(m, tail)
		if v >= far {
			break
		}
		for i := range m - 1 {
			v += cur[i]
		}
		if v > best {
			best, stale = v, 0
			copy(bestPi, cur)
		} else if stale++; stale >= 8 {
			lambda *= 0.6
			stale = 0
			copy(cur, bestPi)
		}
		if best > (upper-1)*scale || lambda < 1e-3 {
			break
		}
		clear(degree)
		for j := 1; j < m; j++ {
			degree[tail[j]]++
		}
		norm := 0
		for i := range m - 1 {
			norm += (1 - degree[i]) * (1 - degree[i])
		}
		if norm == 0 {
			break // every node has one way out: an order, and optimal
		}
		size := lambda * float64(upper*scale-v) / float64(norm)
		if size < 1 {
			size = 1
		}
		for i := range m - 1 {
			cur[i] += int64(math.Round(size * float64(1-degree[i])))
		}
	}
	return bestPi, best
}
