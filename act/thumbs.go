package act

import (
	"bytes"
	"fmt"

	"needlepace/picture"
	"needlepace/shop"
	"needlepace/stitch"
)

// Size of the small drawings in px; the PNG has twice as many image pixels.
const thumbWidth, thumbHeight = 112, 84

// draw draws a design as it looks sewn, in its threads, in light and dark.
func draw(d *stitch.Design) (shop.Thumbs, error) {
	segs := picture.Sewn(d, 3)
	layers := 0
	if len(segs) > 0 {
		layers = int(segs[len(segs)-1].Layer) + 1
	}
	colours, _ := picture.ThreadColours(d, layers)
	p := &picture.SewOut{Name: "design", Segs: segs, Colours: colours, Width: thumbWidth, Height: thumbHeight, Bare: true}
	var t shop.Thumbs
	for _, one := range []struct {
		theme *picture.Theme
		to    *[]byte
	}{{picture.Light(), &t.Light}, {picture.Dark(), &t.Dark}} {
		var b bytes.Buffer
		if err := picture.PNG(&b, p, one.theme, 2); err != nil {
			return t, fmt.Errorf("shop: drawing %s: %w", d.Name, err)
		}
		*one.to = b.Bytes()
	}
	return t, nil
}
