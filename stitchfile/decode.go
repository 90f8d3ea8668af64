package stitchfile

import (
	"errors"
	"fmt"
	"io"

	"needlepace/stitch"
)

// MaxFileBytes is the largest stitch file read, unpacked: some 85 million
// records of the 3-byte format, a hundred times the largest design seen.
// Larger input is refused before it is held in memory.
const MaxFileBytes = 256 << 20

// Warning codes that any format may give. They are stable.
const (
	WarnNoEnd     = "no-end"        // the records stop without an end record
	WarnCut       = "cut-record"    // the file ends inside a record
	WarnNoStitch  = "no-stitches"   // the records hold no needle penetration
	WarnExtension = "extension"     // the content is of another format than the name says
	WarnCount     = "header-count"  // the header counts more records than the file holds
	WarnColours   = "header-colour" // the header counts other colours than the records
	WarnExtents   = "header-extent" // the design is not as large as the header says
	WarnMisalign  = "misaligned"    // the records began elsewhere than they should
	WarnBits      = "odd-record"    // records that are not as the format has them
	WarnSequins   = "sequins"       // sequin records, counted as stitches
	WarnAfterEnd  = "after-end"     // more than padding after the end record
	WarnTable     = "header-table"  // a table or offset in the header is wrong
)

// Decode reads one stitch file and keeps no reference to b. The format is
// found by content; where that does not tell, by the extension of name, which
// else is for messages only. The design says which it was (Format). Errors are
// a *FormatError or an *UnsupportedError.
func Decode(b []byte, name string) (*stitch.Design, error) {
	d, _, err := decode(b, name)
	return d, err
}

// decode is Decode, with what the records amount to.
func decode(b []byte, name string) (*stitch.Design, stitch.Counts, error) {
	if len(b) > MaxFileBytes {
		return nil, stitch.Counts{}, tooLarge(name, MaxFileBytes)
	}
	f, err := detect(b, name)
	if err != nil {
		return nil, stitch.Counts{}, err
	}
	d, say, err := f.decode(b)
	if err != nil {
		return nil, stitch.Counts{}, withFile(err, name)
	}
	n := d.Count()
	say(n)
	d.Format = f.name
	if ext := extension(name); ext != "" && byExtension(ext) != nil && byExtension(ext) != f {
		d.Warnings = append(d.Warnings, stitch.Warning{Code: WarnExtension, Offset: 0,
			Text: fmt.Sprintf("the name ends in .%s, the content is .%s and was read as that: "+
				"rename the file before a machine gets it", ext, f.name)})
	}
	return d, n, nil
}

// Encode writes the design in the named format (WriterFor gives its name), as
// the trade reads runs of jumps. What the format has no form for is an
// *UnsupportedError, and then nothing is written; so is all that Written.Same
// does not allow.
func Encode(w io.Writer, d *stitch.Design, format string) error {
	b, done, err := encode(d, format, Readers{})
	if err == nil && !done.Same() {
		err = otherwise(format, d, done)
	}
	if err != nil {
		return err
	}
	return write(w, b, format)
}

// EncodeFor is Encode for machines that read runs of jumps in their own ways. It
// adds penetrations where nothing else fits, and tells all that is otherwise in
// the file than in the design.
func EncodeFor(w io.Writer, d *stitch.Design, format string, r Readers) (Written, error) {
	b, done, err := encode(d, format, r)
	if err != nil {
		return Written{}, err
	}
	return done, write(w, b, format)
}

func encode(d *stitch.Design, format string, r Readers) ([]byte, Written, error) {
	for _, f := range formats {
		if f.name == format && f.encode != nil {
			laid, by, added := f.lay(d)
			b, done, err := f.encode(laid, r)
			if e := (*UnsupportedError)(nil); errors.As(err, &e) && e.Record >= 0 {
				e.Record = max(0, e.Record-added)
			}
			done.Shift = by
			return b, done, err
		}
	}
	return nil, Written{}, &UnsupportedError{Format: format, Record: -1,
		Text: fmt.Sprintf("no writer for format %q", format), Remedy: "write " + orList(Writable())}
}

func write(w io.Writer, b []byte, format string) error {
	if _, err := w.Write(b); err != nil {
		return fmt.Errorf("writing .%s: %w", format, err)
	}
	return nil
}

// readLimited reads all of r, at most limit bytes.
func readLimited(r io.Reader, name string, limit int64) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if int64(len(b)) > limit {
		return nil, tooLarge(name, limit)
	}
	return b, nil
}

func tooLarge(name string, limit int64) error {
	return &UnsupportedError{File: name, Record: -1,
		Text: fmt.Sprintf("the file is larger than %d bytes, unpacked",
			limit), Remedy: "no machine holds such a design: check what the file is, or cut it in parts"}
}

func withFile(err error, name string) error {
	switch e := err.(type) {
	case *FormatError:
		e.File = name
	case *UnsupportedError:
		e.File = name
	}
	return err
}
