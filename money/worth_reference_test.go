package money

import "testing"

func TestUnequalLivesByEquivalentAnnualCost(t *testing.T) {
	// Annual worth at 12 % (SM300 lecture notes): X 30,000, 18,000 a year, salvage 7,000, 4 years, −26,412; Y 50,000, 16,000 a year, salvage 9,000, 6 years, −27,052; choose X.
	r := plainRates()
	r.Interest = amount("12")
	for _, swapped := range []bool{false, true} {
		c := comparison(r)
		x, y := 0, 1
		if swapped {
			x, y = 1, 0
		}
		compared(c, x, Owned{Price: amount("30000"), Life: 4, Salvage: amount("7000")}, 1, "18000")
		compared(c, y, Owned{Price: amount("50000"), Life: 6, Salvage: amount("9000")}, 1, "16000")
		p := pairOf(t, c)
		want := "639.86" // 27,052.25 − 26,412.39
		if swapped {
			want = "-639.86"
		}
		printed(t, "a year", p.Annual.Mid, want)
		if p.NPV.Mid.IsPositive() == swapped || p.Cheaper.P() > .5 == swapped {
			t.Errorf("X is to be chosen whichever is the base: present value %s, cheaper %+v", p.NPV.Mid, p.Cheaper)
		}
		// Each over its own life, and the flow says the same.
		if life := map[bool]int{false: 4, true: 6}[swapped]; p.Horizon != life {
			t.Errorf("over %d years", p.Horizon)
		}
		pv, err := PresentValue(dec(".12"), p.Flow)
		if err != nil || pv.Sub(p.NPV.Mid).Abs().GreaterThan(dec("1e-6")) {
			t.Errorf("the flow is worth %s, the years %s, %v", pv, p.NPV.Mid, err)
		}
	}
}

func TestBreakEvenOfTwoMachinesIsWhereTheyTie(t *testing.T) {
	// Break-even of two machines at 25 % (engineering-economics problem): A 50,000, 3 years, salvage 10,000, 18 s a part, 38 an hour, 200 a month; B 75,000, 6 years, 12 s a part, 30 an hour, 220 a month; 25,392 + 0.19 N = 28,051 + 0.10 N at 29,552 parts.
	r := plainRates()
	r.Interest = amount("25")
	at := func(parts string) *Pair {
		c := comparison(r)
		n := dec(parts)
		compared(c, 1, Owned{Price: amount("50000"), Life: 3, Salvage: amount("10000")}, 1, n.Mul(dec(".19")).Add(dec("2400")).String())
		compared(c, 0, Owned{Price: amount("75000"), Life: 6}, 1, n.Mul(dec(".10")).Add(dec("2640")).String())
		return pairOf(t, c)
	}
	if p := at("29551.8"); p.Annual.Mid.Abs().GreaterThan(dec(".01")) || p.Tie.Mid.Sub(dec("75000")).Abs().GreaterThan(dec(".1")) {
		t.Errorf("at the break-even a year differs by %s and B ties at %s, asked 75,000", p.Annual.Mid, p.Tie.Mid)
	}
	if few, many := at("29000"), at("30000"); few.NPV.Mid.IsPositive() || !many.NPV.Mid.IsPositive() {
		t.Errorf("B is worth %s at 29,000 parts and %s at 30,000", few.NPV.Mid, many.NPV.Mid)
	}
}
