package study

import (
	"math"
	"math/rand/v2"

	"needlepace/stitch"
)

// design draws an invented design such as a shop sews: one to eight colours of
// fills, satin columns and running stitch at any angle, 1,500 to 15,000
// stitches, with a trim or a short way between objects.
func design(rng *rand.Rand) *stitch.Design {
	w := &pen{d: &stitch.Design{Name: "held out"}}
	colours := 1 + rng.IntN(8)
	total := int(1500 * math.Pow(10, rng.Float64()))
	satinShare := rng.Float64()
	for c := range colours {
		if c > 0 {
			w.d.Records = append(w.d.Records, stitch.Record{Op: stitch.ColourStop})
			w.thread = false
		}
		for sewn := 0; sewn < total/colours; {
			before := len(w.d.Records)
			w.moveBy(60*(rng.Float64()-0.5), 60*(rng.Float64()-0.5), rng.IntN(4) > 0)
			angle := math.Pi * rng.Float64()
			if rng.IntN(3) == 0 {
				angle = math.Pi / 2 * float64(rng.IntN(2))
			}
			switch u := rng.Float64(); {
			case u < 0.6*satinShare+0.1:
				w.satin(angle, 1.2+6.8*rng.Float64()*rng.Float64(), 5+40*rng.Float64())
			case u < 0.8:
				w.fill(angle, 8+50*rng.Float64(), 5+30*rng.Float64(), 3+1.5*rng.Float64())
			default:
				w.run(angle, 10+60*rng.Float64(), 1.8+1.2*rng.Float64())
			}
			sewn += len(w.d.Records) - before
		}
	}
	return w.d
}

// pen writes records; it keeps the exact place so that rounding does not add up.
type pen struct {
	d      *stitch.Design
	x, y   float64 // mm
	ux, uy int     // units of 0.1 mm
	thread bool
}

func (w *pen) put(op stitch.Op, dx, dy float64) {
	w.x += dx
	w.y += dy
	x, y := int(math.Round(w.x*10)), int(math.Round(w.y*10))
	w.d.Records = append(w.d.Records, stitch.Record{DX: int16(x - w.ux), DY: int16(y - w.uy), Op: op})
	w.ux, w.uy = x, y
}

// moveBy goes to the next object: cut and travelled, or sewn over.
func (w *pen) moveBy(dx, dy float64, trim bool) {
	l := math.Hypot(dx, dy)
	if w.thread && !trim {
		n := max(1, int(math.Ceil(l/2.5)))
		for range n {
			w.put(stitch.Sew, dx/float64(n), dy/float64(n))
		}
		return
	}
	n := max(3, int(math.Ceil(l/12)))
	for range n {
		w.put(stitch.Jump, dx/float64(n), dy/float64(n))
	}
	w.thread = false
	for k := range 4 { // lock
		w.put(stitch.Sew, 0.9*float64(1-k%2*2), 0.2)
	}
	w.thread = true
}

func (w *pen) satin(angle, width, length float64) {
	s, c := math.Sincos(angle)
	for i := range int(length / 0.2) {
		side := width * float64(1-i%2*2)
		w.put(stitch.Sew, -s*side+c*0.2, c*side+s*0.2)
	}
}

func (w *pen) fill(angle, length, height, mm float64) {
	s, c := math.Sincos(angle)
	for row := range int(height / 0.4) {
		left := length
		first := mm * []float64{0.9, 0.4, 0.65, 0.15}[row%4]
		for step := max(first, 0.8); left > 1e-9; step = mm {
			step = min(step, left)
			left -= step
			if left < 0.8 {
				step += left
				left = 0
			}
			d := step * float64(1-row%2*2)
			w.put(stitch.Sew, c*d, s*d)
		}
		w.put(stitch.Sew, -s*0.4, c*0.4)
	}
}

func (w *pen) run(angle, length, mm float64) {
	for l := 0.0; l < length; l += mm {
		s, c := math.Sincos(angle + 0.8*math.Sin(l/9))
		w.put(stitch.Sew, c*mm, s*mm)
	}
}
