package learn

import (
	"context"
	"math/rand/v2"
	"testing"
)

// BenchmarkFit50Runs is the promise: 50 timed runs of 20,000 stitches each, all
// different designs, in under 3 s on two cores.
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
	for b.Loop() {
		if _, err := Fit(context.Background(), s, obs, Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(stitches), "ns/stitch")
}

func BenchmarkTestPiece(b *testing.B) {
	s := mustClass(b, "single-15-light")
	for b.Loop() {
		if _, err := TestPiece(context.Background(), s, usual); err != nil {
			b.Fatal(err)
		}
	}
}
