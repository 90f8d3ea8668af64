package stitchfile

import (
	"encoding/binary"
	"fmt"

	"needlepace/stitch"
)

// The machine's stitch block of .pes files, and nearly all of a .pec file.
// Offsets are from the block's start, numbers little-endian:
//
//	  0  "LA:" and a name of 16 bytes
//	 48  colour changes n, one byte; 255: no colours at all
//	 49  n+1 colour numbers into the fixed table of palette.go
//	514  length of the stitch part, 3 bytes, counted from 512
//	517  31 FF F0, width and height (2 bytes each, 0.1 mm), E0 01 B0 01
//	528  start offset: two big-endian words of 12 bits, y down
//	532  records to FF 00
//
// A record is two displacements, x then y (down). A byte below 0x80 is one of
// 7 bits; with the top bit set two bytes are one of 12 bits, with 0x20 for a
// trim before the move and 0x10 for a jump in the first. FE B0 and a byte is
// a colour stop.
const (
	pecColours = 48
	pecLength  = 514
	pecMark    = 517
	pecWide    = 520
	pecFixed   = 524
	pecStart   = 528
	pecRecords = 532

	pecLong = 0x80
	pecTrim = 0x20
	pecJump = 0x10
)

var pecFormat = format{
	name:    "pec",
	exts:    []string{"pec"},
	trims:   trimRecord,
	colours: "numbers into a fixed table: the shades shown are approximate",
	sniff: func(b []byte) certainty {
		if len(b) >= 8 && string(b[:4]) == "#PEC" || len(b) > pecMark+3 && string(b[:3]) == "LA:" && pecMarked(b) {
			return certain
		}
		return no
	},
	decode: func(b []byte) (*stitch.Design, sayer, error) { return decodePEC("pec", b, pecOffset(b)) },
	start:  corner,
}

// pecOffset is where the block begins in a .pec file: after the signature.
func pecOffset(b []byte) int {
	if len(b) >= 8 && b[0] == '#' {
		return 8
	}
	return 0
}

func pecMarked(p []byte) bool { return string(p[pecMark:pecMark+3]) == "\x31\xff\xf0" }

func pecName(p []byte) string {
	if len(p) < 19 || string(p[:3]) != "LA:" {
		return ""
	}
	return text(p[3:19])
}

// signed12 is the 12-bit displacement of a long word.
func signed12(hi, lo byte) int { return int(int16(uint16(hi)<<12|uint16(lo)<<4)) >> 4 }

// signed7 is the displacement of a short byte.
func signed7(c byte) int { return int(int8(c<<1)) >> 1 }

// decodePEC reads the block that begins at byte off of a file.
func decodePEC(format string, file []byte, off int) (*stitch.Design, sayer, error) {
	p := file[off:]
	if len(p) < pecFixed+2 {
		return nil, nil, formatErr(format, len(file), "the file ends inside the header of the stitch block", remedyDamaged)
	}
	length := int(p[pecLength]) | int(p[pecLength+1])<<8 | int(p[pecLength+2])<<16
	if !pecMarked(p) && (length == 0 || string(p[:3]) != "LA:") {
		return nil, nil, formatErr(format, off, "the machine's stitch block is missing or blank",
			"save the design anew, or as .dst")
	}
	out := newBuilder(len(p[pecFixed:])/2 + 4)
	out.d.Name = pecName(p)
	changes := -1
	if n := int(p[pecColours]); n != 255 {
		changes = n
		for _, c := range p[pecColours+1 : pecColours+1+n+1] {
			out.d.Threads = append(out.d.Threads, pecPalette.thread(int(c)))
		}
	}
	if p[pecFixed] == 0xFF && p[pecFixed+1] == 0 { // no start offset, no records
		return out.finish(off + pecFixed)
	}
	if len(p) < pecRecords {
		return nil, nil, formatErr(format, len(file), "the file ends before the first record", remedyDamaged)
	}
	wide, high := int(binary.LittleEndian.Uint16(p[pecWide:])), int(binary.LittleEndian.Uint16(p[pecWide+2:]))
	head := *out
	stops, end := out.pecFrom(p, off, true)
	if p[pecStart]&pecLong == 0 || p[pecStart+2]&pecLong == 0 {
		// Not the two words of a start offset, as it seems: some writers begin with
		// the records. Read so as the header's box has it.
		bare := head
		bare.d.Records = nil
		if s, e := bare.pecFrom(p, off, false); wide == 0 && high == 0 || bare.fit(wide, high) <= out.fit(wide, high) {
			out, stops, end = &bare, s, e
		}
	}
	if want := pecLength - 2 + length; end >= 0 && length > 0 && end+2 < want && want <= len(p) {
		out.warn(WarnCount, off+end, "the records end at byte %d, %d bytes before the header says: the rest was not "+
			"read, look at the picture", off+end, want-end)
	}
	if changes >= 0 && changes != stops {
		out.warn(WarnColours, off+pecColours, "the header counts %d colour stops, the records hold %d: the records "+
			"count, check the colour sequence", changes, stops)
	}
	return out.finish(off+pecRecords, func(n stitch.Counts) { out.compareBox(off+pecWide, n.Bounds, wide, high) })
}

// fit is by how much the box of the stitches differs from the header's, 0.1 mm.
func (b *builder) fit(wide, high int) int {
	box := b.d.Count().Bounds
	return abs(box.MaxX-box.MinX-wide) + abs(box.MaxY-box.MinY-high)
}

// pecFrom reads the records, after the start offset where there is one.
func (b *builder) pecFrom(p []byte, off int, start bool) (stops, end int) {
	if !start {
		return b.pecRecords(p, off, pecStart)
	}
	if x, y := signed12(p[pecStart], p[pecStart+1]), signed12(p[pecStart+2], p[pecStart+3]); x != 0 || y != 0 {
		b.add(stitch.Jump, x, -y)
	}
	return b.pecRecords(p, off, pecRecords)
}

// pecRecords reads the records from i on; end is the offset of the end mark in p, −1
// where there is none.
func (b *builder) pecRecords(p []byte, off, i int) (stops, end int) {
	cut := func() (int, int) {
		b.warn(WarnCut, off+i, "the file ends inside record %d, without an end mark: it was cut short, get it again",
			len(b.d.Records))
		return stops, -1
	}
	for i+1 < len(p) {
		c, at := p[i], i
		switch {
		case c == 0xFF && p[i+1] == 0:
			return stops, i
		case c == 0xFE && p[i+1] == 0xB0:
			if i+2 >= len(p) {
				return cut()
			}
			b.d.Records = append(b.d.Records, stitch.Record{Op: stitch.ColourStop})
			stops++
			i += 3
			continue
		case c&pecLong == 0 && p[i+1]&pecLong == 0: // by far the most
			b.d.Records = append(b.d.Records, stitch.Record{DX: int16(signed7(c)), DY: int16(-signed7(p[i+1])),
				Op: stitch.Sew})
			i += 2
			continue
		}
		flags := byte(0)
		var v [2]int
		for axis := range v {
			switch {
			case i >= len(p):
				i = at
				return cut()
			case p[i]&pecLong == 0:
				v[axis] = signed7(p[i])
				i++
			case i+1 >= len(p):
				i = at
				return cut()
			default:
				flags |= p[i]
				v[axis] = signed12(p[i], p[i+1])
				i += 2
			}
		}
		op := stitch.Sew
		if flags&pecTrim != 0 {
			b.d.Records = append(b.d.Records, stitch.Record{Op: stitch.Trim})
			op = stitch.Jump
		} else if flags&pecJump != 0 {
			op = stitch.Jump
		}
		b.add(op, v[0], -v[1])
	}
	if i < len(p) {
		return cut()
	}
	b.warn(WarnNoEnd, off+i, "there is no end mark after record %d: the file may have been cut short", len(b.d.Records))
	return stops, -1
}

// The .pes file: the signature "#PES" and a version, the offset of the
// machine's stitch block, a part for editing that no machine sews, the block.
var pesFormat = format{
	name:    "pes",
	exts:    []string{"pes"},
	trims:   trimRecord,
	colours: "numbers into a fixed table: the shades shown are approximate",
	sniff: func(b []byte) certainty {
		if len(b) >= 4 && string(b[:4]) == "#PES" {
			return certain
		}
		return no
	},
	decode: decodePES,
	start:  corner,
	lacks: "operator's stops, sequins, names of threads, more than 16 letters of the name, the place in the frame; " +
		"shades are the nearest of its table, 255 colours at most",
	encode: encodePES,
}

// pesBlock is where a .pes file says that its stitch block begins; far beyond
// any file where it says nothing sensible.
func pesBlock(b []byte) int64 {
	if off := le32(b, 8); off >= 12 && off < MaxFileBytes {
		return off
	}
	return MaxFileBytes
}

func decodePES(b []byte) (*stitch.Design, sayer, error) {
	if len(b) < 12 {
		return nil, nil, formatErr("pes", len(b), "the file ends inside the header", remedyDamaged)
	}
	if string(b[:4]) != "#PES" {
		return nil, nil, formatErr("pes", 0, "the signature #PES is missing", "this is no .pes file, or a damaged one")
	}
	off := pesBlock(b)
	if off >= int64(len(b)) {
		return nil, nil, formatErr("pes", 8, fmt.Sprintf("the stitch block is said to begin at byte %d of %d", le32(b, 8),
			len(b)), remedyDamaged)
	}
	return decodePEC("pes", b, int(off))
}
