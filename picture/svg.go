package picture

import (
	"bytes"
	"encoding/xml"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// fontStack is the type of SVG pictures; a page may set its own family on the
// class np-pic.
const fontStack = "Go, 'Go Regular', 'Source Sans 3', 'DejaVu Sans', system-ui, sans-serif"

// SVG writes a picture as one well-formed SVG document, which may also stand
// inside an HTML page. It has no ids, scripts, styles or outside references.
func SVG(w io.Writer, p Picture, t *Theme) error {
	c := newSVG(p, t)
	p.Draw(c)
	c.b = append(c.b, "</svg>\n"...)
	_, err := w.Write(c.b)
	return err
}

// svgCanvas builds the document in memory; nothing in it can fail.
type svgCanvas struct {
	b []byte
	t *Theme
}

func newSVG(p Picture, t *Theme) *svgCanvas {
	c := &svgCanvas{t: t}
	w, h := p.Size()
	c.str(`<svg xmlns="http://www.w3.org/2000/svg" class="np-pic" role="img"`)
	c.nums("width height", w, h)
	c.str(` viewBox="`)
	c.put(0, 0, w, h)
	c.str(`" font-family="`)
	c.esc(fontStack)
	c.str(`" text-rendering="geometricPrecision">` + "\n")
	c.element("title", p.Title())
	c.str("\n")
	c.element("desc", p.Desc())
	c.str("\n")
	if !t.bare {
		c.Rect(0, 0, w, h, Of(Ground))
	}
	return c
}

func (c *svgCanvas) str(s string) { c.b = append(c.b, s...) }

// esc writes text with all that XML reserves or forbids replaced.
func (c *svgCanvas) esc(s string) {
	var b bytes.Buffer
	xml.EscapeText(&b, []byte(s)) // a bytes.Buffer never fails
	c.b = append(c.b, b.Bytes()...)
}

// val writes a number with at most two decimals; what is not finite is 0.
func (c *svgCanvas) val(v float64) { c.b = appendNum(c.b, v, 2) }

func appendNum(b []byte, v float64, dec int) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		v = 0
	}
	n := len(b)
	b = strconv.AppendFloat(b, v, 'f', dec, 64)
	if dec > 0 {
		for b[len(b)-1] == '0' {
			b = b[:len(b)-1]
		}
		if b[len(b)-1] == '.' {
			b = b[:len(b)-1]
		}
	}
	if string(b[n:]) == "-0" {
		b = append(b[:n], '0')
	}
	return b
}

// nums writes attributes with numbers: their names, apart by spaces, and a
// value for each.
func (c *svgCanvas) nums(names string, values ...float64) {
	i := 0
	for name := range strings.FieldsSeq(names) {
		c.str(" " + name + `="`)
		c.val(values[i])
		c.str(`"`)
		i++
	}
}

// put writes numbers behind each other, apart by spaces.
func (c *svgCanvas) put(values ...float64) {
	for i, v := range values {
		if i > 0 {
			c.str(" ")
		}
		c.val(v)
	}
}

// element writes an element that holds text alone.
func (c *svgCanvas) element(name, text string) {
	c.str("<" + name + ">")
	c.esc(text)
	c.str("</" + name + ">")
}

func (c *svgCanvas) attr(name, v string) {
	c.str(` ` + name + `="`)
	c.esc(v)
	c.str(`"`)
}

// paint writes fill or stroke with the theme's colour and, on the page, the
// role as a class: any style rule overrules a presentation attribute.
func (c *svgCanvas) paint(kind string, p Paint) {
	c.str(` ` + kind + `="` + c.t.colour(p).Hex() + `"`)
	if a := p.alpha(); a < 1 {
		c.nums(kind+"-opacity", a)
	}
	if c.t.class && p.Tone != Fixed && p.Tone != Speed && p.Tone != Heat && p.Tone < numTones {
		c.str(` class="` + kind[:1] + `-` + toneNames[p.Tone] + `"`)
	}
}

func (c *svgCanvas) stroke(s Stroke) {
	c.str(` fill="none"`)
	c.paint("stroke", s.Paint)
	c.nums("stroke-width", s.Width)
	if len(s.Dash) > 0 {
		c.str(` stroke-dasharray="`)
		c.put(s.Dash...)
		c.str(`"`)
	}
}

func (c *svgCanvas) Begin(g Group) {
	c.str("<g")
	if g.Class != "" {
		c.attr("class", g.Class)
	}
	for _, k := range slices.Sorted(maps.Keys(g.Data)) {
		c.attr("data-"+k, g.Data[k])
	}
	c.str(">")
	if g.Title != "" {
		c.element("title", g.Title)
	}
	c.str("\n")
}

func (c *svgCanvas) End() { c.str("</g>\n") }

func (c *svgCanvas) Rect(x, y, w, h float64, p Paint) {
	c.str("<rect")
	c.nums("x y width height", x, y, max(w, 0), max(h, 0))
	c.paint("fill", p)
	c.str("/>\n")
}

func (c *svgCanvas) points(pts []Pt) {
	for i, p := range pts {
		if i > 0 {
			c.str(" ")
		}
		c.val(p.X)
		c.str(",")
		c.val(p.Y)
	}
}

func (c *svgCanvas) Polygon(pts []Pt, p Paint) {
	if len(pts) < 3 {
		return
	}
	c.str(`<polygon points="`)
	c.points(pts)
	c.str(`"`)
	c.paint("fill", p)
	c.str("/>\n")
}

func (c *svgCanvas) Polyline(pts []Pt, s Stroke) {
	if len(pts) < 2 {
		return
	}
	c.str(`<polyline points="`)
	c.points(pts)
	c.str(`"`)
	c.stroke(s)
	c.str(` stroke-linejoin="round"/>` + "\n")
}

func (c *svgCanvas) Lines(segs []Seg, s Stroke) {
	if len(segs) == 0 {
		return
	}
	c.str(`<path d="`)
	for _, g := range segs {
		c.str("M")
		c.put(g.A.X, g.A.Y)
		c.str("L")
		c.put(g.B.X, g.B.Y)
	}
	c.str(`"`)
	c.stroke(s)
	c.str("/>\n")
}

func (c *svgCanvas) Rects(rs []Box, p Paint) {
	if len(rs) == 0 {
		return
	}
	c.str(`<path d="`)
	for _, r := range rs {
		c.str("M")
		c.put(r.X, r.Y)
		c.str("h")
		c.val(r.W)
		c.str("v")
		c.val(r.H)
		c.str("h")
		c.val(-r.W)
		c.str("z")
	}
	c.str(`"`)
	c.paint("fill", p)
	c.str("/>\n")
}

// Threads writes a path for each pen of a stretch, in whole units of 0.1 mm and
// relative steps: about ten bytes a stitch.
func (c *svgCanvas) Threads(t *Threads) {
	if len(t.Segs) == 0 || !(t.Scale > 0) {
		return
	}
	c.str(`<g class="np-threads" fill="none" stroke-linecap="round" stroke-linejoin="round"`)
	c.nums("stroke-width", t.Width/t.Scale)
	c.str(` transform="matrix(`)
	for i, v := range []float64{t.Scale, 0, 0, -t.Scale, t.X, t.Y} {
		if i > 0 {
			c.str(" ")
		}
		c.b = appendNum(c.b, v, 5)
	}
	c.str(")\">\n")
	type path struct {
		d    []byte
		x, y int32
	}
	pens := make([]path, len(t.Pens))
	from := 0
	for _, to := range stretches(t) {
		for i := range pens {
			pens[i] = path{d: pens[i].d[:0]}
		}
		for i := from; i < to; i++ {
			s := &t.Segs[i]
			if s.X0 == s.X1 && s.Y0 == s.Y1 {
				continue
			}
			p := &pens[t.Pen[i]]
			if len(p.d) == 0 || p.x != s.X0 || p.y != s.Y0 {
				p.d = appendStep(append(p.d, 'm'), true, s.X0-p.x, s.Y0-p.y)
				p.d = appendStep(append(p.d, 'l'), true, s.X1-s.X0, s.Y1-s.Y0)
			} else {
				p.d = appendStep(p.d, false, s.X1-s.X0, s.Y1-s.Y0)
			}
			p.x, p.y = s.X1, s.Y1
		}
		for i := range pens {
			if len(pens[i].d) == 0 {
				continue
			}
			c.str("<path")
			c.paint("stroke", t.Pens[i])
			c.str(` d="`)
			c.b = append(c.b, pens[i].d...)
			c.str("\"/>\n")
		}
		from = to
	}
	c.str("</g>\n")
}

// appendStep writes dx and dy; after the first pair of a command the sign, if
// there is one, is the separator.
func appendStep(d []byte, first bool, dx, dy int32) []byte {
	if !first && dx >= 0 {
		d = append(d, ' ')
	}
	d = strconv.AppendInt(d, int64(dx), 10)
	if dy >= 0 {
		d = append(d, ' ')
	}
	return strconv.AppendInt(d, int64(dy), 10)
}

func (c *svgCanvas) Text(x, y float64, s string, f Face) {
	if s == "" {
		return
	}
	c.str("<text")
	c.nums("x y font-size", x, y, f.Size)
	if f.Bold {
		c.str(` font-weight="600"`)
	}
	switch f.Align {
	case Middle:
		c.str(` text-anchor="middle"`)
	case End:
		c.str(` text-anchor="end"`)
	}
	c.paint("fill", f.Paint)
	c.str(">")
	c.esc(s)
	c.str("</text>\n")
}
