package picture

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"needlepace/words"
)

// Mark is a numbered place on a design: a finding.
type Mark struct {
	Number int
	X, Y   float64 // mm, y up
	Radius float64 // mm: the ring around the place holds what it is about
	Also   []Spot  // other places of it: rings without a number
	// From and To name the segments it is about (From ≤ i < To), drawn strong;
	// From = To for a place only.
	From, To int
	Text     string // what it is, for the list under the drawing
	Value    string // what it costs, e.g. "12 s"; may be empty
}

// Spot is a place with the ring around it, mm, y up.
type Spot struct{ X, Y, Radius float64 }

// Marked is a design in pale thread with numbered marks, and the marks listed
// under it in the order given.
type Marked struct {
	Name   string
	Segs   []Segment
	Stitch int // as SewOut's
	Marks  []Mark
	W      *words.Writer
	Width  float64 // px; 0 is 720
	Bare   bool    // the drawing without the list
}

const markLine = 22.0

// clothWarn asks for action on the cloth, which is light in every theme.
var clothWarn = RGB{0xa3, 0x3f, 0x00}

func (m *Marked) cloth() (w, h float64) { return clothSize(m.Segs, m.Width, 0, 720) }

// Size is the size in px.
func (m *Marked) Size() (w, h float64) {
	w, h = m.cloth()
	if m.Bare || len(m.Marks) == 0 {
		return w, h
	}
	return w, h + 16 + markLine*float64(len(m.Marks)) + 8
}

// Title says what the picture is.
func (m *Marked) Title() string {
	n := words.Count(len(m.Marks), "finding").Text(m.W)
	if m.Name == "" {
		return n
	}
	return m.Name + ": " + n
}

// Desc reads the picture out.
func (m *Marked) Desc() string {
	var b strings.Builder
	b.WriteString(describeDesign(m.Segs, m.Stitch).Text(m.W))
	for _, k := range m.Marks {
		b.WriteString(" " + strconv.Itoa(k.Number) + ": " + k.Text)
		if k.Value != "" {
			b.WriteString(" (" + k.Value + ")")
		}
		b.WriteString(".")
	}
	return b.String()
}

// Draw draws the picture.
func (m *Marked) Draw(c Canvas) {
	w, h := m.cloth()
	cloth := Box{0, 0, w, h}
	c.Rect(0, 0, w, h, Of(Cloth))
	b, ok := extent(m.Segs)
	if !ok {
		b.MaxX, b.MaxY = 1000, 600 // marks of an empty design still need a place
	}
	p := fitDesign(b, cloth.inset(36), maxScale)
	// Pale thread: the design as a ground for the marks, not the picture itself.
	pale := &Threads{Segs: m.Segs, Pen: make([]uint16, len(m.Segs)), X: p.ox, Y: p.oy, Scale: p.k / 10,
		Width: threadWidth(p.k, 0.7),
		Pens:  []Paint{{Tone: Fixed, RGB: RGB{0x96, 0xa1, 0xb0}}}}
	c.Threads(pale)
	var strong []Segment
	for i, k := range m.Marks {
		from, to := min(max(k.From, 0), len(m.Segs)), min(max(k.To, 0), len(m.Segs))
		for j := from; j < to; j++ {
			s := m.Segs[j]
			s.Layer = int32(i)
			strong = append(strong, s)
		}
	}
	if len(strong) > 0 {
		c.Threads(&Threads{Segs: strong, Pen: make([]uint16, len(strong)), X: p.ox, Y: p.oy, Scale: p.k / 10,
			Width: max(threadWidth(p.k, 1), 1.4), Pens: []Paint{Solid(clothWarn)}})
	}
	scaleBar(c, cloth, p.k, m.W)

	// Badges: each as near its place as it can stand without lying on another.
	at := make([]Pt, len(m.Marks))
	for i, k := range m.Marks {
		at[i] = p.at(finite(k.X), finite(k.Y))
		at[i] = Pt{min(max(at[i].X, 4), w-4), min(max(at[i].Y, 4), h-4)}
	}
	rings := make([]float64, len(m.Marks))
	for i, k := range m.Marks {
		rings[i] = max(finite(k.Radius)*p.k, leastRing)
	}
	badges := placeBadges(at, rings, cloth)
	ink := Solid(clothInk)
	var leaders []Seg
	for i := range badges {
		// from the ring, not from its middle, which shows the stitches
		d := math.Hypot(badges[i].X-at[i].X, badges[i].Y-at[i].Y)
		t := min(1, rings[i]/max(d, 1e-9))
		leaders = append(leaders, Seg{Pt{at[i].X + t*(badges[i].X-at[i].X), at[i].Y + t*(badges[i].Y-at[i].Y)}, badges[i]})
	}
	for _, k := range m.Marks {
		var shown []Pt
		for _, s := range k.Also {
			place := p.at(finite(s.X), finite(s.Y))
			if crowded(place, shown) {
				continue
			}
			shown = append(shown, place)
			c.Lines(ringOf(place, max(finite(s.Radius)*p.k, leastRing)), Stroke{Paint: Solid(clothWarn), Width: 1.25})
		}
	}
	c.Lines(leaders, Stroke{Paint: ink, Width: 1})
	for i := range m.Marks {
		c.Lines(ringOf(at[i], rings[i]), Stroke{Paint: Solid(RGB{255, 255, 255}), Width: 4})
		c.Lines(ringOf(at[i], rings[i]), Stroke{Paint: Solid(clothWarn), Width: 2})
	}
	for i, k := range m.Marks { // over all rings: a number is never hidden
		c.Begin(Group{Class: "np-mark", Title: strconv.Itoa(k.Number) + ": " + k.Text,
			Data: map[string]string{"mark": strconv.Itoa(k.Number)}})
		badge(c, badges[i], k.Number)
		c.End()
	}
	if m.Bare {
		return
	}
	y := h + 16
	for _, k := range m.Marks {
		badge(c, Pt{14, y + 8}, k.Number)
		v := bold(13, Ink).to(End)
		c.Text(w-4, y+12.5, k.Value, v)
		f := face(13, Ink)
		c.Text(32, y+12.5, fit(k.Text, f, w-32-16-TextWidth(k.Value, v)), f)
		y += markLine
	}
}

const badgeRadius = 9.5

// mostKept is how much of a ring's inside badges keep clear of, px: all of large
// ones would leave no room.
const mostKept = 14

// leastRing is the smallest ring around a place, px.
const leastRing = 5

// crowded reports whether a ring at a place would lie on one of those shown: a
// thousand of them are a blot.
func crowded(place Pt, shown []Pt) bool {
	return slices.ContainsFunc(shown, func(q Pt) bool { return math.Hypot(place.X-q.X, place.Y-q.Y) < 2*leastRing })
}

// ringOf is the outline of a circle.
func ringOf(at Pt, r float64) []Seg {
	p := circle(at, r)
	out := make([]Seg, len(p))
	for i := range p {
		out[i] = Seg{p[i], p[(i+1)%len(p)]}
	}
	return out
}

// badge draws a number on a dark disc: the same on every ground.
func badge(c Canvas, at Pt, n int) {
	c.Polygon(circle(at, badgeRadius+1), Solid(RGB{255, 255, 255}))
	c.Polygon(circle(at, badgeRadius), Solid(clothInk))
	size := 11.0
	if n > 99 {
		size = 8.5
	}
	c.Text(at.X, at.Y+size*0.36, strconv.Itoa(n), Face{Size: size, Bold: true, Align: Middle,
		Paint: Solid(RGB{255, 255, 255})})
}

func circle(at Pt, r float64) []Pt {
	n := 12 + int(r)
	out := make([]Pt, n)
	for i := range out {
		s, co := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = Pt{at.X + r*co, at.Y + r*s}
	}
	return out
}

// placeBadges finds a free place for each badge: rings around its own place,
// nearest first. Where all is full the nearest ring's place is taken.
func placeBadges(at []Pt, rings []float64, area Box) []Pt {
	out := make([]Pt, 0, len(at))
	in := area.inset(badgeRadius + 2)
	free := func(p Pt) bool {
		if p.X < in.X || p.X > in.Right() || p.Y < in.Y || p.Y > in.Bottom() {
			return false
		}
		for _, q := range out {
			if math.Hypot(p.X-q.X, p.Y-q.Y) < 2*badgeRadius+3 {
				return false
			}
		}
		for i, q := range at {
			if math.Hypot(p.X-q.X, p.Y-q.Y) < badgeRadius+min(rings[i], mostKept)+2 {
				return false
			}
		}
		return true
	}
	for i, a := range at {
		best, found := Pt{min(max(a.X+14, in.X), in.Right()), min(max(a.Y-14, in.Y), in.Bottom())}, false
		for ring := 0; ring < 8 && !found; ring++ {
			r := max(18, rings[i]+badgeRadius+3) + 13*float64(ring)
			for k := range 16 {
				// The upper right first, then to both sides.
				turn := float64((k+1)/2) * math.Pi / 8
				if k%2 == 1 {
					turn = -turn
				}
				s, co := math.Sincos(-math.Pi/4 + turn)
				if p := (Pt{a.X + r*co, a.Y + r*s}); free(p) {
					best, found = p, true
					break
				}
			}
		}
		out = append(out, best)
	}
	return out
}
