package picture

import (
	"fmt"
	"math"
	"strconv"
)

// LongTime is seconds as a time for people: 27 min 22 s, 1 h 02 min, 8.4 s.
// Seconds are left out from one hour on, tenths are given below 10 s.
func LongTime(s float64) string {
	switch {
	case math.IsNaN(s) || math.IsInf(s, 0):
		return "–"
	case s < 0:
		return "−" + LongTime(-s)
	case s < 9.95:
		return strconv.FormatFloat(s, 'f', 1, 64) + " s"
	}
	n := int64(math.Round(s))
	switch {
	case n < 60:
		return fmt.Sprintf("%d s", n)
	case n < 3600:
		return fmt.Sprintf("%d min %02d s", n/60, n%60)
	}
	m := int64(math.Round(s / 60))
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}

// ShortTime is seconds as on a clock: 27:22, 1:02:05.
func ShortTime(s float64) string {
	switch {
	case math.IsNaN(s) || math.IsInf(s, 0):
		return "–"
	case s < 0:
		return "−" + ShortTime(-s)
	}
	n := int64(math.Round(s))
	if n < 3600 {
		return fmt.Sprintf("%d:%02d", n/60, n%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}

// Thousands is a whole number with its thousands apart: 20,612.
func Thousands(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	s := strconv.FormatFloat(math.Abs(math.Round(v)), 'f', 0, 64)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if math.Round(v) < 0 {
		return "−" + s
	}
	return s
}

// percent is a share for people: 41 %, 0.4 %.
func percent(share float64) string {
	p := share * 100
	if p > 0 && p < 0.95 {
		return strconv.FormatFloat(p, 'f', 1, 64) + " %"
	}
	return strconv.FormatFloat(p, 'f', 0, 64) + " %"
}
