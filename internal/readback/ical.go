package readback

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/emersion/go-ical"
)

// Appointment is an appointment of a calendar.
type Appointment struct {
	UID, Summary string
	From, To     time.Time
}

// ICS is what stands in a calendar file, which must be one calendar by RFC 5545
// with nothing after it: every appointment with its own UID, a stamp, and an
// end that is not before its beginning.
func ICS(t testing.TB, file []byte) (all []Appointment) {
	t.Helper()
	dec := ical.NewDecoder(bytes.NewReader(file))
	cal, err := dec.Decode()
	if err != nil {
		t.Fatalf("the calendar cannot be read: %v", err)
	}
	if _, err := dec.Decode(); !errors.Is(err, io.EOF) {
		t.Errorf("something stands after the calendar: %v", err)
	}
	// To write it again checks what an appointment must have, and may have once.
	if err := ical.NewEncoder(io.Discard).Encode(cal); err != nil {
		t.Errorf("the calendar is not by the standard: %v", err)
	}
	seen := map[string]bool{}
	for _, e := range cal.Events() {
		a := Appointment{}
		if a.UID, err = e.Props.Text(ical.PropUID); err != nil || a.UID == "" || seen[a.UID] {
			t.Errorf("an appointment has the UID %q, which is none, or another's: %v", a.UID, err)
		}
		seen[a.UID] = true
		if a.Summary, err = e.Props.Text(ical.PropSummary); err != nil {
			t.Errorf("%s: %v", a.UID, err)
		}
		if stamp, err := e.Props.DateTime(ical.PropDateTimeStamp, time.UTC); err != nil || stamp.IsZero() {
			t.Errorf("%s has no time at which it was written: %v", a.UID, err)
		}
		var errs [2]error
		a.From, errs[0] = e.DateTimeStart(time.UTC)
		a.To, errs[1] = e.DateTimeEnd(time.UTC)
		if err := errors.Join(errs[:]...); err != nil || a.From.IsZero() || a.To.Before(a.From) {
			t.Errorf("%s is from %v to %v: %v", a.UID, a.From, a.To, err)
		}
		all = append(all, a)
	}
	return all
}
