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
	parted int   // objects that were cut in two, see part
}

// rebuild writes the objects in the given order. threads gives each old block
// its thread: between objects of one thread there is a trim, else a colour
// stop. Stretches that stay as they were keep their records, unless tidy.
func (l *layout) rebuild(order []int, threads []int, b build) rebuilt {
	size, holes := 8, 0
	for _, k := range order {
		size += l.objects[k].To - l.joints[k].from
		holes += l.objects[k].Last - l.objects[k].First
	}
	out := rebuilt{rec: make([]stitch.Record, 0, size), holes: make([]int, 0, holes)}
	at := stitch.Point{}
	w := l.writer(&out.rec, b)
	last := -1
	for _, k := range order {
		o := &l.objects[k]
		records, first := l.rec[o.From:o.To], o.First
		if l.isParted(k) && last == k-1 {
			records, first = records[1:], first+1 // it was not to be cut off after all
		} else if last >= 0 && b.join && !l.fixed(k, b) && joins(&l.objects[last], o) &&
			threads[l.objects[last].Block] == threads[o.Block] {
			// The stitch begins in the hole the thread was cut in.
			records = append([]stitch.Record{{DX: int16(o.Start.X - at.X), DY: int16(o.Start.Y - at.Y),
				Op: records[0].Op}}, records[1:]...)
			out.joined++
		} else {
			stops := l.joint(w, last, k, last >= 0 && threads[l.objects[last].Block] == threads[o.Block], b)
			if last < 0 {
				out.blocks = append(identity(stops), o.Block)
			} else {
				for range stops { // all but the last are empty: any thread will do for them
					out.blocks = append(out.blocks, o.Block)
				}
			}
		}
		if l.isParted(k) && last != k-1 {
			out.parted++
		}
		w.copy(records)
		for i := range o.Last - first {
			switch r := l.start(k); {
			case l.isTurned(k):
				out.holes = append(out.holes, o.Last-1-i)
			case r > 0:
				out.holes = append(out.holes, o.First+around(r, i, o.Last-o.First))
			default:
				out.holes = append(out.holes, first+i)
			}
		}
		at, last = o.Exit, k
	}
	if stops := l.joint(w, last, len(l.objects), false, b); stops > 0 {
		for n := range stops {
			out.blocks = append(out.blocks, l.blocks-stops+n)
		}
	}
	return out
}

// joint writes what stands between objects a and k where k is sewn after a:
// a is −1 at the beginning, k the number of objects at the end. same says that
// they have one thread. It returns how many colour stops it wrote.
func (l *layout) joint(w writer, a, k int, same bool, b build) (stops int) {
	at, to := stitch.Point{}, l.end
	if a >= 0 {
		at = l.objects[a].Exit
	}
	if k < len(l.objects) {
		to = l.objects[k].Lead
	}
	j := &l.joints[k]
	way := stitch.Point{X: to.X - at.X, Y: to.Y - at.Y}
	verbatim := func() int {
		w.copy(l.rec[j.from:j.to])
		return j.count(stitch.ColourStop)
	}
	switch neighbours := a == k-1 && !l.isTurned(a) && !l.isTurned(k) && l.start(a)+l.start(k) == 0; {
	case k == len(l.objects):
		switch {
		case a < 0, neighbours && !(b.tidy && j.has(stitch.ColourStop) && !l.walled(k)):
			return verbatim()
		case j.has(stitch.Trim) || j.has(stitch.ColourStop) && way != (stitch.Point{}):
			w.trim(way)
		}
		return 0
	case neighbours && a < 0 && !(b.tidy && !l.fixed(0, b)):
		return verbatim()
	case a < 0:
		w.way(way, 0)
		return 0
	case l.fixed(k, b):
		if neighbours {
			return verbatim()
		}
		w.cuts(j.cuts, at, to)
		return j.count(stitch.ColourStop)
	case neighbours && !b.tidy && same != j.has(stitch.ColourStop):
		return verbatim()
	case same:
		w.trim(way)
		return 0
	}
	w.colour(way)
	return 1
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

func (l *layout) writer(rec *[]stitch.Record, b build) writer {
	return writer{rec, max(trimJumps, l.trimAfter, b.jumps), b.explicit}
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
