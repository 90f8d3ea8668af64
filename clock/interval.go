package clock

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"

	"needlepace/machine"
	"needlepace/stitch"
)

// DefaultLevel is the chance an interval is made to hold: 90 %.
const DefaultLevel = 0.90

// draws is how many machines are drawn for an interval, one in each of as many
// equally likely slices along the direction in which the run time changes most (stratified
// sampling: W. G. Cochran, Sampling Techniques, Wiley 1977, chapter 5). The ends then move by
// 2 % (the higher) and 1 % (the lower) of the interval's width from one seed to another; the seed is
// fixed so that the same question has one answer.
const draws = 1000

// Interval is a range that holds the run time with chance Level, as far as
// the sheet's spreads are right.
type Interval struct {
	Low   float64 `json:"low"`   // s
	High  float64 `json:"high"`  // s
	Level float64 `json:"level"` // 0…1
}

// Share is what one constant contributes to the uncertainty of a run.
type Share struct {
	Path    string  // of machine.AllConstants; "" is the model's own error
	Share   float64 // of the variance; shares add up to 1
	Seconds float64 // what one standard deviation of it does to the run time
}

// Uncertainty is how sure a run time is and what that hangs on.
type Uncertainty struct {
	Interval
	Median float64 // s
	Shares []Share // largest first
}

// How gives the result of a run with its interval at a level in (0, 1).
func How(d *stitch.Design, s *machine.Sheet, job Job, level float64) (*Result, *Uncertainty) {
	r := Run(d, s, job)
	return r, respond(d, s, job, r).Uncertainty(s, level)
}

// Uncertainty draws machines from the sheet's spreads (log-normal, correlated
// as its fit says) and gives the central interval of the run times. Where a ladder of speeds was learned the middle of the
// draws is put where the fit is: of many rungs the rows tell only that they are no slower than the set speed, a spread draws half
// of them slower, and all the times would come out longer than what was timed.
func (r *Response) Uncertainty(s *machine.Sheet, level float64) *Uncertainty {
	gradient := r.gradient()
	u := &Uncertainty{Interval: Interval{r.Nominal, r.Nominal, level}, Median: r.Nominal, Shares: r.shares(s, gradient)}
	if len(u.Shares) == 0 {
		return u
	}
	draw := newDrawing(s, r.job.Kinds)
	along := draw.along(gradient)
	rng := rand.New(rand.NewPCG(1, 2))
	t, z, drawn := make([]float64, draws), draw.normals(), new(machine.Sheet)
	for i := range t {
		draw.independent(rng, z)
		if along != nil {
			slice := math.Sqrt2 * math.Erfinv(2*(float64(i)+rng.Float64())/draws-1)
			floats.AddScaled(z[:len(along)], slice-floats.Dot(z[:len(along)], along), along)
		}
		draw.correlate(z)
		t[i] = r.seconds(z, drawn)
	}
	slices.Sort(t)
	if s.Fit != nil && len(s.Ladder.Length) > 0 {
		floats.Scale(r.Nominal/Quantile(t, 0.5), t)
	}
	u.Low, u.Median, u.High = Quantile(t, (1-level)/2), Quantile(t, 0.5), Quantile(t, (1+level)/2)
	return u
}

// Quantile is the p-quantile of sorted values by linear interpolation between
// order statistics (Hyndman and Fan 1996, definition 7). NaN for none.
func Quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return math.NaN()
	}
	x := p * float64(len(sorted)-1)
	i := int(math.Floor(x))
	if i >= len(sorted)-1 {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}

// kinds is the relative standard deviation of the run time over the kinds of
// machine that the fit believes in.
func (r *Response) kinds() float64 {
	mean, square, before := 1.0, 1.0, 0.0
	for _, a := range r.also {
		w := a.upTo - before
		before = a.upTo
		mean += w * (a.ratio - 1)
		square += w * (a.ratio*a.ratio - 1)
	}
	return math.Sqrt(max(square-mean*mean, 0))
}

// gradient is what one standard deviation of each of machine.AllConstants, and of the model's own error, does
// to the run time, in seconds.
func (r *Response) gradient() []float64 {
	n := len(machine.AllConstants)
	grad, z, drawn := make([]float64, n+1), make([]float64, n), new(machine.Sheet)
	for _, t := range r.terms {
		if t.isRest {
			grad[t.at] = t.rest * t.sd
			continue
		}
		// Half the way between the ends of ±1: what a kink does to one side
		// counts half.
		z[t.at] = 1
		up := r.seconds(z, drawn)
		z[t.at] = -1
		grad[t.at] = (up - r.seconds(z, drawn)) / 2
		z[t.at] = 0
	}
	grad[n] = r.Nominal * logSD(r.spread)
	return grad
}

// shares splits the variance to first order. With correlations a constant is
// charged with its own term and half of each it shares; the kinds of machine are charged to
// the model's own error.
func (r *Response) shares(s *machine.Sheet, gradient []float64) []Share {
	n := len(machine.AllConstants)
	grad := slices.Clone(gradient) // s per standard deviation
	grad[n] = math.Hypot(grad[n], r.Nominal*r.kinds())
	charged := make([]float64, n+1)
	for k, g := range grad {
		charged[k] = g * g
	}
	if lower, at := correlation(s); lower != nil {
		for i, k := range at {
			for j, l := range at {
				if i == j {
					continue
				}
				rho := 0.0
				for m := 0; m <= min(i, j); m++ {
					rho += lower.At(i, m) * lower.At(j, m)
				}
				charged[k] += grad[k] * rho * grad[l]
			}
		}
	}
	var total float64
	for _, c := range charged {
		total += c
	}
	if total <= 0 {
		return nil
	}
	var out []Share
	for k, c := range charged {
		if c == 0 {
			continue
		}
		path := ""
		if k < n {
			path = machine.AllConstants[k].Path
		}
		out = append(out, Share{path, c / total, grad[k]})
	}
	slices.SortStableFunc(out, func(a, b Share) int {
		switch {
		case a.Share > b.Share:
			return -1
		case a.Share < b.Share:
			return 1
		}
		return 0
	})
	return out
}
