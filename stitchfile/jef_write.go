package stitchfile

import (
	"encoding/binary"
	"fmt"

	"needlepace/stitch"
)

// What a .jef header says besides: from the format's public descriptions (from
// memory) and 33 real files.
const (
	jefDate   = "20000101000000" // always: the same design is the same bytes
	jefType   = 13               // the type of thread that every real file gives every colour
	jefStep   = 127
	jefNoHoop = 6 // the hoop of the one real file that no listed one holds
)

// jefHoops are the hoops that the header knows, the smallest first: half their
// width and height, 0.1 mm.
var jefHoops = []struct{ code, x, y int }{{1, 250, 250}, {0, 550, 550}, {3, 630, 550}, {2, 700, 1000}, {4, 1000, 1000}}

// jefRooms are the four hoops whose room around the design the header gives, −1
// on all sides where it does not fit.
var jefRooms = [4][2]int{{550, 550}, {250, 250}, {700, 1000}, {700, 1000}}

// encodeJEF writes a .jef file of a design that lies about the hoop's middle.
func encodeJEF(d *stitch.Design, r Readers) ([]byte, Written, error) {
	f := fitter{format: "jef", step: jefStep, Readers: r}
	if err := f.records(d.Records); err != nil {
		return nil, Written{}, err
	}
	w := Written{Added: f.added}
	c := (&stitch.Design{Records: f.out}).Count()
	colours := c.ColourStops + 1
	numbers := jefPalette.numbers(d.Threads, colours, &w)
	w.loses(LossName, d.Name != "")

	left, top, right, bottom := max(0, -c.Bounds.MinX), max(0, c.Bounds.MaxY), max(0, c.Bounds.MaxX),
		max(0, -c.Bounds.MinY)
	x, y := max(left, right), max(top, bottom)
	hoop := jefNoHoop
	for _, h := range jefHoops {
		if x <= h.x && y <= h.y {
			hoop = h.code
			break
		}
	}
	b := make([]byte, 0, jefTable+8*colours+2*len(f.out)+2*(c.Jumps+c.ColourStops)+2)
	i32 := func(v ...int) {
		for _, v := range v {
			b = binary.LittleEndian.AppendUint32(b, uint32(int32(v)))
		}
	}
	i32(jefTable+8*colours, 0x14)
	b = fmt.Appendf(b, "%s\x00\x00", jefDate)
	// The count is that of 2-byte words, the end code one of them.
	i32(colours, len(f.out)+c.Jumps+c.ColourStops+1, hoop, left, top, right, bottom)
	for _, h := range jefRooms {
		if x > h[0] || y > h[1] {
			i32(-1, -1, -1, -1)
		} else {
			i32(h[0]-left, h[1]-top, h[0]-right, h[1]-bottom)
		}
	}
	i32(numbers...)
	for range numbers {
		i32(jefType)
	}
	for _, r := range f.out {
		switch r.Op {
		case stitch.Jump:
			b = append(b, jefEscape, jefJump)
		case stitch.ColourStop:
			b = append(b, jefEscape, jefStop)
		}
		b = append(b, byte(int8(r.DX)), byte(int8(r.DY)))
	}
	return append(b, jefEscape, jefEnd), w, nil
}
