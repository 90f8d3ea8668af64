package floor

import (
	"errors"
	"math"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/thread"
)

// threeColours is three blocks of 1,000 stitches of 3 mm with a stop by the
// operator in the second.
func threeColours() *stitch.Design {
	d := &stitch.Design{}
	for b := range 3 {
		if b > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		for i := range 1000 {
			if b == 1 && i == 500 {
				d.Records = append(d.Records, stitch.Record{Op: stitch.Stop})
			}
			u := int16(30)
			if i%2 == 1 {
				u = -u
			}
			d.Records = append(d.Records, stitch.Record{DX: u, Op: stitch.Sew})
		}
	}
	return d
}

func class(t *testing.T, id string) *machine.Sheet {
	t.Helper()
	s, ok := machine.Class(id)
	if !ok {
		t.Fatalf("no class %q", id)
	}
	return s
}

func newRun(t *testing.T, s *machine.Sheet, heads int, z [][]float64) Run {
	t.Helper()
	r, err := NewRun(threeColours(), s, clock.Job{}, DefaultWork, heads, thread.Default, z)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestARunTakesTheOperatorsTimeOut(t *testing.T) {
	d := threeColours()
	one := class(t, "home-1")
	res := clock.Run(d, one, clock.Job{})
	r := newRun(t, one, 1, nil)
	if len(r.Stops) != 3 {
		t.Fatalf("one needle: %d stops, want two re-threads and the operator's own", len(r.Stops))
	}
	near(t, "run without the re-threads", r.Seconds[0], res.Seconds-res.Parts.ColourStops, 1e-6)
	near(t, "re-thread", r.Stops[0].Work.Mean, res.Parts.ColourStops/2, 1e-6)
	near(t, "operator's stop", r.Stops[1].Work.Mean, DefaultWork.Stop.Mean, 0)
	near(t, "first re-thread a third in", r.Stops[0].Fraction, 1.0/3, .02)
	near(t, "stop half-way", r.Stops[1].Fraction, .5, .02)
	near(t, "second re-thread", r.Stops[2].Fraction, 2.0/3, .02)

	many := class(t, "multi-6")
	r = newRun(t, many, 6, nil)
	if len(r.Stops) != 1 {
		t.Errorf("fifteen needles: %d stops, want the operator's own", len(r.Stops))
	}
	near(t, "run", r.Seconds[0], clock.Run(d, many, clock.Job{}).Seconds, 1e-6)
	near(t, "bobbin thread", r.BobbinMetres, 3000*.003, .2)

	two := many.Clone()
	two.Needles = 2
	r = newRun(t, two, 6, nil)
	if len(r.Stops) != 2 || r.Stops[1].Work.Mean != 6*DefaultWork.Rethread.Mean {
		t.Errorf("two needles, three colours: %+v", r.Stops)
	}
	if _, err := NewRun(&stitch.Design{}, many, clock.Job{}, DefaultWork, 6, thread.Default, nil); err == nil {
		t.Error("a design without stitches gave no error")
	}
}

func TestHoursAndMinutesBecomeSecondsOnce(t *testing.T) {
	src := Sources{Design: func(string) (*stitch.Design, error) { return threeColours(), nil },
		Sheet: func(string) (*machine.Sheet, error) { return class(t, "multi-6"), nil }}
	sf := ShopFile{Shift: ShiftKeys{Hours: 7.5}, Pause: []PauseKeys{{After: 2, Minutes: 15}, {After: 4.5, Minutes: 30, Operators: []string{"Maud"}}},
		Machine: []MachineKeys{{Name: "a", Sheet: "x"}}, Operator: []OperatorKeys{{}, {Name: "Maud", Machines: []string{"a"}}}, Job: []JobKeys{{Design: "d"}}}
	r, err := sf.resolve(src)
	if err != nil {
		t.Fatal(err)
	}
	s := r.Shop
	if s.Seconds != 27_000 || s.Walk.Seconds != 10 || s.Notice != 10 || !s.Ready || s.Operators[0].Name != "operator 1" {
		t.Errorf("a shift of %g s, walks of %g s, notice after %g s, ready %v, %q", s.Seconds, s.Walk.Seconds, s.Notice, s.Ready, s.Operators[0].Name)
	}
	if p := s.Pauses; p[0].At != 7200 || p[0].For != 900 || p[0].Operators != nil || p[1].At != 16_200 || p[1].For != 1800 || len(p[1].Operators) != 1 || p[1].Operators[0] != 1 {
		t.Errorf("pauses %+v", p)
	}
	// The planned run time is stitches ÷ set speed, in seconds.
	res := clock.Run(threeColours(), r.Sheets[0], clock.Job{})
	near(t, "planned", s.Jobs[0].Runs[0].Planned, float64(res.Stitches)/res.SetSpeed*60, 1e-9)
	if m := s.Machines[0]; m.Heads != 6 || m.Load.Mean != 60 || m.Loaders != 2 || m.Hoop.Mean != 35 || m.Bobbin.Metres != 130 || m.Repair.Mean != 75 || m.Setup.Mean != 300 || m.Cone.Mean != 25 {
		t.Errorf("the machine works so: %+v", m)
	}
	for want, wrong := range map[string]func(*ShopFile){
		"shift.hours":        func(f *ShopFile) { f.Shift.Hours = 0 },
		"shift.start":        func(f *ShopFile) { f.Shift.Start = "warm" },
		"pause[1].minutes":   func(f *ShopFile) { f.Pause[0].Minutes = 331 }, // of 330 that are left
		"machine[1].loaders": func(f *ShopFile) { f.Machine[0].Loaders = new(-1) },
	} {
		bad := sf
		bad.Machine, bad.Pause = append([]MachineKeys(nil), sf.Machine...), append([]PauseKeys(nil), sf.Pause...)
		wrong(&bad)
		var k *KeyError
		if _, err := bad.resolve(src); !errors.As(err, &k) || k.Key != want {
			t.Errorf("want an error of %s, got %v", want, err)
		}
	}
}

func TestDrawnRunsSpreadAsTheSheetSays(t *testing.T) {
	s := class(t, "multi-6")
	z := DrawMachines(s, 0, 400, 1)
	r := newRun(t, s, 6, z)
	_, how := clock.How(threeColours(), s, clock.Job{}, .9)
	in := 0
	for _, sec := range r.Seconds {
		if sec >= how.Low && sec <= how.High {
			in++
		}
	}
	if f := float64(in) / 400; math.Abs(f-.9) > .06 {
		t.Errorf("%.0f %% of drawn runs lie in the clock's 90 %% interval", 100*f)
	}
	again := newRun(t, s, 6, DrawMachines(s, 0, 400, 1))
	for i := range r.Seconds {
		if r.Seconds[i] != again.Seconds[i] {
			t.Fatal("the same seed draws other machines")
		}
	}
}

func TestCycleIsWhatAnEmptyFloorTakes(t *testing.T) {
	// With one operator at hand and no notice, the expected cycle is the
	// simulated time a run holds the machine.
	w := DefaultWork
	w.Breaks, w.HoopOn = new(.2), new(true)
	m := w.Machine("x", 3)
	run := Run{Seconds: []float64{600}, Stitches: 8000, BobbinMetres: 24, Stops: []AtStop{{.5, Spread{Mean: 40}}}}
	s := &Shop{Seconds: 400 * 3600, Machines: []Machine{m}, Operators: []Operator{{}}, Jobs: []Job{{Runs: []Run{run}}}}
	r := simulate(t, s, Options{Seed: 1, Min: 16, Max: 16})
	got := (r.Length - r.Machines[0].Seconds[Changeover]) / (r.Machines[0].Runs + r.Machines[0].Left/3)
	near(t, "seconds a run", got, Cycle(&m, &run, 600, 3, 1), .01*got)
}
