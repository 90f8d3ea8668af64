package stitchfile

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"

	"needlepace/internal/hugepages"
	"needlepace/stitch"
)

// Limits against files that unpack to more than anyone meant.
type Limits struct {
	FileBytes  int64 // the largest single stitch file, unpacked, and the largest container
	TotalBytes int64 // what the stitch files of one container may unpack to, all together
	Entries    int   // entries of a .zip
	// What one design may have; 0: any number. Rests are its trims, colour stops and other stops, three jumps in a row a trim.
	Stitches, Colours, Rests int
	// KeepContent fills File.Content, for callers that keep the files.
	KeepContent bool
}

// DefaultLimits are those of ReadFile and DecodeAll. A design takes two to
// three times its file's bytes in memory; a server that takes files from
// others will want less.
var DefaultLimits = Limits{FileBytes: MaxFileBytes, TotalBytes: 2 * MaxFileBytes, Entries: 20_000}

// File is one design of a file, or why it could not be read.
type File struct {
	// Name is the file's name, or container and entry: "orders.zip/cap.dst".
	Name   string
	Design *stitch.Design // nil where Err is not
	Counts stitch.Counts  // of the design as it was read
	Err    error
	// Content is the file's own bytes, unpacked, where Limits.KeepContent asks
	// for them. Of a file that stands in no container it is the input itself.
	Content []byte
}

// ReadFile reads a stitch file, or the stitch files inside a .zip or .gz. A
// single file that cannot be read is the error; of a container's designs each
// has its own Err, and the error says that the container itself is unsound,
// over the limits, or without a stitch file. Names are as given in path.
func ReadFile(path string) ([]File, error) {
	f, err := os.Open(filepath.Clean(path))
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return nil, fmt.Errorf("%s is a folder: name the files in it", path)
	}
	if info.Size() > MaxFileBytes {
		return nil, tooLarge(path, MaxFileBytes)
	}
	b := hugepages.Make[byte](int(info.Size()) + bytes.MinRead)[:0] // so that it never has to grow
	buf := bytes.NewBuffer(b)
	if _, err := buf.ReadFrom(io.LimitReader(f, MaxFileBytes+1)); err != nil {
		return nil, err
	}
	return DecodeAll(buf.Bytes(), path)
}

// DecodeAll is ReadFile on bytes already in memory.
func DecodeAll(b []byte, name string) ([]File, error) { return DefaultLimits.DecodeAll(b, name) }

// DecodeAll is the function of that name with limits of one's own. None may
// be over those of DefaultLimits for a single file.
func (most Limits) DecodeAll(b []byte, name string) ([]File, error) {
	if int64(len(b)) > most.FileBytes {
		return nil, tooLarge(name, most.FileBytes)
	}
	switch container(b) {
	case "zip":
		return decodeZip(b, name, most)
	case "gz":
		inner := strings.TrimSuffix(name, path.Ext(name)) // cap.dst.gz holds cap.dst
		b, err := gunzip(b, name, most.FileBytes)
		if err != nil {
			return nil, err
		}
		if c := container(b); c != "" {
			return nil, &UnsupportedError{File: name, Record: -1, Text: "a ." + c + " inside a .gz",
				Remedy: "unpack it first"}
		}
		d, n, err := decode(b, inner)
		if err != nil {
			return nil, withFile(err, name)
		}
		return most.single(most.file(name, d, n, b))
	}
	d, n, err := decode(b, name)
	if err != nil {
		return nil, err
	}
	return most.single(most.file(name, d, n, b))
}

// single is the answer where there is one design.
func (most Limits) single(f File) ([]File, error) {
	if f.Err != nil {
		return nil, f.Err
	}
	return []File{f}, nil
}

// check refuses a design that has more of something than most.
func (most Limits) check(name string, d *stitch.Design, n stitch.Counts) error {
	if max(most.Stitches, most.Colours, most.Rests) <= 0 {
		return nil
	}
	rests, jumps := n.TrimRecords+n.ColourStops+n.Stops, 0
	for _, r := range d.Records {
		if r.Op != stitch.Jump {
			jumps = 0
		} else if jumps++; jumps == 3 {
			rests++
		}
	}
	for _, c := range []struct {
		has, most int
		what      string
	}{{n.Stitches, most.Stitches, "stitches"}, {n.ColourStops, most.Colours, "colour stops"}, {rests, most.Rests, "trims and stops"}} {
		if c.most > 0 && c.has > c.most {
			return &UnsupportedError{File: name, Record: -1, Text: fmt.Sprintf("%d %s, more than the %d that are taken in here", c.has, c.what, c.most),
				Remedy: "check that it is the right file; the commands read it as it is"}
		}
	}
	return nil
}

func (most Limits) file(name string, d *stitch.Design, n stitch.Counts, content []byte) File {
	if err := most.check(name, d, n); err != nil {
		return File{Name: name, Err: err}
	}
	f := File{Name: name, Design: d, Counts: n}
	if most.KeepContent {
		f.Content = content
	}
	return f
}

// container names the container format by its signature, "" for none.
func container(b []byte) string {
	switch {
	case bytes.HasPrefix(b, []byte("PK\x03\x04")), bytes.HasPrefix(b, []byte("PK\x05\x06")):
		return "zip"
	case bytes.HasPrefix(b, []byte("\x1f\x8b\x08")):
		return "gz"
	}
	return ""
}

func gunzip(b []byte, name string, limit int64) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err == nil {
		var out []byte
		out, err = readLimited(z, name, limit)
		if err == nil {
			return out, nil
		}
		if ue := (*UnsupportedError)(nil); errors.As(err, &ue) {
			return nil, err
		}
	}
	return nil, &FormatError{Format: "gz", File: name, Offset: 0, Record: -1,
		Text: fmt.Sprintf("the container cannot be unpacked: %v", unwrapAll(err)), Remedy: remedyDamaged}
}

func unwrapAll(err error) error {
	for {
		e := errors.Unwrap(err)
		if e == nil {
			return err
		}
		err = e
	}
}

func decodeZip(b []byte, name string, most Limits) ([]File, error) {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) { // names are only shown, never written to
		return nil, &FormatError{Format: "zip", File: name, Offset: 0, Record: -1,
			Text: fmt.Sprintf("the container cannot be opened: %v", err), Remedy: remedyDamaged}
	}
	if len(z.File) > most.Entries {
		return nil, &UnsupportedError{Format: "zip", File: name, Record: -1,
			Text: fmt.Sprintf("%d entries, more than %d", len(z.File),
				most.Entries), Remedy: "unpack it and read the folder"}
	}
	var out []File
	left := most.TotalBytes
	for _, e := range z.File {
		if e.FileInfo().IsDir() || strings.HasPrefix(e.Name, "__MACOSX/") ||
			strings.HasPrefix(path.Base(e.Name), "._") {
			continue
		}
		if left <= 0 {
			return out, &UnsupportedError{Format: "zip", File: name, Record: -1,
				Text: fmt.Sprintf("its stitch files unpack to more than %d bytes; those from %s on were not read",
					most.TotalBytes, e.Name), Remedy: "unpack it and read the folder"}
		}
		f := File{Name: name + "/" + e.Name}
		content, used, err := readEntry(e, f.Name, min(left, most.FileBytes))
		left -= used
		if f.Err = err; content != nil {
			d, n, err := decode(content, f.Name)
			if f.Err = err; err == nil {
				f = most.file(f.Name, d, n, content)
			}
		}
		if f.Design != nil || f.Err != nil {
			out = append(out, f)
		}
	}
	if len(out) == 0 {
		return nil, &UnsupportedError{Format: "zip", File: name, Record: -1,
			Text: "there is no stitch file in the container", Remedy: "check that it is the right one"}
	}
	return out, nil
}

// signatureBytes hold the signature of every format that has one.
const signatureBytes = 4096

// readEntry reads one entry of a .zip, at most limit bytes of it unpacked;
// nil, nil for one that is no stitch file. The sizes in the container are not
// believed: what counts is what comes out.
func readEntry(e *zip.File, name string, limit int64) (content []byte, used int64, err error) {
	wanted := byExtension(extension(e.Name)) != nil
	if e.Flags&1 != 0 {
		if !wanted {
			return nil, 0, nil
		}
		return nil, 0, &UnsupportedError{File: name, Record: -1, Text: "the entry is encrypted",
			Remedy: "unpack the container with its password first"}
	}
	r, err := e.Open()
	if err != nil {
		if !wanted {
			return nil, 0, nil
		}
		return nil, 0, entryErr(name, err)
	}
	defer r.Close() //nolint:errcheck // only read
	var src io.Reader = r
	if !wanted { // by content then: only a signature makes it a stitch file
		head, err := io.ReadAll(io.LimitReader(r, signatureBytes))
		used = int64(len(head))
		if err != nil || !signed(head) {
			return nil, used, nil
		}
		src = io.MultiReader(bytes.NewReader(head), r)
	}
	b, err := readLimited(src, name, limit)
	if err != nil {
		if ue := (*UnsupportedError)(nil); errors.As(err, &ue) {
			return nil, limit + 1, err
		}
		return nil, used, entryErr(name, unwrapAll(err))
	}
	return b, int64(len(b)), nil
}

func entryErr(name string, err error) error {
	return &FormatError{Format: "zip", File: name, Offset: -1, Record: -1,
		Text: fmt.Sprintf("the entry cannot be unpacked: %v", err), Remedy: remedyDamaged}
}

func signed(b []byte) bool {
	for _, f := range formats {
		if f.sniff(b) == certain {
			return true
		}
	}
	return false
}
