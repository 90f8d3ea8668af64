package stitch

import "math"

// How cover is found: a grid over the design, in which later stitches are drawn.
const (
	cellUnits = 7       // 0.7 mm: rows at the usual 0.4 mm reach every cell, whichever way they run
	lies      = 0.4     // cells: thread hides what lies so near, since a cell may just miss it
	mostCells = 1 << 22 // a larger design gets a coarser grid
	hiddenAt  = 0.65    // share of a stitch's cells that later stitches lie in
)

// cover goes through the stitches from the last to the first and finds running
// stitch and open zigzag that the columns and fills after it hide.
func (w *knower) cover() {
	b := (&Design{Records: w.rec}).Count()
	if b.Bounds.Empty {
		return
	}
	cell := float64(cellUnits)
	wide, high := float64(b.Bounds.MaxX-b.Bounds.MinX), float64(b.Bounds.MaxY-b.Bounds.MinY)
	for (wide/cell+2)*(high/cell+2) > mostCells {
		cell *= 2
	}
	nx, ny := int(wide/cell)+2, int(high/cell)+2
	drawn := make([]uint8, nx*ny)
	at := func(x, y float64) *uint8 { // nil where the frame stands before the first stitch
		if cx, cy := int(x), int(y); uint(cx) < uint(nx) && uint(cy) < uint(ny) {
			return &drawn[cy*nx+cx]
		}
		return nil
	}
	is := func(x, y float64) bool { c := at(x, y); return c != nil && *c != 0 }
	x, y := b.End.X-b.Bounds.MinX, b.End.Y-b.Bounds.MinY
	inv := 1 / cell
	// along goes back along the stitch that ends at x, y and draws it, or counts
	// what of it is hidden.
	along := func(i, x, y int, paint bool) (hidden, of int) {
		x1, y1 := float64(x)*inv, float64(y)*inv
		dx, dy := float64(w.rec[i].DX)*inv, float64(w.rec[i].DY)*inv
		// A place in each cell of the way, the ends half as often as the middle.
		of = int(max(math.Abs(dx), math.Abs(dy))) + 1
		for s := range of {
			t := (float64(s) + 0.5) / float64(of)
			cx, cy := x1-dx*t, y1-dy*t
			switch {
			case paint:
				if c := at(cx, cy); c != nil {
					*c = 1
				}
			case is(cx, cy) || is(cx-lies, cy) || is(cx+lies, cy) || is(cx, cy-lies) || is(cx, cy+lies):
				hidden++
			}
		}
		return hidden, of
	}
	for i := len(w.rec) - 1; i >= 0; i-- {
		k := w.out[i]
		switch {
		case k == NotSewn || k == Tie || k == Bean || w.open[i] == areaFill:
		case (k == Fill || k == Satin) && w.open[i] == NotSewn:
			along(i, x, y, true)
		case w.open[i] == fewLines || w.open[i] == netFill: // hidden as a whole, or not
			from, hidden, of := i, 0, 0
			for tx, ty := x, y; from >= 0 && w.open[from] == w.open[i]; from-- {
				h, n := along(from, tx, ty, false)
				hidden, of = hidden+h, of+n
				tx, ty = tx-int(w.rec[from].DX), ty-int(w.rec[from].DY)
			}
			under := i-from >= 5 && float64(hidden) >= hiddenAt*float64(of)
			for ; i > from; i-- {
				if under {
					w.out[i] = UnderCover
				} else if w.open[i] == fewLines {
					along(i, x, y, true)
				}
				x, y = x-int(w.rec[i].DX), y-int(w.rec[i].DY)
			}
			i++
			continue
		default:
			if hidden, of := along(i, x, y, false); float64(hidden) >= hiddenAt*float64(of) {
				w.out[i] = UnderCover
			}
		}
		x, y = x-int(w.rec[i].DX), y-int(w.rec[i].DY)
	}
}
