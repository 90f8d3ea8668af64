package picture

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// maxPixels bounds an image: 64 million pixels are 256 MB.
const maxPixels = 64 << 20

// PNG writes a picture as a PNG image with scale image pixels to a px (1 is
// 96 dpi, 2 is for fine screens, 3.125 is 300 dpi; 0 is taken as 2). It
// refuses an image of more than 64 million pixels.
func PNG(w io.Writer, p Picture, t *Theme, scale float64) error {
	img, err := Image(p, t, scale)
	if err != nil {
		return err
	}
	enc := png.Encoder{CompressionLevel: png.BestSpeed, BufferPool: &packers}
	return enc.Encode(w, img)
}

// packers are what images are packed with: a megabyte each, used again.
var packers packerPool

type packerPool struct{ sync.Pool }

func (p *packerPool) Get() *png.EncoderBuffer {
	b, _ := p.Pool.Get().(*png.EncoderBuffer) // nil: a new one is made
	return b
}

func (p *packerPool) Put(b *png.EncoderBuffer) { p.Pool.Put(b) }

// Image draws a picture as an opaque image; scale as for PNG.
func Image(p Picture, t *Theme, scale float64) (*image.RGBA, error) {
	if scale == 0 {
		scale = 2
	}
	w, h := p.Size()
	pw, ph := math.Ceil(w*scale), math.Ceil(h*scale)
	if !(pw >= 1 && ph >= 1 && pw*ph <= maxPixels) {
		return nil, fmt.Errorf("an image of %.0f by %.0f pixels cannot be made; choose a smaller scale or "+
			"size", pw, ph)
	}
	c := &rasterCanvas{
		img:   image.NewRGBA(image.Rect(0, 0, int(pw), int(ph))),
		t:     t,
		k:     scale,
		faces: map[faceKey]font.Face{},
	}
	draw.Draw(c.img, c.img.Rect, image.NewUniform(rgba(t.Of(Ground))), image.Point{}, draw.Src)
	p.Draw(c)
	return c.img, nil
}

func rgba(c RGB) color.RGBA { return color.RGBA{c.R, c.G, c.B, 255} }

// rasterCanvas draws on an opaque image. Colours are mixed in sRGB, as SVG
// viewers do.
type rasterCanvas struct {
	img   *image.RGBA
	t     *Theme
	k     float64 // image pixels to a px
	ras   vector.Rasterizer
	faces map[faceKey]font.Face
}

func (c *rasterCanvas) Begin(Group) {}
func (c *rasterCanvas) End()        {}

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// Rect fills with exact coverage at the sides, so that thin parts of a strip
// keep their true share.
func (c *rasterCanvas) Rect(x, y, w, h float64, p Paint) {
	x0, y0 := finite(x)*c.k, finite(y)*c.k
	x1, y1 := x0+finite(w)*c.k, y0+finite(h)*c.k
	b := c.img.Rect
	x0, x1 = max(x0, 0), min(x1, float64(b.Max.X))
	y0, y1 = max(y0, 0), min(y1, float64(b.Max.Y))
	if x1 <= x0 || y1 <= y0 {
		return
	}
	col, alpha := c.t.colour(p), p.alpha()
	cover := func(i int, lo, hi float64) float64 {
		return min(float64(i+1), hi) - max(float64(i), lo)
	}
	for py := int(y0); py < int(math.Ceil(y1)); py++ {
		cy := cover(py, y0, y1) * alpha
		row := c.img.Pix[c.img.PixOffset(0, py):]
		for px := int(x0); px < int(math.Ceil(x1)); px++ {
			blend(row[px*4:], col, cover(px, x0, x1)*cy)
		}
	}
}

func (c *rasterCanvas) Rects(rs []Box, p Paint) {
	for _, r := range rs {
		fillBox(c, r, p)
	}
}

// blend mixes a share of col into the pixel at pix (opaque).
func blend(pix []uint8, col RGB, share float64) {
	a := uint32(share*256 + 0.5)
	if a >= 256 {
		pix[0], pix[1], pix[2] = col.R, col.G, col.B
		return
	}
	q := 256 - a
	pix[0] = uint8((uint32(pix[0])*q + uint32(col.R)*a + 128) >> 8)
	pix[1] = uint8((uint32(pix[1])*q + uint32(col.G)*a + 128) >> 8)
	pix[2] = uint8((uint32(pix[2])*q + uint32(col.B)*a + 128) >> 8)
}

func (c *rasterCanvas) Polygon(pts []Pt, p Paint) {
	if len(pts) < 3 {
		return
	}
	// Work in the polygon's own box: the rasterizer's cost is its area.
	lo, hi := Pt{math.Inf(1), math.Inf(1)}, Pt{math.Inf(-1), math.Inf(-1)}
	w, h := float64(c.img.Rect.Max.X), float64(c.img.Rect.Max.Y)
	at := func(q Pt) Pt { // far outside is as good as just outside
		return Pt{min(max(finite(q.X)*c.k, -w), 2*w), min(max(finite(q.Y)*c.k, -h), 2*h)}
	}
	for _, q := range pts {
		q = at(q)
		lo.X, lo.Y = min(lo.X, q.X), min(lo.Y, q.Y)
		hi.X, hi.Y = max(hi.X, q.X), max(hi.Y, q.Y)
	}
	r := image.Rect(int(math.Floor(lo.X)), int(math.Floor(lo.Y)), int(math.Ceil(hi.X)), int(math.Ceil(hi.Y)))
	if r.Empty() {
		return
	}
	c.ras.Reset(r.Dx(), r.Dy())
	for i, q := range pts {
		q = at(q)
		x, y := float32(q.X-float64(r.Min.X)), float32(q.Y-float64(r.Min.Y))
		if i == 0 {
			c.ras.MoveTo(x, y)
		} else {
			c.ras.LineTo(x, y)
		}
	}
	c.ras.ClosePath()
	col := c.t.colour(p)
	a := p.alpha()
	src := image.NewUniform(color.NRGBA{col.R, col.G, col.B, uint8(math.Round(a * 255))})
	c.ras.Draw(c.img, r, src, image.Point{})
}

func (c *rasterCanvas) Polyline(pts []Pt, s Stroke) {
	col, a := c.t.colour(s.Paint), s.Paint.alpha()
	hw := s.Width * c.k / 2
	if len(s.Dash) == 0 {
		for i := 1; i < len(pts); i++ {
			c.line(pts[i-1], pts[i], hw, col, a)
		}
		return
	}
	dash(pts, s.Dash, func(p, q Pt) { c.line(p, q, hw, col, a) })
}

func (c *rasterCanvas) Lines(segs []Seg, s Stroke) {
	col, a := c.t.colour(s.Paint), s.Paint.alpha()
	hw := s.Width * c.k / 2
	for _, g := range segs {
		if len(s.Dash) > 0 {
			dash([]Pt{g.A, g.B}, s.Dash, func(p, q Pt) { c.line(p, q, hw, col, a) })
			continue
		}
		c.line(g.A, g.B, hw, col, a)
	}
}

// dash cuts a polyline into the pieces that are drawn.
func dash(pts []Pt, pattern []float64, draw func(p, q Pt)) {
	sum := 0.0
	for _, d := range pattern {
		sum += d
	}
	if !(sum > 0) {
		return
	}
	k, left := 0, pattern[0]
	for i := 1; i < len(pts); i++ {
		p, q := pts[i-1], pts[i]
		length := math.Hypot(q.X-p.X, q.Y-p.Y)
		if !(length > 0) || length > 1e6 {
			continue
		}
		for at := 0.0; at < length; {
			step := min(left, length-at)
			if k%2 == 0 {
				f, g := at/length, (at+step)/length
				draw(Pt{p.X + (q.X-p.X)*f, p.Y + (q.Y-p.Y)*f}, Pt{p.X + (q.X-p.X)*g, p.Y + (q.Y-p.Y)*g})
			}
			at += step
			if left -= step; left <= 1e-9 {
				k++
				left = pattern[k%len(pattern)]
				if left <= 0 {
					left = 1e-3
				}
			}
		}
	}
}

// line draws a straight piece of half width hw (image pixels). A horizontal or
// vertical one is a rectangle with flat ends; any other has round ends.
func (c *rasterCanvas) line(p, q Pt, hw float64, col RGB, alpha float64) {
	if p.X == q.X || p.Y == q.Y {
		h := hw / c.k
		x0, x1 := min(p.X, q.X), max(p.X, q.X)
		y0, y1 := min(p.Y, q.Y), max(p.Y, q.Y)
		if p.X == q.X {
			x0, x1 = x0-h, x1+h
		} else {
			y0, y1 = y0-h, y1+h
		}
		c.Rect(x0, y0, x1-x0, y1-y0, Paint{Tone: Fixed, RGB: col, Opacity: alpha})
		return
	}
	c.capsule(finite(p.X)*c.k, finite(p.Y)*c.k, finite(q.X)*c.k, finite(q.Y)*c.k, hw, col, alpha)
}

// capsule draws a line with round ends by distance: a pixel's coverage is how
// far its centre lies inside the outline, from −½ to ½. Lines are drawn one by
// one, so later stitches cover earlier ones, and the cost is the length of the
// line and not the size of the image.
func (c *rasterCanvas) capsule(x0, y0, x1, y1, hw float64, col RGB, alpha float64) {
	if hw < 0.5 { // thinner than a pixel: one pixel wide, fainter
		alpha *= hw / 0.5
		hw = 0.5
	}
	r := hw + 0.5
	w, h := c.img.Rect.Max.X, c.img.Rect.Max.Y
	top, bottom := max(0, int(math.Floor(min(y0, y1)-r))), min(h-1, int(math.Ceil(max(y0, y1)+r)))
	if top > bottom || max(x0, x1)+r < 0 || min(x0, x1)-r > float64(w) {
		return
	}
	dx, dy := x1-x0, y1-y0
	l2 := dx*dx + dy*dy
	inv := 0.0
	if l2 > 0 {
		inv = 1 / l2
	}
	left, right := min(x0, x1)-r, max(x0, x1)+r
	// Along a row the line's own span is y/slope, widened by r over the cosine.
	wide := math.Inf(1)
	if dy != 0 {
		wide = r * math.Sqrt(l2) / math.Abs(dy)
	}
	for py := top; py <= bottom; py++ {
		cy := float64(py) + 0.5
		lo, hi := left, right
		if dy != 0 {
			mid := x0 + (cy-y0)*dx/dy
			// Only the line between its ends counts; the round ends stay within r of them.
			lo, hi = max(lo, mid-wide), min(hi, mid+wide)
		}
		a, b := max(0, int(math.Floor(lo-0.5))), min(w-1, int(math.Ceil(hi)))
		row := c.img.Pix[py*c.img.Stride:]
		for px := a; px <= b; px++ {
			ex, ey := float64(px)+0.5-x0, cy-y0
			t := (ex*dx + ey*dy) * inv
			t = min(max(t, 0), 1)
			ex -= t * dx
			ey -= t * dy
			d2 := ex*ex + ey*ey
			if d2 >= r*r {
				continue
			}
			cov := 1.0
			if in := hw - 0.5; in <= 0 || d2 > in*in {
				cov = min(r-math.Sqrt(d2), 1)
			}
			blend(row[px*4:px*4+4], col, cov*alpha)
		}
	}
}

// Threads draws the stitches in their order.
func (c *rasterCanvas) Threads(t *Threads) {
	cols := make([]RGB, len(t.Pens))
	for i, p := range t.Pens {
		cols[i] = c.t.colour(p)
	}
	k := t.Scale * c.k
	ox, oy := t.X*c.k, t.Y*c.k
	hw := t.Width * c.k / 2
	for i := range t.Segs {
		s := &t.Segs[i]
		if s.X0 == s.X1 && s.Y0 == s.Y1 {
			continue
		}
		pen := t.Pen[i]
		c.capsule(ox+float64(s.X0)*k, oy-float64(s.Y0)*k, ox+float64(s.X1)*k, oy-float64(s.Y1)*k, hw, cols[pen],
			t.Pens[pen].alpha())
	}
}

func (c *rasterCanvas) Text(x, y float64, s string, f Face) {
	if s == "" {
		return
	}
	key := faceKey{f.Size * c.k, f.Bold}
	face := c.faces[key]
	if face == nil {
		face = newFace(key)
		c.faces[key] = face
	}
	d := font.Drawer{Dst: c.img, Src: image.NewUniform(rgba(c.t.colour(f.Paint))), Face: face}
	switch f.Align {
	case Middle:
		x -= TextWidth(s, f) / 2
	case End:
		x -= TextWidth(s, f)
	}
	d.Dot = fixed.Point26_6{X: fixed.Int26_6(math.Round(finite(x) * c.k * 64)),
		Y: fixed.Int26_6(math.Round(finite(y) * c.k * 64))}
	d.DrawString(s)
}
