package learn

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// meantTime is a time that may have been meant by a written one.
type meantTime struct {
	kind          SlipKind
	seconds, step float64
	scale         float64 // how much wider its unit is than the written one's
	chance        float64 // before looking
}

// meantTimes are the times that slips of the pen turn into what was written.
func meantTimes(o *Observation) []meantTime {
	step := max(o.Step, 0.1)
	out := swappedTimes(o)
	unit := func(factor, chance float64) {
		if t := o.Seconds * factor; t >= 1 && t <= maxSeconds {
			out = append(out, meantTime{UnitSlip, t, step * factor, factor, chance})
		}
	}
	unit(60, unitChance)
	unit(1.0/60, unitChance)
	unit(10, unitChance/2)
	unit(0.1, unitChance/2)
	if t, ok := minutesPointSeconds(o); ok {
		out = append(out, meantTime{UnitSlip, t, 1, 100, unitChance})
	}
	return out
}

// minutesPointSeconds is 12:45 where 12.45 was written.
func minutesPointSeconds(o *Observation) (float64, bool) {
	minutes, cents := math.Modf(o.Seconds)
	seconds := math.Round(100 * cents)
	if o.Written != "" && strings.Count(o.Written, ".")+strings.Count(o.Written, ":") != 1 ||
		strings.Contains(o.Written, ":") || seconds >= 60 || minutes < 1 || seconds == 0 ||
		math.Abs(100*cents-seconds) > 1e-6 {
		return 0, false
	}
	return 60*minutes + seconds, true
}

// swappedTimes are what becomes of a written time when two neighbouring digits
// change places, colon and point staying where they are. Where nobody knows in
// which form it was written, it may have been either.
func swappedTimes(o *Observation) []meantTime {
	forms := []string{o.Written}
	if o.Written == "" {
		forms = []string{strconv.FormatFloat(o.Seconds, 'f', -1, 64)}
		if o.Seconds >= 60 {
			forms = append(forms, minutesForm(o.Seconds))
		}
	}
	seen := map[float64]bool{o.Seconds: true}
	var out []meantTime
	for _, form := range forms {
		last := -1
		for k := range len(form) {
			if form[k] < '0' || form[k] > '9' {
				continue
			}
			if last >= 0 && form[last] != form[k] {
				b := []byte(form)
				b[last], b[k] = b[k], b[last]
				if t, step, err := ParseTime(string(b)); err == nil && !seen[t] {
					seen[t] = true
					out = append(out, meantTime{DigitsSlip, t, step, 1, 0})
				}
			}
			last = k
		}
	}
	for k := range out {
		out[k].chance = digitsChance / float64(len(out))
	}
	return out
}

// minutesForm writes seconds as min:s or h:min:s, with their decimals.
func minutesForm(t float64) string {
	whole, part := math.Modf(t)
	n := int(whole)
	s := fmt.Sprintf("%d:%02d", n/60, n%60)
	if n >= 3600 {
		s = fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
	}
	if part > 0 {
		s += strings.TrimPrefix(strconv.FormatFloat(math.Round(1000*part)/1000, 'f', -1, 64), "0")
	}
	return s
}
