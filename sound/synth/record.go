package synth

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Rate of what Record gives, samples a second.
const Rate = 16000

// Scene is what else is heard, and by what.
type Scene struct {
	Noise      float64 // dB of the machine over steady noise; +Inf: none
	Hall       float64 // s in which the room's sound falls by 60 dB; 0: none
	Second     float64 // strength of a second stroke in each revolution, 1 as strong as the first
	SecondAt   float64 // revolutions after the first
	Speech     float64 // dB of the machine over people who talk; +Inf: none
	Other      *Performance
	OtherDB    float64 // dB of this machine over the other
	Gain       bool    // the recorder's automatic gain
	Clip       bool    // recorded too loud
	Codec      bool    // what a speech codec at 24 kbit/s leaves
	DropOuts   [][2]float64
	CutterLoud float64 // of trims and colour changes, 1 as loud as a stroke
	Hands      float64 // how loud what people do at colour stops is, 1 as loud as a stroke; they talk as loud, too. 0: nothing is heard of them
}

// Quiet is a scene with no noise to speak of.
var Quiet = Scene{Noise: 40, Speech: math.Inf(1), CutterLoud: 1}

// stroke is the sound of one machine's impact.
type stroke struct{ shape []float64 }

// newStroke draws a machine's impact: a click and some ringing modes.
func newStroke(rng *rand.Rand) stroke {
	n := Rate * 40 / 1000
	shape := make([]float64, n)
	modes := 4 + rng.IntN(4)
	for range modes {
		f := 250 * math.Exp(rng.Float64()*math.Log(24))
		decay := 0.002 + 0.01*rng.Float64()
		amp := 0.3 + rng.Float64()
		phase := 2 * math.Pi * rng.Float64()
		for i := range shape {
			t := float64(i) / Rate
			shape[i] += amp * math.Exp(-t/decay) * math.Sin(2*math.Pi*f*t+phase)
		}
	}
	for i := range Rate * 4 / 1000 {
		shape[i] += 1.2 * rng.NormFloat64() * math.Exp(-float64(i)/Rate/0.0012)
	}
	return stroke{shape}
}

func (s stroke) add(out []float64, at, amp float64) {
	x := at * Rate
	k := int(math.Floor(x))
	frac := x - float64(k)
	last := 0.0
	for i, v := range s.shape {
		if j := k + i; j >= 0 && j < len(out) {
			out[j] += amp * ((1-frac)*v + frac*last)
		}
		last = v
	}
}

// loud is how loud a machine's strokes are at a speed: slow ones are weak.
func loud(speed float64) float64 { return math.Pow(min(speed/12, 1.5), 0.8) }

func (p *Performance) dry(rng *rand.Rand, second, secondAt, cutter float64, n int) []float64 {
	out := make([]float64, n)
	hit, other, cut := newStroke(rng), newStroke(rng), newStroke(rng)
	for _, s := range p.Strokes {
		amp := loud(s.Speed) * math.Exp(0.2*rng.NormFloat64())
		hit.add(out, s.At, amp)
		if second > 0 {
			other.add(out, s.At+secondAt/s.Speed, second*amp*math.Exp(0.2*rng.NormFloat64()))
		}
	}
	for _, h := range p.Happenings {
		if h.Kind == "pause" || h.Kind == "break" {
			continue
		}
		for range 3 + rng.IntN(6) {
			cut.add(out, h.Start+(h.End-h.Start)*rng.Float64(), cutter*(0.3+0.7*rng.Float64()))
		}
	}
	// The drive's hum follows its speed.
	phase := 0.0
	k := 0
	for i := range out {
		t := float64(i) / Rate
		for k+1 < len(p.Strokes) && p.Strokes[k+1].At < t {
			k++
		}
		if k < len(p.Strokes) && math.Abs(p.Strokes[k].At-t) < 0.3 {
			phase += 2 * math.Pi * p.Strokes[k].Speed * 6 / Rate
			out[i] += 0.03 * math.Sin(phase)
		}
	}
	return out
}

func power(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v * v
	}
	return s / float64(max(len(x), 1))
}

func mix(out, in []float64, overDB, ref float64) {
	p := power(in)
	if p == 0 || math.IsInf(overDB, 1) {
		return
	}
	g := math.Sqrt(ref / p * math.Pow(10, -overDB/10))
	for i := range out {
		if i < len(in) {
			out[i] += g * in[i]
		}
	}
}

// Record gives the samples of a performance in a scene, −1…1.
func (p *Performance) Record(sc Scene, rng *rand.Rand) []float64 {
	n := int(p.Seconds * Rate)
	out := p.dry(rng, sc.Second, sc.SecondAt, sc.CutterLoud, n)
	ref := p.sewingPower(out)
	if sc.Hands > 0 {
		p.byHand(out, sc.Hands, ref, rng)
	}
	if sc.Other != nil {
		mix(out, sc.Other.dry(rng, 0, 0, 1, n), sc.OtherDB, ref)
	}
	if sc.Hall > 0 {
		out = reverb(out, sc.Hall, rng)
	}
	mix(out, noise(n, rng), sc.Noise, ref)
	if !math.IsInf(sc.Speech, 1) {
		mix(out, Speech(n, rng), sc.Speech, ref)
	}
	if sc.Gain {
		gain(out)
	}
	top := percentile(out, 0.9995)
	g := 0.5 / max(top, 1e-9)
	if sc.Clip {
		g = 1 / max(percentile(out, 0.985), 1e-9)
	}
	for i := range out {
		out[i] = min(max(out[i]*g, -1), 1)
	}
	if sc.Codec {
		out = codec(out)
	}
	for _, d := range sc.DropOuts {
		for i := max(0, int(d[0]*Rate)); i < min(n, int(d[1]*Rate)); i++ {
			out[i] = 0
		}
	}
	return out
}

// byHand puts what is heard where people change a thread into the colour stops: things put down and clicked, one by one and a few in quick
// succession, what rustles, and talk in half of the stops (assumed: no recording of such stops was at hand).
func (p *Performance) byHand(out []float64, loud, ref float64, rng *rand.Rand) {
	for _, h := range p.Happenings {
		if h.Kind != "colour_stop" {
			continue
		}
		for t := h.Start + rng.ExpFloat64(); t < h.End; t += 0.2 + 3*rng.ExpFloat64() {
			knock := newStroke(rng)
			for k, n := 0, 1+rng.IntN(4); k < n; k++ { // a few follow one another, as a wheel is turned or a spool set down
				if at := t + float64(k)*(0.08+0.3*rng.Float64()); at < h.End {
					knock.add(out, at, loud*math.Exp(0.6*rng.NormFloat64()-0.3))
				}
			}
		}
		from, to := min(int(h.Start*Rate), len(out)), min(int(h.End*Rate), len(out))
		for i := from; i < to; {
			length, level := int((0.1+0.9*rng.Float64())*Rate), 0.3*loud*rng.Float64()*math.Sqrt(ref)
			for k := 0; k < length && i+k < to; k++ {
				out[i+k] += level * math.Sin(math.Pi*float64(k)/float64(length)) * rng.NormFloat64()
			}
			i += length + int(4*rng.ExpFloat64()*Rate)
		}
		if rng.IntN(2) == 0 {
			mix(out[from:to], Speech(to-from, rng), -20*math.Log10(loud)+6*rng.Float64(), ref)
		}
	}
}

// sewingPower is the mean power while the machine sews.
func (p *Performance) sewingPower(x []float64) float64 {
	s, n := 0.0, 0
	for _, r := range p.Runs {
		for i := int(r[0] * Rate); i < min(int(r[1]*Rate), len(x)); i++ {
			s += x[i] * x[i]
			n++
		}
	}
	return s / float64(max(n, 1))
}

func percentile(x []float64, q float64) float64 {
	a := make([]float64, 0, len(x)/7+1)
	for i := 0; i < len(x); i += 7 {
		a = append(a, math.Abs(x[i]))
	}
	slices.Sort(a)
	return a[min(int(q*float64(len(a))), len(a)-1)]
}

// noise is between white and pink.
func noise(n int, rng *rand.Rand) []float64 {
	out := make([]float64, n)
	low := 0.0
	for i := range out {
		w := rng.NormFloat64()
		low += 0.05 * (w - low)
		out[i] = 0.4*w + 2*low
	}
	return out
}

// Speech is something with the rhythm and spectrum of people who talk: voiced
// syllables with formants, hissing consonants, pauses.
func Speech(n int, rng *rand.Rand) []float64 {
	out := make([]float64, n)
	i := 0
	for i < n {
		if rng.Float64() < 0.12 {
			i += int((0.3 + 0.9*rng.Float64()) * Rate)
			continue
		}
		length := int((0.06 + 0.18*rng.Float64()) * Rate)
		pitch := 90 + 130*rng.Float64()
		f1, f2 := 300+500*rng.Float64(), 900+1500*rng.Float64()
		hiss := rng.Float64() < 0.3
		phase := 0.0
		for k := 0; k < length && i+k < n; k++ {
			env := math.Sin(math.Pi * float64(k) / float64(length))
			phase += 2 * math.Pi * pitch * (1 + 0.1*float64(k)/float64(length)) / Rate
			v := 0.0
			if hiss {
				v = rng.NormFloat64() * 0.4
			} else {
				for h := 1; h <= 18; h++ {
					f := pitch * float64(h)
					a := 1/(1+math.Pow((f-f1)/120, 2)) + 0.5/(1+math.Pow((f-f2)/180, 2))
					v += a * math.Sin(phase*float64(h))
				}
			}
			out[i+k] = env * v
		}
		i += length
	}
	return out
}

// reverb puts the sound into a room: a tail of noise that falls by 60 dB in t.
func reverb(x []float64, t float64, rng *rand.Rand) []float64 {
	m := int(t * Rate)
	h := make([]float64, m)
	for i := range h {
		h[i] = rng.NormFloat64() * math.Exp(-6.9*float64(i)/float64(m)) * 0.045
	}
	h[0] = 1
	n := 1
	for n < len(x)+m {
		n *= 2
	}
	f := fourier.NewFFT(n)
	a, b := make([]float64, n), make([]float64, n)
	copy(a, x)
	copy(b, h)
	fa, fb := f.Coefficients(nil, a), f.Coefficients(nil, b)
	for i := range fa {
		fa[i] *= fb[i]
	}
	f.Sequence(a, fa)
	for i := range a {
		a[i] /= float64(n)
	}
	return a[:len(x)]
}

// gain is a recorder's automatic gain: quick to turn down, slow to turn up.
func gain(x []float64) {
	level := 0.05
	for i, v := range x {
		a := math.Abs(v)
		if a > level {
			level += (a - level) * 0.002
		} else {
			level += (a - level) * 0.00002
		}
		x[i] = v / (level + 0.01)
	}
}

// codec keeps in each frame of 20 ms the strongest spectral lines, coarsely, as a
// transform codec of few bits does, with a low-pass.
func codec(x []float64) []float64 {
	const n = 640
	f := fourier.NewFFT(n)
	out := make([]float64, len(x))
	buf := make([]float64, n)
	win := make([]float64, n)
	for i := range win {
		win[i] = math.Sin(math.Pi * (float64(i) + 0.5) / n)
	}
	for at := -n / 2; at < len(x); at += n / 2 {
		for i := range buf {
			buf[i] = 0
			if j := at + i; j >= 0 && j < len(x) {
				buf[i] = x[j] * win[i]
			}
		}
		c := f.Coefficients(nil, buf)
		mags := make([]float64, len(c))
		for i, z := range c {
			mags[i] = cmplx.Abs(z)
		}
		sorted := slices.Clone(mags)
		slices.Sort(sorted)
		least := sorted[len(sorted)*60/100]
		for i := range c {
			if mags[i] < least || float64(i) > 7000*n/float64(Rate) {
				c[i] = 0
				continue
			}
			// A step of 3 dB in size.
			q := math.Pow(10, math.Round(20*math.Log10(mags[i])/3)*3/20)
			c[i] *= complex(q/mags[i], 0)
		}
		f.Sequence(buf, c)
		for i := range buf {
			if j := at + i; j >= 0 && j < len(x) {
				out[j] += buf[i] / n * win[i]
			}
		}
	}
	return out
}
