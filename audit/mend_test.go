package audit

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// sketch builds designs for tests.
type sketch struct {
	rec []stitch.Record
	at  stitch.Point
}

func (s *sketch) to(x, y int, op stitch.Op) *sketch {
	s.rec = append(s.rec, stitch.Record{DX: int16(x - s.at.X), DY: int16(y - s.at.Y), Op: op})
	s.at = stitch.Point{X: x, Y: y}
	return s
}

// way travels in n jumps.
func (s *sketch) way(x, y, n int) *sketch {
	for ; n > 0; n-- {
		s.to(s.at.X+(x-s.at.X)/n, s.at.Y+(y-s.at.Y)/n, stitch.Jump)
	}
	return s
}

func (s *sketch) op(op stitch.Op) *sketch { return s.to(s.at.X, s.at.Y, op) }

// dash sews a short line of n stitches of 2 mm along x from (x, y).
func (s *sketch) dash(x, y, n int) *sketch {
	s.way(x, y, max(3, jumpsFor(x-s.at.X, y-s.at.Y)))
	for k := range n + 1 {
		s.to(x+20*k, y, stitch.Sew)
	}
	return s
}

func (s *sketch) design() *stitch.Design { return &stitch.Design{Format: "dst", Records: s.rec} }

// noise is any records at all, in the proportions of files.
func noise(rng *rand.Rand, n int) []stitch.Record {
	rec := make([]stitch.Record, 0, n)
	for len(rec) < n {
		d := func(most int) int16 { return int16(rng.IntN(2*most+1) - most) }
		switch k := rng.IntN(40); {
		case k < 24:
			rec = append(rec, stitch.Record{DX: d(30), DY: d(30), Op: stitch.Sew})
		case k < 27:
			rec = append(rec, stitch.Record{DX: d(3), DY: 0, Op: stitch.Sew})
		case k < 29:
			rec = append(rec, stitch.Record{Op: stitch.Sew})
		case k < 35:
			for range 1 + rng.IntN(5) {
				rec = append(rec, stitch.Record{DX: d(60), DY: d(60), Op: stitch.Jump})
			}
		case k < 37:
			rec = append(rec, stitch.Record{DX: d(5), DY: d(5), Op: stitch.ColourStop})
		case k < 38:
			rec = append(rec, stitch.Record{DX: d(5), DY: d(5), Op: stitch.Trim})
		case k < 39:
			rec = append(rec, stitch.Record{DX: d(5), DY: d(5), Op: stitch.Stop})
		default:
			rec = append(rec, stitch.Record{DX: d(20), DY: d(20), Op: stitch.Sequin})
		}
	}
	return rec
}

// TestMendOfAnythingIsSafe mends rubbish: whatever comes in, the picture, the
// listed stitches and the clock hold, and nothing panics.
func TestMendOfAnythingIsSafe(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	sheets := machine.Classes()
	changed := 0
	for k := range 250 {
		d := &stitch.Design{Records: noise(rng, rng.IntN(250))}
		sheet := sheets[k%len(sheets)].Clone()
		sheet.Reading.TrimAfterJumps = 1 + rng.IntN(5)
		if rng.IntN(2) == 0 {
			sheet.Travel.Mode = machine.ShaftTravel
		}
		sheet.Travel.ReturnToStart = rng.IntN(2) == 0
		sheet.Frame.Turn = float64(rng.IntN(3))
		threads := make([]int, Blocks(d))
		for i := range threads {
			threads[i] = rng.IntN(3)
		}
		if rng.IntN(3) == 0 {
			threads = nil
		}
		m, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Threads: threads, Rounds: 200, States: 500, Seed: uint64(k)})
		if err != nil {
			t.Fatalf("design %d: %v", k, err)
		}
		if m.Changed() {
			changed++
		}
		if m.After.Seconds > m.Before.Seconds || m.Proof.Before != m.Proof.After {
			t.Fatalf("design %d: %+v", k, m.Proof)
		}
		if m.After.Stops != m.Before.Stops {
			t.Fatalf("design %d: %d operator's stops became %d", k, m.Before.Stops, m.After.Stops)
		}
		if m.After.ColourStops > m.Before.ColourStops {
			t.Fatalf("design %d: colour stops added", k)
		}
		if (d.Count().End != m.Design.Count().End) && len(m.Design.Records) > 0 {
			if l, _ := lay(d.Records, sheet.Reading.TrimAfterJumps); l.joints[len(l.objects)].from < l.joints[len(l.objects)].to && !l.joints[len(l.objects)].has(stitch.ColourStop) {
				t.Fatalf("design %d: the frame ends elsewhere", k)
			}
		}
		if sheet.Reading.TrimAfterJumps == 3 { // a trim record is written as three jumps
			readsBack(t, "rubbish", m.Design, sheet)
		}
		if _, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: threads}); err != nil {
			t.Fatalf("design %d: audit: %v", k, err)
		}
		if _, err := Check(context.Background(), m.Design, sheet, m.Job, Options{}); err != nil {
			t.Fatalf("design %d: audit of the mended: %v", k, err)
		}
	}
	if changed < 125 {
		t.Errorf("only %d of 250 designs were changed: the test does not test", changed)
	}
}

// TestKnownBestOrderIsFound scatters dashes that were laid along a line: sewn
// from one end to the other they take the least travel.
func TestKnownBestOrderIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	sheet := class(t, "single-15-light")
	for n := 3; n <= 40; n += 7 {
		best := &sketch{}
		for k := range n {
			best.dash(k*150, 0, 5)
		}
		want := clock.Run(best.design(), sheet, clock.Job{}).Seconds
		mixed := &sketch{}
		for _, k := range rng.Perm(n) {
			mixed.dash(k*150, 0, 5)
		}
		m, err := Mend(context.Background(), mixed.design(), sheet, clock.Job{}, MendOptions{Rounds: 20_000})
		if err != nil {
			t.Fatal(err)
		}
		if m.After.Seconds > want+1e-6 {
			t.Errorf("%d dashes: %.3f s after the mend, along the line it is %.3f s", n, m.After.Seconds, want)
		}
		if n <= 12 && !m.Search.Optimal {
			t.Errorf("%d dashes: not proven optimal (gap %.1f %%)", n, 100*m.Search.Gap())
		}
	}
}

// TestThreadsComeTogetherUnlessSomethingLiesBetween: dashes in two threads by
// turns. Apart, one stop is enough; each lying on the one before, none can go.
func TestThreadsComeTogetherUnlessSomethingLiesBetween(t *testing.T) {
	sheet := class(t, "single-15-light")
	for _, tt := range []struct {
		name  string
		step  int // mm/10 between dashes of 10 mm
		stops int
	}{{"apart", 150, 1}, {"each on the one before", 60, 5}, {"touching by a thread's width", 104, 5}, {"a hair further", 105, 1}} {
		s := &sketch{}
		for k := range 6 {
			if k > 0 {
				s.op(stitch.ColourStop)
			}
			s.dash(k*tt.step, 0, 5)
		}
		m, err := Mend(context.Background(), s.design(), sheet, clock.Job{}, MendOptions{Threads: []int{0, 1, 0, 1, 0, 1}, Rounds: 5000})
		if err != nil {
			t.Fatal(err)
		}
		if m.After.ColourStops != tt.stops {
			t.Errorf("%s: %d colour stops, want %d", tt.name, m.After.ColourStops, tt.stops)
		}
		if m.Objects > 1 && !m.Search.Optimal {
			t.Errorf("%s: not proven optimal", tt.name)
		}
		without, err := Mend(context.Background(), s.design(), sheet, clock.Job{}, MendOptions{Rounds: 5000})
		if err != nil {
			t.Fatal(err)
		}
		if without.After.ColourStops != 5 {
			t.Errorf("%s: without threads %d colour stops were left of 5", tt.name, without.After.ColourStops)
		}
	}
}

func TestNothingCrossesAnOperatorsStop(t *testing.T) {
	s := &sketch{}
	s.dash(0, 0, 5).op(stitch.ColourStop).dash(300, 0, 5)
	s.way(300, 100, 3).op(stitch.Stop).dash(0, 300, 5).op(stitch.ColourStop).dash(300, 300, 5)
	m, err := Mend(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, MendOptions{Threads: []int{0, 1, 0}, Rounds: 2000})
	if err != nil {
		t.Fatal(err)
	}
	if m.Changed() {
		t.Errorf("changed: %+v", m.Changes)
	}
}

// TestTheThreadBeforeAStopStays: two objects that could change places stand
// before an operator's stop after which the second's thread goes on.
func TestTheThreadBeforeAStopStays(t *testing.T) {
	s := (&sketch{}).dash(900, 0, 5)
	s.op(stitch.ColourStop).dash(0, 0, 5)
	s.way(300, 0, 3).op(stitch.Stop)
	s.dash(880, 200, 5)
	m, err := Mend(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, MendOptions{Rounds: 2000})
	if err != nil {
		t.Fatal(err)
	}
	if m.After.Stops != 1 || m.After.ColourStops != 1 {
		t.Errorf("%d stops, %d colour stops", m.After.Stops, m.After.ColourStops)
	}
}

// TestTheProofSeesWhatItShould changes designs behind its back.
func TestTheProofSeesWhatItShould(t *testing.T) {
	cross := func(first bool) *stitch.Design {
		s := &sketch{}
		across := func() { s.dash(0, 0, 10) }
		down := func() {
			s.way(100, -100, 3)
			for k := range 11 {
				s.to(100, -100+20*k, stitch.Sew)
			}
		}
		if first {
			across()
			down()
		} else {
			down()
			across()
		}
		return s.design()
	}
	one := []int{0}
	tests := []struct {
		name   string
		a, b   *stitch.Design
		ta, tb []int
		same   bool
	}{
		{"itself", cross(true), cross(true), one, one, true},
		{"what lay on top lies below", cross(true), cross(false), one, one, false},
		{"another thread", cross(true), cross(true), one, []int{1}, false},
		{"a stitch moved by 0.1 mm", (&sketch{}).dash(0, 0, 3).design(), (&sketch{}).dash(0, 1, 3).design(), one, one, false},
		{"apart in another order", (&sketch{}).dash(0, 0, 3).dash(0, 100, 3).design(), (&sketch{}).dash(0, 100, 3).dash(0, 0, 3).design(), one, one, true},
		{"a straight stitch in two", (&sketch{}).to(0, 0, stitch.Sew).to(40, 20, stitch.Sew).design(),
			(&sketch{}).to(0, 0, stitch.Sew).to(20, 10, stitch.Sew).to(40, 20, stitch.Sew).design(), one, one, true},
		{"a bent stitch in two", (&sketch{}).to(0, 0, stitch.Sew).to(40, 20, stitch.Sew).design(),
			(&sketch{}).to(0, 0, stitch.Sew).to(20, 11, stitch.Sew).to(40, 20, stitch.Sew).design(), one, one, false},
		{"a thread more", (&sketch{}).dash(0, 0, 3).design(), (&sketch{}).dash(0, 0, 4).design(), one, one, false},
	}
	for _, tt := range tests {
		p, err := Prove(tt.a, tt.b, tt.ta, tt.tb, 3)
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		if same := p.Before == p.After; same != tt.same {
			t.Errorf("%s: same picture is %v", tt.name, same)
		}
		if !tt.same && !errors.Is(p.Err(), ErrProof) {
			t.Errorf("%s: %v", tt.name, p.Err())
		}
	}
}

// TestTouchAgreesWithTheLongWay compares the grid with every pair of pieces.
func TestTouchAgreesWithTheLongWay(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	yes, no := 0, 0
	for range 200 {
		var lines []line
		n := 2 + rng.IntN(12)
		for o := range n {
			x, y := int32(rng.IntN(400)), int32(rng.IntN(400))
			for range 1 + rng.IntN(6) {
				r := int32(40)
				if rng.IntN(10) == 0 {
					r = 600
				}
				x1, y1 := x+rng.Int32N(2*r+1)-r, y+rng.Int32N(2*r+1)-r
				lines = append(lines, line{x, y, x1, y1, int32(o)})
				x, y = x1, y1
			}
		}
		got := newGrid(lines).touching(n)
		for i := range n {
			for j := range i {
				want := false
				for a := range lines {
					for b := range lines {
						want = want || int(lines[a].object) == i && int(lines[b].object) == j && touch(&lines[a], &lines[b])
					}
				}
				if got.has(i, j) != want || got.has(j, i) != want {
					t.Fatalf("objects %d and %d: grid says %v, every pair says %v", i, j, got.has(i, j), want)
				}
				if want {
					yes++
				} else {
					no++
				}
			}
		}
	}
	if yes < 100 || no < 100 {
		t.Errorf("%d touching and %d apart: the test does not test", yes, no)
	}
}

// TestDroppingNeverMakesOrLosesATrim: a stitch between jumps stays, since
// without it the jumps on both sides would stand for a trim.
func TestDroppingNeverMakesOrLosesATrim(t *testing.T) {
	s := (&sketch{}).dash(0, 0, 12)
	s.way(300, 0, 2).op(stitch.Sew).op(stitch.Sew).way(340, 0, 2)
	for k := range 12 {
		s.to(340+20*k, 20, stitch.Sew)
	}
	d := s.design()
	l, err := lay(d.Records, 3)
	if err != nil {
		t.Fatal(err)
	}
	rec, _ := l.dropHoles()
	after, err := lay(rec, 3)
	if err != nil {
		t.Fatal(err)
	}
	if after.cuts() != l.cuts() {
		t.Errorf("%d cuts became %d", l.cuts(), after.cuts())
	}
	for _, n := range []int{1, 2, 3, 4, 5} {
		for _, trimAfter := range []int{1, 2, 3, 4, 5} {
			s := (&sketch{}).dash(0, 0, 3)
			s.way(220, 33, n)
			for k := range 4 {
				s.to(220, 53+20*k, stitch.Sew)
			}
			l, _ := lay(s.rec, trimAfter)
			rec, _ := l.straighten(trimJumps, trimJumps)
			after, _ := lay(rec, trimAfter)
			if after.cuts() != l.cuts() || len(after.objects) != len(l.objects) || after.end != l.end {
				t.Errorf("%d jumps read with %d: %d cuts became %d", n, trimAfter, l.cuts(), after.cuts())
			}
			others, _ := lay(s.rec, 3)
			othersAfter, _ := lay(rec, 3)
			if others.cuts() != othersAfter.cuts() {
				t.Errorf("%d jumps: a machine that trims after 3 saw %d cuts, now %d", n, others.cuts(), othersAfter.cuts())
			}
		}
	}
}

func TestDroppedStitchesAreListed(t *testing.T) {
	s := (&sketch{}).dash(0, 0, 10)
	s.op(stitch.Sew)                                                // the same hole again
	s.to(s.at.X+3, 0, stitch.Sew).to(s.at.X+5, 0, stitch.Sew)       // a hair along the way
	s.to(s.at.X+3, s.at.Y+1, stitch.Sew).to(s.at.X, 40, stitch.Sew) // not along the way: stays
	for k := range 10 {
		s.to(s.at.X, 40+20*(k+1), stitch.Sew)
	}
	d := s.design()
	m, err := Mend(context.Background(), d, class(t, "single-15-light"), clock.Job{}, MendOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Changes) != 1 || m.Changes[0].Kind != ChangeHoles || !slices.Equal(m.Changes[0].Stitches, []int{11, 12}) {
		t.Errorf("changes: %+v", m.Changes)
	}
	if m.After.Stitches != m.Before.Stitches-2 {
		t.Errorf("%d stitches became %d", m.Before.Stitches, m.After.Stitches)
	}
}

func TestBadInputIsRefused(t *testing.T) {
	sheet := class(t, "single-15-light")
	far := &stitch.Design{}
	for range 100 {
		far.Records = append(far.Records, stitch.Record{DX: 32767, Op: stitch.Jump})
	}
	if _, err := Mend(context.Background(), far, sheet, clock.Job{}, MendOptions{}); !errors.Is(err, ErrExtent) {
		t.Errorf("a design of 300 m: %v", err)
	}
	if _, err := Check(context.Background(), far, sheet, clock.Job{}, Options{}); !errors.Is(err, ErrExtent) {
		t.Errorf("a design of 300 m: %v", err)
	}
	wide := (&sketch{}).to(0, 0, stitch.Sew).to(30_001, 0, stitch.Sew).design()
	if _, err := Mend(context.Background(), wide, sheet, clock.Job{}, MendOptions{}); err == nil {
		t.Error("a design of 3 m was mended")
	}
	d := (&sketch{}).dash(0, 0, 3).design()
	if _, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Threads: []int{1, 2}}); err == nil {
		t.Error("threads for two blocks were taken for a design of one")
	}
	for _, empty := range []*stitch.Design{{}, (&sketch{}).way(100, 100, 4).design(), (&sketch{}).op(stitch.ColourStop).op(stitch.Stop).design()} {
		m, err := Mend(context.Background(), empty, sheet, clock.Job{}, MendOptions{})
		if err != nil || m.Changed() {
			t.Errorf("a design without a stitch: %+v, %v", m, err)
		}
		if _, err := Check(context.Background(), empty, sheet, clock.Job{}, Options{}); err != nil {
			t.Errorf("a design without a stitch: %v", err)
		}
	}
}

func TestACancelledMendGivesTheBestSoFar(t *testing.T) {
	d, threads := large(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	m, err := Mend(ctx, d, class(t, "single-15-light"), clock.Job{}, MendOptions{Threads: threads})
	if err != nil {
		t.Fatal(err)
	}
	if m.After.Seconds > m.Before.Seconds || m.Proof.Before != m.Proof.After {
		t.Errorf("%+v", m.Proof)
	}
}

// Four dots in four colours, the second far off: another order of the colours takes less, but not by enough to
// change it. What is proved of the one that stays is not said of all: the other's run lies between the bound and it.
func TestColoursThatStayAreNotTheBestOfAll(t *testing.T) {
	at := func(xs ...int) *stitch.Design {
		s := &sketch{}
		for k, x := range xs {
			if k > 0 {
				s.op(stitch.ColourStop)
			}
			s.dash(x, 0, 12)
		}
		return s.design()
	}
	sheet := class(t, "multi-12")
	zig, zag := at(0, 2000, 120, 2120), at(0, 120, 2000, 2120)
	m, err := Mend(context.Background(), zig, sheet, clock.Job{}, MendOptions{Threads: []int{0, 1, 2, 3}})
	if err != nil {
		t.Fatal(err)
	}
	other := clock.Run(zag, sheet, clock.Job{Needles: []int{0, 2, 1, 3}}).Seconds
	if !m.ColoursStay || !m.Search.Optimal || m.Bound() > other+1e-6 || m.After.Seconds <= other || m.After.Seconds > other+LeastForColours {
		t.Errorf("colours stay %v, proved %v: %.3f s, no order under %.3f s, and one takes %.3f s", m.ColoursStay, m.Search.Optimal, m.After.Seconds, m.Bound(), other)
	}
	if m, err = Mend(context.Background(), zag, sheet, clock.Job{}, MendOptions{Threads: []int{0, 1, 2, 3}}); err != nil || m.ColoursStay || !m.Search.Optimal {
		t.Errorf("the best: colours stay %v, proved %v, %v", m.ColoursStay, m.Search.Optimal, err)
	}
}
