package shop

import (
	"context"
	"errors"
	"fmt"

	"needlepace/ask"
	"needlepace/words"
)

// Code says what kind of thing went wrong, for programs.
type Code string

// The codes. They are part of the API's contract.
const (
	NotFound    Code = "not_found"   // there is no such thing (any more)
	Invalid     Code = "invalid"     // the request makes no sense: what, and what to do
	Conflict    Code = "conflict"    // somebody else changed it meanwhile
	TooLarge    Code = "too_large"   // over a limit
	Unsupported Code = "unsupported" // sound, but not to be done here
	Busy        Code = "busy"        // too much work under way; try again
	Stopped     Code = "stopped"     // cancelled, or over its time limit
	Forbidden   Code = "forbidden"   // this account's role may not
	SignIn      Code = "sign_in"     // nobody is signed in
	Storage     Code = "storage"     // the store failed: nothing was kept
)

// Error is a failure with a code for programs and a sentence for people.
type Error struct {
	Code Code
	Text string // a whole sentence without the full stop, with the remedy
	Err  error  // the cause, for logs; may be nil
	Key  string // what of the thing is wrong, e.g. line[2].quantity; lists count from 1; may be empty
	// Say is Text as a sentence of the catalogue, where an operator may meet it: it is told
	// in their language. A zero one says nothing.
	Say words.Message
}

// In is the sentence as somebody reads it.
func (e *Error) In(w *words.Writer) string {
	if e.Say.IsZero() {
		return e.Text
	}
	return e.Say.Text(w)
}

// Saying makes an Error of a sentence of the catalogue.
func Saying(code Code, m words.Message) *Error { return &Error{Code: code, Text: m.Text(nil), Say: m} }

// Error is the sentence.
func (e *Error) Error() string { return e.Text }

// Says is the sentence, where the catalogue has it.
func (e *Error) Says() words.Message { return e.Say }

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Errorf makes an Error; %w keeps its cause.
func Errorf(code Code, format string, a ...any) *Error {
	err := fmt.Errorf(format, a...)
	return &Error{Code: code, Text: err.Error(), Err: errors.Unwrap(err)}
}

// Invalidf makes an Error of what cannot be as it is given.
func Invalidf(format string, a ...any) *Error { return Errorf(Invalid, format, a...) }

// At is an error with the key of what is wrong; nil for none.
func At(key string, err error) error {
	e := ErrorOf(err)
	if e == nil {
		return err
	}
	at := *e
	at.Key = key
	return &at
}

// AsInvalid is the error of a package that knows no codes, with its own.
func AsInvalid(err error) error {
	if err == nil {
		return nil
	}
	return Invalidf("%w", err)
}

// Stale is the Conflict of an act upon an answer that was made from what has
// changed meanwhile: "the plan, the machines".
func Stale(what string) *Error {
	return Errorf(Conflict, "meanwhile somebody changed %s, and nothing was kept: look at it anew, then do it again",
		what)
}

// ErrorOf is an error as the shop tells it; nil for none of ours. What is wrong
// with a question is Invalid, or NotFound where it asks about what is not there.
func ErrorOf(err error) *Error {
	var e *Error
	var q *ask.Error
	switch {
	case errors.As(err, &e):
		return e
	case errors.As(err, &q) && q.Missing:
		return &Error{NotFound, q.Text, q.Err, q.Key, q.Say}
	case q != nil:
		return &Error{Invalid, q.Text, q.Err, q.Key, q.Say}
	}
	return nil
}

// CodeOf is the code of an error, "" for none of ours. Where a context ended it
// is Stopped.
func CodeOf(err error) Code {
	if e := ErrorOf(err); e != nil {
		return e.Code
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return Stopped
	}
	return ""
}
