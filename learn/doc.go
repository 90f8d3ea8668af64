// Package learn turns timed runs into a better machine sheet, and says which
// runs would teach most.
//
// Fit takes a sheet and what a person saw (whole runs, colour blocks, speeds
// read off the display) and returns the sheet with its constants moved as far
// as the data reach: the mode of the posterior in the logarithms of the
// constants, with log-normal priors from the sheet, a likelihood that knows
// that an unnoticed thread break only ever adds time, and the posterior's
// spreads and correlations (Laplace's approximation, checked by importance
// sampling). The window is held: timing shows only window·sqrt(accel) (MODEL
// section 2). Run times are those of package clock, exactly.
//
// TestPiece makes the design whose blocks teach most for a sheet's priors
// (Bayesian D-optimality, Chaloner and Verdinelli, Statistical Science 10,
// 1995), with a card to write times on.
//
// The package does no I/O, reads no clock and holds no state; randomness is
// seeded by the caller.
package learn
