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
			here := cell{passage: int32(k), from: float32(mid), speed: -1, sews: true, first: c == 0}
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
	cameNone    = 255
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
}

// follow finds the best way of the cells through frames [0, n) of the
// evidence (Viterbi's algorithm; a semi-Markov model whose times of rest are free
// from a least one on). Where open, the way may end in any cell and only
// what it earns is given. Where stops, the machine may stop at any place and go
// on there or some stitches earlier.
func follow(r *rhythm, n int, cells []cell, open, stops bool) *path {
	minus := float32(math.Inf(-1))
	m := len(cells)
	scale := float32(r.every / 0.1)
	v, w := make([]float32, m), make([]float32, m)
	var halt, halt2 []float32
	if stops {
		halt, halt2 = make([]float32, m), make([]float32, m)
	}
	for i := range v {
		v[i], w[i] = minus, minus
		if stops {
			halt[i], halt2[i] = minus, minus
		}
	}
	v[0] = 0
	v[1] = 0
	var came, cameHalt []uint8
	if !open {
		came = make([]uint8, n*m)
		if stops {
			cameHalt = make([]uint8, (n*m+7)/8)
		}
	}
	lo, hi := 0, 2 // cells that can be reached
	for f := range n {
		e := r.at(f)
		if hi = min(hi+2, m); lo > hi {
			lo = hi
		}
		for c := lo; c < hi; c++ {
			k := &cells[c]
			best, how := minus, uint8(cameNone)
			if c > 0 {
				if b := v[c-1]; b > best {
					best, how = b, cameNext
				}
			}
			if k.waits {
				if b := v[c] - standing*scale; b > best {
					best, how = b, cameStay
				}
			}
			if k.sews {
				if b := v[c] - uneven; b > best {
					best, how = b, cameStay
				}
				if c > 1 && cells[c-2].passage == k.passage {
					if b := v[c-2] - uneven; b > best {
						best, how = b, cameSkip
					}
				}
				if stops {
					for q, back := range resumeBack {
						if c+back >= m || cells[c+back].passage != k.passage {
							break
						}
						if b := halt[c+back] - resumes - float32(0.1*float64(q)); b > best {
							best, how = b, uint8(cameResumed+q)
						}
					}
				}
				if k.speed >= 0 {
					best += scale * max(earns*(e[k.speed]-asks), silent)
				}
			}
			w[c] = best
			if came != nil {
				came[f*m+c] = how
			}
			if stops {
				h := minus
				if k.sews {
					h = halt[c] - standing*scale
					if b := v[c] - stopping; b > h {
						h = b
						if cameHalt != nil {
							cameHalt[(f*m+c)/8] |= 1 << ((f*m + c) % 8)
						}
					}
				}
				halt2[c] = h
			}
		}
		v, w = w, v
		halt, halt2 = halt2, halt
	}
	p := &path{every: r.every, cells: cells}
	if open {
		p.score = float64(slices.Max(v))
		return p
	}
	p.score = float64(v[m-1])
	p.way = make([]visit, n)
	c, stopped := m-1, false
	for f := n - 1; f >= 0; f-- {
		p.way[f] = visit{f, c, stopped}
		if stopped {
			if cameHalt[(f*m+c)/8]&(1<<((f*m+c)%8)) != 0 {
				stopped = false
			}
			continue
		}
		switch how := came[f*m+c]; how {
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
