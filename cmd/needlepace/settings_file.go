package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/stitch"
)

// readSettings reads a settings file.
func readSettings(path string) ([]byte, error) {
	return readGiven("", path, "name the .toml file in it", tomlfile.MaxBytes)
}

// readGiven reads a file that the command line names, after what it is named
// by. A folder, and a slip (a stitch file given as something else), are refused
// before they are read.
func readGiven(as, path, inFolder string, most int64) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
	case info.IsDir():
		return nil, usagef("%s%s is a folder; %s", as, path, inFolder)
	case info.Size() > most:
		return nil, usagef("%s%s has %d bytes; such a file has at most %d", as, path, info.Size(), most)
	}
	b, err := os.ReadFile(filepath.Clean(path))
	if err != nil {
		return nil, usageError{fmt.Errorf("%s%w", as, err)}
	}
	return b, nil
}

// sources reads what a settings file names, by paths from that file's folder.
// A design named twice is read once.
func sources(file string) floor.Sources {
	dir := filepath.Dir(file)
	at := func(path string) string {
		if filepath.IsAbs(path) {
			return path
		}
		return filepath.Join(dir, filepath.FromSlash(path))
	}
	designs := map[string]*stitch.Design{}
	return floor.Sources{
		Design: func(path string) (*stitch.Design, error) {
			if d, ok := designs[path]; ok {
				return d, nil
			}
			d, _, err := readOne(at(path))
			if err == nil {
				designs[path] = d
			}
			return d, err
		},
		Sheet: func(name string) (*machine.Sheet, error) {
			if _, ok := machine.Class(name); ok {
				return loadSheet(name)
			}
			return loadSheet(at(name))
		},
	}
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
