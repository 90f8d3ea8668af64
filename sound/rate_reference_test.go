// The bound: S. M. Kay, Fundamentals of Statistical Signal Processing I, Prentice Hall 1993,
// section 3.11 (range estimation): a delay of a known pulse in white noise of variance σ² has
// the variance σ²/Σ p′² at the least. From memory. For the period of a train of such pulses,
// whose first is not known, the pulses' places k are weighed: σ²/(Σ p′² · Σ (k − k̄)²).

package sound

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestThePulseRateAgainstItsBound: how many times what is possible at all the period of a
// train of known pulses is off (docs/listening.md). A curve by the millisecond cannot be near
// it where the pulses are even to the microsecond; a needle bar's own jitter is far larger,
// and against that the error is near the bound.
func TestThePulseRateAgainstItsBound(t *testing.T) {
	const rate, strokes, period, trials = 16000, 40, 0.0813, 15
	pulse := make([]float64, rate/50)
	for i := range pulse {
		x := float64(i) / rate
		pulse[i] = math.Exp(-x/0.003) * (math.Sin(2*math.Pi*900*x) + 0.6*math.Sin(2*math.Pi*2300*x+1) + 0.4*math.Sin(2*math.Pi*4100*x+2))
	}
	power, slope := 0.0, 0.0
	for i := 1; i < len(pulse); i++ {
		power += pulse[i] * pulse[i]
		d := (pulse[i] - pulse[i-1]) * rate
		slope += d * d
	}
	places := float64(strokes*(strokes*strokes-1)) / 12 // Σ (k − k̄)²
	for _, c := range []struct {
		overDB, jitter float64
		most           float64 // times the bound
	}{{20, 0, 900}, {10, 0, 250}, {0, 0, 80}, {20, 0.0006, 1.5}, {0, 0.0006, 1.5}} {
		rng := rand.New(rand.NewPCG(3, uint64(c.overDB)))
		sigma := math.Sqrt(power / (period * rate) * math.Pow(10, -c.overDB/10))
		sum := 0.0
		for range trials {
			x := make([]float64, int((strokes*period+1)*rate))
			for i := range x {
				x[i] = sigma * rng.NormFloat64()
			}
			first := 0.4 + rng.Float64()*period
			for k := range strokes {
				at := (first + float64(k)*period + c.jitter*rng.NormFloat64()) * rate
				n, part := int(at), at-math.Floor(at)
				for i, v := range pulse {
					x[n+i] += (1 - part) * v
					x[n+i+1] += part * v
				}
			}
			for i := range x {
				x[i] *= 0.3
			}
			o := heardBy(t, x, rate).pulses(&evenBands)
			late := 0.0 // an onset is heard as late everywhere
			for k := range strokes {
				at, _ := pick(o, int(math.Round((first+float64(k)*period)/Step)))
				late += (at - first - float64(k)*period) / strokes
			}
			b := 0.0
			for k := range strokes {
				at, _ := pick(o, int(math.Round((first+float64(k)*period+late)/Step)))
				b += (float64(k) - (strokes-1)/2.0) * at / places
			}
			sum += (b - period) * (b - period) / trials
		}
		bound := math.Sqrt((sigma*sigma/slope + c.jitter*c.jitter) / places)
		factor := math.Sqrt(sum) / bound
		t.Logf("%.0f dB, jitter %.1f ms: the period is %.2g %% off, %.1f times the bound", c.overDB, c.jitter*1000, 100*math.Sqrt(sum)/period, factor)
		if factor > c.most || factor < 0.6 {
			t.Errorf("%.0f dB, jitter %.1f ms: %.1f times the bound, want 0.6 to %.1f", c.overDB, c.jitter*1000, factor, c.most)
		}
	}
}
