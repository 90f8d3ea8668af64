package audit

import (
	"needlepace/stitch"
)

// maxStep is the longest jump written, in 0.1 mm an axis: what the 3-byte
// format can hold, the shortest of the formats written.
const maxStep = 121

// trimJumps is the least number of jumps written for a trim: the trade's code.
const trimJumps = 3

// build is how a new order of objects is written.
type build struct {
	explicit bool // trims are trim records (the design has them), else runs of jumps
	jumps    int  // at least so many jumps for such a run, see writer
	tidy     bool // joints are written anew, without what only costs time
	join     bool // no cut where a thread goes on in the hole it was cut in
}

// fixed says whether what stands before object k is more than a cut and a way:
// an operator's stop, or several colour stops. Then nothing moves across it;
// nor across an object with a stop or a sequin in it.
func (l *layout) fixed(k int, b build) bool {
	stops := l.joints[k].count(stitch.ColourStop)
	return l.walled(k) || !b.tidy && (stops > 1 || k == 0 && stops > 0)
}

// walled says whether a stop that stays stands before object k, or a stop or a
// sequin within it.
func (l *layout) walled(k int) bool {
	return l.joints[k].held || k < len(l.objects) && l.objects[k].Wall
}

// loose says whether the design may end after any object: not if its tail is
// more than a trim and a way.
func (l *layout) loose() bool {
	t := &l.joints[len(l.objects)]
	return t.from == t.to || len(t.cuts) == 1 && t.cuts[0].op == stitch.Trim && t.jumps == 0
}

// rebuilt is a design in a new order.
type rebuilt struct {
	rec    []stitch.Record
	blocks []int // of each new block: the old block of its first object
	holes  []int // of each penetration: its old number
	joined int   // cuts that went because the thread goes on in the same hole
}

// rebuild writes the objects in the given order. threads gives each old block
// its thread: between objects of one thread there is a trim, else a colour
// stop. Stretches that stay as they were keep their records, unless tidy.
func (l *layout) rebuild(order []int, threads []int, b build) rebuilt {
	out := rebuilt{rec: make([]stitch.Record, 0, len(l.rec)+8)}
	at := stitch.Point{}
	w := writer{&out.rec, max(trimJumps, l.trimAfter, b.jumps), b.explicit}
	for n, k := range order {
		o := &l.objects[k]
		j := &l.joints[k]
		way := stitch.Point{X: o.Lead.X - at.X, Y: o.Lead.Y - at.Y}
		records := l.rec[o.From:o.To]
		newBlock := n == 0
		switch {
		case n == 0 && k == 0:
			if b.tidy && !l.fixed(0, b) {
				w.way(way, 0)
			} else {
				w.copy(l.rec[j.from:j.to])
				for range j.count(stitch.ColourStop) {
					out.blocks = append(out.blocks, len(out.blocks))
				}
			}
		case n == 0:
			w.way(way, 0)
		case l.fixed(k, b):
			if order[n-1] == k-1 {
				w.copy(l.rec[j.from:j.to])
			} else {
				w.cuts(j.cuts, at, o.Lead)
			}
			for range j.count(stitch.ColourStop) - 1 {
				out.blocks = append(out.blocks, o.Block) // an empty block: any thread will do
			}
			newBlock = j.has(stitch.ColourStop)
		default:
			a := &l.objects[order[n-1]]
			same := threads[a.Block] == threads[o.Block]
			neighbours := order[n-1] == k-1
			switch {
			case same && b.join && joins(a, o):
				// The stitch begins in the hole the thread was cut in.
				records = append([]stitch.Record{{DX: int16(o.Start.X - at.X), DY: int16(o.Start.Y - at.Y),
					Op: records[0].Op}}, records[1:]...)
				out.joined++
			case neighbours && !b.tidy && same != j.has(stitch.ColourStop):
				w.copy(l.rec[j.from:j.to])
				newBlock = !same
			case same:
				w.trim(way)
			default:
				newBlock = true
				w.colour(way)
			}
		}
		if newBlock {
			out.blocks = append(out.blocks, o.Block)
		}
		w.copy(records)
		for i := o.First; i < o.Last; i++ {
			out.holes = append(out.holes, i)
		}
		at = o.Exit
	}
	tail := &l.joints[len(l.objects)]
	way := stitch.Point{X: l.end.X - at.X, Y: l.end.Y - at.Y}
	last := len(order) > 0 && order[len(order)-1] == len(l.objects)-1
	switch {
	case len(order) == 0, last && !(b.tidy && tail.has(stitch.ColourStop) && !l.walled(len(l.objects))):
		w.copy(l.rec[tail.from:tail.to])
		for n := range tail.count(stitch.ColourStop) {
			out.blocks = append(out.blocks, l.blocks-tail.count(stitch.ColourStop)+n)
		}
	case tail.has(stitch.Trim) || tail.has(stitch.ColourStop) && way != (stitch.Point{}):
		w.trim(way)
	}
	return out
}

// joins says whether a thread cut after a could go on into b without a new
// piece of thread: b begins in the very hole a ends in.
func joins(a, b *Object) bool {
	return a.End == b.Start && a.Exit == a.End && !a.Bare && !b.Bare && !b.Wall
}

// writer appends records.
type writer struct {
	rec       *[]stitch.Record
	trimAfter int
	explicit  bool
}

func (w writer) put(op stitch.Op, dx, dy int) {
	*w.rec = append(*w.rec, stitch.Record{DX: int16(dx), DY: int16(dy), Op: op})
}

func (w writer) copy(r []stitch.Record) { *w.rec = append(*w.rec, r...) }

// way moves the frame in n or more equal jumps; in none if there is no way
// and n is 0. With no way the frame goes out and back by a hair, since some
// readers drop jumps that do not move.
func (w writer) way(d stitch.Point, n int) {
	if d == (stitch.Point{}) {
		for ; n > 0; n -= 2 {
			w.put(stitch.Jump, 2, 2)
			if n == 3 {
				w.put(stitch.Jump, -4, -4)
				w.put(stitch.Jump, 2, 2)
				return
			}
			w.put(stitch.Jump, -2, -2)
		}
		return
	}
	for n = max(n, jumpsFor(d.X, d.Y)); n > 0; n-- {
		dx, dy := d.X/n, d.Y/n
		w.put(stitch.Jump, dx, dy)
		d.X, d.Y = d.X-dx, d.Y-dy
	}
}

func jumpsFor(dx, dy int) int {
	return (max(dx, -dx, dy, -dy) + maxStep - 1) / maxStep
}

func (w writer) trim(d stitch.Point) {
	if w.explicit {
		w.put(stitch.Trim, 0, 0)
		w.way(d, 0)
		return
	}
	w.way(d, w.trimAfter)
}

func (w writer) colour(d stitch.Point) {
	w.put(stitch.ColourStop, 0, 0)
	w.way(d, 0)
}

// cuts writes cuts and stops where they stood, and the way after the last to lead.
func (w writer) cuts(cuts []cut, at, lead stitch.Point) {
	for k, c := range cuts {
		next := lead
		if k+1 < len(cuts) {
			next = cuts[k+1].at
		}
		if k == 0 {
			w.way(stitch.Point{X: c.at.X - at.X, Y: c.at.Y - at.Y}, 0)
		}
		d := stitch.Point{X: next.X - c.at.X, Y: next.Y - c.at.Y}
		if c.op == stitch.Trim {
			w.trim(d)
			continue
		}
		w.put(c.op, 0, 0)
		w.way(d, 0)
	}
}
