package sound

import (
	"math"
	"slices"
	"sort"
)

// cell is a place in the design, about one frame long.
type cell struct {
	passage int32   // −1: in no passage
	from    float32 // s from the passage's start
	speed   int16   // on the grid; −1: too short to have a rhythm
	waits   bool    // the path may stay here as long as it likes
	sews    bool
}

// What the coarse path pays and earns a frame of a tenth of a second.
const (
	// Sums are kept in whole thousandths: the greater of two whole numbers is found
	// without a jump.
	earnUnit   = 1000
	earns      = 2.2  // for evidence of the law's speed
	asks       = 0.13 // the evidence below which sewing costs
	uneven     = 0.9  // to stay or to skip a cell of sewing
	standing   = 0.01 // to stay at rest
	stopping   = 5.0  // to stop where the design does not
	resumes    = 1.0  // to begin again, more where stitches are sewn again
	silent     = -0.5 // at the least for a frame of sewing
	again      = 0.1  // more to begin again for each place in resumeBack
	shortRest  = 0.4  // of the law's rest is the least,
	quickHands = 0.1  // of a change of colour by hand
)

// resumeBack are the cells by which a resumed passage may begin earlier.
var resumeBack = [...]int{0, 1, 2, 4, 8, 14}

// cells lays a score out in cells of so many seconds.
func (s *score) cells(every float64) []cell {
	out := []cell{{passage: -1, speed: -1, waits: true}}
	for k := range s.passages {
		p := &s.passages[k]
		if k > 0 {
			for range int(s.rests[k].least() / every) {
				out = append(out, cell{passage: -1, speed: -1})
			}
			out = append(out, cell{passage: -1, speed: -1, waits: true})
		}
		n := max(1, int(math.Round(p.total/every)))
		i := 0
		for c := range n {
			mid := (float64(c) + 0.5) * p.total / float64(n)
			here := cell{passage: int32(k), from: float32(mid), speed: -1, sews: true}
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

// ahead is what the best way to each cell earns so far, in 1/earnUnit: Viterbi's
// algorithm, frame by frame. With stops the machine may stop at any place, and go on there
// or some stitches earlier.
type ahead struct {
	cells      []cell
	parts      []part
	at         []uint8   // where in gain each cell's speed is
	gained     *earnings // of the frame
	room       earnings
	v, w       []int32
	halt, next []int32 // nil: without stops
	scale      float32
	slack      float32 // what staying in a cell of sewing or skipping one costs
	resting    float32 // what rest costs of the evidence that a machine sews
	lo, hi     int     // cells that can be reached and are not given up
	backs      []int   // of resumeBack that are tried
	beam       float32 // a cell that earns so much less than the best is given up; 0: none is
}

// part is cells from ≤ c < to of one passage or one rest.
type part struct {
	from, to int
	sews     bool
}

// beamWidth is what a way may fall behind the best before it is given up: as much
// as five seconds of sewing earn, so that a drop-out of ten, in which sewing costs 50, gives up none.
const beamWidth = 150

// never is what a way earns that there is none of.
const never = math.MinInt32 / 2

func inUnits(v float32) int32 { return int32(v * earnUnit) }

// inFull is a sum of such units in clear strokes' worth; −∞ where there is no way.
func inFull(v int32) float64 {
	if v < never/2 {
		return math.Inf(-1)
	}
	return float64(v) / earnUnit
}

func aheadOf(cells []cell, every float64, stops bool) *ahead {
	m := len(cells)
	a := &ahead{cells: cells, at: make([]uint8, m), v: make([]int32, m), w: make([]int32, m), scale: float32(every / 0.1),
		slack: uneven, hi: 2, backs: resumeBack[:]}
	if stops {
		a.halt, a.next = make([]int32, m), make([]int32, m)
	}
	for i := range cells {
		a.at[i] = uint8(cells[i].speed + 1)
		if i == 0 || cells[i].passage != cells[i-1].passage {
			a.parts = append(a.parts, part{i, i, cells[i].sews})
		}
		a.parts[len(a.parts)-1].to = i + 1
		a.v[i], a.w[i] = never, never
		if stops {
			a.halt[i], a.next[i] = never, never
		}
	}
	a.v[0], a.v[1] = 0, 0
	return a
}

// widen lets the ways go on by a frame: the cells they can reach.
func (a *ahead) widen() { a.hi = min(a.hi+2, len(a.cells)) }

// frame goes on by a frame whose evidence is e, after widen. How it came to each of
// the cells from lo on is put into came, which may be nil.
func (a *ahead) frame(e []float32, came []uint8) {
	a.gained = &a.room
	a.gained.of(e, a.scale)
	a.pass(max(slices.Max(e)-asks, 0), came)
}

// earnings are what a frame earns at each speed; the first: at none.
type earnings [gridSize + 1]int32

func (g *earnings) of(e []float32, scale float32) {
	slope, least := scale*earns*earnUnit, inUnits(scale*silent)
	to := g[1 : len(e)+1]
	for k, v := range e {
		to[k] = max(int32(slope*(v-asks)), least)
	}
}

// pass is frame where the earnings are known; heard is how much the evidence says that a
// machine sews.
func (a *ahead) pass(heard float32, came []uint8) {
	rest := standing*a.scale + a.resting*a.scale*heard
	most := int32(never)
	first := sort.Search(len(a.parts), func(k int) bool { return a.parts[k].to > a.lo })
	for _, p := range a.parts[first:] {
		from, to := max(p.from, a.lo), min(p.to, a.hi)
		if from >= to {
			break
		}
		var how []uint8
		if came != nil {
			how = came[from-a.lo : to-a.lo]
		}
		switch {
		case !p.sews:
			most = max(most, a.rests(from, to, inUnits(rest), how))
		case a.halt != nil && how == nil:
			most = max(most, a.sewsOn(p, from, to, inUnits(rest)))
		default:
			most = max(most, a.sews(p, from, to, inUnits(rest), how))
		}
	}
	a.v, a.w = a.w, a.v
	a.halt, a.next = a.next, a.halt
	if a.beam > 0 {
		a.giveUp(most - inUnits(a.beam))
	}
}

// rests goes on in cells of a rest and gives the most that is earned in one of them,
// as sews and sewsOn do.
func (a *ahead) rests(from, to int, rest int32, came []uint8) int32 {
	most := int32(never)
	for c := from; c < to; c++ {
		best, how := int32(never), uint8(cameNone)
		if c > 0 && a.v[c-1] > best {
			best, how = a.v[c-1], cameNext
		}
		if b := a.v[c] - rest; a.cells[c].waits && b > best {
			best, how = b, cameStay
		}
		a.w[c] = best
		most = max(most, best)
		if came != nil {
			came[c-from] = how
		}
	}
	return most
}

// sews goes on in cells of a passage.
func (a *ahead) sews(p part, from, to int, rest int32, came []uint8) int32 {
	slack, resumed, stopped := inUnits(a.slack), inUnits(resumes), inUnits(stopping)
	most := int32(never)
	for c := from; c < to; c++ {
		best, how := a.v[c-1], uint8(cameNext)
		if b := a.v[c] - slack; b > best {
			best, how = b, cameStay
		}
		if c-p.from > 1 {
			if b := a.v[c-2] - slack; b > best {
				best, how = b, cameSkip
			}
		}
		if a.halt != nil {
			for q, back := range a.backs {
				if c+back >= min(p.to, a.hi) {
					break
				}
				if b := a.halt[c+back] - resumed - inUnits(again*float32(q)); b > best {
					best, how = b, uint8(cameResumed+q)
				}
			}
			h := a.halt[c] - rest
			if b := a.v[c] - stopped; b > h {
				h = b
				how |= cameHalted
			}
			a.next[c] = h
			most = max(most, h)
		}
		best += a.gained[a.at[c]]
		a.w[c] = best
		most = max(most, best)
		if came != nil {
			came[c-from] = how
		}
	}
	return most
}

// sewsOn is sews with stops where nobody asks how each cell was come to: thousands of
// laws are tried so.
func (a *ahead) sewsOn(p part, from, to int, rest int32) int32 {
	slack, resumed, stopped := inUnits(a.slack), inUnits(resumes), inUnits(stopping)
	last, before := a.v[from-1], int32(never)
	if from-p.from > 1 {
		before = a.v[from-2]
	}
	most, gained := int32(never), a.gained
	v, w, at := a.v[from:to], a.w[from:to], a.at[from:to]
	halt, next := a.halt[from:to], a.next[from:to]
	w, at, halt, next = w[:len(v)], at[:len(v)], halt[:len(v)], next[:len(v)]
	for i, here := range v {
		stop := halt[i]
		best := max(last, max(before, here)-slack, stop-resumed) + gained[at[i]]
		h := max(stop-rest, here-stopped)
		w[i], next[i] = best, h
		most = max(most, best, h)
		before, last = last, here
		if from+i == p.from { // the cell two before the next is of a rest
			before = never
		}
	}
	for q := 1; q < len(a.backs); q++ {
		back := a.backs[q]
		less := resumed + inUnits(again*float32(q))
		for i := 0; i+back < min(p.to, a.hi)-from && i < len(w); i++ {
			w[i] = max(w[i], a.halt[from+i+back]-less+gained[at[i]])
			most = max(most, w[i])
		}
	}
	return most
}

// giveUp leaves out cells at either side that earn less than the least.
func (a *ahead) giveUp(least int32) {
	bad := func(c int) bool { return a.v[c] < least && (a.halt == nil || a.halt[c] < least) }
	drop := func(c int) {
		a.v[c], a.w[c] = never, never
		if a.halt != nil {
			a.halt[c], a.next[c] = never, never
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
// Where open, the way may end in any cell and only what it earns is given; a rhythm
// whose earnings are kept is followed so.
func follow(r *rhythm, n int, cells []cell, open, stops bool) *path {
	a, came, from := walk(r, n, cells, open, stops)
	m := len(cells)
	p := &path{every: r.every, cells: cells, score: inFull(a.v[m-1])}
	if open {
		p.score, p.end = inFull(slices.Max(a.v)), p.score
		return p
	}
	p.back(came, from, m-1)
	return p
}

// begins is the best way of the cells through frames [0, n) of the evidence wherever it
// ends.
func begins(r *rhythm, n int, cells []cell) *path {
	a, came, from := walk(r, n, cells, false, true)
	p := &path{every: r.every, cells: cells, score: inFull(slices.Max(a.v))}
	p.back(came, from, slices.Index(a.v, slices.Max(a.v)))
	return p
}

// walk goes ahead through frames [0, n): how each frame's cells were come to, and the
// first of them.
func walk(r *rhythm, n int, cells []cell, open, stops bool) (a *ahead, came [][]uint8, from []int) {
	a = aheadOf(cells, r.every, stops)
	a.beam = beamWidth
	if open { // what is sewn again changes little
		a.backs = resumeBack[:1]
	}
	for f := range n {
		a.widen()
		var here []uint8
		if !open {
			here = make([]uint8, a.hi-a.lo)
			came, from = append(came, here), append(from, a.lo)
		}
		if f < len(r.gained) {
			a.gained = &r.gained[f]
			a.pass(0, here)
		} else {
			a.frame(r.at(f), here)
		}
	}
	return a, came, from
}

// back reads off how cell c was come to at the last frame.
func (p *path) back(came [][]uint8, from []int, c int) {
	if math.IsInf(p.score, -1) {
		return
	}
	n, stopped := len(came), false
	p.way = make([]visit, n)
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
			return
		default:
			c += resumeBack[how-cameResumed]
			stopped = true
		}
		c = max(c, 0)
	}
}
