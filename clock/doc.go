// Package clock turns a design and a machine sheet into seconds, and says
// where every second goes (MODEL sections 2 to 5).
//
// The verb is Run. A Clock is the same made ready once for one machine and
// one job, to be used on many designs; it is safe for concurrent use. Trace
// gives the same run stitch by stitch; Sweep the run time against the set
// speed; Interval how sure the sheet's spreads leave us.
//
// Inside, everything is in seconds, millimetres and revolutions per second;
// the trade's stitches/min stand only in Job and in Result's speeds.
package clock
