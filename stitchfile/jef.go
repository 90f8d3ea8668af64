package stitchfile

import (
	"encoding/binary"
	"fmt"

	"needlepace/stitch"
)

// The .jef file, numbers little-endian, 4 bytes each:
//
//	  0  offset of the records
//	  4  flags, 0x14 as a rule, then date and time as text
//	 24  colours n
//	 28  records, by a count of its own
//	 36  left, top, right and bottom edge from the hoop's middle, 0.1 mm
//	116  n colour numbers into the fixed table of palette.go, n thread types
//
// Records are 2 bytes (dx, dy signed, y up); 0x80 is an escape:
//
//	80 01 dx dy   colour stop; the displacement is a move after it
//	80 02 dx dy   jump
//	80 10         end
const (
	jefOffset  = 0
	jefFlags   = 4
	jefColours = 24
	jefCount   = 28
	jefBox     = 36
	jefTable   = 116

	jefEscape = 0x80
	jefStop   = 0x01
	jefJump   = 0x02
	jefEnd    = 0x10
)

var jefFormat = format{
	name:    "jef",
	exts:    []string{"jef"},
	trims:   "runs of jumps",
	colours: "numbers into a fixed table: the shades shown are approximate",
	sniff:   sniffJEF,
	decode:  decodeJEF,
	start:   hoop,
	lacks:   "operator's stops, sequins, the name, names of threads; shades are the nearest of its table",
	encode:  encodeJEF,
}

func le32(b []byte, off int) int64 {
	if off+4 > len(b) {
		return -1
	}
	return int64(binary.LittleEndian.Uint32(b[off:]))
}

// sniffJEF: no signature, but an offset and a colour count that agree with
// each other, and the usual flags.
func sniffJEF(b []byte) certainty {
	if len(b) < jefTable+2 {
		return no
	}
	off, n := le32(b, jefOffset), le32(b, jefColours)
	switch {
	case off == jefTable+8*n && le32(b, jefFlags) == 0x14:
		return certain
	case off >= jefTable+4*n && off < int64(len(b)) && off < 1<<16 && le32(b, jefFlags)&^0xFF == 0:
		return possible
	}
	return no
}

func decodeJEF(b []byte) (*stitch.Design, sayer, error) {
	if len(b) < jefTable {
		return nil, nil, formatErr("jef", len(b), "the file ends inside the header", remedyDamaged)
	}
	off := le32(b, jefOffset)
	if off < jefTable || off > int64(len(b)) {
		return nil, nil, formatErr("jef", jefOffset, fmt.Sprintf("the records are said to begin at byte %d of %d", off,
			len(b)), remedyDamaged)
	}
	out := newBuilder((len(b) - int(off)) / 2)
	colours := le32(b, jefColours)
	if room := (off - jefTable) / 4; colours > room {
		out.warn(WarnTable, jefColours, "the header counts %d colours and has room for %d: the colours shown may be "+
			"wrong", colours, room)
		colours = room
	}
	for i := range int(colours) {
		out.d.Threads = append(out.d.Threads, jefPalette.thread(int(min(le32(b, jefTable+4*i), 1<<20))))
	}
	stops, err := out.jefRecords(b, int(off))
	if err != nil {
		return nil, nil, err
	}
	if claimed := le32(b, jefColours); claimed > 0 && int64(stops) != claimed-1 {
		out.warn(WarnColours, jefColours, "the header counts %d colours, the records make %d: the records count, "+
			"check the colour sequence", claimed, stops+1)
	}
	return out.finish(int(off), func(n stitch.Counts) { out.compareJEF(b, n) })
}

// compareJEF holds the records to the header's count and box. It counts words of 2
// bytes with the end code, some writers' without any of a jump. The box is about
// the middle of the hoop, where the frame begins; where the design lies in it does
// not matter to who chooses the hoop by hand, so sizes are compared.
func (b *builder) compareJEF(p []byte, c stitch.Counts) {
	words := c.Stitches + 2*c.ColourStops + 1
	b.compareCount(jefCount, int(le32(p, jefCount)), words, words+2*c.Jumps)
	side := func(k int) int { return int(int32(le32(p, jefBox+4*k))) }
	b.compareBox(jefBox, c.Bounds, side(0)+side(2), side(1)+side(3))
}

func (b *builder) jefRecords(p []byte, i int) (stops int, err error) {
	for ; i+1 < len(p); i += 2 {
		if p[i] != jefEscape {
			b.d.Records = append(b.d.Records, stitch.Record{DX: int16(int8(p[i])), DY: int16(int8(p[i+1])),
				Op: stitch.Sew})
			continue
		}
		op := stitch.Jump
		switch p[i+1] {
		case jefEnd:
			return stops, nil
		case jefJump:
		case jefStop:
			op = stitch.ColourStop
			stops++
		default:
			if len(b.d.Records) == 0 {
				return 0, &FormatError{Format: "jef", Offset: int64(i), Record: 0,
					Text: fmt.Sprintf("the records begin with an unknown command 80 %02x",
						p[i+1]), Remedy: "this is no .jef file, or a damaged one"}
			}
			b.warn(WarnBits, i, "unknown command 80 %02x at record %d: read as the end, %d bytes after it were not "+
				"read; look at the picture", p[i+1], len(b.d.Records), len(p)-i-2)
			return stops, nil
		}
		if i+3 >= len(p) {
			b.warn(WarnCut, i, "the file ends inside record %d, without an end code: it was cut short, get it again",
				len(b.d.Records))
			if op == stitch.ColourStop {
				stops--
			}
			return stops, nil
		}
		b.d.Records = append(b.d.Records, stitch.Record{DX: int16(int8(p[i+2])), DY: int16(int8(p[i+3])), Op: op})
		i += 2
	}
	if i < len(p) {
		b.warn(WarnCut, i, "the file ends inside record %d, without an end code: it was cut short, get it again",
			len(b.d.Records))
	} else {
		b.warn(WarnNoEnd, i, "there is no end code after record %d: the file may have been cut short", len(b.d.Records))
	}
	return stops, nil
}
