package stitchfile

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"needlepace/stitch"
)

// A builder gathers a design's records for the formats whose records are not
// of one size.
type builder struct {
	d stitch.Design
}

// newBuilder makes room for n records.
func newBuilder(n int) *builder {
	return &builder{d: stitch.Design{Records: make([]stitch.Record, 0, n)}}
}

// add appends a record. A displacement too large for one record is led in by
// jumps, which is what a machine has to do with it anyway.
func (b *builder) add(op stitch.Op, dx, dy int) {
	for dx < math.MinInt16 || dx > math.MaxInt16 || dy < math.MinInt16 || dy > math.MaxInt16 {
		n := 1 + max(abs(dx), abs(dy))/math.MaxInt16
		sx, sy := dx/n, dy/n
		b.d.Records = append(b.d.Records, stitch.Record{DX: int16(sx), DY: int16(sy), Op: stitch.Jump})
		dx, dy = dx-sx, dy-sy
	}
	b.d.Records = append(b.d.Records, stitch.Record{DX: int16(dx), DY: int16(dy), Op: op})
}

// warn adds a warning; offset −1 stands for none.
func (b *builder) warn(code string, offset int, format string, args ...any) {
	warn(&b.d, code, offset, format, args...)
}

func warn(d *stitch.Design, code string, offset int, format string, args ...any) {
	d.Warnings = append(d.Warnings, stitch.Warning{Code: code, Offset: int64(offset),
		Text: fmt.Sprintf(format, args...)})
}

// warnNoStitches says so where the records hold no needle penetration.
func warnNoStitches(d *stitch.Design, offset int, n stitch.Counts) {
	if n.Stitches == 0 {
		warn(d, WarnNoStitch, offset, "the file holds no stitches: there is nothing to sew")
	}
}

// compareBox warns where the header's box, by which machines check the hoop and
// trace, is not the stitches' (nor theirs with the start, which some include).
func (b *builder) compareBox(offset int, box stitch.Bounds, wide, high int) {
	w, h := box.MaxX-box.MinX, box.MaxY-box.MinY
	if wide != 0 || high != 0 { // 0 × 0: it does not say
		warnExtents(&b.d, offset, wide, high, [2]int{w, h},
			[2]int{max(box.MaxX, 0) - min(box.MinX, 0), max(box.MaxY, 0) - min(box.MinY, 0)})
	}
}

// warnExtents warns where a header's box is smaller than what the stitches reach over,
// sewn, or larger than that with the start. The hoop's box is larger as a rule, in
// whole mm; else stitches may be missing.
func warnExtents(d *stitch.Design, offset, wide, high int, sewn, withStart [2]int) {
	hoop := wide%stitch.UnitsPerMM == 0 && high%stitch.UnitsPerMM == 0
	switch {
	case sewn[0] > wide+extentSlack || sewn[1] > high+extentSlack:
		warn(d, WarnExtents, offset, "the header gives %.1f × %.1f mm, the stitches reach over %.1f × %.1f mm: trust the "+
			"records when choosing the hoop", mm(wide), mm(high), mm(sewn[0]), mm(sewn[1]))
	case !hoop && (withStart[0]+extentSlack < wide || withStart[1]+extentSlack < high):
		warn(d, WarnExtents, offset, "the header gives %.1f × %.1f mm, the stitches reach over %.1f × %.1f mm only: look at "+
			"the picture, stitches may be missing", mm(wide), mm(high), mm(withStart[0]), mm(withStart[1]))
	}
}

// compareCount warns where the header counts other records than least to most,
// the smallest and the largest number that the records can be counted as.
func (b *builder) compareCount(offset, claimed, least, most int) {
	if claimed > 0 {
		warnCount(&b.d, offset, claimed, least, most)
	}
}

// warnCount warns of a count that no convention explains. Long moves that were cut
// after they were counted make it smaller; of what it has too many, records are
// missing. Every real design beside the project lies within 1.4 %.
func warnCount(d *stitch.Design, offset, claimed, least, most int) {
	if 2*claimed < least || claimed > most+most/50+2 {
		warn(d, WarnCount, offset, "the header counts %d records, the file holds %d: the records count, check that it is "+
			"the right file and the whole of it", claimed, most)
	}
}

// extentSlack is by how much (0.1 mm) a design and its header's box may differ
// before it is worth a word: 1 mm.
const extentSlack = 10

// finish is the design, with a warning at offset if it has no stitches, after those of say.
func (b *builder) finish(offset int, say ...sayer) (*stitch.Design, sayer, error) {
	b.d.Records = clip(b.d.Records)
	return &b.d, func(n stitch.Counts) {
		for _, s := range say {
			s(n)
		}
		warnNoStitches(&b.d, offset, n)
	}, nil
}

// clip gives back the room that was made for records that never came, where
// it is worth a copy.
func clip(rec []stitch.Record) []stitch.Record {
	if cap(rec)-len(rec) > len(rec)+1024 {
		return append(make([]stitch.Record, 0, len(rec)), rec...)
	}
	return rec
}

// text makes a header's bytes a name: up to the first NUL, no control
// characters, bytes that are not UTF-8 read as Latin-1.
func text(b []byte) string {
	for i, c := range b {
		if c == 0 {
			b = b[:i]
			break
		}
	}
	s := string(b)
	if !utf8.ValidString(s) {
		r := make([]rune, len(b))
		for i, c := range b {
			r[i] = rune(c)
		}
		s = string(r)
	}
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return -1
		}
		return r
	}, s)
	return strings.TrimSpace(s)
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}
