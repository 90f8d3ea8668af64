package money

import (
	"fmt"
	"math"
	"sort"

	"needlepace/clock"
	"needlepace/stitch"
)

// Shape is how test designs are sewn.
type Shape string

// The shapes of test designs.
const (
	Straight Shape = "running stitch"           // straight on, half along x and half along y
	Zigzag   Shape = "satin"                    // there and back, half along x and half along y
	Both     Shape = "running stitch and satin" // where the machines have no turn penalty the two are one
)

// Turning is for which stitch lengths a machine is faster than the base: test
// designs of one stitch length each, with the mix's own trims and colour stops,
// clocked on both.
type Turning struct {
	Shape  Shape
	Length []float64 // mm
	// Seconds per 1,000 stitches on the machine and on the base.
	Machine, Base []float64
	Chance        []Chance // that the machine is the faster
	At            []Turn
}

// Turn is a stitch length at which the faster changes.
type Turn struct {
	Length    float64 // mm, at the sheets' own values
	Low, High float64 // mm, in which it falls as far as the sheets know; NaN where most draws have no turn
	Below     bool    // is the machine (not the base) the faster below it?
}

const (
	turningStep     = 5   // lengths go up by so many tenths of a millimetre
	turningLongest  = 120 // the 3-byte record holds 121 on an axis
	turningStitches = 1000
)

// TestDesign is n stitches of one length, units in 0.1 mm, with cuts spread evenly.
func TestDesign(shape Shape, units, n, trims, stops int) *stitch.Design {
	d := &stitch.Design{Name: fmt.Sprintf("%s of %.1f mm", shape, float64(units)/stitch.UnitsPerMM)}
	cut := func(i, k int) bool { return k > 0 && (i+1)*(k+1)/n > i*(k+1)/n && i+1 < n }
	for i := range n {
		r := stitch.Record{Op: stitch.Sew}
		u := int16(units)
		if shape == Zigzag && i%2 == 1 {
			u = -u
		}
		if i < n/2 {
			r.DX = u
		} else {
			r.DY = u
		}
		d.Records = append(d.Records, r)
		if cut(i, trims) {
			d.Records = append(d.Records, stitch.Record{Op: stitch.Trim})
		}
		if cut(i, stops) {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
	}
	return d
}

// turnings clocks test designs of every length on machine i and the base.
func (c *Comparison) turnings(i int, z map[string][][]float64) []Turning {
	a, b := &c.Machines[i].Offer, &c.Machines[c.Base].Offer
	// The mix's trims and colour stops for each 1,000 stitches, by stitches sewn.
	var stitches, trims, stops float64
	for _, d := range c.Designs {
		q := float64(d.Weekly)
		stitches += q * float64(d.On[c.Base].Result.Stitches)
		trims += q * float64(d.On[c.Base].Result.Trims)
		stops += q * float64(d.On[c.Base].Result.ColourStops)
	}
	const scale = 3 // test designs of 3,000 stitches, so that rates round less
	n := turningStitches * scale
	nt, ns := int(math.Round(trims/stitches*float64(n))), int(math.Round(stops/stitches*float64(n)))
	draws := min(200, len(z[a.SheetID]))
	var out []Turning
	for _, shape := range []Shape{Straight, Zigzag} {
		t := Turning{Shape: shape}
		var diff [][]float64 // by length, by draw: base − machine
		for u := turningStep; u <= turningLongest; u += turningStep {
			d := TestDesign(shape, u, n, nt, ns)
			ra, rb := clock.Respond(d, a.Sheet, a.set()), clock.Respond(d, b.Sheet, b.set())
			t.Length = append(t.Length, float64(u)/stitch.UnitsPerMM)
			t.Machine = append(t.Machine, ra.Nominal/scale)
			t.Base = append(t.Base, rb.Nominal/scale)
			row := make([]float64, draws)
			won := Chance{Of: draws}
			for k := range row {
				row[k] = rb.Seconds(z[b.SheetID][k]) - ra.Seconds(z[a.SheetID][k])
				switch {
				case row[k] > 0:
					won.Won++
				case row[k] == 0:
					won.Tied++
				}
			}
			diff = append(diff, row)
			t.Chance = append(t.Chance, won)
		}
		t.At = turns(t, diff, c.Level)
		if len(out) == 1 && alike(out[0], t) {
			out[0].Shape = Both
			break
		}
		out = append(out, t)
	}
	return out
}

// alike reports whether two shapes give the same picture to half a per cent.
func alike(s, t Turning) bool {
	for k := range s.Length {
		if math.Abs(s.Machine[k]-t.Machine[k]) > .005*s.Machine[k] || math.Abs(s.Base[k]-t.Base[k]) > .005*s.Base[k] {
			return false
		}
	}
	return true
}

// crossings are the lengths at which a difference changes sign, and whether it
// is positive below.
func crossings(length []float64, diff func(k int) float64) (at []float64, below []bool) {
	last := 0 // the last length with a difference
	for k := 1; k < len(length); k++ {
		x, y := diff(last), diff(k)
		switch {
		case y == 0:
			continue
		case x != 0 && (x > 0) != (y > 0):
			f := x / (x - y)
			at = append(at, length[last]+f*(length[k]-length[last]))
			below = append(below, x > 0)
		}
		last = k
	}
	return at, below
}

func turns(t Turning, diff [][]float64, level float64) []Turn {
	at, below := crossings(t.Length, func(k int) float64 { return t.Base[k] - t.Machine[k] })
	var out []Turn
	for i := range at {
		u := Turn{Length: at[i], Below: below[i], Low: math.NaN(), High: math.NaN()}
		// Where do drawn machines turn the same way, nearest to here?
		var where []float64
		draws := len(diff[0])
		for d := range draws {
			x, way := crossings(t.Length, func(k int) float64 { return diff[k][d] })
			best, gap := 0.0, math.Inf(1)
			for j := range x {
				if way[j] == below[i] && math.Abs(x[j]-at[i]) < gap {
					best, gap = x[j], math.Abs(x[j]-at[i])
				}
			}
			if !math.IsInf(gap, 1) {
				where = append(where, best)
			}
		}
		if 2*len(where) > draws {
			sort.Float64s(where)
			u.Low, u.High = clock.Quantile(where, (1-level)/2), clock.Quantile(where, (1+level)/2)
		}
		out = append(out, u)
	}
	return out
}

// Stretch is a stretch of stitch lengths on which one machine is the faster by
// the sheets as they are, and how far that may be said.
type Stretch struct {
	From, To float64 // mm; outside the range in which a turn falls, as far as the sheets know
	Machine  bool    // the machine, not the base
	Is       Verdict // by the length at which it is least sure
}

// Stretches are the stretches between the turns, in order.
func (t *Turning) Stretches() []Stretch {
	longest := len(t.Length) - 1
	end := func(mm, sheets float64) float64 {
		if math.IsNaN(mm) {
			return sheets
		}
		return mm
	}
	var out []Stretch
	for i := range len(t.At) + 1 {
		s := Stretch{From: t.Length[0], To: t.Length[longest]}
		if i > 0 {
			s.From, s.Machine = end(t.At[i-1].High, t.At[i-1].Length), !t.At[i-1].Below
		}
		if i < len(t.At) {
			s.To, s.Machine = end(t.At[i].Low, t.At[i].Length), t.At[i].Below
		}
		if len(t.At) == 0 {
			s.Machine = t.Machine[longest] < t.Base[longest]
		}
		var least Chance
		seen, alike := false, true
		for k, mm := range t.Length {
			p := t.Chance[k]
			if !s.Machine {
				p = p.Not()
			}
			if mm < s.From || mm > s.To {
				continue
			}
			alike = alike && p.Verdict() == Alike
			if !seen || p.P() < least.P() {
				least, seen = p, true
			}
		}
		if s.Is = CannotTell; seen && (alike || least.Verdict() != Alike) {
			s.Is = least.Verdict()
		}
		out = append(out, s)
	}
	return out
}
