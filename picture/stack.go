package picture

// Stack is pictures one under another, as one picture.
type Stack struct {
	Name     string // of the whole; not drawn
	Pictures []Picture
}

const stackGap = 10.0

// Size is the size in px.
func (s *Stack) Size() (w, h float64) {
	for i, p := range s.Pictures {
		pw, ph := p.Size()
		w = max(w, pw)
		h += ph
		if i > 0 {
			h += stackGap
		}
	}
	return w, h
}

// Title says what the picture is.
func (s *Stack) Title() string {
	if s.Name == "" && len(s.Pictures) > 0 {
		return s.Pictures[0].Title()
	}
	return s.Name
}

// Desc reads the pictures out in their order.
func (s *Stack) Desc() string {
	d := ""
	for i, p := range s.Pictures {
		if i > 0 {
			d += " "
		}
		d += p.Title() + ". " + p.Desc()
	}
	return d
}

// Draw draws the pictures.
func (s *Stack) Draw(c Canvas) {
	y := 0.0
	for _, p := range s.Pictures {
		p.Draw(&lowered{c, y})
		_, h := p.Size()
		y += h + stackGap
	}
}

// lowered is a canvas moved down by dy px.
type lowered struct {
	c  Canvas
	dy float64
}

func (l *lowered) Begin(g Group)                    { l.c.Begin(g) }
func (l *lowered) End()                             { l.c.End() }
func (l *lowered) Rect(x, y, w, h float64, p Paint) { l.c.Rect(x, y+l.dy, w, h, p) }
func (l *lowered) Text(x, y float64, s string, f Face) {
	l.c.Text(x, y+l.dy, s, f)
}

func (l *lowered) pts(pts []Pt) []Pt {
	out := make([]Pt, len(pts))
	for i, p := range pts {
		out[i] = Pt{p.X, p.Y + l.dy}
	}
	return out
}

func (l *lowered) Polygon(pts []Pt, p Paint)   { l.c.Polygon(l.pts(pts), p) }
func (l *lowered) Polyline(pts []Pt, s Stroke) { l.c.Polyline(l.pts(pts), s) }

func (l *lowered) Lines(segs []Seg, s Stroke) {
	out := make([]Seg, len(segs))
	for i, g := range segs {
		out[i] = Seg{Pt{g.A.X, g.A.Y + l.dy}, Pt{g.B.X, g.B.Y + l.dy}}
	}
	l.c.Lines(out, s)
}

func (l *lowered) Rects(rs []Box, p Paint) {
	out := make([]Box, len(rs))
	for i, r := range rs {
		out[i] = Box{r.X, r.Y + l.dy, r.W, r.H}
	}
	l.c.Rects(out, p)
}

func (l *lowered) Threads(t *Threads) {
	m := *t
	m.Y += l.dy
	l.c.Threads(&m)
}
