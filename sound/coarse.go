package sound

import (
	"math"
	"slices"
)

// cell is a place in the design, about one frame long.
type cell struct {
	passage int32   // −1: in no passage
	from    float32 // s from the passage's start
	speed   int16   // on the grid; −1: too short to have a rhythm
	waits   bool    // the path may stay here as long as it likes
	sews    bool
	first   bool // of its passage
	skips   bool // the cell two before is of the same passage
}

// What the coarse path pays and earns a frame of a tenth of a second.
const (
	earns     = 2.2  // for evidence of the law's speed
	asks      = 0.13 // the evidence below which sewing costs
	uneven    = 0.9  // to stay or to skip a cell of sewing
	standing  = 0.01 // to stay at rest
	stopping  = 5.0  // to stop where the design does not
	resumes   = 1.0  // to begin again, more where stitches are sewn again
	silent    = -0.5 // at the least for a frame of sewing
	shortRest = 0.4  // of the law's rest is the least
)

// resumeBack are the cells by which a resumed passage may begin earlier.
var resumeBack = [...]int{0, 1, 2, 4, 8, 14}

// cells lays a score out in cells of so many seconds.
func (s *score) cells(every float64) []cell {
	out := []cell{{passage: -1, speed: -1, waits: true}}
	for k := range s.passages {
		p := &s.passages[k]
		if k > 0 {
			for range int(s.rests[k].seconds * shortRest / every) {
				out = append(out, cell{passage: -1, speed: -1})
			}
			out = append(out, cell{passage: -1, speed: -1, waits: true})
		}
		n := max(1, int(math.Round(p.total/every)))
		i := 0
		for c := range n {
			mid := (float64(c) + 0.5) * p.total / float64(n)
			here := cell{passage: int32(k), from: float32(mid), speed: -1, sews: true, first: c == 0, skips: c > 1}
			// The mean speed in what the evidence hears most of.
			for i < len(p.at) && p.at[i] < mid-0.25 {
				i++
			}
			j := i
			for j+1 < len(p.at) && p.at[j+1] < mid+0.25 {
				j++
			}
			if j-i >= 2 {
				here.speed = int16(gridIndex(float64(j-i) / (p.at[j] - p.at[i])))
			}
			out = append(out, here)
		}
	}
	return append(out, cell{passage: -1, speed: -1, waits: true})
}

// How a path came to a cell.
const (
	cameStay = iota
	cameNext
	cameSkip
	cameStopped // into the layer of stops
	cameResumed // from it, by resumeBack[k − cameResumed] cells back
	cameNone    = 127
	cameHalted  = 128 // with any of these: the layer of stops was come to from the cell itself
)

// visit is where the coarse path is at a frame.
type visit struct {
	frame, cell int
	stopped     bool
}

// path is the best way through the cells and what it earns.
type path struct {
	every float64
	cells []cell
	way   []visit // one a frame
	score float64
	end   float64 // what an open way earns that ends at the design's end
}

// ahead is what the best way to each cell earns so far: Viterbi's algorithm,
// frame by frame. With stops the machine may stop at any place, and go on there
// or some stitches earlier.
type ahead struct {
	cells      []cell
	v, w       []float32
	halt, next []float32 // nil: without stops
	scale      float32
	slack      float32 // what staying in a cell of sewing or skipping one costs
	resting    float32 // what rest costs of the evidence that a machine sews
	lo, hi     int     // cells that can be reached and are not given up
	backs      []int   // of resumeBack that are tried
	beam       float32 // a cell that earns so much less than the best is given up; 0: none is
}

// beamWidth is what a way may fall behind the best before it is given up: as much
// as ten seconds of sewing earn, so that a drop-out gives up none.
const beamWidth = 100

func aheadOf(cells []cell, every float64, stops bool) *ahead {
	m := len(cells)
	a := &ahead{cells: cells, v: make([]float32, m), w: make([]float32, m), scale: float32(every / 0.1), slack: uneven,
		hi: 2, backs: resumeBack[:]}
	if stops {
		a.halt, a.next = make([]float32, m), make([]float32, m)
	}
	for i := range a.v {
		a.v[i], a.w[i] = minusInf, minusInf
		if stops {
			a.halt[i], a.next[i] = minusInf, minusInf
		}
	}
	a.v[0], a.v[1] = 0, 0
	return a
}

var minusInf = float32(math.Inf(-1))

// widen lets the ways go on by a frame: the cells they can reach.
func (a *ahead) widen() { a.hi = min(a.hi+2, len(a.cells)) }

// frame goes on by a frame whose evidence is e, after widen. How it came to each of
// the cells from lo on is put into came, which may be nil.
func (a *ahead) frame(e []float32, came []uint8) {
	cells, v, w := a.cells, a.v[:a.hi], a.w[:a.hi]
	var halt, next []float32
	if a.halt != nil {
		halt, next = a.halt[:a.hi], a.next[:a.hi]
	}
	rest := standing * a.scale
	if a.resting > 0 {
		rest += a.resting * a.scale * max(slices.Max(e)-asks, 0)
	}
	before, last := minusInf, minusInf // what the cells two and one before had earned
	if a.lo > 0 {
		last = v[a.lo-1]
	}
	if a.lo > 1 {
		before = v[a.lo-2]
	}
	top := minusInf
	for c := a.lo; c < len(v); c++ {
		k := &cells[c]
		here := v[c]
		best, how := minusInf, uint8(cameNone)
		if last > best {
			best, how = last, cameNext
		}
		if k.waits {
			if b := here - rest; b > best {
				best, how = b, cameStay
			}
		}
		h := minusInf
		if k.sews {
			if b := here - a.slack; b > best {
				best, how = b, cameStay
			}
			if k.skips {
				if b := before - a.slack; b > best {
					best, how = b, cameSkip
				}
			}
			if halt != nil {
				if b := halt[c] - resumes; b > best {
					best, how = b, cameResumed
				}
				for q := 1; q < len(a.backs); q++ {
					from := c + a.backs[q]
					if from >= len(halt) || cells[from].passage != k.passage {
						break
					}
					if b := halt[from] - resumes - float32(0.1*float64(q)); b > best {
						best, how = b, uint8(cameResumed+q)
					}
				}
				h = halt[c] - rest
				if b := here - stopping; b > h {
					h = b
					how |= cameHalted
				}
			}
			if k.speed >= 0 {
				best += a.scale * max(earns*(e[k.speed]-asks), silent)
			}
		}
		w[c] = best
		top = max(top, best)
		if came != nil {
			came[c-a.lo] = how
		}
		if halt != nil {
			next[c] = h
			top = max(top, h)
		}
		before, last = last, here
	}
	a.v, a.w = a.w, a.v
	a.halt, a.next = a.next, a.halt
	if a.beam > 0 {
		a.giveUp(top - a.beam)
	}
}

// giveUp leaves out cells at either side that earn less than the least.
func (a *ahead) giveUp(least float32) {
	bad := func(c int) bool { return a.v[c] < least && (a.halt == nil || a.halt[c] < least) }
	drop := func(c int) {
		a.v[c], a.w[c] = minusInf, minusInf
		if a.halt != nil {
			a.halt[c], a.next[c] = minusInf, minusInf
		}
	}
	for a.lo < a.hi-1 && bad(a.lo) {
		drop(a.lo)
		a.lo++
	}
	for a.hi-1 > a.lo && bad(a.hi-1) {
		a.hi--
		drop(a.hi)
	}
}

// follow finds the best way of the cells through frames [0, n) of the
// evidence (a semi-Markov model whose times of rest are free from a least one on).
// Where open, the way may end in any cell and only what it earns is given.
func follow(r *rhythm, n int, cells []cell, open, stops bool) *path {
	m := len(cells)
	a := aheadOf(cells, r.every, stops)
	a.beam = beamWidth
	if open { // what is sewn again changes little
		a.backs = resumeBack[:1]
	}
	var came [][]uint8 // of each frame
	var from []int     // its first cell
	for f := range n {
		a.widen()
		if open {
			a.frame(r.at(f), nil)
			continue
		}
		here := make([]uint8, a.hi-a.lo)
		came, from = append(came, here), append(from, a.lo)
		a.frame(r.at(f), here)
	}
	p := &path{every: r.every, cells: cells}
	if open {
		p.score, p.end = float64(slices.Max(a.v)), float64(a.v[m-1])
		return p
	}
	p.score = float64(a.v[m-1])
	if math.IsInf(p.score, -1) {
		return p
	}
	p.way = make([]visit, n)
	c, stopped := m-1, false
	for f := n - 1; f >= 0; f-- {
		p.way[f] = visit{f, c, stopped}
		here := came[f][c-from[f]]
		if stopped {
			stopped = here&cameHalted == 0
			continue
		}
		switch how := here &^ cameHalted; how {
		case cameNext:
			c--
		case cameSkip:
			c -= 2
		case cameStay:
		case cameNone:
			p.score = math.Inf(-1)
			return p
		default:
			c += resumeBack[how-cameResumed]
			stopped = true
		}
		c = max(c, 0)
	}
	return p
}
