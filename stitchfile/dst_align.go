package stitchfile

import "needlepace/stitch"

// A sound encoder never sets both bits of a pair of weights, so read out of
// step no byte of a record has its low two bits set: unsound records come all
// at once or hardly ever.

// dstProbe is how many records decide on the alignment.
const dstProbe = 1000

// dstBadRecords counts, in the first records from off to the end record, those
// whose low bits are not 11, which no sound record has.
func dstBadRecords(b []byte, off int) (bad, n int, end bool) {
	for p := off; p+dstRecordBytes <= len(b) && n < dstProbe; p += dstRecordBytes {
		c := b[p+2]
		n++
		if c&dstEndMask == dstEndMask {
			return bad, n, true
		}
		if c&dstLowBits != dstLowBits {
			bad++
		}
	}
	return bad, n, false
}

// dstAlign finds where the records begin: at 512, unless records read there
// are unsound and another place near by is clearly better. (Seen: a header
// that grew to 513 bytes because a field had one digit more.)
func dstAlign(b []byte) int {
	best := dstHeaderBytes
	bad, _, _ := dstBadRecords(b, best)
	if bad < 3 {
		return best
	}
	for _, step := range []int{1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6, 7, 8} {
		if o, n, _ := dstBadRecords(b, dstHeaderBytes+step); n > 0 && 4*o < bad {
			bad, best = o, dstHeaderBytes+step
		}
	}
	return best
}

// dstMaxSlips is how often records are put back in step before a file is
// taken as it is.
const dstMaxSlips = 16

// dstSlip looks at the first record without its low bits: if those after it
// are unsound too, and sound when read 1 or 2 bytes further, bytes are missing
// or too many before it. It returns where to read on and how many bytes that
// leaves out, 0 for none. The scan ended at byte end.
func dstSlip(b []byte, s *dstScan, end int) (next, slip int) {
	if s.bits < 3 {
		return 0, 0
	}
	at := end - (len(s.records)-s.firstBits)*dstRecordBytes
	bad, _, _ := dstBadRecords(b, at)
	for k := 1; k < dstRecordBytes; k++ {
		if o, n, _ := dstBadRecords(b, at+k); n > 0 && 4*o < bad {
			bad, slip = o, k
		}
	}
	return at + slip, slip
}

// join puts the records of rest in the place of those from the first unsound
// one on.
func (s *dstScan) join(rest *dstScan) {
	n := s.firstBits
	s.sequins, s.firstSequin = 0, 0
	for i, r := range s.records[:n] {
		if r.Op == stitch.Sequin {
			if s.sequins == 0 {
				s.firstSequin = i
			}
			s.sequins++
		}
	}
	if s.sequins == 0 {
		s.firstSequin = n + rest.firstSequin
	}
	s.records = append(s.records[:n], rest.records...)
	s.end = rest.end
	s.sequins += rest.sequins
	s.bits, s.firstBits = rest.bits, n+rest.firstBits
}
