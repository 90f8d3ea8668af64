package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// A model of a share of the stitches has the whole one's times and slopes at
// its point, and bends as it does: away from the point it is nearer to the
// whole one than the straight line is.
func TestAShareOfTheStitchesTellsHowTimesBend(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(6, 6))
	var obs []Observation
	for k := range 6 {
		obs = append(obs, Observation{Kind: WholeRun, Design: somewhat(uint64(k), 5, 3000), SetSpeed: 900, Seconds: 100})
		obs = append(obs, Observation{Kind: BlockRun, Block: 2, Design: obs[2*k].Design, SetSpeed: 900, Seconds: 100})
	}
	free := freeConstants(s)
	p := len(free)
	m := newModel(s, free, obs)
	pr := newPrior(s, free)
	m.move(pr.mean)
	jac := make([]float64, len(obs)*p)
	m.jacobian(jac)
	at := make([]float64, len(obs))
	m.predict(at)
	thin := m.thin(0.05)
	got := make([]float64, len(obs))
	thin.predict(got)
	for i := range obs {
		if math.Abs(got[i]/at[i]-1) > 1e-9 {
			t.Errorf("observation %d at the point: %v s, the whole %v s", i, got[i], at[i])
		}
	}
	want := make([]float64, len(obs))
	missed, straight := 0.0, 0.0
	for range 20 {
		theta := append([]float64(nil), pr.mean...)
		for k := range theta {
			theta[k] += 0.25 * rng.NormFloat64()
		}
		m.move(theta)
		m.predict(want)
		thin.move(theta)
		thin.predict(got)
		for i := range obs {
			lin := 0.0
			for k := range theta {
				lin += jac[i*p+k] * (theta[k] - pr.mean[k])
			}
			missed += sq(got[i]/want[i] - 1)
			straight += sq(bent(at[i], lin)/want[i] - 1)
		}
	}
	// Its slopes are those of its own times, there and away from the point.
	thin.jacobian(jac)
	theta := slices.Clone(thin.at)
	for k, c := range free {
		const h = 1e-4
		theta[k] += h
		thin.move(theta)
		thin.predict(got)
		theta[k] -= 2 * h
		thin.move(theta)
		thin.predict(want)
		theta[k] += h
		for i := range obs {
			slope := (got[i] - want[i]) / (2 * h)
			if d := jac[i*p+k]; math.Abs(d-slope) > 1e-3*math.Abs(slope)+1e-5*at[i] {
				t.Errorf("observation %d, %s: slope %v, difference %v", i, c.Path, d, slope)
			}
		}
	}
	if missed > straight/4 {
		t.Errorf("root mean square error of the share %.4f, of the straight line %.4f", math.Sqrt(missed/240), math.Sqrt(straight/240))
	}
}

func TestLargeDesignsAreDrawnOnAShare(t *testing.T) {
	s := mustClass(t, "compact-8")
	_, _, obs := timedPiece(t, s, 3)
	res := fit(t, s, obs, Options{Budget: 100_000})
	if !res.Check.Thinned || !res.Check.Replaced || res.Check.Draws != thinDraws {
		t.Errorf("%+v", res.Check)
	}
	// The interval of another design is about as wide as by all stitches.
	exact := fit(t, s, obs, Options{})
	d := somewhat(50, 4, 1500)
	_, a := clock.How(d, res.Sheet, clock.Job{}, 0.9)
	_, b := clock.How(d, exact.Sheet, clock.Job{}, 0.9)
	if r := (a.High - a.Low) / (b.High - b.Low); r < 0.5 || r > 2 {
		t.Errorf("interval of %.1f s by a share, %.1f s by all", a.High-a.Low, b.High-b.Low)
	}
}

// Where a slip is weighed on long designs a share of the stitches stands for all: the machine it finds is the one that all give.
func TestASlipIsWeighedOnAShare(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(3, 5))
	truth := drawMachine(s, rng)
	var obs []Observation
	var designs []*stitch.Design
	for k := range 5 {
		designs = append(designs, somewhat(uint64(k), 5, 4000))
	}
	for k := range 6 { // one of them at two speeds
		o := timed(truth, rng, designs[k%5], 1000-100*float64(k%3), k < 2)
		for i := range o {
			if o[i].Kind == BlockRun && o[i].Block < 5 {
				o[i].Seconds += truth.Rest.ColourStop + truth.Rest.PerNeedle
			}
		}
		obs = append(obs, o...)
	}
	res := fit(t, s, obs, Options{Draws: -1, Plain: true})
	po := res.post
	if all := po.f.model.stitches(); all <= cheapStitches {
		t.Fatalf("%d stitches are all looked at", all)
	}
	var laps *sharedSlip
	search := &slipSearch{po: po}
	for _, c := range search.sharedCandidates() {
		if c.kind == LapsSlip && laps == nil {
			laps = &c
		}
	}
	of := weighed{e: 0.002}
	share, err := search.again(laps, of)
	if err != nil {
		t.Fatal(err)
	}
	thinned := 0
	for _, g := range share.f.model.groups {
		if g.thin != nil {
			thinned++
		}
	}
	if thinned != len(share.f.model.groups) || len(res.Slips) != 1 || res.Slips[0].Kind != LapsSlip {
		t.Errorf("%d of %d groups by a share; asked about %+v", thinned, len(share.f.model.groups), res.Slips)
	}
	all := newFitter(t.Context(), po.f.prior, po.f.model.like(s, po.f.model.free, laps.with(obs)))
	all.extra, all.fixed = of.e, true
	if err := all.solve(true); err != nil {
		t.Fatal(err)
	}
	whole := all.posterior()
	pred := make([]float64, len(obs))
	loss := all.evaluate(share.z, pred)
	for i, sd := range all.noises {
		if d := math.Abs(pred[i]-whole.f.pred[i]) / sd.sd; d > 0.5 {
			t.Errorf("row %d: %.2f of its errors from what all stitches expect", i, d)
		}
	}
	if d := loss - whole.f.loss; d > 0.5 {
		t.Errorf("the machine found is e^%.2f times less likely than the best", d)
	}
	if d := math.Abs(share.total() - whole.total()); d > 1 {
		t.Errorf("ln evidence differs by %.2f", d)
	}
}
