package stitchfile

import (
	"io"
	"path"
	"slices"
	"strings"

	"needlepace/stitch"
)

// A format is one kind of stitch file. All functions get the whole file.
type format struct {
	name   string   // also the main extension, without the dot
	exts   []string // extensions, lower case, without the dot
	about  string   // one line for people
	sniff  func(b []byte) certainty
	config func(b []byte) Config
	decode func(b []byte) (*stitch.Design, error)
	encode func(w io.Writer, d *stitch.Design) error // nil: read only
}

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

// FormatInfo describes one format for lists and help.
type FormatInfo struct {
	Name       string   // as Decode returns it and Encode takes it
	Extensions []string // with the dot, lower case
	About      string   // one line
	Writes     bool     // can Encode write it?
}

// Formats lists the formats by name.
func Formats() []FormatInfo {
	out := make([]FormatInfo, 0, len(formats))
	for _, f := range formats {
		info := FormatInfo{Name: f.name, About: f.about, Writes: f.encode != nil}
		for _, e := range f.exts {
			info.Extensions = append(info.Extensions, "."+e)
		}
		out = append(out, info)
	}
	slices.SortFunc(out, func(a, b FormatInfo) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// HasExtension reports whether a file name ends as a stitch file or a
// container of stitch files (.zip, .gz) does.
func HasExtension(name string) bool {
	e := extension(name)
	return e == "zip" || e == "gz" || byExtension(e) != nil
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
		return nil, &FormatError{File: name, Offset: 0, Record: -1, Text: "the file is empty", Remedy: "get it again from where it came"}
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
		return nil, &UnsupportedError{File: name, Record: -1, Text: "this is a ." + container(b) + " container, not one design", Remedy: "unpack it, or hand in the container as a file"}
	}
	if guess == nil {
		return nil, &UnsupportedError{File: name, Record: -1, Text: "neither the content nor the extension is of a stitch file that can be read", Remedy: "save the design as .dst or .exp"}
	}
	return guess, nil
}
