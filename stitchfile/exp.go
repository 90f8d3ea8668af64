package stitchfile

import (
	"fmt"

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
	trims:   trimRecord,
	colours: "colour stops only",
	sniff:   sniffEXP,
	decode:  decodeEXP,
	lacks:   "operator's stops, sequins, the name, threads",
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

func decodeEXP(b []byte) (*stitch.Design, sayer, error) {
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
				return nil, nil, &FormatError{Format: "exp", Offset: int64(i), Record: len(out.d.Records),
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

// encodeEXP writes a .exp file with the design's events. Name and threads have no
// place in it.
func encodeEXP(d *stitch.Design, r Readers) ([]byte, Written, error) {
	if len(d.Records) == 0 {
		return nil, Written{}, &UnsupportedError{Format: "exp", Record: -1,
			Text: "a .exp file without a record is an empty file, which nothing reads", Remedy: "write .dst"}
	}
	f := fitter{format: "exp", step: expMaxStep, trims: true, moves: true, Readers: r}
	if err := f.records(d.Records); err != nil {
		return nil, Written{}, err
	}
	b := make([]byte, 0, 2*len(f.out)+64)
	for _, r := range f.out {
		switch r.Op {
		case stitch.Jump:
			b = append(b, expEscape, expJump)
		case stitch.Trim:
			b = append(b, expEscape, expTrim, 0x07, 0x00)
			continue
		case stitch.ColourStop:
			b = append(b, expEscape, expStop)
		}
		b = append(b, byte(int8(r.DX)), byte(int8(r.DY)))
	}
	w := Written{Added: f.added}
	w.loses(LossName, d.Name != "")
	w.loses(LossThreads, len(d.Threads) > 0)
	return b, w, nil
}
