// Package digitize is a small digitizing kit: it builds stitch designs from
// objects (running stitch, satin columns, fills, lettering) the way a
// digitizer does, so that the demo shop's designs and the test pieces are made
// by rule and are the same on every machine.
//
// A Piece is sewn in the order of the calls. Positions are millimetres, x to
// the right and y up, with the frame starting at (0, 0). An object starts where
// its first point is: with the thread cut the frame travels there, with thread
// in the fabric a running stitch connects. No record moves more than 121 units
// (12.1 mm) on an axis, the limit of the 3-byte tape format.
//
// The package does no I/O and holds no state; the same calls give the same
// records. Default lengths and spacings are the trade's customary ones (trade
// magazines' advice: run 1.5–5 mm, fill stitch 3–5 mm, line spacing 0.35–0.45 mm).
package digitize
