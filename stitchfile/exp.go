package stitchfile

import (
	"fmt"
	"io"

	"needlepace/stitch"
)

// The .exp file: no header, records of 2 bytes (dx, dy as signed bytes, y
// up). A first byte of 0x80 is an escape; the second says what the 2 bytes
// after it are:
//
//	80 01 dx dy   colour stop (a displacement is a move after it)
//	80 02 dx dy   stitch
//	80 04 dx dy   jump
//	80 80 xx xx   trim; the last two bytes (07 00 as a rule) are no movement
//
// There is no end record: the file ends. An unknown escape ends it too.
const (
	expEscape  = 0x80
	expStop    = 0x01
	expStitch  = 0x02
	expJump    = 0x04
	expTrim    = 0x80
	expMaxStep = 127 // −128 in x is the escape, so no writer uses it
)

var expFormat = format{
	name:    "exp",
	exts:    []string{"exp"},
	trims:   "yes",
	colours: "colour stops only",
	sniff:   sniffEXP,
	decode:  decodeEXP,
	encode:  encodeEXP,
}

// sniffEXP: with no header, only a known escape and none unknown speak for it.
func sniffEXP(b []byte) certainty {
	known := 0
	for i := 0; i+1 < len(b); i += 2 {
		if b[i] != expEscape {
			continue
		}
		switch b[i+1] {
		case expStop, expStitch, expJump, expTrim:
			known++
			i += 2
		default:
			return no
		}
	}
	if known == 0 {
		return no
	}
	return possible
}

func decodeEXP(b []byte) (*stitch.Design, error) {
	out := newBuilder(len(b) / 2)
	i := 0
	for ; i+1 < len(b); i += 2 {
		if b[i] != expEscape {
			out.d.Records = append(out.d.Records, stitch.Record{DX: int16(int8(b[i])), DY: int16(int8(b[i+1])),
				Op: stitch.Sew})
			continue
		}
		op := stitch.Sew
		switch b[i+1] {
		case expStop:
			op = stitch.ColourStop
		case expStitch:
		case expJump:
			op = stitch.Jump
		case expTrim:
			op = stitch.Trim
		default:
			// A format without header or checks can only be doubted by what it
			// says: most of a sound file stands before such an end.
			if i < len(b)/2 {
				return nil, &FormatError{Format: "exp", Offset: int64(i), Record: len(out.d.Records),
					Text: fmt.Sprintf("unknown command 80 %02x with %d of %d bytes unread", b[i+1], len(b)-i,
						len(b)), Remedy: "this is no .exp file, or a damaged one; take the design from its source again"}
			}
			if len(b)-i > 4 {
				out.warn(WarnBits, i, "unknown command 80 %02x at record %d: read as the end, %d bytes after it "+
					"were not read; look at the picture", b[i+1], len(out.d.Records), len(b)-i-2)
			}
			return out.finish(0)
		}
		if i+3 >= len(b) {
			out.warn(WarnCut, i, "the file ends inside record %d: it may have been cut short", len(out.d.Records))
			return out.finish(0)
		}
		r := stitch.Record{DX: int16(int8(b[i+2])), DY: int16(int8(b[i+3])), Op: op}
		if op == stitch.Trim {
			r.DX, r.DY = 0, 0
		}
		out.d.Records = append(out.d.Records, r)
		i += 2
	}
	if i < len(b) && b[i] != 0x1A && b[i] != 0 {
		out.warn(WarnCut, i, "the file has an odd size and ends inside record %d: it may have been cut short",
			len(out.d.Records))
	}
	return out.finish(0)
}

// encodeEXP writes a .exp file with the design's events. A move over 12.7 mm
// an axis is cut: a jump into jumps, a stitch into jumps and one penetration
// at the end. Where that would put three jumps in a row with the thread
// uncut, for an operator's stop and for a sequin, which .exp does not have,
// the error is an UnsupportedError. Name and threads have no place in it.
func encodeEXP(w io.Writer, d *stitch.Design, _ int) error {
	if len(d.Records) == 0 {
		return &UnsupportedError{Format: "exp", Record: -1,
			Text: "a .exp file without a record is an empty file, which nothing reads", Remedy: "write .dst"}
	}
	b := make([]byte, 0, 2*len(d.Records)+64)
	step := func(dx, dy int) { b = append(b, byte(int8(dx)), byte(int8(dy))) }
	// lead appends a move as n equal jumps.
	lead := func(dx, dy, n int) {
		for ; n > 0; n-- {
			b = append(b, expEscape, expJump)
			sx, sy := dx/n, dy/n
			step(sx, sy)
			dx, dy = dx-sx, dy-sy
		}
	}
	thread, jumps := false, 0 // as in stitch.Events, which decides what a trim is
	for i, r := range d.Records {
		dx, dy := int(r.DX), int(r.DY)
		n := max(1, pieces(dx, dy, expMaxStep))
		switch r.Op {
		case stitch.Sew:
			if thread && n > 1 && jumps < trimJumps && jumps+n-1 >= trimJumps {
				return tooLong("exp", i, "stitch", dx, dy, 2*expMaxStep)
			}
			lx, ly := dx*(n-1)/n, dy*(n-1)/n
			lead(lx, ly, n-1)
			step(dx-lx, dy-ly)
			thread, jumps = true, 0
		case stitch.Jump:
			before := 0 // jumps of this run in the design, this one and those after it too
			if thread && n > 1 {
				for k := i; k < len(d.Records) && d.Records[k].Op == stitch.Jump; k++ {
					before++
				}
				for k := i - 1; k >= 0 && d.Records[k].Op == stitch.Jump; k-- {
					before++
				}
				if before < trimJumps && (before-1)+n >= trimJumps {
					return tooLong("exp", i, "jump", dx, dy, 2*expMaxStep)
				}
			}
			lead(dx, dy, n)
			jumps += n
			if jumps >= trimJumps {
				thread = false
			}
		case stitch.Trim:
			b = append(b, expEscape, expTrim, 0x07, 0x00)
			if dx != 0 || dy != 0 {
				lead(dx, dy, n)
			}
			thread, jumps = false, 0
		case stitch.ColourStop:
			b = append(b, expEscape, expStop)
			if n == 1 {
				step(dx, dy)
			} else {
				step(0, 0)
				lead(dx, dy, n)
			}
			thread, jumps = false, 0
		case stitch.Stop:
			return noStop("exp", i)
		default:
			return &UnsupportedError{Format: "exp", Record: i,
				Text: fmt.Sprintf("a %v has no form in a .exp file",
					r.Op), Remedy: "write .dst, or take the record out"}
		}
	}
	if _, err := w.Write(b); err != nil {
		return fmt.Errorf("stitchfile: writing .exp: %w", err)
	}
	return nil
}
