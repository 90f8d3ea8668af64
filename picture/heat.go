package picture

import (
	"math"
	"strconv"

	"needlepace/words"
)

// Grid is a quantity on square cells: Values[iy·NX + ix] belongs to the cell
// whose lower left corner is (X0 + ix·Cell, Y0 + iy·Cell), in mm, y up.
type Grid struct {
	X0, Y0, Cell float64
	NX, NY       int
	Values       []float32
}

// HeatMap shows where needle penetrations lie thick.
type HeatMap struct {
	Name  string
	Segs  []Segment // drawn thin under the heat, to find one's place
	Grid  Grid      // penetrations per mm²
	Limit float64   // cells above it are ringed; 0 for none
	Width float64   // px; 0 is 640
}

const heatSteps = 8

func (m *HeatMap) most() float64 {
	most := 0.0
	for _, v := range m.Grid.Values {
		if f := float64(v); f > most && !math.IsInf(f, 1) {
			most = f
		}
	}
	return max(most, m.Limit)
}

// step is the width of one class of the scale, per mm².
func (m *HeatMap) step() float64 {
	return max(niceStep(m.most(), heatSteps), 0.1)
}

func (m *HeatMap) hot() int {
	n := 0
	for _, v := range m.Grid.Values {
		if m.Limit > 0 && float64(v) > m.Limit {
			n++
		}
	}
	return n
}

// Size is the size in px.
func (m *HeatMap) Size() (w, h float64) {
	w, h = clothSize(m.Segs, m.Width, 0, 640)
	return w, h + 56
}

// Title says what the picture is.
func (m *HeatMap) Title() string {
	if m.Name == "" {
		return "Needle penetrations per mm²"
	}
	return m.Name + ": needle penetrations per mm²"
}

// Desc reads the picture out.
func (m *HeatMap) Desc() string {
	if m.Limit > 0 {
		return words.Say("picture.heat-over", words.Args{
			"cells": words.Count(m.hot(), "cell"), "side": words.Figure(m.Grid.Cell), "limit": words.Figure(m.Limit),
		}).Text(nil)
	}
	return words.Say("picture.heat", words.Args{
		"side": words.Figure(m.Grid.Cell), "most": words.Fixed(m.most(), 1),
	}).Text(nil)
}

// Draw draws the picture.
func (m *HeatMap) Draw(c Canvas) {
	w, h := clothSize(m.Segs, m.Width, 0, 640)
	cloth := Box{0, 0, w, h}
	c.Rect(0, 0, w, h, Of(Cloth))
	b, ok := extent(m.Segs)
	if !ok {
		return
	}
	g := m.Grid
	p := fitDesign(b, onCloth(cloth, 22), maxScale)
	step := m.step()
	classes := int(math.Ceil(m.most()/step - 1e-9))
	classes = min(max(classes, 1), heatSteps+2)
	boxes := make([][]Box, classes)
	var rings []Seg
	hotAt := func(ix, iy int) bool {
		return m.Limit > 0 && ix >= 0 && iy >= 0 && ix < g.NX && iy < g.NY && float64(g.Values[iy*g.NX+ix]) > m.Limit
	}
	class := func(v float32) int { return min(int(math.Ceil(float64(v)/step-1e-9)), classes) } // 0: empty
	if len(g.Values) >= g.NX*g.NY {
		for iy := 0; iy < g.NY; iy++ {
			for ix := 0; ix < g.NX; {
				k := class(g.Values[iy*g.NX+ix])
				to := ix + 1
				for to < g.NX && class(g.Values[iy*g.NX+to]) == k {
					to++
				}
				if k > 0 {
					a := p.at(g.X0+float64(ix)*g.Cell, g.Y0+float64(iy+1)*g.Cell)
					boxes[k-1] = append(boxes[k-1], Box{a.X, a.Y, float64(to-ix) * g.Cell * p.k, g.Cell * p.k})
				}
				ix = to
			}
			for ix := 0; ix < g.NX; ix++ {
				if !hotAt(ix, iy) {
					continue
				}
				a := p.at(g.X0+float64(ix)*g.Cell, g.Y0+float64(iy)*g.Cell)
				z := p.at(g.X0+float64(ix+1)*g.Cell, g.Y0+float64(iy+1)*g.Cell)
				if !hotAt(ix-1, iy) {
					rings = append(rings, Seg{Pt{a.X, a.Y}, Pt{a.X, z.Y}})
				}
				if !hotAt(ix+1, iy) {
					rings = append(rings, Seg{Pt{z.X, a.Y}, Pt{z.X, z.Y}})
				}
				if !hotAt(ix, iy-1) {
					rings = append(rings, Seg{Pt{a.X, a.Y}, Pt{z.X, a.Y}})
				}
				if !hotAt(ix, iy+1) {
					rings = append(rings, Seg{Pt{a.X, z.Y}, Pt{z.X, z.Y}})
				}
			}
		}
	}
	c.Threads(&Threads{Segs: m.Segs, Pen: make([]uint16, len(m.Segs)), X: p.ox, Y: p.oy, Scale: p.k / 10,
		Width: threadWidth(p.k, 0.3),
		Pens:  []Paint{{Tone: Fixed, RGB: RGB{0x96, 0xa1, 0xb0}}}})
	level := func(k int) Paint { return Paint{Tone: Heat, Level: (float64(k) + 0.6) / float64(classes)} }
	for k, bs := range boxes {
		c.Rects(bs, level(k))
	}
	c.Lines(rings, Stroke{Paint: Solid(clothInk), Width: 1.6})
	scaleBar(c, cloth, p.k, nil)

	// The scale, in its classes.
	lw := min(300, w*0.6)
	x, y := w-lw-8, h+8
	c.Text(x, y+10, "penetrations per mm²", face(11, Quiet))
	bw := lw / float64(classes)
	for k := range classes {
		c.Rect(x+float64(k)*bw, y+16, bw-1, 10, level(k))
		c.Text(x+float64(k+1)*bw-1, y+40, tickText(float64(k+1)*step, step, nil), face(11, Ink).to(End))
	}
	if m.Limit > 0 {
		c.Polyline([]Pt{{9, y + 6}, {19, y + 6}, {19, y + 16}, {9, y + 16}, {9, y + 6}},
			stroke(Ink, 1.6))
		f := face(11, Ink)
		c.Text(26, y+15, fit("above "+strconv.FormatFloat(m.Limit, 'g', 4, 64)+" per mm²", f, x-34), f)
	}
}
