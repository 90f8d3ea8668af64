package learn

import (
	"context"
	"math/rand/v2"
	"testing"
)

// BenchmarkFit50Runs is the promise: 50 timed runs of 20,000 stitches each, all
// different designs, in under a second on one core.
func BenchmarkFit50Runs(b *testing.B) {
	s := mustClass(b, "single-15-light")
	rng := rand.New(rand.NewPCG(1, 1))
	truth := drawMachine(s, rng)
	var obs []Observation
	for k := range 50 {
		obs = append(obs, timed(truth, rng, somewhat(uint64(k), 8, 2500), []float64{800, 1000}[k%2], false)...)
	}
	b.ResetTimer()
	for b.Loop() {
		if _, err := Fit(context.Background(), s, obs, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFitTestPiece(b *testing.B) {
	s := mustClass(b, "single-15-light")
	rng := rand.New(rand.NewPCG(1, 1))
	truth := drawMachine(s, rng)
	p := piece(b, s, usual)
	obs := timed(truth, rng, p.Design, p.SetSpeed, true)
	b.ResetTimer()
	for b.Loop() {
		if _, err := Fit(context.Background(), s, obs, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
