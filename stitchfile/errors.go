package stitchfile

import (
	"fmt"
	"strings"
)

// FormatError says that the input is not a sound file of its format: what is
// wrong, where, and what to do.
type FormatError struct {
	Format string // the format's name, "" where it could not be told
	File   string // name of the file, as handed in; may be empty
	Offset int64  // byte offset in the (unpacked) file, −1 where there is none
	Record int    // number of the record from 0, −1 outside the records
	Text   string // what is wrong
	Remedy string // what to do about it
}

// Error gives the whole sentence, the remedy last.
func (e *FormatError) Error() string {
	return sentence(e.File, e.Format, e.Record, e.Offset, e.Text, e.Remedy)
}

// UnsupportedError says that the input or the wish is sound but cannot be
// done here: a format nobody reads, a record a format has no form for.
type UnsupportedError struct {
	Format string // the format's name, "" where it could not be told
	File   string // name of the file, as handed in; may be empty
	Record int    // number of the record from 0, −1 outside the records
	Text   string // what cannot be done
	Remedy string // what to do instead
}

// Error gives the whole sentence, the remedy last.
func (e *UnsupportedError) Error() string {
	return sentence(e.File, e.Format, e.Record, -1, e.Text, e.Remedy)
}

func sentence(file, format string, record int, offset int64, text, remedy string) string {
	var b strings.Builder
	if file != "" {
		b.WriteString(file + ": ")
	}
	switch {
	case record >= 0 && offset >= 0:
		fmt.Fprintf(&b, "record %d (byte %d): ", record, offset)
	case record >= 0:
		fmt.Fprintf(&b, "record %d: ", record)
	case offset >= 0:
		fmt.Fprintf(&b, "byte %d: ", offset)
	}
	b.WriteString(text)
	if format != "" && !strings.Contains(text, "."+format) {
		b.WriteString(" (." + format + ")")
	}
	if remedy != "" {
		b.WriteString("; " + remedy)
	}
	return b.String()
}

// formatErr is the short way to a FormatError outside the records.
func formatErr(format string, offset int, text, remedy string) *FormatError {
	return &FormatError{Format: format, Offset: int64(offset), Record: -1, Text: text, Remedy: remedy}
}

const remedyDamaged = "the file is damaged or cut short: get it again from where it came"
