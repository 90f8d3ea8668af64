package trial

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Cohen, Psychol. Bull. 70 (1968) 213–220, table 1: two psychiatrists, 200 patients, three
// diagnoses, weights of disagreement 0, 1, 3 / 1, 0, 6 / 3, 6, 0: weighted kappa 0.348,
// unweighted 0.492 (Educ. Psychol. Meas. 20 (1960) 37–46). From memory, recomputed by
// hand: 1 − 0.90/1.38.
func TestWeightedKappaOfCohen(t *testing.T) {
	var pairs [][2]int
	for a, row := range [][]int{{88, 14, 18}, {10, 40, 10}, {2, 6, 12}} {
		for b, n := range row {
			for range n {
				pairs = append(pairs, [2]int{a, b})
			}
		}
	}
	wrong := [][]float64{{0, 1, 3}, {1, 0, 6}, {3, 6, 0}}
	k, err := Agree(pairs, func(a, b int) float64 { return 1 - wrong[a][b]/6 })
	if err != nil || math.Abs(k.Kappa-0.348) > 0.0005 || k.Pairs != 200 || math.Abs(k.Plain-0.70) > 1e-9 {
		t.Errorf("%+v, %v; Cohen has 0.348", k, err)
	}
	k, err = Agree(pairs, func(a, b int) float64 {
		if a == b {
			return 1
		}
		return 0
	})
	if err != nil || math.Abs(k.Kappa-0.492) > 0.0005 {
		t.Errorf("unweighted %+v, %v; Cohen has 0.492", k, err)
	}
}

// Fleiss and Cohen, Educ. Psychol. Meas. 33 (1973) 613–619: with quadratic weights kappa is
// the intraclass correlation with both graders' means in it, but for a term of 1/n.
func TestQuadraticKappaIsAnIntraclassCorrelation(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var pairs [][2]int
	for range 4000 {
		a := 1 + rng.IntN(5)
		pairs = append(pairs, [2]int{a, min(5, max(1, a+rng.IntN(3)-1))})
	}
	k, err := Agree(pairs, nil)
	if err != nil {
		t.Fatal(err)
	}
	var ma, mb, va, vb, cov float64
	n := float64(len(pairs))
	for _, p := range pairs {
		ma, mb = ma+float64(p[0])/n, mb+float64(p[1])/n
	}
	for _, p := range pairs {
		a, b := float64(p[0])-ma, float64(p[1])-mb
		va, vb, cov = va+a*a/n, vb+b*b/n, cov+a*b/n
	}
	if icc := 2 * cov / (va + vb + (ma-mb)*(ma-mb)); math.Abs(k.Kappa-icc) > 1e-9 {
		t.Errorf("kappa %.6f, correlation %.6f", k.Kappa, icc)
	}
}

// The standard error is that of drawing anew.
func TestTheStandardErrorOfKappa(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	draw := func() [][2]int {
		var pairs [][2]int
		for range 150 {
			a := 1 + rng.IntN(5)
			pairs = append(pairs, [2]int{a, min(5, max(1, a+rng.IntN(5)-2))})
		}
		return pairs
	}
	var mean, square, se float64
	const n = 400
	for range n {
		k, err := Agree(draw(), nil)
		if err != nil {
			t.Fatal(err)
		}
		mean, square, se = mean+k.Kappa/n, square+k.Kappa*k.Kappa/n, se+k.SE/n
	}
	if sd := math.Sqrt(square - mean*mean); math.Abs(se/sd-1) > 0.12 {
		t.Errorf("standard error %.4f, the spread of 400 draws is %.4f", se, sd)
	}
	if _, err := Agree([][2]int{{3, 3}, {3, 3}}, nil); err == nil {
		t.Error("one grade only says nothing of agreement")
	}
	if _, err := Agree(nil, nil); err == nil {
		t.Error("no pairs")
	}
}
