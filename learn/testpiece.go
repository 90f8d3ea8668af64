package learn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/clock"
	"needlepace/learn/doptimal"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// PieceOptions are what a test piece must keep to.
type PieceOptions struct {
	HoopX, HoopY float64 // mm, inside of the hoop, 60…1000 each
	Minutes      float64 // at most, on the sheet's machine, 2…60; 0: UsualMinutes
	SetSpeed     float64 // stitches/min; 0: 10 or 20 below the machine's maximum
}

// Check says which option is out of its range.
func (o PieceOptions) Check() error {
	switch {
	case !(o.HoopX >= 60 && o.HoopX <= 1000 && o.HoopY >= 60 && o.HoopY <= 1000):
		return fmt.Errorf("a hoop of %g × %g mm: a test piece needs 60 to 1000 mm each way", o.HoopX, o.HoopY)
	case o.Minutes != 0 && !(o.Minutes >= 2 && o.Minutes <= 60):
		return fmt.Errorf("%g minutes: a test piece takes 2 to 60", o.Minutes)
	case o.SetSpeed != 0 && !(o.SetSpeed >= leastSetSpeed && o.SetSpeed <= 3000):
		return fmt.Errorf("a set speed of %g/min: give 100 to 3000 stitches/min", o.SetSpeed)
	}
	return nil
}

// Piece is a test piece.
type Piece struct {
	Design   *stitch.Design
	SetSpeed float64 // stitches/min to sew it at
	Blocks   []PieceBlock
	Seconds  float64 // expected by the sheet
	W, H     float64 // mm, of the sewn area; the frame starts in its middle
	Spread   []ExpectedSpread
}

// PieceBlock is one colour block of a test piece.
type PieceBlock struct {
	What       words.Message // what it sews
	Stitches   int
	Trims      int
	X, Y, W, H float64 // mm, box: left, bottom, size; (0, 0) is the start
	Seconds    float64 // expected by the sheet, as a person times a block
}

// UsualMinutes is how long a test piece should take: 6 minutes, and 18 where
// every colour stop is a re-thread by hand, which takes most of them.
func UsualMinutes(s *machine.Sheet) float64 {
	if s.Rest.ColourStop > 30 {
		return 18
	}
	return 6
}

// belowTop is the highest multiple of 10 below a machine's maximum speed that is none of coarseStep: where speeds go in steps, it
// is sewn slower than it is set, and rows at the maximum and other round speeds never tell.
func belowTop(speed float64) float64 {
	v := 10 * (math.Ceil(speed/10) - 1)
	if math.Mod(v, coarseStep) == 0 {
		v -= 10
	}
	if v < leastSetSpeed {
		return speed
	}
	return v
}

// coarseStep is the step that speeds most often go in where they go in steps, stitches/min (assumed).
const coarseStep = 50.0

// leastSetSpeed is the least that a piece may be sewn at, stitches/min.
const leastSetSpeed = 100.0

// Margins of a test piece.
const (
	hoopMargin = 5.5 // mm kept free inside the hoop
	patchGap   = 3.0 // mm between patches
)

// TestPiece makes the stitch design that teaches most about the sheet's
// constants in the given time and hoop: blocks, separated by colour stops so
// that a person can time each: two of stitches that turn, where there are the usual minutes, and for a learned sheet one of the
// shortest stitches and one of short and long by turns, which other pieces may not have; the others chosen by Bayesian
// D-optimality over the sheet's priors with each block and the whole piece timed once by hand. The
// sheet must be valid and have spreads. Errors: options out of range, a hoop
// or a time too small for two blocks, ctx's.
func TestPiece(ctx context.Context, sheet *machine.Sheet, opt PieceOptions) (*Piece, error) {
	if opt.SetSpeed == 0 {
		opt.SetSpeed = belowTop(sheet.MaxSpeed)
	}
	if opt.Minutes == 0 {
		opt.Minutes = UsualMinutes(sheet)
	}
	if err := opt.Check(); err != nil {
		return nil, err
	}
	free := freeConstants(sheet)
	if len(free) == 0 {
		return nil, fmt.Errorf("no constant of sheet %q has a spread: there is nothing to learn", sheet.Name)
	}
	c := &chooser{sheet: sheet, free: free, opt: opt, prior: newPrior(sheet, free),
		w: opt.HoopX - 2*hoopMargin, h: opt.HoopY - 2*hoopMargin}
	c.cands = patches(c.w, c.h)
	if p := shorts(); sheet.Fit != nil && p.w <= c.w && p.h <= c.h {
		c.cands = append(c.cands, p)
	}
	if err := c.measure(ctx); err != nil {
		return nil, err
	}
	first := func(set []int) float64 { return c.score(set, musts[:2]...) }
	set := doptimal.Exchange(len(c.cands), first, nil)
	if sheet.Fit != nil { // from what is chosen so: with these in it from the start the search stays at pieces of few blocks
		set = doptimal.Exchange(len(c.cands), func(set []int) float64 { return c.score(set, musts...) }, set)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(set) < 2 {
		return nil,
			errors.New("the time or the hoop is too small for a test piece of two blocks: allow more minutes")
	}
	return c.piece(set)
}

// chooser weighs sets of patches.
type chooser struct {
	sheet *machine.Sheet
	free  []machine.Constant
	opt   PieceOptions
	prior *prior
	w, h  float64
	cands []patch

	seconds []float64 // of each patch as a block, the travel to it included, by the sheet
	views   []*view
}

// view is what the patches tell about one machine that the priors allow. The
// first is the sheet's own; the others are drawn, since which patch tells
// most depends on the machine, and that is what we do not know yet.
type view struct {
	grad  [][]float64     // of each patch's block time by z
	info  []*mat.SymDense // of the block timed once
	stop  []float64       // gradient of one colour stop
	ends  []float64       // gradient of start and end
	total []float64       // s, each patch
	sd    []float64       // s, of its reading
	sum   *mat.SymDense   // scratch
	whole []float64       // scratch

	solved mat.VecDense // scratch
}

// pieceViews is how many machines a test piece is chosen for.
const pieceViews = 9

// pieceName is what test pieces are called, in their files too.
const pieceName = "TESTPIECE"

// pieces is how many test pieces were timed.
func pieces(obs []Observation) int {
	seen := map[*stitch.Design]bool{}
	for i := range obs {
		if d := obs[i].Design; d != nil && d.Name == pieceName {
			seen[d] = true
		}
	}
	return len(seen)
}

// build sews a set of patches, in order, at their places.
func build(sheet *machine.Sheet, list []patch, at []point) *stitch.Design {
	s := &sewer{jumps: max(3, sheet.Reading.TrimAfterJumps)}
	for i, p := range list {
		if i > 0 {
			s.colourStop()
		}
		p.sew(s, at[i])
	}
	return &stitch.Design{Name: pieceName, Format: "dst", Records: s.rec}
}

// measure finds each candidate's time and what it tells, on every view.
func (c *chooser) measure(ctx context.Context) error {
	p := len(c.free)
	var obs []Observation
	for _, cand := range c.cands {
		d := build(c.sheet, []patch{cand}, []point{{-cand.w / 2, -cand.h / 2}})
		obs = append(obs, Observation{Kind: BlockRun, Block: 1, Design: d, SetSpeed: c.opt.SetSpeed, Seconds: 1,
			Step: 0.1})
	}
	m := newModel(c.sheet, c.free, obs)
	rng := rand.New(rand.NewPCG(1, 0x7069656365))
	raw := make([]float64, len(obs)*p)
	for k := range pieceViews {
		if err := ctx.Err(); err != nil {
			return err
		}
		z, theta := make([]float64, p), make([]float64, p)
		if k > 0 {
			for j := range z {
				z[j] = rng.NormFloat64()
			}
		}
		c.prior.theta(z, theta)
		m.move(theta)
		m.jacobian(raw)
		v := &view{stop: make([]float64, p), ends: make([]float64, p), sum: mat.NewSymDense(p, nil),
			whole: make([]float64, p)}
		for i := range obs {
			o := obs[i]
			o.Seconds = m.prediction(i)
			g := make([]float64, p)
			c.prior.whiten(raw[i*p:(i+1)*p], g)
			h := mat.NewSymDense(p, nil)
			h.SymRankOne(h, 1/sq(o.StandardError()), mat.NewVecDense(p, g))
			v.grad, v.info, v.total = append(v.grad, g), append(v.info, h), append(v.total, o.Seconds)
			v.sd = append(v.sd, o.StandardError())
			if k == 0 {
				c.seconds = append(c.seconds, o.Seconds+1) // and the travel to it
			}
		}
		stop, ends := make([]float64, p), make([]float64, p)
		for j, f := range c.free {
			switch f.Path {
			case "rest.colour_stop", "rest.per_needle":
				stop[j] = f.Get(m.sheet)
			case "rest.start", "rest.end":
				ends[j] = f.Get(m.sheet)
			}
		}
		c.prior.whiten(stop, v.stop)
		c.prior.whiten(ends, v.ends)
		c.views = append(c.views, v)
	}
	return nil
}

// mustWeighs is more than any patch tells of the law's constants, natural logarithm.
const mustWeighs = 100

// score is ln det of the posterior precision of a set, averaged over the
// views, and of the patches that a piece must have; −Inf for one that does not fit into the time or the hoop, or repeats
// a kind of patch.
func (c *chooser) score(set []int, musts ...string) float64 {
	r := c.sheet.Rest
	stop := r.ColourStop
	if c.sheet.Needles > 1 {
		stop += r.PerNeedle
	}
	total := r.Start + r.End + float64(max(len(set)-1, 0))*stop
	for i, k := range set {
		total += c.seconds[k]
		for _, j := range set[:i] { // one of a kind: variety shows where the model is wrong
			if c.cands[j].kind == c.cands[k].kind {
				return math.Inf(-1)
			}
		}
	}
	if total > 60*c.opt.Minutes || (len(set) > 0 && pack(c.cands, set, c.w, c.h) == nil) {
		return math.Inf(-1)
	}
	if len(set) == 0 {
		return 0
	}
	sum := 0.0
	for _, v := range c.views {
		sum += v.score(set)
	}
	must := map[string]bool{}
	for _, k := range set {
		p := &c.cands[k]
		if slices.Contains(musts, p.must) && c.opt.Minutes >= UsualMinutes(c.sheet) {
			must[p.must] = true
		}
	}
	return sum/float64(len(c.views)) + mustWeighs*float64(len(must))
}

func (v *view) score(set []int) float64 {
	p := len(v.whole)
	v.sum.Zero()
	for k := range p {
		v.sum.SetSym(k, k, 1)
	}
	copy(v.whole, v.ends)
	total := 0.0
	for _, k := range set {
		v.sum.AddSym(v.sum, v.info[k])
		total += v.total[k]
		for j, g := range v.grad[k] {
			v.whole[j] += g
		}
	}
	for j, g := range v.stop {
		v.whole[j] += g * float64(len(set)-1)
	}
	o := Observation{Kind: WholeRun, Seconds: total, Step: 1}
	v.sum.SymRankOne(v.sum, 1/sq(o.StandardError()), mat.NewVecDense(p, v.whole))
	var ch mat.Cholesky
	if !ch.Factorize(v.sum) {
		return math.Inf(-1)
	}
	score := ch.LogDet()
	// What is left where one block's time is spoilt by an interruption: with
	// leverage h its loss takes −ln(1−h) away.
	for _, k := range set {
		if err := ch.SolveVecTo(&v.solved, mat.NewVecDense(p, v.grad[k])); err != nil {
			return math.Inf(-1)
		}
		h := mat.Dot(&v.solved, mat.NewVecDense(p, v.grad[k])) / sq(v.sd[k])
		score += spoilt * math.Log1p(-min(h, 1-1e-9))
	}
	return score
}

// spoilt is how much the loss of one block counts in the choice. A block is
// spoilt perhaps once in fifty times, but a constant that hangs on one block
// is then badly wrong and nothing tells; assumed, by the coverage study.
const spoilt = 0.2

// pack lays the patches of a set on shelves, the tallest first, and gives
// their lower left corners from the lower left of the w × h area; nil where
// they do not fit.
func pack(cands []patch, set []int, w, h float64) []point {
	order := make([]int, len(set))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch ha, hb := cands[set[a]].h, cands[set[b]].h; {
		case ha > hb:
			return -1
		case ha < hb:
			return 1
		}
		return 0
	})
	type shelf struct{ y, h, x float64 }
	var shelves []shelf
	top := 0.0
	at := make([]point, len(set))
place:
	for _, i := range order {
		p := cands[set[i]]
		for k := range shelves {
			if s := &shelves[k]; s.x+p.w <= w && p.h <= s.h {
				at[i] = point{s.x, s.y}
				s.x += p.w + patchGap
				continue place
			}
		}
		if top+p.h > h || p.w > w {
			return nil
		}
		shelves = append(shelves, shelf{top, p.h, p.w + patchGap})
		at[i] = point{0, top}
		top += p.h + patchGap
	}
	return at
}

// piece sews a set from the top left of the hoop on, and works out what to
// expect of it.
func (c *chooser) piece(set []int) (*Piece, error) {
	at := pack(c.cands, set, c.w, c.h)
	w, h := 0.0, 0.0
	for i, k := range set {
		w, h = max(w, at[i].x+c.cands[k].w), max(h, at[i].y+c.cands[k].h)
	}
	type placed struct {
		patch
		at point
	}
	var list []placed
	for i, k := range set {
		list = append(list, placed{c.cands[k], point{at[i].x - w/2, h/2 - at[i].y - c.cands[k].h}})
	}
	// Row by row, so that the operator finds the blocks where the card has them.
	slices.SortStableFunc(list, func(a, b placed) int {
		ta, tb := a.at.y+a.h, b.at.y+b.h
		switch {
		case ta > tb+0.5:
			return -1
		case ta < tb-0.5:
			return 1
		case a.at.x < b.at.x:
			return -1
		}
		return 1
	})
	var ps []patch
	var places []point
	for _, l := range list {
		ps, places = append(ps, l.patch), append(places, l.at)
	}
	p := &Piece{Design: build(c.sheet, ps, places), SetSpeed: c.opt.SetSpeed, W: w, H: h}
	for _, l := range list {
		p.Blocks = append(p.Blocks, PieceBlock{What: l.what, X: l.at.x, Y: l.at.y, W: l.w, H: l.h})
	}
	r := clock.Run(p.Design, c.sheet, clock.Job{Speed: p.SetSpeed})
	p.Seconds = r.Seconds
	obs := p.Observations("")
	m := newModel(c.sheet, c.free, obs)
	m.move(c.prior.mean)
	for i := range obs {
		obs[i].Seconds = m.prediction(i)
		if b := obs[i].Block; b > 0 {
			k := &p.Blocks[b-1]
			k.Seconds, k.Stitches, k.Trims = obs[i].Seconds, r.Blocks[b-1].Stitches, r.Blocks[b-1].Trims
		}
	}
	var err error
	p.Spread, _, err = c.prior.after(c.sheet, m, obs)
	return p, err
}

// Observations are the rows to fill in after sewing the piece: the whole, and
// each block. name is the design's path as a file of runs has it.
func (p *Piece) Observations(name string) []Observation {
	obs := timedOnce(p.Design, p.SetSpeed, len(p.Blocks))
	for i := range obs {
		if o := &obs[i]; o.Block > 0 {
			o.Seconds = max(p.Blocks[o.Block-1].Seconds, 1)
		} else {
			o.Seconds = p.Seconds
		}
		obs[i].Name = name
	}
	return obs
}
