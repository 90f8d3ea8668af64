package stitchfile

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/csv"
	"encoding/hex"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"needlepace/stitch"
)

// The readers below share nothing with the package's: they were written from
// STITCH-FILES.md and the record layouts, to read what the package writes. They
// take sound files only; a fault is a panic, which is a failed test.

// step is a command and where the frame stands after it, 0.1 mm, y up: s stitch,
// j jump, t trim, c colour stop.
type step struct {
	what byte
	x, y int
}

type track struct {
	steps []step
	x, y  int
}

func (t *track) step(what byte, dx, dy int) {
	t.x, t.y = t.x+dx, t.y+dy
	t.steps = append(t.steps, step{what, t.x, t.y})
}

func secondPES(b []byte) []step {
	var t track
	b = b[binary.LittleEndian.Uint32(b[8:]):]
	i := 528
	number := func() (v int, flags byte) {
		if b[i] < 0x80 {
			v, i = int(b[i]), i+1
			if v > 63 {
				v -= 128
			}
			return v, 0
		}
		flags = b[i] & 0x70
		v = int(b[i]&0x0F)<<8 + int(b[i+1])
		if v > 2047 {
			v -= 4096
		}
		i += 2
		return v, flags
	}
	for first := true; ; first = false {
		if b[i] == 0xFF {
			return t.steps
		}
		if b[i] == 0xFE && b[i+1] == 0xB0 {
			t.step('c', 0, 0)
			i += 3
			continue
		}
		x, f := number()
		y, g := number()
		switch f |= g; {
		case first && x == 0 && y == 0:
		case f&0x20 != 0:
			t.step('t', 0, 0)
			t.step('j', x, -y)
		case f&0x10 != 0:
			t.step('j', x, -y)
		default:
			t.step('s', x, -y)
		}
	}
}

func secondJEF(b []byte) []step {
	var t track
	for i := int(binary.LittleEndian.Uint32(b)); i+1 < len(b); {
		what := byte('s')
		if b[i] == 0x80 {
			switch b[i+1] {
			case 1:
				what = 'c'
			case 2:
				what = 'j'
			default:
				return t.steps
			}
			i += 2
		}
		dx, dy := int(int8(b[i])), int(int8(b[i+1]))
		i += 2
		if what == 'c' && (dx != 0 || dy != 0) { // a stop, then the move
			t.step('c', dx, dy)
			continue
		}
		t.step(what, dx, dy)
	}
	return t.steps
}

func secondVP3(b []byte) []step {
	be := binary.BigEndian
	var t track
	skip := func(b []byte) []byte { return b[2+be.Uint16(b):] } // a string
	hundredth := func(b []byte) int {
		v := int(int32(be.Uint32(b)))
		if v < 0 {
			return -(-v + 50) / 100
		}
		return (v + 50) / 100
	}
	b = skip(b[6:])
	b = skip(b[7:])
	b = b[32:]
	midX, midY := hundredth(b), hundredth(b[4:])
	b = skip(b[35:])
	b = skip(b[24:])
	blocks := int(be.Uint16(b))
	b = b[2:]
	for k := range blocks {
		if k > 0 {
			t.step('c', 0, 0)
		}
		b = b[7:]
		if x, y := midX+hundredth(b)-t.x, midY+hundredth(b[4:])-t.y; x != 0 || y != 0 {
			t.step('j', x, y)
		}
		b = b[8:]
		b = b[2+6*int(b[0])+2:]
		b = skip(skip(skip(b)))
		n := int(be.Uint32(b[11:])) - 3
		in := b[15+3:][:n]
		b = b[15+3+n+1:]
		sewn := false
		for len(in) > 1 {
			switch {
			case in[0] != 0x80:
				t.step('s', int(int8(in[0])), -int(int8(in[1])))
				sewn = true
			case in[1] == 1:
				dx, dy := int(int16(be.Uint16(in[2:]))), -int(int16(be.Uint16(in[4:])))
				if !sewn { // travel, and then the needle goes in
					t.step('j', dx, dy)
					dx, dy = 0, 0
				}
				t.step('s', dx, dy)
				sewn = true
				in = in[4:]
			case in[1] == 3:
				t.step('t', 0, 0)
				sewn = false
			}
			in = in[2:]
		}
	}
	return t.steps
}

var seconds = map[string]func([]byte) []step{"pes": secondPES, "jef": secondJEF, "vp3": secondVP3}

// Source: reference.csv beside the real designs, values of an independent
// open-source reader: the second readers must read the real files as it does, but
// for the departures, each of which says why.
func TestTheSecondReadersReadRealFilesAsTheIndependentReader(t *testing.T) {
	f, err := os.Open(filepath.Join(realDir, "reference.csv"))
	if err != nil {
		t.Skip("the folder with real designs is not beside the project: nothing to check")
	}
	defer f.Close() //nolint:errcheck // only read
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	files := 0
	for _, row := range rows[1:] {
		read := seconds[extension(row[0])]
		if read == nil || row[0] == blankBlock || departures[row[0]].why == emptyBlock {
			continue
		}
		b, err := os.ReadFile(filepath.Join(realDir, row[0]))
		if err != nil {
			t.Fatal(err)
		}
		files++
		have := map[byte]int{}
		h := sha256.New()
		for _, s := range read(b) {
			have[s.what]++
			if s.what == 's' {
				var p [8]byte
				binary.LittleEndian.PutUint32(p[:], uint32(int32(s.x)))
				binary.LittleEndian.PutUint32(p[4:], uint32(int32(-s.y)))
				h.Write(p[:])
			}
		}
		for i, col := range rows[0] {
			want := row[i]
			if w, departs := departures[row[0]].want[col]; departs {
				want = w
			}
			got, compared := map[string]string{"stitches": strconv.Itoa(have['s']), "jump_records": strconv.Itoa(have['j']),
				"trims": strconv.Itoa(have['t']), "colour_stops": strconv.Itoa(have['c']),
				"positions_sha256": hex.EncodeToString(h.Sum(nil))}[col]
			if compared && !same(col, got, want) {
				t.Errorf("%s: %s is %s, want %s", row[0], col, got, want)
			}
		}
	}
	if files < 60 {
		t.Errorf("only %d files were compared", files)
	}
}

// sewing is what the needle does, in words: holes where they are, cuts and stops.
func sewing(steps []step, shift stitch.Point, stopsAt bool) (out []string) {
	thread, jumps := false, 0
	for k, s := range steps {
		at := strconv.Itoa(s.x-shift.X) + " " + strconv.Itoa(s.y-shift.Y)
		if s.what == 'j' && thread {
			jumps = 0
			for k+jumps < len(steps) && steps[k+jumps].what == 'j' {
				jumps++
			}
			for i := k - 1; i >= 0 && steps[i].what == 'j'; i-- {
				jumps++
			}
			if jumps >= trimJumps {
				thread = false
				out = append(out, "cut")
			}
		}
		switch s.what {
		case 's':
			thread = true
			out = append(out, at)
		case 't':
			if thread {
				out = append(out, "cut")
			}
			thread = false
		case 'c':
			thread = false
			if !stopsAt {
				at = ""
			} else if k > 0 {
				at = strconv.Itoa(steps[k-1].x-shift.X) + " " + strconv.Itoa(steps[k-1].y-shift.Y)
			}
			out = append(out, "stop "+at)
		}
	}
	return out
}

// Holes, cuts and stops of every real design, written by the package and read by
// the second readers, are those of the design.
func TestWhatIsWrittenOfRealDesignsIsReadSoByTheSecondReaders(t *testing.T) {
	paths, _ := filepath.Glob(filepath.Join(realDir, "*.*"))
	if len(paths) == 0 {
		t.Skip("the folder with real designs is not beside the project: nothing to check")
	}
	for format, read := range seconds {
		n := 0
		for _, path := range paths {
			files, err := ReadFile(path)
			if err != nil || !HasExtension(path) {
				continue
			}
			d := files[0].Design
			var b bytes.Buffer
			done, err := EncodeFor(&b, d, format, Readers{})
			if err != nil {
				continue // the test of writing says which and why
			}
			n++
			var t0 track
			for _, r := range d.Records {
				t0.step(map[stitch.Op]byte{stitch.Sew: 's', stitch.Jump: 'j', stitch.Trim: 't', stitch.ColourStop: 'c'}[r.Op],
					int(r.DX), int(r.DY))
			}
			steps := read(b.Bytes())
			hole := 0
			for k := range steps { // those that were added are jumps to look through
				if steps[k].what == 's' {
					if _, added := slices.BinarySearch(done.Added, hole); added {
						steps[k].what = 'a'
					}
					hole++
				}
			}
			steps = slices.DeleteFunc(steps, func(s step) bool { return s.what == 'a' })
			stops := done.Stops == 0 && format != "vp3" // whose stops stand at the stitch, and the frame then moves
			want, got := sewing(t0.steps, stitch.Point{}, stops), sewing(steps, done.Shift, stops)
			if len(done.Added) > 0 { // what lay between two added ones is one run now
				uncut := func(s string) bool { return s == "cut" }
				want, got = slices.DeleteFunc(want, uncut), slices.DeleteFunc(got, uncut)
			}
			if !slices.Equal(want, got) {
				k := 0
				for k < min(len(want), len(got)) && want[k] == got[k] {
					k++
				}
				t.Errorf("%s as .%s: %d and %d, from %d on %q and %q", filepath.Base(path), format, len(want), len(got), k,
					want[k:min(k+4, len(want))], got[k:min(k+4, len(got))])
			}
		}
		if n < 120 {
			t.Errorf("only %d designs were read as .%s", n, format)
		}
	}
}

// Source: the byte layouts of .pes, .jef and .vp3 as public descriptions of the
// formats have them (from memory), each field seen to hold in the real files
// beside the project.
func TestTheHeadersWrittenAreAsTheFormatsHaveThem(t *testing.T) {
	d := &stitch.Design{Name: "Moss 7", Threads: []stitch.Thread{{R: 0xED, G: 0x17, B: 0x1F, Known: true},
		{R: 2, G: 3, B: 5, Known: true}}, Records: []stitch.Record{rec(stitch.Jump, 100, 40), rec(stitch.Sew, 20, 0),
		rec(stitch.Trim, 0, 0), rec(stitch.Jump, -300, 0), rec(stitch.Sew, 0, 10), rec(stitch.ColourStop, 0, 0),
		rec(stitch.Sew, 5, -70), rec(stitch.Sew, -5, -30)}} // box: −180…120, −50…50
	write := func(format string) []byte {
		var b bytes.Buffer
		d.Format = format // it has its place
		if _, err := EncodeFor(&b, d, format, Readers{}); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	field := func(what string, b []byte, at int, want ...byte) {
		t.Helper()
		if got := b[at:min(at+len(want), len(b))]; !bytes.Equal(got, want) {
			t.Errorf("%s: % x, want % x", what, got, want)
		}
	}
	le := func(v ...int32) (b []byte) {
		for _, v := range v {
			b = binary.LittleEndian.AppendUint32(b, uint32(v))
		}
		return b
	}
	be := func(v ...int32) (b []byte) {
		for _, v := range v {
			b = binary.BigEndian.AppendUint32(b, uint32(v))
		}
		return b
	}

	pes := write("pes")
	field("signature, version, block", pes, 0, []byte("#PES0001\x16\x00\x00\x00")...)
	p := pes[22:]
	field("label", p, 0, []byte("LA:Moss 7          \r"+strings.Repeat(" ", 12)+"\xff\x00\x06\x26"+
		strings.Repeat(" ", 12))...)
	field("colours", p, 48, 1, 5, 20, ' ')
	field("marks", p, 512, 0, 0)
	icons := len(p) - 3*228
	field("length of the records", p, 514, byte(icons-512), byte((icons-512)>>8), 0)
	field("mark, size", p, 517, 0x31, 0xFF, 0xF0, 0x2C, 1, 100, 0, 0xE0, 1, 0xB0, 1)
	field("start", p, 528, 0x91, 0x18, 0x90, 10) // 100+180 right, 50−40 down
	field("records", p, 532, 20, 0, 0xAE, 0xD4, 0xA0, 0, 0, 0x76, 0xFE, 0xB0, 2, 0x80, 5, 0x80, 70, 0x7B, 30, 0xFF, 0)

	jef := write("jef")
	field("records from, flags", jef, 0, le(132, 0x14)...)
	if jef[22] != 0 || strings.Trim(string(jef[8:22]), "0123456789") != "" {
		t.Errorf("date %q", jef[8:24])
	}
	// 4 stitches, 4 jumps (one to begin with, three for the trim), a stop, the end: 4 + 8 + 2 + 1 words.
	field("colours, count, hoop", jef, 24, le(2, 15, 1)...)
	field("box", jef, 36, le(180, 50, 120, 50)...)
	field("room in hoops", jef, 52, le(370, 500, 430, 500, 70, 200, 130, 200, 520, 950, 580, 950, 520, 950, 580, 950)...)
	field("threads", jef, 116, le(74, 1, 13, 13)...) // the nearest red, and black
	field("records", jef, 132, 0x80, 2, 100, 40, 20, 0, 0x80, 2, 0x9C, 0, 0x80, 2, 0x9C, 0, 0x80, 2, 0x9C, 0, 0, 10,
		0x80, 1, 0, 0, 5, 0xBA, 0xFB, 0xE2, 0x80, 0x10)

	vp3 := write("vp3")
	field("signature, writer", vp3, 0, []byte("%vsm%\x00\x00\x00\x00\x02\x00")...)
	field("bytes to the end", vp3, 11, be(int32(len(vp3)-15))...)
	field("note", vp3, 15, []byte("\x00\x0c\x00M\x00o\x00s\x00s\x00 \x007")...)
	field("box, stitches", vp3, 29, be(12000, 5000, -18000, -5000, 4)...)
	field("colours", vp3, 49, 0, 2, 0x0C, 0, 1, 0, 3, 0)
	field("bytes to the end", vp3, 57, be(int32(len(vp3)-61))...)
	field("centre, box", vp3, 61, append(append(be(0, 0), 0, 0, 0), be(-18000, 12000, -5000, 5000, 30000, 10000)...)...)
	field("maker's string, matrix", vp3, 96, []byte("\x00\x00\x64\x64\x00\x00\x10\x00\x00\x00\x00\x00\x00\x00\x00\x00"+
		"\x00\x00\x10\x00xxPP\x01\x00\x00\x00\x00\x02")...)
	field("first block", vp3, 126, 0, 5, 0)
	field("its start, colour", vp3, 133, append(be(10000, 4000), 1, 0, 0xED, 0x17, 0x1F, 0, 0, 0, 5, 40, 0, 0, 0, 0, 0, 0)...)
	field("its way", vp3, 157, append(be(-28000, 1000), 0, 1, 0)...)
	field("its records", vp3, 168, append(be(15), 0x0A, 0xF6, 0, 20, 0, 0x80, 3, 0x80, 1, 0xFE, 0xD4, 0xFF, 0xF6, 0x80, 2, 0,
		0, 5, 0)...)
}

// Source: B. Ottosson, A perceptual color space for image processing (2020): OKLab of
// white and of the sRGB primaries, to three decimals, from memory.
func TestColoursLookAsPublished(t *testing.T) {
	for _, c := range []struct {
		rgb  [3]uint8
		want looks
	}{
		{[3]uint8{255, 255, 255}, looks{1, 0, 0}},
		{[3]uint8{255, 0, 0}, looks{0.628, 0.225, 0.126}},
		{[3]uint8{0, 255, 0}, looks{0.866, -0.234, 0.179}},
		{[3]uint8{0, 0, 255}, looks{0.452, -0.032, -0.312}},
	} {
		if got := looksOf(c.rgb[0], c.rgb[1], c.rgb[2]); got.far(c.want) > 4e-6 {
			t.Errorf("%v looks %v, want %v", c.rgb, got, c.want)
		}
	}
}

// A thread gets the number that looks most like it, whatever stands before it in the
// design: near black stays near black, a bright green stays green.
func TestANumberLooksLikeItsThread(t *testing.T) {
	thread := func(v uint32) stitch.Thread {
		return stitch.Thread{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), Known: true}
	}
	for _, c := range []struct{ threads, want []uint32 }{
		{[]uint32{0x293133}, []uint32{0x33200A}},
		{[]uint32{0x00FF00, 0x0000FF}, []uint32{0x7FC21C, 0x0D217E}},
		{[]uint32{0x66BA49, 0xFFFF00}, []uint32{0x7FC21C, 0xFFFF17}},
		{[]uint32{0xFE0000, 0xFF0000}, []uint32{0xF0331F, 0xFF0000}},
	} {
		var threads, got []stitch.Thread
		for _, v := range c.threads {
			threads = append(threads, thread(v))
		}
		for _, n := range jefPalette.numbers(threads, len(threads), &Written{}) {
			v := jefPalette.thread(n)
			v.Name = ""
			got = append(got, v)
		}
		for k, v := range c.want {
			if got[k] != thread(v) {
				t.Errorf("%06x of %06x became %+v, want %06x", c.threads[k], c.threads, got[k], v)
			}
		}
	}
}
