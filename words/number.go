package words

import (
	"math"
	"strconv"
	"strings"
	"unicode"
)

// digits is |v| rounded to so many decimals, half away from zero, as plain
// digits: 1234.50. negative tells that a minus stands before it; what rounds to
// zero has none. The page's scripts round the same way.
func digits(v float64, places int) (s string, negative bool) {
	p := math.Pow10(places)
	r := math.Round(math.Abs(v)*p) / p
	return strconv.FormatFloat(r, 'f', places, 64), v < 0 && r > 0
}

// write is plain digits in the language: minus, thousands apart, decimal sign.
func (l *Language) write(plain string, negative bool) string {
	whole, frac, dot := strings.Cut(plain, ".")
	if !negative && !dot && len(whole) <= 3 {
		return plain
	}
	b := make([]byte, 0, len(plain)+12)
	if negative {
		b = append(b, l.minus...)
	}
	for i := range len(whole) {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b = append(b, l.group...)
		}
		b = append(b, whole[i])
	}
	if dot {
		b = append(append(b, l.decimal...), frac...)
	}
	return string(b)
}

// fixed is v with so many decimals.
func (l *Language) fixed(v float64, places int) string { return l.write(digits(v, places)) }

// Number is a number with so many decimals, and the noun that it counts where
// there is one: a key under [count], e.g. "piece".
type Number struct {
	V      float64
	Places int
	Noun   string
}

// Whole is a whole number: 12,480.
func Whole(n int) Number { return Number{V: float64(n)} }

// Fixed is a number with so many decimals: 3.50.
func Fixed(v float64, places int) Number { return Number{V: v, Places: places} }

// Count is a number of things: 1 piece, 12 pieces.
func Count(n int, noun string) Number { return Number{V: float64(n), Noun: noun} }

// Mean is how many things are to be expected: 0.4 breaks, 1 break, 2.5 breaks,
// 12 breaks. One decimal below ten, and none where it would be a zero.
func Mean(v float64, noun string) Number {
	n := Number{V: v, Noun: noun}
	if tenths := math.Round(math.Abs(v) * 10); tenths < 100 && math.Mod(tenths, 10) != 0 {
		n.Places = 1
	}
	return n
}

// Text is the number, and the noun in its plural form.
func (n Number) Text(w *Writer) string {
	if unknown(n.V) {
		return none
	}
	l := w.language()
	plain, negative := digits(n.V, n.Places)
	s := l.write(plain, negative)
	if n.Noun == "" {
		return s
	}
	return l.noun(n.Noun, plain, s)
}

// Raw is the number.
func (n Number) Raw() string { return raw(n.V) }

// Float is the number.
func (n Number) Float() float64 { return n.V }

// Figure is a number of which three figures are told: 12,480, 125, 12.5, 0.0125.
type Figure float64

// Text has three figures, all of them before the point, and no zeros at its end.
func (f Figure) Text(w *Writer) string {
	v := float64(f)
	if unknown(v) {
		return none
	}
	places := 0
	if a := math.Abs(v); a > 0 && a < 99.95 {
		places = min(2-int(math.Floor(math.Log10(a))), 9)
	}
	plain, negative := digits(v, places)
	if places > 0 {
		plain = strings.TrimRight(strings.TrimRight(plain, "0"), ".")
	}
	return w.language().write(plain, negative)
}

// Raw is the number.
func (f Figure) Raw() string { return raw(float64(f)) }

// Float is the number.
func (f Figure) Float() float64 { return float64(f) }

// Signed is a change: a plus stands before it when it grows.
type Signed struct{ Numeric }

// Text is the figure with its sign: +3.2 %, −18 s. What is said in words, such
// as under 0.1 %, has none.
func (s Signed) Text(w *Writer) string {
	t := s.Numeric.Text(w)
	if s.Float() > 0 && strings.ContainsAny(t, "123456789") && unicode.IsDigit(rune(t[0])) {
		return "+" + t
	}
	return t
}

// Share is a part of a whole, 0.41 for 41 %. Below 10 % it has one decimal.
type Share float64

// Text is in percent. What is more than nothing is never 0 %, and what is less
// than all never 100 %.
func (s Share) Text(w *Writer) string {
	l, v := w.language(), float64(s)
	switch a := math.Abs(v); {
	case unknown(v):
		return none
	case v > 0 && v < 0.0005:
		return l.fill("percent.under", "n", l.fixed(0.1, 1))
	case v >= 0.9995 && v < 1:
		return l.fill("percent.over", "n", l.fixed(99.9, 1))
	case a > 0 && a < 0.0995, v >= 0.995 && v < 1:
		return l.percent(v, 1)
	}
	return l.percent(v, 0)
}

// percent is a share in percent with so many decimals.
func (l *Language) percent(share float64, places int) string {
	return l.fill("percent.is", "n", l.fixed(share*100, places))
}

// Raw is the share itself: 0.41.
func (s Share) Raw() string { return raw(float64(s)) }

// Float is the share itself.
func (s Share) Float() float64 { return float64(s) }

// GiveOrTake is a relative spread, 0.035 for ± 3.5 %. Below 10 % it has one
// decimal; none is exact.
type GiveOrTake float64

// Text is in percent, with ± in front.
func (g GiveOrTake) Text(w *Writer) string {
	l, v := w.language(), float64(g)
	switch {
	case unknown(v):
		return none
	case v == 0:
		return l.fill("percent.exact", "n", "")
	case v < 0.0995:
		return l.fill("percent.give-or-take", "n", l.fixed(v*100, 1))
	}
	return l.fill("percent.give-or-take", "n", l.fixed(v*100, 0))
}

// Raw is the spread itself: 0.035.
func (g GiveOrTake) Raw() string { return raw(float64(g)) }

// Float is the spread itself.
func (g GiveOrTake) Float() float64 { return float64(g) }

// Level is a share that somebody has chosen, as they wrote it: 90 %, 99.5 %.
type Level float64

// Text is in percent with at most two decimals.
func (s Level) Text(w *Writer) string {
	if unknown(float64(s)) {
		return none
	}
	places := 0
	for p := float64(s) * 100; places < 2 && math.Abs(p-math.Round(p)) > 0.005; places++ {
		p *= 10
	}
	return w.language().percent(float64(s), places)
}

// Raw is the share itself: 0.995.
func (s Level) Raw() string { return raw(float64(s)) }

// Float is the share itself.
func (s Level) Float() float64 { return float64(s) }

// Chance is how likely something is, from 0 to 1, found by trying or by a
// model: 93 %, over 99 %, under 1 %. It is never certain.
type Chance float64

// Text is in whole percent, at most "over 99 %", at least "under 1 %".
func (c Chance) Text(w *Writer) string {
	l, v := w.language(), float64(c)
	switch {
	case unknown(v) || v < 0:
		return none
	case v > 0.99:
		return l.fill("percent.over", "n", "99")
	case v < 0.01:
		return l.fill("percent.under", "n", "1")
	}
	return l.percent(v, 0)
}

// Raw is the chance: 0.93.
func (c Chance) Raw() string { return raw(float64(c)) }

// Float is the chance.
func (c Chance) Float() float64 { return float64(c) }

// Odds is a chance as one says it in a sentence: about 9 in 10.
type Odds float64

// Text is in tenths; beyond 1 and 9 in 10 as a [Chance].
func (o Odds) Text(w *Writer) string {
	n := math.Round(float64(o) * 10)
	if unknown(n) || n < 1 || n > 9 {
		return Chance(o).Text(w)
	}
	return w.language().fill("percent.tenths", "n", strconv.Itoa(int(n)))
}

// Raw is the chance: 0.93.
func (o Odds) Raw() string { return raw(float64(o)) }

// Float is the chance.
func (o Odds) Float() float64 { return float64(o) }
