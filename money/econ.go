package money

import (
	"errors"
	"fmt"

	"github.com/shopspring/decimal"
)

// Dec is the decimal that all money is counted in.
type Dec = decimal.Decimal

// digits is the number of decimals that factors and quotients are carried to:
// far past what money shows, so that no chain of factors is seen to round.
const digits = 24

var (
	zero = decimal.Zero
	one  = decimal.NewFromInt(1)
	two  = decimal.NewFromInt(2)
	cent = decimal.NewFromInt(100)
)

func div(a, b Dec) Dec { return a.DivRound(b, digits) }

// MaxPeriods bounds the number of periods of any factor or cash flow.
const MaxPeriods = 1200

// Factors are the interest factors for n periods at i per period (0.08 is
// 8 %), in the notation of engineering economics, e.g. Newnan, Engineering
// Economic Analysis: F/P = (1+i)^n; P/A = (1−(1+i)^−n)/i; A/P = 1/(P/A);
// F/A = ((1+i)^n−1)/i; P/G = (P/A − n·P/F)/i; A/G = P/G·A/P.
// At i = 0 they are the limits.
type Factors struct {
	FP, PF, PA, AP, FA, AF, PG, AG Dec
}

// FactorsFor is the row of the interest table: i ≥ 0 per period, n from 1 to
// MaxPeriods.
func FactorsFor(i Dec, n int) (Factors, error) {
	if i.IsNegative() || i.GreaterThan(cent) {
		return Factors{}, fmt.Errorf("interest of %s %% a period: give 0 to 10000 %%", i.Mul(cent))
	}
	if n < 1 || n > MaxPeriods {
		return Factors{}, fmt.Errorf("%d periods: give 1 to %d", n, MaxPeriods)
	}
	N := decimal.NewFromInt(int64(n))
	var f Factors
	if i.IsZero() {
		f.FP, f.PF, f.PA, f.FA = one, one, N, N
		f.PG = N.Mul(N.Sub(one)).Div(two)
	} else {
		f.FP = power(one.Add(i), n)
		f.PF = div(one, f.FP)
		f.PA = div(one.Sub(f.PF), i)
		f.FA = div(f.FP.Sub(one), i)
		f.PG = div(f.PA.Sub(N.Mul(f.PF)), i)
	}
	f.AP = div(one, f.PA)
	f.AF = div(one, f.FA)
	f.AG = div(f.PG, f.PA)
	return f, nil
}

// power is b^n, rounded to digits at every step: exact powers of a rate with
// many decimals would grow without bound.
func power(b Dec, n int) Dec {
	p := one
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			p = p.Mul(b).Round(digits)
		}
		b = b.Mul(b).Round(digits)
	}
	return p
}

// PresentValue is the net present value of the flows at i per period;
// flow[t] falls at the end of period t, flow[0] now.
func PresentValue(i Dec, flow []Dec) (Dec, error) {
	if i.LessThanOrEqual(one.Neg()) {
		return zero, errors.New("interest must be more than −100 % a period")
	}
	sum, d := zero, one
	q := div(one, one.Add(i))
	for _, x := range flow {
		sum = sum.Add(x.Mul(d))
		d = d.Mul(q).Round(digits)
	}
	return sum, nil
}

// AnnualWorth spreads first cost, a yearly flow and a salvage value over n
// years: −first·A/P + yearly + salvage·A/F. Costs are negative, so the larger
// is the better.
func AnnualWorth(i Dec, n int, first, yearly, salvage Dec) (Dec, error) {
	f, err := FactorsFor(i, n)
	if err != nil {
		return zero, err
	}
	return yearly.Sub(first.Mul(f.AP)).Add(salvage.Mul(f.AF)), nil
}

// CapitalRecovery is the yearly cost of owning something for n years:
// (first − salvage)·A/P + salvage·i.
func CapitalRecovery(i Dec, n int, first, salvage Dec) (Dec, error) {
	aw, err := AnnualWorth(i, n, first, zero, salvage)
	return aw.Neg(), err
}

// Crossing is a point in time, in periods, at which a running balance changes
// sign. Up is true where it turns from below zero to zero or above.
type Crossing struct {
	At Dec
	Up bool
}

// Paybacks lists every point at which the balance of the flows, discounted at
// i (0: simple payback), crosses zero, taking each flow as spread evenly over
// its period. There may be none (never paid back), or several where the flows
// change sign: the first upward crossing is the payback commonly quoted, the
// last is the one after which the balance stays above zero.
func Paybacks(i Dec, flow []Dec) ([]Crossing, error) {
	if i.LessThanOrEqual(one.Neg()) {
		return nil, errors.New("interest must be more than −100 % a period")
	}
	var out []Crossing
	q := div(one, one.Add(i))
	d, balance := one, zero
	for t, x := range flow {
		before := balance
		pv := x.Mul(d)
		balance = balance.Add(pv)
		d = d.Mul(q).Round(digits)
		if t == 0 {
			continue
		}
		up := before.IsNegative() && !balance.IsNegative()
		down := !before.IsNegative() && balance.IsNegative()
		if up || down {
			at := decimal.NewFromInt(int64(t - 1)).Add(div(before.Neg(), pv))
			out = append(out, Crossing{at, up})
		}
	}
	return out, nil
}

// MACRS are the published yearly percentages of tax depreciation by recovery
// period in years (half-year convention, IRS Publication 946, table A-1). They
// are a table and not a formula: the printed values are rounded so that each
// column sums to 100.
var MACRS = map[int][]Dec{
	3:  percents("33.33 44.45 14.81 7.41"),
	5:  percents("20 32 19.2 11.52 11.52 5.76"),
	7:  percents("14.29 24.49 17.49 12.49 8.93 8.92 8.93 4.46"),
	10: percents("10 18 14.4 11.52 9.22 7.37 6.55 6.55 6.56 6.55 3.28"),
}
