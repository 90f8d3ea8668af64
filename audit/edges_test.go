package audit

import (
	"context"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// findings are those of a kind on a light machine.
func findings(t *testing.T, s *sketch, kind Kind, o Options) (all []Finding) {
	t.Helper()
	r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Findings {
		if f.Kind == kind {
			all = append(all, f)
		}
	}
	return all
}

// How grave a finding is at the least, as docs/reading-an-audit.md says it: what may
// break a needle or hurt somebody, what spoils the piece, what may show, what only
// costs time.
func TestHowGraveAFindingIsAtTheLeast(t *testing.T) {
	new := func() *sketch { return &sketch{} }
	for kind, c := range map[Kind]struct {
		s    *sketch
		o    Options
		want Severity
	}{
		BeyondField:   {new().dash(0, 0, 30), Options{FieldX: 50, FieldY: 50}, Hurts},
		TooLarge:      {new().dash(0, 0, 30), Options{HoopX: 50, HoopY: 50}, Hurts},
		TooTight:      {new().dash(0, 0, 22), Options{HoopX: 50, HoopY: 50}, Hurts},
		OffCentre:     {new().way(300, 0, 4).dash(300, 0, 6), Options{}, Hurts},
		MissingLock:   {new().dash(0, 0, 20).lock().way(300, 300, 4).dash(300, 300, 20), Options{}, Spoils},
		MissingTieIn:  {new().dash(0, 0, 20).lock().way(300, 300, 4).dash(300, 300, 20).lock(), Options{}, Spoils},
		StackedLayers: {new().satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4).satin(0, 0, 200, 60, 4), Options{}, Shows},
		NoUnderlay:    {new().satin(0, 0, 100, 40, 4), Options{}, Shows},
		SnagStitches:  {new().dash(0, 0, 10).to(303, 0, stitch.Sew), Options{}, Shows},
		DraggedThread: {new().dash(0, 0, 10).way(250, 0, 2).to(252, 0, stitch.Sew), Options{}, Shows},
		NoChange:      {new().dash(0, 0, 20).op(stitch.ColourStop).dash(700, 0, 20), Options{Threads: []int{0, 0}}, OnlyTime},
		NeedlessTrim:  {new().dash(0, 0, 20).way(430, 0, 4).dash(430, 0, 20), Options{}, OnlyTime},
	} {
		all := findings(t, c.s, kind, c.o)
		if len(all) == 0 {
			t.Errorf("%s: not found", kind)
		}
		for _, f := range all {
			if f.Severity != c.want {
				t.Errorf("%s is %v, it should be %v: %s", kind, f.Severity, c.want, f.What.Text(nil))
			}
		}
	}
}

// Each limit as its text has it ("a shorter way", "a longer stitch", "a way up to
// this"): on it, and the least that a file can tell beyond it.
func TestLimitsAreMetToTheTenthOfAMillimetre(t *testing.T) {
	new := func() *sketch { return &sketch{} }
	trim := func(way int) *sketch { return new().dash(0, 0, 12).way(240+way, 0, 4).dash(240+way, 0, 12) }
	covered := func(way int) *sketch {
		s := new().to(-100, 0, stitch.Sew).to(0, 0, stitch.Sew).way(way, 0, 6).dash(way, 0, 12).op(stitch.ColourStop)
		for x := -120; x <= way+20; x += 20 {
			s.to(x, 0, stitch.Sew)
		}
		return s.to(way+20, 0, stitch.Sew)
	}
	drag := func(way int) *sketch { return new().dash(0, 0, 10).way(200+way-2, 0, 2).to(200+way, 0, stitch.Sew) }
	many := func(way int) *sketch { // to and fro, 80 of them
		s := new().dash(0, 0, 10)
		for k := range 80 {
			s.to(200+way*((k+1)%2), 0, stitch.Sew)
		}
		return s
	}
	long := func(way int) *sketch { return new().dash(0, 0, 10).to(200+way, 0, stitch.Sew) }
	tiny := func(step int) *sketch {
		s := new().dash(0, 0, 10)
		for range 8 {
			s.to(s.at.X+step, 0, stitch.Sew)
		}
		return s.to(s.at.X+20, 0, stitch.Sew).to(s.at.X+20, 0, stitch.Sew)
	}
	size := func(wide, high int) *sketch {
		return new().to(0, 0, stitch.Sew).to(wide, 0, stitch.Sew).to(wide, high, stitch.Sew)
	}
	clusters := func(n int) *sketch { // of n holes each within 0.4 mm, 1 mm apart
		s := new()
		for c := range 6 {
			for k := range n {
				s.to(10*c+k%4, k/4, stitch.Sew)
			}
		}
		return s
	}
	bend := func(inner int) *sketch { // 4 mm wide, the outer side 0.4 mm a line
		s := new()
		for k := range 40 {
			s.to(inner*k, 0, stitch.Sew).to(4*k, 40, stitch.Sew)
		}
		return s
	}
	// Thread is 0.4 mm wide: the fill's edge is at 7.8 mm, the satin's end 0.2 mm below its holes.
	seam := func(y int) *sketch { return new().fill(0, 0, 8, 20, 4).op(stitch.ColourStop).satin(0, y, 100, 40, 4) }
	two := Options{Threads: []int{0, 1}}
	hoop, field := Options{HoopX: 100, HoopY: 80}, Options{FieldX: 100, FieldY: 80}
	for i, c := range []struct {
		kind     Kind
		has, not *sketch
		o        Options
	}{
		{NeedlessTrim, trim(50), trim(51), Options{}},
		{NeedlessTrim, covered(400), covered(401), Options{}},
		{DraggedThread, drag(51), drag(50), Options{}},
		{SnagStitches, long(101), long(100), Options{}},
		{LongStitches, many(74), many(70), Options{}},
		{ShortStitches, tiny(7), tiny(8), Options{}},
		{TooLarge, size(1001, 100), size(1000, 100), hoop},
		{TooLarge, size(100, 801), size(100, 800), hoop},
		{BeyondField, size(1001, 100), size(1000, 100), field},
		{BeyondField, size(100, 801), size(100, 800), field},
		{DenseSpot, clusters(9), clusters(8), Options{}},
		{InnerCurve, bend(1), bend(2), Options{}},
		{PullGap, seam(78), seam(77), two}, // drawn back by 0.3 mm
		// 5 mm for the presser foot, on either side
		{TooTight, size(901, 100), size(900, 100), hoop},
		{TooTight, size(100, 701), size(100, 700), hoop},
	} {
		if len(findings(t, c.has, c.kind, c.o)) == 0 {
			t.Errorf("%s, case %d: not found", c.kind, i)
		}
		if all := findings(t, c.not, c.kind, c.o); len(all) > 0 {
			t.Errorf("%s, case %d: found where it is not: %s", c.kind, i, all[0].What.Text(nil))
		}
	}
}

// Four columns of satin with 0.25 mm from thread to thread cover 6.4 times, and of
// threads 0.29 mm apart 5.5 times: trouble is looked for beyond six.
func TestLayersCountBeyondSix(t *testing.T) {
	for step, thick := range map[int]bool{50: true, 58: false} { // 0.005 mm
		s := &sketch{}
		for range 4 {
			for k := range 201 {
				s.to(k*step/20, 80*(k%2), stitch.Sew)
			}
		}
		area := 0
		for _, f := range findings(t, s, StackedLayers, Options{}) {
			area += f.Count
		}
		if all := 8 * step; thick != (area > all/2) { // 200 × 0.005 mm are 1 mm
			t.Errorf("threads %.3f mm apart: %d mm² lie too thick, of about %d", float64(step)/200, area, all)
		}
	}
}
