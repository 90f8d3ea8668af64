package audit

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// upright is a line of n stitches of 2 mm along y.
func upright(x, y, n int) (points [][2]int) {
	for k := range n + 1 {
		points = append(points, [2]int{x, y + 20*k})
	}
	return points
}

// lockedRow is a row of n stitches of 2 mm with lock stitches before each of the
// stitches named.
func lockedRow(x, y, n int, at ...int) (points [][2]int) {
	for k, p := range straight(x, y, n) {
		points = append(points, p)
		if slices.Contains(at, k) {
			for range 3 {
				points = append(points, [2]int{p[0] + 5, y}, p)
			}
		}
	}
	return points
}

// woven is a row that begins under a column of the other thread and ends over
// one, before a last line of its own over the first column.
func woven(at ...int) *stitch.Design {
	s := &sketch{}
	s.path(lock(back(lock(upright(300, -100, 10))))...).op(stitch.ColourStop)
	s.path(lock(back(lock(back(lockedRow(0, 0, 20, at...)))))...).op(stitch.ColourStop)
	s.path(lock(upright(100, -100, 10))...).op(stitch.ColourStop)
	s.path(lock(straight(0, 60, 10))...)
	return s.design()
}

// TestAnObjectIsCutWhereAnotherThreadMustPass: three colour stops become two,
// where the row has lock stitches between the columns and nowhere else.
func TestAnObjectIsCutWhereAnotherThreadMustPass(t *testing.T) {
	threads := []int{1, 0, 1, 0}
	for _, c := range []struct {
		name  string
		d     *stitch.Design
		stops int
	}{
		{"locked between", woven(10), 2}, {"locked nowhere", woven(), 3}, {"locked under both", woven(2), 3},
		{"locked over both", woven(18), 3},
	} {
		m, err := Mend(context.Background(), c.d, class(t, "home-1"), clock.Job{}, MendOptions{Threads: threads, Rounds: 2000})
		if err != nil {
			t.Fatal(err)
		}
		if m.After.ColourStops != c.stops {
			t.Errorf("%s: %d colour stops, want %d: %+v", c.name, m.After.ColourStops, c.stops, m.Changes)
		}
		cut := slices.ContainsFunc(m.Changes, func(c Change) bool { return c.Kind == ChangeCut })
		if want := c.stops == 2; cut != want {
			t.Errorf("%s: cut is %v", c.name, cut)
		}
		if p := m.Proof; cut && (p.StitchesAdded != 1 || p.StitchesAfter != p.StitchesBefore-p.StitchesDropped+1) {
			t.Errorf("%s: %+v", c.name, p)
		}
		if n := len(unlockedEnds(t, m.Design)); cut && n > len(unlockedEnds(t, c.d)) {
			t.Errorf("%s: %d ends without lock stitches", c.name, n)
		}
		again, err := Mend(context.Background(), m.Design, class(t, "home-1"), m.Job, MendOptions{Rounds: 2000,
			Threads: threadsOf(threads, m.Blocks)})
		if err != nil || again.Changed() {
			t.Errorf("%s, again: %v, %+v", c.name, err, again.Changes)
		}
	}
	kept, err := Mend(context.Background(), woven(10), class(t, "home-1"), clock.Job{},
		MendOptions{Threads: threads, Rounds: 2000, KeepStops: true})
	if err != nil || kept.Changed() {
		t.Errorf("with all stops kept: %v, %+v", err, kept.Changes)
	}
}

func threadsOf(threads, blocks []int) (of []int) {
	for _, b := range blocks {
		of = append(of, threads[b])
	}
	return of
}

// unlockedEnds are the ends of thread that no lock stitches hold.
func unlockedEnds(t *testing.T, d *stitch.Design) (ends []int) {
	l, err := lay(d.Records, 3)
	if err != nil {
		t.Fatal(err)
	}
	for k := range l.objects {
		for _, end := range []bool{false, true} {
			if !l.lockedAt(&l.objects[k], end) {
				ends = append(ends, k)
			}
		}
	}
	return ends
}

// TestCutsAgreeWithEveryOrder weaves rows and columns at random and tries every
// order of all parts.
func TestCutsAgreeWithEveryOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(101, 102))
	cut := 0
	for n := range 60 {
		sheet := class(t, []string{"single-15-light", "home-1"}[min(n%4, 1)])
		s, threads := &sketch{}, []int{}
		for k := range 4 {
			if k > 0 {
				s.op(stitch.ColourStop)
			}
			threads = append(threads, k%2)
			if k%2 == 0 {
				s.path(lock(back(lock(upright(60+100*rng.IntN(4), -100, 10))))...)
			} else {
				s.path(lock(back(lock(lockedRow(0, 40*rng.IntN(2), 20, 5+rng.IntN(11)))))...)
			}
		}
		if rng.IntN(6) == 0 {
			s.way(s.at.X, s.at.Y+400, 4).op(stitch.Stop).dash(900, 0, 3)
		}
		l, m := stepOf(t, s.design(), threads, sheet)
		before := m.now
		if err := m.cut(context.Background(), l); err != nil {
			t.Fatal(err)
		}
		proof, err := Prove(s.design(), &stitch.Design{Records: m.rec}, threads, m.threadsNow(len(m.blocks)), l.trimAfter)
		if err != nil || proof.Before != proof.After {
			t.Fatalf("design %d: %v, %+v", n, err, proof)
		}
		if m.now < before {
			cut++
		}
		p := m.orders(l)
		parted, _, err := l.part(l.partPlaces(p.touch, p.threads, l.lockedBeside), p.build)
		if err != nil {
			t.Fatal(err)
		}
		m.hold(parted)
		least, how := before, 0
		everyOrder(parted, p.build, func(order []int) {
			r := parted.rebuild(order, threads, p.build)
			if sec := m.seconds(r.rec, r.blocks); sec < least && r.parted > 0 && len(r.blocks) < l.blocks {
				least, how = sec, r.parted
			}
		})
		if m.now > least+1e-6 && before > least+minTurnSaving {
			t.Errorf("design %d on %s: %.4f s with cuts, %.4f s before; another order with %d cuts takes %.4f s", n, sheet.Name,
				m.now, before, how, least)
		}
	}
	if cut < 5 {
		t.Errorf("%d of 60 designs had an object to cut: the test does not test", cut)
	}
}

// TestPlacesPartInEveryWay: for each cut of the row there is a place that leaves the
// same on either half.
func TestPlacesPartInEveryWay(t *testing.T) {
	l, m := stepOf(t, woven(10), []int{1, 0, 1, 0}, class(t, "home-1"))
	p := m.orders(l)
	o := &l.objects[1]
	lines := l.threads()
	halves := func(hole int) (way [8]bool) { // what touches the first half, and the second
		for c := o.First + 1; c < o.Last; c++ {
			a, b := l.holes[c-1], l.holes[c]
			for i := range lines {
				s := line{a.x, a.y, b.x, b.y, 1}
				if k := int(lines[i].object); k != 1 && touch(&s, &lines[i]) {
					way[2*k+min(1, max(0, c-hole))] = true
				}
			}
		}
		return way
	}
	have := map[[8]bool]bool{}
	for _, c := range l.partPlaces(p.touch, p.threads, func(*Object, int) bool { return true }) {
		have[halves(c)] = true
	}
	ways := map[[8]bool]bool{}
	for c := o.First + 1; c < o.Last-1; c++ {
		way := halves(c)
		if free := [2]int{}; !have[way] {
			for k := range way {
				if way[k] {
					free[k%2]++
				}
			}
			if free[0] > 0 && free[1] > 0 {
				t.Errorf("no place parts the row as hole %d does", c)
			}
		}
		ways[way] = true
	}
	if len(ways) < 4 {
		t.Errorf("%d ways to part the row: the test does not test", len(ways))
	}
}

// stepOf is a mend before its first step.
func stepOf(t *testing.T, d *stitch.Design, threads []int, sheet *machine.Sheet) (*layout, *mender) {
	t.Helper()
	l, err := lay(d.Records, sheet.Reading.TrimAfterJumps)
	if err != nil {
		t.Fatal(err)
	}
	m := &mender{Mended: &Mended{threads: threads, trimAfter: l.trimAfter}, sheet: sheet, d: d, old: l, rec: d.Records,
		blocks: identity(l.blocks), holes: identity(len(l.holes))}
	m.now = m.seconds(d.Records, m.blocks)
	m.hold(l)
	return l, m
}

// everyOrder calls f with every order that keeps what touches, and what stands
// before and after a stop.
func everyOrder(l *layout, b build, f func([]int)) {
	n := len(l.objects)
	touch := newGrid(l.threads()).touching(n)
	var order []int
	used := make([]bool, n)
	var next func()
	next = func() {
		if len(order) == n {
			f(order)
			return
		}
		for k := range n {
			may, stays := !used[k], l.fixed(k+1, b) // what stands before a stop that stays
			for j := range n {
				wall := false
				for w := min(j, k) + 1; w <= max(j, k); w++ {
					wall = wall || l.fixed(w, b)
				}
				may = may && (j >= k || used[j] || !touch.has(j, k) && !wall && !stays)
			}
			if may {
				used[k], order = true, append(order, k)
				next()
				used[k], order = false, order[:len(order)-1]
			}
		}
	}
	next()
}
