package words

import (
	"strings"

	"github.com/shopspring/decimal"
	"golang.org/x/text/currency"
	"golang.org/x/text/message"
)

// Places is how many decimals amounts of a currency have, by its ISO 4217 code:
// 2 for EUR, 0 for JPY, 3 for KWD; 2 for a code that is none of ISO 4217.
func Places(code string) int {
	unit, err := currency.ParseISO(code)
	if err != nil {
		return 2
	}
	places, _ := currency.Standard.Rounding(unit)
	return places
}

// Money is an amount of a currency: 12.50 EUR, 1,250 JPY.
type Money struct {
	Amount decimal.Decimal
	Code   string // ISO 4217; "" writes the amount alone
	Round  bool   // to the whole unit, for what is only estimated: 12,400 EUR
	Bare   bool   // the code is said elsewhere, as in a heading: 12.50
	Places int    // decimals to write, where they are more than the currency's own
	Sign   bool   // the currency's sign where the language has one, as customers read it: €12.50
}

// Decimals is how many decimals the amount is written with.
func (m Money) Decimals() int {
	if m.Round {
		return 0
	}
	return max(Places(m.Code), m.Places)
}

// Text has the currency's own decimals or more, rounded half away from zero.
func (m Money) Text(w *Writer) string {
	l := w.language()
	places := int32(m.Decimals())
	plain := m.Amount.StringFixed(places)
	s := l.write(strings.TrimPrefix(plain, "-"), m.Amount.Round(places).IsNegative())
	if m.Code == "" || m.Bare {
		return s
	}
	if sign := l.sign(m.Code); m.Sign && sign != m.Code {
		plain, minus := strings.CutPrefix(s, l.minus)
		s = l.fill("money.signed", "amount", plain, "sign", sign)
		if minus {
			s = l.minus + s
		}
		return s
	}
	return l.fill("money.amount", "amount", s, "currency", m.Code)
}

// sign is a currency's sign in the language, by CLDR: € in English, CA$ for a
// dollar that is not the one it would be taken for; the code where there is none.
func (l *Language) sign(code string) string {
	unit, err := currency.ParseISO(code)
	if err != nil {
		return code
	}
	return message.NewPrinter(l.Tag).Sprint(currency.Symbol(unit))
}

// Raw is the amount with all its decimals.
func (m Money) Raw() string { return m.Amount.String() }

// Float is the amount, for a workbook; prices are reckoned in decimals.
func (m Money) Float() float64 { return m.Amount.InexactFloat64() }
