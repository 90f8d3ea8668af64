package money

import (
	"fmt"
	"math"
	"strings"

	"github.com/shopspring/decimal"
)

// percents reads a written-down table column.
func percents(s string) []Dec {
	var out []Dec
	for _, w := range strings.Fields(s) {
		out = append(out, decimal.RequireFromString(w))
	}
	return out
}

// Measured brings a measured or simulated quantity (seconds, metres, a count)
// into decimal, at nine decimals. It is the only door from float to decimal.
// What is not a number counts as zero: callers check their quantities first.
func Measured(x float64) Dec {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return zero
	}
	return decimal.NewFromFloatWithExponent(x, -9)
}

// Amount is a decimal as a settings file gives it: 12500, 12_500.00 or "12500.00".
// It is read from the written digits, never through a float.
type Amount struct {
	Dec
	written bool // in the file, be it 0
}

// Given reports whether the amount is there at all: a zero counts only where
// it was written as 0, so that a price left out is not taken as nothing.
func (a Amount) Given() bool { return a.written || !a.IsZero() }

// maxAmount bounds what a settings file may give: beyond it is a slip.
var maxAmount = decimal.New(1, 12)

// UnmarshalText reads the digits.
func (a *Amount) UnmarshalText(b []byte) error {
	s := strings.ReplaceAll(strings.TrimSpace(string(b)), "_", "")
	if len(s) > 40 || strings.ContainsAny(s, "eExX") {
		return fmt.Errorf("%q is no plain number: write it as 1234.56", b)
	}
	d, err := decimal.NewFromString(s)
	if err != nil {
		return fmt.Errorf("%q is no plain number: write it as 1234.56", b)
	}
	if d.Abs().GreaterThan(maxAmount) {
		return fmt.Errorf("%s is out of range: amounts go up to a million million", s)
	}
	a.Dec, a.written = d, true
	return nil
}

// MarshalText writes the digits.
func (a Amount) MarshalText() ([]byte, error) { return []byte(a.String()), nil }
