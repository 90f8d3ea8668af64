package learn

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
)

func fit(t testing.TB, s *machine.Sheet, obs []Observation) *Result {
	t.Helper()
	res, err := Fit(context.Background(), s, obs, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := machine.Validate(res.Sheet); err != nil {
		t.Fatal(err)
	}
	return res
}

func TestFitPredictsOtherDesigns(t *testing.T) {
	s := mustClass(t, "single-15-light")
	rng := rand.New(rand.NewPCG(5, 5))
	var errs, before []float64
	for range 10 {
		truth := drawMachine(s, rng)
		obs := timed(truth, rng, somewhat(rng.Uint64(), 8, 500), 1000, true)
		res := fit(t, s, obs)
		for range 5 {
			d := somewhat(rng.Uint64(), 5, 2000)
			job := clock.Job{Speed: 900}
			want := clock.Run(d, truth, job).Seconds
			errs = append(errs, math.Abs(clock.Run(d, res.Sheet, job).Seconds/want-1))
			before = append(before, math.Abs(clock.Run(d, s, job).Seconds/want-1))
		}
		t.Logf("learned %.1f things, LOO %.2f%%, check %+v, misfit %.3f", res.Learned, 100*res.LeaveOut.RMS, res.Check, res.Misfit)
	}
	a, b := median(errs), median(before)
	t.Logf("median error %.2f %%, before %.2f %%", 100*a, 100*b)
	if a > 0.02 || a > b/3 {
		t.Errorf("median error of other designs %.2f %%, before the fit %.2f %%", 100*a, 100*b)
	}
}

func median(v []float64) float64 {
	w := append([]float64(nil), v...)
	for i := range w {
		for j := i; j > 0 && w[j] < w[j-1]; j-- {
			w[j], w[j-1] = w[j-1], w[j]
		}
	}
	return w[len(w)/2]
}
