package book

import (
	"errors"

	"needlepace/words"
)

// Approval is the customer's word on a line's sample, which is waited for before
// the line is sewn. All zero: none is needed.
type Approval struct {
	Due   words.Day `json:"due,omitzero" toml:"due"`     // it is expected
	Sent  words.Day `json:"sent,omitzero" toml:"sent"`   // the sample was sent
	Given words.Day `json:"given,omitzero" toml:"given"` // the customer approved
}

// Wanted reports whether the line still waits for it.
func (a Approval) Wanted() bool { return a != (Approval{}) && a.Given.IsZero() }

// From is the first day, as seen on a day, on which the line can be sewn: an
// approval whose day has passed comes on the next day at the earliest. Zero: any
// time. late is the day that passed.
func (a Approval) From(today words.Day) (from, late words.Day) {
	switch {
	case !a.Wanted():
		return a.Given, words.Day{}
	case a.Due.Before(today):
		return today.Add(1), a.Due
	}
	return a.Due, words.Day{}
}

// Check says what is wrong with the days.
func (a Approval) Check() error {
	switch {
	case a.Wanted() && a.Due.IsZero():
		return errors.New("give the day on which the approval is expected")
	case !a.Given.IsZero() && a.Given.Before(a.Sent):
		return errors.New("the sample was approved before it was sent: put one of the days right")
	}
	return nil
}

// Text says how far it is, as seen on a day; nil: none is needed.
func (a Approval) Text(today words.Day) words.Value {
	near := func(d words.Day) words.NearDay { return words.NearDay{Day: d, Today: today} }
	switch {
	case a == (Approval{}):
		return nil
	case !a.Wanted():
		return words.Say("approval.given", words.Args{"day": near(a.Given)})
	case a.Sent.IsZero():
		return words.Say("approval.to-send", words.Args{"due": near(a.Due)})
	case a.Due.Before(today):
		return words.Say("approval.late", words.Args{"sent": near(a.Sent), "due": near(a.Due)})
	}
	return words.Say("approval.sent", words.Args{"sent": near(a.Sent), "due": near(a.Due)})
}
