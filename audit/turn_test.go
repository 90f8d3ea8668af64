package audit

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// path sews single stitches from hole to hole.
func (s *sketch) path(points ...[2]int) *sketch {
	s.way(points[0][0], points[0][1], max(3, jumpsFor(points[0][0]-s.at.X, points[0][1]-s.at.Y)))
	for _, p := range points {
		s.to(p[0], p[1], stitch.Sew)
	}
	return s
}

// straight is a line of n stitches of 2 mm along x.
func straight(x, y, n int) (points [][2]int) {
	for k := range n + 1 {
		points = append(points, [2]int{x + 20*k, y})
	}
	return points
}

func back(points [][2]int) [][2]int {
	points = slices.Clone(points)
	slices.Reverse(points)
	return points
}

// lock is a tie of small stitches before the points.
func lock(points [][2]int) [][2]int {
	x, y := points[0][0], points[0][1]
	return append([][2]int{{x, y}, {x + 5, y}, {x, y}, {x + 5, y}, {x, y}}, points[1:]...)
}

func TestWhatALineIs(t *testing.T) {
	long := straight(0, 0, 30)
	both := back(lock(back(lock(long))))
	zigzag, crossing := [][2]int{}, append(straight(0, 0, 30), back(straight(300, 100, 15))...)
	for k := range 40 {
		zigzag = append(zigzag, [2]int{2 * k, 30 * (k % 2)})
	}
	crossing = append(crossing, [2]int{200, -100}, [2]int{200, -120}, [2]int{200, -140}, [2]int{200, -160}, [2]int{200, -180},
		[2]int{200, -200}, [2]int{200, -220}, [2]int{200, -240}, [2]int{200, -260}, [2]int{200, -280})
	for _, c := range []struct {
		name   string
		points [][2]int
		want   bool
	}{
		{"a straight line", long, true},
		{"locked at both ends", both, true},
		{"locked where it begins", lock(long), false},
		{"locked where it ends", back(lock(long)), false},
		{"a satin", zigzag, false},
		{"crossing itself", crossing, false},
		{"a corner", append(straight(0, 0, 15), [2]int{300, 20}, [2]int{300, 40}), true},
	} {
		l, err := lay((&sketch{}).path(c.points...).rec, 3)
		if err != nil {
			t.Fatal(err)
		}
		if got := l.line(&l.objects[0]); got != c.want {
			t.Errorf("%s: a line is %v", c.name, got)
		}
		l, _ = lay((&sketch{}).path(back(c.points)...).rec, 3)
		if got := l.line(&l.objects[0]); got != c.want {
			t.Errorf("%s, from the other end: a line is %v", c.name, got)
		}
	}
}

// TestLinesAreSewnFromTheNearerEnd: rows all sewn from the left are best sewn to
// and fro; with a stop that stays between them, none is.
func TestLinesAreSewnFromTheNearerEnd(t *testing.T) {
	sheet := class(t, "single-15-light")
	fro, toAndFro, held := &sketch{}, &sketch{}, &sketch{}
	for k := range 6 {
		row := straight(0, 60*k, 20)
		fro.path(row...)
		if k > 0 {
			held.way(0, 60*k, 20).op(stitch.Stop)
		}
		held.path(row...)
		if k%2 == 1 {
			row = back(row)
		}
		toAndFro.path(row...)
	}
	m, err := Mend(context.Background(), fro.design(), sheet, clock.Job{}, MendOptions{Rounds: 2000})
	if err != nil {
		t.Fatal(err)
	}
	if want := clock.Run(toAndFro.design(), sheet, clock.Job{}).Seconds; m.After.Seconds > want+0.05 {
		t.Errorf("%.2f s after the mend, to and fro it is %.2f s: %+v", m.After.Seconds, want, m.Changes)
	}
	if m.Proof.Before != m.Proof.After || m.Proof.StitchesDropped != 0 {
		t.Errorf("proof: %+v", m.Proof)
	}
	if m, err = Mend(context.Background(), held.design(), sheet, clock.Job{}, MendOptions{Rounds: 2000}); err != nil || m.Changed() {
		t.Errorf("with stops between: %v, %+v", err, m.Changes)
	}
}

// TestATurnedLineGoesOnWhereTheOtherEnded: two lines side by side that end in one
// hole are one after the second is turned, with no cut between. What they make
// together is no line, so the proof takes them apart.
func TestATurnedLineGoesOnWhereTheOtherEnded(t *testing.T) {
	there, beside := straight(0, 0, 20), straight(0, 3, 20)
	beside[20] = [2]int{400, 0}
	d := (&sketch{}).path(there...).path(beside...).design()
	m, err := Mend(context.Background(), d, class(t, "single-15-light"), clock.Job{}, MendOptions{Rounds: 2000})
	if err != nil {
		t.Fatal(err)
	}
	if m.After.Trims != 0 || m.Before.Trims != 1 || m.Proof.Err() != nil || m.Proof.StitchesDropped != 1 { // the second into their hole
		t.Errorf("%d trims, were %d; %+v; %+v", m.After.Trims, m.Before.Trims, m.Proof, m.Changes)
	}
	// What is said of the whole is of the mended file, point for point.
	other := *m.Design
	other.Records = slices.Clone(other.Records)
	last := &other.Records[len(other.Records)-1]
	last.DX++
	if p, err := m.Prove(d, &other); err == nil && p.Before == p.After {
		t.Error("a hole that was moved is not seen")
	}
}

// TestTheProofOfTurnedLinesSeesWhatItShould: lines may be taken from either end,
// and nothing else.
func TestTheProofOfTurnedLinesSeesWhatItShould(t *testing.T) {
	row, column := straight(0, 0, 20), [][2]int{}
	for k := range 20 {
		column = append(column, [2]int{210, 20*k - 190})
	}
	corner := append(straight(0, 50, 10), [2]int{200, 70}, [2]int{200, 90})
	satin := [][2]int{}
	for k := range 40 {
		satin = append(satin, [2]int{2 * k, 300 + 30*(k%2)})
	}
	draw := func(paths ...[][2]int) *stitch.Design {
		s := &sketch{}
		for _, p := range paths {
			s.path(p...)
		}
		return s.design()
	}
	for _, c := range []struct {
		name string
		a, b *stitch.Design
		same bool
	}{
		{"a line from its other end", draw(row), draw(back(row)), true},
		{"a corner from its other end", draw(corner), draw(back(corner)), true},
		{"one of two that cross", draw(row, column), draw(row, back(column)), true},
		{"two that cross, the lower on top", draw(row, column), draw(back(column), row), false},
		{"a satin from its other end", draw(satin), draw(back(satin)), false},
		{"a stitch moved", draw(row), draw(back(append(straight(0, 0, 19), [2]int{400, 1}))), false},
		{"a stitch less", draw(row), draw(back(row[:20])), false},
	} {
		p, err := prove(c.a, c.b, []int{0}, []int{0}, 3, true)
		if err != nil {
			t.Fatal(err)
		}
		if same := p.Before == p.After; same != c.same {
			t.Errorf("%s: the same picture is %v", c.name, same)
		}
		if strict, _ := Prove(c.a, c.b, []int{0}, []int{0}, 3); strict.Before == strict.After {
			t.Errorf("%s: nothing was turned for the proof without", c.name)
		}
	}
}

// TestTurnsAreTheBestForTheirOrder tries every way to turn the lines of an order.
func TestTurnsAreTheBestForTheirOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(91, 92))
	for _, id := range []string{"single-15-light", "home-1", "multi-12"} {
		sheet := class(t, id)
		for range 8 {
			s := &sketch{}
			const n = 6
			for k := range n {
				if k == 3 {
					s.op(stitch.ColourStop)
				}
				row := straight(200*rng.IntN(8), 100*k, 4+rng.IntN(20))
				if rng.IntN(4) == 0 {
					row = lock(row)
				}
				s.path(row...)
			}
			l, err := lay(s.rec, 3)
			if err != nil {
				t.Fatal(err)
			}
			p := &orders{l: l, touch: newPairs(n), clock: clock.New(sheet, clock.Job{}), sheet: sheet, threads: []int{0, 1}, most: 100}
			ends := newTurns(p)
			if ends == nil {
				continue
			}
			order := append(rng.Perm(3), 3, 4, 5)
			run := func(which []bool) float64 {
				return clock.Run(&stitch.Design{Records: l.turn(which).rebuild(order, p.threads, p.build).rec}, sheet, clock.Job{}).Seconds
			}
			which, _ := ends.best(order)
			got, least := run(which), run(make([]bool, n))
			for set := range 1 << n {
				try, ok := make([]bool, n), true
				for k := range try {
					try[k] = set>>k&1 == 1
					ok = ok && (!try[k] || ends.may[k])
				}
				if ok {
					least = min(least, run(try))
				}
			}
			if got > least+1e-6 {
				t.Errorf("%s: %.6f s, another way to turn them takes %.6f s", id, got, least)
			}
		}
	}
}

// late is a context whose time was up before anything began.
type late struct{ context.Context }

func (late) Err() error { return context.DeadlineExceeded }

// TestAMendGoesOnUntilNothingMoreIsSaved: lines that end in one hole,
// struck more than once, become one after a turn; the strikes are then for nothing
// and go too, also where the time was up.
func TestAMendGoesOnUntilNothingMoreIsSaved(t *testing.T) {
	s := &sketch{}
	for k := range 6 {
		row := straight(0, 3*k, 20)
		if k%2 == 1 {
			row[20] = [2]int{400, 3 * (k - 1)}
		}
		row = append([][2]int{row[0], row[0], row[0]}, row...) // three more into the first hole, and the last
		row = append(row, row[len(row)-1], row[len(row)-1], row[len(row)-1])
		s.path(row...)
	}
	sheet := class(t, "single-15-1200")
	for name, ctx := range map[string]context.Context{"in time": t.Context(), "late": late{t.Context()}} {
		m, err := Mend(ctx, s.design(), sheet, clock.Job{}, MendOptions{Rounds: 2000})
		if err != nil {
			t.Fatal(err)
		}
		kinds := map[string]bool{}
		for _, c := range m.Changes {
			kinds[c.Kind] = true
		}
		if !kinds[ChangeTurn] || !kinds[ChangeHoles] {
			t.Errorf("%s: %+v", name, m.Changes)
		}
		n, err := Mend(t.Context(), m.Design, sheet, clock.Job{}, MendOptions{Rounds: 2000})
		if err != nil || n.Saved() > leastPass {
			t.Errorf("%s: mended again saves %v s: %+v, %v", name, n.Saved(), n.Changes, err)
		}
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	m, err := Mend(gone, s.design(), sheet, clock.Job{}, MendOptions{Rounds: 2000})
	if err != nil || len(m.Changes) != 1 {
		t.Errorf("nobody waits, and all was done: %+v, %v", m.Changes, err)
	}
}

// What two rounds did is one change: stitches add up, in order; objects that were
// ordered twice are those objects.
func TestChangesOfTwoRoundsAreOne(t *testing.T) {
	m := &mender{Mended: &Mended{}}
	m.add(Change{Kind: ChangeOrder, Count: 5, Seconds: 2})
	m.add(Change{Kind: ChangeHoles, Count: 2, Stitches: []int{9, 4}, Seconds: 1})
	m.add(Change{Kind: ChangeOrder, Count: 4, Seconds: 1})
	m.add(Change{Kind: ChangeHoles, Count: 1, Stitches: []int{6}, Seconds: 1})
	if len(m.Changes) != 2 || m.Changes[0].Count != 5 || m.Changes[0].Seconds != 3 || m.Changes[1].Count != 3 ||
		!slices.Equal(m.Changes[1].Stitches, []int{4, 6, 9}) {
		t.Errorf("%+v", m.Changes)
	}
}
