package floor

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Laws of a Spread.
const (
	LogNormal      = "log-normal"
	Gamma          = "gamma"
	ExponentialLaw = "exponential"
	Constant       = "constant"
)

// Spread is a time that varies: its mean in seconds and its coefficient of
// variation (standard deviation ÷ mean). Law is one of the names above; empty
// means log-normal, which work times of people follow well enough (assumed).
// A CV of 0 is a constant whatever the law; the exponential law's CV is 1
// whatever is written.
type Spread struct {
	Mean float64 `toml:"mean" unit:"s"`
	CV   float64 `toml:"cv"`
	Law  string  `toml:"law"`

	plain bool // written as its mean alone
}

// UnmarshalText reads a spread that a file gives as its mean alone, in s: it
// then varies as what it is put over does (Work.Over).
func (s *Spread) UnmarshalText(b []byte) error {
	v, err := strconv.ParseFloat(strings.ReplaceAll(string(b), "_", ""), 64)
	if err != nil {
		return fmt.Errorf("is %q: give seconds, or { mean = 60, cv = 0.3 }", b)
	}
	*s = Spread{Mean: v, plain: true}
	return nil
}

// over is s, or what it leaves out from under.
func (s *Spread) over(under *Spread) *Spread {
	if s == nil || under == nil || !s.plain {
		return cmp.Or(s, under)
	}
	return &Spread{s.Mean, under.CV, under.Law, under.plain}
}

// MaxCV bounds the coefficient of variation of a Spread.
const MaxCV = 5

func (s Spread) check(key string) error {
	if !(s.Mean >= 0 && s.Mean <= 86400) {
		return keyErr(key+".mean", "is %g s; give 0 to 86400", s.Mean)
	}
	if !(s.CV >= 0 && s.CV <= MaxCV) {
		return keyErr(key+".cv", "is %g; give 0 to %d (standard deviation ÷ mean)", s.CV, MaxCV)
	}
	switch s.Law {
	case "", LogNormal, Gamma, ExponentialLaw, Constant:
		return nil
	}
	return keyErr(key+".law", "is %q; give %q, %q, %q or %q", s.Law, LogNormal, Gamma, ExponentialLaw, Constant)
}

// die is a spread made ready to be drawn from: its logarithm's deviation, and what keeps the mean.
type die struct {
	Spread
	sd, shift float64
}

func (s Spread) die() die {
	v := math.Log1p(s.CV * s.CV)
	return die{s, math.Sqrt(v), v / 2}
}

// draw is one time. The mean is exact under every law.
func (d *die) draw(r *rand.Rand) float64 {
	if d.Mean == 0 || d.Law == Constant {
		return d.Mean
	}
	if d.Law == ExponentialLaw {
		return d.Mean * r.ExpFloat64()
	}
	if d.CV == 0 {
		return d.Mean
	}
	if d.Law == Gamma {
		k := 1 / (d.CV * d.CV)
		return distuv.Gamma{Alpha: k, Beta: k / d.Mean, Src: r}.Rand()
	}
	return d.Mean * math.Exp(d.sd*r.NormFloat64()-d.shift)
}

// stream is a seeded source of its own for one purpose on one machine in one
// replication, so that a change in one part of the shop leaves the chances of
// all others as they were (common random numbers).
type stream struct {
	pcg rand.PCG
	*rand.Rand
}

func newStream() *stream {
	s := &stream{}
	s.Rand = rand.New(&s.pcg)
	return s
}

func (s *stream) seed(seed uint64, rep, machine, purpose int) {
	a := splitMix(seed ^ splitMix(uint64(rep)<<32|uint64(machine)<<8|uint64(purpose)))
	s.pcg.Seed(a, splitMix(a))
}

// splitMix is the finaliser of SplitMix64 (Steele, Lea and Flood 2014): it
// makes seeds that lie side by side unlike.
func splitMix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// KeyError is something wrong in a shop's settings, by the key it has in the
// file: "machine[2].heads", lists counted from 1.
type KeyError struct {
	Key, Text string
}

func (e *KeyError) Error() string { return e.Key + " " + e.Text }

func keyErr(key, format string, a ...any) error {
	return &KeyError{key, fmt.Sprintf(format, a...)}
}
