package sequence

import (
	"errors"
	"fmt"
	"iter"
	"math/bits"
)

// MaxCost is the largest cost an arc may have. Sums are kept in 64 bits.
const MaxCost = 1 << 29

// forbidden marks an arc no order can use.
const forbidden = 1 << 30

// Problem asks for a cheapest order of N things.
type Problem struct {
	N    int
	Cost []int32 // N×N by rows: Cost[i*N+j] for j right after i, 0…MaxCost

	// Before lists pairs: the first of each pair comes, at any distance,
	// before the second.
	Before [][2]int

	Start, End int // the first and the last thing; −1 leaves it free

	// Group and Switch add Switch to every step between two things of
	// different groups (the colour stop between two threads). A nil Group has
	// no such cost. Only Start and End may have a negative group, which has
	// none in or out.
	Group  []int
	Switch int32
}

// ErrCycle says that the precedence contradicts itself.
var ErrCycle = errors.New("things must come before themselves (a cycle in the precedence)")

// step is the cost of j right after i, the switch of groups included.
func (p *Problem) step(i, j int) int64 {
	c := int64(p.Cost[i*p.N+j])
	if p.switches(i, j) {
		c += int64(p.Switch)
	}
	return c
}

func (p *Problem) switches(i, j int) bool {
	return p.Group != nil && p.Group[i] >= 0 && p.Group[j] >= 0 && p.Group[i] != p.Group[j]
}

// Feasible says whether order names every thing once, keeps every precedence
// and begins and ends as asked; the error says where it does not.
func (p *Problem) Feasible(order []int) error {
	if len(order) != p.N {
		return fmt.Errorf("an order of %d things was given for %d", len(order), p.N)
	}
	pos := make([]int, p.N)
	for i := range pos {
		pos[i] = -1
	}
	for k, i := range order {
		if i < 0 || i >= p.N || pos[i] >= 0 {
			return fmt.Errorf("place %d of the order names %d, which is out of range or named twice", k, i)
		}
		pos[i] = k
	}
	if p.Start >= 0 && order[0] != p.Start {
		return fmt.Errorf("the order begins with %d and not with %d", order[0], p.Start)
	}
	if p.End >= 0 && order[p.N-1] != p.End {
		return fmt.Errorf("the order ends with %d and not with %d", order[p.N-1], p.End)
	}
	for _, b := range p.Before {
		if pos[b[0]] >= pos[b[1]] {
			return fmt.Errorf("%d must come before %d", b[0], b[1])
		}
	}
	return nil
}

func (p *Problem) check() error {
	if p.N < 1 {
		return errors.New("there is nothing to order")
	}
	if len(p.Cost) != p.N*p.N {
		return fmt.Errorf("%d things need %d costs, got %d", p.N, p.N*p.N, len(p.Cost))
	}
	for i, c := range p.Cost {
		if (c < 0 || c > MaxCost) && i/p.N != i%p.N {
			return fmt.Errorf("the cost of %d after %d is %d, the range is 0 to %d", i%p.N, i/p.N, c, MaxCost)
		}
	}
	if p.Switch < 0 || p.Switch > MaxCost-1 {
		return fmt.Errorf("the cost of a switch is %d, the range is 0 to %d", p.Switch, MaxCost-1)
	}
	if p.Group != nil && len(p.Group) != p.N {
		return fmt.Errorf("%d groups for %d things", len(p.Group), p.N)
	}
	for i, g := range p.Group {
		if g < 0 && i != p.Start && i != p.End {
			return fmt.Errorf("thing %d has no group; only the start and the end may have none", i)
		}
	}
	if p.Start < -1 || p.Start >= p.N || p.End < -1 || p.End >= p.N {
		return fmt.Errorf("start %d or end %d is not one of the %d things", p.Start, p.End, p.N)
	}
	if p.Start >= 0 && p.Start == p.End && p.N > 1 {
		return errors.New("the same thing cannot be first and last")
	}
	for _, b := range p.Before {
		if b[0] < 0 || b[0] >= p.N || b[1] < 0 || b[1] >= p.N {
			return fmt.Errorf("the precedence %d before %d names something that is not there", b[0], b[1])
		}
	}
	return nil
}

// network is a problem made ready: a first and a last node that are fixed
// (added where the problem leaves them free), the closure of the precedence,
// and arcs no order can use taken out.
type network struct {
	p     *Problem
	m     int     // nodes: 0 is first, m−1 is last
	thing []int   // node → thing, −1 for an added end
	cost  []int32 // m×m, switches included, forbidden where impossible
	base  []int32 // the same without switches; cost itself if there are none
	group []int   // nil without groups
	// closure: row i holds the nodes that come after i; and its transpose.
	after, before relation
	preds, succs  [][]int32 // transitive reduction
	symmetric     bool      // costs are the same both ways and nothing has precedence but the ends
}

// relation is a square matrix of bits: which node is related to which.
type relation struct {
	words int
	w     []uint64
}

func newRelation(m int) relation {
	words := (m + 63) / 64
	return relation{words, make([]uint64, m*words)}
}
func (b relation) row(i int) []uint64     { return b.w[i*b.words : (i+1)*b.words] }
func (b relation) has(i, j int) bool      { return b.w[i*b.words+j>>6]>>(j&63)&1 != 0 }
func (b relation) set(i, j int)           { b.w[i*b.words+j>>6] |= 1 << (j & 63) }
func (b relation) join(i int, o []uint64) { orInto(b.row(i), o) }

// each goes through the nodes in row i.
func (b relation) each(i int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for k, w := range b.row(i) {
			for ; w != 0; w &= w - 1 {
				if !yield(k<<6 + bits.TrailingZeros64(w)) {
					return
				}
			}
		}
	}
}

func orInto(a, b []uint64) {
	for k, w := range b {
		a[k] |= w
	}
}

func newNetwork(p *Problem) (*network, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	n := &network{p: p}
	if p.Start >= 0 {
		n.thing = append(n.thing, p.Start)
	} else {
		n.thing = append(n.thing, -1)
	}
	for i := range p.N {
		if i != p.Start && i != p.End {
			n.thing = append(n.thing, i)
		}
	}
	switch {
	case p.End >= 0 && p.End != p.Start:
		n.thing = append(n.thing, p.End)
	default:
		n.thing = append(n.thing, -1)
	}
	n.m = len(n.thing)
	m := n.m
	node := make([]int, p.N)
	for k, t := range n.thing {
		if t >= 0 {
			node[t] = k
		}
	}
	n.after, n.before = newRelation(m), newRelation(m)
	order, err := n.close(node)
	if err != nil {
		return nil, err
	}
	n.reduce(order)

	n.cost = make([]int32, m*m)
	free := true
	for i, a := range n.thing {
		row := n.cost[i*m : (i+1)*m]
		if a >= 0 {
			for j, b := range n.thing {
				if b >= 0 && a != b {
					row[j] = int32(p.step(a, b))
				}
			}
		}
		row[i] = forbidden
		for j := range n.before.each(i) {
			row[j] = forbidden
		}
		for j := range n.after.each(i) {
			if !n.mayFollow(i, j) {
				row[j] = forbidden
			}
			free = free && (i == 0 || j == m-1)
		}
	}
	n.base = n.cost
	if p.Group != nil && p.Switch > 0 {
		n.base = make([]int32, m*m)
		copy(n.base, n.cost)
		n.group = make([]int, m)
		for i := range m {
			n.group[i] = -1
			if a := n.thing[i]; a >= 0 {
				n.group[i] = p.Group[a]
			}
			for j := range m {
				a, b := n.thing[i], n.thing[j]
				if a >= 0 && b >= 0 && n.base[i*m+j] != forbidden && p.switches(a, b) {
					n.base[i*m+j] -= p.Switch
				}
			}
		}
	}
	n.symmetric = free
	for i := 1; i < m-1 && n.symmetric; i++ {
		for j := i + 1; j < m-1; j++ {
			if n.cost[i*m+j] != n.cost[j*m+i] {
				n.symmetric = false
				break
			}
		}
	}
	return n, nil
}

// mayFollow says whether j may stand right after i: not if j comes before i,
// nor if something must stand between them.
func (n *network) mayFollow(i, j int) bool {
	if n.after.has(j, i) {
		return false
	}
	if !n.after.has(i, j) {
		return true
	}
	a, b := n.after.row(i), n.before.row(j)
	for k := range a {
		if a[k]&b[k] != 0 {
			return false
		}
	}
	return true
}

// close fills the closure and returns the nodes in a topological order.
func (n *network) close(node []int) ([]int, error) {
	m := n.m
	next := make([][]int, m)
	degree := make([]int, m)
	link := func(i, j int) {
		next[i] = append(next[i], j)
		degree[j]++
	}
	for _, b := range n.p.Before {
		if b[0] == b[1] {
			return nil, ErrCycle
		}
		link(node[b[0]], node[b[1]])
	}
	for i := 1; i < m; i++ {
		link(0, i)
		if i < m-1 {
			link(i, m-1)
		}
	}
	var order []int
	for i := range m {
		if degree[i] == 0 {
			order = append(order, i)
		}
	}
	for k := 0; k < len(order); k++ {
		for _, j := range next[order[k]] {
			if degree[j]--; degree[j] == 0 {
				order = append(order, j)
			}
		}
	}
	if len(order) < m {
		return nil, ErrCycle
	}
	for k := m - 1; k >= 0; k-- {
		i := order[k]
		for _, j := range next[i] {
			n.after.set(i, j)
			n.after.join(i, n.after.row(j))
		}
	}
	for i := range m {
		for j := range n.after.each(i) {
			n.before.set(j, i)
		}
	}
	return order, nil
}

// reduce fills preds and succs with the transitive reduction: what suffices
// to check an order, and no more.
func (n *network) reduce(order []int) {
	m := n.m
	n.preds, n.succs = make([][]int32, m), make([][]int32, m)
	for _, i := range order {
		for j := range n.after.each(i) {
			if n.mayFollow(i, j) {
				n.succs[i] = append(n.succs[i], int32(j))
				n.preds[j] = append(n.preds[j], int32(i))
			}
		}
	}
}

// things turns a sequence of nodes into an order of things.
func (n *network) things(seq []int32) []int {
	order := make([]int, 0, n.p.N)
	for _, k := range seq {
		if t := n.thing[k]; t >= 0 {
			order = append(order, t)
		}
	}
	return order
}

func (n *network) length(seq []int32) int64 {
	var sum int64
	for k := 1; k < len(seq); k++ {
		sum += int64(n.cost[int(seq[k-1])*n.m+int(seq[k])])
	}
	return sum
}
