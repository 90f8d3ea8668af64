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
	return sizeOr(hg.Width, 640, 240), sizeOr(hg.Height, 300, 160)
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
		return tickText(x, niceStep(v[len(v)-1]-v[0], 100), nil)
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
	y := heading(c, w, hg.Name, hg.Text)
	y += 28
	area := Box{chartMargin, y, w - 2*chartMargin, h - y - 44}
	v := sortedFinite(hg.Values)
	if len(v) == 0 || area.H < 20 {
		c.Text(w/2, y+area.H/2, "no values", face(13, Quiet).to(Middle))
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
	c.Lines([]Seg{{Pt{area.X, area.Bottom()}, Pt{area.Right(), area.Bottom()}}}, stroke(Quiet, 1))
	feet(c, p, hg.Axis.along(c, p, w, 75))
	if inside && hg.Between != "" {
		a, b := p.x(max(hg.Low, x0)), p.x(min(hg.High, x1))
		ty := area.Y - 8
		whisker(c, a, b, ty, 3, stroke(Ink, 1))
		f := face(11, Ink).to(Middle)
		half := TextWidth(hg.Between, f) / 2
		c.Text(min(max((a+b)/2, chartMargin+half), w-chartMargin-half), ty-6, hg.Between, f)
	}
	(&Chart{Flags: hg.Flags}).flags(c, p)
}
