package sound

import (
	"math"
	"slices"
	"strings"

	"needlepace/learn/leastsq"
)

// term is a constant of the law that a recording teaches.
type term struct {
	path   string
	spread float64 // of its logarithm, by the class
	get    func(*law) float64
	set    func(*law, float64)
}

// heardConstants are the constants of a sheet that a recording of one run teaches.
var heardConstants = []string{"shaft.accel_up", "shaft.accel_down", "shaft.creep_speed", "shaft.soft_start_speed",
	"frame.accel_x", "frame.accel_y", "frame.speed_x", "frame.speed_y"}

// The least spreads of a constant: of a machine that was learned, which may have
// changed a little, and of one of which only the class is known.
const (
	knownSpread = 0.01
	classSpread = 0.25
)

// terms are what is fitted. The set speed is free; the others keep to the
// sheet's value as far as its class is known to.
func (h *hearing) terms() []term {
	out := []term{{"speed", 0.05,
		func(l *law) float64 { return l.job.Speed },
		func(l *law, v float64) { l.job.Speed = v; l.sheet.MaxSpeed = max(l.sheet.MaxSpeed, v) }}}
	for c := range h.sheet.Constants() {
		if !slices.Contains(heardConstants, c.Path) {
			continue
		}
		spread := h.sheet.Spread(c)
		if h.opt.Known {
			spread = max(spread, knownSpread)
		} else {
			spread = max(spread, classSpread)
		}
		out = append(out, term{c.Path, spread,
			func(l *law) float64 { return c.Get(l.sheet) },
			func(l *law, v float64) { c.Set(l.sheet, v) }})
	}
	out = append(out, term{"phase", 0.4,
		func(l *law) float64 { return l.phase },
		func(l *law, v float64) { l.phase = min(max(v, leastPhase), 1) }})
	return out
}

// fitBlock is over how many turns times are compared: long enough that a
// stroke's jitter counts little, short enough that speeds differ.
const fitBlock = 8

// Standard deviations of what a block of turns differs by.
const (
	strokeJitter = 0.0009 // s, of a stroke, its place on the curve included
	lawError     = 0.004  // relative, over a few turns
	longError    = 0.0007 // relative, over a passage
	endError     = 0.05   // s, where a passage begins or ends: a stroke more or less
)

// block is a stretch of a passage whose time was heard.
type block struct {
	passage, from, to int
	seconds, weight   float64
	long              bool
}

func (b *block) sd(t float64) float64 {
	if b.long {
		return math.Hypot(endError, longError*t)
	}
	return math.Hypot(strokeJitter*math.Sqrt2, lawError*t)
}

// blocks are the stretches to fit, of the first most strokes of each passage
// (0: all).
func (h *hearing) blocks(most int) []block {
	var out []block
	for k, l := range h.laid {
		n := len(l.heard)
		if most > 0 {
			n = min(n, most)
		}
		add := func(i, j int) {
			if l.gain[i] >= 0.15 && l.gain[j] >= 0.15 {
				out = append(out, block{passage: k, from: i, to: j, seconds: l.heard[j] - l.heard[i], weight: 1})
			}
		}
		for i := 0; i+1 < min(n, 14); i++ {
			add(i, i+1)
		}
		for i := 14; i+fitBlock < n; i += fitBlock {
			add(i, i+fitBlock)
		}
		if most == 0 {
			for i := max(n-11, 14); i+1 < n; i++ {
				add(i, i+1)
			}
			if n > 200 {
				out = append(out, block{k, 0, n - 1, l.heard[n-1] - l.heard[0], 1, true})
			}
		}
	}
	return out
}

// fit finds the law that the strokes heard obey best (weighed least squares with
// Student weights of 4 degrees of freedom against wrong numbers and noise;
// Lange, Little and Taylor, J. Am. Stat. Assoc. 84 (1989) 881–896), and what is
// left of the squares.
func (h *hearing) fit(from law, blocks []block, rounds int) (law, float64) {
	terms := h.fitted
	if len(blocks) < 3*len(terms) {
		return from, math.Inf(1)
	}
	at := func(x []float64) law {
		l := from.clone()
		for k, t := range terms {
			t.set(&l, t.get(&from)*math.Exp(x[k]))
		}
		return l
	}
	of := h.played(from)
	m := len(blocks) + len(terms)
	residual := func(x, r []float64) {
		if slices.ContainsFunc(x, func(v float64) bool { return !(math.Abs(v) < 3) }) {
			r[0] = math.NaN() // not allowed: the step is shortened
			return
		}
		l := at(x)
		sc := of.by(l)
		defer sc.done()
		for i := range blocks {
			b := &blocks[i]
			p := &sc.passages[b.passage]
			t := p.at[b.to] - p.at[b.from]
			r[i] = (b.seconds - t) / b.sd(t) * math.Sqrt(b.weight)
		}
		for k, t := range terms {
			// Towards the sheet, not towards the last guess.
			r[len(blocks)+k] = (x[k] + math.Log(t.get(&from)/h.prior[k])) / t.spread
		}
	}
	jacobian := func(x, r, jac []float64) {
		n := len(terms)
		y, q := make([]float64, n), make([]float64, m)
		for k := range terms {
			copy(y, x)
			const step = 2e-4
			y[k] += step
			residual(y, q)
			for i := range q {
				jac[i*n+k] = (q[i] - r[i]) / step
			}
		}
	}
	x := make([]float64, len(terms))
	left := math.Inf(1)
	// The squares have several valleys in how stiff the frame is: begin in the deepest.
	cost := func(x []float64) (sum float64) {
		r := make([]float64, m)
		residual(x, r)
		for i, v := range r {
			if i < len(blocks) {
				v = math.Sqrt(5 * math.Log1p(v*v/4))
			}
			sum += v * v
		}
		return sum
	}
	if rounds > 1 {
		least := cost(x)
		for k, t := range terms {
			if !strings.HasPrefix(t.path, "frame.") {
				continue
			}
			from, at := x[k], x[k]
			for _, step := range []float64{-1.2, -0.8, -0.5, -0.3, -0.15, 0.15, 0.3, 0.5, 0.8, 1.2} {
				if x[k] = from + step*min(1, t.spread*3); cost(x) < least {
					least, at = cost(x), x[k]
				}
			}
			x[k] = at
		}
	}
	for range rounds {
		res, err := leastsq.Solve(leastsq.Problem{M: m, N: len(terms), Residual: residual, Jacobian: jacobian}, x,
			leastsq.Options{MaxIterations: 8, GradTol: 1e-6, StepTol: 1e-5, Damping: 1e-3, Straight: true})
		if err != nil {
			return from, math.Inf(1)
		}
		x, left = res.X, 0
		for i := range blocks {
			z := res.Residuals[i] / math.Sqrt(blocks[i].weight)
			blocks[i].weight = 5 / (4 + z*z)
			left += 5 * math.Log1p(z*z/4) // −2 ln of Student's density
		}
		for _, r := range res.Residuals[len(blocks):] {
			left += r * r
		}
	}
	return at(x), left
}

// relearn fits the law to all that was heard and lays the score anew by it.
func (h *hearing) relearn(rounds int) {
	h.law, _ = h.fit(h.law, h.blocks(0), rounds)
	h.relay()
}

// played is the design as it was sewn by a law; a score of it, if there is one, is not
// read anew.
func (h *hearing) played(l law) *score {
	if h.score.design == h.design {
		return h.score.by(l)
	}
	return l.score(h.design)
}

// relay gives the passages the law's times.
func (h *hearing) relay() {
	h.score = h.played(h.law)
	for k, l := range h.laid {
		l.passage = &h.score.passages[k]
	}
}
