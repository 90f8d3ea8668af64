package clock

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
	"needlepace/stitch"
)

// Response is a design's run time as a function of how far the machine's
// constants lie from the sheet's values. It makes thousands of draws cost no
// more than some dozen runs:
//
//   - The rests are exact: each is a count times a constant.
//   - What the caps cost (MODEL section 2) is recomputed at every draw from the
//     design's stitches gathered by length along x and y, so that constants
//     which act together (acceleration with top speed, x with y) do.
//   - For ramps, travel and what speed steps and lag add each constant acts alone: the logarithm of their
//     time is known at a few standard deviations to either side and taken as
//     straight between.
type Response struct {
	Nominal float64 // s, at the sheet's values
	fixed   float64 // s, rests without a spread
	others  float64 // s, ramps, control and travel
	lengths *lengths
	sheet   machine.Sheet
	job     Job
	terms   []term
	also    []kind
	spread  float64 // relative: the model's own error or the fit's residual
}

// kind is another kind of machine that the fit believes in.
type kind struct {
	upTo  float64 // chance of the kinds up to this one
	ratio float64 // its run time over that of the sheet's own kind
}

// term is one constant with a spread.
type term struct {
	at     int     // index in machine.AllConstants
	sd     float64 // of the logarithm
	isRest bool
	rest   float64             // s at the sheet's value, for a rest
	log    [len(nodes)]float64 // ln of others over its nominal, at each node
	caps   bool                // the caps depend on it
	// long is ln of the long-stitch part over its nominal at each node, for what
	// says which stitches a cap holds for; 0 for the others.
	long [len(nodes)]float64
}

// nodes are where the response is measured, in standard deviations.
var nodes = [...]float64{-1.5, 0, 1.5}

// logAt is ln(others/nominal) at z standard deviations, or that of the long
// stitches, straight between nodes and beyond them.
func logAt(log *[len(nodes)]float64, z float64) float64 {
	if z < 0 {
		return log[0] * z / nodes[0]
	}
	return log[2] * z / nodes[2]
}

// ModelError is the relative standard deviation of a run's time that the
// model itself leaves open (speeds set in steps, filtering, short look-ahead:
// MODEL section 7) on a machine that was never timed. Assumed; a fit puts the
// machine's own in its place.
const ModelError = 0.02

// Respond measures a design's response on a machine. It clocks the design, or a
// sample of a long one, up to twice for every constant that moves the machine and has a spread.
func Respond(d *stitch.Design, s *machine.Sheet, job Job) *Response {
	return respond(d, s, job, Run(d, s, job))
}

func respond(d *stitch.Design, s *machine.Sheet, job Job, base *Result) *Response {
	few, more, of := sample(d, job)
	return respondBy(d, s, job, base, few, more, of)
}

// respondBy takes the constants' responses from a part of the design, and gathers another.
func respondBy(d *stitch.Design, s *machine.Sheet, job Job, base *Result, part, gathered *stitch.Design, partJob Job) *Response {
	r := &Response{Nominal: base.Seconds, sheet: *s.Clone(), job: job}
	r.others = others(&base.Parts)
	r.fixed = base.Seconds - base.Parts.Sewing() - base.Parts.Travel
	// Each constant's response is a ratio of times, and so is that of the caps: a sample's will do.
	of := base.Parts
	if part != d {
		of = Run(part, s, partJob).Parts
	}
	switch {
	case s.Fit != nil:
		r.spread = math.Hypot(s.Fit.Residual, s.Fit.Changes*scatter(base))
	case len(s.SD) > 0:
		r.spread = ModelError
	}
	r.lengths = gather(gathered, s, partJob, base)
	if s.Fit != nil && base.Seconds > 0 {
		upTo := 0.0
		for i := range s.Fit.Also {
			a := &s.Fit.Also[i]
			upTo += a.Weight
			r.also = append(r.also, kind{upTo, Run(d, s.As(a), job).Seconds / base.Seconds})
		}
	}
	for at, c := range machine.AllConstants {
		sd, v := s.Spread(c), c.Get(s)
		if sd <= 0 || v == 0 || !job.asks(&c) || idle(c.Path, s, base) {
			continue
		}
		t := term{at: at, sd: logSD(sd)}
		if strings.HasPrefix(c.Path, "rest.") {
			t.isRest = true
			t.rest = restSeconds(c.Path, s, base)
			r.fixed -= t.rest
		} else {
			rung := strings.HasPrefix(c.Path, "ladder.")
			t.caps = rung || strings.HasPrefix(c.Path, "frame.") || c.Path == "max_speed" || c.Path == "turns.speed" ||
				c.Path == "speed.true" || c.Path == "speed.top" || strings.HasPrefix(c.Path, "correction.") || c.Job != 0
			for i, z := range nodes {
				if z == 0 || rung { // many, and each moves the ramps little
					continue
				}
				m := *s // nodes are copied where they are set
				c.Set(&m, v*math.Exp(z*t.sd))
				if strings.HasPrefix(c.Path, "slow.") { // of the design's beginning, not of all of it
					p := Run(d, &m, job).Parts
					t.log[i] = math.Log(others(&p) / max(others(&base.Parts), 1e-9))
					continue
				}
				p := Run(part, &m, partJob).Parts
				if others(&of) > 0 {
					t.log[i] = math.Log(others(&p) / others(&of))
				}
				if !t.caps && strings.HasPrefix(c.Path, "turns.") && of.LongStitches > 0 {
					t.long[i] = math.Log(max(p.LongStitches/of.LongStitches, 0.01))
				}
			}
		}
		r.terms = append(r.terms, t)
	}
	return r
}

// scatter is how far a run's time goes when each of its colour changes and stops takes
// another time than its own by a relative standard deviation of 1: relative.
func scatter(r *Result) float64 {
	v := 0.0
	for _, b := range r.Blocks {
		if b.ColourStops > 0 {
			v += b.Parts.ColourStops * b.Parts.ColourStops
		}
		if b.Stops > 0 {
			v += b.Parts.Stops * b.Parts.Stops / float64(b.Stops)
		}
	}
	if r.Seconds <= 0 {
		return 0
	}
	return math.Sqrt(v) / r.Seconds
}

// others is the time whose response is measured, in seconds.
func others(p *Parts) float64 { return p.Ramps + p.Control + p.Travel }

// logSD is the standard deviation of the logarithm for a relative standard
// deviation of the value, as the log-normal has it.
func logSD(relative float64) float64 { return math.Sqrt(math.Log1p(relative * relative)) }

// idle reports whether a constant cannot change this run, to save two runs.
func idle(path string, s *machine.Sheet, base *Result) bool {
	switch path {
	case "travel.shaft_speed":
		return s.Travel.Mode != machine.ShaftTravel
	case "travel.accel", "travel.speed":
		return s.Travel.Mode == machine.ShaftTravel && !s.Travel.ReturnToStart || base.Parts.Travel == 0
	case "shaft.soft_start_speed":
		return s.Shaft.SoftStartStitches == 0
	case "shaft.creep_speed":
		return base.Revolutions == 0
	case "slow.seconds", "slow.stitches", "slow.speed":
		return s.Slow.Speed <= 0 || s.Slow.Speed >= 1
	case "turns.angle", "turns.to", "turns.length", "turns.speed":
		return s.Turns.Speed <= 0 || s.Turns.Speed >= 1
	case "heads", "needles", "reading.trim_after_jumps", "shaft.soft_start_stitches", "shaft.step_free_set",
		"ladder.by_axis":
		return true
	}
	return false
}

// restSeconds is a rest constant's share of the run, which is linear in it.
func restSeconds(path string, s *machine.Sheet, base *Result) float64 {
	switch path {
	case "rest.start":
		return s.Rest.Start
	case "rest.end":
		return s.Rest.End
	case "rest.trim":
		return base.Parts.Trims
	case "rest.stop":
		return base.Parts.Stops
	case "rest.colour_stop":
		return float64(base.ColourStops) * s.Rest.ColourStop
	default: // rest.per_needle
		return base.Parts.ColourStops - float64(base.ColourStops)*s.Rest.ColourStop
	}
}

// Seconds is the run time where constant k of machine.AllConstants lies z[k]
// standard deviations (of its logarithm) from the sheet's value. Two more
// elements of z are the model's own error and which kind of machine it is (by
// its normal quantile); a short z leaves the rest at 0.
// It never undercuts the stitches at the set speed.
func (r *Response) Seconds(z []float64) float64 { return r.seconds(z, new(machine.Sheet)) }

// seconds is Seconds; drawn is for its use.
func (r *Response) seconds(z []float64, drawn *machine.Sheet) float64 {
	sum, log, longLog := r.fixed, 0.0, 0.0
	*drawn = r.sheet // only its numbers are changed
	for i := range r.terms {
		t := &r.terms[i]
		x := 0.0
		if t.at < len(z) {
			x = z[t.at]
		}
		if t.isRest {
			sum += t.rest * math.Exp(x*t.sd)
			continue
		}
		log += logAt(&t.log, x)
		longLog += logAt(&t.long, x)
		if t.caps {
			c := &machine.AllConstants[t.at]
			c.Set(drawn, c.Get(&r.sheet)*math.Exp(x*t.sd))
		}
	}
	long, least := r.lengths.seconds(newCore(drawn, r.job))
	sum += least + long*math.Exp(longLog) + r.others*math.Exp(log)
	if k := len(machine.AllConstants); k < len(z) {
		sum *= math.Exp(logSD(r.spread) * z[k])
	}
	if k := len(machine.AllConstants) + 1; len(r.also) > 0 && k < len(z) {
		p := math.Erfc(-z[k]/math.Sqrt2) / 2
		for _, a := range r.also {
			if p < a.upTo {
				sum *= a.ratio
				break
			}
		}
	}
	return math.Max(sum, least)
}

// Draw draws one machine from a sheet's spreads, for Response.Seconds: a
// standard normal for each of machine.AllConstants, correlated as the sheet's
// fit says, one for the fit's residual, and one for the kind of machine.
type Draw func(rng *rand.Rand) []float64

// NewDraw makes a sheet's spreads ready for drawing machines for jobs of these
// kinds. A correlation matrix that is not positive definite (rounded in the file)
// is drawn towards the identity until it is.
func NewDraw(s *machine.Sheet, kinds machine.Jobs) Draw {
	d := newDrawing(s, kinds)
	return func(rng *rand.Rand) []float64 {
		z := d.normals()
		d.independent(rng, z)
		d.correlate(z)
		return z
	}
}

// drawing is a sheet's spreads made ready for drawing.
type drawing struct {
	absent  []bool // of machine.AllConstants: what the machine does not have costs no draw
	several bool   // kinds of machine
	lower   *mat.TriDense
	at      []int // rows of lower in machine.AllConstants
}

func newDrawing(s *machine.Sheet, kinds machine.Jobs) *drawing {
	d := &drawing{absent: make([]bool, len(machine.AllConstants)), several: s.Fit != nil && len(s.Fit.Also) > 0}
	d.lower, d.at = correlation(s)
	for k, c := range machine.AllConstants {
		d.absent[k] = c.Absent(s) && c.Job&kinds == 0
	}
	return d
}

// normals is room for one draw.
func (d *drawing) normals() []float64 { return make([]float64, len(d.absent)+2) }

// independent draws standard normals without the fit's correlations into normals.
func (d *drawing) independent(rng *rand.Rand, z []float64) {
	n := len(d.absent)
	for k := range n {
		if !d.absent[k] {
			z[k] = rng.NormFloat64()
		}
	}
	z[n] = rng.NormFloat64()
	if d.several {
		z[n+1] = rng.NormFloat64()
	}
}

// correlate makes independent normals correlated as the fit says.
func (d *drawing) correlate(z []float64) {
	if d.lower == nil {
		return
	}
	e := make([]float64, len(d.at))
	for i, k := range d.at {
		e[i] = z[k]
	}
	for i, k := range d.at {
		z[k] = 0
		for j := 0; j <= i; j++ {
			z[k] += d.lower.At(i, j) * e[j]
		}
	}
}

// along is the direction in independent normals in which a gradient over correlated ones is
// steepest, of length 1; nil where nothing has a slope.
func (d *drawing) along(gradient []float64) []float64 {
	u := slices.Clone(gradient)
	for j, k := range d.at {
		u[k] = 0
		for i := j; i < len(d.at); i++ {
			u[k] += d.lower.At(i, j) * gradient[d.at[i]]
		}
	}
	length := floats.Norm(u, 2)
	if length == 0 {
		return nil
	}
	floats.Scale(1/length, u)
	return u
}

// correlation is the Cholesky factor of the correlations that the sheet knows and where its
// rows stand in machine.AllConstants; nil where there are none.
func correlation(s *machine.Sheet) (*mat.TriDense, []int) {
	paths, between := s.Correlated()
	if len(paths) == 0 {
		return nil, nil
	}
	at := make([]int, 0, len(paths))
	for _, path := range paths {
		k := slices.IndexFunc(machine.AllConstants, func(c machine.Constant) bool { return c.Path == path })
		if k < 0 {
			return nil, nil
		}
		at = append(at, k)
	}
	n := len(at)
	for shrink := 1.0; shrink > 0; shrink -= 1.0 / 64 {
		c := mat.NewSymDense(n, nil)
		for i := range n {
			c.SetSym(i, i, 1)
			for j := range i {
				c.SetSym(i, j, shrink*between[i][j])
			}
		}
		var ch mat.Cholesky
		if ch.Factorize(c) {
			var l mat.TriDense
			ch.LTo(&l)
			return &l, at
		}
	}
	return nil, nil
}
