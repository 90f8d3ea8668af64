package audit

import (
	"cmp"
	"slices"

	"needlepace/stitch"
)

// places are the holes of a design by their place, in square cells: for all that are in
// one place, and for those near one.
type places struct {
	x0, y0, side int32 // of the cells, 0.1 mm
	nx, ny       int32
	start        []int32 // of each cell in at, and the end of the last
	at           []punched
	holes        []int32 // of each place together, in sewing order
}

// punched is one in which holes from ≤ i < to of places are, in 0.1 mm.
type punched struct{ x, y, from, to int32 }

func (p punched) strikes() int { return int(p.to - p.from) }

// mostPlaceCells keeps the cells of places within 16 MB: those of a design over 4 m² are
// larger than a millimetre.
const mostPlaceCells = 4_000_000

// places sorts the holes by place, once.
func (v *survey) places() *places {
	if v.byPlace != nil {
		return v.byPlace
	}
	b := &places{x0: int32(v.bounds.MinX), y0: int32(v.bounds.MinY), side: stitch.UnitsPerMM}
	v.byPlace = b
	if len(v.l.holes) == 0 {
		return b
	}
	for ; ; b.side *= 2 {
		b.nx, b.ny = (int32(v.bounds.MaxX)-b.x0)/b.side+1, (int32(v.bounds.MaxY)-b.y0)/b.side+1
		if int64(b.nx)*int64(b.ny) <= mostPlaceCells {
			break
		}
	}
	first := make([]int32, b.nx*b.ny+1) // of each cell in holes
	for _, p := range v.l.holes {
		first[b.cell(p)+1]++
	}
	for c := range len(first) - 1 {
		first[c+1] += first[c]
	}
	next := slices.Clone(first)
	b.holes = make([]int32, len(v.l.holes))
	for k, p := range v.l.holes {
		c := b.cell(p)
		b.holes[next[c]] = int32(k)
		next[c]++
	}
	b.start = next // of no more use
	b.at = make([]punched, 0, len(v.l.holes))
	for c := range len(first) - 1 {
		b.start[c] = int32(len(b.at))
		in := b.holes[first[c]:first[c+1]]
		slices.SortFunc(in, func(i, k int32) int {
			p, q := v.l.holes[i], v.l.holes[k]
			return cmp.Or(cmp.Compare(p.y, q.y), cmp.Compare(p.x, q.x), cmp.Compare(i, k))
		})
		for i, k := range in {
			p, n := v.l.holes[k], len(b.at)
			if i == 0 || b.at[n-1].x != p.x || b.at[n-1].y != p.y {
				b.at = append(b.at, punched{x: p.x, y: p.y, from: first[c] + int32(i)})
				n++
			}
			b.at[n-1].to = first[c] + int32(i) + 1
		}
	}
	b.start[len(first)-1] = int32(len(b.at))
	return b
}

// strikes are the holes in a place, in sewing order.
func (b *places) strikes(p punched) []int32 { return b.holes[p.from:p.to] }

func (b *places) column(x int32) int32 { return min(max((x-b.x0)/b.side, 0), b.nx-1) }
func (b *places) row(y int32) int32    { return min(max((y-b.y0)/b.side, 0), b.ny-1) }
func (b *places) cell(p hole) int32    { return b.column(p.x) + b.nx*b.row(p.y) }

// near calls f with the number of each place within a distance of one, in 0.1 mm.
func (b *places) near(p punched, reach, square int32, f func(i int32)) {
	x0, x1 := b.column(p.x-reach), b.column(p.x+reach)
	for y := b.row(p.y - reach); y <= b.row(p.y+reach); y++ {
		from := b.start[y*b.nx+x0]
		for i, q := range b.at[from:b.start[y*b.nx+x1+1]] {
			if dx, dy := p.x-q.x, p.y-q.y; dx*dx+dy*dy <= square {
				f(from + int32(i))
			}
		}
	}
}

// most is how many holes lie near a place at most.
func (b *places) most(p punched, reach int32) (n int32) {
	x0, x1 := b.column(p.x-reach), b.column(p.x+reach)
	for y := b.row(p.y - reach); y <= b.row(p.y+reach); y++ {
		if from, to := b.start[y*b.nx+x0], b.start[y*b.nx+x1+1]; from < to {
			n += b.at[to-1].to - b.at[from].from
		}
	}
	return n
}

// count is how many holes lie within a distance of a place, given with its square.
func (b *places) count(p punched, reach, square int32) (n int32) {
	x0, x1 := b.column(p.x-reach), b.column(p.x+reach)
	for y := b.row(p.y - reach); y <= b.row(p.y+reach); y++ {
		for _, q := range b.at[b.start[y*b.nx+x0]:b.start[y*b.nx+x1+1]] {
			if dx, dy := p.x-q.x, p.y-q.y; dx*dx+dy*dy <= square {
				n += q.to - q.from
			}
		}
	}
	return n
}
