package audit

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// ring is a closed line of n stitches around (x, y), begun at its stitch first.
func ring(x, y, radius, n, first int) (points [][2]int) {
	for k := range n + 1 {
		a := 2 * math.Pi * float64((k+first)%n) / float64(n)
		points = append(points, [2]int{x + int(float64(radius)*math.Cos(a)), y + int(float64(radius)*math.Sin(a))})
	}
	return points
}

// TestARingBeginsWhereItIsNearest tries every hole of a ring between two lines.
func TestARingBeginsWhereItIsNearest(t *testing.T) {
	rng := rand.New(rand.NewPCG(111, 112))
	began := 0
	for n := range 30 {
		sheet := class(t, []string{"single-15-light", "home-1", "multi-12"}[n%3])
		radius, around := 100+rng.IntN(300), 40+rng.IntN(40)
		at, to := 1000*rng.IntN(3), -900-rng.IntN(400)
		draw := func(first int) *stitch.Design {
			s := (&sketch{}).path(lock(straight(at, -900, 20))...)
			s.path(ring(400, 0, radius, around, first)...)
			if n%2 == 0 {
				s.path(lock(straight(600, to, 20))...)
			}
			return s.design()
		}
		first := rng.IntN(around)
		d := draw(first)
		l, m := stepOf(t, d, []int{0}, sheet)
		before := m.now
		if err := m.rings(context.Background(), l); err != nil {
			t.Fatal(err)
		}
		least := math.Inf(1)
		for k := range around {
			least = min(least, m.seconds(draw(k).Records, m.blocks))
		}
		if m.now > least+minTurnSaving {
			t.Errorf("ring %d: %.4f s, from another hole %.4f s, before %.4f s", n, m.now, least, before)
		}
		if len(m.Changes) == 0 {
			continue
		}
		began++
		after := &stitch.Design{Records: m.rec}
		if p, err := prove(d, after, []int{0}, []int{0}, 3, true); err != nil || p.Before != p.After || p.StitchesDropped != 0 {
			t.Errorf("ring %d: %v, %+v", n, err, p)
		}
		la, _ := lay(m.rec, 3)
		for k, h := range m.holes {
			if was, is := l.holes[h], la.holes[k]; was.x != is.x || was.y != is.y {
				t.Fatalf("ring %d: stitch %d is said to be %d, which lay elsewhere", n, k, h)
			}
		}
	}
	if began < 10 {
		t.Errorf("only %d of 30 rings began elsewhere: the test does not test", began)
	}
}

// TestWhatNoRingIsBeginsWhereItBegan: locked rings, lines that do not close,
// rings of satin, and rings with a stop that stays beside them.
func TestWhatNoRingIsBeginsWhereItBegan(t *testing.T) {
	round := ring(400, 0, 300, 60, 15)
	satin := [][2]int{}
	for k, p := range ring(400, 0, 300, 600, 150) {
		satin = append(satin, p, ring(400, 0, 330, 600, 150)[k])
	}
	for _, c := range []struct {
		name string
		ring [][2]int
		stop bool
		want bool
	}{
		{"a ring", round, false, true}, {"locked at both ends", back(lock(back(lock(round)))), false, false},
		{"locked where it begins", lock(round), false, false}, {"open", round[:58], false, false},
		{"of satin", append(satin, satin[0]), false, false}, {"before a stop that stays", round, true, false},
	} {
		s := (&sketch{}).path(lock(straight(0, -900, 20))...)
		s.path(c.ring...)
		if c.stop {
			s.op(stitch.Stop)
			s.way(0, -1000, 20).op(stitch.Stop)
		}
		s.path(lock(straight(600, -900, 20))...)
		l, step := stepOf(t, s.design(), []int{0}, class(t, "home-1"))
		if may := l.mayStartAnywhere(1, step.orders(l).build); may != c.want {
			t.Errorf("%s: it may begin anywhere is %v", c.name, may)
		}
		m, err := Mend(context.Background(), s.design(), class(t, "home-1"), clock.Job{}, MendOptions{Rounds: 500})
		if err != nil {
			t.Fatal(err)
		}
		if got := slices.ContainsFunc(m.Changes, func(c Change) bool { return c.Kind == ChangeRing }); got != c.want {
			t.Errorf("%s: begun elsewhere is %v: %+v", c.name, got, m.Changes)
		}
	}
}
