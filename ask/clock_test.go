package ask

import (
	"context"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// one is a shelf with one design and one machine.
type one struct {
	d *Design
	s *machine.Sheet
}

func (o one) Design(context.Context, string) (*Design, error)       { return o.d, nil }
func (o one) Sheet(context.Context, string) (*machine.Sheet, error) { return o.s, nil }

func keys(t *testing.T, s *machine.Sheet) (verdict, caveat string) {
	t.Helper()
	rec := []stitch.Record{{Op: stitch.Sew}}
	for range 400 {
		rec = append(rec, stitch.Record{DX: 30, Op: stitch.Sew})
	}
	d := NewDesign(&stitch.Design{Name: "LABEL", Records: rec}, "bay/leaf.dst", "")
	a, err := Clock(t.Context(), one{d, s}, ClockQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	if a.Design != "leaf" || a.Label != "LABEL" {
		t.Errorf("called %q, labelled %q", a.Design, a.Label)
	}
	if len(a.Caveats) > 0 {
		caveat = a.Caveats[0].Key
	}
	return a.Verdict[0].Key, caveat
}

// A sheet without spreads gives no interval, and says so once: nothing is wide.
func TestNoSpreadsNoInterval(t *testing.T) {
	s, _ := machine.Class("compact-8")
	if v, c := keys(t, s); v != "clock.between" || c != "clock.assumed" {
		t.Errorf("a class says %s and %q", v, c)
	}
	exact := s.Clone()
	exact.SD = nil
	if v, c := keys(t, exact); v != "clock.no-interval" || c != "" {
		t.Errorf("a sheet without spreads says %s and %q", v, c)
	}
}

// What is wrong with a question is found before anything is asked of the shelf.
func TestClockCheckRefuses(t *testing.T) {
	for _, q := range []ClockQuestion{{Level: 0.3}, {Level: 1}, {Job: Job{Speed: 3}}, {Job: Job{Heavy: 9}}, {Job: Job{Needles: []int{0}}}} {
		if err := ClockCheck(q); err == nil {
			t.Errorf("%+v is taken", q)
		}
	}
	if err := ClockCheck(ClockQuestion{}); err != nil {
		t.Error(err)
	}
}

// A shaft that misses its setting is not said to lose nothing at a speed that it never turns.
func TestAShaftThatMissesItsSettingIsSaid(t *testing.T) {
	a := &ClockAnswer{Revolutions: 900, SetSpeed: 1000}
	for _, c := range []struct {
		seconds float64 // for 900 revolutions
		want    string
	}{{60, "900 stitches at 900/min, which the shaft turns where 1,000/min is set"}, {54, "900 stitches at 1,000/min, nothing lost"}, {0, "900 stitches at 1,000/min, nothing lost"}} {
		a.Parts.AtSetSpeed = c.seconds
		if got := a.notes()["at_set_speed"].Raw(); got != c.want {
			t.Errorf("%v s: %q, want %q", c.seconds, got, c.want)
		}
	}
}
