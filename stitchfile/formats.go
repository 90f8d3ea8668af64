package stitchfile

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"needlepace/stitch"
)

// A format is one kind of stitch file. All functions get the whole file.
type format struct {
	name    string   // also the main extension, without the dot
	exts    []string // extensions, lower case, without the dot
	trims   string   // for people: how a trim stands in the file
	colours string   // for people: what the file says of its colours
	sniff   func(b []byte) certainty
	decode  func(b []byte) (*stitch.Design, sayer, error)
	start   place
	lacks   string                                                     // for people: what a written file cannot hold
	encode  func(d *stitch.Design, r Readers) ([]byte, Written, error) // nil: read only
}

// sayer warns of what only the records' counts tell.
type sayer func(stitch.Counts)

// trimRecord says that a format has a record for a trim.
const trimRecord = "yes"

// place is where the frame stands as a design of the format begins.
type place int

const (
	anywhere place = iota // where the operator drives it
	hoop                  // in the middle of the hoop
	corner                // at the upper left of the design's box, which the machine lays in its middle
)

// certainty is how sure the bytes alone make us of a format.
type certainty int

const (
	no       certainty = iota // cannot be, or nothing speaks for it
	possible                  // the records read as such a file's would
	certain                   // a signature that no other format has
)

// formats in the order in which content is asked; the ones with a signature
// first, the one that nearly any bytes could be last.
var formats = []*format{&pesFormat, &pecFormat, &vp3Format, &dstFormat, &jefFormat, &expFormat}

// containers are the extensions of files that hold stitch files.
var containers = []string{"zip", "gz"}

// FormatInfo describes one format for lists and help.
type FormatInfo struct {
	Name       string   // as the design's Format has it and Encode takes it
	Extensions []string // with the dot, lower case
	Writes     bool     // can Encode write it?
	TrimRecord bool     // has it a record for a trim, whatever the jumps after it?
	Trims      string   // how a trim stands in the file
	Colours    string   // what the file says of its colours
	Lacks      string   // what a file written by Encode cannot hold; empty where none is
}

// Formats lists the formats by name. Everything that names extensions, the
// page, the command line and the docs, takes them from here.
func Formats() []FormatInfo {
	out := make([]FormatInfo, 0, len(formats))
	for _, f := range formats {
		info := FormatInfo{Name: f.name, Writes: f.encode != nil, TrimRecord: f.trims == trimRecord, Trims: f.trims,
			Colours: f.colours, Lacks: f.lacks}
		for _, e := range f.exts {
			info.Extensions = append(info.Extensions, "."+e)
		}
		out = append(out, info)
	}
	slices.SortFunc(out, func(a, b FormatInfo) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// Extensions are the extensions of all that can be read, with the dot, those
// of containers last.
func Extensions() (out []string) {
	for _, f := range Formats() {
		out = append(out, f.Extensions...)
	}
	for _, c := range containers {
		out = append(out, "."+c)
	}
	return out
}

// Writable are the extensions, with the dot, of the formats that Encode writes.
func Writable() (out []string) {
	for _, f := range Formats() {
		if f.Writes {
			out = append(out, f.Extensions...)
		}
	}
	return out
}

// WriterFor is the format that a file's name asks Encode for.
func WriterFor(name string) (format string, err error) {
	if f := byExtension(extension(name)); f != nil && f.encode != nil {
		return f.name, nil
	}
	return "", fmt.Errorf("the name must end in %s", orList(Writable()))
}

// orList is .dst, .exp or .xyz.
func orList(list []string) string {
	last := len(list) - 1
	return strings.Join(list[:last], ", ") + " or " + list[last]
}

// HasExtension reports whether a file name ends as a stitch file or a
// container of stitch files does.
func HasExtension(name string) bool {
	e := extension(name)
	return slices.Contains(containers, e) || byExtension(e) != nil
}

func extension(name string) string {
	return strings.ToLower(strings.TrimPrefix(path.Ext(name), "."))
}

func byExtension(ext string) *format {
	for _, f := range formats {
		if slices.Contains(f.exts, ext) {
			return f
		}
	}
	return nil
}

// detect finds the format: a signature decides; without one the extension;
// without that, the first format whose records the bytes read as.
func detect(b []byte, name string) (*format, error) {
	if len(b) == 0 {
		return nil, &FormatError{File: name, Offset: 0, Record: -1, Text: "the file is empty",
			Remedy: "get it again from where it came"}
	}
	var guess *format
	for _, f := range formats {
		switch f.sniff(b) {
		case certain:
			return f, nil
		case possible:
			if guess == nil {
				guess = f
			}
		}
	}
	ext := extension(name)
	if f := byExtension(ext); f != nil {
		return f, nil
	}
	if container(b) != "" {
		return nil, &UnsupportedError{File: name, Record: -1, Text: "this is a ." + container(b) +
			" container, not one design",
			Remedy: "unpack it, or hand in the container as a file"}
	}
	if guess == nil {
		return nil, &UnsupportedError{File: name, Record: -1,
			Text:   "neither the content nor the extension is of a stitch file that can be read",
			Remedy: "save the design as " + orList(Writable())}
	}
	return guess, nil
}
