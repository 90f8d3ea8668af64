package words

import (
	"fmt"
	"strconv"
	"time"
)

// Day is a day of the calendar, in no zone. Days compare with ==; the zero Day
// is none. As text, in JSON and in TOML it is 2026-03-20, or empty.
type Day struct{ n int32 } // days since 1970-01-01, counted from 1 for that day; 0 none

// NewDay is a day by its date; a date beyond the month's end goes on into the next.
func NewDay(year int, month time.Month, day int) Day {
	return fromUnix(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix())
}

func fromUnix(s int64) Day {
	n := int32(s / 86400)
	if n >= 0 {
		n++ // so that 1970-01-01 is not the zero Day
	}
	return Day{n}
}

// utc is the day's midnight in UTC.
func (d Day) utc() time.Time {
	n := int64(d.n)
	if n > 0 {
		n--
	}
	return time.Unix(n*86400, 0).UTC()
}

// ParseDay reads 2026-03-20; empty text is the zero Day.
func ParseDay(s string) (Day, error) {
	if s == "" {
		return Day{}, nil
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return Day{}, fmt.Errorf("%q is no day; write it as 2026-03-20", s)
	}
	return fromUnix(t.Unix()), nil
}

// GobEncode is the day's text, for programs that help each other.
func (d Day) GobEncode() ([]byte, error) { return d.MarshalText() }

// GobDecode reads what GobEncode wrote.
func (d *Day) GobDecode(b []byte) error { return d.UnmarshalText(b) }

// IsZero reports whether it is no day.
func (d Day) IsZero() bool { return d.n == 0 }

// Equal reports whether both are the same day, as == does.
func (d Day) Equal(e Day) bool { return d == e }

// Compare is −1, 0 or +1 as d lies before, on or after e; no day is before 1970.
func (d Day) Compare(e Day) int {
	switch {
	case d.n < e.n:
		return -1
	case d.n > e.n:
		return 1
	}
	return 0
}

// Before reports whether d lies before e.
func (d Day) Before(e Day) bool { return d.n < e.n }

// After reports whether d lies after e.
func (d Day) After(e Day) bool { return d.n > e.n }

// Date is year, month and day of the month.
func (d Day) Date() (year int, month time.Month, day int) { return d.utc().Date() }

// Weekday is the day of the week.
func (d Day) Weekday() time.Weekday { return d.utc().Weekday() }

// Add is the day n days later; n may be negative. The zero Day stays.
func (d Day) Add(n int) Day {
	if d.IsZero() {
		return d
	}
	return fromUnix(d.utc().Unix() + int64(n)*86400)
}

// Sub is how many days d lies after e.
func (d Day) Sub(e Day) int { return int((d.utc().Unix() - e.utc().Unix()) / 86400) }

// String is 2026-03-20; "" for no day.
func (d Day) String() string {
	if d.IsZero() {
		return ""
	}
	return d.utc().Format(time.DateOnly)
}

// MarshalText writes 2026-03-20.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads 2026-03-20 or nothing.
func (d *Day) UnmarshalText(b []byte) (err error) {
	*d, err = ParseDay(string(b))
	return err
}

// Text is 20 Mar 2026; a dash for no day.
func (d Day) Text(w *Writer) string { return d.said(w, "day.date") }

// Raw is 2026-03-20.
func (d Day) Raw() string { return d.String() }

func (d Day) said(w *Writer, key string) string {
	if d.IsZero() {
		return none
	}
	l := w.language()
	y, m, n := d.Date()
	return l.fill(key, "d", strconv.Itoa(n), "mon", l.months[m-1], "month", l.monthNames[m-1], "yyyy", strconv.Itoa(y),
		"wd", l.weekdays[d.Weekday()], "weekday", l.weekdayNames[d.Weekday()])
}

// NearDay is a day near today, by its weekday: Fri 20 Mar; with the year where
// it is another than today's.
type NearDay struct{ Day, Today Day }

// Text is Fri 20 Mar; a dash for no day.
func (d NearDay) Text(w *Writer) string {
	if d.Today.IsZero() || d.Today.year() == d.Day.year() {
		return d.Day.said(w, "day.near")
	}
	return d.Day.said(w, "day.far")
}

// Raw is 2026-03-20.
func (d NearDay) Raw() string { return d.Day.String() }

func (d Day) year() int {
	y, _, _ := d.Date()
	return y
}

// Weekday is the short name of a day of the week: Fri.
func (w *Writer) Weekday(d time.Weekday) string { return w.language().weekdays[d] }

// FullDay is a day in full: Friday 20 March 2026.
type FullDay struct{ Day }

// Text is Friday 20 March 2026; a dash for no day.
func (d FullDay) Text(w *Writer) string { return d.said(w, "day.full") }

// Zone is the shop's time zone; the zero Zone is UTC. A time of day is shown in
// it, never in the zone of the process.
type Zone struct{ loc *time.Location }

// LoadZone is a zone by its IANA name, e.g. Europe/Lisbon; "" is UTC.
func LoadZone(name string) (Zone, error) {
	loc, err := time.LoadLocation(name)
	if err != nil || name == "Local" { // "Local" would be the zone of the process
		return Zone{}, fmt.Errorf("%q is no time zone known here; write it as Europe/Lisbon, or UTC", name)
	}
	return Zone{loc}, nil
}

// Location is the zone as package time knows it.
func (z Zone) Location() *time.Location {
	if z.loc == nil {
		return time.UTC
	}
	return z.loc
}

// String is the zone's IANA name.
func (z Zone) String() string { return z.Location().String() }

// Equal reports whether both have the same name.
func (z Zone) Equal(y Zone) bool { return z.String() == y.String() }

// MarshalText writes the zone's name.
func (z Zone) MarshalText() ([]byte, error) { return []byte(z.String()), nil }

// UnmarshalText reads a zone's name.
func (z *Zone) UnmarshalText(b []byte) (err error) {
	*z, err = LoadZone(string(b))
	return err
}

// In is an instant by the zone's clocks.
func (z Zone) In(t time.Time) time.Time { return t.In(z.Location()) }

// Day is the day that it is in the zone at an instant; no day for no instant.
func (z Zone) Day(t time.Time) Day {
	if t.IsZero() {
		return Day{}
	}
	y, m, d := z.In(t).Date()
	return NewDay(y, m, d)
}

// At is the instant at which the zone's clocks show a time of day. On the day
// they change, a time that is left out is the one as far after the change.
func (z Zone) At(d Day, at TimeOfDay) time.Time {
	y, m, n := d.Date()
	return time.Date(y, m, n, 0, 0, int(time.Duration(at)/time.Second), 0, z.Location())
}

// Moment is an instant to show, in the zone.
func (z Zone) Moment(t time.Time) Moment {
	if t.IsZero() {
		return Moment{}
	}
	return Moment{z.In(t)}
}

// Near is an instant to show, in the zone, when it is now.
func (z Zone) Near(t, now time.Time) NearMoment { return NearMoment{z.Moment(t), now} }

// inNoLocal is t by the clocks that it carries, by UTC where these are the process's.
func inNoLocal(t time.Time) time.Time {
	if t.Location() == time.Local {
		return t.UTC()
	}
	return t
}
