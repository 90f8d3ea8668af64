package audit

import (
	"errors"
	"fmt"

	"needlepace/stitch"
)

// Proof is what the mended design was checked for before it is handed out.
type Proof struct {
	Before, After   Picture
	StitchesBefore  int
	StitchesDropped int
	StitchesAfter   int
	CutsBefore      int // trims and colour stops
	CutsAfter       int
	SecondsBefore   float64
	SecondsAfter    float64
}

// ErrProof says that a mended design failed its check; it is a fault of the
// program, and no design is handed out.
var ErrProof = errors.New("audit: the mended design failed its check and was thrown away; the old file is as it was. " +
	"This is a fault of the program: please report it with the file")

// Prove compares two designs layer by layer. The lists give each design's
// colour blocks their threads.
func Prove(before, after *stitch.Design, threadsBefore, threadsAfter []int, trimAfter int) (Proof, error) {
	var p Proof
	a, err := lay(before.Records, trimAfter)
	if err != nil {
		return p, err
	}
	b, err := lay(after.Records, trimAfter)
	if err != nil {
		return p, err
	}
	if len(threadsBefore) != a.blocks || len(threadsAfter) != b.blocks {
		return p, fmt.Errorf("%w (%d and %d colour blocks, threads for %d and %d)", ErrProof, a.blocks, b.blocks,
			len(threadsBefore), len(threadsAfter))
	}
	p.Before, p.After = paint(a, threadsBefore), paint(b, threadsAfter)
	p.StitchesBefore, p.StitchesAfter = len(a.holes), len(b.holes)
	p.CutsBefore, p.CutsAfter = a.cuts(), b.cuts()
	p.StitchesDropped = p.StitchesBefore - p.StitchesAfter
	return p, nil
}

func (l *layout) cuts() int {
	n := 0
	for k := range l.joints {
		n += l.joints[k].count(stitch.Trim) + l.joints[k].count(stitch.ColourStop)
	}
	return n
}

// Err says what a proof found wrong, wrapping ErrProof, or nil.
func (p Proof) Err() error {
	switch {
	case p.Before != p.After:
		return fmt.Errorf("%w (the pictures differ: %v with %d points, %v with %d)", ErrProof, p.Before,
			p.Before.Points, p.After, p.After.Points)
	case p.StitchesAfter != p.StitchesBefore-p.StitchesDropped:
		return fmt.Errorf("%w (%d stitches before, %d dropped, %d after)", ErrProof, p.StitchesBefore,
			p.StitchesDropped, p.StitchesAfter)
	case p.CutsAfter > p.CutsBefore:
		return fmt.Errorf("%w (%d cuts before, %d after)", ErrProof, p.CutsBefore, p.CutsAfter)
	case p.SecondsAfter > p.SecondsBefore*(1+1e-12):
		return fmt.Errorf("%w (%.3f s before, %.3f s after)", ErrProof, p.SecondsBefore, p.SecondsAfter)
	}
	return nil
}
