package ask

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"needlepace/book"
	"needlepace/internal/tomlfile"
	"needlepace/words"
)

// Error is what is wrong with a question, in a sentence with the remedy and
// without the full stop. Whoever asks can mend it.
type Error struct {
	Text    string
	Missing bool          // it asks about something that is not there
	Err     error         // the cause; may be nil
	Key     string        // what of the question is wrong, e.g. chance; may be empty
	Say     words.Message // Text as a sentence of the catalogue, where an operator may meet it
}

// Error is the sentence.
func (e *Error) Error() string { return e.Text }

// Says is the sentence, where the catalogue has it.
func (e *Error) Says() words.Message { return e.Say }

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Errorf is an error of a question that makes no sense; %w keeps its cause.
func Errorf(format string, a ...any) *Error {
	err := fmt.Errorf(format, a...)
	return &Error{Text: err.Error(), Err: errors.Unwrap(err)}
}

// refusing is an error that says a sentence of the catalogue.
func refusing(m words.Message) *Error { return &Error{Text: m.Text(nil), Say: m} }

// refuses is the error of a line that the machine cannot make, with the reason.
func (st *station) refuses(why words.Message) *Error {
	return refusing(words.Say("refused.cannot", words.Args{"machine": words.Name(st.Name), "why": why}))
}

// unfound is an error that says a sentence of the catalogue of something that is not there.
func unfound(m words.Message) *Error {
	e := refusing(m)
	e.Missing = true
	return e
}

// noLine is the error of a line that an order does not have.
func noLine(o *book.Order, line int) *Error {
	return unfound(words.Say("refused.no-line", words.Args{"order": words.Name(strconv.Itoa(o.Number)), "line": words.Whole(line)}))
}

// At is the error with the key of what is wrong.
func (e *Error) At(key string) *Error {
	e.Key = key
	return e
}

// Missing is an error of a question about something that is not there.
func Missing(format string, a ...any) *Error {
	e := Errorf(format, a...)
	e.Missing = true
	return e
}

// wrong is the error of a domain package that was asked something senseless.
func wrong(err error) error {
	if err == nil {
		return nil
	}
	e := Errorf("%w", err)
	var at *tomlfile.Error
	if errors.As(err, &at) && !at.Why.IsZero() {
		e.Say = words.Say("trial-file.in-file", words.Args{"where": words.Name(at.Where()), "key": words.Name(at.Key), "why": at.Why})
	}
	return e
}

// stopped is the error of a question that was given up.
func stopped(ctx context.Context) error {
	return fmt.Errorf("stopped before the end: %w", context.Cause(ctx))
}
