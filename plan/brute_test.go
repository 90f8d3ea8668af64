package plan

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// slowCost prices whole queues from the problem alone, second by second of the
// definition: the oracle for the model, the row tables and the move prices.
func slowCost(p *Problem, queues [][]part, before ...[][]part) (total Totals) {
	wins := make([][]Window, len(p.Machines))
	for m := range wins {
		wins[m] = p.Machines[m].Windows
	}
	// advance works for w seconds from second t on.
	advance := func(m int, t, w float64) float64 {
		if len(wins[m]) == 0 {
			return t + w
		}
		for _, win := range wins[m] {
			rate := win.Rate
			if rate == 0 {
				rate = 1
			}
			from := max(win.From, t)
			if from >= win.To {
				continue
			}
			if can := (win.To - from) * rate; can < w-1e-7 {
				w -= can
				t = win.To
				continue
			}
			return from + w/rate
		}
		// After the entered hours: their average.
		total, last := 0.0, wins[m][len(wins[m])-1].To
		for _, win := range wins[m] {
			rate := win.Rate
			if rate == 0 {
				rate = 1
			}
			total += (win.To - win.From) * rate
		}
		return max(t, last) + w*last/total
	}
	// worked is the working seconds of a machine until second t.
	worked := func(m int, t float64) (w float64) {
		if len(wins[m]) == 0 {
			return t
		}
		all, last := 0.0, wins[m][len(wins[m])-1].To
		for _, win := range wins[m] {
			rate := win.Rate
			if rate == 0 {
				rate = 1
			}
			all += (win.To - win.From) * rate
			w += max(0, min(win.To, t)-win.From) * rate
		}
		return w + max(0, t-last)*all/last
	}
	ends, inTime := map[int]float64{}, map[int]float64{}
	weights := p.Weights
	if weights == (Weights{}) {
		weights = DefaultWeights
	}
	for m, q := range queues {
		t := max(p.Machines[m].Free, 0)
		prev := -1
		for _, x := range q {
			j := &p.Jobs[x.job]
			set := 0.0
			s := p.Machines[m].Setup
			have, hoop, design := p.Machines[m].Loaded, p.Machines[m].Hoop, "\x00none"
			if prev >= 0 {
				have, hoop, design = p.Jobs[prev].Cones, p.Jobs[prev].Hoop, p.Jobs[prev].Design
			}
			if prev != x.job {
				need := map[string]bool{}
				for _, c := range j.Cones {
					need[c] = true
				}
				for _, c := range have {
					delete(need, c)
				}
				set += s.Cone * float64(len(need))
				if hoop != j.Hoop {
					set += s.Hoop
				}
				if design != j.Design || design == "" {
					set += s.Job
				}
			}
			if p.Changeover != nil {
				set = 0
				if prev < 0 {
					set = p.Changeover.first(m, x.job)
				} else if prev != x.job {
					set = p.Changeover.between(m)[prev][x.job]
				}
			}
			if set > 0 {
				t = advance(m, t, set)
			}
			t = max(t, j.Release)
			f := j.fit(m)
			full, rest := x.quantity/f.Pieces, x.quantity%f.Pieces
			w := f.Run * float64(full)
			if rest > 0 {
				w += f.Run - f.Idle*float64(f.Pieces-rest)
			}
			t = advance(m, t, w)
			ends[x.job] = max(ends[x.job], t)
			if !math.IsInf(j.due(), 1) {
				free := worked(m, max(p.Machines[m].Free, 0))
				a := worked(m, t) - free
				sd := math.Sqrt(math.Pow(p.Machines[m].Spread*a, 2) + math.Pow(p.Machines[m].Scatter, 2)*a)
				// 1 − Φ by its integral: no error function here.
				z, chance := (worked(m, j.due())-free-a)/sd, 0.0
				switch {
				case sd == 0 && t > j.due()+1e-4, z <= -4:
					chance = 1
				case sd > 0 && z < 4:
					chance = (normalAbove(z) - aboveFour) / (1 - 2*aboveFour)
				}
				if _, ok := inTime[x.job]; !ok {
					inTime[x.job] = 1
				}
				inTime[x.job] *= 1 - chance
			}
			total.Money += p.Machines[m].Rate * (set + w)
			total.MakeSpan = max(total.MakeSpan, t)
			total.Setup += set
			total.Work += w
			prev = x.job
		}
	}
	for j, e := range ends {
		if late := e - p.Jobs[j].due(); late > 1e-4 {
			total.Lateness += p.Jobs[j].Weight * late
			total.Late++
		}
	}
	for j, f := range inTime {
		total.Risk += p.Jobs[j].Weight * (1 - f)
	}
	if len(before) > 0 {
		total.Moved = slowMoves(p, before[0], queues)
	}
	total.Cost = weights.Lateness*total.Lateness + weights.MakeSpan*total.MakeSpan + weights.Setup*total.Setup +
		weights.Work*total.Work + weights.Money*total.Money + weights.Risk*total.Risk + weights.Move*total.Moved
	return total
}

// normalAbove is the normal distribution's chance above z, by Simpson's rule.
func normalAbove(z float64) float64 {
	const n = 400
	to, sum := 9.0, 0.0
	h := (to - z) / n
	for i := 0; i <= n; i++ {
		x, k := z+float64(i)*h, 2.0
		switch {
		case i == 0 || i == n:
			k = 1
		case i%2 == 1:
			k = 4
		}
		sum += k * math.Exp(-x*x/2)
	}
	return sum * h / 3 / math.Sqrt(2*math.Pi)
}

var aboveFour = normalAbove(4)

// slowMoves counts the moves between two plans by the definition.
func slowMoves(p *Problem, before, after [][]part) (sum float64) {
	type place struct {
		machine, rank int
		counts        float64
	}
	was := map[int]place{}
	for m, q := range before {
		for k, x := range q {
			if p.Jobs[x.job].Pin == nil {
				was[x.lot] = place{m, k, max(.1, math.Pow(2, -max(x.begins, 0)/28800))}
			}
		}
	}
	for m, q := range after {
		last := -1
		for _, x := range q {
			w, known := was[x.lot]
			switch {
			case !known:
			case w.machine != m:
				sum += w.counts
			default:
				if last > w.rank {
					sum += w.counts
				}
				last = w.rank
			}
		}
	}
	return sum
}

type part struct {
	job, quantity, lot int
	begins             float64 // s; of a plan before
}

func queuesOf(md *model, s *state) [][]part {
	out := make([][]part, md.m)
	for m := range out {
		for _, t := range s.rows[m].seq {
			e := s.rows[m].end[s.pos[t]] - md.at[m][t].work
			out[m] = append(out[m], part{int(md.job[t]), md.quantity[t], int(t), md.lines[m].start(e)})
		}
	}
	return out
}

// small is a little invented problem with everything in it: calendars,
// releases, cones, hoops, shared jobs.
func small(rng *rand.Rand, jobs, machines int) *Problem {
	p := &Problem{Weights: Weights{Lateness: 1, MakeSpan: 0.1, Setup: 0.05, Work: 0.01}}
	if rng.IntN(3) > 0 {
		p.Weights.Money, p.Weights.Risk, p.Weights.Move = 5*rng.Float64(), 300*rng.Float64(), 50*rng.Float64()
	}
	for m := range machines {
		mach := Machine{ID: fmt.Sprint("m", m), Setup: SetupTimes{Job: 20, Cone: 7, Hoop: 15},
			Free: float64(rng.IntN(50)), Rate: rng.Float64(), Spread: .2 * rng.Float64() * float64(rng.IntN(2)),
			Scatter: 2 * rng.Float64() * float64(rng.IntN(2))}
		if rng.IntN(3) > 0 {
			t := 0.0
			for t < 12000 {
				from := t + float64(rng.IntN(100))
				to := from + 50 + float64(rng.IntN(400))
				mach.Windows = append(mach.Windows, Window{from, to, []float64{0, 1, 0.5}[rng.IntN(3)]})
				t = to
			}
		}
		mach.Loaded = []string{"a", "c"}
		p.Machines = append(p.Machines, mach)
	}
	for j := range jobs {
		job := Job{ID: fmt.Sprint("j", j), Quantity: 1 + rng.IntN(12), Due: float64(rng.IntN(1500)),
			Weight: float64(rng.IntN(4)), Design: fmt.Sprint("d", rng.IntN(jobs))}
		if rng.IntN(3) == 0 {
			job.Release = float64(rng.IntN(600))
		}
		if rng.IntN(5) == 0 {
			job.Due = math.Inf(1)
		}
		for k := rng.IntN(4); k >= 0; k-- {
			job.Cones = append(job.Cones, string(rune('a'+rng.IntN(6))))
		}
		job.Hoop = []string{"", "cap"}[rng.IntN(2)]
		for m := range machines {
			if m == 0 || rng.IntN(4) > 0 {
				run, pieces := 10+float64(rng.IntN(30)), 1+rng.IntN(4)
				job.Fits = append(job.Fits, Fit{m, run, pieces, rng.Float64() * run / float64(pieces)})
			}
		}
		p.Jobs = append(p.Jobs, job)
	}
	return p
}

// Every move's price is the difference of the plans before and after, priced
// by the plain definition; and so are the running sums.
func TestMovePricesAreExact(t *testing.T) {
	for round := range uint64(60) {
		rng := rand.New(rand.NewPCG(7, round))
		p := small(rng, 4+rng.IntN(12), 1+rng.IntN(4))
		md := compile(p, split(p, 120))
		s := newState(md)
		constructBest(md, s)
		var was [][][]part
		if round%3 > 0 { // some moves later the plan before is remembered
			was = [][][]part{queuesOf(md, s)}
			md.remember(s, func(job int) bool { return job%4 > 0 })
			for _, q := range was[0] { // the new ones are in no plan before
				for k := range q {
					if q[k].job%4 == 0 {
						q[k].lot = -1 - q[k].lot
					}
				}
			}
		}
		x := newSearch(md, s, rng)
		x.eager = round%2 == 0
		priced := 0
		for range 300 {
			var c change
			x.propose(&c)
			if !s.legal(&c) {
				continue
			}
			before := slowCost(p, queuesOf(md, s), was...).Cost
			if math.Abs(before-s.value()) > 1e-3 {
				t.Fatalf("round %d: the state says %v, the definition %v", round, s.value(), before)
			}
			d := s.price(&c, math.Inf(1))
			tight := s.price(&c, d+1e-6)
			cut := s.price(&c, d-1)
			s.apply(&c)
			after := slowCost(p, queuesOf(md, s), was...).Cost
			if math.Abs(after-before-d) > 2e-3 || math.Abs(tight-d) > 1e-6 {
				t.Fatalf("round %d move %+v: priced %v, is %v", round, c, d, after-before)
			}
			if cut < d-1e-6 {
				t.Fatalf("a price with a limit came out lower: %v for %v", cut, d)
			}
			priced++
		}
		if priced == 0 && md.n > 2 {
			t.Errorf("round %d: no legal move", round)
		}
		got, want := s.schedule().Totals, slowCost(p, queuesOf(md, s), was...)
		if math.Abs(got.Cost-want.Cost) > 1e-3 || math.Abs(got.Money-want.Money) > 1e-6 || p.Weights.Risk > 0 && math.Abs(got.Risk-want.Risk) > 1e-4 ||
			p.Weights.Move > 0 && math.Abs(got.Moved-want.Moved) > 1e-6 || got.Late != want.Late || math.Abs(got.Setup-want.Setup) > 1e-6 ||
			math.Abs(got.MakeSpan-want.MakeSpan) > 1e-3 {
			t.Fatalf("round %d: schedule says %+v, the definition %+v", round, got, want)
		}
	}
}

// brute finds the least cost over all assignments and orders of unsplit jobs.
func brute(p *Problem) float64 {
	best := math.Inf(1)
	queues := make([][]part, len(p.Machines))
	var place func(j int)
	place = func(j int) {
		if j == len(p.Jobs) {
			best = min(best, slowCost(p, queues).Cost)
			return
		}
		for m := range queues {
			if p.Jobs[j].fit(m) == nil {
				continue
			}
			q := queues[m]
			for at := 0; at <= len(q); at++ {
				n := append(append(append([]part{}, q[:at]...), part{job: j, quantity: p.Jobs[j].Quantity}), q[at:]...)
				queues[m] = n
				place(j + 1)
			}
			queues[m] = q
		}
	}
	place(0)
	return best
}

func TestSmallProblemsAreSolvedToTheOptimum(t *testing.T) {
	for round := range uint64(12) {
		rng := rand.New(rand.NewPCG(11, round))
		p := small(rng, 5, 1+rng.IntN(3))
		want := brute(p)
		p.LotSeconds = -1
		s, err := Solve(context.Background(), p, Options{Moves: 20000, Seed: round})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(s.Cost-want) > 1e-3 {
			t.Errorf("round %d: cost %v, the best of all plans is %v", round, s.Cost, want)
		}
		lateOnly := *p
		lateOnly.Weights = Weights{Lateness: 1}
		if least := brute(&lateOnly); s.Bound > least+1e-6 {
			t.Errorf("round %d: the bound %v is above the least lateness %v", round, s.Bound, least)
		}
	}
}

// Shops of machines of one and of six heads, with nearly no set-ups and with long ones, shifts, goods that come, money
// and risk in the goal: of all plans of whole jobs none costs less, and the bound is above none's lateness.
func TestShopsOfOneAndSixHeadsAreSolvedToTheOptimum(t *testing.T) {
	rounds := uint64(66)
	if testing.Short() {
		rounds = 22
	}
	late, bounded := 0, 0
	for round := range rounds {
		rng := rand.New(rand.NewPCG(66, round))
		p := &Problem{Weights: Weights{Lateness: 1, MakeSpan: 1e-3, Money: 180, Risk: 7200}}
		if round%3 == 0 {
			p.Weights.Lateness = 0.01 // money and risk decide
		}
		setup := []float64{0.5, 1800}[round%2]
		machines := 2 + int(round/2%2)
		for m := range machines {
			heads := []float64{1, 6, 1}[m]
			mach := Machine{ID: fmt.Sprint("m", m), Setup: SetupTimes{Job: setup, Cone: setup / 4 * heads, Hoop: setup},
				Loaded: []string{"a"}, Rate: (0.4 + heads/6) / 3600, Spread: 0.05 + 0.1*rng.Float64(), Scatter: 10}
			if rng.IntN(3) > 0 {
				for day := range 30 {
					from := float64(86400*day + 3600*rng.IntN(3))
					mach.Windows = append(mach.Windows, Window{from, from + 8*3600, 1})
				}
			}
			p.Machines = append(p.Machines, mach)
		}
		jobs := 5
		if machines > 2 {
			jobs = 4
		} else if !testing.Short() && round%16 == 0 {
			jobs = 7
		}
		for j := range jobs {
			job := Job{ID: fmt.Sprint("j", j), Quantity: 1 + rng.IntN(60), Weight: float64(1 + rng.IntN(3)), Due: 86400 * 4 * rng.Float64(),
				Design: fmt.Sprint("d", rng.IntN(jobs)), Hoop: []string{"", "cap"}[rng.IntN(2)], Cones: []string{string(rune('a' + rng.IntN(4)))}}
			if rng.IntN(3) == 0 {
				job.Release = 86400 * rng.Float64()
			}
			for m := range machines {
				if m == 0 || rng.IntN(5) > 0 {
					job.Fits = append(job.Fits, Fit{Machine: m, Run: 300 + 600*rng.Float64(), Pieces: []int{1, 6, 1}[m]})
				}
			}
			p.Jobs = append(p.Jobs, job)
		}
		want := brute(p)
		p.LotSeconds = -1
		s, err := Solve(context.Background(), p, Options{Moves: 20000, Seed: round})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(s.Cost-want) > 1e-6*want {
			t.Errorf("round %d: cost %v, the best of all plans is %v", round, s.Cost, want)
		}
		lateOnly := *p
		lateOnly.Weights = Weights{Lateness: 1}
		least := brute(&lateOnly)
		if s.Bound > least*(1+1e-9)+1e-3 {
			t.Errorf("round %d: the bound %v is above the least lateness %v", round, s.Bound, least)
		}
		if least > 0 {
			late++
			if s.Bound > 0 {
				bounded++
			}
		}
	}
	if late < int(rounds)/4 || bounded == 0 {
		t.Errorf("%d of %d shops must be late, %d of them by the bound", late, rounds, bounded)
	}
}
