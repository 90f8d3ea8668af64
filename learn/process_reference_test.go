package learn

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
)

// Speeds read off the display on stitches of two lengths, with nothing free but the frame's error over length: that is regression by a
// Gaussian process, and the fit must give its mean and variance. Held to the book's equations (Rasmussen and Williams, Gaussian
// Processes for Machine Learning, MIT Press 2006: squared exponential covariance, equation 4.9; predictive mean and covariance,
// equations 2.23 and 2.24; their numbers from memory), worked out here from the lengths by matrices of its own.
func TestTheErrorOverLengthIsTheBooksGaussianProcess(t *testing.T) {
	class := mustClass(t, "single-15-1200")
	var s *machine.Sheet
	for i := range terms {
		if terms[i].key == "correction" {
			s = terms[i].variants(&belief{sheet: class})[0]
		}
	}
	for path := range s.SD {
		if _, _, node := machine.NodeAt(s, path); !node {
			delete(s.SD, path)
		}
	}
	nodes := s.Correction.Length
	read := []int{6, 8} // of nodes: 6 and 10.5 mm; those between and beside are told by these
	off := []float64{0.04, -0.02}
	var obs []Observation
	for _, k := range read {
		obs = append(obs, Observation{Kind: DisplayReading, SetSpeed: s.MaxSpeed, LengthMM: nodes[k], Shown: 1, Error: 12})
	}
	base := Predict(s, obs)
	for i := range obs {
		obs[i].Shown = base[i] * math.Exp(-off[i])
	}
	opt := noDraws
	opt.Plain = true
	res := fit(t, s, obs, opt)

	sd := logSD(correctionSD)
	cov := func(i, j int) float64 {
		r := math.Log(nodes[i]) - math.Log(nodes[j])
		return sd * sd * math.Exp(-r*r/(2*0.7*0.7))
	}
	k := mat.NewDense(2, 2, nil)
	for a, i := range read {
		for b, j := range read {
			k.Set(a, b, cov(i, j))
		}
		noise := obs[a].StandardError() / obs[a].Shown
		k.Set(a, a, k.At(a, a)+noise*noise)
	}
	var inverse mat.Dense
	if err := inverse.Inverse(k); err != nil {
		t.Fatal(err)
	}
	y := mat.NewVecDense(2, off)
	at := map[string]Learned{}
	for _, c := range res.Constants {
		at[c.Path] = c
	}
	if len(at) != len(nodes) {
		t.Fatalf("%d constants are free, want the %d nodes", len(at), len(nodes))
	}
	for i, mm := range nodes {
		star := mat.NewVecDense(2, []float64{cov(i, read[0]), cov(i, read[1])})
		mean := mat.Inner(star, &inverse, y)
		want := math.Sqrt(cov(i, i) - mat.Inner(star, &inverse, star))
		c := at[machine.NodePath("correction.length", i)]
		if got := math.Log(c.Value); math.Abs(got-mean) > 0.0012 {
			t.Errorf("at %v mm the frame's error is %.4f, by the book %.4f", mm, got, mean)
		}
		if got := logSD(c.SD); math.Abs(got/want-1) > 0.03 {
			t.Errorf("at %v mm its deviation is %.4f, by the book %.4f", mm, got, want)
		}
	}
}
