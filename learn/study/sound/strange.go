package main

import (
	"math"
	"math/rand/v2"
	"slices"

	"needlepace/sound/synth"
	"needlepace/stitch"
)

// sewn is where in the recording sewing begins and ends, in s.
func (m *made) sewn() (from, to float64) {
	return m.run.Strokes[0].At, m.run.Strokes[len(m.run.Strokes)-1].At
}

// cut keeps the recording from one time to another, in s.
func (m *made) cut(from, to float64) {
	at := func(t float64) int { return int(min(max(t*synth.Rate, 0), float64(len(m.samples)))) }
	m.samples = m.samples[at(from):at(to)]
	m.run.Strokes = slices.DeleteFunc(m.run.Strokes, func(s synth.Stroke) bool { return s.At < from || s.At > to })
	m.moved(func(t float64) float64 { return t - from })
}

// moved puts all that happened at other times.
func (m *made) moved(to func(float64) float64) {
	for i := range m.run.Strokes {
		m.run.Strokes[i].At = to(m.run.Strokes[i].At)
	}
	for i := range m.run.Happenings {
		h := &m.run.Happenings[i]
		h.Start, h.End = to(h.Start), to(h.End)
	}
	for i, r := range m.run.Runs {
		m.run.Runs[i] = [2]float64{to(r[0]), to(r[1])}
	}
}

func late(rng *rand.Rand, m *made) {
	from, to := m.sewn()
	m.cut(from+(0.1+0.4*rng.Float64())*(to-from), math.Inf(1))
}

func early(rng *rand.Rand, m *made) {
	from, to := m.sewn()
	m.cut(0, to-(0.1+0.4*rng.Float64())*(to-from))
}

// again puts a second run of the design after the first.
func again(_ *rand.Rand, m *made) { m.samples = append(m.samples, m.samples...) }

// play plays the recording so many times as fast.
func (m *made) play(times float64) {
	out := make([]float64, int(float64(len(m.samples))/times))
	for i := range out {
		x := float64(i) * times
		k := int(x)
		if f := x - float64(k); k+1 < len(m.samples) {
			out[i] = (1-f)*m.samples[k] + f*m.samples[k+1]
		}
	}
	m.samples = out
	m.moved(func(t float64) float64 { return t / times })
}

// music puts drums and chords in the place of the recording.
func music(rng *rand.Rand, m *made) {
	beat := 60 / (90 + 90*rng.Float64()) / 4
	clear(m.samples)
	note := []float64{220, 277, 330}
	for k := 0; float64(k)*beat*synth.Rate < float64(len(m.samples)); k++ {
		from := int(float64(k) * beat * synth.Rate)
		if k%16 == 0 {
			for i := range note {
				note[i] = 110 * math.Exp(rng.Float64()*math.Log(6))
			}
		}
		loud := 0.0
		if k%4 == 0 || rng.Float64() < 0.4 {
			loud = 0.3 + 0.7*rng.Float64()
		}
		for i := 0; i < int(beat*synth.Rate) && from+i < len(m.samples); i++ {
			t := float64(i) / synth.Rate
			v := loud * rng.NormFloat64() * math.Exp(-t/0.03)
			for _, f := range note {
				v += 0.2 * math.Sin(2*math.Pi*f*float64(from+i)/synth.Rate)
			}
			m.samples[from+i] = 0.25 * v
		}
	}
}

// cuts are where a design's colours end, or its runs where it has but one: the last record of each but
// the last.
func cuts(d *stitch.Design) (at []int) {
	for i, r := range d.Records {
		if r.Op == stitch.ColourStop {
			at = append(at, i)
		}
	}
	if len(at) > 0 {
		return at
	}
	for i := 1; i < len(d.Records); i++ {
		if d.Records[i].Op != stitch.Sew && d.Records[i-1].Op == stitch.Sew {
			at = append(at, i)
		}
	}
	return at
}

// without leaves out the part of a design that has fewest stitches, of those that have 30 or more: the first
// third where it has no parts.
func without(d *stitch.Design) *stitch.Design {
	from, to, least := 0, len(d.Records)/3, len(d.Records)
	last := 0
	for _, i := range append(cuts(d), len(d.Records)) {
		n := 0
		for _, r := range d.Records[last:i] {
			if r.Op == stitch.Sew {
				n++
			}
		}
		if n >= 30 && n < least && n < d.Count().Stitches {
			from, to, least = last, i, n
		}
		last = i
	}
	out := *d
	out.Records = append(slices.Clone(d.Records[:from]), d.Records[to:]...)
	return &out
}

// swapped sews the second half of a design's parts before the first.
func swapped(d *stitch.Design) *stitch.Design {
	at := len(d.Records) / 2
	if c := cuts(d); len(c) > 0 {
		at = c[len(c)/2]
	}
	out := *d
	out.Records = append(slices.Clone(d.Records[at:]), stitch.Record{Op: stitch.ColourStop})
	out.Records = append(out.Records, d.Records[:at]...)
	return &out
}

// turned is the design turned by 30 degrees, mirrored is its mirror image.
func turned(d *stitch.Design) *stitch.Design {
	sin, cos := math.Sincos(math.Pi / 6)
	return mapped(d, func(x, y float64) (float64, float64) { return cos*x - sin*y, sin*x + cos*y })
}

func mirrored(d *stitch.Design) *stitch.Design {
	return mapped(d, func(x, y float64) (float64, float64) { return -x, y })
}

func mapped(d *stitch.Design, to func(x, y float64) (float64, float64)) *stitch.Design {
	out := *d
	out.Records = slices.Clone(d.Records)
	x, y, px, py := 0.0, 0.0, 0.0, 0.0
	for i := range out.Records {
		r := &out.Records[i]
		x, y = x+float64(r.DX), y+float64(r.DY)
		a, b := to(x, y)
		a, b = math.Round(a), math.Round(b)
		r.DX, r.DY = int16(a-px), int16(b-py)
		px, py = a, b
	}
	return &out
}
