package stitchfile

import (
	"bytes"
	"encoding/binary"
	"slices"
	"strings"
	"testing"

	"needlepace/stitch"
)

// The files below are made by hand from the record layouts at the head of
// each format's file; every expected record is worked out on paper.

// makePEC is a stitch block with the given colour numbers and records; the
// start offset is (20, 30) units right and down.
func makePEC(colours []byte, records ...byte) []byte {
	p := bytes.Repeat([]byte{' '}, pecRecords)
	copy(p, "LA:HAND            \r")
	p[pecColours] = byte(len(colours) - 1)
	copy(p[pecColours+1:], colours)
	copy(p[512:], []byte{0, 0, 0, 0, 0, 0x31, 0xFF, 0xF0, 250, 0, 80, 0, 0xE0, 1, 0xB0, 1, 0x90, 20, 0x90, 30})
	p = append(p, records...)
	n := len(p) - 512 - 1 // to the FF of the end mark
	p[pecLength], p[pecLength+1], p[pecLength+2] = byte(n), byte(n>>8), byte(n>>16)
	return append(p, bytes.Repeat([]byte{0xF0}, 64)...) // a picture follows in real files
}

func makePES(block []byte) []byte {
	b := []byte("#PES0001\x16\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00")
	return append(b, block...)
}

func makeJEF(colours []uint32, records ...byte) []byte {
	b := make([]byte, jefTable)
	off := jefTable + 8*len(colours)
	binary.LittleEndian.PutUint32(b, uint32(off))
	b[jefFlags] = 0x14
	copy(b[8:], "20260101120000")
	binary.LittleEndian.PutUint32(b[jefColours:], uint32(len(colours)))
	for _, c := range colours {
		b = binary.LittleEndian.AppendUint32(b, c)
	}
	for range colours {
		b = binary.LittleEndian.AppendUint32(b, 13)
	}
	return append(b, records...)
}

type vp3Block struct {
	x, y    int32 // start from the centre, 1/100 of 0.1 mm, y up
	rgb     [3]byte
	records []byte
	wrong   int32 // added to the outer length, as some real files have it
}

func makeVP3(blocks ...vp3Block) []byte {
	i32 := func(b []byte, v ...int32) []byte {
		for _, v := range v {
			b = binary.BigEndian.AppendUint32(b, uint32(v))
		}
		return b
	}
	str := func(b []byte, s string) []byte {
		b = binary.BigEndian.AppendUint16(b, uint16(len(s)))
		return append(b, s...)
	}
	b := append([]byte(vp3Signature), 0, 8)
	b = append(b, "\x00m\x00a\x00d\x00e"...)
	b = append(b, 0, 2, 0, 0, 0, 0, 0)
	b = str(b, "\x00H\x00A\x00N\x00D")
	b = i32(b, 50000, 30000, -1000, -2000)
	b = append(b, make([]byte, 16)...)
	b = i32(b, 500, 700) // centre 0.5 mm right, 0.7 mm up
	b = append(b, make([]byte, 27)...)
	b = str(b, "")
	b = append(b, make([]byte, 24)...)
	b = str(b, "")
	b = binary.BigEndian.AppendUint16(b, uint16(len(blocks)))
	for _, k := range blocks {
		in := i32(nil, k.x, k.y)
		in = append(in, 1, 0, k.rgb[0], k.rgb[1], k.rgb[2], 0, 0, 0, 5, 40)
		in = str(in, "7")
		in = str(in, "moss")
		in = str(in, "maker")
		in = i32(in, 0, 0)
		in = append(in, 0, 1, 0)
		in = i32(in, int32(len(k.records)+3))
		in = append(in, 0x0A, 0xF6, 0x00)
		in = append(in, k.records...)
		in = append(in, 0)
		b = append(b, 0, 5, 0)
		b = i32(b, int32(len(in))+k.wrong)
		b = append(b, in...)
	}
	return b
}

type handmade struct {
	name    string
	bytes   []byte
	want    []stitch.Record
	threads int
	codes   string // warning codes, joined by a blank
}

func rec(op stitch.Op, dx, dy int16) stitch.Record { return stitch.Record{DX: dx, DY: dy, Op: op} }

var handmades = []handmade{
	{
		name: "plain.dst",
		// x+1, y+1 · jump 27,0 · stop · y−81 · end
		bytes: dstFile([3]byte{0x81, 0, 3}, [3]byte{0, 4, 0x83}, [3]byte{0, 0, 0xC3}, [3]byte{0, 0, 0x13},
			[3]byte{0, 0, 0xF3}),
		want: []stitch.Record{rec(stitch.Sew, 1, 1), rec(stitch.Jump, 27, 0), rec(stitch.ColourStop, 0, 0),
			rec(stitch.Sew, 0, -81)},
	},
	{
		name: "plain.exp",
		bytes: []byte{10, 0xF6, // 10, −10
			0x80, 4, 0x81, 127, // jump −127, 127
			0x80, 0x80, 7, 0, // trim: 7 and 0 are no movement
			0x80, 1, 5, 0, // colour stop, then 5 to the right
			0x80, 2, 0x80, 1, // a stitch of −128 through the escape
			0, 0},
		want: []stitch.Record{rec(stitch.Sew, 10, -10), rec(stitch.Jump, -127, 127), rec(stitch.Trim, 0, 0),
			rec(stitch.ColourStop, 5, 0), rec(stitch.Sew, -128, 1), rec(stitch.Sew, 0, 0)},
	},
	{
		name: "plain.pec",
		bytes: append([]byte("#PEC0001"), makePEC([]byte{5, 20},
			0x05, 0x7B, // 5, −5 down: 5 up
			0x8F, 0x9C, 0x00, // long −100 (0xF9C), short 0: a long stitch
			0xA0, 0xC8, 0xA0, 0x00, // trim, then 200 right
			0xFE, 0xB0, 2, // colour stop
			0x90, 0x01, 0x9F, 0xFF, // jump 1, 1 up
			0x00, 0x00,
			0xFF, 0x00)...),
		want: []stitch.Record{rec(stitch.Jump, 20, -30), rec(stitch.Sew, 5, 5), rec(stitch.Sew, -100, 0),
			rec(stitch.Trim, 0, 0), rec(stitch.Jump, 200, 0), rec(stitch.ColourStop, 0, 0), rec(stitch.Jump, 1,
				1), rec(stitch.Sew, 0, 0)},
		threads: 2,
	},
	{
		name:    "plain.pes",
		bytes:   makePES(makePEC([]byte{1}, 0x40, 0x3F, 0xFF, 0x00)), // the ends of 7 bits: −64, 63 down
		want:    []stitch.Record{rec(stitch.Jump, 20, -30), rec(stitch.Sew, -64, -63)},
		threads: 1,
	},
	{
		name: "plain.jef",
		bytes: makeJEF([]uint32{10, 12},
			3, 0xFC, // 3, −4
			0x80, 2, 100, 50, // jump
			0x80, 1, 0xF0, 16, // colour stop with a movement: it must not be dropped
			1, 1,
			0x80, 0x10, 'J', 'U', 'N', 'K'),
		want: []stitch.Record{rec(stitch.Sew, 3, -4), rec(stitch.Jump, 100, 50), rec(stitch.ColourStop, -16, 16),
			rec(stitch.Sew, 1, 1)},
		threads: 2,
	},
	{
		name: "plain.vp3",
		bytes: makeVP3(
			vp3Block{rgb: [3]byte{1, 2, 3}, wrong: -25, records: []byte{
				0x80, 1, 0x01, 0x2C, 0xFF, 0x38, 0x80, 2, // 300 right, 200 up, no thread yet: travel
				5, 5,
				0x80, 1, 0x00, 0x82, 0x00, 0x00, 0x80, 2, // 130 right with thread: a long stitch
				0x80, 3}}, // trim
			vp3Block{x: 1000, y: -1000, rgb: [3]byte{4, 5, 6}, records: []byte{0xFF, 1}}),
		want: []stitch.Record{rec(stitch.Jump, 5, 7), rec(stitch.Jump, 300, 200), rec(stitch.Sew, 0, 0),
			rec(stitch.Sew, 5, -5), rec(stitch.Sew, 130, 0),
			rec(stitch.Trim, 0, 0), rec(stitch.ColourStop, 0, 0),
			rec(stitch.Jump, 15-440, -3-202), // to (5+10, 7−10) from (5+300+5+130, 7+200−5)
			rec(stitch.Sew, -1, -1)},
		threads: 2,
	},
}

// boxed is a file with other numbers in its header.
func boxed(b []byte, at int, order binary.ByteOrder, size int, v ...int) []byte {
	b = bytes.Clone(b)
	for k, n := range v {
		if size == 2 {
			order.PutUint16(b[at+2*k:], uint16(n))
		} else {
			order.PutUint32(b[at+4*k:], uint32(int32(n)))
		}
	}
	return b
}

// Every reader holds the records to the box and the counts of the header.
func TestHeadersThatTheRecordsBelieAreSaid(t *testing.T) {
	pec, jef, vp3 := handmades[2].bytes, handmades[4].bytes, handmades[5].bytes
	const vp3Box = 6 + 2 + 8 + 7 + 2 + 8
	for _, c := range []struct {
		name  string
		b     []byte
		codes string
	}{
		// The designs' boxes: 20.1 × 0.1 mm, 8.5 × 6.7 mm, 42.6 × 21.1 mm.
		{"a.pec", boxed(pec, 8+pecWide, binary.LittleEndian, 2, 191, 0), ""},
		{"a.pec", boxed(pec, 8+pecWide, binary.LittleEndian, 2, 190, 0), "header-extent"},
		{"a.pec", boxed(pec, 8+pecWide, binary.LittleEndian, 2, 0, 0), ""}, // says nothing
		{"a.jef", boxed(jef, jefBox, binary.LittleEndian, 4, 25, 30, 50, 27), ""},
		{"a.jef", boxed(jef, jefBox, binary.LittleEndian, 4, 25, 29, 50, 27), "header-extent"},
		{"a.jef", boxed(jef, jefBox, binary.LittleEndian, 4, 250, 250, 250, 250), ""}, // a hoop's
		{"a.jef", boxed(jef, jefBox, binary.LittleEndian, 4, 85, 67, 81, 1), "header-extent"},
		{"a.jef", boxed(jef, jefCount, binary.LittleEndian, 4, 7), ""},
		{"a.jef", boxed(jef, jefCount, binary.LittleEndian, 4, 2), "header-count"},
		{"a.jef", boxed(jef, jefCount, binary.LittleEndian, 4, 33), "header-count"},
		{"a.vp3", boxed(vp3, vp3Box, binary.BigEndian, 4, 20800, 10050, -20800, -10050), ""},
		{"a.vp3", boxed(vp3, vp3Box, binary.BigEndian, 4, 20700, 10050, -20800, -10050), "header-extent"},
		{"a.vp3", boxed(vp3, vp3Box+16, binary.BigEndian, 4, 4), ""},
		{"a.vp3", boxed(vp3, vp3Box+16, binary.BigEndian, 4, 400), "header-count"},
	} {
		d, err := Decode(c.b, c.name)
		if err != nil {
			t.Fatal(err)
		}
		if codes(d) != c.codes {
			t.Errorf("%s: %v, want %q", c.name, d.Warnings, c.codes)
		}
	}
}

// Some writers of version 1 begin with the records where the start offset stands:
// read as an offset, the first two stitches were lost. The header's box tells.
func TestAStitchBlockWithoutAStartOffsetKeepsItsFirstStitches(t *testing.T) {
	short := []byte{0x05, 0x7B, 0x0A, 0x03} // 5, 5 up · 10, 3 down: or 1403, −1021 of an offset
	first, second, third := rec(stitch.Sew, 5, 5), rec(stitch.Sew, 10, -3), rec(stitch.Sew, -50, -9)
	last := rec(stitch.Sew, 10, -3)
	offset := rec(stitch.Jump, 20, -30)
	for _, c := range []struct {
		name       string
		start      []byte
		wide, high int
		want       []stitch.Record
	}{
		{"the first two stitches make the box", short, 50, 15, []stitch.Record{first, second, third, last}},
		{"no box: the records count", short, 0, 0, []stitch.Record{first, second, third, last}},
		{"an offset whose words lack their flags", []byte{0, 20, 0, 30}, 10, 3, []stitch.Record{offset, third, last}},
		{"an offset", []byte{0x90, 20, 0x90, 30}, 50, 15, []stitch.Record{offset, third, last}},
	} {
		p := makePEC([]byte{1}, 0x4E, 0x09, 0x0A, 0x03, 0xFF, 0)
		copy(p[pecStart:], c.start)
		p = boxed(p, pecWide, binary.LittleEndian, 2, c.wide, c.high)
		d, err := Decode(makePES(p), "a.pes")
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(d.Records, c.want) {
			t.Errorf("%s: %v, want %v", c.name, d.Records, c.want)
		}
	}
}

func codes(d *stitch.Design) string {
	var s []string
	for _, w := range d.Warnings {
		s = append(s, w.Code)
	}
	return strings.Join(s, " ")
}

func TestHandmadeFilesReadAsWorkedOutOnPaper(t *testing.T) {
	for _, h := range handmades {
		for _, name := range []string{h.name, ""} { // by extension and by content alone
			if name == "" && h.name == "plain.dst" {
				name = "unnamed"
			}
			d, err := Decode(h.bytes, name)
			if err != nil {
				t.Errorf("%s as %q: %v", h.name, name, err)
				continue
			}
			if want := extension(h.name); d.Format != want {
				t.Errorf("%s as %q: format %s", h.name, name, d.Format)
			}
			if len(d.Records) != len(h.want) {
				t.Errorf("%s: %v, want %v", h.name, d.Records, h.want)
				continue
			}
			for i := range h.want {
				if d.Records[i] != h.want[i] {
					t.Errorf("%s: record %d: %+v, want %+v", h.name, i, d.Records[i], h.want[i])
				}
			}
			if len(d.Threads) != h.threads || codes(d) != h.codes {
				t.Errorf("%s: %d threads, warnings %v", h.name, len(d.Threads), d.Warnings)
			}
		}
	}
}
