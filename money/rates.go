package money

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/words"
)

// Rates is [money]: what things cost in this shop. Amounts are in the shop's
// currency; percentages are per cent. A key that is left out counts as zero
// unless its comment says otherwise, and Missing names it: a zero that is meant
// is written as 0.
type Rates struct {
	// Placeholder is true while the figures are an example's and not the
	// owner's own: all that is made from them must be marked so.
	Placeholder bool   `toml:"placeholder,omitempty"`
	Currency    string `toml:"currency"` // as printed, e.g. "EUR"; needed
	// prices are rounded up to a multiple of it; default the least amount there is: 0.01, 1
	PriceStep Amount `toml:"price_step,omitempty"`
	SalesTax  Amount `toml:"sales_tax_percent,omitempty"`  // added to prices on show
	Interest  Amount `toml:"interest_percent,omitempty"`   // a year; what money costs the shop
	ProfitTax Amount `toml:"profit_tax_percent,omitempty"` // on savings, after depreciation
	// "straight-line" over the life (default), or "macrs-3", -5, -7, -10
	Depreciation string `toml:"depreciation"`
	Labour       Amount `toml:"labour_per_hour,omitempty"`         // an operator with all on-costs; needed
	Overhead     Amount `toml:"overhead_per_year,omitempty"`       // rent, heat, office: for each machine
	Energy       Amount `toml:"energy_per_kwh,omitempty"`          //
	TopThread    Amount `toml:"top_thread_per_1000m,omitempty"`    //
	BobbinThread Amount `toml:"bobbin_thread_per_1000m,omitempty"` //
	Backing      Amount `toml:"backing_per_m2,omitempty"`          //
	BackingEdge  Amount `toml:"backing_edge_mm,omitempty"`         // more on every side of the design
	Needle       Amount `toml:"needle_each,omitempty"`             //
	// of sewing that a needle lasts; default 8 (trade press, one source)
	NeedleHours Amount `toml:"needle_hours,omitempty"`
	Garment     Amount `toml:"garment_each,omitempty"`   // what a spoilt garment costs to replace
	Digitizing  Amount `toml:"digitizing_fee,omitempty"` // for each design, once in an order
	// wanted: share of the price that is not cost
	Margin Amount `toml:"margin_percent,omitempty"`
	Shifts int    `toml:"shifts_per_year"` // needed, or productive_hours_per_year
	// of a machine; default shifts_per_year × a shift's planned hours
	Hours Amount `toml:"productive_hours_per_year,omitempty"`
	// steps of a price list; default 1, 6, 12, 24, 48, 96, 200
	Quantities []int            `toml:"quantities"`
	Machines   map[string]Owned `toml:"machines"` // by the machine's name
}

// Owned is what a machine costs to have.
type Owned struct {
	Price   Amount `toml:"price,omitempty"`           // what it costs, or could be sold for today
	Life    int    `toml:"life_years"`                // from today
	Salvage Amount `toml:"salvage,omitempty"`         // at the end of its life
	Upkeep  Amount `toml:"upkeep_per_year,omitempty"` //
	KW      Amount `toml:"kilowatts,omitempty"`       // while sewing
}

// DefaultQuantities are the steps of a price list.
var DefaultQuantities = []int{1, 6, 12, 24, 48, 96, 200}

// maxCurrency is the most letters of a currency as it is printed: it stands beside every amount.
const maxCurrency = 12

func bad(key, format string, a ...any) error {
	return &floor.KeyError{Key: key, Text: fmt.Sprintf(format, a...)}
}

// Check fills in the defaults and reports the first thing wrong, by its key.
func (r *Rates) Check() error {
	if r.Currency == "" {
		return bad("money.currency", "is missing: give the currency as it is to be printed, e.g. \"EUR\"")
	}
	if strings.ContainsFunc(r.Currency, func(c rune) bool { return unicode.IsDigit(c) || strings.ContainsRune("+-−", c) }) {
		return bad("money.currency", "is %q: it stands beside every amount; give it without figures or signs, e.g. \"EUR\"", r.Currency)
	}
	if n := utf8.RuneCountInString(r.Currency); n > maxCurrency || strings.ContainsFunc(r.Currency, unicode.IsControl) {
		return bad("money.currency", "has %d characters: give it as it is to be printed, e.g. \"EUR\", in at most %d", n, maxCurrency)
	}
	if r.PriceStep.IsZero() {
		r.PriceStep.Dec = decimal.New(1, -r.places())
	}
	if r.NeedleHours.IsZero() {
		r.NeedleHours.Dec = decimal.NewFromInt(8)
	}
	if r.Depreciation == "" {
		r.Depreciation = StraightLine
	}
	if len(r.Quantities) == 0 {
		r.Quantities = DefaultQuantities
	}
	hundred := decimal.NewFromInt(100)
	for _, a := range []struct {
		key  string
		v    Dec
		most Dec
	}{
		{"price_step", r.PriceStep.Dec, maxAmount}, {"sales_tax_percent", r.SalesTax.Dec, hundred},
		{"interest_percent", r.Interest.Dec, hundred},
		{"profit_tax_percent", r.ProfitTax.Dec, hundred}, {"labour_per_hour", r.Labour.Dec, maxAmount},
		{"overhead_per_year", r.Overhead.Dec, maxAmount},
		{"energy_per_kwh", r.Energy.Dec, maxAmount}, {"top_thread_per_1000m", r.TopThread.Dec, maxAmount},
		{"bobbin_thread_per_1000m", r.BobbinThread.Dec, maxAmount},
		{"backing_per_m2", r.Backing.Dec, maxAmount}, {"backing_edge_mm", r.BackingEdge.Dec, decimal.NewFromInt(1000)},
		{"needle_each", r.Needle.Dec, maxAmount},
		{"needle_hours", r.NeedleHours.Dec, decimal.NewFromInt(100_000)}, {"garment_each", r.Garment.Dec, maxAmount},
		{"digitizing_fee", r.Digitizing.Dec, maxAmount},
		{"margin_percent", r.Margin.Dec, decimal.NewFromInt(99)}, {"productive_hours_per_year", r.Hours.Dec,
			decimal.NewFromInt(hoursOfAYear)},
	} {
		if a.v.IsNegative() || a.v.GreaterThan(a.most) {
			return bad("money."+a.key, "is %s; give 0 to %s", a.v, a.most)
		}
	}
	if !r.Labour.Given() {
		return bad("money.labour_per_hour",
			"is missing: give what an operator's hour costs with all on-costs; write 0 if nobody is to be paid")
	}
	switch {
	case r.Shifts == 0 && !r.Hours.IsPositive():
		return bad("money.shifts_per_year",
			"is missing or 0: give the shifts of a year (1 to 1100), or productive_hours_per_year")
	case r.Shifts < 0 || r.Shifts > 1100:
		return bad("money.shifts_per_year", "is %d; give 1 to 1100", r.Shifts)
	}
	if _, err := depreciation(r.Depreciation, 5); err != nil {
		return bad("money.depreciation",
			"is %q; give \"straight-line\", \"macrs-3\", \"macrs-5\", \"macrs-7\" or \"macrs-10\"", r.Depreciation)
	}
	last := 0
	for i, q := range r.Quantities {
		if q <= last || q > floor.MaxQuantity {
			return bad("money.quantities", "has %d in place %d; give rising numbers of pieces from 1", q, i+1)
		}
		last = q
	}
	for name, o := range r.Machines {
		if err := o.check("money.machines." + name); err != nil {
			return err
		}
	}
	return nil
}

// hoursOfAYear is those of a leap year.
const hoursOfAYear = 8784

// YearHours is the productive hours a year of a machine whose shift has so
// many planned hours.
func (r *Rates) YearHours(shift float64) Dec {
	if r.Hours.IsPositive() {
		return r.Hours.Dec
	}
	return Measured(shift).Mul(decimal.NewFromInt(int64(r.Shifts)))
}

// Missing names the keys of [money] that were left out and so count as zero:
// what is made from the rates is too low by what they would be. Fees, margin
// and taxes are not among them: without them nothing is charged.
func (r *Rates) Missing() []string {
	return missing("money", []named{
		{"interest_percent", r.Interest}, {"overhead_per_year", r.Overhead}, {"energy_per_kwh", r.Energy},
		{"top_thread_per_1000m", r.TopThread}, {"bobbin_thread_per_1000m", r.BobbinThread},
		{"backing_per_m2", r.Backing}, {"needle_each", r.Needle}, {"garment_each", r.Garment},
	})
}

// Missing is Rates.Missing for a machine whose keys stand under the given key.
func (o Owned) Missing(key string) []string {
	return missing(key, []named{{"salvage", o.Salvage}, {"upkeep_per_year", o.Upkeep}, {"kilowatts", o.KW}})
}

type named struct {
	key string
	v   Amount
}

func missing(table string, all []named) []string {
	var out []string
	for _, a := range all {
		if !a.v.Given() {
			out = append(out, table+"."+a.key)
		}
	}
	return out
}

func (o Owned) check(key string) error {
	if !o.Price.Given() {
		return bad(key+".price", "is missing: give what the machine costs, or what it could be sold for today; write "+
			"0 for one that is worth nothing")
	}
	for _, a := range []struct {
		key string
		v   Dec
	}{{"price", o.Price.Dec}, {"salvage", o.Salvage.Dec}, {"upkeep_per_year", o.Upkeep.Dec}, {"kilowatts", o.KW.Dec}} {
		if a.v.IsNegative() || a.v.GreaterThan(maxAmount) {
			return bad(key+"."+a.key, "is %s; give 0 or more", a.v)
		}
	}
	if o.Salvage.GreaterThan(o.Price.Dec) {
		// At the price: forms show it, and the salvage not always.
		return bad(key+".price", "is %s, less than what the machine is worth at the end of its life (salvage), %s: give at least that, or "+
			"lower the salvage", o.Price, o.Salvage)
	}
	if o.Life < 1 || o.Life > 50 {
		return bad(key+".life_years", "is %d; give 1 to 50", o.Life)
	}
	return nil
}

// rate is a percentage as a fraction.
func rate(percent Dec) Dec { return percent.Shift(-2) }

// StraightLine is depreciation in equal parts over the life.
const StraightLine = "straight-line"

// depreciation is the share of the price written off in each year, summing to
// one over a long enough life.
func depreciation(method string, life int) ([]Dec, error) {
	if method == StraightLine {
		out := make([]Dec, life)
		for i := range out {
			out[i] = div(one, decimal.NewFromInt(int64(life)))
		}
		return out, nil
	}
	var years int
	if _, err := fmt.Sscanf(method, "macrs-%d", &years); err != nil || MACRS[years] == nil ||
		method != fmt.Sprint("macrs-", years) {
		return nil, fmt.Errorf("there is no depreciation %q", method)
	}
	var out []Dec
	for _, p := range MACRS[years] {
		out = append(out, rate(p))
	}
	return out, nil
}

// ShopFile is a SHOP.toml with its money.
type ShopFile struct {
	floor.ShopFile
	Money Rates `toml:"money"`
}

// ParseShop reads a SHOP.toml. [money] may be missing; what is wrong in it is
// reported only where it is there (CheckMoney).
func ParseShop(name string, b []byte) (*ShopFile, *tomlfile.File, error) {
	var s ShopFile
	f, err := tomlfile.Decode(name, b, &s)
	if err != nil {
		return nil, nil, err
	}
	s.Settle()
	if f.Has("money") {
		if err := s.CheckMoney(f); err != nil {
			return nil, nil, err
		}
	}
	return &s, f, nil
}

// CheckMoney is Rates.Check with the place in the file.
func (s *ShopFile) CheckMoney(f *tomlfile.File) error {
	if !f.Has("money") {
		return f.Errorf("money", nil, "is missing: put in your hourly rates first; then costs can be reckoned")
	}
	if err := s.Money.Check(); err != nil {
		return floor.Locate(f, err)
	}
	names := map[string]bool{}
	for _, m := range s.Machine {
		names[m.Name] = true
	}
	for name := range s.Money.Machines {
		if !names[name] {
			return f.Errorf("money.machines."+name, nil,
				"is no machine of this file: write the name as its [[machine]] has it")
		}
	}
	return nil
}

// places is how many decimals amounts of the currency have.
func (r *Rates) places() int32 { return int32(words.Places(r.Currency)) }

// Round is an amount as it can be paid: to the currency's own decimals, half
// away from zero.
func (r *Rates) Round(amount Dec) Dec { return amount.Round(r.places()) }

// RoundUp is the price rounded up to a multiple of the price step, and where a
// step is finer than the currency, to an amount that can be paid.
func (r *Rates) RoundUp(price Dec) Dec {
	step := r.PriceStep.Dec
	return div(price, step).Round(12).Ceil().Mul(step).RoundCeil(r.places())
}

// Price is the price at which the wanted margin is left of it.
func (r *Rates) Price(cost Dec) Dec {
	return r.RoundUp(div(cost, one.Sub(rate(r.Margin.Dec))))
}

// WithTax is a price with sales tax on it, as it can be paid.
func (r *Rates) WithTax(price Dec) Dec {
	return r.Round(price.Mul(one.Add(rate(r.SalesTax.Dec))))
}
