package money

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Chance is how often something came out in so many draws. The draws are
// finite, so the chance itself is only known so well: Interval says how well,
// and P is never 0 or 1.
type Chance struct {
	Won  int // draws in which it did
	Tied int // draws in which the two were exactly alike; each counts as half
	Of   int // draws
}

// won is the draws won, ties counted as half.
func (c Chance) won() float64 { return float64(c.Won) + float64(c.Tied)/2 }

// P is the chance: (won + ½) / (draws + 1), the mean of the Jeffreys posterior,
// strictly between 0 and 1. Without draws it is one half.
func (c Chance) P() float64 { return (c.won() + .5) / float64(c.Of+1) }

// Interval is in which the chance lies for any number of draws, at the level
// (0.90): the Jeffreys interval, quantiles of Beta(won + ½, lost + ½) (Brown,
// Cai and DasGupta, Interval Estimation for a Binomial Proportion, 2001).
func (c Chance) Interval(level float64) (low, high float64) {
	b := distuv.Beta{Alpha: c.won() + .5, Beta: float64(c.Of) - c.won() + .5}
	return b.Quantile((1 - level) / 2), b.Quantile((1 + level) / 2)
}

// Not is the chance of the opposite.
func (c Chance) Not() Chance { return Chance{c.Of - c.Won - c.Tied, c.Tied, c.Of} }

// Verdict is what may be said of a chance.
type Verdict string

// The verdicts.
const (
	Wins       Verdict = "wins"        // from WinsFrom on
	Probably   Verdict = "probably"    // from ProbablyFrom on
	CannotTell Verdict = "cannot-tell" // below
	Alike      Verdict = "alike"       // the two are the same in every draw
)

// WinsFrom and ProbablyFrom are the chances from which a winner is named, and
// from which one is probably.
const (
	WinsFrom     = .90
	ProbablyFrom = .70
)

// Verdict is what may be said: a winner from WinsFrom on, probably from
// ProbablyFrom on, else that it cannot be told.
func (c Chance) Verdict() Verdict {
	switch p := c.P(); {
	case c.Of > 0 && c.Tied == c.Of:
		return Alike
	case p >= WinsFrom:
		return Wins
	case p >= ProbablyFrom:
		return Probably
	}
	return CannotTell
}

// count is the chance that mine is less than theirs, draw by draw.
func count[T any](mine, theirs []T, compare func(a, b T) int) Chance {
	c := Chance{Of: len(mine)}
	for k, a := range mine {
		switch d := compare(a, theirs[k]); {
		case d < 0:
			c.Won++
		case d == 0:
			c.Tied++
		}
	}
	return c
}

// MoreDraws is how many draws in all would settle whether a chance that now
// lies below the next verdict's threshold passes it, if the draws go on as
// they went: where the interval of the level, 1.645 standard errors at 0.90,
// no longer holds the threshold. It is 0 where it does not hold it now, or
// where more than a hundred times the draws would be needed: then the chance
// is known, and something else must be learned.
func (c Chance) MoreDraws(level float64) int {
	p := c.P()
	next := ProbablyFrom
	if p >= next {
		next = WinsFrom
	}
	if _, high := c.Interval(level); p >= WinsFrom || high < next || c.Verdict() == Alike {
		return 0
	}
	z := distuv.UnitNormal.Quantile((1 + level) / 2)
	n := z * z * p * (1 - p) / ((next - p) * (next - p))
	if !(n <= 100*float64(c.Of)) {
		return 0
	}
	return int(math.Ceil(n))
}
