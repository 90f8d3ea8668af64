package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// weighed gives a shop a goal in money with risk and charged moves, as one with
// prices has.
func weighed(p *Problem) *Problem {
	const hour = 180
	p.Weights = Weights{Lateness: 1, MakeSpan: 1e-3, Money: hour, Risk: 40 * hour, Move: 2 * hour}
	for m := range p.Machines {
		p.Machines[m].Rate = []float64{0.4, 0.4, 1, 2}[m%4] / 3600
		p.Machines[m].Spread, p.Machines[m].Scatter = 0.05, 10
	}
	return p
}

// A move that is dear is given up before its end. No move that is cheap enough may be
// given up, and what is priced is what the plan then costs.
func TestNoMoveIsGivenUpThatIsCheapEnough(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	given, priced := 0, 0
	for seed := range uint64(6) {
		p := weighed(shop(rand.New(rand.NewPCG(seed, 8)), 60, 5, 1+0.1*float64(seed)))
		if seed%2 == 1 {
			p.Jobs[3].Pin = &Pin{Machine: p.Jobs[3].Fits[0].Machine, Start: 50_000}
		}
		md := compile(p, split(p, 4*3600))
		s := newState(md)
		constructBest(md, s)
		md.remember(s, func(int) bool { return true })
		x := newSearch(md, s, rng)
		var c change
		for range 20_000 {
			x.propose(&c)
			if !s.legal(&c) {
				continue
			}
			d := s.price(&c, math.Inf(1))
			most := d + 50*rng.NormFloat64()*math.Abs(rng.NormFloat64())*10
			slack := 1e-9 * math.Abs(s.value())
			switch got := s.price(&c, most); {
			case math.IsInf(got, 1) && d <= most-slack:
				t.Fatalf("a move that costs %v is given up at %v", d, most)
			case math.IsInf(got, 1):
				given++
			case math.Abs(got-d) > slack:
				t.Fatalf("a move costs %v with the limit %v and %v without", got, most, d)
			default:
				priced++
			}
			if rng.IntN(20) == 0 {
				before := s.value()
				s.apply(&c)
				if got := s.value() - before; math.Abs(got-d) > slack+1e-6 {
					t.Fatalf("a move was priced %v and cost %v", d, got)
				}
			}
		}
	}
	if given < 1000 || priced < 1000 {
		t.Errorf("%d moves given up, %d priced", given, priced)
	}
}

// A place for one more lot is given up only where it costs as much as is known to do, also
// where set-ups save more than the lot takes.
func TestNoPlaceIsGivenUpThatIsCheapEnough(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 7))
	given, priced, saved := 0, 0, 0
	for seed := range uint64(6) {
		p := weighed(shop(rand.New(rand.NewPCG(seed, 9)), 60, 5, 1+0.1*float64(seed)))
		if seed%3 == 0 { // known set-ups: by way of another job may be shorter
			n := len(p.Jobs)
			p.Changeover = &Changeover{Between: [][][]float64{make([][]float64, n)}}
			for i := range n {
				row := make([]float64, n)
				for k := range row {
					row[k] = 1e5 * rng.Float64() * rng.Float64()
				}
				p.Changeover.Between[0][i] = row
			}
		}
		md := compile(p, split(p, 4*3600))
		s := newState(md)
		constructBest(md, s)
		if seed%2 == 1 {
			md.remember(s, func(int) bool { return true })
			for m := range s.rows { // a lot back between others can save their charge for having moved
				slices.Reverse(s.rows[m].seq)
				s.refresh(m, 0)
			}
			s.total()
		}
		for lot := range int32(md.n) {
			m, at := int(s.mach[lot]), int(s.pos[lot])
			s.rows[m].seq = slices.Delete(s.rows[m].seq, at, at+1)
			s.refresh(m, at)
			s.done[lot], s.odds[lot] = 0, 0
			s.total()
			for _, to := range md.fits[lot] {
				for place := s.rows[to].locked; place <= len(s.rows[to].seq); place++ {
					d := s.insertion(int(to), place, lot, math.Inf(1))
					most := d + 50*rng.NormFloat64()*math.Abs(rng.NormFloat64())*10
					slack := 1e-9 * math.Abs(s.value())
					if s.saves(int(to), place, lot) {
						saved++
					}
					switch got := s.insertion(int(to), place, lot, most); {
					case math.IsInf(got, 1) && d <= most-slack:
						t.Fatalf("a place that costs %v is given up at %v", d, most)
					case math.IsInf(got, 1):
						given++
					case math.Abs(got-d) > slack:
						t.Fatalf("a place costs %v with the limit %v and %v without", got, most, d)
					default:
						priced++
					}
				}
			}
			s.rows[m].seq = slices.Insert(s.rows[m].seq, at, lot)
			s.refresh(m, at)
			s.total()
		}
	}
	if given < 1000 || priced < 1000 || saved < 100 {
		t.Errorf("%d places given up, %d priced, at %d set-ups save more than the lot takes", given, priced, saved)
	}
}

// The normal distribution's tail by its own function.
func TestOverIsTheNormalTail(t *testing.T) {
	for z := -4.5; z <= 4.5; z += 0.000773 {
		want := min(max((math.Erfc(z/math.Sqrt2)/2-sureTail)/(1-2*sureTail), 0), 1)
		if got := over(z); math.Abs(got-want) > 1e-9 {
			t.Fatalf("over(%v) is %v, want %v", z, got, want)
		}
	}
}

// A rough price is the exact one or none, and of the moves that a walk would make it gives up few; it looks at
// fewer lots for it.
func TestARoughPriceGivesUpFewMovesThatPay(t *testing.T) {
	made, missed := 0, 0
	var steps [2]int64
	for round := range uint64(3) {
		rng := rand.New(rand.NewPCG(31, round))
		p := weighed(shop(rng, 240, 6, 0.8+0.2*float64(round)))
		md := compile(p, split(p, p.lotSeconds()))
		s := newState(md)
		constructBest(md, s)
		md.remember(s, func(job int) bool { return job%5 > 0 })
		if round == 1 {
			md.follow()
			s.reprice()
		}
		x := newSearch(md, s, rng)
		x.eager = true
		heat := x.scale(300) * settleHot
		for range 20_000 {
			var c change
			x.propose(&c)
			if !s.legal(&c) {
				continue
			}
			most := heat * rng.ExpFloat64()
			from := s.steps
			exact := s.price(&c, most)
			steps[0] += s.steps - from
			s.rough = true
			from = s.steps
			rough := s.price(&c, most)
			steps[1] += s.steps - from
			s.rough = false
			if exact <= most {
				made++
			}
			switch {
			case math.IsInf(rough, 1):
				if exact <= most {
					missed++
				}
			case math.Abs(rough-exact) > 1e-9*math.Abs(s.value()):
				t.Fatalf("round %d: the rough price is %v, the exact one %v", round, rough, exact)
			}
			if exact <= most {
				s.apply(&c)
			}
		}
	}
	if made < 3000 || missed > made/90 {
		t.Errorf("%d of %d moves that pay are given up, want at most a ninetieth", missed, made)
	}
	if steps[1] > steps[0]*6/10 {
		t.Errorf("%d lots are looked at, %d for exact prices, want at most 0.6 of them", steps[1], steps[0])
	}
}

// Lots that are put in one by one stand where they would in a plan that never held another: what their ends and chances
// were there is no matter.
func TestInsertionForgetsThePlanBefore(t *testing.T) {
	for seed := range uint64(3) {
		p := weighed(shop(rand.New(rand.NewPCG(58, seed)), 40, 5, 1.1))
		md := compile(p, split(p, 3600))
		var lots []int32
		for t := range md.job {
			lots = append(lots, int32(t))
		}
		if len(md.orders) == 0 {
			t.Fatal("this test wants jobs of several lots")
		}
		empty := make([][]int32, md.m)
		first, again := newState(md), newState(md)
		first.set(empty)
		insertBest(first, slices.Clone(lots))
		other := make([][]int32, md.m) // all in one queue as far as they fit: late, and sure to be
		for t := range md.job {
			other[md.fits[t][0]] = append(other[md.fits[t][0]], int32(t))
		}
		again.set(other)
		again.set(empty)
		insertBest(again, slices.Clone(lots))
		for m := range first.rows {
			if !slices.Equal(first.rows[m].seq, again.rows[m].seq) {
				t.Errorf("seed %d: machine %d has %v, and after another plan %v", seed, m, first.rows[m].seq, again.rows[m].seq)
			}
		}
	}
}
