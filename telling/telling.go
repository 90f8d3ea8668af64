// Package telling reads what machines tell of themselves (docs/machine-events.md): one
// message an event, in JSON. Runs are made of events, however they came: twice, late,
// out of their order, with some missing, by a clock that is wrong.
package telling

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Kind is what a machine tells.
type Kind string

// The kinds of event.
const (
	Started  Kind = "started"
	Counted  Kind = "count"
	Stopped  Kind = "stopped"
	Resumed  Kind = "resumed"
	Finished Kind = "finished"
)

// Cause is why a machine stopped within a run.
type Cause string

// The causes.
const (
	ThreadBreak Cause = "thread_break"
	Bobbin      Cause = "bobbin"
	Colour      Cause = "colour"  // a person changes the thread
	Planned     Cause = "planned" // a stop that the design asks for
	ByHand      Cause = "by_hand"
	Fault       Cause = "fault"
	Unknown     Cause = "unknown"
)

// causes are all of them.
var causes = map[Cause]bool{ThreadBreak: true, Bobbin: true, Colour: true, Planned: true, ByHand: true, Fault: true, Unknown: true}

// Limits on a message.
const (
	MaxBytes  = 8 << 10
	maxStitch = 20_000_000
	maxText   = 64
	maxName   = 200
)

// Form is the form of messages that is read.
const Form = 1

// Event is one thing that a machine told.
type Event struct {
	Form   int       `json:"form"`
	Boot   string    `json:"boot"` // another each time that the machine's counting of Seq begins anew
	Seq    int64     `json:"seq"`  // counts the machine's messages within Boot, from 1
	Kind   Kind      `json:"event"`
	Run    string    `json:"run"`              // the machine's name of the run, which it uses once
	At     time.Time `json:"at,omitzero"`      // by the machine's clock; zero: it has none
	Stitch int       `json:"stitch"`           // sewn of the run
	Design string    `json:"design,omitempty"` // name or ID; of started
	Speed  float64   `json:"speed,omitempty"`  // set, stitches/min; of started; 0: not said
	Cause  Cause     `json:"cause,omitempty"`  // of stopped

	Got time.Time `json:"-"` // when it came, by this program's clock
}

// Parse reads a message that came at got. The error says what is wrong with it.
func Parse(payload []byte, got time.Time) (*Event, error) {
	if len(payload) > MaxBytes {
		return nil, fmt.Errorf("it has %d bytes; at most %d", len(payload), MaxBytes)
	}
	if !utf8.Valid(payload) {
		return nil, errors.New("it is no text in UTF-8")
	}
	var e Event
	d := json.NewDecoder(bytes.NewReader(payload))
	if err := d.Decode(&e); err != nil {
		return nil, fmt.Errorf("it is not the JSON that is asked for: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something comes after its JSON")
	}
	e.Got = got.UTC()
	return &e, e.check()
}

func (e *Event) check() error {
	word := func(key, s string, most int, must bool) error {
		switch {
		case s == "" && must:
			return fmt.Errorf("%s is missing", key)
		case len(s) > most:
			return fmt.Errorf("%s has %d bytes; at most %d", key, len(s), most)
		case strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }):
			return fmt.Errorf("%s has a sign that cannot be printed", key)
		}
		return nil
	}
	if e.Form != Form {
		return fmt.Errorf("form is %d; this program reads form %d", e.Form, Form)
	}
	if err := errors.Join(word("boot", e.Boot, maxText, true), word("run", e.Run, maxText, true),
		word("design", e.Design, maxName, false)); err != nil {
		return err
	}
	switch e.Kind {
	case Started, Counted, Resumed, Finished, Stopped:
	default:
		return fmt.Errorf("event is %q; it is one of started, count, stopped, resumed and finished", e.Kind)
	}
	switch {
	case e.Seq < 1:
		return fmt.Errorf("seq is %d; it counts from 1", e.Seq)
	case e.Stitch < 0 || e.Stitch > maxStitch:
		return fmt.Errorf("stitch is %d; give 0 to %d", e.Stitch, maxStitch)
	case e.Speed != 0 && !(e.Speed >= 10 && e.Speed <= 3000):
		return fmt.Errorf("speed is %v; give 10 to 3000 stitches/min, or leave it out", e.Speed)
	case (e.Kind == Stopped) != (e.Cause != ""):
		return errors.New("cause stands in a stopped, and nowhere else")
	case e.Cause != "" && !causes[e.Cause]:
		return fmt.Errorf("cause is %q; it is one of thread_break, bobbin, colour, planned, by_hand, fault and unknown", e.Cause)
	case !e.At.IsZero() && (e.At.Year() < 1970 || e.At.Year() > 2200): // a clock that lost its battery says 1970 or 2000
		return fmt.Errorf("at is in the year %d", e.At.Year())
	}
	e.At = e.At.UTC().Truncate(time.Microsecond)
	return nil
}
