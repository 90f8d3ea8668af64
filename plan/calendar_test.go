package plan

import (
	"slices"
	"testing"
	"time"

	"needlepace/words"
)

func zone(t *testing.T, name string) words.Zone {
	t.Helper()
	z, err := words.LoadZone(name)
	if err != nil {
		t.Skip(err)
	}
	return z
}

// clock is a time of day.
func clock(hour, minute int) words.TimeOfDay {
	return words.TimeOfDay(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
}

// open writes a calendar's windows as day and time of day: 27 10:00–27 14:00.
func open(c *Calendar, origin time.Time, days int) (out []string) {
	for _, w := range c.Windows(origin, days) {
		at := func(s float64) string {
			return c.Zone.In(origin.Add(time.Duration(s * float64(time.Second)))).Format("02 15:04")
		}
		out = append(out, at(w.From)+"–"+at(w.To))
	}
	return out
}

func wantOpen(t *testing.T, c *Calendar, origin time.Time, days int, want ...string) {
	t.Helper()
	if got := open(c, origin, days); !slices.Equal(got, want) {
		t.Errorf("windows %q, want %q", got, want)
	}
}

func TestCalendarWindows(t *testing.T) {
	z := zone(t, "Europe/Berlin")
	c := Calendar{
		Zone: z,
		Shifts: []Shift{
			{Days: []time.Weekday{time.Friday, time.Monday, time.Tuesday}, From: clock(6, 0), To: clock(14, 0)},
			{Days: []time.Weekday{time.Friday}, From: clock(22, 0), To: clock(6, 0)},
		},
		Holidays: []words.Day{words.NewDay(2026, time.March, 31)},
		Closed: []TimeSpan{{time.Date(2026, 3, 30, 8, 0, 0, 0, z.Location()),
			time.Date(2026, 3, 30, 9, 0, 0, 0, z.Location())}},
	}
	origin := time.Date(2026, 3, 27, 10, 0, 0, 0, z.Location()) // Friday; the clocks change on Sunday
	wantOpen(t, &c, origin, 6, "27 10:00–27 14:00", "27 22:00–28 06:00", "30 06:00–30 08:00", "30 09:00–30 14:00")
}

func TestAShiftThatEndsWhenItBeginsGoesAroundTheClock(t *testing.T) {
	seven := clock(7, 0)
	origin := time.Date(2026, 3, 4, 9, 30, 0, 0, time.UTC) // Wednesday
	every := Calendar{Shifts: []Shift{{From: seven, To: seven, Operators: 2}}}
	wantOpen(t, &every, origin, 3, "04 09:30–07 07:00")
	wednesdays := Calendar{Shifts: []Shift{{Days: []time.Weekday{time.Wednesday}, From: seven, To: seven}}}
	wantOpen(t, &wednesdays, origin, 3, "04 09:30–05 07:00")
	people := every.Presences(origin, 1)
	if len(people) != 1 || people[0] != (Presence{0, 21.5 * 3600, 2}) {
		t.Errorf("on duty %v, want two people until seven the next morning", people)
	}
}

func TestLastNightsShiftIsStillOn(t *testing.T) {
	c := Calendar{Shifts: []Shift{{Days: []time.Weekday{time.Tuesday}, From: clock(22, 0), To: clock(6, 15),
		Operators: 1}}}
	origin := time.Date(2026, 3, 4, 2, 0, 0, 0, time.UTC) // the night from Tuesday to Wednesday
	wantOpen(t, &c, origin, 6, "04 02:00–04 06:15")
	wantOpen(t, &c, origin, 7, "04 02:00–04 06:15", "10 22:00–11 06:15")
	if got := c.Presences(origin, 1); len(got) != 1 || got[0] != (Presence{0, 4.25 * 3600, 1}) {
		t.Errorf("on duty %v", got)
	}
	wantOpen(t, &c, time.Date(2026, 3, 4, 6, 15, 0, 0, time.UTC), 1)
}

func TestShiftsBeginByTheWallClockWhenTheClocksChange(t *testing.T) {
	z := zone(t, "Europe/Lisbon")
	nights := Calendar{Zone: z, Shifts: []Shift{{From: clock(22, 30), To: clock(5, 30)}}}
	for _, c := range []struct {
		day   time.Time // the day before the change
		hours float64
	}{
		{time.Date(2026, 3, 28, 12, 0, 0, 0, z.Location()), 6}, // an hour is left out
		{time.Date(2026, 6, 13, 12, 0, 0, 0, z.Location()), 7},
		{time.Date(2026, 10, 24, 12, 0, 0, 0, z.Location()), 8}, // an hour comes twice
	} {
		w := nights.Windows(c.day.UTC(), 1)
		if len(w) != 1 || w[0].To-w[0].From != c.hours*3600 || w[0].From != 10.5*3600 {
			t.Errorf("the night after %v: %v, want %v hours from half past ten", c.day, w, c.hours)
		}
	}
}

func TestAHolidayIsADayAlsoWhereItHasNoMidnight(t *testing.T) {
	z := zone(t, "America/Sao_Paulo") // until 2018 the clocks went from 00:00 to 01:00
	c := Calendar{Zone: z, Shifts: []Shift{{From: clock(8, 0), To: clock(16, 0)}},
		Holidays: []words.Day{words.NewDay(2018, time.November, 4)}}
	wantOpen(t, &c, time.Date(2018, 11, 3, 0, 0, 0, 0, z.Location()), 3, "03 08:00–03 16:00", "05 08:00–05 16:00")
	sundays := Calendar{Zone: z, Shifts: []Shift{{Days: []time.Weekday{time.Sunday}, From: clock(8, 0),
		To: clock(16, 0)}}}
	wantOpen(t, &sundays, time.Date(2018, 11, 3, 0, 0, 0, 0, z.Location()), 3, "04 08:00–04 16:00")
}

func TestShiftsThatMeetOrOverlapAreOneWindow(t *testing.T) {
	origin := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	c := Calendar{Shifts: []Shift{
		{From: clock(14, 0), To: clock(22, 0), Operators: 1}, {From: clock(6, 0), To: clock(14, 0), Operators: 3},
		{From: clock(9, 0), To: clock(11, 0), Operators: 5},
	}}
	wantOpen(t, &c, origin, 1, "04 06:00–04 22:00")
	// The people of both are there.
	if got := c.Presences(origin, 1); len(got) != 3 {
		t.Errorf("on duty %v", got)
	}
}

func TestDownTimesAreCutOut(t *testing.T) {
	origin := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	at := func(h int) time.Time { return origin.Add(time.Duration(h) * time.Hour) }
	for _, c := range []struct {
		what     string
		from, to int
		want     []string
	}{
		{"before the shift", 2, 6, []string{"04 06:00–04 14:00"}},
		{"after it", 14, 20, []string{"04 06:00–04 14:00"}},
		{"of no length", 9, 9, []string{"04 06:00–04 14:00"}},
		{"backwards", 10, 9, []string{"04 06:00–04 14:00"}},
		{"its beginning", 6, 8, []string{"04 08:00–04 14:00"}},
		{"over its beginning", 3, 7, []string{"04 07:00–04 14:00"}},
		{"its end", 13, 14, []string{"04 06:00–04 13:00"}},
		{"in the middle", 9, 10, []string{"04 06:00–04 09:00", "04 10:00–04 14:00"}},
		{"all of it", 6, 14, nil},
		{"more than all", 1, 23, nil},
	} {
		cal := Calendar{Shifts: []Shift{{From: clock(6, 0), To: clock(14, 0)}},
			Closed: []TimeSpan{{at(c.from), at(c.to)}}}
		if got := open(&cal, origin, 1); !slices.Equal(got, c.want) {
			t.Errorf("closed %s: windows %q, want %q", c.what, got, c.want)
		}
	}
	slow := without([]Window{{0, 100, 0.5}}, 40, 60)
	if !slices.Equal(slow, []Window{{0, 40, 0.5}, {60, 100, 0.5}}) {
		t.Errorf("a slow window loses its rate: %v", slow)
	}
}
