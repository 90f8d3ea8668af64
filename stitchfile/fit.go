package stitchfile

import (
	"fmt"

	"needlepace/stitch"
)

// trimJumps is the length of the run of jumps that stands for a trim: the
// trade's code, and what machines are set to read as one (MODEL section 1).
const trimJumps = 3

// Readers says how the machines that will sew a file read runs of jumps. A
// zero is the trade's three.
type Readers struct {
	Trim   int // by the machine the design is meant for, so many jumps in a row are a trim
	Fewest int // of all machines, the one that takes the shortest run for a trim wants so many
	Most   int // and the one that wants the longest; a trim is written with at least so many
}

// set fills in what is not said. Fewest is never more than Trim and three, Most
// never less than either.
func (r Readers) set() Readers {
	or := func(n int) int {
		if n < 1 {
			return trimJumps
		}
		return n
	}
	r.Trim = or(r.Trim)
	return Readers{Trim: r.Trim, Fewest: min(or(r.Fewest), r.Trim, trimJumps), Most: max(or(r.Most), r.Trim, trimJumps)}
}

// Written is what became of a design on its way into a file, beyond the way
// that long moves are cut.
type Written struct {
	// Added are the penetrations of the file, by number from 0, that the design
	// has not: where thread lies in a move too long for the format, and cutting
	// it into jumps would be a trim, the needle holds the thread down on its
	// straight way.
	Added []int
	// Shift is how much further up and to the right the file's design lies, as
	// read, in 0.1 mm: where the format's start is not the design's.
	Shift stitch.Point
	// Tail reports that the frame's way after the last stitch is not in the file.
	Tail bool
	// Stops counts the colour stops that stand at the stitch before them in the
	// file, and at most NearStop away from it, or at the next one, in the design.
	Stops int
	// Jumps counts the jumps with the thread uncut that are part of the stitch
	// after them in the file.
	Jumps int
	// Lost names what else of the design the file does not say.
	Lost []Loss
}

// Same reports whether a machine does the same with the file as with the design,
// but for where in its frame.
func (w Written) Same() bool { return len(w.Added) == 0 && !w.Tail && w.Stops == 0 && w.Jumps == 0 }

// NearStop, 0.1 mm: so near to the stitch before it a colour stop was not driven
// away on purpose, and the frame may as well stay where it is. SameStop: so near
// to the next stitch it is the way there. As audit has it for stops that stay.
const (
	NearStop = 50
	SameStop = 10
)

// Loss is something that a file does not say of a design; stable.
type Loss string

// What a file may not say. Operator's stops and sequins are never dropped: a
// design with one is refused by a format that has no form for it.
const (
	LossName    Loss = "name"         // the design's name, or part of it
	LossThreads Loss = "threads"      // which threads are sewn, or some of them
	LossNames   Loss = "thread-names" // what the threads are called
	LossShades  Loss = "shades"       // their shades: the nearest of a fixed table are given
	LossShared  Loss = "shared"       // that some threads differ: more than the table has numbers
	LossMadeUp  Loss = "made-up"      // the design does not say its threads; the file has to, and makes some up
)

// lay moves a design to where a file of the format has it: its middle in the
// middle of the hoop, unless it came with a place in a hoop of its own; its box's
// corner at the start. It says by how much, and how many records are now before
// the first.
func (f *format) lay(d *stitch.Design) (laid *stitch.Design, by stitch.Point, added int) {
	from := anywhere
	if f := byExtension(d.Format); f != nil {
		from = f.start
	}
	switch b := d.Count().Bounds; {
	case f.start == corner:
		by = stitch.Point{X: -b.MinX, Y: -b.MaxY}
	case from == corner, from == anywhere && f.start == hoop:
		by = stitch.Point{X: -(b.MinX + b.MaxX) / 2, Y: -(b.MinY + b.MaxY) / 2}
	}
	if by == (stitch.Point{}) {
		return d, by, 0
	}
	rec, dx, dy := d.Records, by.X, by.Y
	if rec[0].Op == stitch.Jump {
		dx, dy, rec = dx+int(rec[0].DX), dy+int(rec[0].DY), rec[1:]
	}
	out := newBuilder(len(rec) + 2)
	if dx != 0 || dy != 0 {
		out.add(stitch.Jump, dx, dy)
	}
	out.d.Name, out.d.Threads, out.d.Records = d.Name, d.Threads, append(out.d.Records, rec...)
	return &out.d, by, len(out.d.Records) - len(d.Records)
}

// pieces is the number of records that a displacement needs at no more than
// step an axis; 0 for no displacement.
func pieces(dx, dy, step int) int { return (max(abs(dx), abs(dy)) + step - 1) / step }

// fitter lays a design out in records that a format has room for:
//
//   - A jump over step an axis is cut into several; a stitch is led in by jumps
//     and penetrates once, as before.
//   - Where that would put as many jumps in a row as a machine may read as a
//     trim, with the thread uncut, the stitch is divided: the needle penetrates
//     on the straight way too. Those are listed in added.
//   - A trim is a trim record where the format has one, before a run of jumps
//     that stands for one too; elsewhere it and the travel after it are a run of
//     at least so many jumps with the same displacement, which with no travel
//     comes back to where it began.
type fitter struct {
	format  string
	step    int  // largest displacement of a record on an axis, 0.1 mm
	trims   bool // the format has trim records
	moves   bool // its colour stop carries the displacement after it
	sequins bool // it has sequins
	Readers

	out    []stitch.Record
	thread bool // is thread in the fabric?
	holes  int
	added  []int
}

func (f *fitter) put(op stitch.Op, dx, dy int) {
	f.out = append(f.out, stitch.Record{DX: int16(dx), DY: int16(dy), Op: op})
}

// jump moves in n or more jumps of equal length.
func (f *fitter) jump(dx, dy, n int) {
	for n = max(n, pieces(dx, dy, f.step)); n > 0; n-- {
		sx, sy := dx/n, dy/n
		f.put(stitch.Jump, sx, sy)
		dx, dy = dx-sx, dy-sy
	}
}

// penetrate makes a stitch, led in by as many jumps as it needs, and by no fewer
// than jumps.
func (f *fitter) penetrate(op stitch.Op, dx, dy, jumps int) {
	if n := max(pieces(dx, dy, f.step), jumps+1); n > 1 {
		lx, ly := dx*(n-1)/n, dy*(n-1)/n
		f.jump(lx, ly, n-1)
		dx, dy = dx-lx, dy-ly
	}
	f.put(op, dx, dy)
	f.holes++
}

// records lays out the records of a design.
func (f *fitter) records(rec []stitch.Record) error {
	f.Readers = f.set()
	f.out = make([]stitch.Record, 0, len(rec)+len(rec)/8+1)
	for i := 0; i < len(rec); {
		r := rec[i]
		if r.Op == stitch.Sequin && !f.sequins {
			return noForm(f.format, i, r.Op)
		}
		switch r.Op {
		case stitch.Sew, stitch.Sequin:
			if f.thread {
				f.stitch(rec[i : i+1])
			} else {
				f.penetrate(r.Op, int(r.DX), int(r.DY), 0)
			}
			f.thread = true
			i++
		case stitch.Jump:
			if !f.thread {
				f.jump(int(r.DX), int(r.DY), 1)
				i++
				continue
			}
			n := jumpsAt(rec, i)
			switch {
			case n >= f.Trim:
				if f.trims {
					f.put(stitch.Trim, 0, 0)
				}
				f.thread = false // the jumps are travel
			case i+n < len(rec) && rec[i+n].Op.Penetrates() && (f.sequins || rec[i+n].Op == stitch.Sew):
				f.stitch(rec[i : i+n+1])
				i += n + 1
			default:
				if err := f.drift(rec, i, n); err != nil {
					return err
				}
				i += n
			}
		case stitch.Trim:
			i = f.trim(rec, i)
		case stitch.ColourStop:
			if dx, dy := int(r.DX), int(r.DY); f.moves && pieces(dx, dy, f.step) < 2 {
				f.put(r.Op, dx, dy)
			} else {
				f.put(r.Op, 0, 0)
				f.jump(dx, dy, 0)
			}
			f.thread = false
			i++
		default:
			return noForm(f.format, i, r.Op)
		}
	}
	return nil
}

// jumpsAt is how many jumps in a row stand at record i.
func jumpsAt(rec []stitch.Record, i int) int {
	n := 0
	for i+n < len(rec) && rec[i+n].Op == stitch.Jump {
		n++
	}
	return n
}

// whole is the displacement of some records together, and whether each fits.
func (f *fitter) whole(rec []stitch.Record) (dx, dy int, fits bool) {
	fits = true
	for _, r := range rec {
		dx, dy = dx+int(r.DX), dy+int(r.DY)
		fits = fits && pieces(int(r.DX), int(r.DY), f.step) < 2
	}
	return dx, dy, fits
}

// stitch writes a stitch and the jumps before it, through which thread lies.
func (f *fitter) stitch(rec []stitch.Record) {
	dx, dy, fits := f.whole(rec)
	last := len(rec) - 1
	if fits {
		f.out = append(f.out, rec...)
		f.holes++
		return
	}
	// Jumps of the design are as many on every machine as they are.
	if n := pieces(dx, dy, f.step); n-1 <= max(last, f.Fewest-1) {
		f.penetrate(rec[last].Op, dx, dy, last)
		return
	}
	n := (pieces(dx, dy, f.step) + f.Fewest - 1) / f.Fewest
	x, y := 0, 0
	for k := 1; k < n; k++ {
		nextX, nextY := nearest(dx*k, n), nearest(dy*k, n)
		f.added = append(f.added, f.holes)
		f.penetrate(stitch.Sew, nextX-x, nextY-y, 0)
		x, y = nextX, nextY
	}
	f.penetrate(rec[last].Op, dx-x, dy-y, 0)
}

// nearest is v/n, rounded to the nearest whole.
func nearest(v, n int) int {
	if v < 0 {
		return -nearest(-v, n)
	}
	return (2*v + n) / (2 * n)
}

// drift writes n jumps from i on through which thread lies and after which no
// stitch comes but a stop, a trim or the end.
func (f *fitter) drift(rec []stitch.Record, i, n int) error {
	dx, dy, fits := f.whole(rec[i : i+n])
	switch {
	case fits:
		f.out = append(f.out, rec[i:i+n]...)
	case i+n < len(rec) && rec[i+n].Op == stitch.Trim && !f.trims:
		// The trim's own jumps follow: together they are the trim.
		f.jump(dx, dy, n)
	case pieces(dx, dy, f.step) <= max(n, f.Fewest-1):
		f.jump(dx, dy, n)
	default:
		return &UnsupportedError{Format: f.format, Record: i,
			Text: fmt.Sprintf("the frame is driven %.1f × %.1f mm with the thread uncut and no stitch after it; "+
				"cut to size for a .%s file, a machine would read that as a trim", mm(dx), mm(dy), f.format),
			Remedy: "write .pes, which has room for longer moves, or put a trim before it"}
	}
	return nil
}

// trim writes the trim record at i, and for a format without one the travel
// after it too. It returns the index after them.
func (f *fitter) trim(rec []stitch.Record, i int) int {
	if f.trims {
		f.put(stitch.Trim, 0, 0)
		f.jump(int(rec[i].DX), int(rec[i].DY), 0)
		f.thread = false
		return i + 1
	}
	cut := f.thread
	var moves []stitch.Record
	need, x, y := 0, 0, 0
	for ; i < len(rec) && (rec[i].Op == stitch.Trim || rec[i].Op == stitch.Jump); i++ {
		r := rec[i]
		if r.Op == stitch.Trim && r.DX == 0 && r.DY == 0 {
			continue
		}
		moves = append(moves, r)
		need += max(1, pieces(int(r.DX), int(r.DY), f.step))
		x += int(r.DX)
		y += int(r.DY)
	}
	f.thread = false
	switch {
	case cut && need < f.Most && x == 0 && y == 0:
		// A trim without travel: out and back, so that no reader that
		// drops empty jumps loses it.
		for n := f.Most; n > 0; n -= 2 {
			f.jump(2, 2, 1)
			if n == 3 {
				f.jump(-4, -4, 1)
				f.jump(2, 2, 1)
				break
			}
			f.jump(-2, -2, 1)
		}
	case cut && need < f.Most:
		f.jump(x, y, f.Most)
	default:
		for _, r := range moves {
			f.jump(int(r.DX), int(r.DY), 1)
		}
	}
	return i
}

// noForm is the error for a record that a format has no form for.
func noForm(format string, record int, op stitch.Op) error {
	e := &UnsupportedError{Format: format, Record: record, Text: fmt.Sprintf("a .%s file has no %v", format, op)}
	switch op {
	case stitch.Stop:
		e.Text = "a ." + format + " file has no operator's stop"
		e.Remedy = "make it a colour stop"
	case stitch.Sequin:
		e.Remedy = "write .dst, or take the sequins out"
	default:
		e.Text = fmt.Sprintf("%v (%d) has no form in a .%s file", op, op, format)
		e.Remedy = "take the record out"
	}
	return e
}

// otherwise is the error where a file would not sew as the design does, and
// nobody asked how it would.
func otherwise(format string, d *stitch.Design, w Written) error {
	e := &UnsupportedError{Format: format, Record: -1, Remedy: "write .dst, .exp, .jef or .pes"}
	switch {
	case w.Tail:
		e.Text = "a ." + format + " file does not say how the frame goes on after the last stitch"
	case w.Jumps > 0:
		e.Text = "a ." + format + " file has no jump with the thread uncut"
	case w.Stops > 0:
		e.Text = "a ." + format + " file has colour stops only where a stitch is"
	}
	n, dx, dy := 0, 0, 0
	for i, r := range d.Records {
		dx, dy = dx+int(r.DX), dy+int(r.DY)
		if !r.Op.Penetrates() {
			continue
		}
		if len(w.Added) > 0 && n == w.Added[0] {
			e.Record = i
			e.Text = fmt.Sprintf("%.1f × %.1f mm to this stitch with the thread uncut; cut to size for a .%s file, a "+
				"machine would read that as a trim", mm(dx), mm(dy), format)
			e.Remedy = "put a trim before it, or write .pes, which has room for longer moves"
			break
		}
		n, dx, dy = n+1, 0, 0
	}
	return e
}
