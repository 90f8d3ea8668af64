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
	stages [][]angles // of each pair of stages
	swaps  [][2]int
}

// angles are what turns the second, third and fourth of four values.
type angles struct{ second, third, fourth complex128 }

func newFFT(n int) *fft {
	f := &fft{}
	at := func(k int) complex128 { return cmplx.Rect(1, -2*math.Pi*float64(k)/float64(n)) }
	for half := firstHalf(n); 4*half <= n; half *= 4 {
		every := n / (4 * half)
		stage := make([]angles, half)
		for k := range stage {
			stage[k] = angles{at(2 * k * every), at(k * every), at(3 * k * every)}
		}
		f.stages = append(f.stages, stage)
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
	half := firstHalf(len(x))
	if half == 4 { // an odd number of stages is left
		for i := 0; i+3 < len(x); i += 4 {
			a, b, c, d := x[i], x[i+1], x[i+2], x[i+3]
			d = complex(imag(d), -real(d))
			x[i], x[i+1], x[i+2], x[i+3] = a+c, b+d, a-c, b-d
		}
	}
	for _, stage := range f.stages {
		half := len(stage)
		for from := 0; from < len(x); from += 4 * half {
			p, q, r, s := x[from:from+half], x[from+half:from+2*half], x[from+2*half:from+3*half], x[from+3*half:from+4*half]
			p, q, r, s = p[:len(stage)], q[:len(stage)], r[:len(stage)], s[:len(stage)]
			p[0], q[0], r[0], s[0] = fourOf(p[0], q[0], r[0], s[0]) // the first turns nothing
			for k := 1; k < len(stage); k++ {
				t := &stage[k]
				p[k], q[k], r[k], s[k] = fourOf(p[k], times(t.second, q[k]), times(t.third, r[k]), times(t.fourth, s[k]))
			}
		}
	}
}

// firstHalf is the half of what the first two stages at once leave whole, of n values.
func firstHalf(n int) int {
	if bits.Len(uint(n))&1 == 1 {
		return 4
	}
	return 2
}

// fourOf is the transform of four values.
func fourOf(a, b, c, d complex128) (p, q, r, s complex128) {
	sum, less, up, down := a+b, a-b, c+d, c-d
	down = complex(imag(down), -real(down))
	return sum + up, less + down, sum - up, less - down
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
