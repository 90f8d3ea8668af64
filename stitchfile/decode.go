package stitchfile

import (
	"bytes"
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
	WarnExtents   = "header-extent" // the design is larger than the header says
	WarnMisalign  = "misaligned"    // the records began elsewhere than they should
	WarnBits      = "odd-record"    // records that are not as the format has them
	WarnSequins   = "sequins"       // sequin records, counted as stitches
	WarnAfterEnd  = "after-end"     // more than padding after the end record
	WarnTable     = "header-table"  // a table or offset in the header is wrong
)

// Decode reads one stitch file and returns the design and the format's name.
// The format is found by content. Errors are a *FormatError, an
// *UnsupportedError, or the reader's own.
func Decode(r io.Reader) (*stitch.Design, string, error) {
	return DecodeNamed(r, "")
}

// DecodeNamed is Decode with a file name, whose extension decides where the
// content cannot; it is used for nothing else but messages.
func DecodeNamed(r io.Reader, name string) (*stitch.Design, string, error) {
	b, err := readLimited(r, name, MaxFileBytes)
	if err != nil {
		return nil, "", err
	}
	d, err := DecodeBytes(b, name)
	if err != nil {
		return nil, formatOf(err), err
	}
	return d, d.Format, nil
}

// DecodeBytes is DecodeNamed on bytes already in memory, the fast way. The
// design holds no reference to b.
func DecodeBytes(b []byte, name string) (*stitch.Design, error) {
	if len(b) > MaxFileBytes {
		return nil, tooLarge(name, MaxFileBytes)
	}
	f, err := detect(b, name)
	if err != nil {
		return nil, err
	}
	d, err := f.decode(b)
	if err != nil {
		return nil, withFile(err, name)
	}
	d.Format = f.name
	if ext := extension(name); ext != "" && byExtension(ext) != nil && byExtension(ext) != f {
		d.Warnings = append(d.Warnings, stitch.Warning{Code: WarnExtension, Offset: 0,
			Text: fmt.Sprintf("the name ends in .%s, the content is .%s and was read as that: rename the file before a machine gets it", ext, f.name)})
	}
	return d, nil
}

// Config is what a file's header claims. It is advice: only the records are
// the truth. Numbers the header does not give are −1.
type Config struct {
	Format  string // the format's name
	Name    string // the label inside the file
	Records int    // records by the header's count
	Colours int    // colour stops by the header's count
	// Width and Height of the design in mm by the header.
	Width, Height float64
}

// configBytes is enough for the header of every format.
const configBytes = 4096

// DecodeConfig reads the header only and holds at most a few kilobytes. In a
// .pes file it reads past the editing part, which stands before the header
// that counts. Errors are as of Decode.
func DecodeConfig(r io.Reader, name string) (Config, error) {
	b, err := io.ReadAll(io.LimitReader(r, configBytes))
	if err != nil {
		return Config{}, fmt.Errorf("stitchfile: %s: %w", name, err)
	}
	f, err := detect(b, name)
	if err != nil {
		return Config{}, err
	}
	c := f.config(b)
	if off := pesBlock(b); f == &pesFormat && off+pecFixed > int64(len(b)) {
		head := bytes.NewReader(b[min(off, int64(len(b))):])
		if _, err := io.CopyN(io.Discard, r, off-int64(len(b))); err != nil && !errors.Is(err, io.EOF) {
			return Config{}, fmt.Errorf("stitchfile: %s: %w", name, err)
		}
		block, err := io.ReadAll(io.LimitReader(io.MultiReader(head, r), pecRecords))
		if err != nil {
			return Config{}, fmt.Errorf("stitchfile: %s: %w", name, err)
		}
		c = configPEC(block, 0)
	}
	c.Format = f.name
	return c, nil
}

// Encode writes the design in the named format ("dst", "exp"). What the
// format has no form for is an *UnsupportedError, and then nothing is written.
func Encode(w io.Writer, d *stitch.Design, format string) error {
	for _, f := range formats {
		if f.name == format {
			if f.encode == nil {
				break
			}
			return f.encode(w, d)
		}
	}
	return &UnsupportedError{Format: format, Record: -1, Text: fmt.Sprintf("no writer for format %q", format), Remedy: "write dst or exp"}
}

// readLimited reads all of r, at most limit bytes.
func readLimited(r io.Reader, name string, limit int64) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, fmt.Errorf("stitchfile: %s: %w", name, err)
	}
	if int64(len(b)) > limit {
		return nil, tooLarge(name, limit)
	}
	return b, nil
}

func tooLarge(name string, limit int64) error {
	return &UnsupportedError{File: name, Record: -1,
		Text: fmt.Sprintf("the file is larger than %d bytes, unpacked", limit), Remedy: "no machine holds such a design: check what the file is, or cut it in parts"}
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

func formatOf(err error) string {
	if fe := (*FormatError)(nil); errors.As(err, &fe) {
		return fe.Format
	}
	if ue := (*UnsupportedError)(nil); errors.As(err, &ue) {
		return ue.Format
	}
	return ""
}
