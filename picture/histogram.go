package picture

import (
	"fmt"
	"math"
	"slices"

	"needlepace/words"
)

// Histogram is how often a simulation, or a set of runs, gave which value.
type Histogram struct {
	Name, Text string
	Axis       Axis // of the values
	Values     []float64
	// Low and High bound an interval to shade, with words; both 0 for none.
	Low, High float64
	Between   string // e.g. "90 % of shifts"
	Flags     []Flag
	Width     float64 // px; 0 is 640
	Height    float64 // px; 0 is 300
}

// Size is the size in px.
func (hg *Histogram) Size() (w, h float64) {
	w, h = hg.Width, hg.Height
	if !(w > 0) {
		w = 640
	}
	if !(h > 0) {
		h = 300
	}
	return min(max(w, 240), 8000), min(max(h, 160), 8000)
}

// Title says what the picture is.
func (hg *Histogram) Title() string { return hg.Name }

// Desc reads the picture out.
func (hg *Histogram) Desc() string {
	s := hg.Text
	v := sortedFinite(hg.Values)
	if len(v) == 0 {
		return s + " No values."
	}
	say := func(x float64) string {
		if hg.Axis.Time {
			return words.Seconds(x).Text(nil)
		}
		return tickText(x, niceStep(v[len(v)-1]-v[0], 100))
	}
	s += fmt.Sprintf(" %s from %s to %s, half of them below %s.", words.Count(len(v), "value").Text(nil), say(v[0]),
		say(v[len(v)-1]), say(v[len(v)/2]))
	if hg.Between != "" && hg.High > hg.Low {
		s += fmt.Sprintf(" %s between %s and %s.", hg.Between, say(hg.Low), say(hg.High))
	}
	return s
}

func sortedFinite(vs []float64) []float64 {
	out := make([]float64, 0, len(vs))
	for _, v := range vs {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			out = append(out, v)
		}
	}
	slices.Sort(out)
	return out
}

// bins are counts in equal classes whose limits are round numbers. The width is
// that of Freedman and Diaconis (1981), 2·IQR/∛n, taken up to a round number;
// whole numbers get classes of whole numbers.
func bins(sorted []float64) (from, width float64, counts []int) {
	n := len(sorted)
	lo, hi := sorted[0], sorted[n-1]
	iqr := sorted[n*3/4] - sorted[n/4]
	raw := 2 * iqr / math.Cbrt(float64(n))
	if !(raw > 0) {
		raw = (hi - lo) / 10
	}
	raw = max(raw, (hi-lo)/60)
	if !(raw > 0) {
		raw = max(math.Abs(lo)*0.01, 1)
	}
	width = niceStep(raw, 1)
	whole := true
	for _, v := range sorted {
		whole = whole && v == math.Round(v)
	}
	if whole {
		width = max(width, 1)
	}
	from = math.Floor(lo/width) * width
	counts = make([]int, int((hi-from)/width)+1)
	for _, v := range sorted {
		counts[min(int((v-from)/width), len(counts)-1)]++
	}
	return from, width, counts
}

// Draw draws the picture.
func (hg *Histogram) Draw(c Canvas) {
	w, h := hg.Size()
	y := chartMargin
	if hg.Name != "" {
		f := Face{Size: 16, Bold: true, Paint: Of(Ink)}
		c.Text(chartMargin, y+13, fit(hg.Name, f, w-2*chartMargin), f)
		y += 24
	}
	if hg.Text != "" {
		f := Face{Size: 12.5, Paint: Of(Quiet)}
		c.Text(chartMargin, y+10, fit(hg.Text, f, w-2*chartMargin), f)
		y += 22
	}
	y += 28
	area := Box{chartMargin, y, w - 2*chartMargin, h - y - 44}
	v := sortedFinite(hg.Values)
	if len(v) == 0 || area.H < 20 {
		c.Text(w/2, y+area.H/2, "no values", Face{Size: 13, Align: Middle, Paint: Of(Quiet)})
		return
	}
	from, width, counts := bins(v)
	x0, x1 := from, from+width*float64(len(counts))
	if hg.Axis.Max > hg.Axis.Min {
		x0, x1 = hg.Axis.Min, hg.Axis.Max
	}
	most := slices.Max(counts)
	p := plane{area, x0, x1, 0, float64(most)}
	inside := hg.High > hg.Low
	var in, out []Box
	for i, n := range counts {
		a, b := from+width*float64(i), from+width*float64(i+1)
		if n == 0 || b <= x0 || a >= x1 {
			continue
		}
		box := Box{p.x(a) + 0.5, p.y(float64(n)), p.x(b) - p.x(a) - 1, area.Bottom() - p.y(float64(n))}
		if mid := (a + b) / 2; inside && (mid < hg.Low || mid > hg.High) {
			out = append(out, box)
		} else {
			in = append(in, box)
		}
	}
	// Outside the interval the bars are pale: lightness, not hue.
	c.Rects(out, Paint{Tone: Accent, Opacity: 0.35})
	c.Rects(in, Paint{Tone: Accent, Opacity: 0.85})
	c.Lines([]Seg{{Pt{area.X, area.Bottom()}, Pt{area.Right(), area.Bottom()}}}, Stroke{Paint: Of(Quiet), Width: 1})
	step := hg.Axis.step(x0, x1, max(2, int(area.W/75)))
	var marks []Seg
	for _, t := range ticks(x0, x1, step) {
		marks = append(marks, Seg{Pt{p.x(t), area.Bottom()}, Pt{p.x(t), area.Bottom() + 4}})
		a, x := Middle, p.x(t)
		half := TextWidth(hg.Axis.text(t, step, x1), Face{Size: 11}) / 2
		if x-half < 2 {
			a, x = Start, area.X
		} else if x+half > w-2 {
			a, x = End, area.Right()
		}
		c.Text(x, area.Bottom()+16, hg.Axis.text(t, step, x1), Face{Size: 11, Align: a, Paint: Of(Quiet)})
	}
	c.Lines(marks, Stroke{Paint: Of(Quiet), Width: 1})
	c.Text(area.Right(), area.Bottom()+34, hg.Axis.Label, Face{Size: 11, Align: End, Paint: Of(Quiet)})
	if inside && hg.Between != "" {
		a, b := p.x(max(hg.Low, x0)), p.x(min(hg.High, x1))
		ty := area.Y - 8
		s := Stroke{Paint: Of(Ink), Width: 1}
		c.Lines([]Seg{{Pt{a, ty}, Pt{b, ty}}, {Pt{a, ty - 3}, Pt{a, ty + 3}}, {Pt{b, ty - 3}, Pt{b, ty + 3}}}, s)
		f := Face{Size: 11, Align: Middle, Paint: Of(Ink)}
		half := TextWidth(hg.Between, f) / 2
		c.Text(min(max((a+b)/2, chartMargin+half), w-chartMargin-half), ty-6, hg.Between, f)
	}
	(&Chart{Flags: hg.Flags}).flags(c, p)
}
