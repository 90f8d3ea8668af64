package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/schollz/progressbar/v3"

	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// bar is a progress bar on stderr, silent where that is no terminal.
func (c *Ctx) bar(what string, of int) *progressbar.ProgressBar {
	if !c.ErrTerminal() {
		return progressbar.DefaultSilent(int64(of))
	}
	return progressbar.NewOptions(of, progressbar.OptionSetWriter(c.Err), progressbar.OptionSetDescription(what),
		progressbar.OptionShowCount(), progressbar.OptionClearOnFinish())
}

// readSettings reads a settings file, with the mistakes one makes.
func readSettings(path string) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, usageError{err}
	case info.IsDir():
		return nil, usagef("%s is a folder; name the .toml file in it", path)
	case info.Size() > tomlfile.MaxBytes:
		return nil, usagef("%s has %d bytes; a settings file has at most %d", path, info.Size(), tomlfile.MaxBytes)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, usageError{err}
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
			files, err := stitchfile.ReadFile(at(path))
			if err != nil {
				return nil, err
			}
			if len(files) != 1 {
				return nil, fmt.Errorf("holds %d designs; name a file with one", len(files))
			}
			if files[0].Err != nil {
				return nil, files[0].Err
			}
			designs[path] = files[0].Design
			return files[0].Design, nil
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
