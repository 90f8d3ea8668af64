package main

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"needlepace/audit"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/sound"
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

// asleep leaves out 20 s of what is sewn and puts silence there, as long to 40 ms: as the page does where a phone has slept.
func asleep(rng *rand.Rand, m *made) {
	const slept = 20
	from, to := m.sewn()
	start := from + (0.2+0.5*rng.Float64())*(to-from)
	by := 0.08 * (rng.Float64() - 0.5)
	a, b := int(start*synth.Rate), min(int((start+slept)*synth.Rate), len(m.samples))
	m.samples = slices.Concat(m.samples[:a], make([]float64, int((slept+by)*synth.Rate)), m.samples[b:])
	m.moved(func(t float64) float64 {
		if t > start+slept {
			t += by
		}
		return t
	})
	m.room.DropOuts = [][2]float64{{start, start + slept + by}}
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

// handsAlone leaves nothing of the runs but noise.
func handsAlone(rng *rand.Rand, m *made) {
	for _, r := range m.run.Runs {
		for i := int(r[0] * synth.Rate); i < min(int((r[1]+0.1)*synth.Rate), len(m.samples)); i++ {
			m.samples[i] = 0.01 * rng.NormFloat64()
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

// exchanged sews the two runs next to each other whose numbers of stitches differ most in the other order; the first half of a
// design of one run after the second.
func exchanged(d *stitch.Design) *stitch.Design {
	runs := runsOf(d)
	best, most := 0, -1
	for i := range len(runs) - 1 {
		a, b := runs[i][1]-runs[i][0], runs[i+1][1]-runs[i+1][0]
		if by := max(a-b, b-a); by > most {
			best, most = i, by
		}
	}
	if most < 0 {
		return swapped(d)
	}
	a, b := runs[best], runs[best+1]
	out := *d
	out.Records = slices.Concat(d.Records[:a[0]], d.Records[b[0]:b[1]], d.Records[a[1]:b[0]], d.Records[a[0]:a[1]], d.Records[b[1]:])
	return &out
}

// runsOf are the records from ≤ i < to of each row of stitches.
func runsOf(d *stitch.Design) (runs [][2]int) {
	for i, r := range d.Records {
		if r.Op != stitch.Sew {
			continue
		}
		if n := len(runs); n > 0 && runs[n-1][1] == i {
			runs[n-1][1] = i + 1
		} else {
			runs = append(runs, [2]int{i, i + 1})
		}
	}
	return runs
}

// larger is the design a tenth larger, each tenth pair of stitches sewn twice: as dense as it was.
func larger(d *stitch.Design) *stitch.Design {
	out := *mapped(d, func(x, y float64) (float64, float64) { return 1.1 * x, 1.1 * y })
	was := out.Records
	out.Records = nil
	row := 0
	for i, r := range was {
		out.Records = append(out.Records, r)
		if r.Op != stitch.Sew {
			row = 0
		} else if row++; row == 20 {
			out.Records, row = append(out.Records, was[i-1], was[i]), 0
		}
	}
	return &out
}

// edited is the design without 2 % of its stitches, at least 12, from the middle of its longest run.
func edited(d *stitch.Design) *stitch.Design {
	longest := slices.MaxFunc(runsOf(d), func(a, b [2]int) int { return a[1] - a[0] - b[1] + b[0] })
	mid := (longest[0] + longest[1]) / 2
	n := max(12, d.Count().Stitches/50)
	out := *d
	out.Records = append(slices.Clone(d.Records[:mid]), d.Records[min(mid+n, longest[1]-1):]...)
	return &out
}

// mended is the design as mended for a machine of many needles that is as its class is.
func mended(d *stitch.Design) *stitch.Design {
	class, _ := machine.Class("multi-12")
	m, err := audit.Mend(context.Background(), d, class, clock.Job{}, audit.MendOptions{})
	if err != nil || !m.Changed() {
		return exchanged(d)
	}
	return m.Design
}

// counterparts are the stitches of one design that another has too, by what is sewn around them; −1 where that is nowhere, or
// in more than one place.
func counterparts(of, in *stitch.Design) []int {
	const around = 5
	type place [2*around + 1]stitch.Record
	places := func(d *stitch.Design) (all []place) {
		for i, r := range d.Records {
			if r.Op != stitch.Sew {
				continue
			}
			var p place
			for k := range p {
				if j := i + k - around; j >= 0 && j < len(d.Records) {
					p[k] = d.Records[j]
				}
			}
			all = append(all, p)
		}
		return all
	}
	const twice = -2
	at := map[place]int{}
	for n, p := range places(in) {
		if _, has := at[p]; has {
			n = twice
		}
		at[p] = n
	}
	mine, seen := places(of), map[place]int{}
	for _, p := range mine {
		seen[p]++
	}
	out := make([]int, len(mine))
	for n, p := range mine {
		out[n] = -1
		if q, has := at[p]; has && q != twice && seen[p] == 1 {
			out[n] = q
		}
	}
	return out
}

// misplaced is the share of the strokes with a counterpart in the asked design that have another number there, and not by as few as is said.
func misplaced(p *synth.Performance, h *sound.Heard, to []int) float64 {
	n, wrong, i := 0, 0, 0
	for _, x := range h.Strokes {
		for i+1 < len(p.Strokes) && math.Abs(p.Strokes[i+1].At-x.At) <= math.Abs(p.Strokes[i].At-x.At) {
			i++
		}
		s := p.Strokes[i].Stitch
		if s < 0 || s >= len(to) || to[s] < 0 {
			continue
		}
		n++
		if by := x.Stitch - to[s]; max(by, -by) > x.Within {
			wrong++
		}
	}
	if n == 0 {
		return 1
	}
	return float64(wrong) / float64(n)
}
