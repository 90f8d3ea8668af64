package stitchfile

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"

	"needlepace/stitch"
)

// The largest displacement of a record, and the most colours of a stitch block.
const (
	pecMaxStep = 2047
	pecShort   = 63 // of a byte; −64 too
	pecMost    = 255
)

// The pictures that follow the records, one of the design and one of each colour,
// a bit a point, the lowest bit first.
const (
	iconWide  = 48
	iconHigh  = 38
	iconBytes = iconWide / 8 * iconHigh
)

// encodePES writes a .pes file with the machine's stitch block and no part for
// editing: version 1 with the block right after its header, as real files have it
// too.
func encodePES(d *stitch.Design, r Readers) ([]byte, Written, error) {
	b := make([]byte, pesHeaderBytes, pesHeaderBytes+pecRecords+2*len(d.Records)+2*iconBytes)
	copy(b, "#PES0001")
	b[8] = pesHeaderBytes
	return appendPEC(b, "pes", d, r)
}

const pesHeaderBytes = 22

// appendPEC appends the machine's stitch block of a design that lies about the
// corner of its box.
func appendPEC(b []byte, format string, d *stitch.Design, r Readers) ([]byte, Written, error) {
	f := fitter{format: format, step: pecMaxStep, trims: true, Readers: r}
	if err := f.records(d.Records); err != nil {
		return nil, Written{}, err
	}
	c := (&stitch.Design{Records: f.out}).Count()
	if c.ColourStops >= pecMost {
		return nil, Written{}, &UnsupportedError{Format: format, Record: -1,
			Text:   fmt.Sprintf("a .%s file holds %d colours, the design has %d", format, pecMost, c.ColourStops+1),
			Remedy: "write .dst, .exp or .vp3"}
	}
	wide, high := c.Bounds.MaxX-c.Bounds.MinX, c.Bounds.MaxY-c.Bounds.MinY
	if max(wide, high) > math.MaxUint16 {
		return nil, Written{}, &UnsupportedError{Format: format, Record: -1,
			Text:   fmt.Sprintf("the design is %.1f m long, more than a .%s file can say", mm(max(wide, high))/1000, format),
			Remedy: "write .dst or .exp"}
	}
	w := Written{Added: f.added}
	// The travel before anything else is the start offset.
	at, rec := stitch.Point{}, f.out
	for len(rec) > 0 && rec[0].Op == stitch.Jump {
		at.X, at.Y = at.X+int(rec[0].DX), at.Y+int(rec[0].DY)
		rec = rec[1:]
	}
	startX, startY := clamp(at.X), clamp(at.Y)
	numbers := pecPalette.numbers(d.Threads, c.ColourStops+1, &w)

	block := len(b)
	b = append(b, bytes.Repeat([]byte{' '}, 512)...)
	p := b[block:]
	copy(p, fmt.Sprintf("LA:%-16s\r", label(d.Name, &w)))
	copy(p[32:], []byte{0xFF, 0, iconWide / 8, iconHigh})
	p[pecColours] = byte(len(numbers) - 1)
	for k, n := range numbers {
		p[pecColours+1+k] = byte(n)
	}
	b = append(b, 0, 0, 0, 0, 0, 0x31, 0xFF, 0xF0)
	b = binary.LittleEndian.AppendUint16(b, uint16(wide))
	b = binary.LittleEndian.AppendUint16(b, uint16(high))
	b = append(b, 0xE0, 0x01, 0xB0, 0x01)
	b = pecWords(b, pecJump, startX, startY)

	rest := fitter{format: format, step: pecMaxStep}
	rest.jump(at.X-startX, at.Y-startY, 0)
	stops := 0
	trim := false // the next record is the move of a trim
	for _, r := range append(rest.out, rec...) {
		flag := byte(0)
		if r.Op == stitch.Jump {
			flag = pecJump
		}
		if trim {
			trim, flag = false, pecTrim
			if r.Op != stitch.Jump { // a trim without travel
				b, flag = pecWords(b, pecTrim, 0, 0), 0
			}
		}
		switch {
		case r.Op == stitch.Trim:
			trim = true
		case r.Op == stitch.ColourStop:
			b = append(b, 0xFE, 0xB0, byte(2-stops%2))
			stops++
		case flag == 0 && pecIsShort(r.DX) && pecIsShort(-r.DY):
			b = append(b, byte(r.DX)&0x7F, byte(-r.DY)&0x7F)
		default:
			b = pecWords(b, flag, int(r.DX), int(r.DY))
		}
	}
	if trim {
		b = pecWords(b, pecTrim, 0, 0)
	}
	b = append(b, 0xFF)
	n := len(b) - block - 512
	if n >= 1<<24 {
		return nil, Written{}, &UnsupportedError{Format: format, Record: -1,
			Text: fmt.Sprintf("the design is too long for a .%s file", format), Remedy: "write .dst or .exp"}
	}
	copy(b[block+pecLength:], []byte{byte(n), byte(n >> 8), byte(n >> 16)})
	return append(b, pecIcons(f.out, c)...), w, nil
}

func clamp(v int) int { return max(-pecMaxStep, min(v, pecMaxStep)) }

func pecIsShort(v int16) bool { return v >= -pecShort-1 && v <= pecShort }

// pecWords appends a displacement, y up, as two words of 12 bits.
func pecWords(b []byte, flag byte, dx, dy int) []byte {
	for _, v := range [2]int{dx, -dy} {
		b = append(b, pecLong|flag|byte(v>>8)&0x0F, byte(v))
	}
	return b
}

// pecIcons draws the pictures. The first row of each is blank: with the byte after
// the records it is the end mark.
func pecIcons(rec []stitch.Record, c stitch.Counts) []byte {
	const edge = 2
	out := make([]byte, (c.ColourStops+2)*iconBytes)
	wide, high := max(1, c.Bounds.MaxX-c.Bounds.MinX), max(1, c.Bounds.MaxY-c.Bounds.MinY)
	scale := min(float64(iconWide-1-2*edge)/float64(wide), float64(iconHigh-1-2*edge)/float64(high))
	dot := func(colour int, x, y float64) {
		col := edge + int(x*scale+0.5)
		row := edge + int(y*scale+0.5)
		for _, icon := range [2]int{0, 1 + colour} {
			out[icon*iconBytes+row*iconWide/8+col/8] |= 1 << (col % 8)
		}
	}
	x, y, colour := 0, 0, 0
	var fromX, fromY float64
	thread := false
	for _, r := range rec {
		x, y = x+int(r.DX), y+int(r.DY)
		switch r.Op {
		case stitch.Sew, stitch.Sequin:
			toX, toY := float64(x-c.Bounds.MinX), float64(c.Bounds.MaxY-y)
			n := 1
			if thread {
				n = 1 + int(scale*max(toX-fromX, fromX-toX, toY-fromY, fromY-toY))
			}
			for k := 1; k <= n; k++ {
				part := float64(k) / float64(n)
				if !thread {
					part = 1
				}
				dot(colour, fromX+part*(toX-fromX), fromY+part*(toY-fromY))
			}
			fromX, fromY, thread = toX, toY, true
		case stitch.Trim:
			thread = false
		case stitch.ColourStop:
			thread = false
			colour++
		}
	}
	return out
}
