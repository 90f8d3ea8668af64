package floor

import (
	"context"
	"fmt"
	"math"
	"testing"
)

// interferenceShop is n machines that stop at random (mean run time 1,000 s)
// and c operators with services of mean r·1,000 s: the floor model with
// everything but thread breaks left out, measured over measured run times
// after a warm-up.
func interferenceShop(n, c int, r float64, law string, cv, runs float64) (*Shop, Options) {
	const run = 1000.0 // s
	warm := 30 * run
	s := &Shop{Seconds: warm + runs*run, Ready: true}
	job := Job{Name: "endless", Runs: make([]Run, n)}
	for m := range n {
		s.Machines = append(s.Machines, Machine{Name: fmt.Sprint(m), Heads: 1, Breaks: 1, HoopOn: true,
			Repair: Spread{Mean: r * run, CV: cv, Law: law}})
		// One stitch a second, one break per 1,000 stitches, a run that never ends.
		job.Runs[m] = Run{Seconds: []float64{1e9}, Stitches: 1e9}
	}
	for range c {
		s.Operators = append(s.Operators, Operator{})
	}
	s.Jobs = []Job{job}
	return s, Options{Seed: 20611, WarmUp: warm, Min: 128, Max: 128, Level: .99}
}

// steady is the estimate of machines running, over the replications.
type steady struct{ running, waiting, waited, busy Estimate }

func measure(t testing.TB, s *Shop, opt Options) steady {
	t.Helper()
	if err := s.Validate(); err != nil {
		t.Fatal(err)
	}
	if err := opt.fill(s); err != nil {
		t.Fatal(err)
	}
	sm := newSim(s, &opt)
	var run, wait, waited, busy []float64
	for rep := range opt.Min {
		sh, err := sm.runShift(context.Background(), rep)
		if err != nil {
			t.Fatal(err)
		}
		var r, w float64
		for _, m := range sh.Machines {
			sum := 0.0
			for _, x := range m.Seconds {
				sum += x
			}
			if math.Abs(sum-sh.Length) > 1e-6*sh.Length {
				t.Fatalf("the machine's seconds add up to %g of %g", sum, sh.Length)
			}
			r += m.Seconds[Running]
			w += m.Seconds[Waiting]
		}
		run = append(run, r/sh.Length)
		wait = append(wait, w/sh.Length)
		waited = append(waited, float64(sh.Waited)/float64(sh.Calls))
		busy = append(busy, sh.AllBusy/sh.Length)
	}
	return steady{estimate(run, opt.Level), estimate(wait, opt.Level), estimate(waited, opt.Level), estimate(busy, opt.Level)}
}

// inside checks a known answer against a simulated interval, which must also
// be narrow enough to mean something.
func inside(t *testing.T, what string, e Estimate, want, narrow float64) {
	t.Helper()
	if want < e.Low || want > e.High {
		t.Errorf("%s: %.5g lies outside the simulated interval %.5g to %.5g", what, want, e.Low, e.High)
	}
	if e.Half() > narrow {
		t.Errorf("%s: the interval %.5g to %.5g is too wide to check anything", what, e.Low, e.High)
	}
}

func TestSimulatorAgainstFiniteQueuingTables(t *testing.T) {
	// Peck and Hazelwood, Finite Queuing Tables, 1958 (entries as in Heizer and Render; Tompkins, White et al.): D and F, to the printed half digit and the simulation's own 99 % interval.
	for _, e := range []struct {
		x    float64
		n, c int
		d, f float64
	}{
		{.05, 5, 1, .198, .989}, {.10, 5, 1, .386, .950}, {.10, 5, 2, .054, .997},
		{.10, 12, 2, .361, .970}, {.20, 10, 1, .987, .497}, {.20, 10, 3, .300, .968},
	} {
		s, opt := interferenceShop(e.n, e.c, e.x/(1-e.x), ExponentialLaw, 1, 400)
		got := measure(t, s, opt)
		name := fmt.Sprintf("X=%g n=%d c=%d", e.x, e.n, e.c)
		widen := func(x Estimate, by float64) Estimate { x.Low -= by; x.High += by; return x }
		inside(t, name+" D", widen(got.waited, .0005), e.d, .01)
		f := got.waiting // F = 1 − Lq/N
		f.Low, f.High = 1-got.waiting.High/float64(e.n), 1-got.waiting.Low/float64(e.n)
		inside(t, name+" F", widen(f, .0005), e.f, .005)
	}
}

func TestSimulatorKeepsTheTwoWaitingProbabilitiesApart(t *testing.T) {
	// Anderson, Sweeney and Williams, Kolkmeyer: 6 machines, r = .1: time with the operator busy .5155; Peck and Hazelwood's D .4360; running L .8451 down; not the infinite-source answer of the posted solution for 8 machines (L 4).
	s, opt := interferenceShop(6, 1, .1, ExponentialLaw, 1, 600)
	got := measure(t, s, opt)
	inside(t, "Pw", got.busy, .5155, .005)
	inside(t, "D", got.waited, .4360, .006)
	inside(t, "running", got.running, 6-.8451, .01)
	if got.busy.Low <= got.waited.High {
		t.Error("the two definitions of waiting are not told apart")
	}
	s, opt = interferenceShop(8, 1, .1, ExponentialLaw, 1, 400)
	inside(t, "running of 8", measure(t, s, opt).running, 8-1.3832, .02)
}

func TestSimulatorWithConstantService(t *testing.T) {
	// Ashcroft 1950 (constant service) and Erlang-4 by the formula of Takács; values confirmed by an independent event simulation.
	for _, e := range []struct {
		n                 int
		r, const1, erlang float64
	}{{2, .10, 1.810221, 1.808399}, {4, .25, 2.892165, 2.851238}, {6, .10, 5.277856, 5.243557}, {10, .10, 8.210033, 8.103158}, {20, .05, 17.454848, 17.266741}} {
		s, opt := interferenceShop(e.n, 1, e.r, Constant, 0, 400)
		inside(t, fmt.Sprintf("constant %d", e.n), measure(t, s, opt).running, e.const1, .01*float64(e.n))
		s, opt = interferenceShop(e.n, 1, e.r, Gamma, .5, 400)
		inside(t, fmt.Sprintf("Erlang-4 %d", e.n), measure(t, s, opt).running, e.erlang, .01*float64(e.n))
	}
}

func TestSimulatorWithSeveralOperators(t *testing.T) {
	// Taha, Toolco: 22 machines, r = .1, productivity 80.15 and 88.79 % with 2 and 3 repairers; Feller XVII.7: 20 machines, 3 repairers, loss .01694 a machine (quoted from memory of the books, recomputed).
	for c, want := range map[int]float64{2: 80.15, 3: 88.79} {
		s, opt := interferenceShop(22, c, .1, ExponentialLaw, 1, 200)
		e := measure(t, s, opt).running
		e.Low, e.High = e.Low/22*100-.005, e.High/22*100+.005
		inside(t, fmt.Sprintf("Toolco, %d", c), e, want, .5)
	}
	s, opt := interferenceShop(20, 3, .1, ExponentialLaw, 1, 300)
	e := measure(t, s, opt).waiting
	inside(t, "Feller's machine loss", Estimate{Low: e.Low/20 - 5e-6, High: e.High/20 + 5e-6}, .01694, .001)
}

func TestHeadsInSeries(t *testing.T) {
	// Barlow, Engineering Reliability, 1998, eq. 8.4.2: availability 1/(1 + N·l/m), here l/m = .01 a head.
	for n, want := range map[int]float64{1: .990099, 4: .961538, 6: .943396, 12: .892857, 15: .869565} {
		s, opt := interferenceShop(1, 1, .01, LogNormal, .8, 600)
		s.Machines[0].Heads = n
		inside(t, fmt.Sprintf("%d heads", n), measure(t, s, opt).running, want, .002)
		near(t, "formula", 1/(1+float64(n)*.01), want, 5e-7)
	}
}

func TestIntervalsHoldAsOftenAsTheySay(t *testing.T) {
	// A system with a known answer (Matloff, MachRep2: 2 machines, 1 repairer, r = .5: up fraction .6): 90 % intervals of 64 replications must hold it in 90 % of 1,000 experiments, within three standard errors (± 2.85 %).
	s, opt := interferenceShop(2, 1, .5, ExponentialLaw, 1, 30)
	opt.Level, opt.Min, opt.Max = .90, 64, 64
	hold := 0
	const trials = 1000
	for k := range trials {
		opt.Seed = uint64(k)
		e := measure(t, s, opt).running
		if e.Low <= 1.2 && 1.2 <= e.High {
			hold++
		}
	}
	if f := float64(hold) / trials; f < .8715 || f > .9285 {
		t.Errorf("90 %% intervals held the true value in %.1f %% of %d experiments", 100*f, trials)
	} else {
		t.Logf("held in %.1f %%", 100*f)
	}
}

func TestThreadBreakArithmetic(t *testing.T) {
	// Stitches magazine, July 2014: a 15,000-stitch run at 1,000/min is 15 min; one re-thread of 1 min makes it 16; 60,000 stitches an hour become 56,250.
	s := &Shop{Seconds: 160 * 3600, Ready: true,
		Machines:  []Machine{{Heads: 1, Breaks: 1.0 / 15, HoopOn: true, Repair: Spread{Mean: 60}}},
		Operators: []Operator{{}},
		Jobs:      []Job{{Runs: []Run{{Seconds: []float64{900}, Stitches: 15000}}}}}
	r, err := Simulate(context.Background(), s, Options{Seed: 1, Precision: .002, Level: .99, Max: 2000}, nil)
	if err != nil {
		t.Fatal(err)
	}
	perHour := func(pieces float64) float64 { return pieces * 15000 / 160 }
	inside(t, "stitches an hour", Estimate{Low: perHour(r.Pieces.Low), High: perHour(r.Pieces.High + .6)}, 56250, 200)
}

func TestOEEWorkedExamples(t *testing.T) {
	// Three worked examples of OEE in print (calculator page; machining guide; the widely printed 19,271-piece shift); formulas ISO 22400-2. Full precision is carried: .7914 from rounded factors is .791667.
	const min = 60.0
	for _, e := range []struct {
		pbt, apt, pri, made, good float64
		a, eff, q, oee            float64
	}{
		{480 * min, 420 * min, 60, 400, 380, .875, 400.0 / 420, .95, 380.0 / 480},
		{420 * min, 378 * min, 60, 300, 294, .90, .79365, .98, .70},
		{420 * min, 373 * min, 1, 19271, 18848, .8881, .8611, .9780, .747937},
	} {
		o := Times{PBT: e.pbt, APT: e.apt, ADET: e.pbt - e.apt, PQ: e.made, GQ: e.good, PRIPQ: e.pri * e.made, PRIGQ: e.pri * e.good}.OEE()
		near(t, "availability", o.Availability, e.a, 5.1e-5)
		near(t, "effectiveness", o.Effectiveness, e.eff, 5.1e-5)
		near(t, "quality", o.Quality, e.q, 5.1e-5)
		near(t, "OEE", o.OEE, e.oee, 1e-6)
		near(t, "identity OEE = PRI·GQ/PBT", o.OEE, e.pri*e.good/e.pbt, 1e-12)
	}
}

// The stopping rule looks at the interval again and again, which by itself
// makes intervals miss more often; it must not by much.
func TestIntervalsHoldUnderTheStoppingRule(t *testing.T) {
	// A shop whose mean yield is known from a simulation five hundred times as long.
	s := plain(900, 60)
	m := &s.Machines[0]
	m.Heads, m.Breaks, m.Repair = 6, .05, Spread{Mean: 120, CV: 1}
	opt := Options{Seed: 99, Min: 100_000, Max: 100_000}
	long := simulate(t, s, opt)
	hold, made := 0, 0
	const trials = 300
	for k := range trials {
		r := simulate(t, s, Options{Seed: uint64(1000 + k), Precision: .0025, Max: 20_000})
		if !r.Narrow {
			t.Fatal("did not get narrow")
		}
		made += r.Replications
		if r.Pieces.Low <= long.Pieces.Mean && long.Pieces.Mean <= r.Pieces.High {
			hold++
		}
	}
	if made == 2*trials*64 {
		t.Fatal("every experiment stopped as soon as it could: nothing is tested")
	}
	f := float64(hold) / trials
	t.Logf("held in %.1f %%, %d replications on average", 100*f, made/trials)
	if f < .86 || f > .945 {
		t.Errorf("90 %% intervals held in %.1f %% of %d experiments", 100*f, trials)
	}
}

func TestHeadsOfAMachineStopTogetherAsOneSource(t *testing.T) {
	// Peck and Hazelwood 1958, X = .10, 12 machines, 2 operators: F .970. Twelve heads breaking a twelfth as often are one machine.
	s, opt := interferenceShop(12, 2, 1.0/9, ExponentialLaw, 1, 300)
	for i := range s.Machines {
		s.Machines[i].Heads, s.Machines[i].Breaks = 12, 1.0/12
	}
	e := measure(t, s, opt).waiting
	inside(t, "F", Estimate{Low: 1 - e.High/12 - .0005, High: 1 - e.Low/12 + .0005}, .970, .004)
}
