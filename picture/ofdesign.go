package picture

import (
	"bytes"
	"fmt"

	"needlepace/stitch"
)

// SewOutOf is a design as it looks sewn, in its threads, width px wide and three
// quarters of that high. So many jumps in a row as trimAfter are a trim.
func SewOutOf(d *stitch.Design, trimAfter int, name string, width float64) *SewOut {
	segs := Sewn(d, trimAfter)
	layers := 0
	if len(segs) > 0 {
		layers = int(segs[len(segs)-1].Layer) + 1
	}
	colours, _ := ThreadColours(d, layers)
	return &SewOut{Name: name, Segs: segs, Stitch: d.Count().Stitches, Colours: colours, Width: width, Height: .75 * width}
}

// thumbWidth is the width of the small drawings in px; the PNG has twice as many
// image pixels.
const thumbWidth = 112

// Thumbs are the small drawings of a design for lists, as PNG, for a light page
// and a dark one.
func Thumbs(d *stitch.Design) (light, dark []byte, err error) {
	p := SewOutOf(d, 3, "design", thumbWidth)
	p.Bare = true
	var l, k bytes.Buffer
	if err = PNG(&l, p, Light(), 2); err == nil {
		err = PNG(&k, p, Dark(), 2)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("drawing %s: %w", d.Name, err)
	}
	return l.Bytes(), k.Bytes(), nil
}
