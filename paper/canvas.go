package paper

import (
	"math"

	"codeberg.org/go-pdf/fpdf"

	"needlepace/picture"
)

// canvas draws pictures on a PDF page: px of the picture become k points from
// (x, y), the theme is that for print.
type canvas struct {
	f    *fpdf.Fpdf
	face *typeface
	t    *picture.Theme
	x, y float64 // pt
	k    float64 // pt a px
}

func (c *canvas) Begin(picture.Group) {}
func (c *canvas) End()                {}

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

func (c *canvas) at(x, y float64) (float64, float64) {
	return c.x + finite(x)*c.k, c.y + finite(y)*c.k
}

// fill sets the fill colour and opacity; the returned func sets opacity back.
func (c *canvas) fill(p picture.Paint) func() {
	col := c.t.Colour(p)
	c.f.SetFillColor(int(col.R), int(col.G), int(col.B))
	return c.opacity(p)
}

func (c *canvas) opacity(p picture.Paint) func() {
	if p.Opacity > 0 && p.Opacity < 1 {
		c.f.SetAlpha(p.Opacity, "Normal")
		return func() { c.f.SetAlpha(1, "Normal") }
	}
	return func() {}
}

func (c *canvas) stroke(s picture.Stroke) func() {
	col := c.t.Colour(s.Paint)
	c.f.SetDrawColor(int(col.R), int(col.G), int(col.B))
	c.f.SetLineWidth(max(finite(s.Width)*c.k, 0.1))
	c.f.SetLineCapStyle("butt")
	c.f.SetLineJoinStyle("round")
	back := c.opacity(s.Paint)
	if len(s.Dash) == 0 {
		return back
	}
	dash := make([]float64, len(s.Dash))
	for i, d := range s.Dash {
		dash[i] = finite(d) * c.k
	}
	c.f.SetDashPattern(dash, 0)
	return func() {
		c.f.SetDashPattern(nil, 0)
		back()
	}
}

// Rect fills a rectangle.
func (c *canvas) Rect(x, y, w, h float64, p picture.Paint) {
	w, h = finite(w), finite(h)
	if w <= 0 || h <= 0 {
		return
	}
	defer c.fill(p)()
	px, py := c.at(x, y)
	c.f.Rect(px, py, w*c.k, h*c.k, "F")
}

// Rects fills many rectangles of one paint.
func (c *canvas) Rects(rs []picture.Box, p picture.Paint) {
	for _, r := range rs {
		c.Rect(r.X, r.Y, r.W, r.H, p)
	}
}

// Polygon fills an area.
func (c *canvas) Polygon(pts []picture.Pt, p picture.Paint) {
	if len(pts) < 3 {
		return
	}
	defer c.fill(p)()
	out := make([]fpdf.PointType, len(pts))
	for i, q := range pts {
		out[i].X, out[i].Y = c.at(q.X, q.Y)
	}
	c.f.Polygon(out, "F")
}

// Polyline draws joined straight pieces.
func (c *canvas) Polyline(pts []picture.Pt, s picture.Stroke) {
	if len(pts) < 2 {
		return
	}
	defer c.stroke(s)()
	for i, q := range pts {
		x, y := c.at(q.X, q.Y)
		if i == 0 {
			c.f.MoveTo(x, y)
		} else {
			c.f.LineTo(x, y)
		}
	}
	c.f.DrawPath("D")
}

// Lines draws separate straight pieces.
func (c *canvas) Lines(segs []picture.Seg, s picture.Stroke) {
	if len(segs) == 0 {
		return
	}
	defer c.stroke(s)()
	for _, g := range segs {
		x, y := c.at(g.A.X, g.A.Y)
		c.f.MoveTo(x, y)
		x, y = c.at(g.B.X, g.B.Y)
		c.f.LineTo(x, y)
	}
	c.f.DrawPath("D")
}

// Threads draws stitches in their order; a stretch of one pen is one path.
func (c *canvas) Threads(t *picture.Threads) {
	if !(t.Scale > 0) {
		return
	}
	c.f.SetLineCapStyle("round")
	c.f.SetLineJoinStyle("round")
	c.f.SetLineWidth(max(finite(t.Width)*c.k, 0.1))
	open, pen := false, -1
	var x, y int32
	done := func() {
		if open {
			c.f.DrawPath("D")
			open = false
		}
	}
	for i := range t.Segs {
		s := &t.Segs[i]
		if s.X0 == s.X1 && s.Y0 == s.Y1 {
			continue
		}
		if p := int(t.Pen[i]); p != pen {
			done()
			pen = p
			col := c.t.Colour(t.Pens[p])
			c.f.SetDrawColor(int(col.R), int(col.G), int(col.B))
			open = false
		}
		if !open || s.X0 != x || s.Y0 != y {
			done()
			c.f.MoveTo(c.thread(t, s.X0, s.Y0))
		}
		c.f.LineTo(c.thread(t, s.X1, s.Y1))
		open, x, y = true, s.X1, s.Y1
	}
	done()
}

func (c *canvas) thread(t *picture.Threads, x, y int32) (float64, float64) {
	return c.at(t.X+float64(x)*t.Scale, t.Y-float64(y)*t.Scale)
}

// Text sets a line of text.
func (c *canvas) Text(x, y float64, s string, f picture.Face) {
	if s == "" {
		return
	}
	col := c.t.Colour(f.Paint)
	c.f.SetTextColor(int(col.R), int(col.G), int(col.B))
	style := ""
	if f.Bold {
		style = "B"
	}
	c.f.SetFont(family, style, max(finite(f.Size)*c.k, 0.5))
	s = c.face.printable(s)
	px, py := c.at(x, y)
	switch f.Align {
	case picture.Middle:
		px -= c.f.GetStringWidth(s) / 2
	case picture.End:
		px -= c.f.GetStringWidth(s)
	}
	c.f.Text(px, py, s)
}
