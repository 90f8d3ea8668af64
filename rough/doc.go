// Package rough says what a design will come to before there is a stitch file: how
// many stitches, and how long a stitch takes on a machine, as ranges learned from
// designs that are there.
//
// The logarithm of the stitches a covered mm² is taken as linear in what can be
// said of a design beforehand (size, rough cover, colours, kind), with normal errors. It is the
// conjugate linear model of Gelman et al., Bayesian Data Analysis (3rd ed.), chapter 14:
// a normal prior on the coefficients, a scaled inverse χ² one on the variance; what is
// foretold has a Student t distribution. With few designs the prior holds the slopes near none, and the
// range is wide; each more narrows it.
package rough
