package words

import (
	"math"
	"strconv"
)

// Seconds is a time: 18 min 45 s, 1 h 02 min, 8.4 s. Seconds are left out from
// one hour on, tenths are given below 10 s.
type Seconds float64

// Text is the time in words.
func (t Seconds) Text(w *Writer) string {
	s, l := float64(t), w.language()
	switch {
	case unknown(s):
		return none
	case s <= -0.05:
		return l.minus + Seconds(-s).Text(w)
	case s < 9.95:
		return l.fill("time.s", "s", l.fixed(math.Abs(s), 1))
	}
	n := int64(math.Round(s))
	switch {
	case n < 60:
		return l.fill("time.s", "s", strconv.FormatInt(n, 10))
	case n < 3600:
		return l.fill("time.min-s", "min", strconv.FormatInt(n/60, 10), "s", string(twoDigits(nil, n%60)))
	}
	m := int64(math.Round(s / 60))
	return l.fill("time.h-min", "h", l.fixed(float64(m/60), 0), "min", string(twoDigits(nil, m%60)))
}

// Raw is the time in s.
func (t Seconds) Raw() string { return raw(float64(t)) }

// Float is the time in s.
func (t Seconds) Float() float64 { return float64(t) }

// FineSeconds is a short time whose tenths tell, as one between close ends: 34.2 s. From one
// minute on it reads as Seconds does.
type FineSeconds float64

// Text is the time in words.
func (t FineSeconds) Text(w *Writer) string {
	if s, l := float64(t), w.language(); s >= 9.95 && s < 59.95 {
		return l.fill("time.s", "s", l.fixed(s, 1))
	}
	return Seconds(t).Text(w)
}

// Raw is the time in s.
func (t FineSeconds) Raw() string { return raw(float64(t)) }

// Float is the time in s.
func (t FineSeconds) Float() float64 { return float64(t) }

// Clock is a time as on a stopwatch, in s: 18:45, 1:02:05.
type Clock float64

// Text is min:s, from one hour on h:min:s.
func (t Clock) Text(w *Writer) string {
	s := float64(t)
	if unknown(s) {
		return none
	}
	n := int64(math.Round(math.Abs(s)))
	b := make([]byte, 0, 16)
	if s < 0 && n > 0 {
		b = append(b, w.language().minus...)
	}
	if n < 3600 {
		b = strconv.AppendInt(b, n/60, 10)
	} else {
		b = twoDigits(append(strconv.AppendInt(b, n/3600, 10), ':'), n/60%60)
	}
	return string(twoDigits(append(b, ':'), n%60))
}

// Raw is the time in s.
func (t Clock) Raw() string { return raw(float64(t)) }

// Float is the time in s.
func (t Clock) Float() float64 { return float64(t) }

// Hours is a long time in h: 8 h, 26.5 h. One decimal below 100 h.
type Hours float64

// Text is in hours.
func (t Hours) Text(w *Writer) string {
	if unknown(float64(t)) {
		return none
	}
	n := Mean(float64(t), "")
	if a := math.Abs(float64(t)); a >= 9.95 && a < 99.95 && math.Mod(math.Round(a*10), 10) != 0 {
		n.Places = 1
	}
	return w.language().fill("time.h", "h", n.Text(w))
}

// Raw is the time in h.
func (t Hours) Raw() string { return raw(float64(t)) }

// Float is the time in h.
func (t Hours) Float() float64 { return float64(t) }

// Span is a time by the calendar in h, nights and all: 38 min, 5.2 h, 26 h,
// 2.5 days.
type Span float64

// Text is in minutes below an hour, in days from 48 h.
func (t Span) Text(w *Writer) string {
	l, h := w.language(), float64(t)
	switch {
	case unknown(h):
		return none
	case h < 0:
		return l.minus + Span(-h).Text(w)
	case h < 59.5/60:
		return l.fill("time.min", "min", l.fixed(h*60, 0))
	case h < 9.95:
		return l.fill("time.h", "h", l.fixed(h, 1))
	case h < 48:
		return l.fill("time.h", "h", l.fixed(h, 0))
	}
	return Number{V: h / 24, Places: 1, Noun: "day"}.Text(w)
}

// Raw is the time in h.
func (t Span) Raw() string { return raw(float64(t)) }

// Float is the time in h.
func (t Span) Float() float64 { return float64(t) }
