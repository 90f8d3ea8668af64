package machine

import (
	"fmt"
	"strings"
)

// Problem is one thing wrong with a sheet, in a sentence that says what to
// do about it.
type Problem struct {
	Line int    // of the sheet file, from 1; 0 where nothing stands in the file or there is none
	Path string // the key, e.g. "frame.accel_x"; empty where the file as a whole is meant
	Text string
}

// Error is the sentence with its line in front.
func (p Problem) Error() string {
	if p.Line > 0 {
		return fmt.Sprintf("line %d: %s", p.Line, p.Text)
	}
	return p.Text
}

// SheetError is everything that is wrong with a sheet, in the order of the
// file, what is missing last. Parse and Validate return it as *SheetError.
type SheetError struct {
	Sheet    string // the file's name as handed to Parse, or the sheet's own name
	Problems []Problem
}

// Error lists all problems, one a line.
func (e *SheetError) Error() string {
	if len(e.Problems) == 1 {
		return fmt.Sprintf("machine sheet %s: %v", e.Sheet, e.Problems[0])
	}
	var b strings.Builder
	fmt.Fprintf(&b, "machine sheet %s: %d problems", e.Sheet, len(e.Problems))
	for _, p := range e.Problems {
		fmt.Fprintf(&b, "\n  %v", p)
	}
	return b.String()
}

// Unwrap gives the problems one by one.
func (e *SheetError) Unwrap() []error {
	errs := make([]error, len(e.Problems))
	for i, p := range e.Problems {
		errs[i] = p
	}
	return errs
}
