package sequence

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
)

func sortBy(s []int32, less func(a, b int32) bool) {
	sort.Slice(s, func(a, b int) bool { return less(s[a], s[b]) })
}

// local is a local search over sequences that keep every precedence. Its moves
// are exchanges of two neighbouring stretches, which turn nothing round, and
// where nothing forbids it the turning of a stretch.
type local struct {
	n     *network
	seq   []int32
	pos   []int32
	near  [][]int32 // cheap next nodes of each node
	nearR [][]int32 // cheap previous nodes, for turning moves only
	total int64
	queue []int32
	inQ   []bool
	log   []move // what was done since the last mark
	buf   []int32
	reach int // how far a stretch may grow beyond its ends
}

// move exchanges seq[p…q] with seq[q+1…r]; r < 0 turns seq[p…q] round.
type move struct{ p, q, r int32 }

const neighbours = 12

func newLocal(n *network, seq []int32) *local {
	l := &local{n: n, seq: append([]int32(nil), seq...), pos: make([]int32, n.m), inQ: make([]bool, n.m), reach: n.m}
	if n.m > 600 {
		l.reach = 300
	}
	for k, i := range l.seq {
		l.pos[i] = int32(k)
	}
	l.total = n.length(l.seq)
	l.near = n.neighbours(n.cost)
	if n.symmetric {
		back := make([]int32, len(n.cost))
		for k, c := range n.cost {
			back[k%n.m*n.m+k/n.m] = c
		}
		l.nearR = n.neighbours(back)
	}
	return l
}

// from begins anew at a sequence.
func (l *local) from(seq []int32, total int64) {
	copy(l.seq, seq)
	for k, i := range l.seq {
		l.pos[i] = int32(k)
	}
	l.total = total
}

// neighbours are the cheapest nodes of each by a matrix of costs, the cheapest first.
func (n *network) neighbours(cost []int32) [][]int32 {
	near := make([][]int32, n.m)
	all := make([]int32, n.m*neighbours)
	for i := range near {
		list, row := all[i*neighbours:i*neighbours:(i+1)*neighbours], cost[i*n.m:(i+1)*n.m]
		most := int32(forbidden) // what a node must cost less than
		for j, c := range row {
			if c >= most {
				continue
			}
			if len(list) < neighbours {
				list = append(list, 0)
			}
			k := len(list) - 1
			for ; k > 0 && row[list[k-1]] > c; k-- {
				list[k] = list[k-1]
			}
			list[k] = int32(j)
			if len(list) == neighbours {
				most = row[list[neighbours-1]]
			}
		}
		near[i] = list
	}
	return near
}

func (l *local) c(i, j int32) int64 { return int64(l.n.cost[int(i)*l.n.m+int(j)]) }

func (l *local) push(i int32) {
	if !l.inQ[i] {
		l.inQ[i] = true
		l.queue = append(l.queue, i)
	}
}

// descend applies improving moves until there is none.
func (l *local) descend(ctx context.Context) {
	for n := 0; len(l.queue) > 0; n++ {
		if n&63 == 0 && ctx.Err() != nil {
			for _, i := range l.queue {
				l.inQ[i] = false
			}
			l.queue = l.queue[:0]
			return
		}
		a := l.queue[len(l.queue)-1]
		l.queue = l.queue[:len(l.queue)-1]
		l.inQ[a] = false
		for l.improve(a) {
		}
	}
}

// improve looks for the best move that gives node a a cheaper next node.
func (l *local) improve(a int32) bool {
	pa := l.pos[a]
	m := int32(l.n.m)
	if pa == m-1 {
		return false
	}
	s := l.seq[pa+1]
	old := l.c(a, s)
	best, at := int64(0), move{}
	for _, x := range l.near[a] {
		gain := old - l.c(a, x)
		if gain <= 0 {
			break
		}
		px := l.pos[x]
		switch {
		case px > pa+1:
			l.forward(pa, px, gain, &best, &at)
			l.backward(pa, px, gain, &best, &at)
			if l.n.symmetric && px < m-1 {
				// a s … x d → a x … s d
				if d := gain + l.c(x, l.seq[px+1]) - l.c(s, l.seq[px+1]); d > best {
					best, at = d, move{pa + 1, px, -1}
				}
			}
		case px > 0 && px < pa:
			l.between(pa, px, gain, &best, &at)
		}
	}
	if l.n.symmetric && pa > 0 {
		l.turnBefore(a, &best, &at)
	}
	if best <= 0 {
		return false
	}
	l.apply(at)
	l.total -= best
	return true
}

// turnBefore is the turning move seen from the other end, a cheaper previous
// node for a: e [x … p] a → e [p … x] a.
func (l *local) turnBefore(a int32, best *int64, at *move) {
	pa := l.pos[a]
	p := l.seq[pa-1]
	old := l.c(p, a)
	for _, x := range l.nearR[a] {
		gain := old - l.c(x, a)
		if gain <= 0 {
			break
		}
		if px := l.pos[x]; px > 0 && px < pa-1 {
			e := l.seq[px-1]
			if d := gain + l.c(e, x) - l.c(e, p); d > *best {
				*best, *at = d, move{px, pa - 1, -1}
			}
		}
	}
}

// forward: a [s … bk][x … ck] d → a [x … ck][s … bk] d for every ck.
func (l *local) forward(pa, px int32, gain int64, best *int64, at *move) {
	seq := l.seq
	b1, bk := seq[pa+1], seq[px-1]
	gain += l.c(bk, seq[px])
	end := min(int32(l.n.m)-2, px+int32(l.reach))
	for r := px; r <= end; r++ {
		ck := seq[r]
		for _, q := range l.n.preds[ck] {
			if k := l.pos[q]; k > pa && k < px {
				return
			}
		}
		d := seq[r+1]
		if g := gain + l.c(ck, d) - l.c(ck, b1) - l.c(bk, d); g > *best {
			*best, *at = g, move{pa + 1, px - 1, r}
		}
	}
}

// backward: p0 [b1 … a][s … ck] x → p0 [s … ck][b1 … a] x for every b1.
func (l *local) backward(pa, px int32, gain int64, best *int64, at *move) {
	seq := l.seq
	c1, ck := seq[pa+1], seq[px-1]
	gain += l.c(ck, seq[px])
	end := max(1, pa-int32(l.reach))
	for p := pa; p >= end; p-- {
		b1 := seq[p]
		for _, q := range l.n.succs[b1] {
			if k := l.pos[q]; k > pa && k < px {
				return
			}
		}
		p0 := seq[p-1]
		if g := gain + l.c(p0, b1) - l.c(p0, c1) - l.c(ck, b1); g > *best {
			*best, *at = g, move{p, pa, px - 1}
		}
	}
}

// between: p0 [x … bk][c1 … a] d → p0 [c1 … a][x … bk] d for every cut.
func (l *local) between(pa, px int32, gain int64, best *int64, at *move) {
	seq := l.seq
	p0, d, b1 := seq[px-1], seq[pa+1], seq[px]
	gain += l.c(p0, b1)
	reach := px
	for q := px; q < pa; q++ {
		bk := seq[q]
		for _, s := range l.n.succs[bk] {
			if k := l.pos[s]; k <= pa && k > reach {
				reach = k
			}
		}
		if reach == pa {
			return
		}
		if reach > q {
			continue
		}
		c1 := seq[q+1]
		if g := gain + l.c(bk, c1) - l.c(p0, c1) - l.c(bk, d); g > *best {
			*best, *at = g, move{px, q, pa}
		}
	}
}

func (l *local) apply(mv move) {
	l.log = append(l.log, mv)
	l.do(mv)
	for _, k := range [...]int32{mv.p - 1, mv.p, mv.q, mv.q + 1, mv.r, mv.r + 1, mv.p + mv.r - mv.q - 1, mv.p +
		mv.r - mv.q} {
		if k >= 0 && int(k) < len(l.seq) {
			l.push(l.seq[k])
		}
	}
}

func (l *local) do(mv move) {
	if mv.r < 0 {
		for i, j := mv.p, mv.q; i < j; i, j = i+1, j-1 {
			l.seq[i], l.seq[j] = l.seq[j], l.seq[i]
		}
		for k := mv.p; k <= mv.q; k++ {
			l.pos[l.seq[k]] = k
		}
		return
	}
	b, c := l.seq[mv.p:mv.q+1], l.seq[mv.q+1:mv.r+1]
	if len(b) <= len(c) {
		l.buf = append(l.buf[:0], b...)
		copy(l.seq[mv.p:], c)
		copy(l.seq[int(mv.p)+len(c):], l.buf)
	} else {
		l.buf = append(l.buf[:0], c...)
		copy(l.seq[int(mv.p)+len(c):mv.r+1], b)
		copy(l.seq[mv.p:], l.buf)
	}
	for k := mv.p; k <= mv.r; k++ {
		l.pos[l.seq[k]] = k
	}
}

// undo takes back everything since the last mark.
func (l *local) undo() {
	for k := len(l.log) - 1; k >= 0; k-- {
		mv := l.log[k]
		if mv.r >= 0 {
			mv.q = mv.p + mv.r - mv.q - 1
		}
		l.do(mv)
	}
	l.log = l.log[:0]
}

// shakeLong is the longest stretch a shake moves: short ones disturb little, so
// that most of what was found stays. Found on the published instances.
const shakeLong = 16

// shake exchanges two short neighbouring stretches at a random place; it
// reports whether it found any it may exchange.
func (l *local) shake(rng *rand.Rand) bool {
	m := l.n.m
	inner := m - 2
	if inner < 2 {
		return false
	}
	long := min(shakeLong, max(min(inner-1, 6), inner/3))
	for range 30 {
		nb, nc := 1+rng.IntN(long), 1+rng.IntN(long)
		if nb+nc > inner {
			continue
		}
		p := 1 + rng.IntN(inner-nb-nc+1)
		q, r := p+nb-1, p+nb+nc-1
		if !l.mayExchange(p, q, r) {
			continue
		}
		a, b1, bk, c1, ck, d := l.seq[p-1], l.seq[p], l.seq[q], l.seq[q+1], l.seq[r], l.seq[r+1]
		n1, n2, n3 := l.c(a, c1), l.c(ck, b1), l.c(bk, d)
		if max(n1, n2, n3) >= forbidden {
			continue
		}
		l.total += n1 + n2 + n3 - l.c(a, b1) - l.c(bk, c1) - l.c(ck, d)
		l.apply(move{int32(p), int32(q), int32(r)})
		return true
	}
	return false
}

func (l *local) mayExchange(p, q, r int) bool {
	for k := q + 1; k <= r; k++ {
		for _, i := range l.n.preds[l.seq[k]] {
			if at := int(l.pos[i]); at >= p && at <= q {
				return false
			}
		}
	}
	return true
}

// anneal shakes and descends for a number of rounds, accepting worse
// sequences with a temperature that falls to nothing, and hands every new best
// to found, which ends the search by returning false.
func (l *local) anneal(ctx context.Context, rng *rand.Rand, rounds int, hot float64, best *int64,
	found func() bool) bool {
	for k := range rounds {
		if k&15 == 0 && ctx.Err() != nil {
			return false
		}
		before := l.total
		l.log = l.log[:0]
		if !l.shake(rng) {
			continue
		}
		l.descend(ctx)
		worse := float64(l.total - before)
		if worse > 0 {
			t := hot * (1 - float64(k)/float64(rounds))
			if t <= 0 || rng.Float64() >= math.Exp(-worse/t) {
				l.undo()
				l.total = before
				continue
			}
		}
		if l.total < *best {
			*best = l.total
			if !found() {
				return false
			}
		}
	}
	return true
}
