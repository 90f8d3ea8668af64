package paper

import (
	"strings"

	"github.com/shopspring/decimal"
)

// Money is how amounts are written.
type Money struct {
	Code   string // what stands with amounts, e.g. "EUR" or "$"
	Places int32  // decimals
	Point  string // decimal sign; "" is "."
	Group  string // between thousands; "" is ",", " " a thin gap, "none" nothing
}

// Text is an amount rounded to its places, half away from zero, with its
// thousands apart and without the currency.
func (m Money) Text(d decimal.Decimal) string {
	point, group := m.Point, m.Group
	if point == "" {
		point = "."
	}
	switch group {
	case "":
		group = ","
	case "none":
		group = ""
	case " ":
		group = "\u202f" // narrow no-break space
	}
	s := d.Abs().StringFixed(m.Places)
	whole, frac, _ := strings.Cut(s, ".")
	var b strings.Builder
	for i, r := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteString(group)
		}
		b.WriteRune(r)
	}
	if frac != "" {
		b.WriteString(point + frac)
	}
	if d.Round(m.Places).IsNegative() {
		return "−" + b.String()
	}
	return b.String()
}

// With is an amount with its currency.
func (m Money) With(d decimal.Decimal) string {
	if m.Code == "" {
		return m.Text(d)
	}
	return m.Code + " " + m.Text(d)
}
