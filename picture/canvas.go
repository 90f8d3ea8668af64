package picture

// Pt is a place on a canvas in px, y down.
type Pt struct{ X, Y float64 }

// Seg is a straight piece between two places.
type Seg struct{ A, B Pt }

// Paint is a colour by its role, or a fixed colour where Tone is Fixed.
// Opacity 0 means opaque (the zero value is the common case).
type Paint struct {
	Tone    Tone
	RGB     RGB     // used with Fixed only
	Level   float64 // used with Speed and Heat only: 0 to 1
	Opacity float64 // 0 (and 1): opaque; else the share of the colour
}

// Of is the opaque paint of a tone.
func Of(t Tone) Paint { return Paint{Tone: t} }

// Solid is a fixed colour: thread colours, and ink on the cloth.
func Solid(c RGB) Paint { return Paint{Tone: Fixed, RGB: c} }

func (p Paint) alpha() float64 {
	if p.Opacity <= 0 || p.Opacity > 1 {
		return 1
	}
	return p.Opacity
}

// Stroke is a line: its paint, width in px, and dashes (on, off, …) in px.
type Stroke struct {
	Paint Paint
	Width float64
	Dash  []float64
}

// Align says which point of a text stands at its place.
type Align uint8

// Where a text is held.
const (
	Start Align = iota
	Middle
	End
)

// Face is how a text is set: size in px (of the em), weight, alignment.
type Face struct {
	Size  float64
	Bold  bool // medium weight
	Align Align
	Paint Paint
}

// face is text of a size in a tone, held at its start.
func face(size float64, t Tone) Face { return Face{Size: size, Paint: Of(t)} }

// bold is face in medium weight.
func bold(size float64, t Tone) Face { return Face{Size: size, Bold: true, Paint: Of(t)} }

// to is the face held at another point.
func (f Face) to(a Align) Face {
	f.Align = a
	return f
}

// stroke is an unbroken line of a tone, width in px.
func stroke(t Tone, width float64) Stroke { return Stroke{Paint: Of(t), Width: width} }

// fillBox paints a box.
func fillBox(c Canvas, b Box, p Paint) { c.Rect(b.X, b.Y, b.W, b.H, p) }

// outline draws the sides of a box.
func outline(c Canvas, b Box, s Stroke) {
	c.Polyline([]Pt{{b.X, b.Y}, {b.Right(), b.Y}, {b.Right(), b.Bottom()}, {b.X, b.Bottom()}, {b.X, b.Y}}, s)
}

// whisker is a line from x0 to x1 with an end mark of ±half px at both.
func whisker(c Canvas, x0, x1, y, half float64, s Stroke) {
	c.Lines([]Seg{{Pt{x0, y}, Pt{x1, y}}, {Pt{x0, y - half}, Pt{x0, y + half}}, {Pt{x1, y - half}, Pt{x1, y + half}}},
		s)
}

// sizeOr is a size in px as asked, within its bounds, or the usual one.
func sizeOr(asked, usual, least float64) float64 {
	if !(asked > 0) {
		return usual
	}
	return min(max(asked, least), mostPx)
}

// mostPx bounds the sides of a chart.
const mostPx = 8000

// Group is a part of a picture that has a name of its own: a tooltip on the
// page, a hook for scripts. Backends without such things ignore it.
type Group struct {
	Class string            // a short name, e.g. "part"
	Title string            // read out and shown when pointed at
	Data  map[string]string // data-… attributes
}

// Canvas is what pictures draw on. Later drawing covers earlier drawing.
// Numbers that are not finite are drawn as 0.
type Canvas interface {
	Begin(g Group)
	End()
	Rect(x, y, w, h float64, p Paint)
	Polygon(pts []Pt, p Paint)
	Polyline(pts []Pt, s Stroke)
	Lines(segs []Seg, s Stroke) // separate straight pieces, one stroke: hatching, ticks, grids
	Rects(rs []Box, p Paint)    // many rectangles of one paint
	Threads(t *Threads)         // stitches by the ten thousand
	Text(x, y float64, s string, f Face)
}

// Box is a rectangle: its upper left corner and its size.
type Box struct{ X, Y, W, H float64 }

// Right is the x of the right side.
func (b Box) Right() float64 { return b.X + b.W }

// Bottom is the y of the lower side.
func (b Box) Bottom() float64 { return b.Y + b.H }

// inset is the box made smaller by d on all sides.
func (b Box) inset(d float64) Box { return Box{b.X + d, b.Y + d, b.W - 2*d, b.H - 2*d} }

// Threads is a set of stitches to draw in their order: segment i with the
// paint Pens[Pen[i]]. X and Y are the canvas place of (0, 0) of the design,
// Scale is px per unit of 0.1 mm; the design's y goes up. A backend may gather
// the segments of one layer by pen, but never across layers.
type Threads struct {
	Segs  []Segment
	Pen   []uint16 // as many as Segs
	Pens  []Paint
	X, Y  float64
	Scale float64 // px per 0.1 mm
	Width float64 // px
}

// Picture is anything this package can draw.
type Picture interface {
	Size() (w, h float64) // px
	Title() string        // one line: what it is
	Desc() string         // what it shows, in a sentence or two, for those who cannot see it
	Draw(c Canvas)
}
