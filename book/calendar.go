package book

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"needlepace/plan"
	"needlepace/words"
)

// Location is the shop's time zone.
func (w *Workshop) Location() *time.Location {
	loc, err := time.LoadLocation(w.Zone)
	if err != nil { // checked
		return time.UTC
	}
	return loc
}

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
	zone, _ := words.LoadZone(w.Zone) // checked
	c := &plan.Calendar{Zone: zone}
	for _, s := range w.Shift {
		from, _ := clockTime(s.From)
		to, _ := clockTime(s.To)
		sh := plan.Shift{From: words.TimeOfDay(from), To: words.TimeOfDay(to), Operators: s.Operators}
		for _, d := range s.Days {
			sh.Days = append(sh.Days, weekdays[strings.ToLower(d)])
		}
		c.Shifts = append(c.Shifts, sh)
	}
	for _, d := range w.Holidays {
		if day, err := words.ParseDay(d); err == nil {
			c.Holidays = append(c.Holidays, day)
		}
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
func (w *Workshop) DueTime(day string) (time.Time, error) {
	t, err := DayTime(day, w.Location())
	if err != nil {
		return t, err
	}
	by, _ := clockTime(w.ReadyBy)
	y, m, d := t.Date()
	return time.Date(y, m, d-w.HandOver, int(by/time.Hour), int(by%time.Hour/time.Minute), 0, 0, w.Location()), nil
}

// DayFor is the day that may be promised for pieces sewn at t.
func (w *Workshop) DayFor(t time.Time) string {
	loc := w.Location()
	t = t.In(loc)
	by, _ := clockTime(w.ReadyBy)
	y, m, d := t.Date()
	// Sewn after the hour is out on the next working day.
	if t.After(time.Date(y, m, d, int(by/time.Hour), int(by%time.Hour/time.Minute), 0, 0, loc)) {
		d++
	}
	day := time.Date(y, m, d+w.HandOver, 0, 0, 0, 0, loc)
	for range 60 {
		if w.Works(day) {
			break
		}
		day = day.AddDate(0, 0, 1)
	}
	return Day(day)
}

// Works reports whether some shift begins on a day.
func (w *Workshop) Works(day time.Time) bool {
	if slices.Contains(w.Holidays, Day(day)) {
		return false
	}
	for _, s := range w.Shift {
		on := func(d string) bool { return weekdays[strings.ToLower(d)] == day.Weekday() }
		if len(s.Days) == 0 || slices.ContainsFunc(s.Days, on) {
			return true
		}
	}
	return false
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
		if Day(s.From.In(w.Location())) <= Day(until.In(w.Location())) {
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
			return fmt.Errorf("with %g operators fewer nobody is left in the shift from %s to %s", -operators, s.From, s.To)
		}
	}
	return w.check()
}
