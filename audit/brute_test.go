package audit

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// drawnLine is an object of a design that the test writes by itself: a thread and the
// places of its holes, 0.1 mm.
type drawnLine struct {
	thread int
	holes  []stitch.Point
}

// apart is the distance of two lines' threads, 0.1 mm, the long way.
func (a drawnLine) apart(b drawnLine) float64 {
	toPiece := func(p, a, b stitch.Point) float64 {
		dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
		t := (float64(p.X-a.X)*dx + float64(p.Y-a.Y)*dy) / (dx*dx + dy*dy)
		t = max(0, min(1, t))
		return math.Hypot(float64(p.X-a.X)-t*dx, float64(p.Y-a.Y)-t*dy)
	}
	side := func(a, b, c stitch.Point) int { return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X) }
	opposite := func(a, b int) bool { return a < 0 && b > 0 || a > 0 && b < 0 }
	least := math.Inf(1)
	for i := 1; i < len(a.holes); i++ {
		for k := 1; k < len(b.holes); k++ {
			p, q, r, s := a.holes[i-1], a.holes[i], b.holes[k-1], b.holes[k]
			if opposite(side(p, q, r), side(p, q, s)) && opposite(side(r, s, p), side(r, s, q)) {
				return 0
			}
			least = min(least, toPiece(p, r, s), toPiece(q, r, s), toPiece(r, p, q), toPiece(s, p, q))
		}
	}
	return least
}

// written are the records of lines in an order: trims of so many jumps or of a record,
// and none where a thread goes on in its hole, if join says so.
func written(lines []drawnLine, order []int, join bool, jumps int, explicit bool) (rec []stitch.Record) {
	at := stitch.Point{}
	put := func(op stitch.Op, p stitch.Point) {
		rec = append(rec, stitch.Record{DX: int16(p.X - at.X), DY: int16(p.Y - at.Y), Op: op})
		at = p
	}
	way := func(to stitch.Point, n int) {
		from, far := at, max(to.X-at.X, at.X-to.X, to.Y-at.Y, at.Y-to.Y)
		for n = max(n, (far+120)/121); n > 0; n-- {
			put(stitch.Jump, stitch.Point{X: at.X + (to.X-at.X)/n, Y: at.Y + (to.Y-at.Y)/n})
		}
		if far == 0 && at != from {
			panic("the way ends elsewhere")
		}
	}
	for k, i := range order {
		l := lines[i]
		switch {
		case k == 0:
			way(l.holes[0], 0)
		case lines[order[k-1]].thread != l.thread:
			put(stitch.ColourStop, at)
			way(l.holes[0], 0)
		case join && at == l.holes[0]:
			for _, p := range l.holes[1:] {
				put(stitch.Sew, p)
			}
			continue
		case explicit:
			put(stitch.Trim, at)
			way(l.holes[0], 0)
		default:
			way(l.holes[0], jumps)
		}
		for _, p := range l.holes {
			put(stitch.Sew, p)
		}
	}
	return rec
}

// allOrders calls f with each order of the lines in which those that touch keep theirs.
func allOrders(lines []drawnLine, f func(order []int)) {
	before := make([]int, len(lines))
	for i := range lines {
		for k := range i {
			if lines[k].apart(lines[i]) <= 4 {
				before[i] |= 1 << k
			}
		}
	}
	var next func(order []int, sewn int)
	next = func(order []int, sewn int) {
		if len(order) == len(lines) {
			f(order)
			return
		}
		for i := range lines {
			if sewn>>i&1 == 0 && before[i]&^sewn == 0 {
				next(append(order, i), sewn|1<<i)
			}
		}
	}
	next(nil, 0)
}

// Small designs in every order there is, written and clocked by the test: none that
// is called the best is beaten, and none takes less than the bound. Many of the lines begin
// in the hole in which another ends; machines travel by frame and by shaft, go home or do
// not, and trim for nothing or dearly. The listed seeds once were beaten: by an order that was left before
// lines were turned, by a way home reckoned in jumps, by threads joined too early, by
// stitches dropped later, and by ramps that go where a thread is not cut.
func TestNoOrderOfAllBeatsTheBest(t *testing.T) {
	type seed [2]uint64
	seeds := []seed{{13, 5}, {87, 5}, {217, 5}, {243, 5}, {289, 5}, {342, 5}, {375, 5}, {457, 5}, {474, 5}, {565, 5}, {171, 6},
		{397, 6}, {494, 6}, {545, 6}}
	more := uint64(300)
	if testing.Short() {
		more = 20
	}
	for k := range more {
		seeds = append(seeds, seed{k, 5 + k%2})
	}
	proved := 0
	for _, seed := range seeds {
		rng := rand.New(rand.NewPCG(seed[0], seed[1]))
		n, threads, span := 3+rng.IntN(5), 1+rng.IntN(3), 100+rng.IntN(900)
		var lines []drawnLine
		for range n {
			l := drawnLine{thread: rng.IntN(threads)}
			x, y := rng.IntN(span), rng.IntN(span)
			if len(lines) > 0 && rng.IntN(2) == 0 {
				ends := lines[rng.IntN(len(lines))].holes
				x, y = ends[len(ends)-1].X, ends[len(ends)-1].Y
			}
			dx, dy := rng.IntN(41)-20, rng.IntN(41)-20
			if dx*dx+dy*dy < 100 {
				dx = 15
			}
			for k := range 12 + rng.IntN(8) {
				l.holes = append(l.holes, stitch.Point{X: x + dx*k, Y: y + dy*k})
			}
			lines = append(lines, l)
		}
		explicit := rng.IntN(3) == 0
		s := class(t, "single-15-light").Clone()
		if rng.IntN(3) == 0 {
			s.Travel.Mode = machine.ShaftTravel
		}
		s.Travel.ReturnToStart = rng.IntN(3) == 0
		s.Rest.Trim = map[uint64][]float64{5: {0.2, 4, 10}, 6: {0, 0.2, 4}}[seed[1]][rng.IntN(3)]
		s.Rest.ColourStop = []float64{0.5, 7.5, 40}[rng.IntN(3)]
		d := &stitch.Design{Records: written(lines, identity(n), false, 3, explicit)}
		var of []int // the thread of each block
		for k, l := range lines {
			if k == 0 || lines[k-1].thread != l.thread {
				of = append(of, l.thread)
			}
		}
		m, err := Mend(context.Background(), d, s, clock.Job{}, MendOptions{Threads: of, Rounds: 3000, Seed: 1})
		if err != nil {
			t.Fatalf("seed %v: %v", seed, err)
		}
		c, best, in := clock.New(s, clock.Job{}), math.Inf(1), []int(nil)
		allOrders(lines, func(order []int) {
			if takes := c.Seconds(written(lines, order, true, m.TrimJumps, explicit)); takes < best {
				best, in = takes, slices.Clone(order)
			}
		})
		if best < m.Bound()-1e-3 {
			t.Errorf("seed %v: no order is said to take under %.3f s, and %v takes %.3f s", seed, m.Bound(), in, best)
		}
		if m.Search.Optimal && !m.ColoursStay {
			proved++
			if best < m.After.Seconds-1e-3 {
				t.Errorf("seed %v: %.3f s is said to be the best, and the order %v takes %.3f s", seed, m.After.Seconds, in, best)
			}
		}
	}
	if 10*proved < 6*len(seeds) {
		t.Errorf("%d of %d proved: little was held to anything", proved, len(seeds))
	}
}
