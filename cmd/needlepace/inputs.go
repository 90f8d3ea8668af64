package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"unicode"

	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/stitchfile"
	"needlepace/words"
)

// maxListBytes is the largest sheet, list of threads or file of thresholds; real
// ones are a few kilobytes.
const maxListBytes = 1 << 20

// loadSheet reads a machine sheet: a built-in class by its id, or a TOML file.
func loadSheet(arg string) (*machine.Sheet, error) {
	if s, ok := machine.Class(arg); ok {
		return s, nil
	}
	if _, err := os.Stat(arg); errors.Is(err, fs.ErrNotExist) && !strings.ContainsAny(arg, `./\`) {
		return nil, usagef("there is no machine class or sheet file %q; the classes are %s", arg,
			strings.Join(classIDs(), ", "))
	}
	b, err := readGiven("machine sheet: ", arg, "name a .toml file in it", maxListBytes)
	if err != nil {
		return nil, err
	}
	s, err := machine.Parse(arg, b)
	if err != nil {
		return nil, usageError{err}
	}
	return s, nil
}

// loadNamed is loadSheet with the shop's own name for the machine, where it has one.
func loadNamed(arg, name string) (*machine.Sheet, error) {
	s, err := loadSheet(arg)
	if err != nil || name == "" {
		return s, err
	}
	s.Name = name
	if err := machine.Validate(s); err != nil {
		return nil, usageError{err}
	}
	return s, nil
}

// loadSheets is loadSheet for each argument; none gives all classes.
func loadSheets(args []string) ([]*machine.Sheet, error) {
	if len(args) == 0 {
		return machine.Classes(), nil
	}
	var all []*machine.Sheet
	for _, a := range args {
		s, err := loadSheet(a)
		if err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	return all, nil
}

func classIDs() []string {
	var ids []string
	for _, s := range machine.Classes() {
		ids = append(ids, s.Name)
	}
	return ids
}

// source is a stitch file to be read, or why it cannot be.
type source struct {
	path string
	err  error
}

// read reads the designs of a source.
func (s source) read() ([]stitchfile.File, error) {
	if s.err != nil {
		return nil, s.err
	}
	return stitchfile.ReadFile(s.path)
}

// stitchFiles expands files and folders into stitch files, in a fixed order:
// arguments as given, a folder's files by path. A file named outright is
// taken whatever its extension; inside folders only stitch files and
// containers are, and hidden ones are passed over. What cannot be read is
// among the sources with its error, so that the rest is done.
func stitchFiles(args []string) []source {
	var all []source
	for _, arg := range args {
		info, err := os.Stat(arg)
		switch {
		case err != nil:
			all = append(all, source{arg, err})
		case info.IsDir():
			all = append(all, inFolder(arg)...)
		case !info.Mode().IsRegular():
			all = append(all, source{arg, fmt.Errorf("%q is a pipe or device; save the design to a file first", arg)})
		default:
			all = append(all, source{path: arg})
		}
	}
	return all
}

func inFolder(dir string) []source {
	var all []source
	_ = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		switch {
		case err != nil: // this folder cannot be read; its neighbours may
			all = append(all, source{path, err})
		case path != dir && strings.HasPrefix(e.Name(), "."):
			if e.IsDir() {
				return fs.SkipDir
			}
		case e.Type().IsRegular() && stitchfile.HasExtension(path):
			all = append(all, source{path: path})
		}
		return nil
	})
	if len(all) == 0 {
		all = append(all, source{dir, fmt.Errorf("folder %q has no stitch files (%s)", dir,
			strings.Join(stitchfile.Extensions(), " "))})
	}
	return all
}

// plural is "1 trim", "2 trims", "3 stitches".
func plural(n int, noun string) string {
	return words.Number{V: float64(n), Noun: strings.ReplaceAll(noun, " ", "-")}.Text(nil)
}

// printable is a name from outside that cannot steer the terminal: line
// breaks and control characters are written out.
func printable(name string) string {
	if strings.IndexFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) < 0 {
		return name
	}
	return strconv.Quote(name)
}

// complain prints an error for people; names in it cannot steer the terminal.
func complain(w io.Writer, err error) {
	text := strings.Map(func(r rune) rune {
		if r == '\n' || unicode.IsPrint(r) {
			return r
		}
		return '?'
	}, inWords(err))
	fmt.Fprintln(w, "needlepace:", text)
}

// inWords is an error's text, with what the system says of a file in words.
func inWords(err error) string {
	var file *fs.PathError
	if !errors.As(err, &file) {
		return err.Error()
	}
	said := fmt.Sprintf("%q: %v", file.Path, file.Err)
	switch {
	case errors.Is(file.Err, fs.ErrNotExist):
		said = fmt.Sprintf("there is no file %q", file.Path)
		if near := nearestFile(file.Path); near != "" {
			said += fmt.Sprintf("; did you mean %q?", near)
		} else {
			said += "; check the name and the folder"
		}
	case errors.Is(file.Err, fs.ErrPermission):
		said = fmt.Sprintf("your account may not open %q; ask for the right, or copy the file", file.Path)
	}
	return strings.Replace(err.Error(), file.Error(), said, 1)
}

// nearestFile is the file of the folder that a path was most likely meant to be.
func nearestFile(path string) string {
	dir, name := filepath.Split(path)
	files, err := os.ReadDir(filepath.Clean(dir + "."))
	if err != nil {
		return ""
	}
	// A name's extension is no key of its own.
	whole := func(name string) string { return strings.ReplaceAll(name, ".", "/") }
	near := tomlfile.Nearest(whole(name), func(yield func(string) bool) {
		for _, f := range files {
			if !yield(whole(f.Name())) {
				return
			}
		}
	})
	if near == "" {
		return ""
	}
	return dir + strings.ReplaceAll(near, "/", ".")
}
