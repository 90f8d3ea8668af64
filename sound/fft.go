package sound

import (
	"math"
	"math/bits"
	"math/cmplx"
)

// fft is the discrete Fourier transform of a power of two of values (J. W. Cooley
// and J. W. Tukey, Math. Comput. 19 (1965) 297–301, in place, two stages of radix 2 at once). Two real
// signals go through one transform, as its real and its imaginary part: at the
// sizes used here that takes a tenth of the time of gonum's real transform, which
// a test holds it to.
type fft struct {
	turns []complex128 // e^(−2πik/n), k < n
	swaps [][2]int
}

func newFFT(n int) *fft {
	f := &fft{turns: make([]complex128, n)}
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
	half := 2
	if bits.Len(uint(len(x)))&1 == 1 { // an odd number of stages is left
		for i := 0; i+3 < len(x); i += 4 {
			a, b, c, d := x[i], x[i+1], x[i+2], x[i+3]
			d = complex(imag(d), -real(d))
			x[i], x[i+1], x[i+2], x[i+3] = a+c, b+d, a-c, b-d
		}
		half = 4
	}
	for ; 4*half <= len(x); half *= 4 {
		every := len(x) / (4 * half)
		for from := 0; from < len(x); from += 4 * half {
			p, q, r, s := x[from:from+half], x[from+half:from+2*half], x[from+2*half:from+3*half], x[from+3*half:from+4*half]
			q, r, s = q[:len(p)], r[:len(p)], s[:len(p)]
			for k, t := 0, 0; k < len(p); k, t = k+1, t+every {
				a, b, c, d := p[k], times(f.turns[2*t], q[k]), times(f.turns[t], r[k]), times(f.turns[3*t], s[k])
				sum, less, up, down := a+b, a-b, c+d, c-d
				down = complex(imag(down), -real(down))
				p[k], q[k], r[k], s[k] = sum+up, less+down, sum-up, less-down
			}
		}
	}
}

// times is a product without a look at what is no number.
func times(a, b complex128) complex128 {
	return complex(real(a)*real(b)-imag(a)*imag(b), real(a)*imag(b)+imag(a)*real(b))
}

// powers are |A|² and |B|² at bin k of two real signals that were transformed as
// a + i·b: A = (Z(k) + Z*(n−k))/2, B = (Z(k) − Z*(n−k))/2i.
func powers(z []complex128, k int) (a, b float64) {
	u, v := z[k], z[(len(z)-k)&(len(z)-1)]
	ar, ai := real(u)+real(v), imag(u)-imag(v)
	br, bi := imag(u)+imag(v), real(v)-real(u)
	return (ar*ar + ai*ai) / 4, (br*br + bi*bi) / 4
}
