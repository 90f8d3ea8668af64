package stitch

import (
	"iter"
	"strings"

	"needlepace/words"
)

// Kind is what a digitizer would call the stitching that a record is part of.
//
// The names are the trade's; how each is told from geometry is common practice
// with no published source, in our own words (docs/kinds-of-stitches.md).
type Kind uint8

// The kinds of stitches.
const (
	NotSewn    Kind = iota // the record is no revolution: travel, trim, colour stop, stop
	Running                // stitch after stitch along a line
	Satin                  // to and fro across a column, one stitch from edge to edge; an open zigzag too
	Fill                   // rows side by side, a row of several stitches
	Tie                    // a few small stitches on one spot where thread starts or is cut
	Bean                   // each stitch sewn three times or more: triple stitch
	UnderCover             // running stitch or open zigzag that later stitches hide: underlay and ways between objects
	Unknown                // none of these
	NumKinds   int  = iota
)

var kindKeys = [NumKinds]string{"not_sewn", "running", "satin", "fill", "tie", "bean", "under_cover", "unknown"}

// String is the kind's key as in JSON and CSV: running, satin, under_cover, …
func (k Kind) String() string {
	if int(k) < NumKinds {
		return kindKeys[k]
	}
	return kindKeys[Unknown]
}

// Name is the kind in the words of the trade.
func (k Kind) Name() words.Message {
	return words.Say("kind."+strings.ReplaceAll(k.String(), "_", "-"), nil)
}

// Means says what the kind is, for people.
func (k Kind) Means() words.Message {
	return words.Say("kind-is."+strings.ReplaceAll(k.String(), "_", "-"), nil)
}

// SewnKinds goes through the kinds that stitches can be, in the order in which
// people are told of them.
func SewnKinds() iter.Seq[Kind] {
	return func(yield func(Kind) bool) {
		for k := Running; int(k) < NumKinds; k++ {
			if !yield(k) {
				return
			}
		}
	}
}

// Kinds is the kind of each record of the design, from its geometry alone.
// trimAfter is the machine's reading of jumps, as in [Design.Events]. A jump
// that is sewn through has the kind of the stitch it leads to. The work grows
// with the number of records: each is looked at a fixed number of times.
func (d *Design) Kinds(trimAfter int) []Kind {
	out := make([]Kind, len(d.Records))
	knower{rec: d.Records, out: out}.know(trimAfter)
	return out
}

// Stretch is records From ≤ i < To of one kind. Only revolutions are in it:
// it ends where the thread is cut, the machine stands or the frame travels.
type Stretch struct {
	Kind     Kind
	From, To int
}

// Stretches joins the kinds of a design's records into stretches.
func Stretches(kinds []Kind) iter.Seq[Stretch] {
	return func(yield func(Stretch) bool) {
		for i := 0; i < len(kinds); {
			to := i + 1
			for to < len(kinds) && kinds[to] == kinds[i] {
				to++
			}
			if kinds[i] != NotSewn && !yield(Stretch{kinds[i], i, to}) {
				return
			}
			i = to
		}
	}
}
