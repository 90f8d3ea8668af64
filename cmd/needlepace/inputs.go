package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"needlepace/machine"
	"needlepace/stitchfile"
)

// maxSheetBytes keeps a slip (a stitch file given as a sheet) from being read
// into memory whole; a real sheet is a few kilobytes.
const maxSheetBytes = 1 << 20

// loadSheet reads a machine sheet: a built-in class by its id, or a TOML file.
func loadSheet(arg string) (*machine.Sheet, error) {
	if s, ok := machine.Class(arg); ok {
		return s, nil
	}
	info, err := os.Stat(arg)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !strings.ContainsAny(arg, `./\`):
		return nil, usagef("there is no machine class or sheet file %q; the classes are %s", arg, strings.Join(classIDs(), ", "))
	case err != nil:
		return nil, usagef("machine sheet: %v", err)
	case info.IsDir():
		return nil, usagef("machine sheet %s is a folder; name a .toml file in it", arg)
	case info.Size() > maxSheetBytes:
		return nil, usagef("machine sheet %s has %d bytes; a sheet is a small TOML file", arg, info.Size())
	}
	b, err := os.ReadFile(arg)
	if err != nil {
		return nil, usagef("machine sheet: %v", err)
	}
	s, err := machine.Parse(arg, b)
	if err != nil {
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

// stitchFiles expands files and folders into stitch files, in a fixed order:
// arguments as given, a folder's files by path. A file named outright is
// taken whatever its extension; inside folders only stitch files and
// containers are, and hidden ones are passed over.
func stitchFiles(args []string) ([]string, error) {
	var files []string
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			return nil, usageError{err}
		}
		if !info.IsDir() {
			files = append(files, arg)
			continue
		}
		found := len(files)
		err = filepath.WalkDir(arg, func(path string, e fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if path != arg && strings.HasPrefix(e.Name(), ".") {
				if e.IsDir() {
					return fs.SkipDir
				}
				return nil
			}
			if e.Type().IsRegular() && stitchfile.HasExtension(path) {
				files = append(files, path)
			}
			return nil
		})
		if err != nil {
			return nil, usageError{err}
		}
		if len(files) == found {
			return nil, usagef("folder %s has no stitch files (%s)", arg, strings.Join(extensions(), " "))
		}
	}
	return files, nil
}

func extensions() []string {
	var all []string
	for _, f := range stitchfile.Formats() {
		all = append(all, f.Extensions...)
	}
	slices.Sort(all)
	return append(all, ".zip", ".gz")
}

// plural is "1 trim", "2 trims", "3 stitches".
func plural(n int, noun string) string {
	switch {
	case n == 1:
	case strings.HasSuffix(noun, "ch"):
		noun += "es"
	default:
		noun += "s"
	}
	return thousands(n) + " " + noun
}
