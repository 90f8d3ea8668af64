//go:build unix

package audit

import (
	"context"
	"maps"
	"slices"
	"syscall"
	"testing"

	"needlepace/clock"
)

// BenchmarkCheckReal audits every real design; the time of one core for 100,000
// stitches, whatever else the machine has to do, stands beside each.
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
			began := processor(b)
			for b.Loop() {
				if _, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: threads}); err != nil {
					b.Fatal(err)
				}
			}
			stitches := float64(d.Count().Stitches)
			ms := (processor(b) - began) * 1000 / float64(b.N)
			b.ReportMetric(stitches, "stitches")
			b.ReportMetric(ms, "cpu-ms/op")
			if stitches > 0 {
				b.ReportMetric(ms*1e5/stitches, "cpu-ms/100k")
			}
		})
	}
}

// processor is the time this process has had on a core, s.
func processor(b *testing.B) float64 {
	var r syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &r); err != nil {
		b.Fatal(err)
	}
	return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
}
