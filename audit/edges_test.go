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
		{ShortStitches, tiny(7), tiny(8), Options{}},
		{TooLarge, size(1001, 100), size(1000, 100), hoop},
		{TooLarge, size(100, 801), size(100, 800), hoop},
		{BeyondField, size(1001, 100), size(1000, 100), field},
		{BeyondField, size(100, 801), size(100, 800), field},
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
