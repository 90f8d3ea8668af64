package money

import (
	"testing"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"

	"pgregory.net/rapid"
)

// A machine as a comparison has it: a year costs running besides what it costs
// to own, a little more or less by the draw.
func compared(c *Comparison, at int, o Owned, needed int, running string, draws ...string) *MachineResult {
	m := &c.Machines[at]
	m.Owned, m.Needed, m.running = o, needed, dec(running)
	capital, err := CapitalRecovery(rate(c.Mix.Rates.Interest.Dec), o.Life, m.owned(o.Price), m.owned(o.Salvage))
	if err != nil {
		panic(err)
	}
	m.YearCost.Mid = m.running.Add(capital)
	m.yearly, m.hours = nil, nil
	for _, d := range append(draws, "0") {
		m.yearly = append(m.yearly, m.YearCost.Mid.Add(dec(d)))
		m.hours = append(m.hours, 1)
	}
	return m
}

func comparison(r *Rates) *Comparison {
	return &Comparison{Mix: &Mix{Rates: *r}, Level: .9, Machines: make([]MachineResult, 2), Base: 1}
}

func pairOf(t require, c *Comparison) *Pair {
	p := &Pair{Machine: 0, Base: 1}
	if err := c.worth(p); err != nil {
		t.Fatalf("%v", err)
	}
	return p
}

// require is what a test of either kind can do.
type require interface{ Fatalf(format string, a ...any) }

func TestAfterTaxFlowByHand(t *testing.T) {
	// Price 4,000 over four years, 1,000 saved a year, tax 25 %. Straight line
	// writes off 1,000 a year: no profit, no tax. By the table (3 years):
	// 1,333.20, 1,778, 592.40, 296.40. The base costs nothing to own.
	r := plainRates()
	r.ProfitTax = amount("25")
	c := comparison(r)
	compared(c, 1, Owned{Price: amount("0"), Life: 9}, 1, "3000")
	for method, want := range map[string]string{
		StraightLine: "-4000 1000 1000 1000 1000",
		"macrs-3":    "-4000 1083.3 1194.5 898.1 824.1",
	} {
		c.Mix.Rates.Depreciation = method
		compared(c, 0, Owned{Price: amount("4000"), Life: 4}, 1, "2000")
		p := pairOf(t, c)
		for i, w := range percents(want) {
			if p.Flow[i].Sub(w).Abs().GreaterThan(dec("1e-9")) {
				t.Errorf("%s, year %d: %s, want %s", method, i, p.Flow[i], w)
			}
		}
	}
	// Salvage comes back at the end, and is not written off in straight line.
	c.Mix.Rates.Depreciation = StraightLine
	compared(c, 0, Owned{Price: amount("4000"), Life: 4, Salvage: amount("800")}, 1, "2000")
	if p := pairOf(t, c); !p.Flow[4].Equal(dec("1750")) || !p.Flow[1].Equal(dec("950")) {
		t.Errorf("with salvage: %v", p.Flow)
	}
	// By the table all is written off, and the salvage of 800 is taxed as profit.
	c.Mix.Rates.Depreciation = "macrs-3"
	if p := pairOf(t, c); p.Flow[4].Sub(dec("1424.1")).Abs().GreaterThan(dec("1e-9")) {
		t.Errorf("with salvage by the table: %v", p.Flow)
	}
	// Sold after two of the table's four years, 888.80 are still in the books.
	compared(c, 0, Owned{Price: amount("4000"), Life: 2}, 1, "2000")
	if p := pairOf(t, c); p.Flow[2].Sub(dec("1416.7")).Abs().GreaterThan(dec("1e-9")) {
		t.Errorf("sold early: %v", p.Flow)
	}
	// What the shop has was written off before: no tax but on what is saved.
	c.Machines[0].Existing = true
	if p := pairOf(t, c); !p.Flow[1].Equal(dec("750")) || !p.Flow[2].Equal(dec("750")) {
		t.Errorf("an existing machine: %v", p.Flow)
	}
	if _, err := depreciation("macrs-4", 5); err == nil {
		t.Error("a table that is not there gave no error")
	}
}

// drawn is an amount of money with two decimals.
func drawn(t *rapid.T, name string, most int) Amount {
	return Amount{Dec: dec("0.01").Mul(Measured(float64(rapid.IntRange(0, 100*most).Draw(t, name)))), written: true}
}

func drawnOwned(t *rapid.T, name string) Owned {
	o := Owned{Price: drawn(t, name+" price", 50_000), Life: rapid.IntRange(1, 15).Draw(t, name+" life")}
	o.Salvage.Dec = o.Price.Mul(Measured(rapid.Float64Range(0, .6).Draw(t, name+" salvage"))).Round(2)
	return o
}

// paidBack is when the balance turns from below zero for good, in periods: the
// last crossing, if it is upward. ok is false where the balance ends below
// zero, and where it never was.
func paidBack(all []Crossing) (at Dec, ok bool) {
	if len(all) == 0 || !all[len(all)-1].Up {
		return zero, false
	}
	return all[len(all)-1].At, true
}

// What is said of money must be one story: the tie price, the present value,
// the yearly worth and the payback agree, whatever the lives.
func TestTieWorthAndPaybackSayTheSame(t *testing.T) {
	seen := map[bool]int{}
	rapid.Check(t, func(t *rapid.T) {
		r := plainRates()
		r.Interest = Amount{Dec: dec("0.5").Mul(Measured(float64(rapid.IntRange(0, 60).Draw(t, "interest"))))}
		r.Depreciation = rapid.SampledFrom([]string{StraightLine, "macrs-3", "macrs-5"}).Draw(t, "depreciation")
		taxed := rapid.Bool().Draw(t, "taxed")
		if taxed {
			r.ProfitTax = amount("30")
		}
		c := comparison(r)
		ownA, ownB := drawnOwned(t, "a"), drawnOwned(t, "b")
		a := compared(c, 0, ownA, rapid.IntRange(1, 3).Draw(t, "a needed"), drawn(t, "a running", 20_000).String(), "-100", "40", "250")
		b := compared(c, 1, ownB, rapid.IntRange(1, 3).Draw(t, "b needed"), drawn(t, "b running", 20_000).String(), "30", "-60", "110")
		a.Existing, b.Existing = rapid.Bool().Draw(t, "a existing"), rapid.Bool().Draw(t, "b existing")
		p := pairOf(t, c)
		eps := dec("1e-6")
		if p.NPV.Mid.Abs().LessThan(eps) {
			return
		}
		good := p.NPV.Mid.IsPositive()
		seen[good]++
		if p.Horizon != ownA.Life || len(p.Flow) != ownA.Life+1 {
			t.Fatalf("horizon %d, flow of %d, life %d", p.Horizon, len(p.Flow), ownA.Life)
		}
		// The flow is worth what the yearly costs say.
		i := rate(r.Interest.Dec)
		pv, err := PresentValue(i, p.Flow)
		if err != nil {
			t.Fatal(err)
		}
		if pv.Sub(p.NPV.Mid).Abs().GreaterThan(eps) {
			t.Fatalf("the flow is worth %s, the year's costs %s", pv, p.NPV.Mid)
		}
		if p.Annual.Mid.IsPositive() != good {
			t.Fatalf("present value %s, a year %s", p.NPV.Mid, p.Annual.Mid)
		}
		// Below the tie price, and only there, it is worth it.
		if p.TieOK && ownA.Price.IsPositive() && ownA.Price.LessThan(p.Tie.Mid) != good {
			t.Fatalf("price %s, tie %s, present value %s", ownA.Price, p.Tie.Mid, p.NPV.Mid)
		}
		if !p.TieOK && good && ownA.Price.IsPositive() && !free(c, a) {
			t.Fatalf("no price ties, present value %s", p.NPV.Mid)
		}
		// Where money is put in: paid back for good within the horizon, or not worth it.
		if p.Invest.IsPositive() {
			if at, ok := paidBack(p.Discounted); ok != good || ok && at.GreaterThan(Measured(float64(p.Horizon))) {
				t.Fatalf("paid back %v at %s, present value %s", ok, at, p.NPV.Mid)
			}
		}
		// Where interest only delays: paid back with interest, then without too, no later.
		if conventional(p.Flow) && good {
			with, _ := paidBack(p.Discounted)
			without, ok := paidBack(p.Payback)
			if !ok || without.GreaterThan(with.Add(eps)) {
				t.Fatalf("paid back at %s with interest, at %s (%v) without", with, without, ok)
			}
		}
		if !taxed {
			if a.YearCost.Mid.LessThan(b.YearCost.Mid) != good {
				t.Fatalf("years cost %s and %s, present value %s", a.YearCost.Mid, b.YearCost.Mid, p.NPV.Mid)
			}
			if p.Worth.Won != p.Cheaper.Won {
				t.Fatalf("worth it in %+v, cheaper in %+v", p.Worth, p.Cheaper)
			}
		}
		// The ranges are the draws' own.
		if p.NPV.Low.GreaterThan(p.NPV.High) || p.Tie.Low.GreaterThan(p.Tie.High) || p.Annual.Low.GreaterThan(p.Annual.High) {
			t.Fatalf("ranges upside down: %+v", p)
		}
	})
	if seen[true] == 0 || seen[false] == 0 {
		t.Errorf("of the drawn machines %v are worth it: both kinds are wanted", seen)
	}
}

// free reports whether owning the machine costs nothing at any price.
func free(c *Comparison, a *MachineResult) bool {
	cost, err := c.owning(a, a.Owned)
	return err != nil || !cost.IsPositive()
}

// conventional reports whether the flow is money out and then money in.
func conventional(flow []Dec) bool {
	for t, x := range flow {
		if (t == 0) != x.IsNegative() {
			return false
		}
	}
	return true
}

func TestAtEqualLivesTheWorthIsThePlainDifference(t *testing.T) {
	// 10 %: 9,000 against 4,000, both five years, salvages 500 and 200, 2,000 saved a year.
	r := plainRates()
	r.Interest = amount("10")
	c := comparison(r)
	compared(c, 0, Owned{Price: amount("9000"), Life: 5, Salvage: amount("500")}, 1, "1000")
	compared(c, 1, Owned{Price: amount("4000"), Life: 5, Salvage: amount("200")}, 1, "3000")
	p := pairOf(t, c)
	if !p.Invest.Equal(dec("5000")) || !p.Flow[0].Equal(dec("-5000")) || !p.Flow[4].Equal(dec("2000")) || !p.Flow[5].Round(6).Equal(dec("2300")) {
		t.Errorf("flow %v", p.Flow)
	}
	printed(t, "net present value", p.NPV.Mid, "2767.85") // 2,000·3.790787 + 300·0.620921 − 5,000
	if at, ok := paidBack(p.Payback); !ok || !at.Equal(dec("2.5")) {
		t.Errorf("paid back at %s, %v", at, ok)
	}
}

func TestWhereNothingIsGainedItIsATie(t *testing.T) {
	c := comparison(plainRates())
	for at := range 2 {
		compared(c, at, Owned{Price: amount("5000"), Life: 5}, 1, "1000", "10", "-10")
	}
	if p := pairOf(t, c); p.Worth != (Chance{Tied: 3, Of: 3}) || p.Cheaper != p.Worth || len(p.Discounted) != 0 {
		t.Errorf("worth %+v, cheaper %+v, paid back %v", p.Worth, p.Cheaper, p.Discounted)
	}
}

func TestAMachineThatCostsNothingToOwnHasNoTiePrice(t *testing.T) {
	r := plainRates() // no interest: what keeps its price costs nothing
	c := comparison(r)
	compared(c, 0, Owned{Price: amount("5000"), Life: 5, Salvage: amount("5000")}, 1, "1000")
	compared(c, 1, Owned{Price: amount("4000"), Life: 5}, 1, "3000")
	if p := pairOf(t, c); p.TieOK {
		t.Errorf("they tie at %s", p.Tie.Mid)
	}
}

func TestAMachineThatIsDearEvenAsAGiftHasNoTiePrice(t *testing.T) {
	c := comparison(plainRates())
	compared(c, 0, Owned{Price: amount("5000"), Life: 5}, 1, "9000")
	compared(c, 1, Owned{Price: amount("4000"), Life: 5}, 1, "3000")
	p := pairOf(t, c)
	if _, ok := paidBack(p.Discounted); ok || p.TieOK || p.NPV.Mid.IsPositive() || p.Worth.P() > .5 {
		t.Errorf("tie %v %s, worth %s, paid back %v", p.TieOK, p.Tie.Mid, p.NPV.Mid, ok)
	}
}

func TestPaidBackIsForGood(t *testing.T) {
	up, down := func(s string) Crossing { return Crossing{dec(s), true} }, func(s string) Crossing { return Crossing{dec(s), false} }
	for _, e := range []struct {
		all  []Crossing
		want string
	}{{nil, ""}, {[]Crossing{up("2")}, "2"}, {[]Crossing{up("2"), down("4")}, ""}, {[]Crossing{up("2"), down("4"), up("6.6")}, "6.6"}, {[]Crossing{down("1")}, ""}} {
		at, ok := paidBack(e.all)
		if ok != (e.want != "") || ok && !at.Equal(dec(e.want)) {
			t.Errorf("%v: %s, %v; want %q", e.all, at, ok, e.want)
		}
	}
}

func TestWorthsAgreeHoweverTheyAreReckoned(t *testing.T) {
	// Present value of the flow, spread over the life, is the annual worth; at
	// the discounted payback the present value of the flows so far is zero.
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "n")
		i := dec("1").Mul(Measured(rapid.Float64Range(0, .5).Draw(t, "i")))
		first, yearly := Measured(rapid.Float64Range(1, 1e6).Draw(t, "first")), Measured(rapid.Float64Range(-1e5, 1e5).Draw(t, "yearly"))
		salvage := Measured(rapid.Float64Range(0, 1e5).Draw(t, "salvage"))
		flow := []Dec{first.Neg()}
		for k := 1; k <= n; k++ {
			x := yearly
			if k == n {
				x = x.Add(salvage)
			}
			flow = append(flow, x)
		}
		pv, err := PresentValue(i, flow)
		if err != nil {
			t.Fatal(err)
		}
		f, err := FactorsFor(i, n)
		if err != nil {
			t.Fatal(err)
		}
		aw, err := AnnualWorth(i, n, first, yearly, salvage)
		if err != nil {
			t.Fatal(err)
		}
		if pv.Mul(f.AP).Sub(aw).Abs().GreaterThan(dec("1e-9")) {
			t.Fatalf("present value %s spread is %s, annual worth %s", pv, pv.Mul(f.AP), aw)
		}
		cs, err := Paybacks(i, flow)
		if err != nil {
			t.Fatal(err)
		}
		if pv.IsNegative() && len(cs) > 0 && cs[len(cs)-1].Up {
			t.Fatalf("paid back at the end with a present value of %s", pv)
		}
		if !pv.IsNegative() && len(cs) == 0 {
			t.Fatalf("never paid back with a present value of %s", pv)
		}
	})
}

// Whatever is in the file: an error or a shop, never a panic.
func FuzzShopFile(f *testing.F) {
	for _, name := range []string{"SHOP.toml", "MIX.toml"} {
		f.Add(demoText(f, name))
	}
	f.Add("[shift]\nhours=1e308\n[[machine]]\nsheet='multi-6'\nheads=-1\n[[operator]]\n[[job]]\n")
	f.Add("[week]\nshifts=1\nhours=1\n[money]\ncurrency='x'\nlabour_per_hour=1e9\n")
	// Small designs and an exact sheet, so that many files are tried.
	sheet, _ := machine.Class("multi-6")
	sheet = sheet.Clone()
	sheet.SD = nil
	tiny := &stitch.Design{Records: []stitch.Record{{DX: 30, Op: stitch.Sew}, {Op: stitch.ColourStop}, {Op: stitch.Stop}, {DY: 30, Op: stitch.Sew}}}
	src := floor.Sources{
		Design: func(string) (*stitch.Design, error) { return tiny, nil },
		Sheet:  func(string) (*machine.Sheet, error) { return sheet, nil },
	}
	f.Fuzz(func(t *testing.T, text string) {
		if sf, file, err := ParseShop("x", []byte(text)); err == nil {
			if r, err := sf.Resolve(file, src); err == nil && r.Shop.Validate() != nil {
				t.Error("resolved an invalid shop")
			}
		}
		if mf, file, err := ParseMix("x", []byte(text)); err == nil {
			_, _ = mf.Resolve(file, src)
		}
	})
}
