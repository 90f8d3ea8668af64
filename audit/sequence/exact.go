package sequence

import (
	"context"
	"math/bits"
)

// exact is dynamic programming forward over (what is done, what was last):
// one layer for each number of things done. Two ways to the same state keep
// the cheaper; a state whose bound reaches the incumbent is dropped.
type exact struct {
	n      *network
	words  int
	prices duals // of the base costs: the bound to which forced switches add
	pi     []int64
	chain  []int   // switches forced by precedence from this node on
	heads  []int32 // nodes by falling chain
	arb    arborescence
	seen   []bool  // by group
	rest   []int32 // scratch
	back   [][]link
	limit  int
}

type link struct {
	from int32 // index in the layer before
	last int16
}

// state is one entry of a layer. h is the sum of prices still to be paid.
type state struct {
	last   int16
	from   int32
	cost   int64 // of the way so far, in 1/scale
	prices int64
}

type layer struct {
	keys   []uint64 // words for each state
	states []state
	table  []int32 // open addressing, index+1
}

type verdict int

const (
	proven   verdict = iota // the search is complete
	tooLarge                // more states than allowed
	hopeless                // the same, so early that ten times as many would not do
	stopped                 // the context is done
)

// maxExactNodes is where a state's set of nodes stops being worth its memory.
const maxExactNodes = 512

// solveExact looks for an order cheaper than upper. It returns the order (nil
// if there is none: then upper is optimal), a lower bound in 1/scale that
// holds in any case, and how it ended.
func (n *network) solveExact(ctx context.Context, prices duals, pi []int64, upper int64, limit int) (
	[]int32, int64, int, verdict,
) {
	x := &exact{n: n, words: (n.m + 63) / 64, prices: prices, pi: pi, limit: limit}
	x.forcedSwitches()
	m, W := n.m, x.words
	var sumOut, sumIn int64
	for i := range m {
		sumOut += prices.out[i]
		sumIn += prices.in[i]
	}
	cur := &layer{keys: make([]uint64, W), states: []state{{last: 0, from: -1, prices: sumOut + sumIn}}}
	cur.keys[0] = 1
	x.back = append(x.back, []link{{-1, 0}})
	total := 1
	bound := int64(0)
	for depth := 1; depth < m; depth++ {
		next := &layer{}
		next.grow(1024, W)
		low := int64(far)
		for s := range cur.states {
			if s&255 == 0 && ctx.Err() != nil {
				return nil, bound, total, stopped
			}
			x.expand(cur, s, next, upper)
			if len(next.states) > 2*limit {
				return nil, bound, total, x.grewAt(depth)
			}
		}
		// the stronger bound, once for each state that is left
		kept := &layer{}
		links := make([]link, 0, len(next.states))
		strong := ctx.Err() == nil && x.pays(next, upper)
		for s := range next.states {
			if s&15 == 0 && ctx.Err() != nil {
				return nil, bound, total, stopped
			}
			st := next.states[s]
			key := next.keys[s*W : (s+1)*W]
			f := x.bound(key, st, strong)
			if f > (upper-1)*scale {
				continue
			}
			low = min(low, f)
			kept.keys = append(kept.keys, key...)
			kept.states = append(kept.states, st)
			links = append(links, link{st.from, st.last})
		}
		if len(kept.states) == 0 {
			return nil, upper * scale, total, proven
		}
		bound = max(bound, low)
		total += len(kept.states)
		if len(kept.states) > limit || total > 8*limit {
			return nil, bound, total, x.grewAt(depth)
		}
		x.back = append(x.back, links)
		cur = kept
	}
	best := 0
	for s, st := range cur.states {
		if st.cost < cur.states[best].cost {
			best = s
		}
	}
	seq := make([]int32, m)
	at := int32(best)
	for depth := m - 1; depth >= 0; depth-- {
		seq[depth] = int32(x.back[depth][at].last)
		at = x.back[depth][at].from
	}
	return seq, cur.states[best].cost, total, proven
}

// grewAt says what a search that grew too large at a depth is worth: with few
// states it must come through a twentieth of the nodes, with more a quarter. Found
// on the published instances (docs/sequencer.md).
func (x *exact) grewAt(depth int) verdict {
	share := 4
	if x.limit <= fewStates {
		share = 20
	}
	if depth*share < x.n.m {
		return hopeless
	}
	return tooLarge
}

// expand puts every state one step further on into next.
func (x *exact) expand(cur *layer, s int, next *layer, upper int64) {
	n, m, W := x.n, x.n.m, x.words
	key := cur.keys[s*W : (s+1)*W]
	st := cur.states[s]
	i := int(st.last)
	paid := st.prices - x.prices.out[i]
	top := (upper - 1) * scale
	for w := range W {
		todo := ^key[w]
		if w == W-1 && m&63 != 0 {
			todo &= 1<<(m&63) - 1
		}
		for ; todo != 0; todo &= todo - 1 {
			j := w<<6 + bits.TrailingZeros64(todo)
			c := n.cost[i*m+j]
			if c == forbidden {
				continue
			}
			cost := st.cost + int64(c)*scale
			h := paid - x.prices.in[j]
			if cost+h > top || !subset(n.before.row(j), key) {
				continue
			}
			next.put(key, j, state{int16(j), int32(s), cost, h}, W)
		}
	}
}

func subset(a, b []uint64) bool {
	for k, w := range a {
		if w&^b[k] != 0 {
			return false
		}
	}
	return true
}

// pays says whether the arborescence bound is worth its time on a layer: not
// while plain states are few enough to be cheaper than bounds; then it is
// tried on a sample, and must drop one state in eight.
func (x *exact) pays(l *layer, upper int64) bool {
	const sample = 64
	if x.pi == nil || len(l.states) <= sample {
		return x.pi != nil
	}
	if len(l.states) < x.limit/8 {
		return false
	}
	dropped := 0
	for k := range sample {
		s := k * len(l.states) / sample
		if x.bound(l.keys[s*x.words:(s+1)*x.words], l.states[s], true) > (upper-1)*scale {
			dropped++
		}
	}
	return dropped >= sample/8
}

// bound is a lower bound, in 1/scale, on any order through a state; strong
// adds the arborescence bound to those of the prices and switches.
func (x *exact) bound(key []uint64, st state, strong bool) int64 {
	n, m := x.n, x.n.m
	f := st.cost + st.prices
	if !strong && n.group == nil {
		return f
	}
	x.rest = x.rest[:0]
	x.rest = append(x.rest, int32(st.last))
	for j := range m {
		if key[j>>6]>>(j&63)&1 == 0 {
			x.rest = append(x.rest, int32(j))
		}
	}
	if n.group != nil {
		f += int64(x.switchesLeft(key, int(st.last))) * int64(n.p.Switch) * scale
	}
	if !strong || len(x.rest) < 3 {
		return f
	}
	// everything left must hang together, from the last node on
	k := len(x.rest)
	x.arb.w = resize(x.arb.w, k*k)
	var sum int64
	for a, i := range x.rest {
		if int(i) != m-1 {
			sum += x.pi[i]
		}
		for b, j := range x.rest {
			c := n.cost[int(i)*m+int(j)]
			if c == forbidden || b == 0 {
				x.arb.w[a*k+b] = far
			} else {
				x.arb.w[a*k+b] = int64(c)*scale - x.pi[i]
			}
		}
	}
	v := x.arb.value(k)
	if v >= far {
		return far
	}
	return max(f, st.cost+sum+v)
}

// switchesLeft is how many changes of group are still to come, at least: one
// into each group not begun yet or left behind, and as many as the longest
// chain of precedence holds.
func (x *exact) switchesLeft(key []uint64, last int) int {
	n := x.n
	clear(x.seen)
	count := 0
	g := n.group[last]
	for _, j := range x.rest[1:] {
		if q := n.group[j]; q >= 0 && q != g && !x.seen[q] {
			x.seen[q] = true
			count++
		}
	}
	if g < 0 && count > 0 {
		count-- // nothing is on the needle yet: the first group is free
	}
	for _, j := range x.heads {
		if key[j>>6]>>(j&63)&1 == 0 {
			c := x.chain[j]
			if q := n.group[j]; g >= 0 && q >= 0 && q != g {
				c++
			}
			return max(count, c)
		}
	}
	return count
}

func (x *exact) forcedSwitches() {
	n := x.n
	x.chain = make([]int, n.m)
	if n.group == nil {
		return
	}
	groups := 0
	for _, g := range n.group {
		groups = max(groups, g+1)
	}
	x.seen = make([]bool, groups)
	x.chain = n.chains()
	for j := range n.m {
		x.heads = append(x.heads, int32(j))
	}
	sortBy(x.heads, func(a, b int32) bool { return x.chain[a] > x.chain[b] || x.chain[a] == x.chain[b] && a < b })
}

// chains is, for each node, the largest number of changes of group along a
// chain of precedence that begins there.
func (n *network) chains() []int {
	chain := make([]int, n.m)
	done := make([]bool, n.m)
	var visit func(i int)
	visit = func(i int) {
		if done[i] {
			return
		}
		done[i] = true
		for _, j := range n.succs[i] {
			visit(int(j))
			c := chain[j]
			if a, b := n.group[i], n.group[j]; a >= 0 && b >= 0 && a != b {
				c++
			}
			chain[i] = max(chain[i], c)
		}
	}
	for i := range n.m {
		visit(i)
	}
	return chain
}

func (l *layer) grow(size, words int) {
	l.table = make([]int32, size)
	for s := range l.states {
		h := l.hash(l.keys[s*words:(s+1)*words], int(l.states[s].last))
		for l.table[h] != 0 {
			h = (h + 1) & (len(l.table) - 1)
		}
		l.table[h] = int32(s + 1)
	}
}

func (l *layer) hash(key []uint64, last int) int {
	h := uint64(last)*0x9E3779B97F4A7C15 + 1
	for _, w := range key {
		h = (h ^ w) * 0xD6E8FEB86659FD93
		h ^= h >> 32
	}
	return int(h & uint64(len(l.table)-1))
}

// put adds the state reached by adding j to key, or keeps the cheaper.
func (l *layer) put(key []uint64, j int, st state, words int) {
	base := len(l.keys)
	l.keys = append(l.keys, key...)
	mine := l.keys[base:]
	mine[j>>6] |= 1 << (j & 63)
	h := l.hash(mine, j)
probe:
	for ; l.table[h] != 0; h = (h + 1) & (len(l.table) - 1) {
		s := int(l.table[h] - 1)
		old := &l.states[s]
		if old.last != st.last {
			continue
		}
		for k, w := range l.keys[s*words : (s+1)*words] {
			if w != mine[k] {
				continue probe
			}
		}
		if st.cost < old.cost {
			*old = st
		}
		l.keys = l.keys[:base]
		return
	}
	l.states = append(l.states, st)
	l.table[h] = int32(len(l.states))
	if 2*len(l.states) > len(l.table) {
		l.grow(2*len(l.table), words)
	}
}
