package sequence

import (
	"context"
	"math"
)

// scale makes room for fractions of a cost in whole numbers: multipliers are
// kept in 1/scale of a cost, so that bounds stay exact.
const scale = 64

// duals are the prices of an assignment: cost(i,j)·scale ≥ out[i] + in[j] on
// every arc an order can use, and their sum is as large as can be. Every order
// leaves each node but the last once and enters each but the first once, so
// the sum is a lower bound.
type duals struct {
	out, in []int64
	sum     int64
}

// assign solves the assignment of tails (all nodes but the last) to heads (all
// but the first) by shortest augmenting paths (Jonker and Volgenant, Computing
// 38, 1987). With a done context it returns prices that are valid but weak.
func (n *network) assign(ctx context.Context, cost []int32) duals {
	m := n.m
	k := m - 1
	const far = math.MaxInt64 / 4
	at := func(i, j int) int64 { // row i is tail i, column j is head j+1
		if c := cost[i*m+j+1]; c < forbidden {
			return int64(c) * scale
		}
		return far
	}
	u, v := make([]int64, k), make([]int64, k)
	row, col := make([]int, k), make([]int, k) // the row of a column, the column of a row
	for j := range row {
		row[j] = -1
	}
	for j := range k { // prices of the heads: cheapest way in
		v[j] = far
		for i := range k {
			v[j] = min(v[j], at(i, j))
		}
		if v[j] == far {
			v[j] = 0
		}
	}
	dist, from := make([]int64, k), make([]int, k)
	done := make([]bool, k)
	complete := true
	for i := range k {
		if ctx.Err() != nil {
			complete = false
			break
		}
		for j := range k {
			dist[j], from[j], done[j] = far, -1, false
		}
		cur, curDist, last := i, int64(0), -1
		for {
			best, bestDist := -1, int64(math.MaxInt64)
			for j := range k {
				if done[j] {
					continue
				}
				if c := at(cur, j); c < far {
					if d := curDist + c - u[cur] - v[j]; d < dist[j] {
						dist[j] = d
						from[j] = cur
					}
				}
				if dist[j] < bestDist {
					best, bestDist = j, dist[j]
				}
			}
			if best < 0 || bestDist >= far {
				break // no way: cannot happen while an order exists
			}
			done[best] = true
			curDist = bestDist
			if row[best] < 0 {
				last = best
				break
			}
			cur = row[best]
		}
		if last < 0 {
			complete = false
			break
		}
		u[i] += curDist
		for j := range k {
			if done[j] && j != last {
				u[row[j]] += curDist - dist[j]
				v[j] -= curDist - dist[j]
			}
		}
		for j := last; ; {
			r := from[j]
			row[j] = r
			j, col[r] = col[r], j
			if r == i {
				break
			}
		}
	}
	if !complete { // raise u as far as v allows: valid whatever v is
		for i := range k {
			u[i] = far
			for j := range k {
				u[i] = min(u[i], at(i, j)-v[j])
			}
			if u[i] > far/2 {
				u[i] = 0
			}
		}
	}
	d := duals{out: make([]int64, m), in: make([]int64, m)}
	for i := range k {
		d.out[i] = u[i]
		d.in[i+1] = v[i]
		d.sum += u[i] + v[i]
	}
	return d
}
