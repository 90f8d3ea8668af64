package stitch_test

import (
	"os"
	"testing"

	"needlepace/stitchfile"
)

// BenchmarkKinds is the whole recognition of the demo's jacket back: fills,
// satin, lettering.
func BenchmarkKinds(b *testing.B) {
	bytes, err := os.ReadFile("../demo/designs/harbour-jacket-back.dst")
	if err != nil {
		b.Fatal(err)
	}
	d, err := stitchfile.Decode(bytes, "jacket.dst")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		d.Kinds(3)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(d.Records)), "ns/stitch")
}
