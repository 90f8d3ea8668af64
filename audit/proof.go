package audit

import (
	"errors"
	"fmt"
	"slices"

	"needlepace/stitch"
)

// Proof is what the mended design was checked for before it is handed out.
type Proof struct {
	Before, After   Picture
	StitchesBefore  int
	StitchesDropped int
	StitchesAdded   int // into holes that are there: where an object was cut in two
	StitchesAfter   int
	CutsBefore      int // trims and colour stops
	CutsAfter       int
	SecondsBefore   float64
	SecondsAfter    float64
}

// ErrProof says that a mended design failed its check; it is a fault of the
// program, and no design is handed out.
var ErrProof = errors.New("the mended design failed its check and was thrown away; the old file is as it was. " +
	"This is a fault of the program: please report it with the file")

// Prove compares two designs layer by layer. The lists give each design's
// colour blocks their threads.
func Prove(before, after *stitch.Design, threadsBefore, threadsAfter []int, trimAfter int) (Proof, error) {
	return prove(before, after, threadsBefore, threadsAfter, trimAfter, false)
}

// Prove compares a design with what was made of it, the mended one or what a
// file has of it. Where lines were turned it goes step by step: the picture is
// the same up to there, the same with the lines taken from either end, and the
// same from there on.
func (m *Mended) Prove(before, after *stitch.Design) (Proof, error) {
	steps := slices.Concat([]state{{before.Records, identity(len(m.threads))}}, m.links, []state{{after.Records, m.Blocks}})
	var whole Proof
	for k := range len(steps) - 1 {
		p, err := m.proveStep(steps[k], steps[k+1], k%2 == 1)
		if err != nil {
			return p, err
		}
		if k == 0 {
			whole = p
		}
		whole.Before, whole.After, whole.StitchesAfter, whole.CutsAfter = p.Before, p.After, p.StitchesAfter, p.CutsAfter
		if p.Before != p.After {
			break
		}
	}
	for _, c := range m.Changes {
		if c.Kind == ChangeCut {
			whole.StitchesAdded += c.Count
		}
	}
	whole.StitchesDropped = whole.StitchesBefore + whole.StitchesAdded - whole.StitchesAfter
	return whole, nil
}

// proveStep compares two states of a mend; turned takes lines from either end.
func (m *Mended) proveStep(a, b state, turned bool) (Proof, error) {
	threads := func(s state) []int {
		of := make([]int, len(s.blocks))
		for k, old := range s.blocks {
			of[k] = m.threads[old]
		}
		return of
	}
	return prove(&stitch.Design{Records: a.rec}, &stitch.Design{Records: b.rec}, threads(a), threads(b), m.trimAfter, turned)
}

func prove(before, after *stitch.Design, threadsBefore, threadsAfter []int, trimAfter int, turned bool) (Proof, error) {
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
	p.Before, p.After = paint(a, threadsBefore, turned), paint(b, threadsAfter, turned)
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
	case p.StitchesAfter != p.StitchesBefore-p.StitchesDropped+p.StitchesAdded:
		return fmt.Errorf("%w (%d stitches before, %d dropped, %d added, %d after)", ErrProof, p.StitchesBefore,
			p.StitchesDropped, p.StitchesAdded, p.StitchesAfter)
	case p.CutsAfter > p.CutsBefore+p.StitchesAdded: // every object cut in two is one cut more
		return fmt.Errorf("%w (%d cuts before, %d after)", ErrProof, p.CutsBefore, p.CutsAfter)
	case p.SecondsAfter > p.SecondsBefore*(1+1e-12):
		return fmt.Errorf("%w (%.3f s before, %.3f s after)", ErrProof, p.SecondsBefore, p.SecondsAfter)
	}
	return nil
}
