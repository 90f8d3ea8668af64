package money

import (
	"strings"
	"testing"

	"github.com/shopspring/decimal"
)

func dec(s string) Dec { return decimal.RequireFromString(s) }

// printed checks that got agrees with a printed figure to half its last digit.
func printed(t *testing.T, what string, got Dec, want string) {
	t.Helper()
	w := dec(want)
	places := int32(0)
	if _, frac, ok := strings.Cut(want, "."); ok {
		places = int32(len(frac))
	}
	if got.Sub(w).Abs().GreaterThan(decimal.New(5, -places-1)) {
		t.Errorf("%s = %s, printed %s", what, got.Round(places+3), want)
	}
}

func factors(t *testing.T, i string, n int) Factors {
	t.Helper()
	f, err := FactorsFor(dec(i), n)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestInterestTable35(t *testing.T) {
	// Newnan, Engineering Economic Analysis, compound interest table for 35 %.
	f := factors(t, ".35", 5)
	for _, e := range []struct {
		name string
		got  Dec
		want string
	}{{"F/P", f.FP, "4.484"}, {"P/F", f.PF, ".2230"}, {"A/F", f.AF, ".1005"}, {"A/P", f.AP, ".4505"}, {"F/A", f.FA, "9.954"}, {"P/A", f.PA, "2.220"}, {"A/G", f.AG, "1.422"}, {"P/G", f.PG, "3.157"}} {
		printed(t, e.name, e.got, e.want)
	}
	f = factors(t, ".35", 10)
	printed(t, "P/A", f.PA, "2.715")
	printed(t, "A/P", f.AP, ".3683")
}

func TestInterestTableQuarterPerCent(t *testing.T) {
	// Blank and Tarquin, Engineering Economy, table for 0.25 %.
	f := factors(t, ".0025", 5)
	printed(t, "A/P", f.AP, ".20150")
	printed(t, "P/A", f.PA, "4.9627")
	printed(t, "P/G", f.PG, "9.9007")
	f = factors(t, ".0025", 10)
	printed(t, "A/P", f.AP, ".10138")
	printed(t, "F/A", f.FA, "10.1133")
	printed(t, "P/A", f.PA, "9.8639")
	printed(t, "P/G", f.PG, "44.1842")
	printed(t, "A/G", f.AG, "4.4794")
}

func TestCompoundInterestTables(t *testing.T) {
	// Compound interest tables at 5 % (F/P) and the factors at 8, 10 and 15 % printed in the worked examples below.
	for n, want := range map[int]string{5: "1.2763", 10: "1.6289", 20: "2.6533", 25: "3.3864"} {
		printed(t, "F/P 5 %", factors(t, ".05", n).FP, want)
	}
	for _, e := range []struct {
		i      string
		n      int
		ap, af string
	}{{".10", 2, ".5762", ".4762"}, {".10", 10, ".1627", ".0627"}, {".15", 2, ".6151", ".4651"}, {".15", 3, ".4380", ".2880"}, {".08", 5, ".25046", ".17046"}, {".08", 10, ".14903", ".06903"}} {
		f := factors(t, e.i, e.n)
		printed(t, "A/P", f.AP, e.ap)
		printed(t, "A/F", f.AF, e.af)
	}
	printed(t, "P/A 10 %", factors(t, ".10", 10).PA, "6.145")
}

func TestAnnualWorth(t *testing.T) {
	// Worked examples of annual worth in lecture notes and text books (SM300 at 12 %; EUAC at 15 % and 10 %; AW at 8 %), printed and unrounded values.
	for _, e := range []struct {
		i                       string
		n                       int
		first, yearly, salvage  string
		want                    string
		printedWithTableFactors string
	}{
		{".12", 4, "30000", "-18000", "7000", "-26412.39", "-26412"},
		{".12", 6, "50000", "-16000", "9000", "-27052.25", "-27052"},
		{".15", 3, "20000", "-8500", "5000", "-15819.65", "-15820"},
		{".15", 2, "15000", "-7000", "3000", "-14831.40", "-14831.2"},
		{".10", 2, "15000", "-1500", "3000", "-8714.29", "-8714.4"},
		{".08", 5, "8000", "-5500", "500", "-7418.42", "-7418.45"},
		{".08", 10, "25000", "-500", "2000", "-4087.68", "-4087.69"},
	} {
		aw, err := AnnualWorth(dec(e.i), e.n, dec(e.first), dec(e.yearly), dec(e.salvage))
		if err != nil {
			t.Fatal(err)
		}
		printed(t, "annual worth", aw, e.want)
		if aw.Sub(dec(e.printedWithTableFactors)).Abs().GreaterThan(dec(".75")) {
			t.Errorf("annual worth %s is far from the printed %s", aw, e.printedWithTableFactors)
		}
	}
}

// breakEven is the quantity above which the offer of the lower variable cost
// is the cheaper: (fixedB − fixedA) / (variableA − variableB). ok is false
// where the two lines never cross at a positive quantity.
func breakEven(fixedA, variableA, fixedB, variableB Dec) (n Dec, ok bool) {
	dv := variableA.Sub(variableB)
	if dv.IsZero() {
		return zero, false
	}
	n = div(fixedB.Sub(fixedA), dv)
	return n, n.IsPositive()
}

func TestBreakEvenOfTwoMachines(t *testing.T) {
	// Two machines at 25 % (worked example in print): A 50000, 3 y, salvage 10000, 18 s a part, 38/h, 200 a month; B 75000, 6 y, 12 s, 30/h, 220 a month: 25392 + .19 N = 28051 + .10 N, N = 29544.
	a, _ := CapitalRecovery(dec(".25"), 3, dec("50000"), dec("10000"))
	b, _ := CapitalRecovery(dec(".25"), 6, dec("75000"), zero)
	a, b = a.Add(dec("2400")), b.Add(dec("2640"))
	printed(t, "fixed A", a, "25391.80")
	printed(t, "fixed B", b, "28051.46")
	va := dec("38").Mul(dec("18")).Div(dec("3600"))
	vb := dec("30").Mul(dec("12")).Div(dec("3600"))
	printed(t, "variable A", va, ".19")
	printed(t, "variable B", vb, ".10")
	n, ok := breakEven(a, va, b, vb)
	if !ok {
		t.Fatal("no break-even found")
	}
	printed(t, "break-even, unrounded", n, "29551.8")
	n, _ = breakEven(dec("25392"), dec(".19"), dec("28051"), dec(".10"))
	printed(t, "break-even, as printed", n, "29544")
}

func TestMakeOrBuy(t *testing.T) {
	// Blank and Tarquin, Engineering Economy, ch. 13, at 15 %: A 18000, 6000/y, salvage 2000, 6 y, overhaul 3000 in year 3; B 12000, 5000/y, salvage −500, 4 y; variable .40 against a price of 3.50: fixed 20352, x 6565, first cost of A at x = 10000 58295.
	i := dec(".15")
	a, _ := CapitalRecovery(i, 6, dec("18000"), dec("2000"))
	overhaul := dec("3000").Mul(factors(t, ".15", 3).PF).Mul(factors(t, ".15", 6).AP)
	b, _ := CapitalRecovery(i, 4, dec("12000"), dec("-500"))
	fixed := a.Add(overhaul).Add(dec("6000")).Add(b).Add(dec("5000"))
	printed(t, "fixed", fixed, "20352.33")
	n, _ := breakEven(zero, dec("3.50"), fixed, dec(".40"))
	printed(t, "break-even", n, "6565.27")
	spare := dec("10000").Mul(dec("3.10")).Sub(fixed)
	printed(t, "first cost of A at 10000", dec("18000").Add(spare.Mul(factors(t, ".15", 6).PA)), "58295.93")
	// Break-even volume in print: fixed 800000, price 2950, variable 2075: 914 units, profit at 3000 units 1825000.
	n, _ = breakEven(zero, dec("2950"), dec("800000"), dec("2075"))
	printed(t, "units", n, "914.29")
	printed(t, "profit", dec("3000").Mul(dec("875")).Sub(dec("800000")), "1825000")
}

func flow(s string) []Dec { return percents(s) }

func TestDiscountedPayback(t *testing.T) {
	// Worked example in print: 25000 now, 15000 a year, 18 %: 2.17 years.
	c, err := Paybacks(dec(".18"), flow("-25000 15000 15000 15000"))
	if err != nil || len(c) != 1 || !c[0].Up {
		t.Fatalf("crossings %v, %v", c, err)
	}
	printed(t, "payback", c[0].At, "2.16599")
}

func TestPaybackCrossesMoreThanOnce(t *testing.T) {
	// Course problem CE 167, homework 5: −180 −90 0 100 100 100 −90 100 100: simple 4.7 years, at 5 % 7.2 years, present value 52.88.
	f := flow("-180 -90 0 100 100 100 -90 100 100")
	c, _ := Paybacks(zero, f)
	if len(c) != 3 || !c[0].Up || c[1].Up || !c[2].Up {
		t.Fatalf("simple payback should cross up, down and up again: %v", c)
	}
	printed(t, "first", c[0].At, "4.7")
	printed(t, "last", c[2].At, "6.6")
	c, _ = Paybacks(dec(".05"), f)
	if len(c) != 1 {
		t.Fatalf("discounted: %v", c)
	}
	printed(t, "discounted", c[0].At, "7.2186")
	pv, _ := PresentValue(dec(".05"), f)
	printed(t, "present value", pv, "52.885")
}

func TestPaybackOfGrowingSavings(t *testing.T) {
	// Worked example in print: 371000, savings 50000 rising 12 % a year; simple in year 6, at 4 % in year 7.
	f := []Dec{dec("-371000")}
	x := dec("50000")
	want := strings.Fields("48076.92 51775.15 55757.85 60046.92 64665.91 69640.21 74997.15 80766.16")
	for k := range want {
		f = append(f, x)
		pv, _ := PresentValue(dec(".04"), append(make([]Dec, k+1), x))
		printed(t, "present value", pv, want[k])
		x = x.Mul(dec("1.12"))
	}
	c, _ := Paybacks(zero, f)
	printed(t, "simple", c[0].At, "5.6055")
	c, _ = Paybacks(dec(".04"), f)
	printed(t, "discounted", c[0].At, "6.2805")
}

func TestDepreciationTableSumsToAHundred(t *testing.T) {
	// IRS Publication 946, table A-1 (half-year convention): the printed columns sum to 100; the formula's do not everywhere (3 years: 44.44 where 44.45 is printed).
	for years, col := range MACRS {
		sum := zero
		for _, p := range col {
			sum = sum.Add(p)
		}
		if !sum.Equal(cent) || len(col) != years+1 {
			t.Errorf("%d years: %d entries, sum %s", years, len(col), sum)
		}
	}
	if !MACRS[3][1].Equal(dec("44.45")) || !MACRS[7][5].Equal(dec("8.92")) || !MACRS[10][8].Equal(dec("6.56")) {
		t.Error("the table's own roundings are not in it")
	}
}

func TestFactorsAtZeroAndNonsense(t *testing.T) {
	f := factors(t, "0", 4)
	for name, e := range map[string][2]Dec{"P/A": {f.PA, dec("4")}, "A/P": {f.AP, dec(".25")}, "P/G": {f.PG, dec("6")}, "A/G": {f.AG, dec("1.5")}} {
		if !e[0].Equal(e[1]) {
			t.Errorf("%s at 0 %% = %s, want %s", name, e[0], e[1])
		}
	}
	if f := factors(t, ".000001", 1200); f.PA.LessThan(dec("1199")) || f.PA.GreaterThan(dec("1200")) {
		t.Errorf("P/A at a millionth over 1200 periods = %s", f.PA)
	}
	for _, e := range []struct {
		i string
		n int
	}{{"-.01", 5}, {".1", 0}, {".1", -3}, {".1", MaxPeriods + 1}, {"1e9", 5}} {
		if _, err := FactorsFor(dec(e.i), e.n); err == nil {
			t.Errorf("FactorsFor(%s, %d) gave no error", e.i, e.n)
		}
	}
	if _, err := PresentValue(dec("-1"), flow("1 2")); err == nil {
		t.Error("interest of −100 % gave no error")
	}
}
