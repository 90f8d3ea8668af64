package learn

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
	"needlepace/stitch"
)

// ExpectedSpread is a constant's relative spread before, and what it should
// be after all has been timed once.
type ExpectedSpread struct {
	Path   string  `json:"path"`
	Before float64 `json:"sd_before" doc:"relative"`
	After  float64 `json:"sd_after" doc:"relative, once every block and the whole are timed"`
}

// Lesson is what timing a design should teach about a machine, before anybody
// has timed it.
type Lesson struct {
	Things float64 // how many independent things it should determine, as Result.Learned
	Spread []ExpectedSpread
}

// mostTimed is after how many colour stops nobody times each block of a run by hand.
const mostTimed = 999

// Teach works out what timing a design once should teach: the whole, and each
// of several colour blocks, by hand; of more than a thousand blocks the whole alone. The sheet's spreads (and a former fit's
// correlations) are what is known so far. The sheet must be valid and setSpeed
// (stitches/min) above 0. Errors: no constant that may move, no stitch, or
// ctx's.
func Teach(ctx context.Context, sheet *machine.Sheet, d *stitch.Design, setSpeed float64) (*Lesson, error) {
	free := freeConstants(sheet)
	if len(free) == 0 {
		return nil, fmt.Errorf("no constant of sheet %q has a spread: there is nothing to learn", sheet.Name)
	}
	n := d.Count()
	if n.Stitches == 0 {
		return nil, fmt.Errorf("the design has no stitches to time")
	}
	blocks := 0
	if n.ColourStops > 0 && n.ColourStops <= mostTimed {
		blocks = n.ColourStops + 1
	}
	obs := timedOnce(d, setSpeed, blocks)
	pr, m := newPrior(sheet, free), newModel(sheet, free, obs)
	m.move(pr.mean)
	for i := range obs {
		obs[i].Seconds = m.prediction(i)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	l := &Lesson{}
	var err error
	l.Spread, l.Things, err = pr.after(sheet, m, obs)
	return l, err
}

// timedOnce are the whole and the blocks of a design, to be timed.
func timedOnce(d *stitch.Design, setSpeed float64, blocks int) []Observation {
	obs := []Observation{{Kind: WholeRun, Design: d, SetSpeed: setSpeed, Step: 1, Seconds: 1}}
	for b := range blocks {
		obs = append(obs, Observation{Kind: BlockRun, Design: d, SetSpeed: setSpeed, Block: b + 1, Step: 0.1,
			Seconds: 1})
	}
	return obs
}

// after works out what observations of a model that stands at the prior's mean
// are expected to leave of the spreads, and how many independent things they
// determine (the trace of what the information adds: Σ 1 − posterior variance
// in units of the prior's).
func (p *prior) after(sheet *machine.Sheet, m *model, obs []Observation) (
	spread []ExpectedSpread, things float64, err error,
) {
	n := len(m.free)
	raw := make([]float64, len(obs)*n)
	m.jacobian(raw)
	h := mat.NewSymDense(n, nil)
	for k := range n {
		h.SetSym(k, k, 1)
	}
	g := make([]float64, n)
	for i := range obs {
		p.whiten(raw[i*n:(i+1)*n], g)
		h.SymRankOne(h, 1/sq(obs[i].StandardError()), mat.NewVecDense(n, slices.Clone(g)))
	}
	var ch mat.Cholesky
	ch.Factorize(h) // I plus squares: always positive definite
	cov := mat.NewSymDense(n, nil)
	if err := ch.InverseTo(cov); err != nil {
		return nil, 0, fmt.Errorf("the expected spreads could not be worked out: %w", err)
	}
	po := &posterior{f: &fitter{prior: p}, z: make([]float64, n), cov: cov}
	tc := po.thetaCov()
	for k, f := range m.free {
		spread = append(spread, ExpectedSpread{f.Path, sheet.SD[f.Path], relSD(math.Sqrt(tc.At(k, k)))})
		things += 1 - cov.At(k, k)
	}
	return spread, things, nil
}
