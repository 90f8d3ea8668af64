package plan

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// Simulated shops: what the shop's uncertainty is said to be is also what
// happens, by a simulation of its own that goes through the week window by
// window. The date promised with 90 % must then be met in 87 to 93 % of cases.
func TestNinetyPercentDatesAreMetInNineOfTenCases(t *testing.T) {
	met, all := 0, 0
	for seed := range uint64(6) {
		t.Log("seed", seed)
		p := shop(rand.New(rand.NewPCG(21, seed)), 120, 8, 0.85)
		s := must(t, p, Options{Moves: 30_000, NoBound: true})
		machine, lot, set := LogNormal(0.08), LogNormal(0.2), LogNormal(0.3)
		dates, err := Promise(ctx, p, s, Uncertainty{
			Machine: func(_ int, u float64) float64 { return machine(u) },
			Lot:     func(_, _ int, u float64) float64 { return lot(u) },
			Setup:   func(_ int, u float64) float64 { return set(u) },
		}, PromiseOptions{Chance: 0.9, Draws: 800, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(99, seed))
		for range 60 {
			end := map[int]float64{}
			for m := range p.Machines {
				whole := math.Exp(0.08 * rng.NormFloat64())
				now := 0.0
				work := func(w float64) {
					for _, win := range p.Machines[m].Windows {
						from := max(win.From, now)
						if from >= win.To {
							continue
						}
						if from+w <= win.To {
							now = from + w
							return
						}
						w -= win.To - from
						now = win.To
					}
					// After the entered hours the plan goes on at their average rate.
					total := 0.0
					for _, win := range p.Machines[m].Windows {
						total += win.To - win.From
					}
					last := p.Machines[m].Windows[len(p.Machines[m].Windows)-1].To
					now = max(now, last) + w/(total/last)
				}
				for _, l := range s.Queue(m) {
					work(l.Setup * math.Exp(0.3*rng.NormFloat64()))
					now = max(now, p.Jobs[l.Job].Release)
					work(l.Work * whole * math.Exp(0.2*rng.NormFloat64()))
					end[l.Job] = max(end[l.Job], now)
				}
			}
			for _, d := range dates {
				all++
				if end[d.Job] <= d.Promise+0.01 {
					met++
				}
			}
		}
		for _, d := range dates {
			if d.Promise < d.Median || d.OnTime < 0 || d.OnTime > 1 {
				t.Fatalf("%+v", d)
			}
		}
	}
	if share := float64(met) / float64(all); share < 0.87 || share > 0.93 {
		t.Errorf("the 90 %% date is met in %.1f %% of %d cases", 100*share, all)
	} else {
		t.Logf("met in %.2f %% of %d cases", 100*share, all)
	}
}

func TestCertainTimesPromiseThePlan(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(21, 1)), 60, 5, 0.85)
	s := must(t, p, Options{Moves: 10_000, NoBound: true})
	dates, err := Promise(ctx, p, s, Uncertainty{}, PromiseOptions{Chance: 0.9, Draws: 20})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range dates {
		if math.Abs(d.Promise-d.Planned) > 0.01 {
			t.Errorf("planned %v, promised %v", d.Planned, d.Promise)
		}
	}
	if _, err := Promise(ctx, p, s, Uncertainty{}, PromiseOptions{Chance: 0.99, Draws: 20}); err == nil {
		t.Error("20 draws cannot show 99 %")
	}
	if _, err := Promise(ctx, p, s, Uncertainty{Lot: func(_, _ int, _ float64) float64 { return math.NaN() }},
		PromiseOptions{Chance: 0.5}); err == nil {
		t.Error("a time that is no number was promised with")
	}
}

// A job comes out the same whether it is asked for alone or with all: also one that is
// split over machines, behind lots of others, and with every kind of chance.
func TestAJobAskedForAloneIsPromisedTheSame(t *testing.T) {
	p := shop(rand.New(rand.NewPCG(31, 1)), 60, 5, 0.85)
	s := must(t, p, Options{Moves: 10_000, NoBound: true})
	unc := Uncertainty{
		Machine: func(_ int, u float64) float64 { return LogNormal(0.05)(u) },
		Lot:     func(_, _ int, u float64) float64 { return LogNormal(0.2)(u) },
		Setup:   func(_ int, u float64) float64 { return LogNormal(0.3)(u) },
	}
	for _, u := range []Uncertainty{unc, {Lot: unc.Lot}, {Machine: unc.Machine}, {Setup: unc.Setup, Lot: unc.Lot}} {
		all, err := Promise(ctx, p, s, u, PromiseOptions{Chance: 0.9, Draws: 50, Seed: 3})
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range all {
			got, err := Promise(ctx, p, s, u, PromiseOptions{Chance: 0.9, Draws: 50, Seed: 3, Of: []int{want.Job}})
			if err != nil || len(got) != 1 || got[0] != want {
				t.Fatalf("alone %+v, %v; with all %+v", got, err, want)
			}
		}
	}
	if none, err := Promise(ctx, p, s, unc, PromiseOptions{Chance: 0.9, Of: []int{}}); err != nil || len(none) != 0 {
		t.Errorf("nobody asked for: %+v, %v", none, err)
	}
}

// The rank is that of the p(n+1) rule, rounded up: with fewer draws than the
// chance divides into, the later one is promised.
func TestThePromisedDrawIsTheNextOneUp(t *testing.T) {
	for _, c := range []struct {
		draws  int
		chance float64
		rank   float64
	}{
		{9, 0.9, 9}, {10, 0.9, 10}, {12, 0.8, 11}, {99, 0.9, 90}, {100, 0.9, 91}, {1, 0.5, 1}, {2, 0.5, 2}, {3, 0.5,
			2}, {5, 0.01, 1},
		{19, 0.55, 11}, // 0.55 · 20 is a hair over 11 in binary
	} {
		sorted := make([]float64, c.draws)
		for i := range sorted {
			sorted[i] = float64(i + 1)
		}
		if got := upper(sorted, c.chance); got != c.rank {
			t.Errorf("%d draws at %v: rank %v, want %v", c.draws, c.chance, got, c.rank)
		}
	}
}

// one is a machine with one job of an hour, due at second due.
func one(due float64) (*Problem, *Schedule) {
	p := &Problem{Machines: []Machine{{ID: "a"}}, Jobs: []Job{{ID: "o", Quantity: 1, Due: due, Weight: 1,
		Fits: []Fit{{0, 3600, 1, 0}}}}}
	return p, &Schedule{Lots: []Lot{{Quantity: 1, Runs: 1, To: 3600, Work: 3600}}}
}

// A date from few draws is met, over many shops, at least as often as it says:
// a lot whose time is anything up to an hour with the same chance is done by
// the promised second in so many of a hundred cases as the second is of the
// hour.
func TestFewDrawsDoNotMakeAPromiseOptimistic(t *testing.T) {
	even := Uncertainty{Lot: func(_, _ int, u float64) float64 { return u }}
	for _, draws := range []int{4, 7, 12, 13} {
		met := 0.0
		const shops = 600
		for seed := range uint64(shops) {
			p, s := one(math.Inf(1))
			d, err := Promise(ctx, p, s, even, PromiseOptions{Chance: 0.8, Draws: draws, Seed: seed})
			if err != nil {
				t.Fatal(err)
			}
			met += d[0].Promise / 3600 / shops
		}
		if met < 0.8-0.015 { // three standard errors of 600 shops
			t.Errorf("with %d draws the 80 %% date is met in %.1f %% of cases", draws, 100*met)
		}
	}
}

func TestTheChanceOfTheDueDateIsTheShareOfDrawsThatMeetIt(t *testing.T) {
	even := Uncertainty{Lot: func(_, _ int, u float64) float64 { return u }}
	o := PromiseOptions{Chance: 0.9, Draws: 999, Seed: 3}
	for _, c := range []struct{ due, want, within float64 }{
		{900, 0.25, 0.05}, {2700, 0.75, 0.05}, {-1, 0, 0}, {3600, 1, 0}, {math.Inf(1), 1, 0}, {math.NaN(), 1, 0},
	} {
		p, s := one(c.due)
		d, err := Promise(ctx, p, s, even, o)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(d[0].OnTime-c.want) > c.within {
			t.Errorf("due at %v of an hour's lot: on time in %v of draws, want %v", c.due, d[0].OnTime, c.want)
		}
	}
	// Done in the very second it is due is on time.
	p, s := one(3600)
	if d, err := Promise(ctx, p, s, Uncertainty{}, o); err != nil || d[0].OnTime != 1 {
		t.Errorf("%+v %v", d, err)
	}
	p.Jobs[0].Due = 3599.99
	if d, err := Promise(ctx, p, s, Uncertainty{}, o); err != nil || d[0].OnTime != 0 {
		t.Errorf("%+v %v", d, err)
	}
}

func TestPromisesRefuseWhatTheyCannotShow(t *testing.T) {
	p, s := one(7200)
	for _, c := range []struct {
		o    PromiseOptions
		want string // "": allowed
	}{
		{PromiseOptions{Chance: 0}, "between 0 and 1"},
		{PromiseOptions{Chance: 1}, "between 0 and 1"},
		{PromiseOptions{Chance: -0.5}, "between 0 and 1"},
		{PromiseOptions{Chance: math.NaN()}, "between 0 and 1"},
		{PromiseOptions{Chance: 0.9, Draws: 8}, "take at least 9"},
		{PromiseOptions{Chance: 0.9, Draws: 9}, ""},
		{PromiseOptions{Chance: 0.5, Draws: 1}, ""},
		{PromiseOptions{Chance: 0.5, Draws: -3}, "-3 draws"},
		{PromiseOptions{Chance: 0.99}, ""},
	} {
		_, err := Promise(ctx, p, s, Uncertainty{}, c.o)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.o, err, c.want)
		}
	}
}

// Late is late by more than rounding, and by the whole stretch then.
func TestAJobIsLateFromItsDueSecondOn(t *testing.T) {
	for _, c := range []struct {
		due      float64
		late     int
		lateness float64
	}{{3600, 0, 0}, {3600.001, 0, 0}, {3599.99, 1, 3 * 0.01}, {3000, 1, 3 * 600}, {math.Inf(1), 0, 0}} {
		p, _ := one(c.due)
		p.Jobs[0].Weight = 3
		s := must(t, p, Options{Moves: 100})
		if s.Late != c.late || math.Abs(s.Lateness-c.lateness) > 1e-6 {
			t.Errorf("an hour's job due at %v s: %d late by %v weighted s, want %d by %v", c.due, s.Late, s.Lateness,
				c.late, c.lateness)
		}
	}
}

// Each uncertainty multiplies its own: the machine's all its lots, a lot's its
// work, a set-up's the set-up.
func TestUncertainTimesMultiplyTheirOwn(t *testing.T) {
	by := func(x float64) func(float64) float64 { return func(float64) float64 { return x } }
	for _, c := range []struct {
		machine, lot, set, want float64
	}{{1, 1, 1, 4200}, {1.5, 1, 1, 600 + 5400}, {1, 0.5, 1, 600 + 1800}, {1, 1, 3, 1800 + 3600}, {2, 1.5, 0.5, 300 +
		3*3600}} {
		p, s := one(math.Inf(1))
		s.Lots[0].Setup = 600
		m, l, u := by(c.machine), by(c.lot), by(c.set)
		d, err := Promise(ctx, p, s, Uncertainty{
			Machine: func(_ int, x float64) float64 { return m(x) },
			Lot:     func(_, _ int, x float64) float64 { return l(x) },
			Setup:   func(_ int, x float64) float64 { return u(x) },
		}, PromiseOptions{Chance: 0.9, Draws: 10})
		if err != nil || math.Abs(d[0].Promise-c.want) > 0.01 || math.Abs(d[0].Median-c.want) > 0.01 {
			t.Errorf("%+v: %+v %v", c, d, err)
		}
	}
}

func TestEachDrawAsksOnceForEachLot(t *testing.T) {
	p, s := one(math.Inf(1))
	asked := 0
	unc := Uncertainty{Lot: func(job, machine int, u float64) float64 {
		if job != 0 || machine != 0 || !(u > 0 && u < 1) {
			t.Fatalf("job %d on machine %d at %v", job, machine, u)
		}
		asked++
		return 1
	}}
	if _, err := Promise(ctx, p, s, unc, PromiseOptions{Chance: 0.5, Draws: 37}); err != nil || asked != 37 {
		t.Errorf("37 draws asked %d times (%v)", asked, err)
	}
	asked = 0
	if _, err := Promise(ctx, p, s, unc, PromiseOptions{Chance: 0.5}); err != nil || asked != 1000 {
		t.Errorf("without a number of draws %d were made (%v)", asked, err)
	}
}

func TestPromisesWithoutNumbersAreRefused(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), -1} {
		p, s := one(math.Inf(1))
		s.Lots[0].Setup = 600
		for what, unc := range map[string]Uncertainty{
			"lot":    {Lot: func(_, _ int, _ float64) float64 { return x }},
			"set-up": {Setup: func(int, float64) float64 { return x }},
		} {
			if _, err := Promise(ctx, p, s, unc, PromiseOptions{Chance: 0.5, Draws: 3}); err == nil ||
				!strings.Contains(err.Error(), "no number") {
				t.Errorf("%s times %v: %v", what, x, err)
			}
		}
	}
}

// Goods that come late hold a lot up, and so does a pinned beginning, unless it
// is running already.
func TestPromisesWaitForTheGoodsAndThePin(t *testing.T) {
	for _, c := range []struct {
		release float64
		pin     *Pin
		want    float64
	}{
		{0, nil, 3600}, {5000, nil, 8600}, {0, &Pin{Start: 7000}, 10600}, {8000, &Pin{Start: 7000}, 11600}, {0,
			&Pin{Start: 7000, Running: true}, 3600},
		{0, &Pin{Start: -1}, 3600},
	} {
		p, s := one(math.Inf(1))
		p.Jobs[0].Release, p.Jobs[0].Pin = c.release, c.pin
		d, err := Promise(ctx, p, s, Uncertainty{}, PromiseOptions{Chance: 0.9, Draws: 10})
		if err != nil || math.Abs(d[0].Promise-c.want) > 0.01 {
			t.Errorf("goods at %v, pin %+v: %+v %v, want %v", c.release, c.pin, d, err, c.want)
		}
	}
}

// A share of courses in time is enough for a day just where the promised second lies no later than the day's end:
// with 1,000 draws 900 of them are not 90 %, by the p(n+1) rule (Hyndman and Fan 1996, definition 6).
func TestASureDayIsAPromisedOne(t *testing.T) {
	for _, c := range []struct {
		in, draws int
		chance    float64
		want      bool
	}{{900, 1000, .9, false}, {901, 1000, .9, true}, {500, 1000, .5, false}, {501, 1000, .5, true}, {9, 9, .9, true}, {8, 9, .9, false}, {98, 99, .99, false}, {99, 99, .99, true}} {
		if got := Sure(float64(c.in)/float64(c.draws), c.chance, c.draws); got != c.want {
			t.Errorf("%d of %d are sure with %v: %v", c.in, c.draws, c.chance, got)
		}
		sorted := make([]float64, c.draws) // as many end by 1 s
		for i := range sorted {
			sorted[i] = 1
			if i >= c.in {
				sorted[i] = 2
			}
		}
		if by := upper(sorted, c.chance); by <= 1 != c.want {
			t.Errorf("%d of %d by 1 s: promised %v s with %v", c.in, c.draws, by, c.chance)
		}
	}
}
