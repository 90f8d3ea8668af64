package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"needlepace/picture"
)

// PictureFile is the name of a picture's file, an .svg or .png in a folder that is there. That it is one is
// checked as it is read: before any work is done.
type PictureFile string

// UnmarshalText takes a name; an error says what is wrong with it.
func (f *PictureFile) UnmarshalText(b []byte) error {
	path := string(b)
	if ext := strings.ToLower(filepath.Ext(path)); ext != ".svg" && ext != ".png" {
		return fmt.Errorf("%s: the name must end in .svg or .png", path)
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return fmt.Errorf("%s: there is no folder %s", path, filepath.Dir(path))
	}
	*f = PictureFile(path)
	return nil
}

// mostHigh is how high a .png is at most, px.
const mostHigh = 2000

// writePicture draws any picture to an .svg or .png file.
func writePicture(f PictureFile, p picture.Picture) error {
	path := string(f)
	if strings.EqualFold(filepath.Ext(path), ".svg") {
		return create(path, func(w io.Writer) error { return picture.SVG(w, p, picture.Light()) })
	}
	_, height := p.Size()
	scale := min(2, mostHigh/max(height, 1)) // double density where it fits
	return create(path, func(w io.Writer) error { return picture.PNG(w, p, picture.Light(), scale) })
}
