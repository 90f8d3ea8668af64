package audit

import (
	"context"
	"testing"

	"needlepace/clock"
	"needlepace/demo"
	"needlepace/stitch"
)

// large is a design of 100,000 stitches and more: the demo's jacket back and
// its patches side by side, as one would gang them.
func large(tb testing.TB) (*stitch.Design, []int) {
	tb.Helper()
	out := &stitch.Design{Name: "ganged", Format: "dst"}
	var names []string
	for n := 0; out.Count().Stitches < 100_000; n++ {
		x := demo.Designs()[n%len(demo.Designs())]
		b, err := x.Read()
		if err != nil {
			tb.Fatal(err)
		}
		d, err := decode(b, x.File)
		if err != nil {
			tb.Fatal(err)
		}
		if n > 0 {
			out.Records = append(out.Records, stitch.Record{Op: stitch.ColourStop})
			at := out.Count().End
			writer{&out.Records, 3, false}.way(stitch.Point{X: 900*(n%4) - at.X, Y: 700*(n/4) - at.Y}, 1)
		}
		out.Records = append(out.Records, d.Records...)
		for _, t := range x.Threads {
			names = append(names, t.Name)
		}
	}
	return out, ThreadsNamed(names)
}

func BenchmarkCheck100kStitches(b *testing.B) {
	d, threads := large(b)
	sheet := class(b, "single-15-light")
	b.ReportMetric(float64(d.Count().Stitches), "stitches")
	for b.Loop() {
		if _, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: threads}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(d.Count().Stitches), "stitches")
}

func BenchmarkTouching100kStitches(b *testing.B) {
	d, _ := large(b)
	l, err := lay(d.Records, 3)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		newGrid(l.threads()).touching(len(l.objects))
	}
}

func BenchmarkProof100kStitches(b *testing.B) {
	d, threads := large(b)
	for b.Loop() {
		if _, err := Prove(d, d, threads, threads, 3); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkMend100kStitches(b *testing.B) {
	d, threads := large(b)
	sheet := class(b, "single-15-light")
	for b.Loop() {
		if _, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Threads: threads, Rounds: 1000, States: 1000}); err != nil {
			b.Fatal(err)
		}
	}
}
