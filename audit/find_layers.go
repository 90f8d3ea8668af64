package audit

import (
	"math"
	"slices"

	"needlepace/stitch"
	"needlepace/words"
)

// StackedLayers is too much thread over one another.
const StackedLayers Kind = "stacked-layers"

// A smaller spot, in square millimetres, is a corner or a lock and no stack.
// Engineering choice.
const stackLeast = 4

// findLayers looks for places around which the thread that lies in a square millimetre,
// at its own width, covers the cloth more than Layers times, and which have no
// more holes than Density allows: the others are findDense's.
func findLayers(v *survey) []Finding {
	if len(v.report.Penetrations.Counts) == 0 {
		return nil // too large a design
	}
	lie := v.layers()
	for i, n := range v.crowd() {
		if float64(n) > v.lim.Density {
			p := v.places().at[i]
			lie.noStack(float64(p.x), float64(p.y))
		}
	}
	lie.slide(v.lim.Layers)
	var found []Finding
	for _, f := range v.spots(lie, v.lim.Layers) {
		if f.Count >= stackLeast {
			f.Risk, f.Severity = RiskBreak, worse(Shows, f.Over)
			found = append(found, f)
		}
	}
	return found
}

func sayLayers(_ *survey, f *Finding) {
	f.What = words.Say("finding.layers", words.Args{"times": words.Fixed(f.Peak, 1), "area": words.AreaMM2(f.Count)})
	f.Ask = words.Say("finding.layers-ask")
}

// layers is how many times thread covers a square millimetre, by cells that are yet to slide.
func (v *survey) layers() *field {
	out := newField(v.bounds)
	const step = 2.5 // 0.1 mm
	for i := range v.lines {
		s := &v.lines[i]
		dx, dy := float64(s.x1-s.x0), float64(s.y1-s.y0)
		long := math.Hypot(dx, dy)
		n := max(1, int(math.Ceil(long/step)))
		part := long / float64(n) / stitch.UnitsPerMM * ThreadWidth * aLayer
		for p := range n {
			t := (float64(p) + 0.5) / float64(n)
			out.add(float64(s.x0)+t*dx, float64(s.y0)+t*dy, part)
		}
	}
	return out
}

// A field counts layers in parts of one. A cell with too many holes weighs down each
// square millimetre that it is in: the 25 of one stay within an int32.
const (
	aLayer    = 100_000
	notAStack = -1 << 26
)

// field is how many layers lie, in parts of aLayer, by small cells around the middle of a design: so it is the same
// wherever the design lies, and turned or mirrored with it.
type field struct {
	x0, y0, side float64 // of a cell, 0.1 mm
	nx, ny       int
	values       []int32
	// blocks are what was added by square millimetre, never too little: over most of most designs lies so little thread
	// that no cell's millimetre need be summed, see slide.
	w      int     // cells along a side of a block
	block  []int   // the block of a cell's row or column
	bx     int     // blocks in a row
	blocks []int64 // by rows
	over   []int   // the cells over the limit, in their order
}

// mostCells keeps a field within 64 MB: a design over 800 mm square has larger cells.
const mostCells = 1 << 24

func newField(b stitch.Bounds) *field {
	f := &field{}
	for _, f.side = range []float64{2, 5, stitch.UnitsPerMM} {
		f.nx, f.ny = int(float64(b.MaxX-b.MinX)/f.side)+3, int(float64(b.MaxY-b.MinY)/f.side)+3
		if f.nx*f.ny <= mostCells {
			break
		}
	}
	f.x0, f.y0 = (float64(b.MinX+b.MaxX)-float64(f.nx)*f.side)/2, (float64(b.MinY+b.MaxY)-float64(f.ny)*f.side)/2
	f.values = make([]int32, f.nx*f.ny)
	f.w = int(stitch.UnitsPerMM / f.side)
	f.block = make([]int, max(f.nx, f.ny))
	for k := range f.block {
		f.block[k] = (k + f.w/2 + 1) / f.w // so that the millimetre around a cell lies in the block k/w and the next
	}
	f.bx = f.nx/f.w + 3
	f.blocks = make([]int64, f.bx*(f.ny/f.w+3))
	return f
}

// among gives the column and row of the first of the four cells whose middles are nearest to a place, and how far from its
// middle towards the next ones the place lies, 0 to 1: where the cells' edges lie decides nothing.
func (f *field) among(x, y float64) (cx, cy int, right, up float64) {
	x, y = (x-f.x0)/f.side-0.5, (y-f.y0)/f.side-0.5
	cx, cy = int(x), int(y)
	return cx, cy, x - float64(cx), y - float64(cy)
}

// add shares what lies at a place among the four cells (bilinear).
func (f *field) add(x, y, lies float64) {
	cx, cy, right, up := f.among(x, y)
	f.blocks[f.block[cy]*f.bx+f.block[cx]] += int64(lies) + 1
	below, above := lies*(1-up), lies*up
	at := cy*f.nx + cx
	v := f.values[at : at+f.nx+2]
	v[0] += int32(below * (1 - right))
	v[1] += int32(below * right)
	v[f.nx] += int32(above * (1 - right))
	v[f.nx+1] += int32(above * right)
}

// noStack says that no stack lies at a place.
func (f *field) noStack(x, y float64) {
	cx, cy, right, up := f.among(x, y)
	for k := range 4 {
		if (k%2 == 0 || right > 0) && (k < 2 || up > 0) {
			f.values[(cy+k/2)*f.nx+cx+k%2] = notAStack
		}
	}
}

func (f *field) cell(x, y float64) int {
	cx, cy := int((x-f.x0)/f.side), int((y-f.y0)/f.side)
	return min(max(cy, 0), f.ny-1)*f.nx + min(max(cx, 0), f.nx-1)
}

// slide makes the value of each cell over the limit the sum of the square millimetre around it.
func (f *field) slide(limit float64) {
	most, w := int32(limit*aLayer), f.w
	hot := func(bx, by int) bool {
		b := f.blocks[by*f.bx+bx:]
		return b[0]+b[1]+b[f.bx]+b[f.bx+1] > int64(most)
	}
	was := f.values
	f.values = nil
	var rows, out []int32 // sums along the rows, of one stretch of blocks, and of one row by millimetres
	for y := 0; y < f.ny; y += w {
		for x := 0; x < f.nx; x += w {
			if !hot(x/w, y/w) {
				continue
			}
			from := x
			for x += w; x < f.nx && hot(x/w, y/w); x += w {
			}
			to := min(x, f.nx)
			n := to - from
			rows = slices.Grow(rows[:0], (2*w-1)*n)[:(2*w-1)*n]
			for r := range 2*w - 1 {
				row := rows[r*n : (r+1)*n]
				clear(row)
				k := y - w/2 + r
				if k < 0 || k >= f.ny {
					continue
				}
				of := was[k*f.nx : (k+1)*f.nx]
				sum := int32(0)
				for i := max(0, from-w/2); i < min(f.nx, from-w/2+w-1); i++ {
					sum += of[i]
				}
				for i := range row { // of from + i − w/2 ≤ k < from + i − w/2 + w
					k := from + i - w/2
					if k+w-1 < f.nx {
						sum += of[k+w-1]
					}
					row[i] = sum
					if k >= 0 {
						sum -= of[k]
					}
				}
			}
			for r := range min(w, f.ny-y) {
				out = slices.Grow(out[:0], n)[:n]
				clear(out)
				for i := range w {
					for x, n := range rows[(r+i)*n : (r+i+1)*n] {
						out[x] += n
					}
				}
				was := len(f.over)
				for x, n := range out {
					if n > most {
						f.over = append(f.over, (y+r)*f.nx+from+x)
					}
				}
				if len(f.over) == was {
					continue // all else may stay 0: only what is over the limit is looked at
				}
				if f.values == nil {
					f.values = make([]int32, f.nx*f.ny)
				}
				copy(f.values[(y+r)*f.nx+from:], out)
			}
		}
	}
	slices.Sort(f.over)
}

// spots gathers neighbouring cells of a field whose value is over the limit:
// Count is their square millimetres, Peak the most, and the place where that is.
func (v *survey) spots(of *field, limit float64) []Finding {
	if len(of.over) == 0 {
		return nil
	}
	most := int32(limit * aLayer)
	spot := make([]int32, len(of.values)) // number of the spot by cell, from 1
	var found []Finding
	var stack []int
	for _, c := range of.over {
		if spot[c] > 0 {
			continue
		}
		f := Finding{From: -1, Spread: true, Radius: spotRing}
		id, cells := int32(len(found)+1), 0
		spot[c] = id
		stack = append(stack[:0], c)
		for len(stack) > 0 {
			c := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			cells++
			x, y := c%of.nx, c/of.nx
			atX, atY := of.x0+of.side*(float64(x)+0.5), of.y0+of.side*(float64(y)+0.5)
			if peak := float64(of.values[c]) / aLayer; peak > f.Peak {
				f.Peak, f.X, f.Y = peak, atX/stitch.UnitsPerMM, atY/stitch.UnitsPerMM
			}
			f.lies(atX, atY)
			for ny := max(0, y-1); ny <= min(of.ny-1, y+1); ny++ {
				for nx := max(0, x-1); nx <= min(of.nx-1, x+1); nx++ {
					if k := ny*of.nx + nx; spot[k] == 0 && of.values[k] > most {
						spot[k] = id
						stack = append(stack, k)
					}
				}
			}
		}
		f.Count = int(math.Round(float64(cells) * of.side * of.side / (stitch.UnitsPerMM * stitch.UnitsPerMM)))
		f.Over = f.Peak / limit
		found = append(found, f)
	}
	in := make([][]int, len(found)) // the holes to which thread runs that lies there
	for i := range v.l.objects {
		o := &v.l.objects[i]
		for k := o.First + 1; k < o.Last; k++ {
			p, q := v.l.holes[k-1], v.l.holes[k]
			dx, dy := float64(q.x-p.x), float64(q.y-p.y)
			n := 1 + int(math.Hypot(dx, dy)/stitch.UnitsPerMM)
			for at := range n {
				t := (float64(at) + 0.5) / float64(n)
				id := spot[of.cell(float64(p.x)+t*dx, float64(p.y)+t*dy)]
				if id > 0 && (len(in[id-1]) == 0 || in[id-1][len(in[id-1])-1] != k) {
					in[id-1] = append(in[id-1], k)
				}
			}
		}
	}
	for i := range found {
		if f := &found[i]; len(in[i]) > 0 {
			f.From, f.To = mostOf(in[i])
			f.Block = v.l.objects[v.objectOf(f.From)].Block
		}
	}
	return slices.DeleteFunc(found, func(f Finding) bool { return f.From < 0 }) // a corner of a cell
}
