package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"

	"needlepace/picture"
)

// pictureName checks, before any work is done, that a picture can be written
// under this name.
func pictureName(path string) error {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg", ".png":
	default:
		return usagef("--picture %s: the name must end in .svg or .png", path)
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return usagef("--picture %s: there is no folder %s", path, filepath.Dir(path))
	}
	return nil
}

// mostHigh is how high a .png is at most, px.
const mostHigh = 2000

// writePicture draws any picture to an .svg or .png file.
func writePicture(path string, p picture.Picture) error {
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".svg":
		return create(path, func(w io.Writer) error { return picture.SVG(w, p, picture.Light()) })
	case ".png":
		_, height := p.Size()
		scale := min(2, mostHigh/max(height, 1)) // double density where it fits
		return create(path, func(w io.Writer) error { return picture.PNG(w, p, picture.Light(), scale) })
	default:
		return usagef("--picture %s: the name must end in .svg or .png", path)
	}
}
