package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// A machine that gives each move a least time has a top speed for all stitches but the shortest. Where no row has any of those, what
// is learned holds both, says so and asks for a piece that has some; once that is timed it is known.
func TestATopSpeedMayHoldForLongerStitchesAlone(t *testing.T) {
	class := mustClass(t, "single-15-light")
	s := class.Clone()
	s.Ladder = machine.Ladder{Length: []float64{1.2, 12.7}, Speed: []float64{1000, 780}}
	truth, _, obs := timedPiece(t, s, 8)
	for k := range 2 {
		obs = append(obs, timed(truth, rand.New(rand.NewPCG(6, 4)), short(4+k, 900), 1000-250*float64(k), true)...)
	}
	res := fit(t, class, obs, noDraws)
	tiny := func(sheet *machine.Sheet) (got, want float64, u *clock.Uncertainty) {
		d := build(class, []patch{running(0.7, 1500, false)}, []point{{}})
		r, u := clock.How(d, sheet, clock.Job{}, clock.DefaultLevel)
		return r.Seconds, clock.Run(d, truth, clock.Job{}).Seconds, u
	}
	_, want, u := tiny(res.Sheet)
	if want < u.Low || want > u.High || u.High-u.Low < 0.1*want {
		t.Errorf("short stitches take %.1f s, predicted %.1f to %.1f s", want, u.Low, u.High)
	}
	before := res.Verdict
	if v := before; !v.Short || v.Fits != FitsNot || len(res.Next) == 0 || !res.Next[0].Piece {
		t.Errorf("%+v, next %+v", v, res.Next)
	}
	if testing.Short() {
		return
	}
	p := piece(t, res.Sheet, usual)
	res = fit(t, class, append(obs, timed(truth, rand.New(rand.NewPCG(1, 1)), p.Design, p.SetSpeed, true)...), noDraws)
	if got, want, _ := tiny(res.Sheet); math.Abs(got/want-1) > 0.02 || res.Verdict.Elsewhere > before.Elsewhere/2 {
		t.Errorf("a second piece was timed: short stitches take %.1f s, predicted %.1f s; %+v", want, got, res.Verdict)
	}
}

// A piece made for a learned sheet has what a first has not: stitches of 0.6 and 1 mm, and long ones among short.
func TestASecondPieceHasWhatTheFirstHasNot(t *testing.T) {
	for _, learned := range []bool{false, true} {
		s := mustClass(t, "multi-12")
		if learned {
			s.Fit = &machine.Fit{}
		}
		p := piece(t, s, usual)
		d := p.Design
		if rows := append(p.Observations("p"), timed(s, rand.New(rand.NewPCG(1, 1)), short(1, 100), 800, true)...); pieces(rows) != 1 {
			t.Errorf("%d test pieces of one and another design", pieces(rows))
		}
		var shortest, short, after int
		for i := 1; i < len(d.Records); i++ {
			p, q := d.Records[i-1], d.Records[i]
			a, b := stitch.LengthMM(int(p.DX), int(p.DY)), stitch.LengthMM(int(q.DX), int(q.DY))
			switch {
			case p.Op != stitch.Sew || q.Op != stitch.Sew:
			case b > 0.5 && b < 0.7:
				shortest++
			case math.Abs(b-1) < 0.01 && math.Abs(a-1) < 0.01:
				short++
			case b > 6 && a < 2.1:
				after++
			}
		}
		if (shortest > 100 && short > 100 && after > 10) != learned {
			t.Errorf("learned %v: %d stitches of 0.6 mm, %d of 1 mm, %d long ones after short", learned, shortest, short, after)
		}
	}
}

// Where the law of its class is hardly believed a machine's times are less sure, and no less sure where it is.
func TestTimesOfAMachineOfNoKnownLawAreLessSure(t *testing.T) {
	class := mustClass(t, "multi-12")
	for _, c := range []struct{ plain, misfit, want float64 }{
		{0.5, 0.002, 0.002}, {0.31, 0.002, 0.002}, {0.15, 0, 0.003}, {0, 0, 0.006}, {0, 0.008, 0.010},
	} {
		po := &posterior{believed: []*belief{{terms: []string{"lag"}, weight: 1 - c.plain}, {weight: c.plain}}}
		if got := po.lawError(class, c.misfit); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("the law of its class believed by %v: an error of %v, want %v", c.plain, got, c.want)
		}
	}
	if got := (&posterior{believed: []*belief{{}}}).lawError(class, 0.001); got != 0.001 {
		t.Errorf("too few rows for kinds: an error of %v", got)
	}
}

// What kinds of machine do not agree on is told apart from what they do: a top speed for all stitches, and for longer ones alone.
func TestKindsOfMachineLieApart(t *testing.T) {
	s := mustClass(t, "single-15-light")
	at := func(change func(*machine.Sheet), weight float64) *belief {
		c := s.Clone()
		change(c)
		free := freeConstants(c)
		f := &fitter{model: newModel(c, free, nil), theta: slices.Clone(newPrior(c, free).mean)}
		return &belief{f: f, weight: weight}
	}
	all := at(func(c *machine.Sheet) { c.Speed.Top = 700 }, 0.5)
	long := at(func(c *machine.Sheet) {
		c.Ladder = machine.Ladder{Length: []float64{1, 12.7}, Speed: []float64{1000, 700}}
	}, 0.5)
	var obs []Observation
	for _, mm := range []float64{0.7, 2} {
		d := build(s, []patch{running(mm, 1000, false)}, []point{{}})
		obs = append(obs, Observation{Kind: BlockRun, Block: 1, Design: d, SetSpeed: 1000, Seconds: 1, Step: 0.1})
	}
	// A thousand turns at 700 and at 1000/min take 86 and 60 s: half of the difference is the deviation.
	got := (&posterior{believed: []*belief{all, long}}).apart(obs)
	if sd := math.Sqrt(got[0]); sd < 11 || sd > 14.5 || math.Sqrt(got[1]) > 0.2 {
		t.Errorf("short stitches are %.2f s apart, longer ones %.2f s", sd, math.Sqrt(got[1]))
	}
	if got := (&posterior{believed: []*belief{all}}).apart(obs); got[0] != 0 {
		t.Errorf("one kind of machine lies %v apart from itself", got[0])
	}
}

// Beside a top speed that rows speak for, one for longer stitches alone is believed that they do not tell from it, each half as
// likely before any timing; one that they contradict is not.
func TestATopSpeedsLengthIsLookedAround(t *testing.T) {
	class := mustClass(t, "single-15-light")
	s := class.Clone()
	s.Speed.Top = 780
	list := []patch{running(1.2, 1500, false), satin(3, 700, true), zigzag(4, 400)}
	obs := timed(s, rand.New(rand.NewPCG(6, 1)), build(class, list, make([]point, len(list))), 1000, true)
	sheet := with(class, "speed.top", 800.0, topSD)
	free := freeConstants(sheet)
	b, err := believe(newFitter(t.Context(), newPrior(sheet, free), newModel(sheet, free, obs)), nil)
	if err != nil {
		t.Fatal(err)
	}
	b.terms, b.odds = []string{"top-speed"}, -2
	near, err := b.around()
	if err != nil {
		t.Fatal(err)
	}
	chance := math.Exp(b.odds + 2)
	for _, n := range near {
		l := n.f.model.sheetAt(n.f.theta).Ladder
		if n.sheet.Speed.Top != 0 || len(l.Speed) != 2 || l.Speed[0] != 1000 || math.Abs(l.Speed[1]-780) > 8 || l.Length[0] > 1.2 {
			t.Errorf("%+v, top speed %v", l, n.sheet.Speed.Top)
		}
		if math.Abs(n.odds-b.odds+math.Ln2) > 1e-9 {
			t.Errorf("odds of %v beside %v", n.odds, b.odds)
		}
		chance += math.Exp(n.odds + 2)
	}
	if len(near) != 2 || math.Abs(chance-1) > 1e-9 {
		t.Errorf("%d beside it, together with it as likely as it was by %v", len(near), chance)
	}
}
