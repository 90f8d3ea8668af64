package sound

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestTheBestRestBeforeEachPlace holds the quick search for it to one that tries every rest.
func TestTheBestRestBeforeEachPlace(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 1))
	for range 40 {
		lo, mid := 1+rng.IntN(20), 30+40*rng.Float64()
		var price []float64
		for q := lo; q <= int(2.2*mid)+1; q++ {
			z := math.Log(float64(q) / mid)
			price = append(price, -2*z*z)
		}
		v := make([]float64, 300)
		for i := range v {
			if v[i] = nowhere; rng.IntN(4) > 0 && i < 250 {
				v[i] = 3 * rng.NormFloat64()
			}
		}
		best, how := after(v, price, lo)
		for i := range v {
			want := float64(nowhere)
			for q := range price {
				if j := i - lo - q; j >= 0 && v[j] > nowhere {
					want = max(want, v[j]+price[q])
				}
			}
			if best[i] != want {
				t.Fatalf("place %d earns %v, want %v", i, best[i], want)
			}
			if q := int(how[i]); want > nowhere && v[i-q]+price[q-lo] != want {
				t.Fatalf("place %d: a rest of %d is not the best", i, q)
			}
		}
	}
}
