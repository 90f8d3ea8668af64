package learn

import (
	"flag"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
)

var jobMachines = flag.Int("jobmachines", 0, "how many machines the tests of kinds of job draw")

// inJob times designs in a kind of job, once each.
func inJob(truth *machine.Sheet, rng *rand.Rand, job machine.Jobs, speeds ...float64) []Observation {
	var obs []Observation
	for _, speed := range speeds {
		d := somewhat(rng.Uint64(), 4, 2500)
		t := clock.Run(d, truth, clock.Job{Speed: speed, Kinds: job}).Seconds
		obs = append(obs, Observation{Kind: WholeRun, Name: job.String(), Design: d, SetSpeed: speed, Step: 1, Job: job,
			Seconds: math.Round(t*(1+RunToRun*rng.NormFloat64()) + pressSD*rng.NormFloat64())})
	}
	return obs
}

// judged is how predictions of unseen designs did.
type judged struct {
	errs         []float64
	inside, runs int
	half         []float64
}

func (j *judged) add(d *judged, truth, sheet *machine.Sheet, rng *rand.Rand, kinds machine.Jobs) {
	for _, speed := range []float64{600, 900} {
		design := somewhat(rng.Uint64(), 5, 2500)
		job := clock.Job{Speed: speed, Kinds: kinds}
		want := clock.Run(design, truth, job).Seconds * (1 + RunToRun*rng.NormFloat64())
		r, u := clock.How(design, sheet, job, 0.9)
		j.runs++
		if u.Low <= want && want <= u.High {
			j.inside++
		}
		j.errs = append(j.errs, math.Abs(r.Seconds/want-1))
		j.half = append(j.half, (u.High-u.Low)/2/want)
		if d != nil {
			d.errs = append(d.errs, math.Abs(clock.Run(design, assumedJobs(sheet), job).Seconds/want-1))
		}
	}
}

// assumedJobs is the sheet with what is assumed of kinds of job.
func assumedJobs(s *machine.Sheet) *machine.Sheet {
	c := s.Clone()
	c.Job = machine.JobFactors{}
	return c
}

// Machines whose cap frame stops at another speed than is assumed, and moves
// heavier, are learned from a few runs that say so. A fit that ignores the job
// fails this by far.
func TestKindsOfJobAreLearnedFromRunsThatNameThem(t *testing.T) {
	s := mustClass(t, "single-15-light")
	machines := max(*jobMachines, 3)
	var caps, both, plain, ignored, alone judged
	factorInside, factors := 0, 0
	for seed := range machines {
		rng := rand.New(rand.NewPCG(uint64(seed), 77))
		truth, _, obs := timedPiece(t, s, uint64(seed))
		for c := range machine.JobConstants(machine.AllJobs) {
			c.Set(truth, c.Get(s)*math.Exp(logSD(s.Spread(c))*rng.NormFloat64()))
		}
		runs := inJob(truth, rng, machine.CapFrame, 850, 700, 900)
		runs = append(runs, inJob(truth, rng, machine.CapFrame|machine.Heavy, 850, 650, 900)[:1+seed%3]...)
		res := fit(t, s, append(obs, runs...), Options{Draws: -1, Plain: true})
		if n := res.Sheet.JobRuns(machine.CapFrame); n != len(runs) {
			t.Errorf("the sheet says %d runs on the cap frame, %d were timed", n, len(runs))
		}
		caps.add(&ignored, truth, res.Sheet, rng, machine.CapFrame)
		both.add(&ignored, truth, res.Sheet, rng, machine.CapFrame|machine.Heavy)
		seen := rng.Uint64()
		plain.add(nil, truth, res.Sheet, rand.New(rand.NewPCG(seen, 1)), 0)
		without := fit(t, s, obs, Options{Draws: -1, Plain: true})
		alone.add(nil, truth, without.Sheet, rand.New(rand.NewPCG(seen, 1)), 0)
		for c := range machine.JobConstants(machine.CapFrame | machine.Heavy) {
			if c.Path == "job.cap_frame_speed" && c.Get(truth) > 880 {
				continue // no run met it
			}
			factors++
			off := math.Log(c.Get(res.Sheet)/c.Get(truth)) / logSD(res.Sheet.Spread(c))
			if math.Abs(off) < 1.645 {
				factorInside++
			}
			if testing.Verbose() {
				t.Logf("machine %d: %s true %.3g learned %.3g ± %.1f %% (%s), off by %.1f", seed, c.Path, c.Get(truth),
					c.Get(res.Sheet), 100*res.Sheet.Spread(c), res.Sheet.BasisOf[c.Path], off)
			}
		}
		if len(res.Sheet.BasisOf) > 0 && res.Sheet.Spread(at(t, "job.metallic_speed")) != 0.25 {
			t.Error("metallic thread is no more assumed, and no run named it")
		}
	}
	for _, j := range []struct {
		name string
		*judged
	}{{"cap frame", &caps}, {"cap frame and heavy", &both}, {"plain", &plain}} {
		t.Logf("%s: median error %.2f %%, half-width %.2f %%, %d of %d inside", j.name, 100*median(j.errs), 100*median(j.half),
			j.inside, j.runs)
		most := 0.006
		if j.name == "plain" && testing.Short() { // six runs
			most = 0.01
		}
		if median(j.errs) > most || 100*j.inside < 75*j.runs {
			t.Errorf("%s: median error %.2f %%, %d of %d inside", j.name, 100*median(j.errs), j.inside, j.runs)
		}
	}
	t.Logf("plain jobs without those runs: median error %.2f %%, half-width %.2f %%, %d of %d inside", 100*median(alone.errs),
		100*median(alone.half), alone.inside, alone.runs)
	t.Logf("what was assumed: median error %.2f %%; factors: %d of %d inside", 100*median(ignored.errs), factorInside, factors)
	if median(ignored.errs) < 5*median(caps.errs) {
		t.Errorf("with what is assumed the median error is %.2f %%: the runs hardly depend on it", 100*median(ignored.errs))
	}
}

func at(t *testing.T, path string) machine.Constant {
	t.Helper()
	c, ok := machine.ConstantAt(path)
	if !ok {
		t.Fatalf("no constant %s", path)
	}
	return c
}

// What nobody timed stays as it was: the sheet is the same whether rows could
// have named a job or not.
func TestAKindOfJobThatNoRunNamesStaysAssumed(t *testing.T) {
	s := mustClass(t, "single-15-light")
	_, _, obs := timedPiece(t, s, 4)
	res := fit(t, s, obs, Options{Draws: -1, Plain: true})
	for c := range machine.JobConstants(machine.AllJobs) {
		if !c.Absent(res.Sheet) || res.Sheet.Spread(c) != s.Spread(c) || c.Get(res.Sheet) != c.Get(s) {
			t.Errorf("%s is now %v ± %v", c.Path, c.Get(res.Sheet), res.Sheet.Spread(c))
		}
	}
	if strings.Contains(string(res.Sheet.TOML()), "job") {
		t.Error("the sheet speaks of jobs")
	}
}

// A limit that was never met is learned to be above what was set, and no more.
func TestALimitThatNoRunMetIsAboveWhatWasSet(t *testing.T) {
	s := mustClass(t, "single-15-light")
	truth, _, obs := timedPiece(t, s, 2)
	truth.Job.CapFrameSpeed = 990
	short := build(s, []patch{running(1.5, 480, false), running(1.5, 480, true)}, []point{{0, 0}, {0, 40}})
	for k, speed := range []float64{700, 760, 800, 800} {
		took := clock.Run(short, truth, clock.Job{Speed: speed, Kinds: machine.CapFrame}).Seconds
		obs = append(obs, Observation{Kind: WholeRun, Name: "short", Design: short, SetSpeed: speed, Step: 0.1,
			Job: machine.CapFrame, Seconds: took + 0.1*float64(k%3-1)})
	}
	res := fit(t, s, obs, Options{Draws: -1, Plain: true})
	c := at(t, "job.cap_frame_speed")
	if v := c.Get(res.Sheet); v < 800 || v > 990 {
		t.Errorf("never below 800/min, and learned as %.0f/min", v)
	}
	if sd := res.Sheet.Spread(c); sd < 0.03 || sd > 0.15 {
		t.Errorf("how far above is known to %.1f %%", 100*sd)
	}
	want := clock.Run(short, truth, clock.Job{Speed: 780, Kinds: machine.CapFrame}).Seconds
	if got, u := clock.How(short, res.Sheet, clock.Job{Speed: 780, Kinds: machine.CapFrame}, 0.9); want < u.Low || want > u.High {
		t.Errorf("%.0f s, said %.0f (%.0f to %.0f)", want, got.Seconds, u.Low, u.High)
	}
}

func TestANormalCutOffBelow(t *testing.T) {
	// Johnson, Kotz and Balakrishnan, section 13.10.1: at the mean the half normal.
	if m, sd := above(1, 2, 1); math.Abs(m-(1+2*math.Sqrt(2/math.Pi))) > 1e-9 || math.Abs(sd-2*math.Sqrt(1-2/math.Pi)) > 1e-9 {
		t.Errorf("%v ± %v", m, sd)
	}
	if m, sd := above(0, 1, -30); math.Abs(m) > 1e-9 || math.Abs(sd-1) > 1e-9 {
		t.Errorf("far below: %v ± %v", m, sd)
	}
	if m, sd := above(0, 1, 9); !(m > 9 && m < 9.2 && sd > 0.05 && sd < 0.15) {
		t.Errorf("far above: %v ± %v", m, sd)
	}
}

func TestAnUnknownJobIsRefusedWithWhatThereIs(t *testing.T) {
	const head = "design,set_speed,seconds,job\n"
	_, _, err := ReadRuns(strings.NewReader(head+"rose.dst,800,60,\nrose.dst,800,61,capframe\n"), "runs.csv", opener)
	if err == nil || !strings.Contains(err.Error(), `row 3, column job: "capframe" is no kind of job`) ||
		!strings.Contains(err.Error(), "cap-frame, large-hoop, heavy, metallic, woollen") {
		t.Errorf("%v", err)
	}
	obs, _, err := ReadRuns(strings.NewReader(head+"rose.dst,800,60,Heavy cap_frame\n"), "runs.csv", opener)
	if err != nil || obs[0].Job != machine.CapFrame|machine.Heavy {
		t.Errorf("%v %v", obs, err)
	}
}
