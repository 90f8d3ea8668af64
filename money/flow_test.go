package money

import (
	"testing"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"

	"pgregory.net/rapid"
)

func comparison(r *Rates) *Comparison {
	return &Comparison{Mix: &Mix{Rates: *r}, Level: .9, Machines: make([]MachineResult, 2)}
}

func TestAfterTaxFlowByHand(t *testing.T) {
	// Price 4,000 over four years, 1,000 saved a year, tax 25 %. Straight line
	// writes off 1,000 a year: no profit, no tax. By the table (3 years):
	// 1,333.20, 1,778, 592.40, 296.40.
	r := plainRates()
	r.ProfitTax = amount("25")
	c := comparison(r)
	a, b := &c.Machines[0], &c.Machines[1]
	a.Needed, b.Needed = 1, 1
	a.Owned = Owned{Price: amount("4000"), Life: 4}
	for method, want := range map[string]string{
		StraightLine: "-4000 1000 1000 1000 1000",
		"macrs-3":    "-4000 1083.3 1194.5 898.1 824.1",
	} {
		c.Mix.Rates.Depreciation = method
		f, err := c.flow(a, b, dec("4000"), dec("1000"))
		if err != nil {
			t.Fatal(err)
		}
		for i, w := range percents(want) {
			if f[i].Sub(w).Abs().GreaterThan(dec("1e-9")) {
				t.Errorf("%s, year %d: %s, want %s", method, i, f[i], w)
			}
		}
	}
	// Salvage comes back at the end, and is not written off in straight line.
	a.Owned.Salvage = amount("800")
	c.Mix.Rates.Depreciation = StraightLine
	f, _ := c.flow(a, b, dec("4000"), dec("1000"))
	if !f[4].Equal(dec("1750")) || !f[1].Equal(dec("950")) {
		t.Errorf("with salvage: %v", f)
	}
	if _, err := depreciation("macrs-4", 5); err == nil {
		t.Error("a table that is not there gave no error")
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
