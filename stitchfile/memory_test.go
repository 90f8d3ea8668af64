package stitchfile

import (
	"bytes"
	"runtime"
	"testing"

	"needlepace/stitch"
)

// bigFiles are files of about n records, each in its own format.
func bigFiles(n int) map[string][]byte {
	pair := bytes.Repeat([]byte{3, 0x7C}, n)
	pairs := func(tail ...byte) []byte { return append(bytes.Clone(pair), tail...) }
	return map[string][]byte{
		"a.dst": dstRun(n, dstEnd),
		"a.exp": pairs(),
		"a.pec": append([]byte("#PEC0001"), makePEC([]byte{1}, pairs(0xFF, 0)...)...),
		"a.jef": makeJEF([]uint32{1}, pairs(0x80, 0x10)...),
		"a.vp3": makeVP3(vp3Block{records: pairs()}),
	}
}

func TestMemoryIsOfTheOrderOfTheFile(t *testing.T) {
	check := func(name string, b []byte) *stitch.Design {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		d, err := Decode(b, name)
		runtime.ReadMemStats(&after)
		if err != nil {
			t.Fatal(err)
		}
		if got, most := after.TotalAlloc-before.TotalAlloc, uint64(4*len(b)+1<<16); got > most {
			t.Errorf("%s of %d bytes took %d bytes in all, want at most %d", name, len(b), got, most)
		}
		return d
	}
	const n = 300_000
	for name, b := range bigFiles(n) {
		if d := check(name, b); d.Count().Stitches != n {
			t.Errorf("%s: %d stitches", name, d.Count().Stitches)
		}
	}
	// A small design before much padding does not hold on to the padding's room.
	d := check("a.dst", append(dstRun(100, dstEnd), make([]byte, 1<<20)...))
	if cap(d.Records) > 2000 {
		t.Errorf("room for %d records is kept for %d", cap(d.Records), len(d.Records))
	}
}

func BenchmarkDecode(b *testing.B) {
	const n = 1_000_000
	for name, file := range bigFiles(n) {
		b.Run(extension(name), func(b *testing.B) {
			b.SetBytes(int64(len(file)))
			for b.Loop() {
				if _, err := Decode(file, name); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/stitch")
		})
	}
}

func BenchmarkEncode(b *testing.B) {
	const n = 1_000_000
	d, err := Decode(benchBytes(), "a.dst")
	if err != nil {
		b.Fatal(err)
	}
	for _, format := range writers() {
		b.Run(format, func(b *testing.B) {
			var out bytes.Buffer
			for b.Loop() {
				out.Reset()
				if err := Encode(&out, d, format); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/stitch")
		})
	}
}
