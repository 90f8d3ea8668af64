package picture

import (
	"strings"

	"needlepace/words"
)

// Versus draws several designs, each run on several machines: a group of strips
// a design, on a time axis of its own, with the interval as a band under the
// strip and one legend for all.
type Versus struct {
	Name   string
	Groups []VersusGroup
	Band   string             // what the band says, in the legend; empty: no band
	Width  float64            // px; 0 is 800
	Most   float64            // px high at the most; 0: as high as needed
	More   func(n int) string // says that n groups are left out
}

// VersusGroup is one design on the machines.
type VersusGroup struct {
	Name string
	Rows []StripRow
}

const (
	versusHead  = 26.0
	versusRow   = 26.0
	versusStrip = 14.0
	versusBand  = 5.0
)

func (v *Versus) width() float64 {
	return sizeOr(v.Width, 800, 280)
}

func (v *Versus) legend() partLegend {
	var s Strips
	for _, g := range v.Groups {
		s.Rows = append(s.Rows, g.Rows...)
	}
	return partLegend{keys: s.keys(), width: v.width() - 2*stripMargin}
}

func (v *Versus) head() float64 {
	if v.Name == "" {
		return stripMargin
	}
	return stripMargin + 26
}

func (v *Versus) foot() float64 {
	h := v.legend().height() + stripMargin + 8
	if v.Band != "" {
		h += legendLine
	}
	return h
}

func (g *VersusGroup) height() float64 { return versusHead + versusRow*float64(len(g.Rows)) }

// shown is the groups there is room for.
func (v *Versus) shown() (groups []VersusGroup, left int) {
	h := v.head() + v.foot()
	for i := range v.Groups {
		h += v.Groups[i].height()
		if v.Most > 0 && h > v.Most && i > 0 {
			for i > 1 && h-v.Groups[i].height()+versusHead > v.Most { // room for the line that says so
				i--
				h -= v.Groups[i].height()
			}
			return v.Groups[:i], len(v.Groups) - i
		}
	}
	return v.Groups, 0
}

// Size is the size in px.
func (v *Versus) Size() (w, h float64) {
	groups, left := v.shown()
	h = v.head() + v.foot()
	for i := range groups {
		h += groups[i].height()
	}
	if left > 0 {
		h += versusHead
	}
	return v.width(), h
}

// Title says what the picture is.
func (v *Versus) Title() string { return v.Name }

// Desc reads the strips out.
func (v *Versus) Desc() string {
	var b strings.Builder
	groups, _ := v.shown()
	for _, g := range groups {
		b.WriteString(g.Name + ". " + (&Strips{Rows: g.Rows}).Desc() + " ")
	}
	return strings.TrimSpace(b.String())
}

// Draw draws the groups.
func (v *Versus) Draw(c Canvas) {
	w := v.width()
	y := stripMargin
	if v.Name != "" {
		f := bold(16, Ink)
		c.Text(stripMargin, y+13, fit(v.Name, f, w-2*stripMargin), f)
		y += 26
	}
	groups, left := v.shown()
	labelFace, timeFace := face(12.5, Ink), bold(12.5, Ink)
	label, times := 0.0, 0.0
	for _, g := range groups {
		for _, r := range g.Rows {
			label = max(label, TextWidth(r.Label, labelFace))
			times = max(times, TextWidth(words.Seconds(total(r.Parts)).Text(nil), timeFace))
		}
	}
	label = min(label, w*.3) + 12
	area := Box{stripMargin + label, 0, max(w-2*stripMargin-label-times-10, 40), versusStrip}
	for _, g := range groups {
		f := bold(13, Ink)
		c.Text(stripMargin, y+17, fit(g.Name, f, w-2*stripMargin), f)
		y += versusHead
		top := (&Strips{Rows: g.Rows}).max()
		for _, r := range g.Rows {
			c.Begin(Group{Class: "np-strip", Title: r.Label})
			c.Text(stripMargin, y+12, fit(r.Label, labelFace, label-8), labelFace)
			area.Y = y
			drawStrip(c, area, r.Parts, top, 0, nil)
			v.band(c, area, r.Low, r.High, top)
			c.Text(area.Right()+10, y+12, words.Seconds(total(r.Parts)).Text(nil), timeFace)
			c.End()
			y += versusRow
		}
	}
	if left > 0 && v.More != nil {
		c.Text(stripMargin, y+15, v.More(left), face(12, Quiet))
		y += versusHead
	}
	y += 8
	l := v.legend()
	l.draw(c, stripMargin, y)
	if y += l.height(); v.Band != "" {
		c.Rect(stripMargin, y+8, 18, versusBand, Of(Accent))
		c.Text(stripMargin+24, y+13, v.Band, legendFace)
	}
}

// band is the interval, under the strip.
func (v *Versus) band(c Canvas, area Box, low, high, top float64) {
	if v.Band == "" || !(high > low) || !(low >= 0) {
		return
	}
	px := func(s float64) float64 { return area.X + min(s/top, 1)*area.W }
	c.Rect(px(low), area.Bottom()+1.5, max(px(high)-px(low), 1.5), versusBand, Of(Accent))
}
