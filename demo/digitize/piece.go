package digitize

import (
	"math"

	"needlepace/stitch"
)

// Lengths in mm that the objects share.
const (
	ConnectorMM = 2.5 // stitch of a sewn way from one object to the next
	UnderlayMM  = 2.2 // stitch of an underlay run
	TieMM       = 0.9 // stitch of a lock
	LeastMM     = 1.0 // an object skips penetrations nearer than this to the last one

	leastSpacing = 0.1 // closer rows or lines are taken as this
	leastRun     = 0.3 // and shorter running stitches as this

	maxStep   = 121 // units of 0.1 mm: what one record of the tape format holds
	trimJumps = 3   // jumps in a row that a machine takes for a trim
)

// Piece is a design being sewn. Make one with New; the zero value works and
// has no name.
type Piece struct {
	name   string
	rec    []stitch.Record
	x, y   int  // where the frame stands, units of 0.1 mm
	thread bool // is thread in the fabric?
	owed   bool // a trim that the next move carries
	tie    bool // a tie-in that the next object's first stitch gives the direction of
	dir    Pt   // direction of the last stitch, length 1
	sewn   int
	block  int

	making stitch.Kind   // of the object being sewn; NotSewn: a running stitch
	made   []stitch.Kind // of each record
	areas  []area
}

// New starts a piece at (0, 0). The name becomes the design's label.
func New(name string) *Piece { return &Piece{name: name} }

// StartAt puts the frame's start at q (mm) of the drawing instead of (0, 0).
// It is for the beginning of a piece: afterwards it does nothing.
func (p *Piece) StartAt(q Pt) {
	if len(p.rec) == 0 {
		p.x, p.y = units(q.X), units(q.Y)
	}
}

// At is where the frame stands, mm.
func (p *Piece) At() Pt {
	return Pt{float64(p.x) / stitch.UnitsPerMM, float64(p.y) / stitch.UnitsPerMM}
}

// Stitches is the number of penetrations so far: the index of the next one.
func (p *Piece) Stitches() int { return p.sewn }

// Block is the colour block being sewn, from 0.
func (p *Piece) Block() int { return p.block }

// Stitch makes one stitch to q (mm), or as many equal ones as the tape format
// needs for the distance.
func (p *Piece) Stitch(q Pt) {
	dx, dy := units(q.X)-p.x, units(q.Y)-p.y
	if p.owed {
		p.jump(0, 0)
	}
	if l := math.Hypot(float64(dx), float64(dy)); l > 0 {
		p.dir = Pt{float64(dx) / l, float64(dy) / l}
	}
	n := max(1, steps(dx, dy))
	p.emit(stitch.Sew, dx, dy, n)
	p.sewn += n
	p.thread = true
}

// MoveTo moves the frame to q (mm) without sewing. After Trim the jumps carry
// the trim. With thread in the fabric and no Trim the thread is dragged along
// if the way is one or two jumps (up to 24.2 mm on an axis), and the machine
// trims if it is longer.
func (p *Piece) MoveTo(q Pt) { p.jump(units(q.X)-p.x, units(q.Y)-p.y) }

// Trim cuts the thread: the move that follows is written as three jumps or
// more, which machines read as a trim. With no thread in the fabric it does nothing.
func (p *Piece) Trim() { p.owed = p.owed || p.thread }

// ColourStop cuts the thread and changes to the next needle.
func (p *Piece) ColourStop() {
	if p.owed {
		p.jump(0, 0)
	}
	p.rec = append(p.rec, stitch.Record{Op: stitch.ColourStop})
	p.made = append(p.made, stitch.NotSewn)
	p.block++
	p.thread, p.tie = false, false
}

// Lock secures the thread with a few small stitches. With thread in the fabric
// it ties off at once, back along the last stitch; with the thread cut it ties
// in at the start of the next object. The holes are a little apart, so that the
// needle never strikes one twice.
func (p *Piece) Lock() {
	if !p.thread || p.owed {
		p.tie = true
		return
	}
	defer p.as(stitch.Tie)()
	e, back := p.At(), p.dir.Mul(-TieMM)
	side := Pt{-p.dir.Y, p.dir.X}
	p.Stitch(e.Add(back).Add(side.Mul(0.25)))
	p.Stitch(e.Add(side.Mul(0.3)))
	p.Stitch(e.Add(back).Sub(side.Mul(0.25)))
}

// Design is the finished piece as a stitch design in the tape format's records.
// The piece may be sewn on afterwards; the design keeps its own copy.
func (p *Piece) Design() *stitch.Design {
	if p.owed {
		p.jump(0, 0)
	}
	return &stitch.Design{Name: p.name, Format: "dst", Records: append([]stitch.Record(nil), p.rec...)}
}

// Centred is Design with the frame starting at the middle of the design's box,
// as machines expect a file to be made: only the way to the first stitch differs.
func (p *Piece) Centred() *stitch.Design {
	d := p.Design()
	b := d.Count().Bounds
	first, x, y := 0, 0, 0
	for first < len(d.Records) && d.Records[first].Op == stitch.Jump {
		x += int(d.Records[first].DX)
		y += int(d.Records[first].DY)
		first++
	}
	var lead Piece
	lead.jump(x-(b.MinX+b.MaxX)/2, y-(b.MinY+b.MaxY)/2)
	d.Records = append(lead.rec, d.Records[first:]...)
	return d
}

// begin brings the needle to q, the first point of an object whose first stitch
// goes towards next.
func (p *Piece) begin(q, next Pt) {
	if p.thread && !p.owed {
		if p.At().Dist(q) >= LeastMM {
			done := p.as(stitch.Running)
			p.walk([]Pt{p.At(), q}, ConnectorMM)
			done()
		}
		return
	}
	p.MoveTo(q)
	if !p.tie {
		return
	}
	p.tie = false
	defer p.as(stitch.Tie)()
	d := next.Sub(q).Unit()
	side := Pt{-d.Y, d.X}
	p.Stitch(q.Add(d.Mul(TieMM)).Add(side.Mul(0.25)))
	p.Stitch(q.Add(side.Mul(0.3)))
	p.Stitch(q.Add(d.Mul(TieMM)).Sub(side.Mul(0.25)))
	p.Stitch(q)
}

func (p *Piece) jump(dx, dy int) {
	n := steps(dx, dy)
	if p.owed {
		n = max(n, trimJumps)
		p.owed, p.thread = false, false
	}
	p.emit(stitch.Jump, dx, dy, n)
	if n >= trimJumps {
		p.thread = false
	}
}

// emit cuts a displacement into n equal records, rounded so that they add up.
func (p *Piece) emit(op stitch.Op, dx, dy, n int) {
	px, py := 0, 0
	for i := 1; i <= n; i++ {
		x, y := share(dx, i, n), share(dy, i, n)
		p.rec = append(p.rec, stitch.Record{DX: int16(x - px), DY: int16(y - py), Op: op})
		p.made = append(p.made, p.kind(op))
		px, py = x, y
	}
	p.x += dx
	p.y += dy
}

func share(d, i, n int) int { return int(math.Round(float64(d) * float64(i) / float64(n))) }

func steps(dx, dy int) int { return (max(abs(dx), abs(dy)) + maxStep - 1) / maxStep }

func units(mm float64) int { return int(math.Round(mm * stitch.UnitsPerMM)) }

func abs(v int) int { return max(v, -v) }
