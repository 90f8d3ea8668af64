package stitchfile

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"needlepace/stitch"
)

// encodeDST writes a .dst file whose events, read with three to so many jumps
// for a trim, are the design's:
//
//   - A trim record and the travel after it become one run of at least so many
//     jumps with the same net displacement; with no travel, jumps that come back
//     to where they began.
//   - A jump over 12.1 mm an axis is cut into several. A stitch over 12.1 mm
//     is led in by jumps and penetrates once, as before.
//   - Where that would put three jumps in a row with the thread uncut, which
//     every machine would read as a trim, and for an operator's stop, which
//     .dst does not have, the error is an UnsupportedError.
//
// Jumps right before a trim record are read back as part of the travel after
// it. The header is truthful: ST counts all records with the end record, CO
// the colour stops, the box is that of the penetrations and the start point.
func encodeDST(w io.Writer, d *stitch.Design, jumps int) error {
	e := dstWriter{least: jumps, body: make([]byte, 0, dstRecordBytes*(len(d.Records)+len(d.Records)/8+1))}
	if err := e.design(d.Records); err != nil {
		return err
	}
	e.put(0, 0, 0xF3)
	h := e.header(d)
	if _, err := w.Write(append(h, e.body...)); err != nil {
		return fmt.Errorf("stitchfile: writing .dst: %w", err)
	}
	return nil
}

type dstWriter struct {
	body   []byte
	thread bool // is thread in the fabric?
	jumps  int  // jump records since the last other record
	least  int  // jumps for a trim
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

func (e *dstWriter) put(dx, dy int, flags byte) {
	x, y := &dstCodes[0][dx+dstMaxStep], &dstCodes[1][dy+dstMaxStep]
	e.body = append(e.body, x[0]|y[0], x[1]|y[1], x[2]|y[2]|flags)
}

// jump appends one move as n or more jumps of equal length.
func (e *dstWriter) jump(dx, dy, n int) {
	n = max(n, pieces(dx, dy, dstMaxStep))
	e.jumps += n
	for ; n > 0; n-- {
		sx, sy := dx/n, dy/n
		e.put(sx, sy, dstFlags[stitch.Jump])
		dx, dy = dx-sx, dy-sy
	}
}

func (e *dstWriter) design(rec []stitch.Record) error {
	for i := 0; i < len(rec); {
		r := rec[i]
		dx, dy := int(r.DX), int(r.DY)
		switch r.Op {
		case stitch.Sew, stitch.Sequin:
			if n := pieces(dx, dy, dstMaxStep); n > 1 {
				lx, ly := dx*(n-1)/n, dy*(n-1)/n
				if e.thread && e.jumps < trimJumps && e.jumps+n-1 >= trimJumps {
					return tooLong("dst", i, "stitch", dx, dy, 2*dstMaxStep)
				}
				e.jump(lx, ly, n-1)
				dx, dy = dx-lx, dy-ly
			}
			e.put(dx, dy, dstFlags[r.Op])
			e.thread, e.jumps = true, 0
			i++
		case stitch.Jump:
			n := 1
			if e.thread {
				for i+n < len(rec) && rec[i+n].Op == stitch.Jump {
					n++
				}
				if n < trimJumps {
					if err := e.shortJumps(rec, i, n); err != nil {
						return err
					}
					i += n
					continue
				}
				e.thread = false
			}
			for ; n > 0; n-- {
				e.jump(int(rec[i].DX), int(rec[i].DY), 1)
				i++
			}
		case stitch.Trim:
			i = e.trim(rec, i)
		case stitch.ColourStop:
			if pieces(dx, dy, dstMaxStep) > 1 {
				e.put(0, 0, dstFlags[r.Op])
				e.jump(dx, dy, 1)
			} else {
				e.put(dx, dy, dstFlags[r.Op])
			}
			e.thread, e.jumps = false, 0
			i++
		case stitch.Stop:
			return noStop("dst", i)
		default:
			return &UnsupportedError{Format: "dst", Record: i,
				Text: fmt.Sprintf("%v (%d) has no form in a .dst file", r.Op, r.Op), Remedy: "take the record out"}
		}
	}
	return nil
}

// shortJumps writes n < trimJumps jumps that the needle's thread stays in
// the fabric through. If cutting them to size would make a trim of them, the
// whole move is laid out in as many jumps as are no trim yet.
func (e *dstWriter) shortJumps(rec []stitch.Record, i, n int) error {
	need, dx, dy := 0, 0, 0
	for _, r := range rec[i : i+n] {
		need += max(1, pieces(int(r.DX), int(r.DY), dstMaxStep))
		dx += int(r.DX)
		dy += int(r.DY)
	}
	if need < trimJumps {
		for _, r := range rec[i : i+n] {
			e.jump(int(r.DX), int(r.DY), 1)
		}
		return nil
	}
	if pieces(dx, dy, dstMaxStep) >= trimJumps {
		return tooLong("dst", i, "jump", dx, dy, 2*dstMaxStep)
	}
	e.jump(dx, dy, trimJumps-1)
	return nil
}

// trim writes the trim record at i and the travel that follows, and returns
// the index after them.
func (e *dstWriter) trim(rec []stitch.Record, i int) int {
	cut := e.thread
	var moves []stitch.Record
	need, x, y := 0, 0, 0
	for ; i < len(rec) && (rec[i].Op == stitch.Trim || rec[i].Op == stitch.Jump); i++ {
		r := rec[i]
		if r.Op == stitch.Trim && r.DX == 0 && r.DY == 0 {
			continue
		}
		moves = append(moves, r)
		need += max(1, pieces(int(r.DX), int(r.DY), dstMaxStep))
		x += int(r.DX)
		y += int(r.DY)
	}
	e.thread = false
	switch {
	case cut && need < e.least && x == 0 && y == 0:
		// A trim without travel: out and back, so that no reader that
		// drops empty jumps loses it.
		for n := e.least; n > 0; n -= 2 {
			e.jump(2, 2, 1)
			if n == 3 {
				e.jump(-4, -4, 1)
				e.jump(2, 2, 1)
				break
			}
			e.jump(-2, -2, 1)
		}
	case cut && need < e.least:
		e.jump(x, y, e.least)
	default:
		for _, r := range moves {
			e.jump(int(r.DX), int(r.DY), 1)
		}
	}
	return i
}

// header makes the 512-byte header from the records that were written.
func (e *dstWriter) header(d *stitch.Design) []byte {
	s := scanDST(e.body)
	w := stitch.Design{Records: s.records}
	c := w.Count()
	b := c.Bounds
	signed := func(v int) string {
		if v < 0 {
			return fmt.Sprintf("-%5d", -v)
		}
		return fmt.Sprintf("+%5d", v)
	}
	var h bytes.Buffer
	fmt.Fprintf(&h, "LA:%-16s\r", dstLabel(d.Name))
	fmt.Fprintf(&h, "ST:%7d\r", len(e.body)/dstRecordBytes)
	fmt.Fprintf(&h, "CO:%3d\r", c.ColourStops)
	fmt.Fprintf(&h, "+X:%5d\r-X:%5d\r+Y:%5d\r-Y:%5d\r", max(0, b.MaxX), max(0, -b.MinX), max(0, b.MaxY),
		max(0, -b.MinY))
	fmt.Fprintf(&h, "AX:%s\rAY:%s\rMX:+    0\rMY:+    0\rPD:******\r", signed(c.End.X), signed(c.End.Y))
	for _, t := range d.Threads {
		line := "TC:,\r"
		if t.Known {
			line = fmt.Sprintf("TC:#%02X%02X%02X,%s\r", t.R, t.G, t.B, strings.ReplaceAll(dstLabel(t.Name), ",", "_"))
		}
		if h.Len()+len(line) >= dstHeaderBytes {
			break // hints only: as many as there is room for
		}
		h.WriteString(line)
	}
	h.WriteByte(0x1A)
	h.Write(bytes.Repeat([]byte{' '}, max(0, dstHeaderBytes-h.Len())))
	return h.Bytes()
}

// dstLabel is at most 16 plain characters.
func dstLabel(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '_'
		}
		return r
	}, s)
	return s[:min(len(s), 16)]
}
