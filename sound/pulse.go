package sound

import (
	"math"
	"slices"
)

// pulses is the onset curve in one number a millisecond: the weighed rises of
// the bands less what is usual around them, in units in which a clear stroke
// is about 1.
func (c *Curve) pulses(weight *[numBands]float64) []float32 {
	out := make([]float32, c.n)
	for t := range out {
		s := 0.0
		for b := range c.bands {
			s += weight[b] * float64(c.bands[b][t])
		}
		out[t] = float32(s)
	}
	lessUsual(out, 60, func(v float32, usual float64) float32 { return float32(max(float64(v)-1.2*usual, 0)) })
	var peaks []float32
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
	// What each frame earns, where thousands of laws are tried on it; else nil.
	gained []earnings
}

func (r *rhythm) at(frame int) []float32 { return r.e[frame*gridSize : (frame+1)*gridSize] }

// rhythmWindow is how much sound one frame of evidence hears, in ms.
const rhythmWindow = 900

// comb is the lags of a period's multiples in ms, and those half way between.
type comb struct{ on, off []float64 }

// hark makes the evidence of frames: the autocorrelation of the onset curve in a
// Hann window, summed over the multiples of the period that the window holds and
// lessened by what lies half way between them (a comb), over the window's energy.
type hark struct {
	fft    *fft
	buf    []complex128
	narrow []float64 // what the power at each bin is worth: a stroke is not narrower than its jitter
	win    [rhythmWindow]float64
	own    [rhythmWindow]float64 // autocorrelation of the window
	combs  [gridSize]comb
}

func newHark() *hark { return harkAt(1) }

// harkAt hears speeds by strokes that come so many times in each revolution, evenly.
func harkAt(strokes float64) *hark {
	const size = 2048
	h := &hark{fft: newFFT(size), buf: make([]complex128, size), narrow: make([]float64, size/2+1)}
	for i := range h.narrow {
		q := 2 * math.Pi * float64(i) / size * 1.6
		h.narrow[i] = math.Exp(-q*q) / size
	}
	for i := range h.win {
		h.win[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/rhythmWindow)
	}
	for lag := range h.own {
		for i := 0; i+lag < rhythmWindow; i++ {
			h.own[lag] += h.win[i] * h.win[i+lag]
		}
	}
	for k := range h.combs {
		p := 1 / gridSpeed(k) / Step / strokes
		for m := 1.0; m <= 5 && m*p < rhythmWindow*0.72; m++ {
			h.combs[k].on = append(h.combs[k].on, m*p)
			h.combs[k].off = append(h.combs[k].off, (m-0.5)*p)
		}
	}
	return h
}

// usual is what a window of a curve has in energy that is not to be heard: a
// third of the mean.
func (h *hark) usual(o []float32) float64 {
	total := 0.0
	for _, v := range o {
		total += float64(v * v)
	}
	return total / float64(max(len(o), 1)) * h.own[0] * 0.3
}

// frame puts the evidence of each speed in the window around mid, in ms, into e.
func (h *hark) frame(o []float32, mid int, usual float64, e []float32) {
	h.frames(o, [2]int{mid, mid}, usual, [2][]float32{e, nil})
}

// frames does so for two windows at once; where the second e is nil, for one.
func (h *hark) frames(o []float32, mids [2]int, usual float64, e [2][]float32) {
	clear(h.buf)
	at := func(t int) float64 {
		if t < 0 || t >= len(o) {
			return 0
		}
		return float64(o[t])
	}
	for i := range h.win {
		h.buf[i] = complex(h.win[i]*at(mids[0]-rhythmWindow/2+i), h.win[i]*at(mids[1]-rhythmWindow/2+i))
	}
	h.fft.transform(h.buf)
	// A power spectrum is even, so its transform is its inverse transform, real.
	n := len(h.buf)
	for k := range h.narrow {
		a, b := powers(h.buf, k)
		z := complex(a*h.narrow[k], b*h.narrow[k])
		h.buf[k] = z
		if k > 0 && k < n/2 {
			h.buf[n-k] = z
		}
	}
	h.fft.transform(h.buf)
	var ac [rhythmWindow + 1]float64
	for k, out := range e {
		if out == nil {
			continue
		}
		for i := range ac {
			if ac[i] = real(h.buf[i]); k == 1 {
				ac[i] = imag(h.buf[i])
			}
		}
		h.combed(&ac, usual, out)
	}
}

// combed reads an autocorrelation at the multiples of each speed's period.
func (h *hark) combed(ac *[rhythmWindow + 1]float64, usual float64, e []float32) {
	at := func(lag float64) float64 {
		i := int(lag)
		x := lag - float64(i)
		return ((1-x)*ac[i] + x*ac[i+1]) / h.own[i]
	}
	norm := (ac[0] + usual) / h.own[0]
	for k := range h.combs {
		s := 0.0
		for i, lag := range h.combs[k].on {
			s += at(lag) - at(h.combs[k].off[i])
		}
		e[k] = 0
		if n := len(h.combs[k].on); n > 0 {
			e[k] = float32(s / float64(n) / norm)
		}
	}
}

// rhythmOf is the evidence of a whole curve.
func rhythmOf(o []float32, every float64) *rhythm { return newHark().rhythmOf(o, every) }

func (h *hark) rhythmOf(o []float32, every float64) *rhythm {
	r := &rhythm{every: every, n: int(float64(len(o))*Step/every) + 1}
	r.e = make([]float32, r.n*gridSize)
	usual := h.usual(o)
	mid := func(n int) int { return int(float64(n) * every / Step) }
	for n := 0; n < r.n; n += 2 {
		e := [2][]float32{r.at(n), nil}
		if n+1 < r.n {
			e[1] = r.at(n + 1)
		}
		h.frames(o, [2]int{mid(n), mid(n + 1)}, usual, e)
	}
	return r
}

// second is the evidence of every second frame.
func (r *rhythm) second() *rhythm {
	out := &rhythm{every: 2 * r.every, n: (r.n + 1) / 2, e: make([]float32, 0, len(r.e)/2+gridSize)}
	for f := 0; f < r.n; f += 2 {
		out.e = append(out.e, r.at(f)...)
	}
	return out
}
