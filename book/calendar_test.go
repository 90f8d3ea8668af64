package book

import (
	"strings"
	"testing"
	"time"

	"needlepace/plan"
	"needlepace/words"
)

const lateHours = `
time_zone = "Europe/Lisbon"
holidays = ["2026-03-04"]
ready_by = "13:45"
days_to_hand_over = 2
[[shift]]
days = ["Mon", "wed"]
from = "06:30"
to = "14:45"
operators = 2
[[shift]]
from = "18:15"
to = "24:00"
operators = 1
[[down]]
machine = "Gannet"
from = "2026-03-05 20:00"
to = "2026-03-05 21:30"
[[down]]
from = "2026-03-06"
to = "2026-03-07"
`

func moment(t *testing.T, w *Workshop, s string) time.Time {
	t.Helper()
	at, err := w.WallTime(s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// opened are the windows of a calendar as times by the shop's clocks.
func opened(w *Workshop, c *plan.Calendar, from time.Time, days int) (out []string) {
	for _, x := range c.Windows(from, days) {
		at := func(s float64) string {
			return from.Add(time.Duration(s * float64(time.Second))).In(w.Location()).Format("02 15:04")
		}
		out = append(out, at(x.From)+"–"+at(x.To))
	}
	return out
}

func TestCalendarsHaveShiftsWithoutHolidaysAndDownTimes(t *testing.T) {
	w := workshopOf(t, lateHours)
	from := moment(t, w, "2026-03-02 00:00") // Monday
	all := []string{"02 06:30–02 14:45", "02 18:15–03 00:00", "03 18:15–04 00:00", "05 18:15–06 00:00", "07 18:15–08 00:00"}
	for _, c := range []struct {
		machine string
		want    []string
	}{
		{"", all}, {"Skipper", all},
		{"Gannet", []string{"02 06:30–02 14:45", "02 18:15–03 00:00", "03 18:15–04 00:00", "05 18:15–05 20:00", "05 21:30–06 00:00", "07 18:15–08 00:00"}},
	} {
		if got := opened(w, w.Calendar(c.machine), from, 6); strings.Join(got, " ") != strings.Join(c.want, " ") {
			t.Errorf("%q works %q, want %q", c.machine, got, c.want)
		}
	}
	shifts := w.Calendar("").Shifts
	minutes := func(h, m int) words.TimeOfDay {
		return words.TimeOfDay(time.Duration(h)*time.Hour + time.Duration(m)*time.Minute)
	}
	if shifts[0].From != minutes(6, 30) || shifts[0].To != minutes(14, 45) || shifts[1].To != minutes(24, 0) || shifts[0].Operators != 2 {
		t.Errorf("%+v", shifts)
	}
}

func TestADownTimeMayMeanAMachineByItsID(t *testing.T) {
	w := workshopOf(t, lateHours)
	if err := w.Suppose([]DownTime{{Machine: "two of a name", ID: "id-2", From: "2026-03-02 18:15", To: "2026-03-02 20:15"}}, nil, 0); err != nil {
		t.Fatal(err)
	}
	from := moment(t, w, "2026-03-02 12:00")
	for name, want := range map[string]string{"id-2": "02 20:15–03 00:00", "id-1": "02 18:15–03 00:00", "": "02 18:15–03 00:00"} {
		if got := opened(w, w.Calendar(name), from, 1); len(got) != 2 || got[1] != want {
			t.Errorf("%q: %q, want %s", name, got, want)
		}
	}
}

func TestDueAndPromisedDaysAgreeToTheMinute(t *testing.T) {
	w := workshopOf(t, lateHours)
	for _, c := range []struct{ day, due string }{
		{"2026-03-05", "2026-03-03 13:45"}, // two days earlier, by the hour of the day
		{"2026-04-01", "2026-03-30 13:45"}, // the day after the clocks change
		{"2026-03-01", "2026-02-27 13:45"}, // over the end of a month
	} {
		if got := w.DueTime(dayOf(t, c.day)); !got.Equal(moment(t, w, c.due)) {
			t.Errorf("wanted %s: due %v, want %s", c.day, got, c.due)
		}
	}
	for _, c := range []struct{ sewn, day string }{
		{"2026-03-03 13:45", "2026-03-05"}, // in the very minute
		{"2026-03-03 13:46", "2026-03-06"}, // a minute later: a day later
		{"2026-03-03 00:00", "2026-03-05"},
		{"2026-03-03 23:59", "2026-03-06"},
		{"2026-03-02 12:00", "2026-03-05"}, // Wednesday, the fourth, is a holiday
		{"2026-02-27 13:00", "2026-03-01"}, // some shift works every day
	} {
		if got := w.DayFor(moment(t, w, c.sewn)); got.String() != c.day {
			t.Errorf("sewn %s: promised for %s, want %s", c.sewn, got, c.day)
		}
	}
}

func TestAnInstantIsADayByTheShopsClocks(t *testing.T) {
	w := workshopOf(t, lateHours)
	// Half past eleven at night in UTC on 30 June is the first of July in Lisbon.
	at := time.Date(2026, 6, 30, 23, 30, 0, 0, time.UTC)
	if got := w.DayFor(at); got.String() != "2026-07-03" {
		t.Errorf("sewn at half past midnight of 1 July by the shop's clocks: promised for %s", got)
	}
}

func TestDaysWithoutAShiftAreNoWorkingDays(t *testing.T) {
	w := workshopOf(t, hours) // weekdays alone
	for day, works := range map[string]bool{
		"2026-03-02": true, "2026-03-06": true, "2026-03-07": false, "2026-03-08": false, "2026-03-09": false, "2026-03-10": true,
	} {
		if got := w.Works(dayOf(t, day)); got != works {
			t.Errorf("%s is a working day: %v", day, got)
		}
	}
}

func TestOpenHoursEndWithTheDayAskedFor(t *testing.T) {
	w := workshopOf(t, hours)
	from := moment(t, w, "2026-03-02 12:30")
	for until, want := range map[string]int{"2026-03-02 12:30": 1, "2026-03-02 23:00": 1, "2026-03-03 01:00": 2, "2026-03-08 10:00": 5, "2026-03-10 06:59": 6} {
		got := w.OpenHours(from, moment(t, w, until))
		if len(got) != want {
			t.Errorf("until %s: %v, want %d stretches", until, got, want)
			continue
		}
		if !got[0].From.Equal(from) || !got[0].To.Equal(moment(t, w, "2026-03-02 15:30")) {
			t.Errorf("until %s: the first is %v", until, got[0])
		}
	}
}

func TestNobodyLeftIsNoShift(t *testing.T) {
	w := workshopOf(t, hours) // two operators
	try := *w
	if err := try.Suppose(nil, nil, -1.5); err != nil || try.Shift[0].Operators != 0.5 {
		t.Errorf("%v, %+v", err, try.Shift)
	}
	try = *w
	if err := try.Suppose(nil, nil, -2); err == nil || !strings.Contains(err.Error(), "with 2 operators fewer nobody is left in the shift from 07:00 to 15:30") {
		t.Error(err)
	}
}

func TestTimesOfDayAreReadToTheMinute(t *testing.T) {
	for s, want := range map[string]time.Duration{"00:00": 0, "07:05": 7*time.Hour + 5*time.Minute, "23:59": 24*time.Hour - time.Minute, "24:00": 24 * time.Hour} {
		if got, ok := clockTime(s); !ok || got != want {
			t.Errorf("%s is %v (%v)", s, got, ok)
		}
	}
	for _, s := range []string{"", "7", "24:01", "25:00", "07:60", "noon"} {
		if got, ok := clockTime(s); ok {
			t.Errorf("%q is %v", s, got)
		}
	}
	w := workshopOf(t, hours)
	if a, b := moment(t, w, "2026-03-04T13:05"), moment(t, w, "2026-03-04 13:05"); !a.Equal(b) || a.Hour() != 13 || a.Minute() != 5 {
		t.Errorf("%v, %v", a, b)
	}
	if _, err := w.WallTime("soon"); err == nil {
		t.Error("soon is a time")
	}
}

func dayOf(t *testing.T, s string) words.Day {
	t.Helper()
	d, err := words.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// A shift that ends when it begins goes around the clock; one that ends earlier
// ends on the next day.
func TestAShiftsLengthGoesOverMidnight(t *testing.T) {
	for _, c := range []struct {
		from, to string
		hours    float64
	}{{"07:00", "15:30", 8.5}, {"22:00", "06:00", 8}, {"07:00", "07:00", 24}, {"00:00", "24:00", 24}, {"06:59", "07:00", 1. / 60}} {
		h := ShiftHours{From: c.from, To: c.to}
		if got := h.Seconds(); got != c.hours*3600 {
			t.Errorf("%s to %s lasts %v s, want %v h", c.from, c.to, got, c.hours)
		}
	}
}
