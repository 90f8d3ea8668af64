package sound

import (
	"math"
	"math/bits"
	"math/cmplx"
)

// fft is the discrete Fourier transform of a power of two of values (J. W. Cooley
// and J. W. Tukey, Math. Comput. 19 (1965) 297–301, radix 2 in place). Two real
// signals go through one transform, as its real and its imaginary part: at the
// sizes used here that takes a tenth of the time of gonum's real transform, which
// a test holds it to.
type fft struct {
	turns []complex128 // e^(−2πik/n), k < n/2
	swaps [][2]int
}

func newFFT(n int) *fft {
	f := &fft{turns: make([]complex128, n/2)}
	for k := range f.turns {
		f.turns[k] = cmplx.Rect(1, -2*math.Pi*float64(k)/float64(n))
	}
	shift := 64 - bits.Len(uint(n-1))
	for i := range n {
		if j := int(bits.Reverse64(uint64(i)) >> shift); i < j {
			f.swaps = append(f.swaps, [2]int{i, j})
		}
	}
	return f
}

// transform replaces x, of the size made for, by its transform.
func (f *fft) transform(x []complex128) {
	for _, s := range f.swaps {
		x[s[0]], x[s[1]] = x[s[1]], x[s[0]]
	}
	for i := 0; i+1 < len(x); i += 2 { // the first stage turns nothing
		a, b := x[i], x[i+1]
		x[i], x[i+1] = a+b, a-b
	}
	for size := 4; size <= len(x); size *= 2 {
		half, every := size/2, len(x)/size
		for from := 0; from < len(x); from += size {
			low, high := x[from:from+half], x[from+half:from+size]
			for k, t := 0, 0; k < len(low) && k < len(high); k, t = k+1, t+every {
				w, h := f.turns[t], high[k]
				re := real(w)*real(h) - imag(w)*imag(h)
				im := real(w)*imag(h) + imag(w)*real(h)
				a := low[k]
				low[k], high[k] = complex(real(a)+re, imag(a)+im), complex(real(a)-re, imag(a)-im)
			}
		}
	}
}

// powers are |A|² and |B|² at bin k of two real signals that were transformed as
// a + i·b: A = (Z(k) + Z*(n−k))/2, B = (Z(k) − Z*(n−k))/2i.
func powers(z []complex128, k int) (a, b float64) {
	u, v := z[k], z[(len(z)-k)&(len(z)-1)]
	ar, ai := real(u)+real(v), imag(u)-imag(v)
	br, bi := imag(u)+imag(v), real(v)-real(u)
	return (ar*ar + ai*ai) / 4, (br*br + bi*bi) / 4
}
