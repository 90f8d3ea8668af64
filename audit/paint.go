package audit

import (
	"fmt"
	"math"
	"math/bits"
)

// The proof paints both designs and compares them point by point. It shares
// nothing with the search for orders but the cutting into objects: it does
// not ask which objects touch, it looks which thread lies where.
//
// The picture is a lattice of points 0.1 mm apart, the step of the file. A
// piece of thread covers the points within half a ThreadWidth of its middle
// line. At each point the pieces are laid down in sewing order, each as its
// thread, its line and its direction. Two designs are the same picture if at
// every point the same pieces lie in the same order.
//
// A stitch split along its own line is the same line: laying a piece onto
// itself with nothing between changes nothing, so that dropping a hole in the
// middle of a straight way, or a second stitch into the same hole, does not
// show; everything else does.
//
// Where lines are taken from either end (see turn.go) a line's pieces have no
// direction, and those of one line that lie on one another at a point with
// nothing of another object between are a set: they are one thread, at a hole it
// goes down and comes up again. What it lies on and what lies on it counts as
// ever, and which objects are lines each design says by itself.

// Picture is a painted design in short: how many points are covered and a
// digest of what lies at each.
type Picture struct {
	Points int       // lattice points covered by thread, 0.1 mm apart
	Layers int       // most pieces of thread over one another at a point
	Digest [2]uint64 // over all points
}

// String is the digest for people to compare.
func (p Picture) String() string { return fmt.Sprintf("%016x%016x", p.Digest[0], p.Digest[1]) }

// painter holds a band of rows at a time, so that memory stays small.
type painter struct {
	x0, width int64
	hash      []uint64
	last      []uint64
	depth     []uint16
	// lo and hi bound, in each row, the points that were painted: most of a wide
	// design is bare. Empty: lo > hi.
	lo, hi []int64
	// Of the line that lies on top at a point: which it is, counted from 1, what
	// it lies on, and the sum of its pieces. Nil where lines have a direction.
	top       []int32
	under, of []uint64
}

const bandPoints = 1 << 21

// paint draws the design; threads gives each colour block its thread, turned
// takes lines from either end.
func paint(l *layout, threads []int, turned bool) Picture {
	lines := l.threads()
	if len(lines) == 0 {
		return Picture{}
	}
	const r = reach / 2 // half a thread, in lattice steps
	x0, x1 := int64(math.MaxInt64), int64(math.MinInt64)
	y0, y1 := x0, x1
	for i := range lines {
		s := &lines[i]
		x0, x1 = min(x0, int64(min(s.x0, s.x1))-r), max(x1, int64(max(s.x0, s.x1))+r)
		y0, y1 = min(y0, int64(min(s.y0, s.y1))-r), max(y1, int64(max(s.y0, s.y1))+r)
	}
	p := &painter{x0: x0, width: x1 - x0 + 1}
	rows := max(1, bandPoints/p.width)
	size := p.width * min(rows, y1-y0+1)
	p.hash, p.last, p.depth = make([]uint64, size), make([]uint64, size), make([]uint16, size)
	p.lo, p.hi = make([]int64, size/p.width), make([]int64, size/p.width)
	for row := range p.lo {
		p.lo[row], p.hi[row] = math.MaxInt64, -1
	}
	var either []bool
	if turned {
		either = l.lines()
		p.top, p.under, p.of = make([]int32, size), make([]uint64, size), make([]uint64, size)
	}
	var out Picture
	for top := y0; top <= y1; top += rows {
		bottom := min(top+rows-1, y1)
		for i := range lines {
			s := &lines[i]
			if int64(max(s.y0, s.y1))+r < top || int64(min(s.y0, s.y1))-r > bottom {
				continue
			}
			key, as := strokeKey(s, threads[l.objects[s.object].Block]), int32(0)
			if turned && either[s.object] {
				back := line{s.x1, s.y1, s.x0, s.y0, s.object}
				key, as = min(key, strokeKey(&back, threads[l.objects[s.object].Block])), s.object+1
			}
			p.line(s, key, as, top, bottom)
		}
		for row := range p.lo {
			p.read(row, top, &out)
		}
	}
	return out
}

// read adds a row of a band, which begins at top, to the picture and clears it.
func (p *painter) read(row int, top int64, out *Picture) {
	from, to := p.lo[row], p.hi[row]+1
	if from >= to {
		return
	}
	for k := from; k < to; k++ {
		if p.depth[k] == 0 {
			continue
		}
		x, y := p.x0+k-int64(row)*p.width, top+int64(row)
		at := mix(uint64(x)<<32 ^ uint64(uint32(y)) ^ 0x9E3779B97F4A7C15)
		a, b := bits.Mul64(p.hash[k]^at, 0xD6E8FEB86659FD93)
		out.Digest[0] += mix(p.hash[k] + at)
		out.Digest[1] += mix(a ^ b)
		out.Points++
		out.Layers = max(out.Layers, int(p.depth[k]))
	}
	clear(p.hash[from:to])
	clear(p.last[from:to])
	clear(p.depth[from:to])
	if p.top != nil {
		clear(p.top[from:to])
	}
	p.lo[row], p.hi[row] = math.MaxInt64, -1
}

// line lays a piece over every point within half a thread of it; as is the line
// it is of, 0 where that does not matter.
func (p *painter) line(s *line, key uint64, as int32, top, bottom int64) {
	const r = reach / 2
	xa, ya, xb, yb := int64(s.x0), int64(s.y0), int64(s.x1), int64(s.y1)
	ux, uy := xb-xa, yb-ya
	len2 := ux*ux + uy*uy
	for y := max(top, min(ya, yb)-r); y <= min(bottom, max(ya, yb)+r); y++ {
		// where the line can be within r of this row
		lo, hi := min(xa, xb)-r, max(xa, xb)+r
		if uy != 0 && ux != 0 {
			// a row r above and below: the middle line's x there, with room
			f := float64(ux) / float64(uy)
			slack := r*math.Sqrt(1+f*f) + 1
			mid := float64(xa) + float64(y-ya)*f
			lo, hi = max(lo, int64(math.Floor(mid-slack))), min(hi, int64(math.Ceil(mid+slack)))
		}
		row := (y - top) * p.width
		p.lo[y-top], p.hi[y-top] = min(p.lo[y-top], row+lo-p.x0), max(p.hi[y-top], row+hi-p.x0)
		for x := lo; x <= hi; x++ {
			px, py := x-xa, y-ya
			dot := ux*px + uy*py
			switch {
			case dot <= 0:
				if px*px+py*py > r*r {
					continue
				}
			case dot >= len2:
				qx, qy := x-xb, y-yb
				if qx*qx+qy*qy > r*r {
					continue
				}
			default:
				c := ux*py - uy*px
				if c < 0 {
					c = -c
				}
				if float64(c)*float64(c) > float64(r*r)*float64(len2) {
					continue
				}
			}
			k := row + x - p.x0
			if p.last[k] == key {
				continue
			}
			p.last[k] = key
			if p.top != nil && as > 0 {
				if p.top[k] != as {
					p.under[k], p.of[k] = p.hash[k], 0
				}
				p.of[k] += mix(key)
				p.hash[k] = mix(p.under[k] ^ p.of[k])
			} else {
				p.hash[k] = mix(p.hash[k] ^ key)
			}
			if p.top != nil {
				p.top[k] = as
			}
			if p.depth[k] < math.MaxUint16 {
				p.depth[k]++
			}
		}
	}
}

// strokeKey names a piece by its thread, its direction in lowest terms and the
// line it lies on: pieces of one straight way have one key.
func strokeKey(s *line, thread int) uint64 {
	dx, dy := int64(s.x1)-int64(s.x0), int64(s.y1)-int64(s.y0)
	if g := gcd(dx, dy); g > 0 {
		dx, dy = dx/g, dy/g
	}
	offset := int64(s.x0)*dy - int64(s.y0)*dx
	if dx == 0 && dy == 0 { // a single hole: named by its place
		offset = int64(s.x0)<<32 ^ int64(uint32(s.y0))
	}
	h := mix(uint64(thread) + 0x632BE59BD9B4E019)
	h = mix(h ^ uint64(dx)<<32 ^ uint64(uint32(dy)))
	return mix(h^uint64(offset)) | 1 // never 0, the empty point
}

func gcd(a, b int64) int64 {
	if a < 0 {
		a = -a
	}
	if b < 0 {
		b = -b
	}
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// mix is a finalizer of 64 bits (Steele, Lea and Flood, "Fast Splittable
// Pseudorandom Number Generators", OOPSLA 2014).
func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}
