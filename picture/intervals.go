package picture

import (
	"math"
	"strings"

	"needlepace/words"
)

// Interval is one row: a value and the interval about it.
type Interval struct {
	Label          string
	Low, Mid, High float64
	Note           string // at the right: the value in words; "" writes Mid
	Strong         bool   // the chosen or winning row
}

// Intervals is rows of values with their intervals over one axis: machines
// compared, what a change gives.
type Intervals struct {
	Name, Text string
	Axis       Axis
	Rows       []Interval
	// Reference is a value to compare with, drawn as a line if RefText is not
	// empty.
	Reference float64
	RefText   string
	Width     float64 // px; 0 is 640
}

const (
	intervalRow     = 28.0
	intervalStacked = 46.0 // with the words in a line of their own
	intervalNote    = 0.3  // of the width, that the words at the right may take
)

// note is what stands at the right of a row.
func (iv *Intervals) note(r Interval) string {
	if r.Note == "" {
		return iv.value(r.Mid)
	}
	return r.Note
}

// row is how high a row is, and whether its words stand in a line over its interval: beside it,
// on a narrow picture, they would be cut.
func (iv *Intervals) row() (high float64, stacked bool) {
	for _, r := range iv.Rows {
		if TextWidth(iv.note(r), bold(13, Ink)) > sizeOr(iv.Width, 640, 280)*intervalNote {
			return intervalStacked, true
		}
	}
	return intervalRow, false
}

func (iv *Intervals) head() float64 {
	h := chartMargin
	if iv.Name != "" {
		h += 24
		if _, rest := breakAt(iv.Name, bold(16, Ink), sizeOr(iv.Width, 640, 280)-2*chartMargin); rest != "" {
			h += nameLine
		}
	}
	if iv.Text != "" {
		h += 22
	}
	if iv.RefText != "" {
		h += 18
	}
	return h
}

// Size is the size in px.
func (iv *Intervals) Size() (w, h float64) {
	row, _ := iv.row()
	return sizeOr(iv.Width, 640, 280), iv.head() + row*float64(len(iv.Rows)) + 52
}

// Title says what the picture is.
func (iv *Intervals) Title() string { return iv.Name }

func (iv *Intervals) value(v float64) string {
	if iv.Axis.Time {
		return words.Seconds(v).Text(iv.Axis.W)
	}
	if math.Abs(v) >= 100 {
		return words.Fixed(v, 0).Text(iv.Axis.W)
	}
	return tickText(v, 0.01, iv.Axis.W)
}

// Desc reads the picture out.
func (iv *Intervals) Desc() string {
	var b strings.Builder
	b.WriteString(iv.Text)
	for _, r := range iv.Rows {
		b.WriteString(" " + words.Say("picture.row-between", words.Args{"name": words.Name(r.Label), "mid": words.Name(iv.value(r.Mid)),
			"low": words.Name(iv.value(r.Low)), "high": words.Name(iv.value(r.High))}).Text(iv.Axis.W))
	}
	return strings.TrimSpace(b.String())
}

// Draw draws the picture.
func (iv *Intervals) Draw(c Canvas) {
	w, _ := iv.Size()
	y := heading(c, w, iv.Name, iv.Text)
	if iv.RefText != "" {
		y += 18
	}
	lf := face(13, Ink)
	nf := bold(13, Ink).to(End)
	label, note := 0.0, 0.0
	var all []float64
	notes := make([]string, len(iv.Rows))
	for i, r := range iv.Rows {
		notes[i] = iv.note(r)
		label, note = max(label, TextWidth(r.Label, lf)), max(note, TextWidth(notes[i], nf))
		all = append(all, r.Low, r.Mid, r.High)
	}
	if iv.RefText != "" {
		all = append(all, iv.Reference)
	}
	row, stacked := iv.row()
	if stacked {
		note = min(note, w*0.65)
		label = min(label, w-2*chartMargin-note-16)
	} else {
		label = min(label, w*0.35)
	}
	lo, hi := iv.Axis.span(all)
	if iv.Axis.Max <= iv.Axis.Min { // air at the ends
		d := (hi - lo) * 0.05
		hi += d
		if !iv.Axis.FromZero || lo < 0 {
			lo -= d
		}
	}
	area := Box{chartMargin + label + 16, y, w - 2*chartMargin - label - note - 32, row * float64(len(iv.Rows))}
	if stacked {
		area.X, area.W = chartMargin+5, w-2*chartMargin-10
	}
	if area.W < 40 {
		area.W = 40
	}
	p := plane{area, lo, hi, 0, 1}
	var grid []Seg
	for _, x := range iv.Axis.along(c, p, w, 75) {
		grid = append(grid, Seg{Pt{x, area.Y}, Pt{x, area.Bottom() + 4}})
	}
	c.Lines(grid, stroke(Hair, 1))
	if iv.RefText != "" && iv.Reference >= lo && iv.Reference <= hi {
		x := p.x(iv.Reference)
		c.Lines([]Seg{{Pt{x, area.Y - 4}, Pt{x, area.Bottom()}}}, Style(Limit).stroke())
		f := face(11, Ink).to(Middle)
		half := TextWidth(iv.RefText, f) / 2
		c.Text(min(max(x, chartMargin+half), w-chartMargin-half), area.Y-9, iv.RefText, f)
	}
	clamp := func(v float64) float64 { return p.x(min(max(finite(v), lo), hi)) }
	for i, r := range iv.Rows {
		mid, says := y+row*(float64(i)+0.5), y+row*(float64(i)+0.5)
		if stacked {
			says, mid = y+row*float64(i)+15, y+row*float64(i)+33
		}
		c.Begin(Group{Class: "np-row", Title: r.Label + ": " + notes[i]})
		f := lf
		f.Bold = r.Strong
		name, f := shrunk(r.Label, f, label+12)
		c.Text(chartMargin, says+4.5, name, f)
		paint := Of(Ink)
		if r.Strong {
			paint = Of(Accent)
		}
		x0, x1 := clamp(r.Low), clamp(r.High)
		if x1 > x0 {
			c.Rect(x0, mid-2.5, x1-x0, 5, Paint{Tone: paint.Tone, Opacity: 0.3})
			c.Lines([]Seg{{Pt{x0, mid - 5}, Pt{x0, mid + 5}}, {Pt{x1, mid - 5}, Pt{x1, mid + 5}}},
				Stroke{Paint: paint, Width: 1.4})
		}
		c.Polygon(circle(Pt{clamp(r.Mid), mid}, 4.5), paint)
		nf.Bold = true
		c.Text(w-chartMargin, says+4.5, fit(notes[i], nf, note+4), nf)
		c.End()
	}
}
