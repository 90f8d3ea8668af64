package clock_test

import (
	"math"

	"needlepace/stitch"
)

// This file builds designs of given counts and a plausible stitch-length mix
// for the checks of the built-in classes. All invented.

// pen lays stitches on an exact path and records them in whole file units, as
// a tape does.
type pen struct {
	d    stitch.Design
	x, y float64 // mm, exact
	at   stitch.Point
	turn float64 // direction of the object, radians
}

func (p *pen) put(op stitch.Op, dx, dy float64) {
	s, c := math.Sincos(p.turn)
	p.x += c*dx - s*dy
	p.y += s*dx + c*dy
	to := stitch.Point{X: int(math.Round(p.x * stitch.UnitsPerMM)), Y: int(math.Round(p.y * stitch.UnitsPerMM))}
	p.d.Records = append(p.d.Records, stitch.Record{DX: int16(to.X - p.at.X), DY: int16(to.Y - p.at.Y), Op: op})
	p.at = to
}

// running sews n stitches of mm around a lobed outline, turning a little at each.
func (p *pen) running(n int, mm float64) {
	for i := range n {
		s, c := math.Sincos(0.03 * float64(i))
		p.put(stitch.Sew, mm*c, mm*s)
	}
}

// satin sews n stitches across a column of the width, lines 0.4 mm apart there
// and back.
func (p *pen) satin(n int, width float64) {
	for i := range n {
		w := width
		if i%2 == 1 {
			w = -w
		}
		p.put(stitch.Sew, w, 0.2)
	}
}

// fill sews n stitches of 4 mm in rows of 40 mm, 0.4 mm apart.
func (p *pen) fill(n int) {
	const perRow = 10
	dir := 1.0
	for i := range n {
		if i%(perRow+1) == perRow {
			p.put(stitch.Sew, dir, 0.4) // the turn at the end of a row
			dir = -dir
			continue
		}
		p.put(stitch.Sew, 4*dir, 0)
	}
}

// object sews n stitches: a tenth or so of underlay, then the cover.
func (p *pen) object(k, n int) {
	p.turn = float64(k) * 25 * math.Pi / 180
	widths := []float64{3, 5, 2, 7, 4, 6}
	switch k % 5 {
	case 0: // lettering-like satin columns on a centre run
		under := n / 8
		p.running(under, 2)
		p.satin(n-under, widths[k%len(widths)])
	case 1, 3: // fill on underlay
		under := n / 10
		p.running(under, 2.8)
		p.fill(n - under)
	case 2: // outline and detail
		p.running(n, 2.2)
	default:
		under := n / 10
		p.running(under, 2.5)
		p.satin(n-under, widths[k%len(widths)])
	}
}

// ordinary builds an ordinary shop design of the given counts. Trims are
// spread over the colour blocks, each a run of jumps of 20 mm in all.
func ordinary(stitches, colourStops, trims int) *stitch.Design {
	p := &pen{}
	objects := colourStops + trims + 1
	left := stitches
	stops := 0
	for k := range objects {
		n := left / (objects - k)
		p.object(k, n)
		left -= n
		if k == objects-1 {
			break
		}
		if (k+1)*colourStops/(objects-1) > stops {
			stops++
			p.put(stitch.ColourStop, 0, 0)
		}
		for range 4 {
			p.put(stitch.Jump, 4, 3)
		}
	}
	return &p.d
}

// oneRun is a design of a single stretch of sewing.
func oneRun(sew func(*pen)) *stitch.Design {
	p := &pen{}
	sew(p)
	return &p.d
}
