package stitchfile

import (
	"bytes"
	"testing"

	"pgregory.net/rapid"

	"needlepace/stitch"
)

// dstRecords are records worked out by hand from the bit table at the head of
// dst.go: each displacement as a sum of the weights ±1, ±3, ±9, ±27, ±81.
var dstRecords = []struct {
	bytes [3]byte
	want  stitch.Record
	how   string
}{
	{[3]byte{0x00, 0x00, 0x03}, stitch.Record{DX: 0, DY: 0, Op: stitch.Sew}, "nothing set"},
	{[3]byte{0x01, 0x00, 0x03}, stitch.Record{DX: 1, DY: 0, Op: stitch.Sew}, "x+1"},
	{[3]byte{0x02, 0x00, 0x03}, stitch.Record{DX: -1, DY: 0, Op: stitch.Sew}, "x−1"},
	{[3]byte{0x80, 0x00, 0x03}, stitch.Record{DX: 0, DY: 1, Op: stitch.Sew}, "y+1: up"},
	{[3]byte{0x40, 0x00, 0x03}, stitch.Record{DX: 0, DY: -1, Op: stitch.Sew}, "y−1"},
	{[3]byte{0x02, 0x01, 0x03}, stitch.Record{DX: 2, DY: 0, Op: stitch.Sew}, "2 = 3 − 1"},
	{[3]byte{0x80, 0x80, 0x03}, stitch.Record{DX: 0, DY: 4, Op: stitch.Sew}, "4 = 3 + 1"},
	{[3]byte{0x06, 0x02, 0x03}, stitch.Record{DX: 5, DY: 0, Op: stitch.Sew}, "5 = 9 − 3 − 1"},
	{[3]byte{0x0A, 0x0A, 0x07}, stitch.Record{DX: 41, DY: 0, Op: stitch.Sew}, "41 = 81 − 27 − 9 − 3 − 1"},
	{[3]byte{0x05, 0x05, 0x07}, stitch.Record{DX: 121, DY: 0, Op: stitch.Sew}, "121 = 81 + 27 + 9 + 3 + 1"},
	{[3]byte{0x5A, 0x5A, 0x1B}, stitch.Record{DX: -121, DY: -121, Op: stitch.Sew},
		"both axes at the end of their range"},
	{[3]byte{0x21, 0x84, 0x83}, stitch.Record{DX: 28, DY: 12, Op: stitch.Jump}, "28 = 27 + 1, 12 = 9 + 3, jump"},
	{[3]byte{0x00, 0x00, 0xC3}, stitch.Record{Op: stitch.ColourStop}, "colour stop"},
	{[3]byte{0x00, 0x00, 0x43}, stitch.Record{Op: stitch.Sequin}, "sequin"},
}

func dstFile(records ...[3]byte) []byte {
	b := append([]byte("LA:BY HAND         \rST:       \r"), bytes.Repeat([]byte{' '}, 512)...)[:512]
	for _, r := range records {
		b = append(b, r[:]...)
	}
	return b
}

func TestDSTRecordsAreBalancedTernary(t *testing.T) {
	for _, c := range dstRecords {
		d, err := Decode(dstFile(c.bytes, [3]byte{0, 0, 0xF3}), "")
		if err != nil {
			t.Fatal(err)
		}
		if len(d.Records) != 1 || d.Records[0] != c.want {
			t.Errorf("% x: got %+v, want %+v (%s)", c.bytes, d.Records, c.want, c.how)
		}
		var b bytes.Buffer
		if err := Encode(&b, &stitch.Design{Records: []stitch.Record{c.want}}, "dst"); err != nil {
			t.Fatal(err)
		}
		if got := b.Bytes()[dstHeaderBytes:][:dstRecordBytes]; !bytes.Equal(got, c.bytes[:]) {
			t.Errorf("%+v: wrote % x, want % x (%s)", c.want, got, c.bytes, c.how)
		}
	}
}

// scanDSTSimple is the straightforward form of scanDST: bit by bit from the
// published table. It is the oracle and the yardstick of the benchmark.
func scanDSTSimple(p []byte) (rec []stitch.Record, end bool) {
	for ; len(p) >= 3; p = p[3:] {
		b0, b1, b2 := p[0], p[1], p[2]
		if b2&0xF3 == 0xF3 {
			return rec, true
		}
		x, y := 0, 0
		for _, w := range []struct {
			b    byte
			mask byte
			axis *int
			v    int
		}{
			{b0, 0x01, &x, 1}, {b0, 0x02, &x, -1}, {b0, 0x04, &x, 9}, {b0, 0x08, &x, -9},
			{b0, 0x80, &y, 1}, {b0, 0x40, &y, -1}, {b0, 0x20, &y, 9}, {b0, 0x10, &y, -9},
			{b1, 0x01, &x, 3}, {b1, 0x02, &x, -3}, {b1, 0x04, &x, 27}, {b1, 0x08, &x, -27},
			{b1, 0x80, &y, 3}, {b1, 0x40, &y, -3}, {b1, 0x20, &y, 27}, {b1, 0x10, &y, -27},
			{b2, 0x04, &x, 81}, {b2, 0x08, &x, -81}, {b2, 0x20, &y, 81}, {b2, 0x10, &y, -81},
		} {
			if w.b&w.mask != 0 {
				*w.axis += w.v
			}
		}
		op := stitch.Sew
		switch {
		case b2&0xC0 == 0xC0:
			op = stitch.ColourStop
		case b2&0x80 != 0:
			op = stitch.Jump
		case b2&0x40 != 0:
			op = stitch.Sequin
		}
		rec = append(rec, stitch.Record{DX: int16(x), DY: int16(y), Op: op})
	}
	return rec, false
}

func TestFastDSTScanEqualsTheSimpleOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "bytes")
		want, end := scanDSTSimple(p)
		got := scanDST(p)
		if got.end != end || len(got.records) != len(want) {
			t.Fatalf("end %v, %d records; want %v, %d", got.end, len(got.records), end, len(want))
		}
		for i := range want {
			if got.records[i] != want[i] {
				t.Fatalf("record %d: %+v, want %+v", i, got.records[i], want[i])
			}
		}
	})
}

// benchBytes is a .dst file of a million records with no pattern that a
// branch predictor could learn.
func benchBytes() []byte {
	b := dstFile()
	v := uint32(1)
	for range 1_000_000 {
		v = v*1664525 + 1013904223
		op := byte(0x03)
		if v>>24 < 8 {
			op = 0x83
		}
		b = append(b, byte(v>>16), byte(v>>20)&0x99, op)
	}
	return append(b, 0, 0, 0xF3)
}

func BenchmarkDecodeDST(b *testing.B) {
	file := benchBytes()
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		if _, err := Decode(file, ""); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1e6, "ns/stitch")
}

func BenchmarkDecodeDSTSimple(b *testing.B) {
	file := benchBytes()
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		scanDSTSimple(file[512:])
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1e6, "ns/stitch")
}
