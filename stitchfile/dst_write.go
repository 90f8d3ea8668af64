package stitchfile

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"needlepace/stitch"
)

// encodeDST writes a .dst file. Jumps right before a trim record are read back as
// part of the travel after it. The header is truthful: ST counts all records with
// the end record, CO the colour stops, the box is that of the penetrations and the
// start point.
func encodeDST(d *stitch.Design, r Readers) ([]byte, Written, error) {
	f := fitter{format: "dst", step: dstMaxStep, moves: true, sequins: true, Readers: r}
	if err := f.records(d.Records); err != nil {
		return nil, Written{}, err
	}
	b := make([]byte, dstHeaderBytes, dstHeaderBytes+dstRecordBytes*(len(f.out)+1))
	for _, r := range f.out {
		x, y := &dstCodes[0][r.DX+dstMaxStep], &dstCodes[1][r.DY+dstMaxStep]
		b = append(b, x[0]|y[0], x[1]|y[1], x[2]|y[2]|dstFlags[r.Op])
	}
	b = append(b, 0, 0, 0xF3)
	w := Written{Added: f.added}
	copy(b, dstHeaderOf(d, f.out, &w))
	return b, w, nil
}

// The flags of byte 2 by op, low two bits included.
var dstFlags = [...]byte{stitch.Sew: 0x03, stitch.Jump: 0x83, stitch.ColourStop: 0xC3, stitch.Sequin: 0x43}

// dstCodes are the record's three bytes for a displacement from −121 on, of x
// and of y: the bits of both together are the record.
var dstCodes = makeDSTCodes()

func makeDSTCodes() (t [2][2*dstMaxStep + 1][dstRecordBytes]byte) {
	// The bits that add 1, 9 (byte 0), 3, 27 (byte 1) and 81 (byte 2); the
	// one that takes as much away stands above it for x and below it for y.
	xBits := [5]byte{0x01, 0x01, 0x04, 0x04, 0x04}
	yBits := [5]byte{0x80, 0x80, 0x20, 0x20, 0x20}
	for v := -dstMaxStep; v <= dstMaxStep; v++ {
		x, y := &t[0][v+dstMaxStep], &t[1][v+dstMaxStep]
		for k, rest := 0, v; rest != 0; k++ { // digit k of balanced ternary
			digit := ((rest+1)%3+3)%3 - 1
			rest = (rest - digit) / 3
			at := [5]int{0, 1, 0, 1, 2}[k]
			switch digit {
			case 1:
				x[at] |= xBits[k]
				y[at] |= yBits[k]
			case -1:
				x[at] |= xBits[k] << 1
				y[at] |= yBits[k] >> 1
			}
		}
	}
	return t
}

// dstHeaderOf makes the 512-byte header of a design whose records were written
// as rec.
func dstHeaderOf(d *stitch.Design, rec []stitch.Record, w *Written) []byte {
	c := (&stitch.Design{Records: rec}).Count()
	b := c.Bounds
	signed := func(v int) string {
		if v < 0 {
			return fmt.Sprintf("-%5d", -v)
		}
		return fmt.Sprintf("+%5d", v)
	}
	var h bytes.Buffer
	fmt.Fprintf(&h, "LA:%-16s\r", label(d.Name, w))
	fmt.Fprintf(&h, "ST:%7d\r", len(rec)+1)
	fmt.Fprintf(&h, "CO:%3d\r", c.ColourStops)
	fmt.Fprintf(&h, "+X:%5d\r-X:%5d\r+Y:%5d\r-Y:%5d\r", max(0, b.MaxX), max(0, -b.MinX), max(0, b.MaxY),
		max(0, -b.MinY))
	fmt.Fprintf(&h, "AX:%s\rAY:%s\rMX:+    0\rMY:+    0\rPD:******\r", signed(c.End.X), signed(c.End.Y))
	for _, t := range d.Threads {
		line := "TC:,\r"
		if t.Known {
			name := strings.ReplaceAll(plain(t.Name), ",", "_")
			w.loses(LossNames, name != t.Name)
			line = fmt.Sprintf("TC:#%02X%02X%02X,%s\r", t.R, t.G, t.B, name)
		}
		if h.Len()+len(line) >= dstHeaderBytes {
			w.loses(LossThreads, true)
			break // hints only: as many as there is room for
		}
		h.WriteString(line)
	}
	h.WriteByte(0x1A)
	h.Write(bytes.Repeat([]byte{' '}, max(0, dstHeaderBytes-h.Len())))
	return h.Bytes()
}

// labelLetters is how long the name of a design may be in .dst, .pes and .pec.
const labelLetters = 16

// plain is at most 16 plain characters.
func plain(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '_'
		}
		return r
	}, s)
	return s[:min(len(s), labelLetters)]
}

// label is a design's name as a header has it.
func label(name string, w *Written) string {
	short := plain(name)
	w.loses(LossName, short != name)
	return short
}

// loses notes what is lost, once.
func (w *Written) loses(what Loss, lost bool) {
	if lost && !slices.Contains(w.Lost, what) {
		w.Lost = append(w.Lost, what)
	}
}
