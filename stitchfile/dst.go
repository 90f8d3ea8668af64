package stitchfile

import (
	"bytes"

	"needlepace/internal/hugepages"
	"needlepace/stitch"
)

// The .dst file: a text header of 512 bytes, then records of 3 bytes, to the
// end record. Each axis of a record is a sum of the signed weights 1, 3, 9,
// 27 and 81 (balanced ternary, −121…+121 in 0.1 mm), y up:
//
//	bit      7     6     5     4     3     2     1     0
//	byte 0   y+1   y−1   y+9   y−9   x−9   x+9   x−1   x+1
//	byte 1   y+3   y−3   y+27  y−27  x−27  x+27  x−3   x+3
//	byte 2   stop  seq   y+81  y−81  x−81  x+81  1     1
//
// The top two bits of byte 2: 00 stitch, 10 jump, 11 colour stop, 01 sequin.
// A colour stop with both y+81 and y−81 set is the end.
const (
	dstHeaderBytes = 512
	dstRecordBytes = 3
	dstMaxStep     = 121 // largest displacement of a record on an axis, 0.1 mm
	dstEndMask     = 0xF3
	dstLowBits     = 0x03
)

var dstFormat = format{
	name:    "dst",
	exts:    []string{"dst"},
	trims:   "three or more jumps in a row",
	colours: "colour stops; thread lines in the header if there are any",
	sniff:   sniffDST,
	decode:  decodeDST,
	lacks:   "operator's stops; threads that have no room in the header",
	encode:  encodeDST,
}

// The three bytes of a record are looked up apart and added: a table's entry
// holds x in bits 0–15 and y in bits 16–31, each made non-negative by its
// table's share of dstMaxStep so that no sum borrows, the op in bits 32–39
// and, for the rare records that need a look, marks above.
const (
	dstMarkShift = 40
	dstMarkEnd   = 1
	dstMarkSeq   = 2
	dstMarkBits  = 4 // the low two bits are not 11
)

var dstTables = makeDSTTables()

func makeDSTTables() (t [3][256]uint64) {
	for c := range 256 {
		// bit is 1 where bit n of the byte is set.
		bit := func(n int) int { return c >> n & 1 }
		entry := func(x, y, share int) uint64 { return uint64(x+share) | uint64(y+share)<<16 }
		low := func(w int) (x, y int) { // bits of weight w and 9w
			return w*(bit(0)-bit(1)) + 9*w*(bit(2)-bit(3)), w*(bit(7)-bit(6)) + 9*w*(bit(5)-bit(4))
		}
		x, y := low(1)
		t[0][c] = entry(x, y, 10)
		x, y = low(3)
		t[1][c] = entry(x, y, 30)
		e := entry(81*(bit(2)-bit(3)), 81*(bit(5)-bit(4)), 81)
		op, mark := stitch.Sew, 0
		switch c >> 6 {
		case 2:
			op = stitch.Jump
		case 3:
			op = stitch.ColourStop
		case 1:
			op, mark = stitch.Sequin, dstMarkSeq
		}
		if c&dstEndMask == dstEndMask {
			mark = dstMarkEnd
		} else if c&dstLowBits != dstLowBits {
			mark |= dstMarkBits
		}
		t[2][c] = e | uint64(op)<<32 | uint64(mark)<<dstMarkShift
	}
	return t
}

func sniffDST(b []byte) certainty {
	if len(b) >= 3 && string(b[:3]) == "LA:" {
		if bytes.Contains(b[:min(len(b), 64)], []byte("ST:")) {
			return certain
		}
		return possible
	}
	if bad, n, end := dstBadRecords(b, dstHeaderBytes); bad == 0 && (n >= 8 || end) {
		return possible
	}
	return no
}

func decodeDST(b []byte) (*stitch.Design, sayer, error) {
	if len(b) < dstHeaderBytes {
		return nil, nil, formatErr("dst", len(b), "the file ends inside the 512-byte header", remedyDamaged)
	}
	start := dstAlign(b)
	h := parseDSTHeader(b[:min(start, dstHeaderBytes)])
	d := &stitch.Design{Name: h.name, Threads: h.threads}
	if start != dstHeaderBytes {
		warn(d, WarnMisalign, start, "the records begin at byte %d and not at 512: read from there; save the file "+
			"anew before a machine gets it", start)
	}
	s := scanDST(b[start:])
	// end is the byte offset after the last record, without the end record;
	// every re-alignment moves the records that follow.
	end := start + len(s.records)*dstRecordBytes
	for range dstMaxSlips {
		next, slip := dstSlip(b, &s, end)
		if slip == 0 {
			break
		}
		warn(d, WarnMisalign, next-slip, "from record %d on (byte %d) the records are out of step: read on %d bytes "+
			"further; the file is damaged there, look at the picture", s.firstBits, next-slip, slip)
		rest := scanDST(b[next:])
		s.join(&rest)
		end = next + len(rest.records)*dstRecordBytes
	}
	d.Records = clip(s.records)
	n := len(d.Records)
	if n > 0 && 2*s.bits > n {
		return nil, nil, &FormatError{Format: "dst", Offset: int64(end - (n-s.firstBits)*dstRecordBytes),
			Record: s.firstBits,
			Text:   "most records lack the two bits that every .dst record has", Remedy: "this is no .dst file, or a " +
				"damaged one"}
	}
	if s.bits > 0 {
		warn(d, WarnBits, end-(n-s.firstBits)*dstRecordBytes,
			"%d of %d records lack the two bits that every record has, the first is record %d: the file is damaged "+
				"there, look at the picture", s.bits, n, s.firstBits)
	}
	if s.sequins > 0 {
		warn(d, WarnSequins, start+s.firstSequin*dstRecordBytes,
			"%d sequin records: each is counted as one stitch, and the sequin device's own times are not", s.sequins)
	}
	if !s.end {
		switch rest := len(b) - end; {
		case h.records > n+1:
			warn(d, WarnCount, len(b), "the file ends at record %d without an end record, and its header counts %d: "+
				"most likely it was cut short, get it again", n, h.records)
		case rest == 2 && b[end] == 0 && b[end+1] == 0:
			warn(d, WarnNoEnd, end, "the end record is cut: the design is whole as far as can be told")
		case rest > 0:
			warn(d, WarnCut, end, "the file ends inside record %d, without an end record: it may have been cut short",
				n)
		default:
			warn(d, WarnNoEnd, end, "there is no end record: some machines refuse such a file, save it anew")
		}
	} else if off, more := dstAfterEnd(b, end+dstRecordBytes); more {
		warn(d, WarnAfterEnd, off, "%d bytes follow the end record and were not read: a second design, or rubbish",
			len(b)-end-dstRecordBytes)
	}
	return d, func(n stitch.Counts) {
		h.compare(d, s.end, n)
		warnNoStitches(d, start, n)
	}, nil
}

// dstAfterEnd reports whether more than padding and a stray record or two
// stands after the end record.
func dstAfterEnd(b []byte, off int) (first int, more bool) {
	n := 0
	for i := off; i < len(b); i++ {
		switch b[i] {
		case 0, 0x1A, ' ', 0xFF, '\r', '\n':
		default:
			if n == 0 {
				first = i
			}
			n++
		}
	}
	return first, n > 4*dstRecordBytes
}

// dstScan is what one pass over the records found.
type dstScan struct {
	records                []stitch.Record // without the end record
	end                    bool            // an end record was there
	sequins, bits          int             // sequin records, records with unsound low bits
	firstSequin, firstBits int
}

// scanDST reads the records from the start of p to the first end record or
// the end of p. This is the hot loop: one allocation, three look-ups and one
// branch that is hardly ever taken.
func scanDST(p []byte) dstScan {
	n := len(p) / dstRecordBytes
	s := dstScan{records: hugepages.Make[stitch.Record](n)}
	out := s.records
	t0, t1, t2 := &dstTables[0], &dstTables[1], &dstTables[2]
	for i := range out {
		if len(p) < dstRecordBytes { // never: lets the compiler drop its checks
			break
		}
		v := t0[p[0]] + t1[p[1]] + t2[p[2]]
		p = p[dstRecordBytes:]
		out[i] = stitch.Record{DX: int16(v) - dstMaxStep, DY: int16(v>>16) - dstMaxStep, Op: stitch.Op(v >> 32)}
		if mark := v >> dstMarkShift; mark != 0 {
			if mark&dstMarkEnd != 0 {
				s.end = true
				s.records = out[:i]
				break
			}
			if mark&dstMarkSeq != 0 {
				if s.sequins == 0 {
					s.firstSequin = i
				}
				s.sequins++
			}
			if mark&dstMarkBits != 0 {
				if s.bits == 0 {
					s.firstBits = i
				}
				s.bits++
			}
		}
	}
	return s
}
