package sequence

import (
	"context"
	"math"
	"math/rand/v2"
)

// cool is simulated annealing by single exchanges: neighbouring stretches, one
// of them short, change places, so that a node gets one of its cheap next nodes
// as a rule; nothing is improved before it is judged. A step is a few array
// reads and most are refused, so there are millions of them where anneal has
// thousands of rounds. It leaves l as it ends and hands every new best to
// found, which ends the search by returning false.
func (l *local) cool(ctx context.Context, rng *rand.Rand, steps int, hot, cold float64, best *int64,
	found func() bool) bool {
	t, fall := hot, math.Pow(cold/hot, 1/float64(max(1, steps/coolEvery)))
	for k := range steps {
		if k%coolEvery == 0 {
			if ctx.Err() != nil {
				return false
			}
			if k > 0 {
				t *= fall
			}
		}
		mv, worse, ok := l.propose(rng)
		if !ok || worse > 0 && float64(worse) > t*rng.ExpFloat64() {
			continue
		}
		if mv.r >= 0 && !l.mayExchange(int(mv.p), int(mv.q), int(mv.r)) {
			continue
		}
		l.do(mv)
		l.total += worse
		if l.total < *best {
			*best = l.total
			if !found() {
				return false
			}
		}
	}
	return true
}

// coolEvery is how many steps have one temperature.
const coolEvery = 256

// coolLong is the longest short stretch of an exchange.
const coolLong = 30

// propose draws an exchange and says by how much it makes the order dearer.
func (l *local) propose(rng *rand.Rand) (mv move, worse int64, ok bool) {
	m := int32(l.n.m)
	a := l.seq[rng.Int32N(m-1)]
	near := l.near[a]
	if len(near) == 0 {
		return mv, 0, false
	}
	x := near[min(rng.IntN(len(near)), rng.IntN(len(near)))]
	pa, px := l.pos[a], l.pos[x]
	long := 1 + min(rng.Int32N(coolLong), rng.Int32N(coolLong))
	switch {
	case px > pa+1 && px < m-1:
		if l.n.symmetric && rng.IntN(2) == 0 {
			s, d := l.seq[pa+1], l.seq[px+1]
			return move{pa + 1, px, -1}, l.c(a, x) + l.c(s, d) - l.c(a, s) - l.c(x, d), true
		}
		mv = move{pa + 1, px - 1, min(px+long-1, m-2)}
	case px > 0 && px < pa:
		mv = move{px, max(px, pa-long), pa}
	default:
		return mv, 0, false
	}
	seq := l.seq
	p0, b1, bk, c1, ck, d := seq[mv.p-1], seq[mv.p], seq[mv.q], seq[mv.q+1], seq[mv.r], seq[mv.r+1]
	n1, n2, n3 := l.c(p0, c1), l.c(ck, b1), l.c(bk, d)
	if max(n1, n2, n3) >= forbidden {
		return mv, 0, false
	}
	return mv, n1 + n2 + n3 - l.c(p0, b1) - l.c(bk, c1) - l.c(ck, d), true
}
