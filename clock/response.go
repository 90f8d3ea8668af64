package clock

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
	"needlepace/stitch"
)

// Response is a design's run time as a function of how far the machine's
// constants lie from the sheet's values. The rests are exact (each is a count
// times a constant). For each other constant the logarithm of the moving time
// is known at a few standard deviations to either side and taken as straight
// between: a cap that starts to bind makes a kink, which no smooth curve
// through three points would follow. Constants act one by one. It makes
// thousands of draws cost no more than some dozen runs.
type Response struct {
	Nominal float64 // s, at the sheet's values
	moving  float64 // s, of Nominal: sewing and travel
	fixed   float64 // s, rests without a spread
	terms   []term
	spread  float64 // relative, the fit's residual
}

// term is one constant with a spread.
type term struct {
	at     int     // index in machine.Constants
	sd     float64 // of the logarithm
	isRest bool
	rest   float64             // s at the sheet's value, for a rest
	log    [len(nodes)]float64 // ln of moving over its nominal, at each node
}

// nodes are where the response is measured, in standard deviations.
var nodes = [...]float64{-2, -0.8, 0, 0.8, 2}

// flat is the effect on ln(moving) below which two nodes are enough.
const flat = 1e-4

// logAt is ln(moving/nominal) at z standard deviations, straight between nodes
// and beyond them.
func (t *term) logAt(z float64) float64 {
	i := 1
	for i < len(nodes)-1 && z > nodes[i] {
		i++
	}
	f := (z - nodes[i-1]) / (nodes[i] - nodes[i-1])
	return t.log[i-1] + f*(t.log[i]-t.log[i-1])
}

// slope is the mean derivative of ln(moving) about the sheet's value, per
// standard deviation.
func (t *term) slope() float64 {
	return (t.log[3] - t.log[1]) / (nodes[3] - nodes[1])
}

// ModelError is the relative standard deviation of a run's time that the
// model itself leaves open (speeds set in steps, filtering, short look-ahead:
// MODEL section 7) on a machine that was never timed. Assumed; a fit puts the
// machine's own in its place.
const ModelError = 0.02

// Respond measures a design's response on a machine. It clocks the design up
// to four times for every constant that moves the machine and has a spread.
func Respond(d *stitch.Design, s *machine.Sheet, job Job) *Response {
	return respond(d, s, job, Run(d, s, job))
}

func respond(d *stitch.Design, s *machine.Sheet, job Job, base *Result) *Response {
	r := &Response{Nominal: base.Seconds, moving: base.Parts.Sewing() + base.Parts.Travel}
	r.fixed = base.Seconds - r.moving
	switch {
	case s.Fit != nil:
		r.spread = s.Fit.Residual
	case len(s.SD) > 0:
		r.spread = ModelError
	}
	for at, c := range machine.Constants {
		sd, v := s.SD[c.Path], c.Get(s)
		if sd <= 0 || v == 0 || idle(c.Path, s, base) {
			continue
		}
		t := term{at: at, sd: logSD(sd)}
		if strings.HasPrefix(c.Path, "rest.") {
			t.isRest = true
			t.rest = restSeconds(c.Path, s, base)
			r.fixed -= t.rest
		} else {
			try := func(z float64) float64 {
				m := s.Clone()
				c.Set(m, v*math.Exp(z*t.sd))
				p := Run(d, m, job).Parts
				return math.Log((p.Sewing() + p.Travel) / r.moving)
			}
			if r.moving > 0 {
				t.log[1], t.log[3] = try(nodes[1]), try(nodes[3])
				if math.Abs(t.log[1]) < flat && math.Abs(t.log[3]) < flat {
					t.log[0], t.log[4] = t.log[1]*nodes[0]/nodes[1], t.log[3]*nodes[4]/nodes[3]
				} else {
					t.log[0], t.log[4] = try(nodes[0]), try(nodes[4])
				}
			}
		}
		r.terms = append(r.terms, t)
	}
	return r
}

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
	case "heads", "needles", "reading.trim_after_jumps", "shaft.soft_start_stitches":
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

// Seconds is the run time where constant k of machine.Constants lies z[k]
// standard deviations (of its logarithm) from the sheet's value. A last,
// extra element of z is the fit's residual; a short z leaves the rest at 0.
func (r *Response) Seconds(z []float64) float64 {
	at := func(k int) float64 {
		if k < len(z) {
			return z[k]
		}
		return 0
	}
	sum, log := r.fixed, 0.0
	for i := range r.terms {
		t := &r.terms[i]
		x := at(t.at)
		if t.isRest {
			sum += t.rest * math.Exp(x*t.sd)
		} else {
			log += t.logAt(x)
		}
	}
	sum += r.moving * math.Exp(log)
	if r.spread > 0 {
		sum *= math.Exp(logSD(r.spread) * at(len(machine.Constants)))
	}
	return sum
}

// Draw draws one machine from a sheet's spreads, for Response.Seconds: a
// standard normal for each of machine.Constants, correlated as the sheet's
// fit says, and one for the fit's residual.
type Draw func(rng *rand.Rand) []float64

// NewDraw makes a sheet's spreads ready for drawing. A correlation matrix
// that is not positive definite (rounded in the file) is drawn towards the
// identity until it is.
func NewDraw(s *machine.Sheet) Draw {
	n := len(machine.Constants)
	lower, at := correlation(s)
	return func(rng *rand.Rand) []float64 {
		z := make([]float64, n+1)
		for k := range z {
			z[k] = rng.NormFloat64()
		}
		if lower != nil {
			e := make([]float64, len(at))
			for i, k := range at {
				e[i] = z[k]
			}
			for i, k := range at {
				z[k] = 0
				for j := 0; j <= i; j++ {
					z[k] += lower.At(i, j) * e[j]
				}
			}
		}
		return z
	}
}

// correlation is the Cholesky factor of the fit's correlations and where its
// rows stand in machine.Constants; nil where there are none.
func correlation(s *machine.Sheet) (*mat.TriDense, []int) {
	if s.Fit == nil || len(s.Fit.Constants) == 0 || len(s.Fit.Correlation) != len(s.Fit.Constants) {
		return nil, nil
	}
	at := make([]int, 0, len(s.Fit.Constants))
	for _, path := range s.Fit.Constants {
		k := slices.IndexFunc(machine.Constants, func(c machine.Constant) bool { return c.Path == path })
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
				c.SetSym(i, j, shrink*s.Fit.Correlation[i][j])
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
