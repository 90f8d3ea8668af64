package money

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"needlepace/floor"
)

// madeOn is a piece on so many heads: runs of so many seconds, and 60 s to load a head.
func madeOn(heads int, run float64) Made {
	m := Made{Heads: heads, Stitches: 9000, Crew: .5, Shift: 8, Setup: 600, Loaders: 1}
	m.Seconds[floor.Running] = run / float64(heads)
	m.Seconds[floor.Loading] = 60
	return m
}

func TestUsualPartsByHand(t *testing.T) {
	none := dec("-1")
	for _, c := range []struct {
		name  string
		given []Dec
		want  []string
	}{
		// Runs of 600 s, 60 s a head: 660 s a piece on one head, 160 s on six: 5.4545 and 22.5 pieces an hour.
		{"by what they make", []Dec{none, none}, []string{"0.195", "0.805"}},
		{"as given", []Dec{dec(".7"), dec(".3")}, []string{"0.7", "0.3"}},
		{"what is left", []Dec{dec(".4"), none}, []string{"0.4", "0.6"}},
		{"given more than there can be", []Dec{dec(".2"), dec("0")}, []string{"1", "0"}},
		{"given nothing", []Dec{dec("0"), dec("0")}, []string{"0.195", "0.805"}},
	} {
		all := []Share{{Made: madeOn(1, 600), Given: c.given[0]}, {Made: madeOn(6, 600), Given: c.given[1]}}
		Usual(all)
		for i, w := range c.want {
			if !all[i].Part.Equal(dec(w)) {
				t.Errorf("%s: machine %d has %s, want %s", c.name, i, all[i].Part, w)
			}
		}
	}
	// Two that are given 90 and 40 % leave nothing for the third: 0.9 and 0.4 of 1.3.
	over := []Share{{Made: madeOn(1, 600), Given: dec(".9")}, {Made: madeOn(1, 600), Given: dec(".4")}, {Made: madeOn(6, 600), Given: none}}
	Usual(over)
	for i, w := range []string{"0.692", "0.308", "0"} {
		if !over[i].Part.Equal(dec(w)) {
			t.Errorf("given more than all: machine %d has %s, want %s", i, over[i].Part, w)
		}
	}
	// What rounding leaves goes to the largest part: who is given nothing sews nothing.
	four := []Share{{Made: madeOn(1, 600), Given: none}, {Made: madeOn(1, 600), Given: none}, {Made: madeOn(1, 600), Given: none}, {Made: madeOn(1, 600), Given: dec("0")}}
	Usual(four)
	if !four[3].Part.IsZero() || !four[0].Part.Equal(dec("0.334")) {
		t.Errorf("thirds: %s, and nothing: %s", four[0].Part, four[3].Part)
	}
	three := []Share{{Made: madeOn(1, 600), Given: none}, {Made: madeOn(1, 600), Given: none}, {Made: madeOn(1, 600), Given: none}}
	Usual(three)
	if sum := three[0].Part.Add(three[1].Part).Add(three[2].Part); !sum.Equal(one) {
		t.Errorf("three like machines have %s, %s, %s: %s together", three[0].Part, three[1].Part, three[2].Part, sum)
	}
}

func TestAStandardIsItsMachinesWeighed(t *testing.T) {
	r := plainRates()
	cheap, dear := Owned{Price: amount("5000"), Life: 5}, Owned{Price: amount("40000"), Life: 10}
	all := []Share{{Made: madeOn(1, 600), Own: cheap, Part: dec(".25")}, {Made: madeOn(6, 600), Own: dear, Part: dec(".75")}}
	s, err := r.Standards(all, []int{12}, false)
	if err != nil {
		t.Fatal(err)
	}
	a, err := r.Of(all[0].Made, cheap, 12)
	if err != nil {
		t.Fatal(err)
	}
	b, err := r.Of(all[1].Made, dear, 12)
	if err != nil {
		t.Fatal(err)
	}
	for what, x := range map[string][3]Dec{"cost": {a.Total, b.Total, s[0].Total}, "hours": {a.Hours, b.Hours, s[0].Hours}} {
		if want := x[0].Mul(dec(".25")).Add(x[1].Mul(dec(".75"))); !want.Equal(x[2]) {
			t.Errorf("%s %s, want %s", what, x[2], want)
		}
	}
}

// More pieces never cost more each, unless the fewer pieces' price is below what
// they cost; each price that is kept is that of the quantity it names, and the least
// up to there. Looked for without the search, quantity by quantity.
func TestThePriceOfMorePiecesIsNotHigher(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	kept, dearer := 0, 0
	for k := range 24 {
		r := plainRates()
		r.Margin = amount([]string{"50", "10", "0", "35"}[k%4])
		var all []Share
		apart := k%3 == 0
		for range 1 + rng.IntN(3) {
			m := madeOn(1+rng.IntN(12), 200+800*rng.Float64())
			m.Loaders, m.Spoilt, m.Setup = 1+rng.IntN(3), .04*rng.Float64(), 900*rng.Float64()
			if apart { // a long one tells whether it still counts in the choice of the cheapest quantity
				m.Setup *= 10
			}
			all = append(all, Share{Made: m, Own: Owned{Price: amount("9000"), Life: 7, KW: amount("1")}, Given: dec("-1")})
		}
		Usual(all)
		var n []int
		for q := 1; q <= 60; q++ {
			n = append(n, q)
		}
		got, err := r.Standards(all, n, apart)
		if err != nil {
			t.Fatal(err)
		}
		of := func(q int) (price, cost Dec) {
			s, err := r.standard(all, q)
			if err != nil {
				t.Fatal(err)
			}
			if cost = s.Total; apart {
				cost = cost.Sub(s.Setup)
			}
			return r.Price(cost), cost
		}
		least := dec("1e9")
		for i, q := range n {
			s := got[i]
			what := fmt.Sprintf("mix %d, %d pieces at %s (price of %d, at cost %v)", k, q, s.Price, s.PriceOf, s.AtCost)
			price, cost := of(q)
			if price.LessThan(least) {
				least = price
			}
			if s.Price.LessThan(cost) {
				t.Errorf("%s: they cost %s", what, cost)
			}
			switch {
			case s.AtCost:
				dearer++
				if !s.Price.Equal(r.RoundUp(cost)) || !least.LessThan(cost) {
					t.Errorf("%s: cost %s, least price before %s", what, cost, least)
				}
			case !s.Price.Equal(least):
				t.Errorf("%s: the least price up to there is %s", what, least)
			case s.PriceOf > 0:
				kept++
				if p, _ := of(s.PriceOf); !p.Equal(s.Price) || s.PriceOf >= q {
					t.Errorf("%s: that quantity's is %s", what, p)
				}
			}
		}
	}
	if kept < 20 || dearer < 20 {
		t.Errorf("%d kept prices and %d at cost were looked at: too few to say anything", kept, dearer)
	}
}

func TestQuantitiesBeyondTheSearchArePriced(t *testing.T) {
	r := plainRates()
	all := []Share{{Made: madeOn(6, 600), Own: Owned{Price: amount("9000"), Life: 7}, Part: one}}
	s, err := r.Standards(all, []int{99_999, 200_004, 200_005}, false)
	if err != nil {
		t.Fatal(err)
	}
	if s[1].Price.GreaterThan(s[0].Price) || s[2].Price.GreaterThan(s[1].Price) {
		t.Errorf("%s, %s, %s a piece", s[0].Price, s[1].Price, s[2].Price)
	}
	if _, err := r.Standards(all, nil, false); err == nil {
		t.Error("no quantity was priced")
	}
}

// A machine that makes 1 piece in 60 s for an hour with one operator and 1 in 40 s for an hour with
// three has made 60 and 90: a piece takes 7,200 s / 150, and two operators were paid.
func TestAMeanOfCrewsByHand(t *testing.T) {
	slow, fast := Made{Heads: 1, Crew: 1, Loaders: 1}, Made{Heads: 1, Crew: 3, Loaders: 2, Spoilt: .05}
	slow.Seconds[floor.Running], slow.Seconds[floor.Loading] = 30, 30
	fast.Seconds[floor.Running], fast.Seconds[floor.Loading] = 30, 10
	m := Mean([]Made{slow, fast}, []float64{3600, 3600})
	if m.Occupied() != 48 || m.Seconds[floor.Running] != 30 || m.Seconds[floor.Loading] != 18 || m.Crew != 2 || m.Spoilt != .03 || m.Loaders != 2 {
		t.Errorf("%+v", m)
	}
	if m := Mean([]Made{slow}, []float64{5}); m != slow {
		t.Errorf("alone: %+v", m)
	}
}
