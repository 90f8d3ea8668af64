package learn

import (
	"math"

	"needlepace/stitch"
)

// point is a place in mm.
type point struct{ x, y float64 }

// maxStep is what one record of the 3-byte tape format holds, in units of 0.1 mm.
const maxStep = 121

// sewer writes records from places in mm, and keeps the frame on whole tenths.
type sewer struct {
	rec    []stitch.Record
	x, y   int
	thread bool
	jumps  int // jumps that a trim is written as
}

func toUnits(mm float64) int { return int(math.Round(mm * stitch.UnitsPerMM)) }

func (s *sewer) at() point {
	return point{float64(s.x) / stitch.UnitsPerMM, float64(s.y) / stitch.UnitsPerMM}
}

func (s *sewer) emit(op stitch.Op, dx, dy, n int) {
	px, py := 0, 0
	for i := 1; i <= n; i++ {
		x := int(math.Round(float64(dx) * float64(i) / float64(n)))
		y := int(math.Round(float64(dy) * float64(i) / float64(n)))
		s.rec = append(s.rec, stitch.Record{DX: int16(x - px), DY: int16(y - py), Op: op})
		px, py = x, y
	}
	s.x += dx
	s.y += dy
}

// sew makes one stitch to p.
func (s *sewer) sew(p point) {
	s.emit(stitch.Sew, toUnits(p.x)-s.x, toUnits(p.y)-s.y, 1)
	s.thread = true
}

// travel moves to p with the thread cut: a trim where thread is in the fabric.
func (s *sewer) travel(p point) {
	dx, dy := toUnits(p.x)-s.x, toUnits(p.y)-s.y
	n := (max(abs(dx), abs(dy)) + maxStep - 1) / maxStep
	if s.thread {
		n = max(n, s.jumps)
	}
	if n == 0 {
		return
	}
	s.emit(stitch.Jump, dx, dy, n)
	s.thread = false
}

func (s *sewer) colourStop() {
	s.rec = append(s.rec, stitch.Record{Op: stitch.ColourStop})
	s.thread = false
}

// lockMM is the stitch of a lock: a machine cannot sew well below 1 mm, and
// the holes of a lock lie a little apart.
const lockMM = 1.0

// tieIn secures the thread at p with small stitches towards q, and ends at p.
func (s *sewer) tieIn(p, q point) {
	s.travel(p)
	s.lock(p, q)
}

// tieOff secures the thread where the needle stands, back towards q.
func (s *sewer) tieOff(q point) { s.lock(s.at(), q) }

func (s *sewer) lock(p, q point) {
	l := math.Hypot(q.x-p.x, q.y-p.y)
	if l == 0 {
		l, q = 1, point{p.x + 1, p.y}
	}
	ux, uy := (q.x-p.x)/l*lockMM, (q.y-p.y)/l*lockMM
	s.sew(point{p.x + ux - 0.3*uy, p.y + uy + 0.3*ux})
	s.sew(point{p.x - 0.3*uy, p.y + 0.3*ux})
	s.sew(point{p.x + ux + 0.3*uy, p.y + uy - 0.3*ux})
	s.sew(p)
}
