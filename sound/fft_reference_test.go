// gonum's real Fourier transform (gonum.org/v1/gonum/dsp/fourier, after FFTPACK by
// P. N. Swarztrauber), an independent program for the same sums.

package sound

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// TestPowersAreThoseOfAnotherTransform: two real signals in one transform.
func TestPowersAreThoseOfAnotherTransform(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	for _, n := range []int{4, 128, 2048} {
		a, b, z := make([]float64, n), make([]float64, n), make([]complex128, n)
		for i := range z {
			a[i], b[i] = rng.NormFloat64(), rng.NormFloat64()
			z[i] = complex(a[i], b[i])
		}
		newFFT(n).transform(z)
		ref := fourier.NewFFT(n)
		ca, cb := ref.Coefficients(nil, a), ref.Coefficients(nil, b)
		for k := range ca {
			pa, pb := powers(z, k)
			wa, wb := real(ca[k])*real(ca[k])+imag(ca[k])*imag(ca[k]), real(cb[k])*real(cb[k])+imag(cb[k])*imag(cb[k])
			if math.Abs(pa-wa) > 1e-9*(1+wa) || math.Abs(pb-wb) > 1e-9*(1+wb) {
				t.Fatalf("%d values, bin %d: %g and %g, gonum has %g and %g", n, k, pa, pb, wa, wb)
			}
		}
	}
}
