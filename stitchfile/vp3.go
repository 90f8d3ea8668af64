package stitchfile

import (
	"encoding/binary"
	"fmt"
	"math"
	"unicode/utf16"

	"needlepace/stitch"
)

// The .vp3 file, numbers big-endian, lengths in 1/100 of 0.1 mm, y up in the
// header and down in the records:
//
//	"%vsm%" 00, a string of who wrote it, 00 02 00, bytes to the end, a string
//	the box, counts, 00 03 00, bytes to the end, the design's centre (x, y)
//	the box again, a string, fixed bytes, a string, the colour blocks (2 bytes)
//
// A colour block is 00 05 00, its length, the start (x, y) from the centre, a
// thread, 15 bytes of which the last 4 are a length, 0A F6 00, records of 2
// bytes (dx, dy signed) and a 00. In the records 80 is an escape:
//
//	80 01 dx dy   a displacement of 2 × 16 bits; 80 02 goes back to short ones
//	80 03         trim
//
// The format has no jump: a long displacement with no thread in the fabric is
// travel and then a penetration, with thread it is a stitch.
const vp3Signature = "%vsm%\x00"

// vp3Reach is how far from the middle a block may begin, 0.1 mm: 10 m, far
// more than any machine's field. (32 bits would reach over 2 km.)
const vp3Reach = 100_000

var vp3Format = format{
	name:    "vp3",
	exts:    []string{"vp3"},
	trims:   trimRecord,
	colours: "red, green, blue",
	sniff:   sniffVP3,
	decode:  decodeVP3,
	start:   hoop,
	lacks: "operator's stops, sequins, names of threads, colour stops away from the work, the way after the last " +
		"stitch; jumps with the thread uncut are part of the stitch after them",
	encode: encodeVP3,
}

func sniffVP3(b []byte) certainty {
	if len(b) >= len(vp3Signature) && string(b[:len(vp3Signature)]) == vp3Signature {
		return certain
	}
	return no
}

// vp3Reader walks the file; once a read runs off the end, short stays true
// and every further read gives zeros.
type vp3Reader struct {
	b     []byte
	i     int
	short bool
}

func (r *vp3Reader) take(n int) []byte {
	if n < 0 || n > len(r.b)-r.i {
		r.short = true
		return nil
	}
	r.i += n
	return r.b[r.i-n : r.i]
}

func (r *vp3Reader) u8() int {
	if p := r.take(1); p != nil {
		return int(p[0])
	}
	return 0
}

func (r *vp3Reader) u16() int {
	if p := r.take(2); p != nil {
		return int(binary.BigEndian.Uint16(p))
	}
	return 0
}

func (r *vp3Reader) i32() int {
	if p := r.take(4); p != nil {
		return int(int32(binary.BigEndian.Uint32(p)))
	}
	return 0
}

// units reads a length in 1/100 of 0.1 mm and rounds it to 0.1 mm.
func (r *vp3Reader) units() int { return int(math.Round(float64(r.i32()) / 100)) }

func (r *vp3Reader) str() []byte { return r.take(r.u16()) }

// vp3Header is what stands before the colour blocks.
type vp3Header struct {
	note             string
	centreX, centreY int // 0.1 mm, y up
	blocks           int
	box              int // byte offset of the box
	wide, high       int // 0.1 mm
	stitches         int
}

func (r *vp3Reader) header() (h vp3Header) {
	r.take(len(vp3Signature))
	r.str()
	r.take(7)
	if s := r.str(); len(s)%2 == 0 {
		u := make([]uint16, len(s)/2)
		for i := range u {
			u[i] = binary.BigEndian.Uint16(s[2*i:])
		}
		h.note = text([]byte(string(utf16.Decode(u))))
	}
	h.box = r.i
	right, top, left, bottom := r.units(), r.units(), r.units(), r.units()
	h.wide, h.high = right-left, top-bottom
	h.stitches = r.i32()
	r.take(12) // colours, fixed bytes, a length
	h.centreX, h.centreY = r.units(), r.units()
	r.take(27)
	r.str()
	r.take(24)
	r.str()
	h.blocks = r.u16()
	return h
}

func decodeVP3(b []byte) (*stitch.Design, sayer, error) {
	r := vp3Reader{b: b}
	if sniffVP3(b) != certain {
		return nil, nil, formatErr("vp3", 0, "the signature %vsm% is missing", "this is no .vp3 file, or a damaged one")
	}
	h := r.header()
	if r.short {
		return nil, nil, formatErr("vp3", len(b), "the file ends inside the header", remedyDamaged)
	}
	out := newBuilder((len(b) - r.i) / 2)
	out.d.Name = h.note
	x, y := 0, 0 // where the frame stands
	for k := range h.blocks {
		at := r.i
		mark := r.take(3)
		length := r.i32()
		end := r.i + length
		if r.short || string(mark) != "\x00\x05\x00" || length < 0 {
			if k == 0 {
				return nil, nil, formatErr("vp3", at, "the first colour block is missing or damaged", remedyDamaged)
			}
			out.warn(WarnCut, at, "colour block %d of %d is missing or damaged: the design is read as far as here, "+
				"get the file again", k+1, h.blocks)
			break
		}
		if k > 0 {
			out.d.Records = append(out.d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		startX, startY := h.centreX+r.units(), h.centreY+r.units()
		out.d.Threads = append(out.d.Threads, r.thread())
		r.take(11)
		inner := r.i32()
		inner += r.i
		open := r.take(3)
		if r.short || string(open) != "\x0a\xf6\x00" {
			return nil, nil, formatErr("vp3", r.i, fmt.Sprintf("the head of colour block %d is damaged", k+1), remedyDamaged)
		}
		// Two lengths say where the block ends: the outer to the next block,
		// the inner to the last byte but one. Real files have the outer one
		// wrong: the one that leads to the next block is right.
		last := k == h.blocks-1
		if next := inner + 1; inner >= r.i && (vp3BlockAt(b, next, last) || end < r.i || !vp3BlockAt(b, end, last)) {
			end = next
		}
		if end < r.i {
			return nil, nil, formatErr("vp3", at, fmt.Sprintf("the lengths of colour block %d are damaged", k+1),
				remedyDamaged)
		}
		if max(abs(startX), abs(startY)) > vp3Reach {
			return nil, nil, formatErr("vp3", at, fmt.Sprintf("colour block %d begins %.1f m from the middle", k+1,
				mm(max(abs(startX), abs(startY)))/1000), remedyDamaged)
		}
		if dx, dy := startX-x, startY-y; dx != 0 || dy != 0 {
			out.add(stitch.Jump, dx, dy)
			x, y = startX, startY
		}
		if end > len(b) {
			out.warn(WarnCut, len(b), "the file ends inside colour block %d of %d: it was cut short, get it again", k+1,
				h.blocks)
			end = len(b)
		}
		dx, dy := out.vp3Records(b[r.i:max(r.i, end-1)], r.i)
		x, y = x+dx, y+dy
		r.i = end
	}
	return out.finish(r.i, func(n stitch.Counts) {
		out.compareCount(h.box+16, h.stitches, n.Stitches, n.Stitches)
		out.compareBox(h.box, n.Bounds, h.wide, h.high)
	})
}

// vp3BlockAt reports whether a colour block, or after the last one the end of
// the file, stands at i.
func vp3BlockAt(b []byte, i int, last bool) bool {
	if last {
		return i == len(b)
	}
	return i+3 <= len(b) && string(b[i:i+3]) == "\x00\x05\x00"
}

func (r *vp3Reader) thread() stitch.Thread {
	n := r.u8()
	r.u8()
	var t stitch.Thread
	for k := range n {
		c := r.take(3)
		r.take(3)
		if k == 0 && c != nil {
			t = stitch.Thread{R: c[0], G: c[1], B: c[2], Known: true}
		}
	}
	r.take(2)
	for range 3 { // number, name and maker are a palette's: not read
		r.str()
	}
	return t
}

// vp3Records reads one block's records and returns their net displacement,
// y up. off is where p begins in the file.
func (b *builder) vp3Records(p []byte, off int) (x, y int) {
	thread := false
	i := 0
	for ; i+1 < len(p); i += 2 {
		if p[i] != 0x80 {
			dx, dy := int(int8(p[i])), -int(int8(p[i+1]))
			b.d.Records = append(b.d.Records, stitch.Record{DX: int16(dx), DY: int16(dy), Op: stitch.Sew})
			x, y, thread = x+dx, y+dy, true
			continue
		}
		switch p[i+1] {
		case 0x01:
			if i+5 >= len(p) {
				b.warn(WarnCut, off+i, "the colour block ends inside record %d: it was cut short", len(b.d.Records))
				return x, y
			}
			dx, dy := int(int16(binary.BigEndian.Uint16(p[i+2:]))), -int(int16(binary.BigEndian.Uint16(p[i+4:])))
			if thread {
				b.add(stitch.Sew, dx, dy)
			} else {
				b.add(stitch.Jump, dx, dy)
				b.add(stitch.Sew, 0, 0)
			}
			x, y, thread = x+dx, y+dy, true
			i += 4
		case 0x02: // back to short displacements
		case 0x03:
			b.d.Records = append(b.d.Records, stitch.Record{Op: stitch.Trim})
			thread = false
		default:
			b.warn(WarnBits, off+i, "unknown command 80 %02x at record %d: passed over, look at the picture", p[i+1],
				len(b.d.Records))
		}
	}
	return x, y
}
