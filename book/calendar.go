package book

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"needlepace/plan"
	"needlepace/words"
)

// Location is the shop's time zone as package time knows it.
func (w *Workshop) Location() *time.Location { return w.Zone.Location() }

// clockTime reads 07:00 as time since midnight; 24:00 is the day's end.
func clockTime(s string) (time.Duration, bool) {
	if s == "24:00" {
		return 24 * time.Hour, true
	}
	t, err := time.Parse("15:04", s)
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, err == nil
}

func wallTime(s string, loc *time.Location) (time.Time, error) {
	t, err := time.ParseInLocation("2006-01-02 15:04", strings.Replace(s, "T", " ", 1), loc)
	if err != nil {
		t, err = time.ParseInLocation(time.DateOnly, s, loc)
	}
	return t, err
}

// WallTime reads 2026-03-04 13:00, or a day alone, in the shop's time zone.
func (w *Workshop) WallTime(s string) (time.Time, error) {
	t, err := wallTime(s, w.Location())
	if err != nil {
		return t, fmt.Errorf("%q is no time; write it as 2026-03-04 13:00", s)
	}
	return t, nil
}

// Calendar is when a machine, by its ID or name, works: the shifts without the
// holidays and its down times. With no name it is when the shop works.
func (w *Workshop) Calendar(name string) *plan.Calendar {
	loc := w.Location()
	c := &plan.Calendar{Zone: w.Zone, Holidays: w.Holidays}
	for _, s := range w.Shift {
		from, _ := clockTime(s.From)
		to, _ := clockTime(s.To)
		sh := plan.Shift{From: words.TimeOfDay(from), To: words.TimeOfDay(to), Operators: s.Operators}
		for _, d := range s.Days {
			sh.Days = append(sh.Days, weekdays[strings.ToLower(d)])
		}
		c.Shifts = append(c.Shifts, sh)
	}
	for _, d := range w.Down {
		if d.Machine != "" && d.Machine != name && (d.ID == "" || d.ID != name) {
			continue
		}
		from, _ := wallTime(d.From, loc)
		to, _ := wallTime(d.To, loc)
		c.Closed = append(c.Closed, plan.TimeSpan{From: from, To: to})
	}
	return c
}

// DueTime is the moment by which a line due on a day must be sewn.
func (w *Workshop) DueTime(day words.Day) time.Time {
	return w.Zone.At(day.Add(-w.HandOver), w.readyBy())
}

func (w *Workshop) readyBy() words.TimeOfDay {
	by, _ := clockTime(w.ReadyBy) // checked
	return words.TimeOfDay(by)
}

// DayFor is the day that may be promised for pieces sewn at t.
func (w *Workshop) DayFor(t time.Time) words.Day {
	day := w.Zone.Day(t)
	if t.After(w.Zone.At(day, w.readyBy())) { // out on the next working day
		day = day.Add(1)
	}
	day = day.Add(w.HandOver)
	for range 60 {
		if w.Works(day) {
			break
		}
		day = day.Add(1)
	}
	return day
}

// Works reports whether some shift begins on a day.
func (w *Workshop) Works(day words.Day) bool {
	if slices.Contains(w.Holidays, day) {
		return false
	}
	return slices.ContainsFunc(w.Shift, func(s ShiftHours) bool { return s.on(day.Weekday()) })
}

// Span is a stretch of time.
type Span struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// OpenHours are the stretches in which the shop works, from a time on until the
// end of another day.
func (w *Workshop) OpenHours(from, until time.Time) []Span {
	out := []Span{}
	days := int(until.Sub(from)/(24*time.Hour)) + 2
	at := func(seconds float64) time.Time { return from.Add(time.Duration(seconds * float64(time.Second))) }
	for _, x := range w.Calendar("").Windows(from, min(max(days, 1), w.Horizon)) {
		s := Span{at(x.From), at(x.To)}
		if !w.Zone.Day(s.From).After(w.Zone.Day(until)) {
			out = append(out, s)
		}
	}
	return out
}

// Suppose changes a workshop to how things might be: more down times, more
// shifts, more (or, below 0, fewer) operators in every shift.
func (w *Workshop) Suppose(down []DownTime, shifts []ShiftHours, operators float64) error {
	w.Down = append(slices.Clone(w.Down), down...)
	w.Shift = append(slices.Clone(w.Shift), shifts...)
	for i := range w.Shift {
		s := &w.Shift[i]
		s.Operators += operators
		if s.Operators <= 0 {
			return fmt.Errorf("with %g operators fewer nobody is left in the shift from %s to %s", -operators, s.From,
				s.To)
		}
	}
	return w.check()
}
