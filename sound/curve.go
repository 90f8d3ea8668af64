package sound

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
)

// Step is the grid of a Curve in seconds.
const Step = 0.001

// numBands is how many bands of frequency a curve has.
const numBands = 8

// bandEdges are the bands in Hz: even on a logarithmic scale. What a needle bar
// strikes rings in all of them; hum and most of speech lie in the lowest.
var bandEdges = [numBands + 1]float64{180, 320, 560, 980, 1600, 2500, 3700, 5300, 7600}

// quantum is the step in which a curve keeps a rise of level: 0.02 of ln E.
const quantum = 0.02

// Curve is the onset strength of a recording: for each band and millisecond how
// far the level rose, as half-wave rectified differences of the logarithm of
// the band's energy over a floor (J. P. Bello et al., A tutorial on onset
// detection in music signals, IEEE Trans. Speech Audio Process. 13 (2005)
// 1035–1047, section III). It takes 9 bytes a millisecond.
type Curve struct {
	bands [numBands][]uint8 // rises in quanta
	level []uint8           // level of the sum of bands, in quarters of a dB above −64 dB of full scale
	n     int               // milliseconds
	clip  int               // of them with samples at full scale
	low   int               // of them without any sound: drop-outs, gated silence
	rate  int               // Hz, of the recording
}

// Seconds is the length of the recording.
func (c *Curve) Seconds() float64 { return float64(c.n) * Step }

// Digest names the recording by all that is kept of it: of the same sound it is the same.
func (c *Curve) Digest() string {
	sum := sha256.New()
	fmt.Fprintln(sum, c.rate, c.n, c.clip, c.low)
	for _, b := range c.bands {
		sum.Write(b)
	}
	sum.Write(c.level)
	return hex.EncodeToString(sum.Sum(nil))
}

// curveForm is a curve as GobEncode writes it.
type curveForm struct {
	Bands              [numBands][]uint8
	Level              []uint8
	N, Clip, Low, Rate int
}

// GobEncode is all of the curve, for programs that help each other.
func (c *Curve) GobEncode() ([]byte, error) {
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(curveForm{c.bands, c.level, c.n, c.clip, c.low, c.rate})
	return b.Bytes(), err
}

// GobDecode reads what GobEncode wrote.
func (c *Curve) GobDecode(b []byte) error {
	var f curveForm
	if err := gob.NewDecoder(bytes.NewReader(b)).Decode(&f); err != nil {
		return err
	}
	*c = Curve{f.Bands, f.Level, f.N, f.Clip, f.Low, f.Rate}
	return nil
}

// window of a frame in s: long enough for the lowest band, short enough to
// place a stroke to a millisecond.
const frameWindow = 0.006

// floorDrop is how far under its recent peak a band's floor lies (ln of the
// energy's ratio): what is weaker is not heard. Silence is not noise: without the
// floor, rises out of nothing count as much as strokes.
const floorDrop = 7.0

var floorShare = math.Exp(-floorDrop)

// Listener turns samples into a Curve as they come, in constant memory but for
// the curve. The zero value is not ready: NewListener.
type Listener struct {
	rate   float64
	every  int       // samples that are averaged into one before anything else
	fir    []float64 // the filter of it
	buf    []float64 // decimated samples not yet used
	first  int       // index of buf[0] among the decimated samples
	raw    []float64 // samples for the filter
	fft    *fft
	win    []float64
	pair   []complex128 // a frame and the one after it
	second bool         // the first of the pair waits for its second
	bins   [numBands][2]int
	before [riseOver][numBands]float64 // ln energy over floor, of the frames before
	peak   [numBands]float64           // energy
	frames int
	curve  Curve
}

// riseOver is over how many frames a rise is taken.
const riseOver = 3

// Rates that a recording may have, in samples a second.
const (
	LeastRate = 8000
	MostRate  = 192000
)

// ErrRate is a sample rate outside LeastRate to MostRate.
var ErrRate = errors.New("the sample rate is outside 8,000 to 192,000 a second")

// NewListener makes a listener for samples at a rate in Hz, LeastRate to
// MostRate; else ErrRate.
func NewListener(rate int) (*Listener, error) {
	if rate < LeastRate || rate > MostRate {
		return nil, ErrRate
	}
	l := &Listener{every: max(1, rate/15900)}
	l.rate = float64(rate) / float64(l.every)
	if l.every > 1 {
		l.fir = lowPass(8*l.every+1, 0.45/float64(l.every))
	}
	n := 1
	for float64(n) < frameWindow*l.rate {
		n *= 2
	}
	width := int(frameWindow * l.rate)
	l.fft = newFFT(n)
	l.pair = make([]complex128, n)
	l.win = make([]float64, width)
	for i := range l.win {
		l.win[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(width))
	}
	for b := range l.bins {
		lo := int(math.Ceil(bandEdges[b] / l.rate * float64(n)))
		hi := int(math.Ceil(bandEdges[b+1] / l.rate * float64(n)))
		// A slow recording has no sound in the highest bands.
		l.bins[b] = [2]int{min(lo, n/2), min(hi, n/2)}
	}
	l.curve.rate = rate
	return l, nil
}

// lowPass is a windowed sinc (Hamming) of n taps, its edge a fraction of the rate.
func lowPass(n int, edge float64) []float64 {
	h := make([]float64, n)
	sum := 0.0
	for i := range h {
		x := float64(i) - float64(n-1)/2
		s := 2 * edge
		if x != 0 {
			s = math.Sin(2*math.Pi*edge*x) / (math.Pi * x)
		}
		h[i] = s * (0.54 - 0.46*math.Cos(2*math.Pi*float64(i)/float64(n-1)))
		sum += h[i]
	}
	for i := range h {
		h[i] /= sum
	}
	return h
}

// Hear takes samples of one channel, −1…1, in any number.
func (l *Listener) Hear(samples []float64) {
	if l.every == 1 {
		l.buf = append(l.buf, samples...)
	} else {
		l.raw = append(l.raw, samples...)
		k := 0
		for ; k+len(l.fir) <= len(l.raw); k += l.every {
			s := 0.0
			for i, h := range l.fir {
				s += h * l.raw[k+i]
			}
			l.buf = append(l.buf, s)
		}
		l.raw = append(l.raw[:0], l.raw[k:]...)
	}
	l.frameUp()
}

// frameUp makes frames of what has come.
func (l *Listener) frameUp() {
	half := len(l.win) / 2
	for {
		at := int(math.Round(float64(l.frames)*Step*l.rate)) - half - l.first
		if at+len(l.win) > len(l.buf) {
			if drop := min(max(at, 0), len(l.buf)); drop > 0 {
				l.buf = append(l.buf[:0], l.buf[drop:]...)
				l.first += drop
			}
			return
		}
		if !l.second {
			clear(l.pair)
		}
		loud, any := 0, false
		for i, w := range l.win {
			if at+i < 0 {
				continue
			}
			x := l.buf[at+i]
			if x >= 0.99 || x <= -0.99 {
				loud++
			}
			any = any || x != 0
			if l.second {
				l.pair[i] = complex(real(l.pair[i]), w*x)
			} else {
				l.pair[i] = complex(w*x, 0)
			}
		}
		if loud > 2 {
			l.curve.clip++
		}
		if !any {
			l.curve.low++
		}
		if l.second {
			l.push(2)
		}
		l.second = !l.second
		l.frames++
	}
}

// push adds the rises of a pair's first so many frames to the curve.
func (l *Listener) push(frames int) {
	l.fft.transform(l.pair)
	var e [2][numBands]float64
	for b, bin := range l.bins {
		for k := bin[0]; k < bin[1]; k++ {
			first, second := powers(l.pair, k)
			e[0][b] += first
			e[1][b] += second
		}
	}
	for k := range frames {
		l.rise(&e[k])
	}
}

// peakFalls is what of a band's peak is left after a millisecond: it remembers
// the last tens of seconds.
const peakFalls = 0.99988

// rise adds a frame of the bands' energies to the curve.
func (l *Listener) rise(energy *[numBands]float64) {
	c := &l.curve
	total := 0.0
	slot := c.n % riseOver
	for b, e := range energy {
		total += e
		// What has just begun to be loud is loud at once.
		l.peak[b] = max(l.peak[b]*peakFalls, e+1e-12)
		over := math.Log(e + l.peak[b]*floorShare + 1e-12)
		rise := 0.0
		if c.n >= riseOver {
			rise = max(over-l.before[slot][b], 0)
		}
		l.before[slot][b] = over
		c.bands[b] = append(c.bands[b], uint8(min(rise/quantum, 255)))
	}
	db := 10*math.Log10(total/float64(len(l.pair))+1e-12) + 64
	c.level = append(c.level, uint8(min(max(4*db, 0), 255)))
	c.n++
}

// Curve ends the recording and gives its curve.
func (l *Listener) Curve() *Curve {
	l.Hear(make([]float64, int(frameWindow*l.rate)*l.every+len(l.fir)))
	if l.second {
		l.push(1)
		l.second = false
	}
	return &l.curve
}
