package floor

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func simulate(t testing.TB, s *Shop, opt Options) *Result {
	t.Helper()
	r, err := Simulate(context.Background(), s, opt, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// plain is one machine of one head, one operator, nothing ever going wrong.
func plain(run, load float64) *Shop {
	return &Shop{Seconds: 8 * 3600,
		Machines:  []Machine{{Heads: 1, HoopOn: true, Load: Spread{Mean: load}}},
		Operators: []Operator{{}},
		Jobs:      []Job{{Runs: []Run{{Seconds: []float64{run}, Stitches: 1000, Planned: run}}}}}
}

var few = Options{Seed: 7, Min: 2, Max: 2}

func TestAShiftWithoutTroubleIsArithmetic(t *testing.T) {
	// 8 h of 900 s run and 100 s loading: 28 whole cycles and 800 s of the 29th run.
	r := simulate(t, plain(900, 100), few)
	if r.Pieces.Mean != 28 || r.Machines[0].Runs != 28 {
		t.Errorf("pieces %g, want 28", r.Pieces.Mean)
	}
	near(t, "loading", r.Machines[0].Seconds[Loading], 29*100, 1e-6)
	near(t, "running", r.Machines[0].Seconds[Running], 28800-2900, 1e-6)
	near(t, "left", r.Left, 700.0/900, 1e-9)
	near(t, "operator", r.HandUse(0), 2900.0/28800, 1e-9)
	near(t, "availability", r.OEE.Availability, 25900.0/28800, 1e-9)
	near(t, "OEE", r.OEE.OEE, 28*900.0/28800, 1e-9)
}

func TestPausesStandStillOrRunThrough(t *testing.T) {
	s := plain(900, 100)
	s.Pauses = []Pause{{At: 3600, For: 1000}, {At: 7200, For: 800}}
	r := simulate(t, s, few)
	if r.Pieces.Mean != 27 { // 27,000 s are left
		t.Errorf("pieces %g, want 27", r.Pieces.Mean)
	}
	near(t, "pause", r.Machines[0].Seconds[Pausing], 1800, 1e-9)
	near(t, "availability leaves pauses out", r.OEE.Availability, 24300.0/27000, 1e-9)
	s.RunThrough = true
	// At 3600 s the machine sews (since 3100) and ends at 4000, waits 600 s for
	// the end of the pause; the second pause, 7200 to 8000, falls into the run
	// 6700 to 7600: 400 s lost.
	r = simulate(t, s, few)
	near(t, "waiting", r.Machines[0].Seconds[Waiting], 600+400, 1e-6)
	if r.Pieces.Mean != math.Floor((28800-1000)/1000.0) {
		t.Errorf("pieces %g", r.Pieces.Mean)
	}
}

func TestWorkLiesStillThroughAnOperatorsPause(t *testing.T) {
	s := plain(900, 100)
	s.Pauses = []Pause{{At: 1050, For: 300, Operators: []int{0}}} // in the second loading, which began at 1000
	r := simulate(t, s, few)
	near(t, "waiting", r.Machines[0].Seconds[Waiting], 300, 1e-6)
	near(t, "loading", r.Machines[0].Seconds[Loading], 29*100, 1e-6)
	near(t, "operator away", r.Hands[0].Away, 300, 1e-9)
}

func TestTwoOperatorsLoadOneMachineTogether(t *testing.T) {
	// A run of 720 s and six heads of 60 s each: alone 1,080 s a run, together
	// 900 s. The shift begins with a loading.
	s := plain(720, 60)
	s.Machines[0].Heads = 6
	s.Operators = append(s.Operators, Operator{})
	yields := func(loaders int) *Result {
		s.Machines[0].Loaders = loaders
		return simulate(t, s, few)
	}
	if r := yields(1); r.Pieces.Mean != 6*26 { // 28,800 ÷ 1,080 = 26.7
		t.Errorf("one loader: %g pieces, want 156", r.Pieces.Mean)
	}
	r := yields(2)
	if r.Pieces.Mean != 6*32 { // 28,800 ÷ 900 = 32
		t.Errorf("two loaders: %g pieces, want 192", r.Pieces.Mean)
	}
	near(t, "the machine stands for half the work", r.Machines[0].Seconds[Loading], 32*180, 1e-6)
	near(t, "which the two share", r.Hands[0].Machines+r.Hands[1].Machines, 32*360, 1e-6)
	near(t, "and which is charged to the machine", r.Machines[0].Attended, 32*360, 1e-6)
	near(t, "as the formula has it", s.Machines[0].LoadSeconds(6, 2), 180, 0)
	if got := s.Machines[0].LoadSeconds(5, 2); got != 180 {
		t.Errorf("five heads by two: %g s, want three heads' time", got)
	}
	if got := s.Machines[0].LoadSeconds(6, 5); got != 180 {
		t.Errorf("five operators where two may load: %g s", got)
	}
	s.Operators[1].Duty = HoopingOnly
	if r := yields(2); r.Pieces.Mean != 6*26 {
		t.Errorf("who only hoops came to load: %g pieces", r.Pieces.Mean)
	}
	s.Operators[1] = Operator{Machines: []int{}}
	if r := yields(2); r.Pieces.Mean != 6*26 {
		t.Errorf("who looks after other machines came to load: %g pieces", r.Pieces.Mean)
	}
}

func TestAPauseWhileAnotherLoadsOnIsNoWaiting(t *testing.T) {
	// Six heads of 60 s, two operators; one is away from 30 s to 90 s. The other
	// loads on: 30 + 60 + … seconds, never waiting.
	s := plain(720, 60)
	s.Seconds, s.Machines[0].Heads, s.Machines[0].Loaders = 900, 6, 2
	s.Operators = append(s.Operators, Operator{})
	s.Pauses = []Pause{{At: 30, For: 60, Operators: []int{1}}}
	r := simulate(t, s, few)
	near(t, "waiting", r.Machines[0].Seconds[Waiting], 0, 1e-6)
	near(t, "loading", r.Machines[0].Seconds[Loading], 240, 1e-6) // heads done at 60 120 180 240 and 120 180
}

func TestTwoHoopSetsHideTheHooping(t *testing.T) {
	s := plain(900, 100)
	m := &s.Machines[0]
	m.HoopOn, m.Hoop, m.HoopSets = false, Spread{Mean: 200}, 1
	one := simulate(t, s, few)
	m.HoopSets = 2
	two := simulate(t, s, few)
	m.HoopOn, m.HoopSets = true, 0
	on := simulate(t, s, few)
	if one.Pieces.Mean != on.Pieces.Mean {
		t.Errorf("one set (%g pieces) is hooping while the machine stands (%g)", one.Pieces.Mean, on.Pieces.Mean)
	}
	near(t, "waiting for the single set", one.Machines[0].Seconds[WaitHoop], 200*24, 200)
	near(t, "waiting with two sets: only the first", two.Machines[0].Seconds[WaitHoop], 200, 1e-6)
	if two.Pieces.Mean != 28 {
		t.Errorf("two sets: %g pieces, want 28", two.Pieces.Mean)
	}
	if two.Hands[0].Hooping < 200*28 {
		t.Errorf("hooping %g s", two.Hands[0].Hooping)
	}
}

func TestOneHeadStopsAll(t *testing.T) {
	s := plain(900, 0)
	m := &s.Machines[0]
	m.Heads, m.Breaks, m.Repair = 12, 1.0/100, Spread{Mean: 60, CV: .5}
	r := simulate(t, s, Options{Seed: 3, Precision: .002})
	// 12 heads × 1,000 stitches × 1/100 per 1,000: 0.12 breaks a run, 7.2 s.
	want := 28800 / (900 + 7.2) * 12
	near(t, "pieces, with what is under way", r.Pieces.Mean+r.Left, want, .002*want)
	near(t, "breaks", r.Machines[0].Breaks, 28800/907.2*.12, .15)
}

func TestBobbinsRunOutByTheMetre(t *testing.T) {
	for _, e := range []struct {
		rule BobbinRule
		per  float64 // expected changes for each piece and head
	}{{AtRunOut, 30.0 / 130}, {AllHeads, 30.0 / 130}, {Before, 1.0 / 4}} { // with Before a bobbin of 130 m sews 4 pieces of 30 m
		s := plain(900, 60)
		s.Seconds = 200 * 3600
		m := &s.Machines[0]
		m.Heads, m.Bobbin = 6, Bobbin{Metres: 130, Change: Spread{Mean: 20}, Rule: e.rule}
		s.Jobs[0].Runs[0].BobbinMetres = 30
		r := simulate(t, s, few)
		pieces := r.Pieces.Mean
		near(t, string(e.rule)+": changes per piece", r.Machines[0].Bobbins/pieces, e.per, .01)
		near(t, string(e.rule)+": seconds", r.Machines[0].Seconds[Bobbins], r.Machines[0].Bobbins*20, 1e-6*r.Length)
	}
}

func TestJobsRunInOrderAndEnd(t *testing.T) {
	s := plain(900, 100)
	s.Machines[0].Heads = 4
	s.Machines[0].Cone, s.Machines[0].Setup = Spread{Mean: 30}, Spread{Mean: 200}
	run := s.Jobs[0].Runs
	s.Jobs = []Job{
		{Name: "a", Quantity: 10, Runs: run, Threads: []string{"red", "navy"}},
		{Name: "b", Quantity: 3, Runs: run, Threads: []string{"navy", "gold"}},
	}
	r := simulate(t, s, few)
	if r.Jobs[0] != 10 || r.Jobs[1] != 3 || r.Pieces.Mean != 13 {
		t.Errorf("pieces by job %v", r.Jobs)
	}
	x := r.Machines[0]
	// Set-ups: 200 s each, two cones on four heads, then one cone on four heads.
	near(t, "changeover", x.Seconds[Changeover], 400+2*4*30+1*4*30, 1e-6)
	near(t, "loading", x.Seconds[Loading], 13*100, 1e-6)
	near(t, "running", x.Seconds[Running], 4*900, 1e-6)
	near(t, "no work", x.Seconds[NoWork], 28800-3600-1300-760, 1e-6)
	near(t, "done", r.Finished.Mean, 3600+1300+760, 1e-6)
	s.Seconds = 3600
	done := simulate(t, s, Options{Seed: 1, Min: 2, Max: 2, UntilDone: true})
	near(t, "until done", done.Finished.Mean, 5660, 1e-6)
}

func TestSingleNeedleWaitsForItsRethreads(t *testing.T) {
	s := plain(900, 100)
	s.Jobs[0].Runs[0].Stops = []AtStop{{.25, Spread{Mean: 40}}, {.5, Spread{Mean: 40}}}
	r := simulate(t, s, few)
	near(t, "operator stops", r.Machines[0].Seconds[Attending], 2*40*math.Floor(28800/1080.0)+80, 81)
	if r.Pieces.Mean != math.Floor(28800/1080.0) {
		t.Errorf("pieces %g", r.Pieces.Mean)
	}
}

func TestSameSeedSameShiftOnAnyCores(t *testing.T) {
	s := bigShop()
	var want []byte
	for _, w := range []int{1, 2, 7} {
		r := simulate(t, s, Options{Seed: 42, Workers: w, Precision: .004, Min: 64})
		got, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if want == nil {
			want = got
		} else if string(got) != string(want) {
			t.Errorf("%d workers gave another result", w)
		}
	}
	a, b := simulate(t, s, few), simulate(t, s, Options{Seed: 8, Min: 2, Max: 2})
	if a.Pieces == b.Pieces {
		t.Error("another seed gave the same shifts")
	}
}

func TestStopsWhenNarrowEnough(t *testing.T) {
	for _, p := range []float64{.02, .005, .002} {
		r := simulate(t, bigShop(), Options{Seed: 5, Precision: p, Max: 5000})
		if !r.Narrow || r.Pieces.Half()/r.Pieces.Mean > p {
			t.Errorf("asked ± %g, got ± %g", p, r.Pieces.Half()/r.Pieces.Mean)
		}
	}
	r := simulate(t, bigShop(), Options{Seed: 5, Precision: 1e-6, Max: 128})
	if r.Narrow || r.Replications != 128 {
		t.Errorf("narrow %v after %d", r.Narrow, r.Replications)
	}
}

func TestCancelStopsASimulation(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	_, err := Simulate(ctx, bigShop(), Options{Seed: 1, Precision: 1e-9, Max: 1e6}, func(made int, _ float64) { cancel() })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

func TestAttentionRules(t *testing.T) {
	// Two machines that call while the operator is at a third: the rule decides.
	for rule, wantLess := range map[Rule]int{FirstCalled: 0, MostHeads: 1, Shortest: 0} {
		s := &Shop{Seconds: 300, Rule: rule, Ready: true, Operators: []Operator{{}}}
		for m, heads := range []int{1, 6, 1} {
			s.Machines = append(s.Machines, Machine{Heads: heads, HoopOn: true, Load: Spread{Mean: 60}, Name: string(rune('a' + m))})
		}
		job := Job{}
		for _, sec := range []float64{110, 112, 100} { // c calls first, then a, then b
			job.Runs = append(job.Runs, Run{Seconds: []float64{sec}, Stitches: 100})
		}
		s.Jobs = []Job{job}
		sm := newSim(s, &Options{Seed: 1})
		if err := sm.opt.fill(s); err != nil {
			t.Fatal(err)
		}
		sh, err := sm.runShift(context.Background(), 0)
		if err != nil {
			t.Fatal(err)
		}
		waits := []float64{sh.Machines[0].Seconds[Waiting], sh.Machines[1].Seconds[Waiting]}
		if waits[wantLess] > waits[1-wantLess] {
			t.Errorf("%s: machine %d should wait less: %v", rule, wantLess, waits)
		}
	}
}

// Whatever the shop: every machine's seconds add up to the shift, no operator
// works more than is there, and nothing is yielded that was not asked for.
func TestTheLedgerAddsUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drawShop(rt)
		if err := s.Validate(); err != nil {
			rt.Fatal(err)
		}
		opt := Options{Seed: rapid.Uint64().Draw(rt, "seed"), WarmUp: rapid.SampledFrom([]float64{0, 0, 1000}).Draw(rt, "warm")}
		if err := opt.fill(s); err != nil {
			rt.Fatal(err)
		}
		sm := newSim(s, &opt)
		for rep := range 2 {
			sh, err := sm.runShift(context.Background(), rep)
			if err != nil {
				rt.Fatal(err)
			}
			for m, x := range sh.Machines {
				sum := 0.0
				for st, sec := range x.Seconds {
					if sec < -1e-9 {
						rt.Fatalf("machine %d: %g s %v", m, sec, State(st))
					}
					sum += sec
				}
				if math.Abs(sum-sh.Length) > 1e-6 {
					rt.Fatalf("machine %d: seconds add up to %g of %g", m, sum, sh.Length)
				}
				if x.Good > x.Pieces || x.GoodPlan > x.Planned+1e-9 {
					rt.Fatalf("more good than made: %+v", x)
				}
			}
			for o, h := range sh.Hands {
				if sum := h.Walking + h.Machines + h.Hooping + h.Away; sum > sh.Length+1e-6 || h.Walking < -1e-9 || h.Machines < -1e-9 || h.Hooping < -1e-9 {
					rt.Fatalf("operator %d: %+v in %g s", o, h, sh.Length)
				}
			}
			total := 0
			for j, n := range sh.Jobs {
				total += n
				if q := s.Jobs[j].Quantity; q > 0 && n > q {
					rt.Fatalf("job %d: %d of %d", j, n, q)
				}
			}
			if total != sh.Pieces {
				rt.Fatalf("pieces %d, by job %v", sh.Pieces, sh.Jobs)
			}
			if sh.Waited > sh.Calls {
				rt.Fatalf("%d of %d calls waited", sh.Waited, sh.Calls)
			}
		}
	})
}

func drawShop(rt *rapid.T) *Shop {
	spread := func(name string, top float64) Spread {
		return Spread{Mean: rapid.Float64Range(0, top).Draw(rt, name), CV: rapid.SampledFrom([]float64{0, .4, 1}).Draw(rt, name+" cv"),
			Law: rapid.SampledFrom([]string{"", Gamma, ExponentialLaw, Constant}).Draw(rt, name+" law")}
	}
	s := &Shop{Seconds: 4 * 3600, RunThrough: rapid.Bool().Draw(rt, "through"), Ready: rapid.Bool().Draw(rt, "ready"),
		Rule: rapid.SampledFrom([]Rule{"", Shortest, MostHeads}).Draw(rt, "rule"), Walk: Walk{Seconds: 15, Speed: rapid.SampledFrom([]float64{0, 1.2}).Draw(rt, "speed")}, Notice: 5}
	for range rapid.IntRange(0, 3).Draw(rt, "pauses") {
		at := rapid.Float64Range(0, 12000).Draw(rt, "at")
		p := Pause{At: at, For: rapid.Float64Range(0, 2000).Draw(rt, "for")}
		if rapid.Bool().Draw(rt, "personal") {
			p.Operators = []int{0}
		}
		s.Pauses = append(s.Pauses, p)
	}
	n := rapid.IntRange(1, 4).Draw(rt, "machines")
	for m := range n {
		s.Machines = append(s.Machines, Machine{Heads: rapid.IntRange(1, 8).Draw(rt, "heads"), Breaks: rapid.Float64Range(0, .2).Draw(rt, "breaks"),
			Place: &Place{float64(4 * m), 0}, Repair: spread("repair", 120), Resew: 10, Setup: spread("setup", 600), Load: spread("load", 60), Hoop: spread("hoop", 60),
			Loaders: rapid.IntRange(0, 3).Draw(rt, "loaders"),
			HoopOn:  rapid.Bool().Draw(rt, "hoop on"), HoopSets: rapid.IntRange(1, 3).Draw(rt, "sets"), Cone: spread("cone", 30),
			Bobbin: Bobbin{Metres: rapid.SampledFrom([]float64{0, 50, 130}).Draw(rt, "bobbin"), CV: .05, Change: spread("change", 30),
				Rule: rapid.SampledFrom([]BobbinRule{AtRunOut, AllHeads, Before}).Draw(rt, "bobbin rule")}, Reject: .02, RejectPerBreak: .1})
	}
	s.Operators = []Operator{{}}
	if rapid.Bool().Draw(rt, "second") {
		s.Operators = append(s.Operators, Operator{Duty: rapid.SampledFrom([]Duty{AllDuties, MachinesOnly, HoopingOnly}).Draw(rt, "duty")})
	}
	for j := range rapid.IntRange(1, 3).Draw(rt, "jobs") {
		job := Job{Quantity: rapid.SampledFrom([]int{0, 5, 40}).Draw(rt, "quantity"), Threads: []string{"a", "b", "c"}[j:]}
		for range n {
			job.Runs = append(job.Runs, Run{Seconds: []float64{rapid.Float64Range(60, 1500).Draw(rt, "run")}, Planned: 100, Stitches: 8000, BobbinMetres: 25,
				Stops: []AtStop{{.5, spread("stop", 60)}}})
		}
		s.Jobs = append(s.Jobs, job)
	}
	return s
}

func TestMoreTroubleNeverYieldsMore(t *testing.T) {
	base := simulate(t, bigShop(), Options{Seed: 9, Min: 128, Max: 128})
	for name, worse := range map[string]func(*Machine){
		"breaks": func(m *Machine) { m.Breaks *= 3 },
		"repair": func(m *Machine) { m.Repair.Mean *= 2 },
		"load":   func(m *Machine) { m.Load.Mean *= 1.5 },
		"bobbin": func(m *Machine) { m.Bobbin.Change.Mean *= 4 },
	} {
		s := bigShop()
		for i := range s.Machines {
			worse(&s.Machines[i])
		}
		if r := simulate(t, s, Options{Seed: 9, Min: 128, Max: 128}); r.Pieces.Mean >= base.Pieces.Mean {
			t.Errorf("%s worse: %g pieces, before %g", name, r.Pieces.Mean, base.Pieces.Mean)
		}
	}
}

func TestABadShopIsRefusedByKey(t *testing.T) {
	for key, spoil := range map[string]func(*Shop){
		"machine[2].heads":           func(s *Shop) { s.Machines[1].Heads = 0 },
		"machine[1].breaks_per_1000": func(s *Shop) { s.Machines[0].Breaks = -1 },
		"machine[1].repair.mean":     func(s *Shop) { s.Machines[0].Repair.Mean = math.NaN() },
		"machine[1].repair.law":      func(s *Shop) { s.Machines[0].Repair.Law = "weird" },
		"machine[3].hoop_sets":       func(s *Shop) { s.Machines[2].HoopSets = 0 },
		"machine[1].bobbin_rule":     func(s *Shop) { s.Machines[0].Bobbin.Rule = "x" },
		"machine[1].bobbin_metres":   func(s *Shop) { s.Machines[0].Bobbin.Metres = .01 },
		"machine[1].reject":          func(s *Shop) { s.Machines[0].Reject = 1 },
		"machine":                    func(s *Shop) { s.Machines = nil },
		"job":                        func(s *Shop) { s.Jobs = nil },
		"operator":                   func(s *Shop) { s.Operators = nil },
		"operator[1].duty":           func(s *Shop) { s.Operators[0].Duty = "sleep" },
		"operator[1].machines":       func(s *Shop) { s.Operators[0].Machines = []int{99} },
		"job[1].quantity":            func(s *Shop) { s.Jobs[0].Quantity = -4 },
		"job[1].design":              func(s *Shop) { s.Jobs[0].Runs[0].Seconds = []float64{0} },
		"machine[1].setup.cv":        func(s *Shop) { s.Machines[0].Setup.CV = -1 },
		"shift.hours":                func(s *Shop) { s.Seconds = 0 },
		"shift.rule":                 func(s *Shop) { s.Rule = "x" },
		"pause[2].minutes":           func(s *Shop) { s.Pauses[1].For = 1e6 },
	} {
		s := bigShop()
		spoil(s)
		_, err := Simulate(context.Background(), s, few, nil)
		var k *KeyError
		if !errors.As(err, &k) || k.Key != key {
			t.Errorf("want an error at %s, got %v", key, err)
		}
	}
	s := bigShop()
	for i := range s.Operators {
		s.Operators[i].Duty = MachinesOnly
	}
	if err := s.Validate(); err == nil || !strings.Contains(err.Error(), "nobody hoops") {
		t.Errorf("nobody hoops: %v", err)
	}
	for _, o := range []Options{{Precision: 2}, {Level: 1}, {Min: 5, Max: 3}, {WarmUp: 1e9}, {UntilDone: true}} {
		if _, err := Simulate(context.Background(), bigShop(), o, nil); err == nil {
			t.Errorf("%+v gave no error", o)
		}
	}
}

// Half is half the width of the interval of the mean.
func (e Estimate) Half() float64 { return (e.High - e.Low) / 2 }

// The interval is looked at after each batch; two looks that are narrow enough are the fewest.
func TestABatchIsMadeBetweenTwoLooks(t *testing.T) {
	for _, n := range []int{0, 16, 100} {
		looks := 0
		r, err := Simulate(context.Background(), bigShop(), Options{Seed: 1, Precision: .5, Batch: n}, func(int, float64) { looks++ })
		if want := 2 * cmp.Or(n, 64); err != nil || r.Replications != want || looks != 2 {
			t.Errorf("batches of %d: %d replications in %d looks, want %d: %v", n, r.Replications, looks, want, err)
		}
	}
}

func TestOptionsThatMakeNoSenseAreRefused(t *testing.T) {
	for want, o := range map[string]Options{
		"a precision of 2":                    {Precision: 2},
		"an interval of level 1.5":            {Level: 1.5},
		"after each 1 replications":           {Batch: 1, Min: 64},
		"after each -64 replications":         {Batch: -64, Min: 64},
		"1 to 20000 replications":             {Min: 1},
		"64 to 10 replications":               {Min: 64, Max: 10},
		"a warm-up of 1e+06 s leaves nothing": {WarmUp: 1e6},
	} {
		if _, err := Simulate(context.Background(), bigShop(), o, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", o, err, want)
		}
	}
}
