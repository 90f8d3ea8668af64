// Package timings keeps timed runs and runs being timed, from which a machine's sheet is
// learned.
package timings
