package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/machine"
)

// A machine of the model fits; one whose every row is off by a per cent or two for
// no reason does not, nor one that is held up again and again; rows that the
// constants use up leave it open.
func TestVerdict(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(4, 4))
	truth, _, piece := timedPiece(t, s, 5)
	obs := piece
	for k := range 3 {
		obs = append(obs, timed(truth, rng, somewhat(uint64(k), 4, 1500), 900-150*float64(k), true)...)
	}
	res := fit(t, s, obs, noDraws)
	if v := res.Verdict; v.Fits != FitsWell && v.Fits != FitsWithin || v.Within <= 0 || v.Within > withinNot || v.Tires {
		t.Errorf("a machine of the model: %+v", v)
	}
	if l := res.LeaveOut; l.Runs+l.Apart != len(obs) {
		t.Errorf("of %d rows %d are judged and %d stand apart", len(obs), l.Runs, l.Apart)
	}
	odd := append([]Observation(nil), obs...)
	for i := range odd {
		odd[i].Seconds *= math.Exp(0.015 * rng.NormFloat64())
	}
	if v := fit(t, s, odd, noDraws).Verdict; v.Fits != FitsNot {
		t.Errorf("rows that are 1.5 %% off for no reason: %+v", v)
	}
	held := append([]Observation(nil), obs...)
	for _, i := range []int{1, 3, 5} {
		held[i].Seconds += 45
		held[0].Seconds += 45
	}
	if v := fit(t, s, held, noDraws).Verdict; v.Fits != FitsNot {
		t.Errorf("three blocks held up: %+v", v)
	}
	if v := fit(t, s, piece, noDraws).Verdict; v.Fits != FitsOpen {
		t.Errorf("a test piece alone, which says as much as there are constants: %+v", v)
	}
}

// Of many variants one does well by luck: the only good one of four costs ln 4,
// four alike cost nothing.
func TestTheChoiceAmongVariantsCosts(t *testing.T) {
	if got := choosing([]float64{-3, -3, -3, -3}, -3); got != 0 {
		t.Errorf("four alike cost %v", -got)
	}
	if got := choosing([]float64{-60, -3, -70, -80}, -3); math.Abs(got+math.Log(4)) > 1e-12 {
		t.Errorf("the one of four costs %v, want ln 4", -got)
	}
}

// Colour changes that people have a hand in differ from one to the next: their scatter is learned, and intervals hold
// it; where all take the same it is nearly nothing.
func TestTheScatterOfColourChangesIsLearned(t *testing.T) {
	s := mustClass(t, "single-15-light")
	s.Rest.ColourStop = 12
	for _, c := range []struct{ sd, least, most float64 }{{0, 0, 0.05}, {0.3, 0.12, 0.6}} {
		rng := rand.New(rand.NewPCG(9, 4))
		truth, _, obs := timedPiece(t, s, 6)
		for k := range 3 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 1500), 900-150*float64(k), true)...)
		}
		for i := range obs {
			if o := &obs[i]; o.Kind == WholeRun {
				for range o.Design.Count().ColourStops {
					o.Seconds += truth.Rest.ColourStop * c.sd * rng.NormFloat64()
				}
			}
		}
		res := fit(t, s, obs, noDraws)
		if got := res.Sheet.Fit.Changes; got < c.least || got > c.most {
			t.Errorf("colour changes that differ by %v: learned %v", c.sd, got)
		}
		if v := res.Verdict.Fits; v == FitsNot {
			t.Errorf("colour changes that differ by %v: %v", c.sd, v)
		}
	}
}

// What is open of other sewing than was timed counts sooner where the machine is surely not of its class's law: what the rows show
// is then not what was known of the class.
func TestWhatIsOpenCountsSoonerOfAnotherLaw(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(4, 4))
	truth, _, obs := timedPiece(t, s, 5)
	obs = append(obs, timed(truth, rng, somewhat(1, 4, 1500), 900, true)...)
	plain := noDraws
	plain.Plain = true
	res := fit(t, s, obs, plain)
	wide := func(by float64) *machine.Sheet {
		c := res.Sheet.Clone()
		for _, path := range []string{"frame.accel_x", "frame.accel_y"} { // most of sewing that was not timed hangs on them
			c.SD[path] *= by
		}
		return c
	}
	open := func(elsewhere float64) *machine.Sheet {
		lo, hi := 1.0, 50.0
		for range 12 {
			by := math.Sqrt(lo * hi)
			if v := res.post.judge(res, s, wide(by)); v.Elsewhere < elsewhere {
				lo = by
			} else {
				hi = by
			}
		}
		return wide(lo)
	}
	some, much := open((withinNot+elsewhereNot)/2), open(elsewhereNot+0.003)
	f := res.post.f
	for _, c := range []struct {
		what  string
		sheet *machine.Sheet
		kinds []*belief
		want  Fits
	}{
		{"perhaps of its law", some, []*belief{{f: f, terms: []string{"jerk"}, weight: 0.8}, {f: f, weight: 0.2}}, FitsWithin},
		{"hardly of its law", some, []*belief{{f: f, terms: []string{"jerk"}, weight: 0.95}, {f: f, weight: 0.05}}, FitsNot},
		{"of its law", much, []*belief{{f: f, weight: 1}}, FitsWithin},
		{"of its law, and perhaps slow to start", much, []*belief{{f: f, weight: 0.8}, {f: f, terms: []string{"slow-start"}, weight: 0.2}}, FitsNot},
		{"of its law, and hardly slow to start", much, []*belief{{f: f, weight: 0.9}, {f: f, terms: []string{"slow-start"}, weight: 0.1}}, FitsWithin},
	} {
		res.post.believed = c.kinds
		if v := res.post.judge(res, s, c.sheet); v.Fits != c.want || v.Within > withinNot || v.Turns {
			t.Errorf("%s: %+v, want %s", c.what, v, c.want)
		}
	}
}

// Where a slow start of runs is believed somewhat, what is open is what it does to a small design; where it hardly is, it is not
// asked.
func TestASlowStartThatIsOpenIsOfSmallDesigns(t *testing.T) {
	s := mustClass(t, "single-15-light")
	s.SD = map[string]float64{"rest.trim": 0.01}
	s.Fit = &machine.Fit{ModelVersion: machine.ModelVersion, Weight: 0.7, Also: []machine.Alternative{{Weight: 0.3,
		Terms: []string{"slow-start"}, Values: map[string]float64{"slow.seconds": 40, "slow.speed": 0.8}}}}
	for _, c := range []struct {
		slow   float64
		begins bool
	}{{0.3, true}, {slowNot - 0.01, false}} {
		var v Verdict
		v.sayElsewhere(s, 0, c.slow, 0)
		if v.Begins != c.begins || v.Begins && v.Elsewhere < elsewhereNot {
			t.Errorf("a slow start believed by %v: %+v", c.slow, v)
		}
	}
}

// A machine that slows at turns of short stitches: what was timed leaves open at which angles it does, and the verdict says
// that designs full of turns were not timed; of a machine of the model it says nothing of the kind.
func TestTurnsThatWereNotTimedAreSaid(t *testing.T) {
	s := mustClass(t, "single-15-light")
	slows := with(s, "turns.speed", 0.7, 0.0, "turns.angle", 75.0, 0.0, "turns.length", 4.0, 0.0, "turns.to", 140.0, 0.0)
	for _, truth := range []*machine.Sheet{s, slows} {
		if testing.Short() && truth == s {
			continue // TestVerdict has one
		}
		rng := rand.New(rand.NewPCG(4, 4))
		p := piece(t, s, usual)
		obs := timed(truth, rng, p.Design, p.SetSpeed, true)
		for k := range 2 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 4, 1500), 900-150*float64(k), true)...)
		}
		v := fit(t, s, obs, noDraws).Verdict
		if says := v.Fits == FitsNot && v.Turns; says != (truth == slows) {
			t.Errorf("slows at turns: %v, verdict %+v", truth == slows, v)
		}
	}
}

// Stitches wind by the angle they should, within the frame's tenths.
func TestWindingTurnsByItsAngle(t *testing.T) {
	for _, angle := range []float64{35, 95, 155} {
		d := build(mustClass(t, "single-15-light"), []patch{winding(3.5, angle, 300)}, []point{{}})
		right := 0
		for i := 1; i < len(d.Records); i++ {
			a, b := d.Records[i-1], d.Records[i]
			got := math.Abs(math.Atan2(float64(a.DX)*float64(b.DY)-float64(a.DY)*float64(b.DX),
				float64(a.DX)*float64(b.DX)+float64(a.DY)*float64(b.DY))) * 180 / math.Pi
			if math.Abs(got-angle) < 3 && math.Abs(math.Hypot(float64(b.DX), float64(b.DY))-35) < 1.5 {
				right++
			}
		}
		if right < 260 {
			t.Errorf("%v°: %d of 299 turns", angle, right)
		}
	}
}

// A machine that loses speed as a run goes on: no sheet can say it, and the verdict does; rows with the same times of one
// that does not are not called so.
func TestAMachineThatTiresIsSaid(t *testing.T) {
	s := mustClass(t, "single-15-light")
	for _, share := range []float64{0, 0.15} {
		if testing.Short() && share == 0 {
			continue // TestVerdict has one
		}
		truth, _, obs := timedPiece(t, s, 7)
		rng := rand.New(rand.NewPCG(5, 4))
		for k := range 2 {
			obs = append(obs, timed(truth, rng, somewhat(uint64(k), 6, 2000), 900-180*float64(k), true)...)
		}
		// Block after block of each run, in steps of a second, colour stops of 10 s between.
		whole, now := 0, 0.0
		for i := range obs {
			if obs[i].Kind == WholeRun {
				whole, now = i, 0
				continue
			}
			end := now + obs[i].Seconds
			for ; now < end; now++ {
				lost := share * (1 - math.Exp(-now/250)) * min(end-now, 1)
				obs[i].Seconds += lost
				obs[whole].Seconds += lost
			}
			now += 10
		}
		v := fit(t, s, obs, noDraws).Verdict
		if v.Tires != (share > 0) || v.Tires && v.Fits != FitsNot {
			t.Errorf("loses %v of its speed: %+v", share, v)
		}
	}
}

// Rows at multiples of 50 alone do not tell whether speeds between are held: a speed to time at is named. One row between ends it.
func TestRoundSpeedsAloneLeaveTheOthersOpen(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(4, 4))
	for _, c := range []struct{ third, want float64 }{{750, 990}, {760, 0}} {
		var obs []Observation
		for k, speed := range []float64{1000, 850, c.third} {
			obs = append(obs, timed(s, rng, somewhat(uint64(k), 3, 900), speed, true)...)
		}
		opt := noDraws
		opt.Plain = true
		if got := fit(t, s, obs, opt).Verdict.Between; got != c.want {
			t.Errorf("timed at 1000, 850 and %v/min: told to time at %v/min, want %v", c.third, got, c.want)
		}
	}
}

// Six rows that leave nothing to tell the law by determine no constant that the class does not have, however narrow it comes out
// if the machine has it; rows that tell it from other kinds of machine do.
func TestFewRowsDetermineNoTerm(t *testing.T) {
	class := mustClass(t, "multi-6")
	s := class.Clone()
	s.Speed.Top = 560
	rng := rand.New(rand.NewPCG(1, 4))
	truth := drawMachine(s, rand.New(rand.NewPCG(1, 1)))
	few := append(timed(truth, rng, somewhat(1, 4, 1500), 850, true), timed(truth, rng, short(1, 1500), 700, false)...)
	many := slices.Concat(timed(truth, rng, short(3, 900), 850, true), timed(truth, rng, short(2, 900), 700, true), few)
	for _, c := range []struct {
		obs  []Observation
		fits bool // something is left to tell by
		want Reach
	}{{few, false, Partly}, {many, true, Determined}} {
		res := fit(t, class, c.obs, noDraws)
		k := slices.IndexFunc(res.Constants, func(l Learned) bool { return l.Path == "speed.top" })
		if k < 0 || (res.Verdict.Fits != FitsOpen) != c.fits {
			t.Fatalf("%d rows: believed %v, %s", len(c.obs), res.Families[0], res.Verdict.Fits)
		}
		if l := res.Constants[k]; l.Reach != c.want || l.SD > 0.05 {
			t.Errorf("%d rows: the top speed is %.0f ± %.1f %%, %s", len(c.obs), l.Value, 100*l.SD, l.Reach)
		}
	}
}
