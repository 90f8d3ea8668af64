package book

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

// SpeedCount is thread breaks that were counted at one set speed.
type SpeedCount struct {
	Design string  // whose it is: its ID
	Speed  float64 // set, stitches/min
	Breaks int
	Sewn   float64 // head-stitches
}

// SpeedBelief is what counted breaks tell of how they grow with the set speed: the rate
// goes as speed^β. It is a log-linear model of Poisson counts over an exposure (P.
// McCullagh, J. A. Nelder, Generalized Linear Models, 2nd edition (1989), chapter 6),
// with these priors: β is normal about 0, no effect, so that little evidence says
// little; and each design has a rate of its own, gamma distributed about the machine's,
// so that a design that breaks much and is sewn slowly does not pass for an effect of
// speed. A design's rate is integrated out in closed form (the conjugate prior of
// Gelman and others, as in Gamma; J. Hausman, B. H. Hall, Z. Griliches, Econometrica 52
// (1984) 909–938, section 3, for counts of like things seen several times):
//
//	p(β | counts) ∝ exp(−β²/2σ²) · Π over designs of exp(β Σ n·x) / (k/μ + Σ e·exp(β·x))^(k + Σ n)
//
// n breaks over e thousand head-stitches at x = ln(speed ÷ their mean speed), μ the
// machine's rate, k the shape. β has one dimension: it is summed up on a grid.
type SpeedBelief struct {
	Slope     float64 // β, its mean: the rate doubles with doubled speed where it is 1
	Low, High float64 // of β, 9 times in 10
	Grows     float64 // chance that β is above 0
	From, To  float64 // the slowest and fastest set speeds that were counted at, stitches/min
	Breaks    int
	Sewn      float64 // head-stitches

	counts []SpeedCount
	usual  float64   // mean log speed, by stitches
	chance []float64 // of each of slopes
	rates  []Gamma   // of each of slopes: the rate at the usual speed
}

// Of the priors; assumed. With slopeSD doubled speed has between a quarter and four
// times the breaks in 19 machines of 20. The rates of designs differ by a factor of
// about 2 either way with designShape.
const (
	slopeSD     = 1.0
	designShape = 2.0
)

// SureOfSpeed is the chance from which on it is said that breaks grow with speed.
const SureOfSpeed = 0.95

// oneSpeed is by how many stitches/min set speeds may differ and be one: as recordings
// have them, and as some machines' keys step.
const oneSpeed = 20

// One reports whether all was counted at one set speed.
func (b *SpeedBelief) One() bool { return b.To-b.From < oneSpeed }

// Known reports whether breaks are known to grow with the speed. They are not where
// all was counted at one.
func (b *SpeedBelief) Known() bool { return b.Grows >= SureOfSpeed && !b.One() }

// slopes are the grid of β.
var slopes = floats.Span(make([]float64, 321), -8, 8)

// SpeedEffect is what a machine's counts tell of the set speed; nil where there are none.
// prior is the rate expected without them.
func (r *Rates) SpeedEffect(prior float64) *SpeedBelief {
	if len(r.BySpeed) == 0 || prior <= 0 {
		return nil
	}
	return believeSpeed(r.BySpeed, prior, r.Breaks, designShape, slopeSD)
}

// believeSpeed is SpeedEffect with the rate that designs have in the mean, the shape of
// how they differ and the slope's prior spread.
func believeSpeed(counts []SpeedCount, prior, mean, shape, sd float64) *SpeedBelief {
	b := &SpeedBelief{counts: counts, From: math.Inf(1), chance: make([]float64, len(slopes)), rates: make([]Gamma, len(slopes))}
	for _, c := range counts {
		b.From, b.To = min(b.From, c.Speed), max(b.To, c.Speed)
		b.Breaks += c.Breaks
		b.Sewn += c.Sewn
		b.usual += c.Sewn * math.Log(c.Speed)
	}
	b.usual /= b.Sewn
	designs := map[string][]SpeedCount{}
	var names []string
	for _, c := range counts {
		if designs[c.Design] == nil {
			names = append(names, c.Design)
		}
		designs[c.Design] = append(designs[c.Design], c)
	}
	slices.Sort(names) // sums in one order: the same to the last digit
	for i, beta := range slopes {
		log := -beta * beta / (2 * sd * sd)
		all := 0.0
		for _, d := range names {
			n, over, nx := 0, 0.0, 0.0
			for _, c := range designs[d] {
				x := math.Log(c.Speed) - b.usual
				n += c.Breaks
				nx += float64(c.Breaks) * x
				over += c.Sewn / 1000 * math.Exp(beta*x)
			}
			log += beta*nx - (shape+float64(n))*math.Log(shape/mean+over)
			all += over
		}
		b.chance[i] = log
		b.rates[i] = breaksBefore(prior).Seen(b.Breaks, all)
	}
	most := floats.Max(b.chance)
	for i := range b.chance {
		b.chance[i] = math.Exp(b.chance[i] - most)
	}
	floats.Scale(1/floats.Sum(b.chance), b.chance)
	sum := 0.0
	b.Low, b.High = math.NaN(), slopes[len(slopes)-1]
	for i, beta := range slopes {
		b.Slope += b.chance[i] * beta
		switch {
		case beta > 1e-9:
			b.Grows += b.chance[i]
		case beta > -1e-9:
			b.Grows += b.chance[i] / 2
		}
		// The ends lie between two points of the grid.
		const tail = 0.05
		at := func(p float64) float64 {
			return beta + (slopes[1]-slopes[0])*((p-sum)/b.chance[i]-0.5)
		}
		if math.IsNaN(b.Low) && sum+b.chance[i] >= tail {
			b.Low = at(tail)
		}
		if sum < 1-tail && sum+b.chance[i] >= 1-tail {
			b.High = at(1 - tail)
		}
		sum += b.chance[i]
	}
	return b
}

// EachSlope tells each slope that may be, its chance, and the rate of thread breaks a
// head and 1,000 stitches that a set speed (stitches/min) has with it, for designs as
// they were counted.
func (b *SpeedBelief) EachSlope(speed float64, tell func(chance, rate float64)) {
	x := math.Log(speed) - b.usual
	for i, beta := range slopes {
		tell(b.chance[i], b.rates[i].Mean()*math.Exp(beta*x))
	}
}

// At is the rate of thread breaks a head and 1,000 stitches that is believed of a set
// speed, and the interval that holds it with a chance of level.
func (b *SpeedBelief) At(speed, level float64) (rate, low, high float64) {
	x := math.Log(speed) - b.usual
	b.EachSlope(speed, func(p, r float64) { rate += p * r })
	below := func(r float64) float64 {
		sum := 0.0
		for i, g := range b.rates {
			if b.chance[i] > 1e-9 {
				sum += b.chance[i] * distuv.Gamma{Alpha: g.Shape, Beta: g.Rate}.CDF(r*math.Exp(-slopes[i]*x))
			}
		}
		return sum
	}
	// By the Illinois rule (Dowell and Jarratt 1971): a few looks, where halving takes fifty.
	end := func(p float64) float64 {
		lo, hi := 0.0, rate
		short, over := -p, below(hi)-p
		for over < 0 {
			lo, short = hi, over
			hi *= 2
			over = below(hi) - p
		}
		side := 0.0
		for range 100 { // about a dozen are enough
			at := hi - over*(hi-lo)/(over-short)
			f := below(at) - p
			again := side*f > 0 // twice on one side: the other end counts half
			switch side = f; {
			case math.Abs(f) < 1e-12 || at <= lo || at >= hi:
				return at
			case f < 0:
				if lo, short = at, f; again {
					over /= 2
				}
			default:
				if hi, over = at, f; again {
					short /= 2
				}
			}
		}
		return hi
	}
	return rate, end((1 - level) / 2), end((1 + level) / 2)
}

// speedBin is the width of the steps of set speed that counts are told by, stitches/min.
const speedBin = 50

// Counted are the counts summed up by set speed to the next 50 stitches/min, slowest first.
func (b *SpeedBelief) Counted() []SpeedCount {
	by := map[float64]*SpeedCount{}
	for _, c := range b.counts {
		at := max(math.Round(c.Speed/speedBin), 1) * speedBin
		if by[at] == nil {
			by[at] = &SpeedCount{Speed: at}
		}
		by[at].Breaks += c.Breaks
		by[at].Sewn += c.Sewn
	}
	var out []SpeedCount
	for _, c := range by {
		out = append(out, *c)
	}
	slices.SortFunc(out, func(a, b SpeedCount) int { return int(a.Speed - b.Speed) })
	return out
}
