package picture

import (
	"math"
	"slices"
	"sync"
)

// mark is what painted a cell first.
type mark struct {
	first int32 // the stitch, counted from 1
	pen   uint16
}

// grids are what stretches takes room for, again and again.
var grids = sync.Pool{New: func() any { return new([]mark) }}

// Stitches of one pen can share a path only as long as no other pen's thread
// lies between them: satin must stay on top of its underlay. stretches cuts
// the stitches where gathering them by pen would put an earlier stitch over a
// later one, and gives the end of each stretch (and of each layer).
//
// It keeps, for a grid over the design, which pen painted a cell first in the
// current stretch and when. A stitch that runs into a cell of another pen
// ends the stretch, unless that was within the last few stitches: neighbours
// in a satin or fill lie side by side and do not cover one another.
func stretches(t *Threads) []int {
	const neighbours = 8
	var ends []int
	b, ok := extent(t.Segs)
	if !ok {
		return nil
	}
	cell := 4.0 // units of 0.1 mm: a thread's width
	for (float64(b.MaxX-b.MinX)/cell+2)*(float64(b.MaxY-b.MinY)/cell+2) > 1<<21 {
		cell *= 1.5
	}
	nx := int(float64(b.MaxX-b.MinX)/cell) + 1
	ny := int(float64(b.MaxY-b.MinY)/cell) + 1
	room := grids.Get().(*[]mark)
	defer grids.Put(room)
	grid := slices.Grow((*room)[:0], nx*ny)[:nx*ny]
	*room = grid
	clear(grid)
	start := 0 // of the stretch: marks before it are old
	for i := range t.Segs {
		s := &t.Segs[i]
		if i > start && s.Layer != t.Segs[i-1].Layer {
			ends = append(ends, i)
			start = i
		}
		x0, y0 := float64(int(s.X0)-b.MinX)/cell, float64(int(s.Y0)-b.MinY)/cell
		dx, dy := float64(s.X1-s.X0)/cell, float64(s.Y1-s.Y0)/cell
		n := int(math.Ceil(max(math.Abs(dx), math.Abs(dy))))
		if n == 0 {
			continue
		}
		dx, dy = dx/float64(n), dy/float64(n)
		pen := t.Pen[i]
		// The first cell is the one before's last: it is left out.
		for k := 1; k <= n; k++ {
			c := int(y0+dy*float64(k))*nx + int(x0+dx*float64(k))
			m := &grid[c]
			if int(m.first) <= start {
				*m = mark{int32(i + 1), pen}
				continue
			}
			if m.pen != pen && i+1-int(m.first) > neighbours {
				ends = append(ends, i)
				start = i
				*m = mark{int32(i + 1), pen}
			}
		}
	}
	return append(ends, len(t.Segs))
}
