// Package stitch says what a design is to an embroidery machine: records,
// the events a machine makes of them, colour blocks and geometry.
//
// A design is a sequence of records (sew, jump, trim, colour stop, stop).
// Displacements are in file units of 0.1 mm, x to the right and y up, as the
// 3-byte tape format has them. The package does no I/O and knows no machine:
// the only machine setting it needs is how many jumps in a row are a trim,
// and that is handed in.
package stitch
