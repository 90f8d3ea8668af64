package digitize

import "math"

// Lettering is how a line of text is sewn: capitals of satin strokes from our
// own stroke alphabet (A–Z, 0–9, & - . ' and space; anything else is a space).
type Lettering struct {
	Height  float64     // mm, of the capitals
	Stroke  float64     // mm, width of the satin; 0: a sixth of the height
	Gap     float64     // mm between letters; 0: a sixth of the height
	Spacing float64     // line spacing of the satin, mm; 0: 0.42
	Bend    func(Pt) Pt // puts the straight text (baseline from (0, 0)) where it belongs; nil: stays
	// Between is called between two letters with the length of the straight way,
	// mm, for habits good and bad; nil: the thread runs on.
	Between func(way float64)
}

func (l Lettering) filled() Lettering {
	if l.Stroke == 0 {
		l.Stroke = l.Height / 6
	}
	if l.Gap == 0 {
		l.Gap = l.Height / 6
	}
	if l.Spacing == 0 {
		l.Spacing = 0.42
	}
	if l.Bend == nil {
		l.Bend = func(q Pt) Pt { return q }
	}
	return l
}

// Width is the length of the text, mm.
func (l Lettering) Width(text string) float64 {
	l = l.filled()
	w := 0.0
	for i, r := range text {
		if i > 0 {
			w += l.Gap
		}
		w += l.advance(r)
	}
	return w
}

func (l Lettering) advance(r rune) float64 {
	g, ok := alphabet[r]
	if !ok {
		return l.Height * 0.35
	}
	return g.width*(l.Height-l.Stroke) + l.Stroke
}

// On puts text with its baseline on the point at, turned by deg degrees.
func On(at Pt, deg float64) func(Pt) Pt {
	return func(q Pt) Pt { return q.Rotate(deg).Add(at) }
}

// OnArc bends text of the given width round the circle about c with radius r
// (baseline), its middle at angle deg. Outside, the letters stand on the circle
// and read clockwise; inside, they read counter-clockwise along its lower half
// and their feet point outwards.
func OnArc(c Pt, r, deg, width float64, outside bool) func(Pt) Pt {
	return func(q Pt) Pt {
		turn := (q.X - width/2) / r
		rad := r + q.Y
		if outside {
			turn = -turn
		} else {
			rad = r - q.Y
		}
		s, k := math.Sincos(deg*math.Pi/180 + turn)
		return Pt{c.X + rad*k, c.Y + rad*s}
	}
}

// Text sews the text. The strokes of each letter are put in the order, and
// entered and left at the ends, that let the least thread show between them.
func (p *Piece) Text(text string, l Lettering) {
	l = l.filled()
	x := 0.0
	var word []letter
	for _, r := range text {
		if g, ok := alphabet[r]; ok {
			word = append(word, l.letter(g, x))
		}
		x += l.advance(r) + l.Gap
	}
	order := l.order(word)
	for i, w := range order {
		if i > 0 && l.Between != nil {
			l.Between(order[i-1].out.Dist(w.in))
		}
		for k, s := range w.strokes {
			c := word[i].lines[s]
			if w.turned[k] {
				c = Reverse(c)
			}
			a, b := Rails(c, l.Stroke)
			a, b = Map(a, l.Bend), Map(b, l.Bend)
			if w.back[k] {
				p.ColumnBack(a, b, l.Spacing)
			} else {
				p.Column(a, b, l.Spacing)
			}
		}
	}
}

// ends lengthens the free ends of stroke i by half its width, so that the
// letter keeps its height, and cuts back those that meet another stroke, so that
// the satin of the two overlaps by a little only.
func (l Lettering) ends(lines [][]Pt, i int) []Pt {
	const overlap = 0.35 // mm, keeps fabric from showing when the satin pulls in
	c := distinct(lines[i])
	if len(c) < 2 || c[0].Dist(c[len(c)-1]) < 0.05 {
		return c
	}
	for range 2 { // one end, then the other
		c = Reverse(c)
		e, d := c[0], c[1].Sub(c[0]).Unit()
		// > 0 lengthens: until the corner of a slanting end reaches as far as
		// that of a straight one
		u, v := math.Abs(d.X), math.Abs(d.Y)
		change := l.Stroke / 2 * (1 - min(u, v)) / max(u, v)
		for j, other := range lines {
			if j == i {
				continue
			}
			for k := 1; k < len(other); k++ {
				q, u := closest(e, other[k-1], other[k])
				if q.Dist(e) > l.Stroke*0.3 {
					continue
				}
				atEnd := q.Dist(other[0]) < l.Stroke*0.3 || q.Dist(other[len(other)-1]) < l.Stroke*0.3
				if atEnd && j < i { // the later stroke owns a shared corner
					continue
				}
				sin := math.Abs(d.X*u.Y - d.Y*u.X)
				cut := l.Stroke/2/max(sin, 0.45) - overlap
				if sin < 0.3 && atEnd { // strokes that run on into each other
					cut = 0
				}
				change = min(change, -cut)
			}
		}
		if change >= 0 {
			c[0] = e.Sub(d.Mul(change))
		} else {
			c = shorten(c, -change)
		}
	}
	return c
}

// closest is the point of the segment a–b nearest to q, and its direction.
func closest(q, a, b Pt) (Pt, Pt) {
	d := b.Sub(a)
	t := ((q.X-a.X)*d.X + (q.Y-a.Y)*d.Y) / max(d.X*d.X+d.Y*d.Y, 1e-12)
	return a.Lerp(b, min(1, max(0, t))), d.Unit()
}
