package picture

import (
	"math"

	"needlepace/words"
)

// timeSteps are the distances of ticks on a time axis, in seconds.
var timeSteps = []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 4 * 3600,
	8 * 3600, 24 * 3600, 7 * 24 * 3600}

// timeStep is the distance of ticks such that about n stand on top seconds.
func timeStep(top float64, n int) float64 {
	for _, s := range timeSteps {
		if top/s <= float64(n) {
			return s
		}
	}
	return niceStep(top, n)
}

// niceStep is 1, 2 or 5 times a power of ten, such that at most n steps stand
// on span.
func niceStep(span float64, n int) float64 {
	if !(span > 0) || math.IsInf(span, 1) || n < 1 {
		return 1
	}
	raw := span / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if m*p >= raw*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// ticks are the multiples of step from lo to hi.
func ticks(lo, hi, step float64) []float64 {
	var out []float64
	if !(step > 0) {
		return nil
	}
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9 && len(out) < 200; k++ {
		out = append(out, k*step+0) // + 0: no negative zero
	}
	return out
}

// tickText is a tick's number with no more decimals than the step needs.
func tickText(v, step float64, w *words.Writer) string {
	dec := 0
	for s := step; dec < 6 && math.Abs(s-math.Round(s)) > 1e-6*math.Abs(s); dec++ {
		s *= 10
	}
	return words.Fixed(v, dec).Text(w)
}

// timeTick is a time on an axis that ends at top: seconds below two minutes,
// hours from an hour and a half, else minutes.
func timeTick(v, step, top float64, w *words.Writer) string {
	sec := func(places int) string { return words.Say("time.s", words.Args{"s": words.Fixed(v, places)}).Text(w) }
	if top < 2 {
		return sec(1)
	}
	if top < 120 {
		return sec(0)
	}
	if v == 0 {
		return "0"
	}
	if top >= 1.5*3600 {
		return words.Say("time.h", words.Args{"h": words.Clock(v / 60)}).Text(w)
	}
	if math.Mod(step, 60) == 0 {
		return words.Say("time.min", words.Args{"min": words.Fixed(v/60, 0)}).Text(w)
	}
	return words.Say("time.min", words.Args{"min": words.Clock(v)}).Text(w)
}

// TimeTick is a mark on a time axis: where it stands, in seconds, and what it says.
type TimeTick struct {
	At   float64
	Text string
}

// TimeTicks are the marks of a time axis from 0 to top seconds, about n of them;
// every time axis has these. None where top is no time.
func TimeTicks(top float64, n int, w *words.Writer) []TimeTick {
	if !(top > 0) || math.IsInf(top, 1) {
		return nil
	}
	step := timeStep(top, n)
	var out []TimeTick
	for _, v := range ticks(0, top, step) {
		out = append(out, TimeTick{v, timeTick(v, step, top, w)})
	}
	return out
}

// drawTimeAxis draws the time axis at the foot of area, which spans 0 to top
// seconds; with grid, hairlines go up through it.
func drawTimeAxis(c Canvas, area Box, top float64, grid bool, w *words.Writer) {
	var lines []Seg
	f := face(11, Quiet).to(Middle)
	for _, t := range TimeTicks(top, max(2, int(area.W/90)), w) {
		x := area.X + t.At/top*area.W
		y := area.Bottom()
		if grid {
			y = area.Y
		}
		lines = append(lines, Seg{Pt{x, y}, Pt{x, area.Bottom() + 4}})
		s, g := t.Text, f
		if x+TextWidth(s, g)/2 > area.Right()+12 { // the last one must not leave the picture
			x, g.Align = area.Right()+12, End
		}
		c.Text(x, area.Bottom()+16, s, g)
	}
	c.Lines(lines, stroke(Hair, 1))
}
