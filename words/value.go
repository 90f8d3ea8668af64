package words

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Value is a figure (or a name, a day, a sentence) that knows its unit and its
// rounding.
type Value interface {
	// Text is for people, in the writer's language, zone and units.
	Text(w *Writer) string
	// Raw is for files: the plain figure in the unit that its type names, with
	// the same digits as in JSON; "" where there is none.
	Raw() string
}

// Numeric is a Value that is a number: set right in a table, a number in a
// workbook.
type Numeric interface {
	Value
	Float() float64
}

// none is what stands where a figure is not known.
const none = "–"

func unknown(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }

// raw is the shortest decimal text that is v; "" where v is no number.
func raw(v float64) string {
	if unknown(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// None is a figure that nobody knows, or that there is none of: –.
type None struct{}

// Text is a dash.
func (None) Text(*Writer) string { return none }

// Raw is empty.
func (None) Raw() string { return "" }

// Name is a name, or other text from outside that no language changes.
type Name string

// Text is the name; a dash for an empty one.
func (n Name) Text(*Writer) string {
	if n == "" {
		return none
	}
	return string(n)
}

// Raw is the name.
func (n Name) Raw() string { return string(n) }

// List is several values in a row: a, b and c.
type List []Value

// Say adds the sentence under a key, as [Say] makes it.
func (l *List) Say(key string, args ...Args) { *l = append(*l, Say(key, args...)) }

// asides are what stands in brackets: commas there part nothing.
var asides = regexp.MustCompile(`\([^()]*\)`)

// Text joins the values as the language does, those that have commas themselves by its heavier sign.
func (l List) Text(w *Writer) string {
	if len(l) == 0 {
		return none
	}
	texts := make([]string, len(l))
	more, last := "list.more", "list.last"
	for i, v := range l {
		if texts[i] = v.Text(w); strings.Contains(asides.ReplaceAllString(texts[i], ""), ", ") {
			more, last = "list.heavy", "list.heavy-last"
		}
	}
	s := texts[0]
	for i, text := range texts[1:] {
		key := more
		if i+2 == len(l) {
			key = last
		}
		s = w.language().fill(key, "a", s, "b", text)
	}
	return s
}

// Raw joins the values with semicolons.
func (l List) Raw() string {
	s := ""
	for i, v := range l {
		if i > 0 {
			s += "; "
		}
		s += v.Raw()
	}
	return s
}

// Writer says how a reader wants figures. The zero Writer is English, UTC,
// millimetres and 24 hours; so is a nil one.
type Writer struct {
	Language *Language // nil: English
	Zone     Zone      // the shop's
	Inch     bool      // lengths in inches
	Hours12  bool      // 2:05 pm for 14:05
}

func (w *Writer) language() *Language {
	if w == nil || w.Language == nil {
		return English()
	}
	return w.Language
}

// Tag is the language's name as in HTML's lang: en.
func (w *Writer) Tag() string { return w.language().Tag.String() }

func (w *Writer) zone() Zone {
	if w == nil {
		return Zone{}
	}
	return w.Zone
}

func (w *Writer) inch() bool    { return w != nil && w.Inch }
func (w *Writer) hours12() bool { return w != nil && w.Hours12 }

// Moment is an instant: 20 Mar 2026, 14:05. Make it with [Zone.Moment], so that
// files get it in the shop's zone.
type Moment struct{ time.Time }

// Text is day and time of day in the writer's zone, without a writer in the zone that the moment was made in; a dash
// for no instant.
func (m Moment) Text(w *Writer) string {
	if m.IsZero() {
		return none
	}
	z := m.zone(w)
	t := z.In(m.Time)
	return w.language().fill("day.moment", "day", z.Day(t).Text(w), "time", timeOfDay(t).Text(w))
}

func (m Moment) zone(w *Writer) Zone {
	if w == nil {
		return Zone{m.Instant().Location()}
	}
	return w.zone()
}

// Raw is RFC 3339 in the zone that the moment was made in, never in the process's.
func (m Moment) Raw() string {
	if m.IsZero() {
		return ""
	}
	return inNoLocal(m.Time).Format(time.RFC3339)
}

// Instant is the instant, by the clocks of the zone that it was made in.
func (m Moment) Instant() time.Time { return inNoLocal(m.Time) }

// NearMoment is an instant near today, by its weekday: Fri 20 Mar, 14:05. Make
// it with [Zone.Near].
type NearMoment struct {
	Moment
	Now time.Time
}

// Text is day and time of day in the writer's zone; a dash for no instant.
func (m NearMoment) Text(w *Writer) string {
	if m.IsZero() {
		return none
	}
	z := m.zone(w)
	t := z.In(m.Time)
	day := NearDay{z.Day(t), z.Day(m.Now)}
	return w.language().fill("day.moment", "day", day.Text(w), "time", timeOfDay(t).Text(w))
}

// TimeOfDay is a time by the wall clock, since midnight: 14:05 or 2:05 pm. 24
// hours are the day's end.
type TimeOfDay time.Duration

// ClockAt is the time of day that the zone's clocks show at an instant.
func (z Zone) ClockAt(t time.Time) TimeOfDay { return timeOfDay(z.In(t)) }

func timeOfDay(t time.Time) TimeOfDay {
	h, m, s := t.Clock()
	return TimeOfDay(time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second)
}

// Text is to the minute, cut off: a shift that begins at 14:05:59 has begun at 14:05.
func (t TimeOfDay) Text(w *Writer) string {
	n := int64(time.Duration(t) / time.Minute)
	if !w.hours12() {
		return string(twoDigits(append(twoDigits(nil, n/60), ':'), n%60))
	}
	key := "day.am"
	if n/60%24 >= 12 {
		key = "day.pm"
	}
	h := (n/60+11)%12 + 1
	return w.language().fill(key, "time", string(twoDigits(append(strconv.AppendInt(nil, h, 10), ':'), n%60)))
}

// ParseTimeOfDay reads 14:05.
func ParseTimeOfDay(s string) (TimeOfDay, error) {
	t, err := time.Parse("15:04", s)
	if err != nil {
		return 0, fmt.Errorf("%q is no time of day; write it as 14:05", s)
	}
	return timeOfDay(t), nil
}

// Raw is 14:05.
func (t TimeOfDay) Raw() string { return t.Text(nil) }

// twoDigits appends n with at least two digits.
func twoDigits(b []byte, n int64) []byte {
	if n < 10 {
		b = append(b, '0')
	}
	return strconv.AppendInt(b, n, 10)
}
