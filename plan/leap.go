package plan

import (
	"encoding/binary"
	"math/bits"
	"math/rand/v2"
)

// A leap takes a generator of package rand/v2 (PCG-DXSM, O'Neill and Steele) over draws of 64
// bits that nobody needs. Its state is a linear congruence, s → mul·s + inc modulo 2¹²⁸, and so
// are n steps of it at once (F. Brown, "Random number generation with arbitrary stride", 1994).
type leap struct{ mul, inc wide }

// wide is a number of 128 bits.
type wide struct{ hi, lo uint64 }

func (a wide) times(b wide) wide {
	hi, lo := bits.Mul64(a.lo, b.lo)
	return wide{hi + a.hi*b.lo + a.lo*b.hi, lo}
}

func (a wide) plus(b wide) wide {
	lo, carry := bits.Add64(a.lo, b.lo, 0)
	hi, _ := bits.Add64(a.hi, b.hi, carry)
	return wide{hi, lo}
}

// leapOf is n steps.
func leapOf(n int) leap {
	step := leap{wide{2549297995355413924, 4865540595714422341}, wide{6364136223846793005, 1442695040888963407}}
	all := leap{mul: wide{0, 1}}
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			all = leap{all.mul.times(step.mul), all.inc.times(step.mul).plus(step.inc)}
		}
		step = leap{step.mul.times(step.mul), step.inc.times(step.mul).plus(step.inc)}
	}
	return all
}

// leap takes the generator there.
func (l *leap) leap(src *rand.PCG) {
	if l.mul == (wide{0, 1}) {
		return
	}
	b, _ := src.MarshalBinary() // "pcg:", and its state: it never fails
	at := wide{binary.BigEndian.Uint64(b[4:]), binary.BigEndian.Uint64(b[12:])}.times(l.mul).plus(l.inc)
	src.Seed(at.hi, at.lo)
}
