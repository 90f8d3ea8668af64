// Package stitchfile turns stitch files into designs and back.
//
// It works the way Go's image package does: Decode finds the format by what
// the bytes say and falls back on the extension where they say nothing, Encode
// writes. Every count comes from the records; a header is advice, and where it
// disagrees in a way a user would care about the design carries a
// stitch.Warning with a stable code and the byte offset. Input that is wrong is
// a *FormatError, input that is right but not to be done is an
// *UnsupportedError; no input panics, and memory stays within a small multiple
// of the file.
//
// In every format explicit trims are stitch.Trim records and runs of jumps
// are left as they are: stitch.Events decides which of those are trims.
// Displacements are in 0.1 mm, x to the right and y up; files whose y points
// down are flipped here.
//
// # Adding a format
//
// Write one file, named for the extension, with a value of type format: a
// name, its extensions, how trims and colours stand in it, sniff (how sure the
// bytes make us), decode, and encode if it can be written. Add it to the table
// in formats.go. That is all: the page, the command line, the fuzz test and
// docs/stitch-files.md (go test -run Docs -update) take it from the table.
//
// Decode takes the whole file as bytes: check every length and offset of the
// file against len(b) before use, size the records from the bytes that are
// there and never from a count in the header, and build the design with a
// builder, which splits moves too long for one record. Beside it goes a test
// file that adds to handmades (hand_test.go) files of your own making, every
// record worked out on paper from the record layout, and shows its damaged
// forms; go test -run Twin -update writes the twin in testdata (review it). New
// warning codes go into decode.go and into docs/stitch-files.md, and stay what
// they are.
package stitchfile
