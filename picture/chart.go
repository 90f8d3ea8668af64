package picture

import (
	"math"
	"strings"

	"needlepace/words"
)

// Style is what a line, band or dot stands for; each has its own line form, so
// that colour is never needed.
type Style uint8

// The styles of a chart.
const (
	Assumed Style = iota // dashed, grey: nobody measured it
	Fitted               // solid, the accent: learned
	Plain                // solid ink
	Limit                // dotted ink: a bound, a rule of thumb, stitches ÷ speed
)

func (s Style) stroke() Stroke {
	switch s {
	case Assumed:
		return Stroke{Paint: Of(Quiet), Width: 1.6, Dash: []float64{7, 4}}
	case Fitted:
		return stroke(Accent, 2)
	case Limit:
		return Stroke{Paint: Of(Ink), Width: 1.2, Dash: []float64{1.5, 3}}
	}
	return stroke(Ink, 2)
}

// Series is a line with, where Low and High are given, a band about it; with
// Dots, its points stand alone, each with its interval as a bar.
type Series struct {
	Name      string
	Style     Style
	Dots      bool
	X, Y      []float64
	Low, High []float64 // as many as X, or none
}

// Axis is one axis of a chart. Max ≤ Min: from the data, with some air.
type Axis struct {
	Label    string // with the unit
	Min, Max float64
	FromZero bool
	Time     bool // seconds, written as times
	W        *words.Writer
}

// Flag marks a value of x with a line and words, e.g. the knee, and a band
// where it is only known to lie from Low to High.
type Flag struct {
	X         float64
	Text      string
	Low, High float64 // no band where High ≤ Low
}

// Chart is lines, bands and dots over two axes.
type Chart struct {
	Name   string
	Text   string // what it says, one sentence, also under the name
	X, Y   Axis
	Series []Series
	Flags  []Flag
	Width  float64 // px; 0 is 640
	Height float64 // px; 0 is 400
}

// Size is the size in px.
func (ch *Chart) Size() (w, h float64) {
	return sizeOr(ch.Width, 640, 240), sizeOr(ch.Height, 400, 180)
}

// Title says what the picture is.
func (ch *Chart) Title() string { return ch.Name }

// Desc reads the picture out.
func (ch *Chart) Desc() string {
	var b strings.Builder
	b.WriteString(ch.Text)
	if ch.Text != "" {
		b.WriteString(" ")
	}
	b.WriteString(words.Say("picture.against", words.Args{"y": words.Name(ch.Y.Label), "x": words.Name(ch.X.Label)}).Text(ch.X.W))
	for _, s := range ch.Series {
		b.WriteString(" " + s.Name + ".")
	}
	for _, f := range ch.Flags {
		b.WriteString(" " + f.Text + ".")
	}
	return b.String()
}

// span is the range of an axis over the values that are numbers.
func (a Axis) span(all ...[]float64) (lo, hi float64) {
	if a.Max > a.Min {
		return a.Min, a.Max
	}
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, vs := range all {
		for _, v := range vs {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	if lo > hi {
		return 0, 1
	}
	if a.FromZero {
		lo = min(lo, 0)
	}
	if hi-lo < 1e-12*max(math.Abs(hi), 1) {
		hi = lo + max(math.Abs(lo)*0.1, 1)
	}
	return lo, hi
}

func (a Axis) step(lo, hi float64, n int) float64 {
	if a.Time {
		return timeStep(hi-lo, n)
	}
	return niceStep(hi-lo, n)
}

func (a Axis) text(v, step, hi float64) string {
	if a.Time {
		return timeTick(v, step, hi, a.W)
	}
	return tickText(v, step, a.W)
}

// plane maps values to the canvas.
type plane struct {
	area           Box
	x0, x1, y0, y1 float64
}

func (p plane) x(v float64) float64 { return p.area.X + (v-p.x0)/(p.x1-p.x0)*p.area.W }
func (p plane) y(v float64) float64 { return p.area.Bottom() - (v-p.y0)/(p.y1-p.y0)*p.area.H }

// in tells whether a point is on the plane, with a hair's tolerance.
func (p plane) in(x, y float64) bool {
	ex, ey := (p.x1-p.x0)*1e-9, (p.y1-p.y0)*1e-9
	return x >= p.x0-ex && x <= p.x1+ex && y >= p.y0-ey && y <= p.y1+ey
}

const chartMargin = 16.0

// nameLine is how high the first of two lines of a name is, px.
const nameLine = 20

// heading draws a picture's name and its sentence, each in up to two lines, and gives where they end.
func heading(c Canvas, w float64, name, text string) (y float64) {
	y = chartMargin
	line := func(s string, f Face, at, high float64) {
		if s != "" {
			c.Text(chartMargin, y+at, fit(s, f, w-2*chartMargin), f)
			y += high
		}
	}
	if first, rest := breakAt(name, bold(16, Ink), w-2*chartMargin); rest != "" {
		line(first, bold(16, Ink), 13, nameLine)
		name = rest
	}
	line(name, bold(16, Ink), 13, 24)
	f := face(12.5, Quiet)
	if first, rest := breakAt(text, f, w-2*chartMargin); rest != "" {
		line(first, f, 10, 16)
		text = rest
	}
	line(text, f, 10, 22)
	return y
}

// breakAt is as many words of s as are at most width px long, and the rest of it; all
// is the rest where the first word is longer. A number goes on with its unit.
func breakAt(s string, f Face, width float64) (first, rest string) {
	if TextWidth(s, f) <= width {
		return s, ""
	}
	at := 0
	for word := range strings.SplitSeq(words.Firm(s), " ") {
		word = strings.ReplaceAll(word, "\u00a0", " ")
		if at += len(word); at == len(s) || TextWidth(s[:at], f) > width {
			break
		}
		first, rest = s[:at], s[at+1:]
		at++
	}
	if first == "" {
		return "", s
	}
	return first, rest
}

// along writes the ticks of a plane's x axis, about a tick in so many px, and
// its label under the plane. It gives the ticks' places.
func (a Axis) along(c Canvas, p plane, w, px float64) (at []float64) {
	b := p.area
	step := a.step(p.x0, p.x1, max(2, int(b.W/px)))
	for _, v := range ticks(p.x0, p.x1, step) {
		f, x, text := face(11, Quiet).to(Middle), p.x(v), a.text(v, step, p.x1)
		at = append(at, x)
		if half := TextWidth(text, f) / 2; x-half < 2 {
			f.Align, x = Start, b.X
		} else if x+half > w-2 {
			f.Align, x = End, b.Right()
		}
		c.Text(x, b.Bottom()+16, text, f)
	}
	c.Text(b.Right(), b.Bottom()+34, a.Label, face(11, Quiet).to(End))
	return at
}

// feet are short marks under a plane.
func feet(c Canvas, p plane, at []float64) {
	var marks []Seg
	for _, x := range at {
		marks = append(marks, Seg{Pt{x, p.area.Bottom()}, Pt{x, p.area.Bottom() + 4}})
	}
	c.Lines(marks, stroke(Quiet, 1))
}

// Draw draws the chart.
func (ch *Chart) Draw(c Canvas) {
	w, h := ch.Size()
	y := heading(c, w, ch.Name, ch.Text)
	y = ch.legend(c, chartMargin, y+4, w-2*chartMargin)

	var xs, ys [][]float64
	for _, s := range ch.Series {
		xs = append(xs, s.X)
		ys = append(ys, s.Y, s.Low, s.High)
	}
	x0, x1 := ch.X.span(xs...)
	y0, y1 := ch.Y.span(ys...)
	// The y axis ends on a tick, so that the highest value has a number near it.
	ystep := ch.Y.step(y0, y1, max(2, int(h/64)))
	y0, y1 = math.Floor(y0/ystep+1e-9)*ystep, math.Ceil(y1/ystep-1e-9)*ystep
	ty := ticks(y0, y1, ystep)
	tf := face(11, Quiet).to(End)
	left := 0.0
	for _, v := range ty {
		left = max(left, TextWidth(ch.Y.text(v, ystep, y1), tf))
	}
	lf := face(11, Quiet)
	y += 6
	c.Text(chartMargin, y+9, ch.Y.Label, lf)
	y += 22
	p := plane{Box{chartMargin + left + 8, y, w - 2*chartMargin - left - 8, h - y - 44}, x0, x1, y0, y1}
	if p.area.W < 20 || p.area.H < 20 {
		return
	}
	var grid []Seg
	for _, v := range ty {
		grid = append(grid, Seg{Pt{p.area.X, p.y(v)}, Pt{p.area.Right(), p.y(v)}})
		c.Text(p.area.X-8, p.y(v)+4, ch.Y.text(v, ystep, y1), tf)
	}
	ticks := ch.X.along(c, p, w, 70)
	c.Lines(grid, stroke(Hair, 1))
	feet(c, p, ticks)

	for _, f := range ch.Flags {
		if lo, hi := max(f.Low, p.x0), min(f.High, p.x1); f.High > f.Low && hi > lo {
			c.Rect(p.x(lo), p.area.Y, p.x(hi)-p.x(lo), p.area.H, Paint{Tone: Band, Opacity: 0.85})
		}
	}
	for _, s := range ch.Series {
		s.band(c, p)
	}
	for _, s := range ch.Series {
		c.Begin(Group{Class: "np-series", Title: s.Name})
		s.draw(c, p)
		c.End()
	}
	ch.flags(c, p)
}

// flags draws the marked values: a line through the plane, the words at its
// top, on the side where there is room.
func (ch *Chart) flags(c Canvas, p plane) {
	for i, f := range ch.Flags {
		if !(f.X >= p.x0 && f.X <= p.x1) {
			continue
		}
		x := p.x(f.X)
		c.Lines([]Seg{{Pt{x, p.area.Y - 4}, Pt{x, p.area.Bottom()}}}, stroke(Ink, 1))
		c.Polygon([]Pt{{x - 4, p.area.Y - 9}, {x + 4, p.area.Y - 9}, {x, p.area.Y - 3}}, Of(Ink))
		t := bold(12, Ink)
		tx := x + 8
		if tx+TextWidth(f.Text, t) > p.area.Right() {
			t.Align, tx = End, x-8
		}
		c.Text(tx, p.area.Y-4+float64(i%3)*15, f.Text, t)
	}
}

// legend names the series in a row, each with its own line form.
func (ch *Chart) legend(c Canvas, x, y, width float64) float64 {
	f := face(12, Ink)
	cx, any := x, false
	for _, s := range ch.Series {
		if s.Name == "" {
			continue
		}
		w := 30 + TextWidth(s.Name, f)
		if any && cx+w > x+width {
			cx, y = x, y+18
		}
		any = true
		mid := y + 8
		if !s.Dots && len(s.Low) > 0 {
			c.Rect(cx, mid-6, 24, 12, s.bandPaint())
		}
		if s.Dots {
			dot(c, Pt{cx + 12, mid}, s.Style)
		} else {
			c.Polyline([]Pt{{cx, mid}, {cx + 24, mid}}, s.Style.stroke())
		}
		c.Text(cx+30, mid+4, s.Name, f)
		cx += w + 18
	}
	if any {
		y += 20
	}
	return y
}

func (s Series) bandPaint() Paint {
	if s.Style == Fitted {
		return Paint{Tone: Accent, Opacity: 0.22}
	}
	return Paint{Tone: Band, Opacity: 0.85}
}

// band fills between Low and High, clipped to the plane from above and below.
func (s Series) band(c Canvas, p plane) {
	if s.Dots || len(s.Low) != len(s.X) || len(s.High) != len(s.X) {
		return
	}
	clamp := func(v float64) float64 { return min(max(v, p.y0), p.y1) }
	var up, down []Pt
	for i, x := range s.X {
		if !p.in(x, p.y0) || math.IsNaN(s.Low[i]) || math.IsNaN(s.High[i]) {
			continue
		}
		up = append(up, Pt{p.x(x), p.y(clamp(s.High[i]))})
		down = append(down, Pt{p.x(x), p.y(clamp(s.Low[i]))})
	}
	for i := len(down) - 1; i >= 0; i-- {
		up = append(up, down[i])
	}
	c.Polygon(up, s.bandPaint())
}

func (s Series) draw(c Canvas, p plane) {
	if s.Dots {
		for i, x := range s.X {
			if i >= len(s.Y) || !p.in(x, s.Y[i]) {
				continue
			}
			if i < len(s.Low) && i < len(s.High) && s.High[i] > s.Low[i] {
				lo, hi := max(s.Low[i], p.y0), min(s.High[i], p.y1)
				c.Lines([]Seg{{Pt{p.x(x), p.y(lo)}, Pt{p.x(x), p.y(hi)}}}, stroke(Ink, 1))
			}
			dot(c, Pt{p.x(x), p.y(s.Y[i])}, s.Style)
		}
		return
	}
	var line []Pt
	for i, x := range s.X {
		if i >= len(s.Y) || !p.in(x, s.Y[i]) { // a gap where there is no value
			c.Polyline(line, s.Style.stroke())
			line = nil
			continue
		}
		line = append(line, Pt{p.x(x), p.y(s.Y[i])})
	}
	c.Polyline(line, s.Style.stroke())
}

// dot is a reading: a ring for what is assumed, a disc for what is measured.
func dot(c Canvas, at Pt, s Style) {
	c.Polygon(circle(at, 4.2), Of(Ground))
	paint := Of(Ink)
	if s == Fitted {
		paint = Of(Accent)
	}
	c.Polygon(circle(at, 3.4), paint)
	if s == Assumed {
		c.Polygon(circle(at, 1.9), Of(Ground))
	}
}
