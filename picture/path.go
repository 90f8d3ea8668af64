package picture

import (
	"math"

	"needlepace/words"
)

// Path is a design in pale thread with the ways that the needle goes without
// thread drawn strong: what a better order of sewing makes shorter.
type Path struct {
	Name  string
	Segs  []Segment
	Width float64 // px; 0 is 720
	W     *words.Writer
}

// ways are the moves between places where the thread was cut, in units of
// 0.1 mm: a segment that is a point begins anew (see Sewn).
func (p *Path) ways() (out []Segment) {
	for i := 1; i < len(p.Segs); i++ {
		last, s := p.Segs[i-1], p.Segs[i]
		if s.X0 == s.X1 && s.Y0 == s.Y1 && (last.X1 != s.X1 || last.Y1 != s.Y1) {
			out = append(out, Segment{X0: last.X1, Y0: last.Y1, X1: s.X1, Y1: s.Y1, Layer: s.Layer})
		}
	}
	return out
}

// Size is the size in px.
func (p *Path) Size() (w, h float64) { return clothSize(p.Segs, p.Width, 0, 720) }

// Title says what the picture is.
func (p *Path) Title() string {
	if p.Name == "" {
		return words.Say("picture.a-design").Text(p.W)
	}
	return p.Name
}

// Desc reads the picture out: how often and how far the needle goes without
// thread.
func (p *Path) Desc() string {
	far, ways := 0.0, p.ways()
	for _, s := range ways {
		far += math.Hypot(float64(s.X1)-float64(s.X0), float64(s.Y1)-float64(s.Y0)) / 10
	}
	return words.Say("picture.ways", words.Args{"n": words.Whole(len(ways)), "far": words.MM(far)}).Text(p.W)
}

// Draw draws the picture.
func (p *Path) Draw(c Canvas) {
	w, h := p.Size()
	cloth := Box{0, 0, w, h}
	c.Rect(0, 0, w, h, Of(Cloth))
	b, ok := extent(p.Segs)
	if !ok {
		return
	}
	at := fitDesign(b, cloth.inset(28), maxScale)
	c.Threads(&Threads{Segs: p.Segs, Pen: make([]uint16, len(p.Segs)), X: at.ox, Y: at.oy, Scale: at.k / 10,
		Width: threadWidth(at.k, 0.7), Pens: []Paint{{Tone: Fixed, RGB: RGB{0x96, 0xa1, 0xb0}}}})
	var lines, under []Seg
	for _, s := range p.ways() {
		from, to := at.at(float64(s.X0)/10, float64(s.Y0)/10), at.at(float64(s.X1)/10, float64(s.Y1)/10)
		lines = append(lines, Seg{from, to})
		under = append(under, ringOf(to, 3)...)
	}
	c.Lines(lines, Stroke{Paint: Solid(RGB{255, 255, 255}), Width: 4})
	c.Lines(lines, Stroke{Paint: Solid(clothWarn), Width: 1.75})
	c.Lines(under, Stroke{Paint: Solid(clothWarn), Width: 1.75})
	scaleBar(c, cloth, at.k, p.W)
}
