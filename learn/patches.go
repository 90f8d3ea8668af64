package learn

import (
	"fmt"
	"math"

	"needlepace/words"
)

// patch is a candidate block of a test piece: a small piece of one kind of
// sewing in a box of w × h mm, sewn from its lower left corner on.
type patch struct {
	what words.Message // what it sews
	kind string        // a piece has one patch of a kind at most
	w, h float64       // mm
	sew  func(s *sewer, at point)
	must string // which of musts it is; empty: none
}

// What the patches keep to: customary lengths and spacings of the trade
// (trade magazines: run 1.5–5 mm, satin 1–9 mm, satin line spacing 0.4 mm,
// from the first line to the third). A run of longer stitches is for timing
// only: it would snag on a garment.
const (
	satinStep = 0.2 // mm from penetration to penetration along a satin column
	rowPitch  = 1.4 // mm between rows of running stitch
	columnGap = 2.0 // mm between columns of a patch
	lineMM    = 30  // mm, length of a row or column of a patch
)

// turned exchanges x and y where along is true: rows run up instead of across.
func turned(up bool, x, y float64) point {
	if up {
		return point{y, x}
	}
	return point{x, y}
}

func plus(p, q point) point { return point{p.x + q.x, p.y + q.y} }

func direction(up bool) words.Message {
	if up {
		return words.Say("piece.to-and-from")
	}
	return words.Say("piece.left-and-right")
}

// lengthOf is a length of a stitch as a block is named by it: 0.5, 2, 2.5.
func lengthOf(mm float64) words.Value { return words.Mean(mm, "") }

// running is rows of running stitch of one length.
func running(mm float64, stitches int, up bool) patch {
	each := max(2, int(math.Round(lineMM/mm)))
	rows := max(1, int(math.Round(float64(stitches)/float64(each+1))))
	size := turned(up, float64(each)*mm, float64(rows-1)*rowPitch+1)
	return patch{
		what: words.Say("piece.running", words.Args{"mm": lengthOf(mm), "direction": direction(up)}),
		kind: fmt.Sprint("run", mm, up), w: size.x, h: size.y,
		sew: func(s *sewer, at point) {
			s.tieIn(plus(at, turned(up, 0, 0)), plus(at, turned(up, mm, 0)))
			for r := range rows {
				y := float64(r) * rowPitch
				for i := 1; i <= each; i++ {
					x := float64(i) * mm
					if r%2 == 1 {
						x = float64(each-i) * mm
					}
					s.sew(plus(at, turned(up, x, y)))
				}
				if r+1 < rows {
					x := 0.0
					if r%2 == 0 {
						x = float64(each) * mm
					}
					s.sew(plus(at, turned(up, x, y+rowPitch)))
				}
			}
			x := 0.0
			if rows%2 == 1 {
				x = float64(each) * mm
			}
			s.tieOff(plus(at, turned(up, lineMM/2, float64(rows-1)*rowPitch-0*x)))
		},
	}
}

// satin is columns of satin of one width; up: the stitches lie up and down.
func satin(mm float64, stitches int, up bool) patch {
	perColumn := int(lineMM / satinStep)
	columns := max(1, int(math.Round(float64(stitches)/float64(perColumn))))
	each := stitches / columns
	length := float64(each) * satinStep
	size := turned(up, float64(columns)*(mm+columnGap)-columnGap, length)
	return patch{
		what: words.Say("piece.satin", words.Args{"mm": lengthOf(mm), "direction": direction(up)}),
		kind: fmt.Sprint("satin", mm, up), w: size.x, h: size.y,
		sew: func(s *sewer, at point) {
			s.tieIn(plus(at, turned(up, 0, 0)), plus(at, turned(up, mm, 0)))
			for c := range columns {
				x0 := float64(c) * (mm + columnGap)
				side := 0.0
				for i := 1; i <= each; i++ {
					y := float64(i) * satinStep
					if c%2 == 1 {
						y = length - y
					}
					side = mm - side
					s.sew(plus(at, turned(up, x0+side, y)))
				}
				if c+1 < columns { // walk to the next column
					y := length
					if c%2 == 1 {
						y = 0
					}
					if side == 0 {
						for x := 2.0; x < mm; x += 2 {
							s.sew(plus(at, turned(up, x0+x, y)))
						}
						s.sew(plus(at, turned(up, x0+mm, y)))
					}
					s.sew(plus(at, turned(up, x0+mm+columnGap, y)))
				}
			}
			s.tieOff(plus(at, turned(up, mm/2, length/2)))
		},
	}
}

// zigzag is open zigzag with right-angled turns, of stitches of one length at 45°.
func zigzag(mm float64, stitches int) patch {
	d := mm / math.Sqrt2
	each := max(2, int(lineMM/d)/2*2)
	rows := max(1, int(math.Round(float64(stitches)/float64(each+2))))
	pitch := d + rowPitch
	return patch{
		what: words.Say("piece.zigzag", words.Args{"mm": lengthOf(mm)}),
		kind: fmt.Sprint("zigzag", mm), w: float64(each) * d, h: float64(rows)*pitch - rowPitch,
		sew: func(s *sewer, at point) {
			s.tieIn(at, plus(at, point{d, d}))
			for r := range rows {
				y := float64(r) * pitch
				for i := 1; i <= each; i++ {
					x := float64(i) * d
					if r%2 == 1 {
						x = float64(each-i) * d
					}
					s.sew(plus(at, point{x, y + d*float64(i%2)}))
				}
				if r+1 < rows {
					x := 0.0
					if r%2 == 0 {
						x = float64(each) * d
					}
					s.sew(plus(at, point{x, y + pitch/2}))
					s.sew(plus(at, point{x, y + pitch}))
				}
			}
			s.tieOff(plus(at, point{lineMM / 2, float64(rows-1) * pitch}))
		},
	}
}

// musts are what a piece of the usual length has one of each of, whatever it tells of the law's constants: the first two always,
// all where a sheet was learned before. What no block of the first piece tells is how stitches shorter than all of its are sewn, and
// how the shaft keeps up where their length changes all the time.
var musts = []string{"small turns", "large turns", "surges", "shorts"}

// mostSurge is up to how many short stitches between long ones the shaft is rising or slowing all along.
const mostSurge = 10

// surges alternates short running stitches with pairs of long ones: the shaft
// slows down and gains speed again with no stop.
func surges(short, long float64, run, stitches int) patch {
	period := float64(run)*short + 2*long
	per := run + 2
	reps := max(1, int(math.Round(2*lineMM/period)))
	width := float64(reps) * period
	rows := max(1, int(math.Round(float64(stitches)/float64(reps*per+1))))
	must := ""
	if run <= mostSurge {
		must = musts[2]
	}
	return patch{
		what: words.Say("piece.surges", words.Args{
			"stitches": words.Whole(run), "short": lengthOf(short), "long": lengthOf(long),
		}),
		kind: fmt.Sprint("surge", run), must: must, w: width, h: float64(rows-1)*rowPitch + 1,
		sew: func(s *sewer, at point) {
			s.tieIn(at, plus(at, point{1, 0}))
			for r := range rows {
				x := 0.0
				step := func(d float64) {
					x += d
					px := x
					if r%2 == 1 {
						px = width - x
					}
					s.sew(plus(at, point{px, float64(r) * rowPitch}))
				}
				for range reps {
					for range run {
						step(short)
					}
					step(long)
					step(long)
				}
				if r+1 < rows {
					px := width
					if r%2 == 1 {
						px = 0
					}
					s.sew(plus(at, point{px, float64(r+1) * rowPitch}))
				}
			}
			s.tieOff(plus(at, point{width / 2, float64(rows-1) * rowPitch}))
		},
	}
}

// dashes is short stretches of running stitch with a trim between, near each
// other or by turns at the two ends of the box.
func dashes(mm float64, each, count int, far float64) patch {
	length := float64(each) * mm
	perRow := max(1, int(lineMM/(length+4)))
	w, h := float64(perRow)*(length+4)-4, float64((count+perRow-1)/perRow-1)*3+1
	what := words.Say("piece.stretches", words.Args{
		"stretches": words.Whole(count), "stitches": words.Whole(each), "mm": lengthOf(mm),
	})
	if far > 0 {
		w, h = far+length, float64((count+1)/2-1)*3+1
		what = words.Say("piece.stretches-apart", words.Args{
			"stretches": words.Whole(count), "stitches": words.Whole(each), "mm": lengthOf(mm), "far": words.Fixed(far, 0),
		})
	}
	return patch{what: what, kind: fmt.Sprint("dash", mm, each, far), w: w, h: h,
		sew: func(s *sewer, at point) {
			for k := range count {
				p := point{float64(k%perRow) * (length + 4), float64(k/perRow) * 3}
				if far > 0 {
					p = point{float64(k%2) * far, float64(k/2) * 3}
				}
				p = plus(at, p)
				s.tieIn(p, plus(p, point{mm, 0}))
				for i := 1; i <= each; i++ {
					s.sew(plus(p, point{float64(i) * mm, 0}))
				}
				s.tieOff(p)
			}
		},
	}
}

// bends are rows of stitches that turn to one side and the other, bendEach at each angle (degrees): some machines are slow
// at turns, and no other patch has any but the sharpest.
func bends(from, to int, must string) patch {
	type row struct {
		along, up float64 // mm a stitch
		n         int
	}
	var rows []row
	w, h := 0.0, 0.0
	for a := from; a <= to; a += bendStep {
		sin, cos := math.Sincos(float64(a) * math.Pi / 360)
		r := row{bendMM * cos, bendMM * sin, int(lineMM / (bendMM * cos))}
		for left := bendEach; left > 0; left -= r.n {
			rows = append(rows, r)
			w, h = max(w, float64(r.n)*r.along), h+r.up+bendGap
		}
	}
	return patch{
		what: words.Say("piece.bends", words.Args{"mm": lengthOf(bendMM), "from": words.Whole(from), "to": words.Whole(to)}),
		kind: fmt.Sprint("bends", from), w: w, h: h, must: must,
		sew: func(s *sewer, at point) {
			s.tieIn(at, plus(at, point{1, 0}))
			p, right := at, 1.0
			for _, r := range rows {
				y := p.y
				for i := range r.n {
					p = point{p.x + right*r.along, y + r.up*float64(1-i%2)}
					s.sew(p)
				}
				right, p.y = -right, y+r.up+bendGap
				s.sew(p)
			}
			s.tieOff(plus(p, point{1, 0}))
		},
	}
}

// shorts are rows of stitches so short that the frame is never the limit, half of them shorter still: some machines hold the shaft
// back there, or only from there on.
func shorts() patch {
	return patch{
		what: words.Say("piece.shorts", words.Args{"short": lengthOf(shortMM[0]), "long": lengthOf(shortMM[1])}),
		kind: "shorts", must: musts[3], w: shortMM[1] * shortEach / shortRows, h: 2 * shortRows * bendGap,
		sew: func(s *sewer, at point) {
			s.tieIn(at, plus(at, point{1, 0}))
			p, right := at, 1.0
			for r := range 2 * shortRows {
				for range shortEach / shortRows {
					p.x += right * shortMM[r/shortRows]
					s.sew(p)
				}
				right, p.y = -right, p.y+bendGap
				s.sew(p)
			}
			s.tieOff(plus(p, point{1, 0}))
		},
	}
}

// What shorts keep to: the least that is usually sewn, and what lies between that and the shortest of the other patches.
var shortMM = [2]float64{0.6, 1}

const (
	shortRows = 4   // of each length
	shortEach = 120 // stitches of each length
)

// What bends keep to: the stitches are short enough for machines that are slow at turns of short ones, and so many that a cap
// at one angle takes a second.
const (
	bendMM   = 2.0
	bendGap  = 1.0 // mm between rows
	bendStep = 10  // degrees
	bendEach = 30  // stitches at an angle, at least
)

// patches are all candidates for a hoop of w × h mm.
func patches(w, h float64) []patch {
	var all []patch
	for _, n := range []int{140, 280, 480} {
		for _, up := range []bool{false, true} {
			for _, mm := range []float64{1.5, 2.5, 4, 6, 8} {
				all = append(all, running(mm, n, up))
			}
			for _, mm := range []float64{1.5, 3, 4.5, 6, 7.5, 9} {
				all = append(all, satin(mm, n, up))
			}
		}
		all = append(all, zigzag(4, n), zigzag(7, n), surges(2, 9, 4, n), surges(2, 9, 10, n), surges(1.5, 7, 24, n))
	}
	for _, n := range []int{5, 10} {
		all = append(all, dashes(2, 3, n, 0), dashes(2, 14, n, 0), dashes(6, 10, n, 0), dashes(2, 3, n, 25),
			dashes(2, 3, n, 60), dashes(1.5, 30, n, 0))
	}
	all = append(all, bends(40, 90, musts[0]), bends(100, 150, musts[1]))
	fit := all[:0]
	for _, p := range all {
		if p.w <= w && p.h <= h {
			fit = append(fit, p)
		}
	}
	return fit
}
