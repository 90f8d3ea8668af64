package stitchfile

import "fmt"

// trimJumps is the length of the run of jumps that stands for a trim: the
// trade's code, and what machines are set to read as one (MODEL section 1).
const trimJumps = 3

// pieces is the number of records that a displacement needs at no more than
// step an axis; 0 for no displacement.
func pieces(dx, dy, step int) int { return (max(abs(dx), abs(dy)) + step - 1) / step }

// tooLong is the error where cutting a move to size would make a trim of it.
func tooLong(format string, record int, what string, dx, dy, most int) error {
	return &UnsupportedError{Format: format, Record: record,
		Text: fmt.Sprintf("a %s of %.1f × %.1f mm with the thread uncut makes three jumps in a row, those before "+
			"it counted, which a machine reads as a trim", what, mm(dx), mm(dy)),
		Remedy: fmt.Sprintf("put a trim record before it, or shorten it to %.1f mm an axis", mm(most))}
}

func noStop(format string, record int) error {
	return &UnsupportedError{Format: format, Record: record, Text: "a ." + format + " file has no operator's stop",
		Remedy: "make it a colour stop"}
}
