package audit

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// stopPlaces is where the frame stands at each stop and how many stitches are
// sewn before it, read from bare records.
func stopPlaces(rec []stitch.Record) (all []string) {
	x, y, sewn := 0, 0, 0
	for _, r := range rec {
		if r.Op == stitch.ColourStop || r.Op == stitch.Stop {
			all = append(all, fmt.Sprintf("(%d, %d) after %d", x, y, sewn))
		}
		x += int(r.DX)
		y += int(r.DY)
		if r.Op.Penetrates() {
			sewn++
		}
	}
	return all
}

// cloth is a design that drives the frame out twice for cloth to be laid. Its
// dashes lie so that another order is quicker.
func cloth(outX, outY int) *stitch.Design {
	s := &sketch{}
	s.dash(0, 0, 20).dash(0, 400, 20).dash(0, 100, 20).dash(0, 500, 20).dash(0, 50, 20)
	s.way(outX, outY, 9).op(stitch.ColourStop)
	s.dash(450, 300, 20).dash(0, 200, 20).dash(450, 350, 20).dash(0, 250, 20).dash(450, 250, 20)
	s.way(outX, outY, 9).op(stitch.ColourStop)
	s.dash(0, 300, 20).dash(450, 0, 20).dash(0, 350, 20).dash(450, 50, 20).dash(450, 200, 20)
	return s.design()
}

// A stitch that is set where the frame was driven out, as some controllers do, makes the place no work:
// the stop after it is the operator's like one without it. More of them are.
func TestAStitchAtTheEndOfAFrameOutIsNoWork(t *testing.T) {
	for n := range 6 {
		s := &sketch{}
		s.dash(0, 0, 20).dash(450, 0, 20)
		s.way(425, -800, 9)
		for k := range n {
			s.to(425+5*(k%2), -800, stitch.Sew)
		}
		s.op(stitch.ColourStop)
		s.dash(450, 300, 20).dash(0, 200, 20)
		d := s.design()
		all, err := Stands(d, []int{0, 1}, 3)
		if err != nil || len(all) != 1 {
			t.Fatal(all, err)
		}
		if want := n <= 3; (all[0].Why == WhyAway) != want || want && all[0].Away < 60 {
			t.Errorf("%d stitches there: %+v", n, all[0])
		}
	}
}

// TestAFrameOutIsNeverTouched: the frame is driven out for a hand.
func TestAFrameOutIsNeverTouched(t *testing.T) {
	sheet := class(t, "single-15-1200")
	for _, c := range []struct {
		name       string
		outX, outY int
		threads    []int
	}{
		{"80 mm out, three threads", 0, -800, []int{0, 1, 2}},
		{"80 mm out, one thread", 0, -800, []int{0, 0, 0}},
		{"80 mm out, the first thread returns", 0, -800, []int{0, 1, 0}},
		{"80 mm out, threads unknown", 0, -800, nil},
		{"just outside the sewn area", 400, -10, []int{0, 0, 0}},
		{"to one place in the middle, 10 mm from the work", 425, 150, []int{0, 0, 0}},
	} {
		d := cloth(c.outX, c.outY)
		want := stopPlaces(d.Records)
		for _, o := range []MendOptions{{}, {KeepStops: true}} {
			o.Threads, o.Rounds, o.States = c.threads, 300, 300
			m, err := Mend(context.Background(), d, sheet, clock.Job{}, o)
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			if !m.Changed() || m.Saved() < 0.1 {
				t.Errorf("%s: nothing was mended between the stops", c.name)
			}
			if got := stopPlaces(m.Design.Records); !slices.Equal(got, want) {
				t.Errorf("%s: the stops stand at %v, they stood at %v", c.name, got, want)
			}
			if len(m.Kept) != 2 || m.Kept[0].Why != WhyAway || m.Kept[0].Number != 1 || m.Kept[1].Stitch != 210 {
				t.Errorf("%s: kept %+v", c.name, m.Kept)
			}
			before, after := [2]float64{400, 50}, [2]float64{450, 300} // the stitches beside the first stop, 0.1 mm
			x, y := float64(c.outX), float64(c.outY)
			away := min(math.Hypot(x-before[0], y-before[1]), math.Hypot(x-after[0], y-after[1])) / 10
			if len(m.Kept) > 0 && math.Abs(m.Kept[0].Away-away) > 1e-9 {
				t.Errorf("%s: the first stop stands %v mm away, it is said %v", c.name, away, m.Kept[0].Away)
			}
		}
		_, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Threads: c.threads, Rounds: 10, Release: []int{1}})
		if err == nil || !strings.Contains(err.Error(), "operator's") {
			t.Errorf("%s: a frame-out named to go: %v", c.name, err)
		}
		r, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: c.threads})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range r.Findings {
			if f.Kind == DoubleCut || f.Kind == NoChange || f.Kind == ThreadReturns {
				t.Errorf("%s: the audit finds fault with it: %s", c.name, f.What)
			}
		}
	}
}

// TestOneStopOutsideTheSewnAreaIsTheOperators, however near the work; one inside it
// and near changes the thread.
func TestOneStopOutsideTheSewnAreaIsTheOperators(t *testing.T) {
	for _, c := range []struct {
		y   int
		why Why
	}{{-1, WhyAway}, {0, ""}, {30, ""}, {501, WhyAway}, {500, ""}} {
		first, last := 0, 500
		if c.y < 100 {
			first, last = 500, 0
		}
		s := (&sketch{}).dash(0, first, 20).dash(0, last, 20)
		s.way(400, c.y, 5).op(stitch.ColourStop).dash(450, 250, 20)
		all, err := Stands(s.design(), []int{0, 1}, 3)
		if err != nil || len(all) != 1 || all[0].Why != c.why {
			t.Errorf("y %d: %+v, %v; want %q", c.y, all, err, c.why)
		}
	}
}

// TestOneStopAtTheStartIsTheOperators where the frame was driven back there, though
// it lies among the work; one on the way, or at the next stitch, is not.
func TestOneStopAtTheStartIsTheOperators(t *testing.T) {
	for _, c := range []struct {
		x, y int
		why  Why
	}{{0, 0, WhyAway}, {9, -9, WhyAway}, {60, 0, ""}, {100, 100, ""}} {
		s := (&sketch{}).dash(-300, -300, 20).dash(-100, -150, 20)
		s.way(c.x, c.y, 5).op(stitch.ColourStop).dash(100, 100, 20)
		all, err := Stands(s.design(), []int{0, 1}, 3)
		if err != nil || len(all) != 1 || all[0].Why != c.why {
			t.Errorf("(%d, %d): %+v, %v; want %q", c.x, c.y, all, err, c.why)
		}
	}
}

// TestTwoStopsAtOnePlaceAreTheOperators where the frame was driven there from the work:
// to a millimetre, and never 2 mm from each other. What stands where the next block
// begins was driven to no hand, however many begin there.
func TestTwoStopsAtOnePlaceAreTheOperators(t *testing.T) {
	for _, c := range []struct {
		name    string
		x, y    int
		dx, dy  int // of the second from the first
		atBlock bool
		why     Why
	}{
		{"one place", 200, 250, 0, 0, false, WhyAway},
		{"0.9 mm each way", 200, 250, 9, 9, false, WhyAway},
		{"0.9 mm back over an edge of the grid", 200, 250, -9, -9, false, WhyAway},
		{"1 mm", 209, 259, 10, 0, false, WhyAway},
		{"2 mm", 200, 250, 20, 0, false, ""},
		{"2 mm up", 209, 259, 0, 20, false, ""},
		{"where the next block begins", 200, 250, 0, 0, true, ""},
	} {
		s := (&sketch{}).dash(0, 0, 20).dash(0, 500, 20).dash(200, 150, 5)
		for k := range 2 {
			x, y := c.x+k*c.dx, c.y+k*c.dy
			s.way(x, y, 5).op(stitch.ColourStop)
			if c.atBlock {
				s.dash(x, y, 2)
			}
			s.dash(100, 330+60*k, 5)
		}
		all, err := Stands(s.design(), []int{0, 1, 2}, 3)
		if err != nil || len(all) != 2 || all[0].Why != c.why || all[1].Why != c.why {
			t.Errorf("%s: %+v, %v; want %q", c.name, all, err, c.why)
		}
	}
}

// TestAStopAloneStays: a stop between blocks of one thread, or with nothing sewn
// after it, stays unless it is named.
func TestAStopAloneStays(t *testing.T) {
	sheet := class(t, "single-15-1200")
	s := &sketch{}
	s.dash(0, 0, 20).dash(0, 400, 20).dash(0, 100, 20).op(stitch.ColourStop)
	s.dash(0, 300, 20).dash(0, 150, 20).op(stitch.ColourStop).op(stitch.ColourStop)
	s.dash(0, 200, 20).dash(450, 0, 20).dash(0, 350, 20)
	d := s.design()
	o := MendOptions{Threads: []int{0, 0, 1, 2}, Rounds: 300, States: 300}
	m, err := Mend(context.Background(), d, sheet, clock.Job{}, o)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := stopPlaces(m.Design.Records), stopPlaces(d.Records); !slices.Equal(got, want) {
		t.Errorf("the stops stand at %v, they stood at %v", got, want)
	}
	var why []Why
	for _, k := range m.Kept {
		why = append(why, k.Why)
	}
	if want := []Why{WhyOneThread, WhyNothing, WhyBeside}; !slices.Equal(why, want) {
		t.Errorf("kept because %v, want %v", why, want)
	}
	for _, c := range []struct {
		gone  []int
		stops int
		kept  int
	}{{[]int{1}, 2, 2}, {[]int{2}, 2, 1}, {[]int{1, 2}, 1, 0}} {
		o.Release = c.gone
		m, err := Mend(context.Background(), d, sheet, clock.Job{}, o)
		if err != nil {
			t.Fatal(err)
		}
		if m.After.ColourStops != c.stops || len(m.Kept) != c.kept {
			t.Errorf("%v named: %d stops left and %d kept, want %d and %d", c.gone, m.After.ColourStops, len(m.Kept), c.stops, c.kept)
		}
	}
	o.Release = []int{4}
	if _, err := Mend(context.Background(), d, sheet, clock.Job{}, o); err == nil || !strings.Contains(err.Error(), "has 3 stops") {
		t.Errorf("a fourth stop named: %v", err)
	}
}

// TestATrimIsATrimOnEveryMachine: on machines that want more jumps for a trim no
// trim is lost, and the frame goes the same way.
func TestATrimIsATrimOnEveryMachine(t *testing.T) {
	sheet := class(t, "single-15-1200").Clone()
	rng := rand.New(rand.NewPCG(51, 52))
	for round := range 60 {
		s := &sketch{}
		for range 12 {
			x, y := rng.IntN(600), rng.IntN(600)
			s.way(x, y, max(3+rng.IntN(4), jumpsFor(x-s.at.X, y-s.at.Y)))
			for k := range 8 {
				s.to(x+20*k, y, stitch.Sew)
			}
		}
		d := s.design()
		most := 3 + round%6
		if round%2 == 0 {
			sheet.Travel.Mode = machine.ShaftTravel // where every jump takes a revolution
		} else {
			sheet.Travel.Mode = machine.FrameTravel
		}
		m, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Rounds: 100, States: 100, TrimJumps: most})
		if err != nil {
			t.Fatal(err)
		}
		if !m.Changed() {
			continue
		}
		want := trimsRead(m.Design.Records, 3)
		for jumps := 1; jumps <= most; jumps++ {
			if got := trimsRead(m.Design.Records, jumps); got != want {
				t.Errorf("round %d: %d trims where %d jumps are one, %d where 3 are", round, got, jumps, want)
			}
		}
	}
	// The design's own trims are not made shorter, whatever one of them has.
	s := (&sketch{}).dash(0, 0, 8)
	for _, y := range []int{400, 100, 300, 200, 350, 150, 450, 50, 250, 500, 20} {
		jumps := 7
		if y == 350 {
			jumps = 5
		}
		s.way(0, y, jumps)
		for k := range 8 {
			s.to(20*k, y, stitch.Sew)
		}
	}
	m, err := Mend(context.Background(), s.design(), sheet, clock.Job{}, MendOptions{Rounds: 100, States: 100})
	if err != nil || !m.Changed() || m.TrimJumps != 7 || trimsRead(m.Design.Records, 7) != 11 {
		t.Errorf("changed %v, %d jumps, %d trims, %v", m.Changed(), m.TrimJumps, trimsRead(m.Design.Records, 7), err)
	}
}

// trimsRead counts runs of so many jumps with thread in, from bare records.
func trimsRead(rec []stitch.Record, jumps int) (n int) {
	in, run := false, 0
	for _, r := range rec {
		if r.Op == stitch.Jump {
			if run++; run == jumps && in {
				n++
				in = false
			}
			continue
		}
		run = 0
		in = in && r.Op != stitch.ColourStop && r.Op != stitch.Trim || r.Op.Penetrates()
	}
	return n
}

func TestLengthenedTrimsGoTheSameWay(t *testing.T) {
	for _, way := range [][]stitch.Record{
		{{DX: 100, DY: -3, Op: stitch.Jump}, {DX: 7, DY: 60, Op: stitch.Jump}, {DX: -5, Op: stitch.Jump}},
		{{Op: stitch.Jump}, {Op: stitch.Jump}, {Op: stitch.Jump}},
		{{DX: 1, Op: stitch.Jump}, {DX: 1, Op: stitch.Jump}, {DX: 1, Op: stitch.Jump}},
	} {
		for enough := range 12 {
			got := inSteps(way, enough)
			if len(got) < max(enough, 3) || len(got) > max(enough+1, 3) {
				t.Errorf("%d jumps, want %d", len(got), enough)
			}
			passed := map[stitch.Point]bool{}
			at := stitch.Point{}
			for _, r := range got {
				at = stitch.Point{X: at.X + int(r.DX), Y: at.Y + int(r.DY)}
				passed[at] = true
			}
			end := stitch.Point{}
			for _, r := range way {
				end = stitch.Point{X: end.X + int(r.DX), Y: end.Y + int(r.DY)}
				if !passed[end] {
					t.Errorf("the way %v no longer passes %v: %v", way, end, got)
				}
			}
			if at != end {
				t.Errorf("it ends at %v, not %v", at, end)
			}
		}
	}
}

// TestAMovedStopIsFound: the last check of a mend sees a stop that moved.
func TestAMovedStopIsFound(t *testing.T) {
	d := cloth(0, -800)
	sheet := class(t, "single-15-1200")
	l, err := lay(d.Records, 3)
	if err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(m *mender){
		"moved":     func(m *mender) { m.Kept[1].Y += 0.1 },
		"too early": func(m *mender) { m.Kept[0].Stitch-- },
		"too late":  func(m *mender) { m.Kept[1].Stitch++ },
		"gone":      func(m *mender) { m.Kept = append(m.Kept, m.Kept[1]) },
	} {
		m := &mender{Mended: &Mended{threads: identity(3)}, d: d, rec: d.Records, old: l, sheet: sheet, blocks: identity(3),
			holes: identity(len(l.holes))}
		m.Kept = m.hold(l)
		if err := m.stopsStand(); err != nil {
			t.Fatal(err)
		}
		change(m)
		if err := m.stopsStand(); !errors.Is(err, ErrProof) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestStopsOfRealDesignsStay: by an independent count, no stop that stands more
// than 30 mm from the stitches before and after it, or outside the sewn area,
// moves; with all to be kept none does.
func TestStopsOfRealDesignsStay(t *testing.T) {
	// Source: 131 real stitch files in six formats from public repositories (data beside the project, terms mostly unstated, for checking only).
	sheet := class(t, "single-15-1200")
	away := 0
	for name, d := range realDesigns(t) {
		if len(d.Records) > 6_000 && (testing.Short() || len(d.Records) > 20_000) {
			continue
		}
		threads, _ := ThreadsOf(d, Blocks(d))
		for _, keep := range []bool{false, true} {
			m, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Threads: threads, Rounds: 50, States: 50, KeepStops: keep})
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			before, after := standsIn(d.Records), standsIn(m.Design.Records)
			for _, s := range before {
				if !keep && !s.away {
					continue
				}
				away++
				if !slices.ContainsFunc(after, func(o place) bool { return o.x == s.x && o.y == s.y }) {
					t.Errorf("%s, all kept %v: the stop at (%d, %d) is gone", name, keep, s.x, s.y)
				}
			}
			if keep && len(before) != len(after) {
				t.Errorf("%s: %d stops of %d", name, len(after), len(before))
			}
		}
	}
	t.Logf("%d stops", away)
}

type place struct {
	x, y int
	away bool
}

func standsIn(rec []stitch.Record) (all []place) {
	x, y := 0, 0
	var sewn [][2]int
	var before []int
	for _, r := range rec {
		if r.Op == stitch.ColourStop || r.Op == stitch.Stop {
			all = append(all, place{x: x, y: y})
			before = append(before, len(sewn))
		}
		x, y = x+int(r.DX), y+int(r.DY)
		if r.Op.Penetrates() {
			sewn = append(sewn, [2]int{x, y})
		}
	}
	inX, inY := func(v int) bool { return false }, func(v int) bool { return false }
	if len(sewn) > 0 {
		lo, hi := sewn[0], sewn[0]
		for _, p := range sewn {
			for k := range p {
				lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
			}
		}
		inX, inY = func(v int) bool { return v >= lo[0] && v <= hi[0] }, func(v int) bool { return v >= lo[1] && v <= hi[1] }
	}
	for k := range all {
		s := &all[k]
		d := math.Inf(1)
		for _, i := range []int{before[k] - 1, before[k]} {
			if i >= 0 && i < len(sewn) {
				d = min(d, math.Hypot(float64(s.x-sewn[i][0]), float64(s.y-sewn[i][1])))
			}
		}
		s.away = d > 300 || !inX(s.x) || !inY(s.y)
	}
	return all
}

// TestAnothersTrimKeepsItsJumps: a run that is no trim on the machine at hand is
// written with fewer jumps only if no machine cuts the thread there.
func TestAnothersTrimKeepsItsJumps(t *testing.T) {
	sheet := class(t, "single-15-1200").Clone()
	sheet.Travel.Mode = machine.ShaftTravel // every jump takes a revolution
	s := (&sketch{}).dash(0, 0, 20).way(450, 60, 2)
	for k := range 20 {
		s.to(450+20*k, 60, stitch.Sew)
	}
	d := s.design()
	for _, c := range []struct{ fewest, trims int }{{0, 0}, {3, 0}, {2, 1}, {1, 1}} {
		m, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{FewestJumps: c.fewest, Rounds: 10})
		if err != nil {
			t.Fatal(err)
		}
		if got := trimsRead(m.Design.Records, 2); got != c.trims {
			t.Errorf("fewest %d: %d trims where two jumps are one, want %d", c.fewest, got, c.trims)
		}
	}
}

// Within the sewn area a stop more than 30 mm from the stitches before and after it is
// the operator's, and one outside that area however near; on the very limit it is not.
func TestWhereAStopIsTheOperators(t *testing.T) {
	for _, c := range []struct {
		x, y  int // where the frame stands at the stop, 0.1 mm
		hands bool
	}{
		{400, 300, false}, {400, 301, true}, // from the stitch before
		{700, 1000, false}, {699, 1000, true}, // from the stitch after
		{580, 240, false}, {581, 240, true}, // aslant: 18 and 24 mm are 30 mm
		{420, 0, false}, {420, -1, true}, {0, 30, false}, {-1, 30, true}, // beside the sewn area
		{1400, 980, false}, {1401, 980, true}, {1400, 1000, false}, {1390, 1001, true},
	} {
		s := &sketch{}
		s.dash(0, 0, 20) // ends at (400, 0)
		switch {
		case c.x < 300:
			for x := 380; x >= 0; x -= 20 { // and back, to (0, 20)
				s.to(x, 20, stitch.Sew)
			}
		case c.x > 1200:
			s.dash(1000, 980, 20)
		}
		s.way(c.x, c.y, 9).op(stitch.ColourStop)
		d := s.dash(1000, 1000, 20).design()
		all, err := Stands(d, []int{0, 1}, 3)
		if err != nil || len(all) != 1 {
			t.Fatal(all, err)
		}
		if got := all[0].Why == WhyAway; got != c.hands {
			t.Errorf("a stop at (%.1f, %.1f) mm, %.2f mm from the work: for a hand is %v", all[0].X, all[0].Y, all[0].Away, got)
		}
	}
}
