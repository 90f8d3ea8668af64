package answer

import (
	"context"
	"time"

	"needlepace/act"
	"needlepace/book"
)

// When writes days and times of orders and plans in the workshop's time zone.
type When struct {
	Loc    *time.Location
	Now    time.Time
	Twelve bool // hours from 1 to 12, am and pm
}

// ShopTime gives the shop's days and its workshop.
func ShopTime(ctx context.Context, s *act.Shop, now time.Time) (When, *book.Workshop, error) {
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return When{}, nil, err
	}
	set, err := s.Settings.Get(ctx)
	if err != nil {
		return When{}, nil, err
	}
	return When{w.Location(), now.In(w.Location()), set.Hours == "12"}, w, nil
}

// Day is a day of the week and the month; the year where it is another.
func (d When) Day(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	t = t.In(d.Loc)
	if t.Year() != d.Now.Year() {
		return t.Format("Mon 2 Jan 2006")
	}
	return t.Format("Mon 2 Jan")
}

// At is a day with the time.
func (d When) At(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return d.Day(t) + ", " + d.Clock(t)
}

// Clock is a time of day.
func (d When) Clock(t time.Time) string {
	if d.Twelve {
		return t.In(d.Loc).Format("3:04 pm")
	}
	return t.In(d.Loc).Format("15:04")
}

// Kept is a day as orders keep it (2026-03-20), for reading.
func (d When) Kept(day string) string {
	t, err := time.ParseInLocation(time.DateOnly, day, d.Loc)
	if err != nil {
		return "–"
	}
	return d.Day(t)
}

// Today is today as orders keep days.
func (d When) Today() string { return book.Day(d.Now) }

// Local is a time for an input of type datetime-local.
func (d When) Local(t time.Time) string { return t.In(d.Loc).Format("2006-01-02T15:04") }
