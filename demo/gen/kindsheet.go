package main

import (
	"bytes"
	"fmt"

	dz "needlepace/demo/digitize"
	"needlepace/picture"
	"needlepace/stitch"
)

// kindSheet is the picture of docs/kinds-of-stitches.md: each kind of stitches
// as it lies in a design of the shop, told by the recogniser.
type kindSheet struct{ panels []kindPanel }

// kindPanel is a kind, a design, and the place in it: the longest stretch of that
// kind, with what is sewn up to its end.
type kindPanel struct {
	kind  stitch.Kind
	from  string
	segs  []picture.Segment
	kinds []stitch.Kind // of each segment
	x, y  float64       // mm, of the middle
}

// Of a panel, px, and the cloth in it, mm.
const (
	panelWide, panelHigh = 300, 236
	panelHead            = 40
	clothWide, clothHigh = 12.0, 7.5
	perLine              = 3
)

// sheetOfKinds finds the places. A kind that no design of the shop has is shown
// on a piece of the kit.
func sheetOfKinds() kindSheet {
	type source struct {
		name string
		d    *stitch.Design
	}
	var from []source
	for _, draw := range drawings {
		j := draw()
		from = append(from, source{j.facts.Title, j.design()})
	}
	bean := dz.New("bean")
	bean.Bean(dz.Circle(dz.XY(0, 0), 12), 2)
	from = append(from, source{"a ring of the kit", bean.Design()})

	best := map[stitch.Kind]kindPanel{}
	most := map[stitch.Kind]int{}
	for _, s := range from {
		kinds := s.d.Kinds(3)
		for st := range stitch.Stretches(kinds) {
			if st.To-st.From <= most[st.Kind] {
				continue
			}
			most[st.Kind] = st.To - st.From
			best[st.Kind] = panelOf(s.d, kinds, st, s.name)
		}
	}
	var sheet kindSheet
	for k := range stitch.SewnKinds() {
		if p, ok := best[k]; ok && k != stitch.Unknown {
			sheet.panels = append(sheet.panels, p)
		}
	}
	return sheet
}

func panelOf(d *stitch.Design, kinds []stitch.Kind, st stitch.Stretch, name string) kindPanel {
	p := kindPanel{kind: st.Kind, from: name, segs: picture.Sewn(&stitch.Design{Records: d.Records[:st.To]}, 3)}
	for _, k := range kinds[:st.To] {
		if k != stitch.NotSewn {
			p.kinds = append(p.kinds, k)
		}
	}
	n := len(p.segs)
	mid := p.segs[max(0, n-(st.To-st.From)/2-1)]
	p.x, p.y = float64(mid.X1)/stitch.UnitsPerMM, float64(mid.Y1)/stitch.UnitsPerMM
	return p
}

// Size implements picture.Picture.
func (s kindSheet) Size() (w, h float64) {
	lines := (len(s.panels) + perLine - 1) / perLine
	return perLine*panelWide + 20, float64(lines*panelHigh + 20)
}

// Title implements picture.Picture.
func (s kindSheet) Title() string { return "Kinds of stitches" }

// Desc implements picture.Picture.
func (s kindSheet) Desc() string {
	return fmt.Sprintf("%v × %v mm of invented designs, each with the kind that it shows in its own colour, "+
		"other stitches pale.", clothWide, clothHigh)
}

// Draw implements picture.Picture.
func (s kindSheet) Draw(c picture.Canvas) {
	for i, p := range s.panels {
		p.draw(c, float64(20+i%perLine*panelWide), float64(20+i/perLine*panelHigh))
	}
}

func (p kindPanel) draw(c picture.Canvas, x, y float64) {
	c.Text(x, y+14, p.kind.Name().Text(nil), picture.Face{Size: 15, Bold: true, Paint: picture.Of(picture.Ink)})
	c.Text(x, y+31, p.from, picture.Face{Size: 12, Paint: picture.Of(picture.Quiet)})
	wide := float64(panelWide - 20)
	perMM := wide / clothWide
	x0, y0 := x, y+panelHead
	c.Rect(x0, y0, wide, clothHigh*perMM, picture.Of(picture.Cloth))
	at := func(ux, uy int32) picture.Pt {
		mx, my := float64(ux)/stitch.UnitsPerMM-p.x+clothWide/2, float64(uy)/stitch.UnitsPerMM-p.y+clothHigh/2
		return picture.Pt{X: x0 + mx*perMM, Y: y0 + clothHigh*perMM - my*perMM}
	}
	cloth := picture.Box{X: x0, Y: y0, W: wide, H: clothHigh * perMM}
	var others, own []picture.Seg
	var holes []picture.Box
	for i, g := range p.segs {
		s, ok := inside(picture.Seg{A: at(g.X0, g.Y0), B: at(g.X1, g.Y1)}, cloth)
		if !ok {
			continue
		}
		if p.kinds[i] != p.kind {
			others = append(others, s)
			continue
		}
		own = append(own, s)
		if b := at(g.X1, g.Y1); b == s.B {
			holes = append(holes, picture.Box{X: b.X - 1.2, Y: b.Y - 1.2, W: 2.4, H: 2.4})
		}
	}
	c.Lines(others, picture.Stroke{Paint: picture.Solid(picture.KindRGB(stitch.NotSewn)), Width: 1})
	c.Lines(own, picture.Stroke{Paint: picture.Solid(picture.KindRGB(p.kind)), Width: 1.6})
	c.Rects(holes, picture.Of(picture.Ink))
}

// inside is the part of a line that lies in a box.
func inside(s picture.Seg, b picture.Box) (picture.Seg, bool) {
	dx, dy := s.B.X-s.A.X, s.B.Y-s.A.Y
	lo, hi := 0.0, 1.0
	for _, e := range [4][2]float64{
		{-dx, s.A.X - b.X}, {dx, b.Right() - s.A.X}, {-dy, s.A.Y - b.Y}, {dy, b.Bottom() - s.A.Y}} {
		switch {
		case e[0] == 0 && e[1] < 0:
			return s, false
		case e[0] < 0:
			lo = max(lo, e[1]/e[0])
		case e[0] > 0:
			hi = min(hi, e[1]/e[0])
		}
	}
	if lo > hi {
		return s, false
	}
	out := s
	if lo > 0 {
		out.A = picture.Pt{X: s.A.X + lo*dx, Y: s.A.Y + lo*dy}
	}
	if hi < 1 {
		out.B = picture.Pt{X: s.A.X + hi*dx, Y: s.A.Y + hi*dy}
	}
	return out, true
}

// kindsPicture is the sheet as SVG.
func kindsPicture() ([]byte, error) {
	var b bytes.Buffer
	err := picture.SVG(&b, sheetOfKinds(), picture.Light())
	return b.Bytes(), err
}
