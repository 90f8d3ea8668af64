package audit

import (
	"context"
	"maps"
	"slices"
	"testing"

	"needlepace/clock"
)

// BenchmarkCheckReal audits every real design; the time for 100,000 stitches
// stands beside each.
//
// Source: 131 real stitch files in six formats from public repositories (data
// beside the project, terms mostly unstated, for checking only).
func BenchmarkCheckReal(b *testing.B) {
	sheet := class(b, "single-15-1200")
	designs := realDesigns(b)
	for _, name := range slices.Sorted(maps.Keys(designs)) {
		d := designs[name]
		threads, _ := ThreadsOf(d, Blocks(d))
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: threads}); err != nil {
					b.Fatal(err)
				}
			}
			stitches := float64(d.Count().Stitches)
			ms := b.Elapsed().Seconds() * 1000 / float64(b.N)
			b.ReportMetric(stitches, "stitches")
			b.ReportMetric(ms, "ms/op")
			if stitches > 0 {
				b.ReportMetric(ms*1e5/stitches, "ms/100k")
			}
		})
	}
}
