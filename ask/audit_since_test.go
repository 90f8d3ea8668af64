package ask

import (
	"context"
	"testing"

	"needlepace/audit"
	"needlepace/machine"
	"needlepace/stitch"
)

// versions is a shelf with designs by name and one machine.
type versions map[string]*Design

func (v versions) Design(_ context.Context, name string) (*Design, error) { return v[name], nil }
func (v versions) Sheet(context.Context, string) (*machine.Sheet, error) {
	s, _ := machine.Class(DefaultMachine)
	return s, nil
}

// bars are two bars of satin in one thread; cut tells whether the thread is cut and
// begins again in the same hole half way through each, and by how far all is moved,
// in 0.1 mm.
func bars(cut [2]bool, by int) *stitch.Design {
	d := &stitch.Design{Format: "dst"}
	d.Records = append(d.Records, stitch.Record{DX: int16(by), Op: stitch.Jump})
	lock := func() {
		for range 3 {
			d.Records = append(d.Records, stitch.Record{DX: 5}, stitch.Record{DX: -5})
		}
	}
	for bar := range 2 {
		lock()
		for half := range 2 {
			for k := range 60 {
				dy := int16(30)
				if k%2 == 1 {
					dy = -30
				}
				d.Records = append(d.Records, stitch.Record{DX: 4, DY: dy})
			}
			if half == 0 && cut[bar] {
				lock()
				d.Records = append(d.Records, stitch.Record{Op: stitch.Trim})
				lock()
			}
		}
		lock()
		d.Records = append(d.Records, stitch.Record{Op: stitch.Trim}, stitch.Record{DY: 400, Op: stitch.Jump})
	}
	return d
}

func sinceOfBars(t *testing.T, old, now *stitch.Design) *AuditSince {
	t.Helper()
	v := versions{"old": NewDesign(old, "old.dst", ""), "new": NewDesign(now, "new.dst", "")}
	a, err := Audit(context.Background(), v, AuditQuestion{Design: "new", Machine: "m", Since: "old"})
	if err != nil {
		t.Fatal(err)
	}
	if a.Since.Met+a.Since.Partly+a.Since.Open != len(a.Since.Points) {
		t.Errorf("%d met, %d in part, %d open of %d", a.Since.Met, a.Since.Partly, a.Since.Open, len(a.Since.Points))
	}
	return a.Since
}

func stateOf(s *AuditSince, k audit.Kind) (all []PointState) {
	for _, p := range s.Points {
		if p.Kind == k {
			all = append(all, p.State)
		}
	}
	return all
}

func TestWhatBecameOfPointsSinceAnEarlierVersion(t *testing.T) {
	both := bars([2]bool{true, true}, 0)
	for _, c := range []struct {
		name   string
		now    *stitch.Design
		met    int
		open   int
		faster bool
	}{
		{"the same file", bars([2]bool{true, true}, 0), 0, 2, false},
		{"one is put right", bars([2]bool{true, false}, 0), 1, 1, true},
		{"both are", bars([2]bool{}, 0), 2, 0, true},
		{"both are, and the design was moved", bars([2]bool{}, 300), 2, 0, true},
		{"moved only", bars([2]bool{true, true}, 300), 0, 2, false},
	} {
		s := sinceOfBars(t, both, c.now)
		met, open := 0, 0
		states := stateOf(s, audit.NeedlessTrim)
		for _, st := range states {
			switch st {
			case PointMet:
				met++
			case PointOpen:
				open++
			}
		}
		if met != c.met || open != c.open {
			t.Errorf("%s: %v of the needless trims; %d met and %d open is right", c.name, states, c.met, c.open)
		}
		if c.faster != (s.Won > 1) {
			t.Errorf("%s: won %.2f s on each run", c.name, s.Won)
		}
		if s.Same < 0.9 {
			t.Errorf("%s: %.2f of the holes are the same", c.name, s.Same)
		}
	}
	if s := sinceOfBars(t, bars([2]bool{}, 0), both); len(s.New) == 0 || s.Won > -1 {
		t.Errorf("a version with two more trims has the new findings %v and won %.1f s", s.New, s.Won)
	}
}

func TestAnotherDesignIsNoEarlierVersion(t *testing.T) {
	other := &stitch.Design{Format: "dst"}
	for k := range 200 {
		other.Records = append(other.Records, stitch.Record{DX: int16(7 + k%5), DY: int16(k % 9)})
	}
	if s := sinceOfBars(t, other, bars([2]bool{}, 0)); s.Verdict.Key != "letter.another-design" || len(s.Points) > 0 || s.Met+s.Partly+s.Open > 0 {
		t.Errorf("another design is taken for a version: %s (%.2f the same)", s.Verdict.Text(nil), s.Same)
	}
}

// Places are in tenths of a millimetre, in which a sum of floats is not exact: wherever one
// lies, 2.0 mm away it is the same and 2.1 mm away it is not.
func TestAPlaceIsTheSameWithinTwoMillimetres(t *testing.T) {
	for k := -500; k <= 500; k++ {
		was := Place{X: float64(k) / 10, Y: float64(-k) / 10}
		for _, c := range []struct {
			dx, dy, r int // 0.1 mm
			want      bool
		}{{20, 0, 0, true}, {0, -20, 5, true}, {-12, 16, 20, true}, {20, 1, 0, false}, {21, 0, 0, false}, {-21, 0, 20, false}, {15, 15, 0, false}, {30, 0, 30, true}, {-31, 0, 30, false}} {
			is := Place{X: float64(k+c.dx) / 10, Y: float64(c.dy-k) / 10}
			old := was
			if k%2 == 0 {
				is.RadiusMM = float64(c.r) / 10
			} else {
				old.RadiusMM = float64(c.r) / 10
			}
			if got := meets(audit.SameHole, old, []Place{is}); got != c.want {
				t.Fatalf("from (%g, %g) %d, %d tenths on, radius %g or %g: %v", was.X, was.Y, c.dx, c.dy, old.RadiusMM, is.RadiusMM, got)
			}
		}
	}
	if !meets(audit.OffCentre, Place{}, []Place{{X: 100}}) {
		t.Error("what is about the whole design is tied to a place")
	}
}
