// Package audit finds what in a design wastes time or risks breaks, says what
// each costs on one machine, and mends what can be mended without changing the
// sewn picture.
//
// Check clocks a design as it is and as it would be without each fault; the
// difference is the cost of the fault (package clock, MODEL sections 2 to 5).
// Mend changes a design only where the picture stays the same by proof:
// whatever lay on top stays on top (Prove), no stitch is added, and the clock
// never gets slower.
//
// A finding is one file with one line in the list of finders (finders.go). Its
// thresholds stand in Limits with their published source.
package audit
