package floor

import (
	"context"
	"math"
	"strings"
	"testing"
)

func TestOneOperatorKeepsAsManyMachinesAsTheCycleHolds(t *testing.T) {
	// Without chance the rule of multiple-machine assignment is exact: n machines
	// of 900 s run and 100 s loading keep one operator busy n·100 s in every
	// 1,000 s; up to ten nobody waits, and eleven yield no more than ten.
	s := plain(900, 100)
	s.Seconds = 100 * 3600
	crews, err := CrewOf(context.Background(), s, 0, 12, few, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range crews {
		n := min(float64(i+1), 10)
		want := n * s.Seconds / 1000
		near(t, "pieces", c.Pieces.Mean, want, 12)
		if i < 9 && c.Waiting > .005 {
			t.Errorf("%d machines wait %g of their time", i+1, c.Waiting)
		}
		near(t, "operator", c.HandUse, min(n/10, 1), .01)
	}
	if n := crews[len(crews)-1].Machines; n != 11 {
		t.Errorf("tried up to %d; the eleventh adds nothing and must be the last", n)
	}
	if k := Keeps(crews, .9); crews[k].Machines != 11 { // eleven machines yield 10/11 of what each would alone
		t.Errorf("keeps %d", crews[k].Machines)
	}
	if k := Keeps(crews, .95); crews[k].Machines != 10 {
		t.Errorf("keeps %d at 95 %%", crews[k].Machines)
	}
}

func TestOneMoreIsPairedWithTheSameChances(t *testing.T) {
	base := simulate(t, bigShop(), Options{Seed: 4, Min: 128, Max: 128})
	opt := Options{Seed: 4}
	changes, err := OneMore(context.Background(), base, opt, nil)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]Change{}
	for _, c := range changes {
		found[c.Name] = c
		two := c.Result.Pieces.Half() + base.Pieces.Half()
		if c.Pieces.Half() > two {
			t.Errorf("%s: the paired difference is known to ± %g, no better than the two yields apart, ± %g", c.Name, c.Pieces.Half(), two)
		}
	}
	heads := found["one more head on every machine"]
	if heads.Pieces.Low <= 0 || heads.Pieces.Mean > base.Pieces.Mean/12*1.2 {
		t.Errorf("one more head of 12 everywhere: %g more pieces of %g", heads.Pieces.Mean, base.Pieces.Mean)
	}
	if x := found["half the thread breaks"]; x.Pieces.Low <= 0 {
		t.Errorf("half the thread breaks: %+v", x.Pieces)
	}
	for _, name := range []string{"one more operator", "one more hoop set for every machine", "one more head on bay 3"} {
		if x, ok := found[name]; !ok || x.Pieces.Low < -1 {
			t.Errorf("%s: %+v", name, x.Pieces)
		}
	}
}

func TestNoHeadIsOfferedToASingleHeadMachine(t *testing.T) {
	names := func(heads ...int) string {
		s := plain(900, 60)
		s.Machines = nil
		for i, h := range heads {
			s.Machines = append(s.Machines, Machine{Name: string(rune('a' + i)), Heads: h, HoopOn: true})
			s.Jobs[0].Runs = append(s.Jobs[0].Runs[:1:1], make([]Run, i)...)
		}
		for i := range s.Jobs[0].Runs {
			s.Jobs[0].Runs[i] = s.Jobs[0].Runs[0]
		}
		changes, err := OneMore(context.Background(), simulate(t, s, few), few, nil)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, c := range changes {
			if c.Kind == MoreHeads || c.Kind == MoreHeadsAt {
				out = append(out, c.Name)
				for i, m := range c.Result.Shop.Machines {
					more := c.Kind == MoreHeads && heads[i] > 1 || c.Kind == MoreHeadsAt && i == c.At
					if want := map[bool]int{true: heads[i] + 1, false: heads[i]}[more]; m.Heads != want {
						t.Errorf("%v, %s: machine %d has %d heads, want %d", heads, c.Name, i+1, m.Heads, want)
					}
				}
			}
		}
		return strings.Join(out, ", ")
	}
	for want, heads := range map[string][]int{
		"":                               {1},
		"one more head on c":             {1, 1, 6},
		"one more head on every machine": {6},
		"one more head on every machine, one more head on a, one more head on b":            {2, 4},
		"one more head on every machine of several, one more head on b, one more head on c": {1, 2, 4},
	} {
		if got := names(heads...); got != want {
			t.Errorf("%v: %q, want %q", heads, got, want)
		}
	}
}

func TestWhatEachOfACrewYieldsLessItWaitsMore(t *testing.T) {
	s := plain(300, 60)
	s.Machines[0].Breaks, s.Machines[0].Repair = .2, Spread{Mean: 75}
	crews, err := CrewOf(context.Background(), s, 0, 6, few, nil)
	if err != nil {
		t.Fatal(err)
	}
	first, last := crews[0], crews[len(crews)-1]
	less := 1 - last.PerMachine/first.PerMachine
	if len(crews) < 3 || less < .02 || last.HandUse <= first.HandUse {
		t.Fatalf("crews %+v", crews)
	}
	near(t, "waiting explains it, to a part of a run", less, last.Waiting-first.Waiting, .05)
}

func TestMeansOfWholePiecesAreWhole(t *testing.T) {
	s := plain(900, 100) // 28 pieces in every shift, whatever the number of shifts
	for _, n := range []int{3, 7, 49, 64, 321} {
		r := simulate(t, s, Options{Seed: 1, Min: n, Max: n})
		if r.Pieces.Mean != 28 || r.Jobs[0] != 28 || r.Machines[0].Runs != 28 || r.Machines[0].Pieces.Mean != 28 || r.Calls != 30 {
			t.Errorf("%d shifts: %v pieces, %v of the job, %v runs, %v calls", n, r.Pieces.Mean, r.Jobs[0], r.Machines[0].Runs, r.Calls)
		}
	}
}

func TestMoreShowsInTimeWhereAllWorkGetsDone(t *testing.T) {
	s := plain(900, 100)
	s.Jobs[0].Quantity = 10
	base := simulate(t, s, few)
	changes, err := OneMore(context.Background(), base, few, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range changes {
		if strings.Contains(c.Name, "one more head") {
			if !c.AllWas || c.Pieces.Mean != 0 {
				t.Errorf("%+v", c.Pieces)
			}
			near(t, "sooner", c.Sooner.Mean, 5*900, 1e-6) // two heads: five runs instead of ten, the same loading
		}
	}
}

func TestRepeatedJobsFillTheShift(t *testing.T) {
	s := plain(900, 100)
	s.Jobs[0].Quantity = 3
	jobs, err := repeatJobs(s, 0, 4)
	if err != nil {
		t.Fatal(err)
	}
	total := 0
	for _, j := range jobs {
		if len(j.Runs) != 4 || j.Quantity != 12 {
			t.Fatalf("job %+v", j)
		}
		total += j.Quantity
	}
	if float64(total)*900/4 < 1.5*s.Seconds {
		t.Errorf("%d pieces on four machines are not a shift and a half", total)
	}
	s.Machines = append(s.Machines, s.Machines[0])
	s.Jobs[0].Machines = []int{0}
	if _, err := repeatJobs(s, 1, 1); err == nil {
		t.Error("a machine without work gave no error")
	}
	if _, err := CrewOf(context.Background(), s, 7, 2, few, nil); err == nil {
		t.Error("machine 8 of 2 gave no error")
	}
}

func TestSpreadsHaveTheMeanAndSpreadTheySay(t *testing.T) {
	r := newStream()
	r.seed(1, 2, 3, 4)
	for _, s := range []Spread{{Mean: 60, CV: .6, Law: LogNormal}, {Mean: 60, CV: .6}, {Mean: 60, CV: .5, Law: Gamma}, {Mean: 60, CV: 1, Law: ExponentialLaw},
		{Mean: 60, CV: .6, Law: Constant}, {Mean: 60}} {
		var m moments
		of := s.die()
		for range 200_000 {
			m.add(of.draw(r.Rand))
		}
		cv := s.CV
		if s.Law == Constant {
			cv = 0
		}
		near(t, s.Law+" mean", m.mean, 60, 60*4*math.Max(cv, 1e-12)/math.Sqrt(200_000)+1e-9)
		near(t, s.Law+" cv", m.sd()/m.mean, cv, .02*cv+1e-9)
	}
}

func TestQuantileByTheHandbooksRule(t *testing.T) {
	// NIST e-Handbook 7.2.6.2, percentiles by p(N+1): the 90th of these twelve is 95.1981 (quoted from memory of the page, recomputed).
	v := []float64{95.0610, 95.0925, 95.1065, 95.1195, 95.1442, 95.1567, 95.1591, 95.1682, 95.1772, 95.1937, 95.1959, 95.1990}
	near(t, "90th", quantile(v, .9), 95.1981, 5e-5)
	if quantile(v, 0) != v[0] || quantile(v, 1) != v[11] || !math.IsNaN(quantile(nil, .5)) {
		t.Error("ends of the quantile")
	}
}
