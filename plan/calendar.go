package plan

import (
	"cmp"
	"slices"
	"time"

	"needlepace/words"
)

// Shift is a span of working hours on some days of the week, by the wall
// clock. To ≤ From means that the shift ends on the next day.
type Shift struct {
	Days      []time.Weekday // empty: every day
	From, To  words.TimeOfDay
	Operators float64 // on duty; used by Presences
}

// Calendar is when a machine, or the shop, works.
type Calendar struct {
	Zone     words.Zone
	Shifts   []Shift
	Holidays []words.Day // no shift begins on these days
	Closed   []TimeSpan  // down times: repair, service
}

// TimeSpan is a stretch of wall time.
type TimeSpan struct{ From, To time.Time }

// spans are the shifts that touch origin … origin + days, in wall time.
func (c *Calendar) spans(origin time.Time, days int) (out []TimeSpan, operators []float64) {
	// By the wall clock: on the day the clocks change a shift still begins at six.
	first := c.Zone.Day(origin)
	for k := -1; k < days; k++ {
		day := first.Add(k)
		if slices.Contains(c.Holidays, day) {
			continue
		}
		for _, s := range c.Shifts {
			if len(s.Days) > 0 && !slices.Contains(s.Days, day.Weekday()) {
				continue
			}
			from, to := c.Zone.At(day, s.From), c.Zone.At(day, s.To)
			if s.To <= s.From {
				to = c.Zone.At(day.Add(1), s.To)
			}
			if to.After(origin) && to.After(from) {
				out = append(out, TimeSpan{from, to})
				operators = append(operators, s.Operators)
			}
		}
	}
	return out, operators
}

// Windows are the working windows of the days from origin on, in seconds
// after origin, without the down times. Overlapping shifts are one window.
func (c *Calendar) Windows(origin time.Time, days int) []Window {
	spans, _ := c.spans(origin, days)
	var win []Window
	for _, s := range spans {
		win = append(win, Window{max(s.From.Sub(origin).Seconds(), 0), s.To.Sub(origin).Seconds(), 1})
	}
	slices.SortFunc(win, func(a, b Window) int { return cmp.Compare(a.From, b.From) })
	merged := win[:0]
	for _, w := range win {
		if n := len(merged); n > 0 && w.From <= merged[n-1].To {
			merged[n-1].To = max(merged[n-1].To, w.To)
			continue
		}
		merged = append(merged, w)
	}
	for _, d := range c.Closed {
		merged = without(merged, d.From.Sub(origin).Seconds(), d.To.Sub(origin).Seconds())
	}
	return merged
}

// Presences are the operators on duty in the days from origin on.
func (c *Calendar) Presences(origin time.Time, days int) []Presence {
	spans, ops := c.spans(origin, days)
	var out []Presence
	for i, s := range spans {
		out = append(out, Presence{max(s.From.Sub(origin).Seconds(), 0), s.To.Sub(origin).Seconds(), ops[i]})
	}
	return out
}

// without cuts the stretch from…to out of the windows.
func without(win []Window, from, to float64) []Window {
	if to <= from {
		return win
	}
	var out []Window
	for _, w := range win {
		if w.From < from {
			out = append(out, Window{w.From, min(w.To, from), w.Rate})
		}
		if w.To > to {
			out = append(out, Window{max(w.From, to), w.To, w.Rate})
		}
	}
	return out
}
