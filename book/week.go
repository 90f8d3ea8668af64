package book

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

// Week is what the shifts of a workshop come to in a week without days off, by
// the wall clock. It hangs on when the shop is open and who is there, not on how that is
// written: neither on the order of the tables nor on a break that makes two of one shift.
type Week struct {
	Seconds float64 // s in which the shop is open; hours of several shifts at once count once
	Shifts  int     // as many shifts as shifts_per_year counts in it (usualShift)
	Hands   []Hands // who is on duty, the most first; they sum up to Seconds
}

// Hands is for how long so many operators are on duty together.
type Hands struct {
	Operators float64
	Seconds   float64 // s a week
}

// usualShift is about how long one crew works on a day, in h: the hours of a day
// count as as many shifts as come nearest to it each, one at least. So up to 12 h are one
// shift, up to 20 h two, and around the clock three. Common practice, no published source.
const usualShift = 8

// dayMinutes and weekMinutes are what a day and a week have: shifts begin and end
// on whole minutes.
const (
	dayMinutes  = 24 * 60
	weekMinutes = 7 * dayMinutes
)

// Week lays the shifts side by side.
func (w *Workshop) Week() Week {
	operators := make([]float64, weekMinutes)
	var opened [7]int // minutes, by the day on which their shift begins
	for day := range 7 {
		for i := range w.Shift {
			s := &w.Shift[i]
			if !s.on(time.Weekday(day)) {
				continue
			}
			from, _ := clockTime(s.From)
			begin := day*dayMinutes + int(from.Minutes())
			end := begin + int(s.Seconds())/60
			for k := begin; k < end; k++ {
				at := k % weekMinutes
				if operators[at] == 0 {
					opened[day]++
				}
				operators[at] += s.Operators
			}
		}
	}
	var out Week
	for _, minutes := range opened {
		if minutes > 0 {
			hours := float64(minutes) / 60
			out.Shifts += max(1, int(math.Ceil(hours/usualShift-.5)))
		}
	}
	by := map[float64]float64{}
	for _, n := range operators {
		if n > 0 {
			by[n] += 60
			out.Seconds += 60
		}
	}
	for n, seconds := range by {
		out.Hands = append(out.Hands, Hands{n, seconds})
	}
	slices.SortFunc(out.Hands, func(a, b Hands) int { return cmp.Compare(b.Operators, a.Operators) })
	return out
}

// on reports whether the shift begins on a day of the week.
func (h *ShiftHours) on(day time.Weekday) bool {
	return len(h.Days) == 0 ||
		slices.ContainsFunc(h.Days, func(d string) bool { return weekdays[strings.ToLower(d)] == day })
}

// ShiftHours is the length of the week's mean shift, in h: what a machine's year is
// reckoned from, with shifts_per_year. 0 without shifts.
func (w Week) ShiftHours() float64 {
	if w.Shifts == 0 {
		return 0
	}
	return w.Seconds / float64(w.Shifts) / 3600
}

// Operators is how many are on duty in the mean of the week's open hours.
func (w Week) Operators() float64 {
	sum := 0.0
	for _, h := range w.Hands {
		sum += h.Operators * h.Seconds
	}
	if w.Seconds == 0 {
		return 0
	}
	return sum / w.Seconds
}
