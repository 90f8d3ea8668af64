package hier

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

var two = Prior{Mean: []float64{1, 2}, SD: []float64{0.2, 0.2}, DF: 4, Scale: []float64{0.25, 0.25}}

func sample(t *testing.T, of []Member, pr Prior) *Population {
	t.Helper()
	got, err := Sample(context.Background(), of, pr, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestWithoutMembersThePriorStands(t *testing.T) {
	got := sample(t, []Member{{}, {}}, two)
	for k := range 2 {
		// Mean of τ² is DF·Scale²/(DF − 2).
		want := math.Sqrt(0.2*0.2 + 4*0.25*0.25/2)
		if sd := math.Sqrt(got.Cov.At(k, k)); math.Abs(got.Mean[k]-two.Mean[k]) > 1e-9 || math.Abs(sd/want-1) > 0.01 {
			t.Errorf("number %d is %.3f ± %.3f, before %.3f ± %.3f", k, got.Mean[k], sd, two.Mean[k], want)
		}
	}
}

// Members that only tell the sum leave the difference as wide as it was.
func TestWhatNobodyToldIsNotNarrowed(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var of []Member
	for range 20 {
		of = append(of, Member{mat.NewDense(1, 2, []float64{200, 200}), []float64{200 * (3 + 0.01*rng.NormFloat64())}})
	}
	got := sample(t, of, two)
	along := func(a, b float64) float64 {
		v := mat.NewVecDense(2, []float64{a, b})
		return math.Sqrt(mat.Inner(v, got.MeanCov, v))
	}
	before := math.Sqrt2 * 0.2
	if along(1, -1) < 0.85*before || along(1, 1) > 0.3*before {
		t.Errorf("the means' difference is ± %.3f and their sum ± %.3f, both ± %.3f before", along(1, -1), along(1, 1), before)
	}
}

// Many members that are known well show the spread they were drawn with.
func TestManyMembersShowTheirSpread(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	var of []Member
	for range 200 {
		of = append(of, Member{mat.NewDense(1, 2, []float64{100, 0}), []float64{100 * (1.3 + 0.1*rng.NormFloat64())}})
	}
	got := sample(t, of, two)
	if math.Abs(got.Mean[0]-1.3) > 0.02 || math.Abs(got.Between[0]/0.1-1) > 0.25 || got.Told[0] != 200 || got.Told[1] != 0 {
		t.Errorf("200 members of 1.3 ± 0.1 gave %.3f ± %.3f", got.Mean[0], got.Between[0])
	}
	if sd := math.Sqrt(got.Cov.At(1, 1)); math.Abs(sd/math.Sqrt(0.04+0.125)-1) > 0.01 {
		t.Errorf("what nobody told has now ± %.3f", sd)
	}
}

func TestTheSameSeedGivesTheSame(t *testing.T) {
	of := []Member{{mat.NewDense(1, 2, []float64{9, 4}), []float64{20}}}
	a, b := sample(t, of, two), sample(t, of, two)
	if !mat.Equal(a.Cov, b.Cov) {
		t.Error("two samplings with one seed differ")
	}
}
