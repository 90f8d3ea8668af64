package serve

import (
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// When writes days and times of orders and plans by the shop's clocks.
type When struct {
	W   *words.Writer
	Now time.Time // by the shop's clocks
}

// When gives the shop's days and its workshop.
func (c *Call) When() (When, *book.Workshop, error) {
	w, _, err := c.Shop.Setups.Workshop(c.Ctx)
	if err != nil {
		return When{}, nil, err
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return When{}, nil, err
	}
	writer := &words.Writer{Language: c.speaks(), Zone: w.Zone, Inch: set.Length == "inch", Hours12: set.Hours == "12"}
	return When{writer, w.Zone.In(c.Now())}, w, nil
}

// Day is a day of the week and the month; the year where it is another.
func (d When) Day(t time.Time) string { return d.near(d.W.Zone.Day(t)) }

func (d When) near(day words.Day) string {
	return words.NearDay{Day: day, Today: d.W.Zone.Day(d.Now)}.Text(d.W)
}

// At is a day with the time.
func (d When) At(t time.Time) string { return d.W.Zone.Near(t, d.Now).Text(d.W) }

// Typed is an instant that a form or a file has, "2026-03-04 13:00" by the shop's
// clocks, as a day with the time; a text that is none as it is.
func (d When) Typed(s string) string {
	t, err := time.ParseInLocation("2006-01-02 15:04", strings.Replace(s, "T", " ", 1), d.W.Zone.Location())
	if err != nil {
		return s
	}
	return d.At(t)
}

// Clock is a time of day.
func (d When) Clock(t time.Time) string { return d.W.Zone.ClockAt(t).Text(d.W) }

// Kept is a day of an order, for reading.
func (d When) Kept(day words.Day) string {
	if day.IsZero() {
		return words.None{}.Text(d.W)
	}
	return d.near(day)
}

// File is an instant for a file: RFC 3339 by the shop's clocks.
func (d When) File(t time.Time) string { return d.W.Zone.Moment(t).Raw() }

// Today is today in the shop.
func (d When) Today() words.Day { return d.W.Zone.Day(d.Now) }

// Local is a time for an input of type datetime-local.
func (d When) Local(t time.Time) string { return d.W.Zone.In(t).Format("2006-01-02T15:04") }
