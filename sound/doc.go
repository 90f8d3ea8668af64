// Package sound hears an embroidery machine sew.
//
// A needle bar strikes once a revolution. From a recording of a run the package
// finds when each stitch of a known design was sewn, what happened at rest, and
// the machine's law of speed. The way from samples to stitches:
//
//	Read       samples of a WAV or FLAC file, one channel
//	Listener   samples → Curve: how strongly something begins, by band and millisecond
//	Hear       the Curve laid on the design: sewing, rests, stops that the design
//	           does not know, and the law of the machine, as one problem
//
// Times are in seconds from the beginning of the recording. The package does no
// I/O but through the reader that is handed in.
package sound
