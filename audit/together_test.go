package audit

import (
	"context"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// Tiny stitches to and fro between two holes are found twice, as tiny and as
// strikes of one hole; they can be saved once. Without any of them the run is
// what the test clocks itself.
func TestCostsThatOverlapAreSolvedTogether(t *testing.T) {
	s := (&sketch{}).dash(0, 0, 20)
	for range 60 {
		s.to(404, 0, stitch.Sew).to(400, 0, stitch.Sew)
	}
	for k := range 20 {
		s.to(400, 20*(k+1), stitch.Sew)
	}
	bare := (&sketch{}).dash(0, 0, 20)
	for k := range 20 {
		bare.to(400, 20*(k+1), stitch.Sew)
	}
	for _, sheet := range machine.Classes() {
		r, err := Check(context.Background(), s.design(), sheet, clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		alone, kinds := 0.0, map[Kind]bool{}
		for _, f := range r.Findings {
			alone += f.Alone
			kinds[f.Kind] = f.Seconds > 0
		}
		most := r.Seconds - clock.Run(bare.design(), sheet, clock.Job{}).Seconds
		if !kinds[ShortStitches] || !kinds[SameHole] {
			t.Fatalf("%s: found %v", sheet.Name, kinds)
		}
		if alone < 1.2*most {
			t.Errorf("%s: the costs do not overlap: %.1f s alone, %.1f s at most", sheet.Name, alone, most)
		}
		if r.Total > most+1e-6 || r.Total < 0.8*most {
			t.Errorf("%s: the findings cost %.3f s together; without the stitches the run is %.3f s shorter", sheet.Name,
				r.Total, most)
		}
	}
}

func TestFindingsThatTouchAreOne(t *testing.T) {
	at := func(from, count int, xs ...int) Finding {
		f := Finding{From: from, To: from + 1, Count: count, Over: float64(count), X: float64(xs[0]) / 10}
		for _, x := range xs {
			f.lies(float64(x), 0)
		}
		return f
	}
	got := gather([]Finding{at(0, 1, 0), at(5, 7, 25), at(9, 2, 100), at(12, 1, 300, 130)}, 3)
	if len(got) != 2 || got[0].Count != 8 || got[0].From != 0 || got[0].To != 6 || got[0].X != 2.5 || !got[0].Spread {
		t.Fatalf("two beside each other and two more: %+v", got)
	}
	if got[1].Count != 3 || got[1].X != 10 {
		t.Errorf("the place is that of the worst: %+v", got[1])
	}
}

func TestTheGravestStandsFirst(t *testing.T) {
	fs := []Finding{{Severity: OnlyTime, Seconds: 90}, {Severity: Hurts, Over: 5}, {Severity: Hurts, Seconds: 1},
		{Severity: Spoils, Seconds: 3}, {Severity: Hurts, Over: 9}}
	sortFindings(fs)
	var got []float64
	for _, f := range fs {
		got = append(got, f.Seconds+f.Over)
	}
	if want := []float64{1, 9, 5, 3, 90}; !slices.Equal(got, want) {
		t.Errorf("order %v, want %v", got, want)
	}
	for s := OnlyTime; s <= Hurts; s++ {
		var back Severity
		b, _ := s.MarshalText()
		if err := back.UnmarshalText(b); err != nil || back != s || s.Text(nil)[0] == '[' {
			t.Errorf("%v comes back as %v (%v) and says %q", s, back, err, s.Text(nil))
		}
	}
	if err := new(Severity).UnmarshalText([]byte("bad")); err == nil {
		t.Error("an unknown severity is taken")
	}
}

// A spot of so many penetrations that a needle breaks stands first, with a ring
// around the very square millimetre.
func TestASpotThatBreaksANeedleStandsFirst(t *testing.T) {
	s := (&sketch{}).dash(0, 0, 30)
	for k := range 300 {
		s.to(600+k%7, 300+k%5, stitch.Sew)
	}
	r, err := Check(context.Background(), s.design(), class(t, "single-15-light"), clock.Job{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	f := r.Findings[0]
	if f.Severity != Hurts || f.X < 60 || f.X > 61 || f.Y < 30 || f.Y > 31 || f.Radius > 2 {
		t.Errorf("the first finding is %+v", f)
	}
	if !slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Kind == DenseSpot && f.Severity == Hurts }) {
		t.Error("the spot is not among those that may break a needle")
	}
}

// What costs the same seconds is shared within its own place first: a trim far from it
// costs what it costs alone. And an order that is quicker for the very objects that could
// be left out does not come on top of leaving them out: all findings together never cost
// more than the whole run, but for the start and end of an empty one.
func TestWhatOverlapsTakesNothingFromTheRest(t *testing.T) {
	s := (&sketch{}).dash(0, 0, 20)
	for range 60 {
		s.to(404, 0, stitch.Sew).to(400, 0, stitch.Sew)
	}
	for k := range 20 {
		s.to(400, 20*(k+1), stitch.Sew)
	}
	s.dash(900, 800, 20).dash(0, 1200, 20).dash(430, 1200, 20)
	trims := findings(t, s, NeedlessTrim, Options{})
	if len(trims) != 1 || trims[0].Seconds < 0.999999*trims[0].Alone {
		t.Errorf("the trim far from it: %+v", trims)
	}

	few := &sketch{}
	for k := range 14 {
		few.dash(900*(k%2), 60*k, 4)
	}
	for _, sheet := range machine.Classes() {
		r, err := Check(context.Background(), few.design(), sheet, clock.Job{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		kinds := map[Kind]float64{}
		for _, f := range r.Findings {
			kinds[f.Kind] += f.Alone
		}
		if kinds[Order] == 0 || kinds[FewStitches] == 0 {
			t.Fatalf("%s: found %v", sheet.Name, kinds)
		}
		if most := r.Seconds - clock.Run(&stitch.Design{}, sheet, clock.Job{}).Seconds; r.Total > most {
			t.Errorf("%s: the findings cost %.1f s, the whole run takes %.1f s more than an empty one", sheet.Name, r.Total, most)
		}
	}
}
