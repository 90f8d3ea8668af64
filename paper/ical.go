package paper

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
)

// Calendar is a list of appointments for another program: the plan's lots.
type Calendar struct {
	Name   string
	Note   string    // about all of it, e.g. that it is out of date; said with each event too
	Made   time.Time // DTSTAMP: when this was written
	Events []Event
}

// Event is one appointment.
type Event struct {
	UID         string // stays the same for the same lot, so that a new export moves it; unique
	Start, End  time.Time
	Summary     string
	Description string
	Location    string
	URL         string
	Categories  []string
}

// ICS writes the calendar as iCalendar (RFC 5545): times in UTC, lines folded at
// 75 octets and ended by CR LF, text escaped. An event without UID, with an
// end before its start, or with the UID of another is refused.
func (c *Calendar) ICS(w io.Writer) error {
	if c.Made.IsZero() {
		return errors.New("a calendar needs the time it is made at")
	}
	cal := ics.NewCalendarFor("needlepace")
	cal.SetProductId("-//needlepace//plan//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetCalscale("GREGORIAN")
	if c.Name != "" {
		cal.SetXWRCalName(oneText(c.Name))
	}
	if c.Note != "" {
		cal.SetXWRCalDesc(oneText(c.Note))
	}
	seen := map[string]bool{}
	for i := range c.Events {
		e := &c.Events[i]
		switch {
		case e.UID == "":
			return fmt.Errorf("calendar event %d (%s) has no UID", i+1, e.Summary)
		case seen[e.UID]:
			return fmt.Errorf("calendar event %d (%s) has the UID %s of another event", i+1, e.Summary, e.UID)
		case e.Start.IsZero() || e.End.Before(e.Start):
			return fmt.Errorf("calendar event %s (%s) ends before it begins", e.UID, e.Summary)
		}
		seen[e.UID] = true
		v := cal.AddEvent(oneText(e.UID))
		v.SetDtStampTime(c.Made)
		v.SetStartAt(e.Start)
		// One that takes no time has no end: it is then its beginning (3.6.1), and an end must be later (3.8.2.2).
		if e.End.Truncate(time.Second).After(e.Start.Truncate(time.Second)) {
			v.SetEndAt(e.End)
		}
		v.SetSummary(oneText(e.Summary))
		if said := strings.TrimSpace(e.Description + "\n" + c.Note); said != "" {
			v.SetDescription(oneText(said))
		}
		if e.Location != "" {
			v.SetLocation(oneText(e.Location))
		}
		if e.URL != "" {
			v.SetURL(e.URL)
		}
		for _, k := range e.Categories {
			v.AddCategory(oneText(k))
		}
	}
	return cal.SerializeTo(w, ics.WithNewLineWindows)
}
