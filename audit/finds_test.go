package audit

import (
	"context"
	"math"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// satin sews n stitches of a straight column along x: so wide, so far apart on
// each side, in 0.1 mm, its lower edge from (x, y) on.
func (s *sketch) satin(x, y, n, wide, step int) *sketch {
	for k := range n + 1 {
		s.to(x+step*k/2, y+wide*(k%2), stitch.Sew)
	}
	return s
}

// carriedSatin sews n stitches to and fro, each led by a jump half the way, after a line of
// short ones.
func carriedSatin(wide, n int) *sketch {
	s := (&sketch{}).dash(-100, 0, 5)
	for k := range n {
		s.to(4*k, wide/2, stitch.Jump).to(4*k, wide*((k+1)%2), stitch.Sew)
	}
	return s.to(4*n, wide*(n%2)+3, stitch.Sew).to(4*n+20, wide*(n%2)+3, stitch.Sew)
}

// lock makes three small stitches to and fro.
func (s *sketch) lock() *sketch {
	x, y := s.at.X, s.at.Y
	return s.to(x+6, y, stitch.Sew).to(x, y, stitch.Sew).to(x+6, y, stitch.Sew)
}

// fan sews satin around a point: its inner edge at radius in, its outer at out.
func (s *sketch) fan(x, y, in, out, n int) *sketch {
	for k := range n {
		turn := math.Pi * float64(k) / float64(n)
		r := float64(in + (out-in)*(k%2))
		s.to(x+int(math.Round(r*math.Cos(turn))), y+int(math.Round(r*math.Sin(turn))), stitch.Sew)
	}
	return s
}

// fill sews rows of stitches of 3 mm along x, step apart.
func (s *sketch) fill(x, y, stitches, rows, step int) *sketch {
	for r := range rows {
		for k := range stitches + 1 {
			if r%2 == 1 {
				k = stitches - k
			}
			s.to(x+30*k, y+step*r, stitch.Sew)
		}
	}
	return s
}

// TestNewFindings draws each fault, and the same without it.
func TestNewFindings(t *testing.T) {
	two := []int{0, 1}
	new := func() *sketch { return &sketch{} }
	walk := func(n int) *sketch {
		s := new()
		for k := range n {
			s.dash(0, 40*k, 10)
			if k+1 < n {
				s.op(stitch.ColourStop)
			}
		}
		return s
	}
	row := func(y, others int) *sketch { // in two colours: the second goes into the first's holes, with others between
		s := new().dash(0, y, 30).op(stitch.ColourStop)
		for k := range 10 * (others + 1) {
			s.to(20*k/(others+1), y, stitch.Sew)
		}
		return s
	}
	tall := func(n int) *sketch {
		s := new()
		for k := range n {
			s.to(0, 20*k, stitch.Sew)
		}
		return s
	}
	column := func(n int, low, high func(k int) [2]int) *sketch {
		s := new()
		for k := range n {
			a, b := low(k), high(k)
			s.to(a[0], a[1], stitch.Sew).to(b[0], b[1], stitch.Sew)
		}
		return s
	}
	along := func(y int) func(int) [2]int { return func(k int) [2]int { return [2]int{4 * k, y} } }
	covered := func(way int) *sketch {
		s := new().to(-100, 0, stitch.Sew).to(0, 0, stitch.Sew).way(way, 0, 6).dash(way, 0, 12).op(stitch.ColourStop)
		for x := -120; x <= way+20; x += 20 {
			s.to(x, 0, stitch.Sew)
		}
		return s
	}
	tiny := func(n int) *sketch {
		s := new().dash(0, 0, 10)
		for range n {
			s.to(s.at.X+6, 0, stitch.Sew)
		}
		return s.to(s.at.X+20, 0, stitch.Sew).to(s.at.X+20, 0, stitch.Sew)
	}
	underLine := func(to int) *sketch { // along the middle of a column of 6 mm, and back
		s := new().to(0, 30, stitch.Sew)
		for x := 20; x <= to; x += 20 {
			s.to(x, 30, stitch.Sew)
		}
		return s.to(0, 30, stitch.Sew).to(0, 0, stitch.Sew)
	}
	overFill := func(fill, satin *sketch) *sketch {
		s := new()
		s.rec = append(s.rec, fill.rec...)
		s.at = fill.at
		s.op(stitch.ColourStop)
		x, y := 0, 0
		for _, r := range satin.rec {
			x, y = x+int(r.DX), y+int(r.DY)
			s.to(x, y, r.Op)
		}
		return s
	}
	scales := func(apart int) *sketch { // of two colours by turns
		s := new()
		for k := range 6 {
			if k > 0 {
				s.op(stitch.ColourStop).way(apart*k, 0, 2)
			}
			s.fill(apart*k, 0, 4, 20, 4)
		}
		return s
	}
	area, edge := new().fill(0, 0, 8, 20, 4), new().satin(0, 78, 100, 40, 4)
	for i, c := range []struct {
		kind     Kind
		has, not *sketch
		threads  []int
		not2     []int // the threads of not
		o        Options
	}{
		{kind: MissingTieIn,
			has: new().dash(0, 0, 20).lock().way(300, 300, 4).dash(300, 300, 20).lock(),
			not: new().to(0, 0, stitch.Sew).lock().satin(6, 0, 20, 20, 4)},
		{kind: StackedLayers, // satin at 0.4 mm covers twice, so four layers cover eight times
			has: new().satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4),
			not: new().satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4)},
		{kind: InnerCurve,
			has: new().fan(0, 0, 5, 50, 100), not: new().fan(0, 0, 200, 245, 100)},
		{kind: ForeignHoles,
			has: new().dash(0, 0, 30).op(stitch.ColourStop).dash(0, 0, 30), threads: two,
			not: new().dash(0, 0, 30).op(stitch.ColourStop).dash(10, 0, 30), not2: two},
		{kind: ForeignHoles, // the same thread again
			has: new().dash(0, 0, 30).op(stitch.ColourStop).dash(0, 0, 30), threads: two,
			not: new().dash(0, 0, 30).op(stitch.ColourStop).dash(0, 0, 30), not2: []int{0, 0}},
		{kind: BackAndForth, // where each lies over the one before it has to be so
			has: scales(130), not: scales(110), threads: []int{0, 1, 0, 1, 0, 1}, not2: []int{0, 1, 0, 1, 0, 1}},
		{kind: NoUnderlay,
			has: new().satin(0, 0, 100, 40, 4),
			not: new().to(0, 20, stitch.Sew).to(50, 20, stitch.Sew).to(100, 20, stitch.Sew).to(150, 20, stitch.Sew).
				to(200, 20, stitch.Sew).to(200, 0, stitch.Sew).to(0, 0, stitch.Sew).satin(0, 0, 100, 40, 4)},
		{kind: NoUnderlay, // under half of it: the other half, 20 mm, counts by itself; 8 mm do not
			has: underLine(200).satin(0, 0, 200, 60, 4), not: underLine(160).satin(0, 0, 120, 60, 4)},
		{kind: NoUnderlay, // lines 0.7 mm apart are satin, a 2 mm zigzag is none
			has: new().satin(0, 0, 60, 50, 14), not: new().satin(0, 0, 60, 50, 40)},
		{kind: NoUnderlay, // 3.0 mm across, though its slanting stitches are longer
			has: new().satin(0, 0, 60, 31, 8), not: new().satin(0, 0, 60, 30, 8)},
		{kind: NoUnderlay, // narrow satin needs none
			has: new().satin(0, 0, 100, 40, 4), not: new().satin(0, 0, 100, 20, 4)},
		{kind: PullGap, // satin whose rows end at a fill of another colour, and 0.6 mm over it
			has: new().fill(0, 0, 8, 20, 4).op(stitch.ColourStop).satin(0, 78, 100, 40, 4), threads: two,
			not: new().fill(0, 0, 8, 20, 4).op(stitch.ColourStop).satin(0, 70, 100, 40, 4), not2: two},
		{kind: PullGap, // rows along the edge draw nothing away from it
			has: new().fill(0, 0, 8, 20, 4).op(stitch.ColourStop).satin(0, 78, 100, 40, 4), threads: two,
			not: new().fill(0, 0, 8, 20, 4).op(stitch.ColourStop).fill(0, 78, 8, 20, 4), not2: two},
		{kind: PullGap, // two fills that meet end to end, and 0.7 mm over each other: both are drawn away
			has: new().fill(0, 0, 7, 50, 4).op(stitch.ColourStop).fill(211, 0, 7, 50, 4), threads: two,
			not: new().fill(0, 0, 7, 50, 4).op(stitch.ColourStop).fill(203, 0, 7, 50, 4), not2: two},
		{kind: PullGap, // 0.1 mm over is enough for the rows of one, and not where those of both end
			has: new().fill(0, 0, 7, 50, 4).op(stitch.ColourStop).fill(209, 0, 7, 50, 4), threads: two,
			not: new().satin(0, 0, 100, 200, 4).op(stitch.ColourStop).fill(-30, 199, 15, 20, 4), not2: two},
		{kind: BackAndForth,
			has: walk(5), threads: []int{0, 1, 0, 1, 0}, not: walk(5), not2: []int{0, 1, 2, 0, 1}},
		{kind: IdleStop,
			has: new().op(stitch.Stop).dash(0, 0, 20), not: new().dash(0, 0, 20).op(stitch.Stop).dash(400, 0, 20)},
		{kind: IdleStop, // driven out of the work: for a hand
			has: new().dash(0, 0, 20).op(stitch.Stop).op(stitch.Stop).dash(400, 0, 20),
			not: new().dash(0, 0, 20).way(0, 900, 9).op(stitch.Stop).op(stitch.Stop).dash(400, 0, 20)},
		{kind: DraggedThread, // what later stitches cover nobody cuts
			has: new().to(0, 0, stitch.Sew).to(20, 0, stitch.Sew).way(90, 0, 2).to(92, 0, stitch.Sew).op(stitch.ColourStop).
				fill(0, -100, 4, 20, 4),
			not: new().to(0, 0, stitch.Sew).to(20, 0, stitch.Sew).way(90, 0, 2).to(92, 0, stitch.Sew).op(stitch.ColourStop).
				fill(0, -40, 4, 20, 4)},
		{kind: ForeignHoles, threads: two, not2: two, has: row(0, 2), not: row(0, 3)}, // every third hole, every fourth
		{kind: InnerCurve, // both sides step on, the outer not twice as far
			has: new().fan(0, 0, 5, 50, 100), not: column(30, func(k int) [2]int { return [2]int{k, 60 + k} },
				func(k int) [2]int { return [2]int{2 * k, 0} })},
		{kind: InnerCurve, // neither side steps on
			has: new().fan(0, 0, 5, 50, 100), not: column(30, func(k int) [2]int { return [2]int{0, 60} },
				func(k int) [2]int { return [2]int{k, 0} })},
		{kind: InnerCurve, // four holes at a corner are none
			has: new().fan(0, 0, 5, 50, 100), not: column(24, func(k int) [2]int { return [2]int{4 * min(k, 20), 0} }, along(40))},
		{kind: StackedLayers, // where the needle strikes too often it is a dense spot, not both
			has: new().satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4),
			not: new().satin(0, 0, 60, 10, 2).satin(0, 0, 60, 10, 2).satin(0, 0, 60, 10, 2).satin(0, 0, 60, 10, 2)},
		{kind: PullGap, threads: two, not2: two, // a gap that was drawn
			has: overFill(area, edge), not: overFill(area, new().satin(0, 83, 100, 40, 4))},
		{kind: PullGap, threads: two, not2: two, // a line is no area
			has: overFill(area, edge), not: overFill(new().fill(0, 76, 8, 1, 4), edge)},
		{kind: PullGap, threads: two, not2: two, // few rows
			has: overFill(area, edge), not: overFill(new().fill(0, 0, 1, 20, 4), edge)},
		{kind: PullGap, threads: two, not2: two, // short stitches pull little
			has: overFill(area, edge), not: overFill(area, new().satin(0, 78, 100, 12, 4))},
		{kind: NoUnderlay, // a detail needs none
			has: new().satin(0, 0, 36, 40, 3), not: new().satin(0, 0, 30, 40, 3)},
		{kind: NoUnderlay, // under a fifth of the column
			has: new().to(0, 20, stitch.Sew).to(40, 20, stitch.Sew).to(0, 20, stitch.Sew).to(0, 0, stitch.Sew).satin(0, 0, 100, 40, 4),
			not: new().to(0, 20, stitch.Sew).to(50, 20, stitch.Sew).to(100, 20, stitch.Sew).to(0, 20, stitch.Sew).
				to(0, 0, stitch.Sew).satin(0, 0, 100, 40, 4)},
		{kind: BackAndForth,
			has: walk(5), threads: []int{0, 1, 0, 1, 0}, not: walk(4), not2: []int{0, 1, 0, 1}},
		{kind: NeedlessTrim, has: covered(300), not: covered(600)},
		{kind: NoChange, threads: []int{0, 1, 2}, not2: []int{0, 1, 2}, // where the frame is driven out a hand is at work
			has: new().dash(0, 0, 20).op(stitch.ColourStop).op(stitch.ColourStop).dash(400, 0, 20),
			not: new().dash(0, 0, 20).way(0, 900, 9).op(stitch.ColourStop).op(stitch.ColourStop).dash(400, 0, 20)},
		{kind: DraggedThread, has: new().dash(0, 0, 10).way(250, 0, 2).to(252, 0, stitch.Sew),
			not: new().dash(0, 0, 10).way(246, 0, 2).to(248, 0, stitch.Sew)},
		{kind: SnagStitches, has: carriedSatin(160, 10), not: carriedSatin(160, 1)}, // jumps carry what no record can
		{kind: DraggedThread, has: carriedSatin(160, 1), not: carriedSatin(160, 10)},
		{kind: DraggedThread, has: carriedSatin(110, 10), not: carriedSatin(130, 10)}, // a record could hold it: it was to be a jump
		{kind: DraggedThread, // round a corner
			has: carriedSatin(160, 10).to(200, 60, stitch.Jump).to(44, 163, stitch.Sew).to(48, 63, stitch.Sew), not: carriedSatin(160, 10)},
		{kind: FewStitches, has: new().dash(0, 0, 20).way(600, 0, 6).dash(600, 0, 4).way(900, 0, 6).dash(900, 0, 20),
			not: new().dash(0, 0, 20).way(600, 0, 6).dash(600, 0, 2).op(stitch.Stop).to(660, 0, stitch.Sew).way(900, 0, 6).dash(900, 0, 20)},
		{kind: OffCentre, has: new().way(300, 0, 4).dash(300, 0, 6), not: new().way(150, 0, 4).dash(150, 0, 6)},
		// 40 × 0 mm in a hoop of 60 × 60 mm: with 5 mm for the foot the start may lie 5 mm off the middle
		{kind: OffCentre, has: new().way(-146, 0, 4).dash(-146, 0, 20), not: new().way(-154, 0, 4).dash(-154, 0, 20), o: Options{HoopX: 60, HoopY: 60}},
		{kind: TooManyColours, has: walk(16), not: walk(15)},
		{kind: ShortStitches, has: tiny(8), not: tiny(7)},
		{kind: SnagStitches, has: new().dash(0, 0, 10).to(303, 0, stitch.Sew), not: new().dash(0, 0, 10).to(297, 0, stitch.Sew)},
		{kind: TooLarge, has: tall(30), not: tall(20), o: Options{HoopX: 50, HoopY: 50}},
		{kind: TooLarge, has: new().dash(0, 0, 30), not: new().dash(0, 0, 20), o: Options{HoopX: 50, HoopY: 50}},
		{kind: BeyondField, has: new().dash(0, 0, 30), not: new().dash(0, 0, 20), o: Options{FieldX: 50, FieldY: 50}},
		{kind: TooTight, has: new().dash(0, 0, 22), not: new().dash(0, 0, 19), o: Options{HoopX: 50, HoopY: 50}},
		{kind: TooTight, has: new().dash(0, 0, 22), not: new().dash(0, 0, 30), o: Options{HoopX: 50, HoopY: 50}},
	} {
		finds := func(s *sketch, threads []int) *Finding {
			c.o.Threads = threads
			r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, c.o)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range r.Findings {
				if text := f.What.Raw() + f.Ask.Raw(); f.Kind == c.kind && (len(text) < 40 || text[0] == '[') {
					t.Errorf("%s says %q", c.kind, text)
				}
				if f.Kind == c.kind {
					return &f
				}
			}
			return nil
		}
		if finds(c.has, c.threads) == nil {
			t.Errorf("%s, case %d: not found", c.kind, i)
		}
		if f := finds(c.not, c.not2); f != nil {
			t.Errorf("%s: found where it is not: %s at (%.1f, %.1f) %+v", c.kind, f.What.Raw(), f.X, f.Y, *f)
		}
	}
}

// A finding is at the place of the fault, not at the start of its object.
func TestNewFindingsPointAtThePlace(t *testing.T) {
	s := (&sketch{}).satin(0, 0, 100, 20, 4).fan(800, 0, 5, 50, 100)
	r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Findings {
		if f.Kind == InnerCurve {
			if math.Hypot(f.X-80, f.Y) > 6 || f.Radius > mostRadius {
				t.Errorf("at (%.1f, %.1f), ring %.1f mm: %s", f.X, f.Y, f.Radius, f.What.Raw())
			}
			return
		}
	}
	t.Error("not found")
}

// A finding about a stop is where the frame stands at it, not where the next block
// begins.
func TestAStopIsMarkedWhereTheFrameStands(t *testing.T) {
	for _, c := range []struct {
		kind    Kind
		s       *sketch
		threads []int
		x       float64 // mm
	}{
		{NoChange, (&sketch{}).dash(0, 0, 20).op(stitch.ColourStop).dash(700, 0, 20), []int{0, 0}, 40},
		{NoChange, (&sketch{}).dash(0, 0, 20).op(stitch.ColourStop).op(stitch.ColourStop).dash(700, 0, 20), []int{0, 1, 2}, 40},
		{DoubleCut, (&sketch{}).dash(0, 0, 20).op(stitch.Trim).op(stitch.ColourStop).dash(700, 0, 20), []int{0, 1}, 40},
		{DoubleCut, (&sketch{}).dash(0, 0, 20).op(stitch.Trim).to(500, 0, stitch.Jump).op(stitch.ColourStop).dash(700, 0, 20), []int{0, 1}, 50},
	} {
		r, err := Check(context.Background(), c.s.design(), class(t, "single-15-light"), clock.Job{}, Options{Threads: c.threads})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, f := range r.Findings {
			if f.Kind == c.kind {
				if n++; f.X != c.x || f.Y != 0 {
					t.Errorf("%s at (%.1f, %.1f), the frame stands at (%.1f, 0)", c.kind, f.X, f.Y, c.x)
				}
			}
		}
		if n != 1 {
			t.Errorf("%s: %d findings", c.kind, n)
		}
	}
}

// A way is covered at the width of the thread: a later line along it covers it,
// one 0.2 mm beside it leaves an edge bare, and so does one that ends early. Two
// lines 0.5 mm apart leave a slit between them, 0.1 mm wide.
func TestAWayIsCoveredAtTheWidthOfThread(t *testing.T) {
	for _, c := range []struct {
		from, to, y int // of the later line, 0.1 mm
		covered     bool
	}{{-20, 420, 0, true}, {-20, 420, 2, false}, {-20, 420, -2, false}, {-20, 180, 0, false}, {20, 420, 0, false}} {
		s := (&sketch{}).to(-100, 0, stitch.Sew).to(0, 0, stitch.Sew).op(stitch.ColourStop)
		for x := c.from; x <= c.to; x += 20 {
			s.to(x, c.y, stitch.Sew)
		}
		l, err := lay(s.design().Records, 3)
		if err != nil {
			t.Fatal(err)
		}
		v := &survey{l: l, lim: DefaultLimits()}
		v.grid = newGrid(l.threads())
		if got := v.hidden(stitch.Point{}, stitch.Point{X: 200}, 0); got != c.covered {
			t.Errorf("a line from %d to %d at %d: covered is %v", c.from, c.to, c.y, got)
		}
	}
}

// Of 80 mm of way 1.3 mm between the holes are bare, which is wider than a thread though it is under
// a thirtieth of the way; a thread's width is not.
func TestABareStretchOfALongWayIsSeen(t *testing.T) {
	for _, c := range []struct {
		gap     int // between two later lines, 0.1 mm from middle to middle of their ends
		covered bool
	}{{0, true}, {7, true}, {13, false}} {
		s := (&sketch{}).to(-100, 0, stitch.Sew).to(0, 0, stitch.Sew).op(stitch.ColourStop).
			to(-20, 0, stitch.Sew).to(400, 0, stitch.Sew).op(stitch.ColourStop).to(400+c.gap, 0, stitch.Sew).to(820, 0, stitch.Sew)
		l, err := lay(s.design().Records, 3)
		if err != nil {
			t.Fatal(err)
		}
		v := &survey{l: l, lim: DefaultLimits()}
		v.grid = newGrid(l.threads())
		if got := v.hidden(stitch.Point{}, stitch.Point{X: 800}, 0); got != c.covered {
			t.Errorf("a gap of %d: covered is %v", c.gap, got)
		}
	}
}

func TestASlitInWhatCoversAWayIsBare(t *testing.T) {
	for _, c := range []struct {
		sides   [2]float64 // of two later lines along the way, 0.1 mm from its middle
		covered bool
	}{{[2]float64{-2, 2}, true}, {[2]float64{-2, 3}, false}, {[2]float64{-4, 3}, false}} {
		for _, deg := range []float64{0, 90, 180} {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			at := func(along, side float64) (x, y int) {
				return int(math.Round(along*cos - side*sin)), int(math.Round(along*sin + side*cos))
			}
			s := (&sketch{}).to(-100, 0, stitch.Sew).to(0, 0, stitch.Sew).op(stitch.ColourStop)
			for k, along := range []float64{-200, 600, 600, -200} { // out on one, back on the other
				x, y := at(along, c.sides[k/2])
				s.to(x, y, stitch.Sew)
			}
			l, err := lay(s.design().Records, 3)
			if err != nil {
				t.Fatal(err)
			}
			v := &survey{l: l, lim: DefaultLimits()}
			v.grid = newGrid(l.threads())
			x, y := at(300, 0)
			if got := v.hidden(stitch.Point{}, stitch.Point{X: x, Y: y}, 0); got != c.covered {
				t.Errorf("lines at %v at %v°: covered is %v", c.sides, deg, got)
			}
		}
	}
}

// Another order is told of where it saves as much as both limits say, in seconds and
// as a share.
func TestAnOrderIsToldOfFromItsLimitsOn(t *testing.T) {
	s := &sketch{}
	for k := range 12 { // to and fro across 100 mm
		s.way(1000*(k%2), 60*k, 9).dash(1000*(k%2), 60*k, 12)
	}
	check := func(seconds, share float64) (*Report, *Finding) {
		lim := DefaultLimits()
		lim.OrderSeconds, lim.OrderShare = seconds, share
		r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, Options{Limits: &lim})
		if err != nil {
			t.Fatal(err)
		}
		for i := range r.Findings {
			if r.Findings[i].Kind == Order {
				return r, &r.Findings[i]
			}
		}
		return r, nil
	}
	r, f := check(0, 0)
	if f == nil || f.Alone < 1 {
		t.Fatalf("not found: %+v", f)
	}
	saves, share := f.Alone, f.Alone/r.Seconds
	for _, c := range []struct {
		seconds, share float64
		want           bool
	}{{0.99 * saves, 0.99 * share, true}, {1.01 * saves, 0, false}, {0, 1.01 * share, false}} {
		if _, f := check(c.seconds, c.share); (f != nil) != c.want {
			t.Errorf("from %.2f s and %.4f on: found %v", c.seconds, c.share, f != nil)
		}
	}
}

// A walk begins with the last block of the one before it: the longest is said, and
// how many blocks all have.
func TestWalksThatMeetAreAllCounted(t *testing.T) {
	s, threads := &sketch{}, []int{0, 1, 0, 1, 0, 2, 0, 2, 0, 2}
	for k := range threads {
		if k > 0 {
			s.op(stitch.ColourStop)
		}
		s.dash(0, 40*k, 10)
	}
	r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, Options{Threads: threads})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Findings {
		if f.Kind == BackAndForth {
			if f.Count != 11 || f.Block != 4 || f.What.Key != "finding.walks" {
				t.Errorf("%d blocks, the longest from block %d on: %s", f.Count, f.Block, f.What.Text(nil))
			}
			return
		}
	}
	t.Error("not found")
}

// A stop that is the operator's parts a walk: no thread is sewn at one go across it.
func TestNoWalkGoesPastAnOperatorsStop(t *testing.T) {
	for _, away := range []int{0, 290, 310} { // 0.1 mm
		s, threads := &sketch{}, []int{0, 1, 0, 1, 0}
		for k := range threads {
			if k == 2 {
				s.way(95+away, 40, 4)
			}
			if k > 0 {
				s.op(stitch.ColourStop)
			}
			s.dash(0, 40*k, 10)
		}
		r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, Options{Threads: threads})
		if err != nil {
			t.Fatal(err)
		}
		if found := slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Kind == BackAndForth }); found != (away == 0) {
			t.Errorf("with the frame driven %.1f mm away: found is %v (%d stops stay)", float64(away)/10, found, len(r.Kept))
		}
	}
}

// Where a format does not say where the frame starts, nothing is said of it.
func TestNoStartIsFarWhereTheFormatHasNone(t *testing.T) {
	for format, want := range map[string]bool{"dst": true, "pes": false, "pec": false} {
		d := (&sketch{}).way(300, 0, 4).dash(300, 0, 6).design()
		d.Format = format
		r, err := Check(context.Background(), d, class(t, "single-15-light"), clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got := slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Kind == OffCentre }); got != want {
			t.Errorf("%s: found %v", format, got)
		}
	}
}

func TestWhatPassesItsLimitFarIsGraver(t *testing.T) {
	for _, c := range []struct {
		is   Severity
		over float64
		want Severity
	}{{Shows, 1.99, Shows}, {Shows, 2, Spoils}, {Shows, 3.99, Spoils}, {Shows, 4, Hurts}, {Hurts, 1, Hurts}, {Hurts, 2, Hurts}} {
		if got := worse(c.is, c.over); got != c.want {
			t.Errorf("%v, %v times its limit: %v", c.is, c.over, got)
		}
	}
}

// A gap is shown where it is: on the seam, not in the middle of the area whose rows end there.
func TestAGapIsShownOnItsSeam(t *testing.T) {
	for rows := 40; rows < 48; rows++ {
		d := (&sketch{}).fill(0, 0, 7, rows, 4).op(stitch.ColourStop).fill(211, 0, 7, rows, 4).design()
		r, err := Check(context.Background(), d, class(t, "single-15-light"), clock.Job{}, Options{Threads: []int{0, 1}})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, f := range r.Findings {
			if f.Kind != PullGap {
				continue
			}
			if n++; math.Abs(f.X-21) > 1 {
				t.Errorf("%d rows: the gap at 21 mm is shown at (%.1f, %.1f), ring %.1f mm", rows, f.X, f.Y, f.Radius)
			}
		}
		if n == 0 {
			t.Errorf("%d rows: no gap is found", rows)
		}
	}
}
