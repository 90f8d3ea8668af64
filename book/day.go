package book

import (
	"fmt"
	"time"
)

// Day is a day as orders keep it.
func Day(t time.Time) string { return t.Format(time.DateOnly) }

// DayTime is the beginning of a kept day in a time zone.
func DayTime(day string, loc *time.Location) (time.Time, error) {
	t, err := time.ParseInLocation(time.DateOnly, day, loc)
	if err != nil {
		return t, fmt.Errorf("%q is not a day; write it as 2026-03-20", day)
	}
	return t, nil
}
