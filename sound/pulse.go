package sound

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// pulses is the onset curve in one number a millisecond: the weighed rises of
// the bands less what is usual around them, in units in which a clear stroke
// is about 1.
func (c *Curve) pulses(weight *[numBands]float64) []float32 {
	out := make([]float32, c.n)
	sum := make([]float64, c.n+1)
	for t := range out {
		s := 0.0
		for b := range c.bands {
			s += weight[b] * float64(c.bands[b][t])
		}
		out[t] = float32(s)
		sum[t+1] = sum[t] + s
	}
	const around = 60 // ms either side
	var peaks []float32
	for t := range out {
		lo, hi := max(0, t-around), min(c.n, t+around+1)
		v := float64(out[t]) - 1.2*(sum[hi]-sum[lo])/float64(hi-lo)
		out[t] = float32(max(v, 0))
	}
	for t := 40; t+40 < len(out); t += 40 {
		peaks = append(peaks, slices.Max(out[t:t+40]))
	}
	if len(peaks) == 0 {
		return out
	}
	slices.Sort(peaks)
	ref := peaks[len(peaks)*7/10]
	if top := peaks[len(peaks)*98/100]; ref < top/6 {
		ref = top / 6
	}
	if ref > 0 {
		for t := range out {
			out[t] = min(out[t]/ref, 2.5)
		}
	}
	return out
}

// evenBands weighs all bands alike.
var evenBands = [numBands]float64{1, 1, 1, 1, 1, 1, 1, 1}

// The grid of shaft speeds, even on a logarithmic scale.
const (
	gridFrom  = 1.4   // rev/s
	gridRatio = 1.015 // from one speed to the next
	gridSize  = 200   // up to 27 rev/s
)

func gridSpeed(k int) float64 { return gridFrom * math.Pow(gridRatio, float64(k)) }

// gridIndex is the speed's place on the grid, held to it.
func gridIndex(revPerS float64) int {
	return min(max(int(math.Round(math.Log(revPerS/gridFrom)/math.Log(gridRatio))), 0), gridSize-1)
}

// rhythm is the evidence of each speed at each frame: how much of the onset
// curve near it repeats with that period.
type rhythm struct {
	every float64 // s from one frame to the next
	n     int
	e     []float32 // n × gridSize
}

func (r *rhythm) at(frame int) []float32 { return r.e[frame*gridSize : (frame+1)*gridSize] }

// rhythmWindow is how much sound one frame of evidence hears, in ms.
const rhythmWindow = 900

// rhythmOf makes the evidence: the autocorrelation of the curve in a Hann window,
// summed over the multiples of the period that the window holds and lessened by
// what lies half way between them (a comb), over the window's energy.
func rhythmOf(o []float32, every float64) *rhythm {
	r := &rhythm{every: every, n: int(float64(len(o))*Step/every) + 1}
	r.e = make([]float32, r.n*gridSize)
	const size = 2048
	f := fourier.NewFFT(size)
	buf := make([]float64, size)
	coef := make([]complex128, size/2+1)
	var win [rhythmWindow]float64
	var own [rhythmWindow]float64 // autocorrelation of the window
	for i := range win {
		win[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/rhythmWindow)
	}
	for lag := range own {
		for i := 0; i+lag < rhythmWindow; i++ {
			own[lag] += win[i] * win[i+lag]
		}
	}
	type comb struct{ on, off []float64 } // lags
	combs := make([]comb, gridSize)
	for k := range combs {
		p := 1 / gridSpeed(k) / Step
		for m := 1.0; m <= 5 && m*p < rhythmWindow*0.72; m++ {
			combs[k].on = append(combs[k].on, m*p)
			combs[k].off = append(combs[k].off, (m-0.5)*p)
		}
	}
	at := func(ac []float64, lag float64) float64 {
		i := int(lag)
		x := lag - float64(i)
		return ((1-x)*ac[i] + x*ac[i+1]) / own[i]
	}
	total := 0.0
	for _, v := range o {
		total += float64(v * v)
	}
	usual := total / float64(max(len(o), 1)) * own[0] * 0.3
	for n := range r.n {
		mid := int(float64(n) * every / Step)
		clear(buf)
		for i := range win {
			if t := mid - rhythmWindow/2 + i; t >= 0 && t < len(o) {
				buf[i] = win[i] * float64(o[t])
			}
		}
		coef = f.Coefficients(coef, buf)
		for i, z := range coef {
			// A width of 2 ms: a stroke is not narrower than its jitter.
			q := 2 * math.Pi * float64(i) / size * 1.6
			coef[i] = complex((real(z)*real(z)+imag(z)*imag(z))*math.Exp(-q*q), 0)
		}
		ac := f.Sequence(buf, coef)
		for i := range ac {
			ac[i] /= size
		}
		norm := (ac[0] + usual) / own[0]
		e := r.at(n)
		for k := range combs {
			s := 0.0
			for i, lag := range combs[k].on {
				s += at(ac, lag) - at(ac, combs[k].off[i])
			}
			if len(combs[k].on) > 0 {
				e[k] = float32(s / float64(len(combs[k].on)) / norm)
			}
		}
	}
	return r
}
