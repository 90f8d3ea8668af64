// Package machine holds machine sheets: the constants that say how fast one
// embroidery machine can sew, each with its spread and where it comes from
// (MODEL section 6), the built-in classes, and how a sheet is read, checked
// and written as TOML.
//
// A Sheet keeps the units of the file (stitches/min, mm, s, rev/s²); package
// clock converts once. The built-in classes' constants are assumed, and say so.
package machine
