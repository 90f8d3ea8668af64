//go:build unix

package learn

import (
	"context"
	"math/rand/v2"
	"syscall"
	"testing"
)

// BenchmarkFit50Runs is the promise: 50 timed runs of 20,000 stitches each, all
// different designs, in under 3 s of one core (user-s/op; the clock shows less on two cores and more beside other work).
func BenchmarkFit50Runs(b *testing.B) {
	s := mustClass(b, "single-15-light")
	rng := rand.New(rand.NewPCG(1, 1))
	truth := drawMachine(s, rng)
	var obs []Observation
	for k := range 50 {
		obs = append(obs, timed(truth, rng, somewhat(uint64(k), 8, 2500), []float64{800, 1000}[k%2], false)...)
	}
	benchFit(b, obs)
}

// BenchmarkFitTestPiece is a test piece, machines drawn to check the result.
func BenchmarkFitTestPiece(b *testing.B) {
	_, _, obs := timedPiece(b, mustClass(b, "single-15-light"), 1)
	benchFit(b, obs)
}

func benchFit(b *testing.B, obs []Observation) {
	s := mustClass(b, "single-15-light")
	stitches := 0
	for i := range obs {
		if obs[i].Kind == WholeRun {
			stitches += obs[i].Design.Count().Stitches
		}
	}
	b.ReportAllocs()
	before := userSeconds(b)
	for b.Loop() {
		if _, err := Fit(context.Background(), s, obs, Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((userSeconds(b)-before)/float64(b.N), "user-s/op")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(stitches), "ns/stitch")
}

// userSeconds is the time that the processor has spent on this program so far.
func userSeconds(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Sec) + float64(u.Utime.Usec)/1e6
}

func BenchmarkTestPiece(b *testing.B) {
	s := mustClass(b, "single-15-light")
	for b.Loop() {
		if _, err := TestPiece(context.Background(), s, usual); err != nil {
			b.Fatal(err)
		}
	}
}
