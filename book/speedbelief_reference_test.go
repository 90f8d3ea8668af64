// Checked against: the conditional test of two Poisson counts (J. Przyborowski, H. Wilenski, Biometrika 31 (1940) 313–323); a
// Poisson regression worked out in a textbook (A. J. Dobson, A. G. Barnett, An Introduction to Generalized Linear Models, table
// 4.3, with the logarithmic link: slope 0.6698, standard error 0.1787, from memory of what common statistics programs print,
// and solved here again by Newton's method); and a sum over both unknowns that knows nothing of the closed form.
package book

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

// flat is a belief with priors that say nothing.
func flat(counts []SpeedCount) *SpeedBelief { return believeSpeed(counts, 1, 1, 1e-9, 1e3) }

// Of two speeds the breaks at the second, given all, are binomial with odds of the
// exposures times the ratio of the rates.
func TestTwoSpeedsAreABinomial(t *testing.T) {
	const n1, n2, e1, e2 = 7, 19, 200_000., 150_000.
	b := flat([]SpeedCount{{"d", 600, n1, e1}, {"d", 900, n2, e2}})
	want := make([]float64, len(slopes))
	for i, beta := range slopes {
		odds := e2 / e1 * math.Exp(beta*math.Log(1.5))
		want[i] = distuv.Binomial{N: n1 + n2, P: odds / (1 + odds)}.Prob(n2)
	}
	floats.Scale(1/floats.Sum(want), want)
	for i := range want {
		if math.Abs(want[i]-b.chance[i]) > 1e-4 { // of the priors that are nearly flat
			t.Fatalf("slope %v has a chance of %v, the binomial says %v", slopes[i], b.chance[i], want[i])
		}
	}
}

func TestTheSlopeIsThatOfAPoissonRegression(t *testing.T) {
	x := []float64{-1, -1, 0, 0, 0, 0, 1, 1, 1}
	y := []float64{2, 3, 6, 7, 8, 9, 10, 12, 15}
	var counts []SpeedCount
	for i := range x {
		counts = append(counts, SpeedCount{"d", 500 * math.Exp(x[i]), int(y[i]), 1000})
	}
	b := flat(counts)
	a, s, se := 0., 0., 0.
	for range 50 {
		var g0, g1, h00, h01, h11 float64
		for i := range x {
			m := math.Exp(a + s*x[i])
			g0, g1 = g0+y[i]-m, g1+(y[i]-m)*x[i]
			h00, h01, h11 = h00+m, h01+m*x[i], h11+m*x[i]*x[i]
		}
		det := h00*h11 - h01*h01
		a, s, se = a+(h11*g0-h01*g1)/det, s+(h00*g1-h01*g0)/det, math.Sqrt(h00/det)
	}
	sd := 0.
	for i, p := range b.chance {
		sd += p * (slopes[i] - b.Slope) * (slopes[i] - b.Slope)
	}
	sd = math.Sqrt(sd)
	if math.Abs(s-.6698) > 5e-4 || math.Abs(se-.1787) > 5e-4 {
		t.Errorf("Newton's method finds %.4f ± %.4f, the book has 0.6698 ± 0.1787", s, se)
	}
	// The mean of a belief lies beside its highest point by what it leans to one side.
	if math.Abs(b.Slope-s) > .03 || math.Abs(sd/se-1) > .04 {
		t.Errorf("slope %.4f ± %.4f, the regression says %.4f ± %.4f", b.Slope, sd, s, se)
	}
	if math.Abs((b.High-b.Low)/2/1.645/sd-1) > .03 {
		t.Errorf("90 %% between %.3f and %.3f, standard deviation %.3f", b.Low, b.High, sd)
	}
}

// With each design's rate summed up on a grid of its own in place of the closed form.
func TestTheClosedFormIsTheSumOverEachDesignsRate(t *testing.T) {
	counts := []SpeedCount{{"a", 600, 1, 150_000}, {"a", 850, 4, 120_000}, {"b", 700, 0, 90_000}, {"b", 900, 2, 200_000}, {"c", 800, 3, 60_000}}
	const mean, shape, sd = .012, 2., 1.
	b := believeSpeed(counts, .01, mean, shape, sd)
	want := make([]float64, len(slopes))
	for i, beta := range slopes {
		want[i] = math.Exp(-beta * beta / (2 * sd * sd))
		for _, d := range []string{"a", "b", "c"} {
			sum := 0.
			const step = .00005
			for rate := step / 2; rate < .25; rate += step {
				p := distuv.Gamma{Alpha: shape, Beta: shape / mean}.Prob(rate)
				for _, c := range counts {
					if c.Design == d {
						x := math.Log(c.Speed) - b.usual
						p *= distuv.Poisson{Lambda: rate * c.Sewn / 1000 * math.Exp(beta*x)}.Prob(float64(c.Breaks))
					}
				}
				sum += p * step
			}
			want[i] *= sum
		}
	}
	floats.Scale(1/floats.Sum(want), want)
	for i := range want {
		if math.Abs(want[i]-b.chance[i]) > 2e-5 {
			t.Fatalf("slope %v has a chance of %.6f, summed up %.6f", slopes[i], b.chance[i], want[i])
		}
	}
}

// drawn is a machine that was counted at: designs with rates of their own, each sewn at
// two or three speeds.
func drawn(g *rand.Rand, mean, beta, each float64, designs int) []SpeedCount {
	src := rand.NewPCG(g.Uint64(), g.Uint64())
	var out []SpeedCount
	for d := range designs {
		rate := distuv.Gamma{Alpha: designShape, Beta: designShape / mean, Src: src}.Rand()
		for range 2 + g.IntN(2) {
			v := 500 + 500*g.Float64()
			n := distuv.Poisson{Lambda: rate * each / 1000 * math.Pow(v/700, beta), Src: src}.Rand()
			out = append(out, SpeedCount{string(rune('a' + d)), v, int(n), each})
		}
	}
	return out
}

// Slopes that are drawn lie inside the interval as often as is said, and where speed
// does nothing, nothing is found but by chance.
func TestSlopesThatAreDrawnAreRecovered(t *testing.T) {
	g := rand.New(rand.NewPCG(14, 4))
	const machines, mean = 1000, .01
	for _, c := range []struct {
		name    string
		each    float64 // head-stitches a count
		designs int
		slope   func() float64
		known   [2]float64 // shares for which growth is known
	}{
		{"as the prior has them, little evidence", 60_000, 4, g.NormFloat64, [2]float64{0, .2}},
		{"as the prior has them, much evidence", 3_000_000, 8, g.NormFloat64, [2]float64{.3, .5}},
		{"none, little evidence", 60_000, 4, func() float64 { return 0 }, [2]float64{0, .05}},
		{"none, much evidence", 3_000_000, 8, func() float64 { return 0 }, [2]float64{0, .06}},
		{"square, much evidence", 3_000_000, 8, func() float64 { return 2 }, [2]float64{.98, 1}},
	} {
		inside, known := 0., 0.
		for range machines {
			beta := c.slope()
			counts := drawn(g, mean, beta, c.each, c.designs)
			b := (&Rates{BySpeed: counts, Breaks: mean}).SpeedEffect(mean)
			if b.Low < beta && beta < b.High {
				inside++
			}
			if b.Known() {
				known++
			}
		}
		inside, known = inside/machines, known/machines
		t.Logf("%s: %.3f inside, %.3f known to grow", c.name, inside, known)
		if known < c.known[0] || known > c.known[1] {
			t.Errorf("%s: known to grow for %.3f", c.name, known)
		}
		if inside < .87 || c.name[0] == 'a' && inside > .93 {
			t.Errorf("%s: %.3f of the slopes inside the 90 %% interval", c.name, inside)
		}
	}
}

// Set speeds that differ as recordings have them are one, and tell nothing.
func TestOneSpeedTellsNothing(t *testing.T) {
	b := flat([]SpeedCount{{"d", 799.9, 0, 900_000}, {"d", 801, 90, 900_000}})
	if b.Known() || !b.One() {
		t.Errorf("known %v of one speed: %+v", b.Known(), b)
	}
}

// Two breaks at the faster of two speeds say next to nothing: the likeliest slope is beyond
// any bound, and what is believed stays at no effect.
func TestLittleEvidenceIsNoEffect(t *testing.T) {
	b := (&Rates{BySpeed: []SpeedCount{{"d", 600, 0, 60_000}, {"d", 900, 2, 60_000}}, Breaks: .01}).SpeedEffect(.01)
	if b.Known() || !(b.Slope > 0 && b.Slope < .7) || b.Low > -1 {
		t.Errorf("of two breaks: slope %.2f, 90 %% from %.2f, grows %.2f", b.Slope, b.Low, b.Grows)
	}
}
