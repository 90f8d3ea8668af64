package book

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Gamma is what is believed of a rate: events a unit of exposure, gamma
// distributed. Its Shape counts like that many events seen, its Rate like that
// much exposure. It is the conjugate prior of Poisson counts: A. Gelman and
// others, Bayesian Data Analysis, 3rd edition (2013), section 2.6, "Poisson
// model parameterized in terms of rate and exposure".
type Gamma struct{ Shape, Rate float64 }

// Seen is the belief after so many events over so much exposure.
func (g Gamma) Seen(events int, exposure float64) Gamma {
	return Gamma{g.Shape + float64(events), g.Rate + exposure}
}

// Mean is the expected rate.
func (g Gamma) Mean() float64 { return g.Shape / g.Rate }

// Within is the interval that holds the rate with a chance of level, both sides
// alike.
func (g Gamma) Within(level float64) (low, high float64) {
	d := distuv.Gamma{Alpha: g.Shape, Beta: g.Rate}
	return d.Quantile((1 - level) / 2), d.Quantile((1 + level) / 2)
}

// Normal is what is believed of a quantity, normally distributed. It is the
// conjugate prior of the mean of normal readings whose spread is known: the
// same book, section 2.5.
type Normal struct{ Mean, SD float64 }

// Seen is the belief after a reading, itself known to a standard deviation: both
// weighed by their precisions, 1 / SD².
func (n Normal) Seen(reading, sd float64) Normal {
	a, b := 1/(n.SD*n.SD), 1/(sd*sd)
	return Normal{(a*n.Mean + b*reading) / (a + b), 1 / math.Sqrt(a+b)}
}
