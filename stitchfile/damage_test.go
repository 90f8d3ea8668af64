package stitchfile

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"needlepace/stitch"
)

var (
	dstSew  = [3]byte{0x81, 0x04, 0x03}
	dstStop = [3]byte{0, 0, 0xC3}
	dstEnd  = [3]byte{0, 0, 0xF3}
)

func dstRun(n int, tail ...[3]byte) []byte {
	r := make([][3]byte, n, n+len(tail))
	for i := range r {
		r[i] = dstSew
	}
	return dstFile(append(r, tail...)...)
}

func TestDamageIsWarnedOfWithItsPlace(t *testing.T) {
	withHeader := func(b []byte, header string) []byte {
		return append([]byte(header+strings.Repeat(" ", 512-len(header))), b[512:]...)
	}
	splice := func(b []byte, at, del int, ins ...byte) []byte {
		return append(append(bytes.Clone(b[:at]), ins...), b[at+del:]...)
	}
	jef := makeJEF([]uint32{1}, 1, 1, 2, 2, 0x80, 0x10)
	pes := makePES(makePEC([]byte{1}, 1, 1, 2, 2, 0xFF, 0))
	pesRecords := 22 + pecRecords
	vp3 := makeVP3(vp3Block{records: []byte{1, 1, 2, 2}}, vp3Block{records: []byte{1, 1}})
	for _, c := range []struct {
		name    string
		file    string
		b       []byte
		code    string // "" for no warning
		offset  int64
		records int
	}{
		{"sound", "a.dst", dstRun(5, dstEnd), "", 0, 5},
		{"padding after the end", "a.dst", append(dstRun(5, dstEnd), 0x1A, 0, 0, 0), "", 0, 5},
		{"a stop as the last record", "a.dst", dstRun(5, dstStop, dstEnd), "", 0, 6},
		{"a second design after the end", "a.dst", append(dstRun(5, dstEnd), dstRun(9, dstEnd)...), WarnAfterEnd, 530,
			5},
		{"no end record", "a.dst", dstRun(5), WarnNoEnd, 527, 5},
		{"end record cut inside it", "a.dst", append(dstRun(5), 0, 0), WarnNoEnd, 527, 5},
		{"odd size", "a.dst", append(dstRun(5), 0x81), WarnCut, 527, 5},
		{"cut short by the header's count", "a.dst", withHeader(dstRun(5), "LA:X\rST:    900\r"), WarnCount, 527, 5},
		{"header counts many more", "a.dst", withHeader(dstRun(50, dstEnd), "LA:X\rST:   9999\r"), WarnCount, 5, 50},
		{"header counts many fewer", "a.dst", withHeader(dstRun(50, dstEnd), "LA:X\rST:     11\r"), WarnCount, 5, 50},
		{"header counts without the end record", "a.dst", withHeader(dstRun(50, dstEnd), "LA:X\rST:     50\r"), "", 0,
			50},
		{"header only", "a.dst", dstRun(0, dstEnd), WarnNoStitch, 512, 0},
		{"header grew by a byte", "a.dst", splice(dstRun(50, dstEnd), 100, 0, ' '), WarnMisalign, 513, 50},
		{"header lost a byte", "a.dst", splice(dstRun(50, dstEnd), 100, 1), WarnMisalign, 511, 50},
		{"a byte lost among the records", "a.dst", splice(dstRun(50, dstEnd), 512+30*3, 1), WarnMisalign, 512 + 30*3,
			49},
		{"a byte too many among the records", "a.dst", splice(dstRun(50, dstEnd), 512+30*3, 0, 0x81), WarnMisalign,
			512 + 30*3, 50},
		{"one record without its low bits", "a.dst", dstRun(5, [3]byte{0, 0, 0x80}, dstSew, dstEnd), WarnBits, 527, 7},
		{"sequins", "a.dst", dstRun(2, [3]byte{0, 0, 0x43}, dstSew, dstEnd), WarnSequins, 518, 4},
		{"header counts other colours", "a.dst", withHeader(dstRun(5, dstStop, dstSew, dstEnd),
			"LA:X\rST:      8\rCO:  7\r"), WarnColours, 16, 7},
		{"header's box too small", "a.dst", withHeader(dstRun(5, dstEnd),
			"LA:X\rST:      6\rCO:  0\r+X:   10\r-X:    0\r+Y:   10\r-Y:    0\r"), WarnExtents, 23, 5},
		{"header with rubbish", "a.dst", withHeader(dstRun(5, dstEnd),
			"LA:\x00\x00\rST:\x00\xff  zz\rCO:-9\r+X:\x00\rAY:     \r\r\r\x1a\x1a:::TC:"), "", 0, 5},
		{"no header text at all", "a.dst", withHeader(dstRun(5, dstEnd), ""), "", 0, 5},
		{"named for another format", "a.jef", dstRun(5, dstEnd), WarnExtension, 0, 5},

		{"sound", "a.exp", []byte{1, 1, 2, 2}, "", 0, 2},
		{"odd size", "a.exp", []byte{1, 1, 2, 2, 3}, WarnCut, 4, 2},
		{"cut inside an escape", "a.exp", []byte{1, 1, 0x80, 4, 3}, WarnCut, 2, 1},
		{"unknown command", "a.exp", []byte{1, 1, 2, 2, 3, 3, 0x80, 9, 3, 3, 4, 4}, WarnBits, 6, 3},
		{"no stitches", "a.exp", []byte{0x80, 4, 1, 1}, WarnNoStitch, 0, 1},

		{"sound", "a.jef", jef, "", 0, 2},
		{"no end code", "a.jef", jef[:len(jef)-2], WarnNoEnd, int64(len(jef) - 2), 2},
		{"odd size", "a.jef", jef[:len(jef)-3], WarnCut, int64(len(jef) - 4), 1},
		{"colour stops missing", "a.jef", makeJEF([]uint32{1, 2, 3}, 1, 1, 0x80, 0x10), WarnColours, jefColours, 1},
		{"unknown command", "a.jef", makeJEF([]uint32{1}, 1, 1, 0x80, 7, 1, 1), WarnBits, jefTable + 8 + 2, 1},

		{"sound", "a.pes", pes, "", 0, 3},
		{"no end mark", "a.pes", pes[:pesRecords+4], WarnNoEnd, int64(pesRecords + 4), 3},
		{"cut inside a record", "a.pes", pes[:pesRecords+3], WarnCut, int64(pesRecords + 2), 2},
		{"end mark long before the length", "a.pes", makePES(makePEC([]byte{1}, 1, 1, 0xFF, 0, 2, 2, 3, 3, 4, 4, 0xFF,
			0)), WarnCount, int64(pesRecords + 2), 2},
		{"colour stops missing", "a.pes", makePES(makePEC([]byte{1, 2}, 1, 1, 0xFF, 0)), WarnColours, 22 + pecColours,
			2},

		{"sound", "a.vp3", vp3, "", 0, 6},
		{"cut inside the last block", "a.vp3", vp3[:len(vp3)-2], WarnCut, int64(len(vp3) - 2), 5},
		{"the last block missing", "a.vp3", vp3[:bytes.LastIndex(vp3, []byte{0, 5, 0, 0, 0, 0})], WarnCut,
			int64(bytes.LastIndex(vp3, []byte{0, 5, 0, 0, 0, 0})), 3},
	} {
		d, err := Decode(c.b, c.file)
		if err != nil {
			t.Errorf("%s, %s: %v", c.file, c.name, err)
			continue
		}
		if len(d.Records) != c.records {
			t.Errorf("%s, %s: %d records, want %d", c.file, c.name, len(d.Records), c.records)
		}
		if codes(d) != c.code || c.code != "" && d.Warnings[0].Offset != c.offset {
			t.Errorf("%s, %s: warnings %+v, want %q at %d", c.file, c.name, d.Warnings, c.code, c.offset)
		}
	}
}

func TestWhatIsNoStitchFileIsAnErrorWithPlaceAndRemedy(t *testing.T) {
	jef := makeJEF([]uint32{1}, 1, 1, 0x80, 0x10)
	far := bytes.Clone(jef)
	copy(far, []byte{0xFF, 0xFF, 0xFF, 0xFF})
	for _, c := range []struct {
		name   string
		file   string
		b      []byte
		offset int64
	}{
		{"empty", "a.dst", nil, 0},
		{"cut inside the header", "a.dst", dstFile()[:300], 300},
		{"records that are none", "a.dst", append(dstFile(), bytes.Repeat([]byte("rubbish "), 40)...), 514 - 2},
		{"begins with rubbish", "a.exp", []byte{0x80, 0x33, 0, 0}, 0},
		{"cut inside the header", "a.jef", jef[:60], 60},
		{"records beyond the file", "a.jef", far, 0},
		{"rubbish for records", "a.jef", makeJEF([]uint32{1}, 0x80, 0x55, 0, 0), jefTable + 8},
		{"signature only", "a.pes", []byte("#PES0001"), 8},
		{"no signature", "a.pes", []byte("nothing to see here"), 0},
		{"block beyond the file", "a.pes", []byte("#PES0001\xff\xff\xff\xff...."), 8},
		{"blank block", "a.pes", makePES(make([]byte, 900)), 22},
		{"cut inside the block's header", "a.pec", []byte("#PEC0001LA:"), 11},
		{"signature only", "a.vp3", []byte(vp3Signature), 6},
		{"no signature", "a.vp3", []byte("nothing to see here"), 0},
		{"a block that begins 200 m away", "a.vp3", makeVP3(vp3Block{x: 200_000_000}), int64(len(makeVP3()))},
		{"no block", "a.vp3", append(makeVP3()[:len(makeVP3())-2], 0, 1, 9, 9, 9, 9, 9, 9, 9, 9),
			int64(len(makeVP3()))},
	} {
		d, err := Decode(c.b, c.file)
		var fe *FormatError
		if !errors.As(err, &fe) {
			t.Errorf("%s, %s: %v, %v; want a FormatError", c.file, c.name, d, err)
			continue
		}
		if fe.Offset != c.offset || fe.File != c.file || fe.Remedy == "" || !strings.Contains(err.Error(), c.file) {
			t.Errorf("%s, %s: %+v, want offset %d (%v)", c.file, c.name, *fe, c.offset, err)
		}
	}
}

func TestNoExtensionAndNoSignatureIsUnsupported(t *testing.T) {
	for _, b := range [][]byte{[]byte("some text that is no design at all, and long enough"), {1}, bytes.Repeat([]byte{7, 0x80}, 900)} {
		var ue *UnsupportedError
		if _, err := Decode(b, ""); !errors.As(err, &ue) {
			t.Errorf("%.10q: %v", b, err)
		}
	}
}

func TestADamagedFileKeepsItsStitchesBeforeTheDamage(t *testing.T) {
	whole := dstRun(1000, dstEnd)
	for cut := 512; cut < len(whole); cut += 7 {
		d, err := Decode(whole[:cut], "a.dst")
		if err != nil {
			t.Fatal(err)
		}
		if want := (cut - 512) / 3; d.Count().Stitches != min(want, 1000) {
			t.Fatalf("cut at %d: %d stitches, want %d", cut, d.Count().Stitches, want)
		}
		if cut < len(whole)-3 && len(d.Warnings) == 0 {
			t.Fatalf("cut at %d: no warning", cut)
		}
	}
}

func TestLongMovesAreLedInByJumps(t *testing.T) {
	b := newBuilder(0)
	b.add(stitch.Sew, 100_000, -70_000)
	b.add(stitch.Jump, -32_768, 32_768)
	c := b.d.Count()
	if c.Stitches != 1 || c.End != (stitch.Point{X: 100_000 - 32_768, Y: -70_000 + 32_768}) {
		t.Errorf("%+v", c)
	}
}

// Most of a sound file stands before its end: where it does not, the bytes
// are no .exp file (the format has no header to tell by).
func TestRubbishNamedExpIsNoDesign(t *testing.T) {
	b := append([]byte{1, 1, 2, 2, 0x80, 9}, make([]byte, 5000)...)
	d, err := Decode(b, "a.exp")
	var wrong *FormatError
	if !errors.As(err, &wrong) || wrong.Offset != 4 || wrong.Record != 2 {
		t.Errorf("read as %v, %v", d, err)
	}
}
