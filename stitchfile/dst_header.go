package stitchfile

import (
	"bytes"
	"strconv"
	"strings"

	"needlepace/stitch"
)

// dstHeader is what the text header claims; numbers it does not give are −1.
type dstHeader struct {
	name                   string
	records, stops         int
	plusX, lessX           int // extents from the start point, 0.1 mm, not negative
	plusY, lessY           int
	threads                []stitch.Thread
	countAt, stopAt, boxAt int // byte offsets of ST, CO and +X
}

// parseDSTHeader reads the fields however they are laid out: real headers
// have NULs and blanks inside numbers, other line ends, fields misnamed or
// missing, and thread lines ("TC:#RRGGBB,name,number") after the standard
// fields.
func parseDSTHeader(b []byte) dstHeader {
	h := dstHeader{records: -1, stops: -1, plusX: -1, lessX: -1, plusY: -1, lessY: -1}
	for off := 0; off < len(b); {
		line := b[off:]
		if i := bytes.IndexAny(line, "\r\n\x1a"); i >= 0 {
			line = line[:i]
		}
		at := off
		off += len(line) + 1
		if len(line) < 3 || line[2] != ':' {
			continue
		}
		val := line[3:]
		switch string(line[:2]) {
		case "LA":
			h.name = text(val)
		case "ST":
			h.records, h.countAt = dstNumber(val), at
		case "CO":
			h.stops, h.stopAt = dstNumber(val), at
		case "+X":
			h.plusX, h.boxAt = dstNumber(val), at
		case "-X":
			h.lessX = dstNumber(val)
		case "+Y":
			h.plusY = dstNumber(val)
		case "-Y":
			h.lessY = dstNumber(val)
		case "TC":
			h.threads = append(h.threads, dstThread(val))
		}
	}
	return h
}

// dstNumber reads a field's digits, −1 where there are none that make sense.
func dstNumber(b []byte) int {
	s := strings.Map(func(r rune) rune {
		if r == ' ' || r == 0 || r == '+' {
			return -1
		}
		return r
	}, string(b))
	if n, err := strconv.Atoi(s); err == nil && n >= 0 && n < 1<<31 {
		return n
	}
	return -1
}

func dstThread(b []byte) stitch.Thread {
	part := strings.SplitN(string(b), ",", 3)
	var t stitch.Thread
	s := strings.TrimPrefix(strings.TrimSpace(part[0]), "#")
	if v, err := strconv.ParseUint(s, 16, 32); err == nil && len(s) == 6 {
		t.R, t.G, t.B, t.Known = uint8(v>>16), uint8(v>>8), uint8(v), true
	}
	if len(part) > 1 {
		t.Name = text([]byte(part[1]))
	}
	return t
}

// compare warns where the header and the records disagree in a way a user
// would care about: other colours than promised, or a design of another size
// than the header's box, by which machines check and trace the hoop. ST follows several conventions
// (with the end record or without, before long moves were cut or after), so
// only a count that none explains is worth a word; the end point is wrong in
// most files. end says that an end record was there; where it was not, the
// count has been compared already.
func (h *dstHeader) compare(d *stitch.Design, end bool, n stitch.Counts) {
	if all := len(d.Records); end && h.records >= 0 {
		warnCount(d, h.countAt, h.records, all, all)
	}
	if stops := n.ColourStops; h.stops >= 0 && abs(h.stops-stops) > 1 || h.stops > 1 && stops == 0 {
		warn(d, WarnColours, h.stopAt, "the header counts %d colour stops, the records hold %d: the records count, "+
			"check the colour sequence", h.stops, stops)
	}
	if h.plusX < 0 || h.lessX < 0 || h.plusY < 0 || h.lessY < 0 {
		return
	}
	// The box is that of the penetrations and the start. Some headers measure
	// from its middle and not from the start, so width and height are
	// compared, not the sides.
	box := n.Bounds // none is all 0
	reach := [2]int{max(box.MaxX, 0) - min(box.MinX, 0), max(box.MaxY, 0) - min(box.MinY, 0)}
	warnExtents(d, h.boxAt, h.plusX+h.lessX, h.plusY+h.lessY, reach, reach)
}

func mm(units int) float64 { return float64(units) / stitch.UnitsPerMM }
