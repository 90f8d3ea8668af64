package audit

import (
	"errors"

	"needlepace/stitch"
)

// Object is a stretch of a design sewn in one thread without a cut: what lies
// between two trims or colour stops.
type Object struct {
	Block    int // colour block, from 0
	From, To int // records: From is the first penetration, To is after the last
	// First and Last number its penetrations over the whole design: First ≤ i < Last.
	First, Last int
	Lead        stitch.Point // where the frame stands before record From, 0.1 mm
	Start, End  stitch.Point // first and last hole, 0.1 mm
	Exit        stitch.Point // where the frame stands after record To−1; End, but after a stop that moves
	Wall        bool         // an operator's stop or a sequin lies inside: nothing moves across it
	Bare        bool         // all its holes are one hole: no thread lies on the fabric
}

// joint is what a design has between two objects, before the first and after
// the last: cuts, stops and ways.
type joint struct {
	from, to int // records
	cuts     []cut
	dx, dy   int  // the way: from the last hole to the next Lead, 0.1 mm
	jumps    int  // jumps that belong to no trim and no travel: sewn through before a cut
	held     bool // what stands here stays as it is, and nothing moves across it
}

// cut is a trim, a colour stop or an operator's stop, and where the frame
// stands at it, 0.1 mm.
type cut struct {
	op stitch.Op
	at stitch.Point
}

func (j *joint) has(op stitch.Op) bool { return j.count(op) > 0 }

func (j *joint) count(op stitch.Op) int {
	n := 0
	for _, c := range j.cuts {
		if c.op == op {
			n++
		}
	}
	return n
}

// layout is a design cut into objects: joint k stands before object k, the
// last joint after the last object.
type layout struct {
	rec       []stitch.Record
	trimAfter int
	objects   []Object
	joints    []joint
	holes     []hole // every penetration
	end       stitch.Point
	blocks    int
	turned    []bool // objects that are sewn from their other end, see turn; nil: none
	starts    []int  // of each ring, the hole it begins at, counted from its old first, see rings; nil: the first
	parted    []bool // objects that the one before was cut off from, see part; nil: none

	hands []stitch.Point // where a stop is the operator's, see MendOptions
}

func (l *layout) isParted(k int) bool { return k < len(l.parted) && l.parted[k] }

func (l *layout) isTurned(k int) bool { return k >= 0 && k < len(l.turned) && l.turned[k] }

// start is the hole that object k begins at, counted from its old first.
func (l *layout) start(k int) int {
	if k < 0 || k >= len(l.starts) {
		return 0
	}
	return l.starts[k]
}

// hole is one penetration: its record and its place in 0.1 mm.
type hole struct {
	x, y   int32
	record int32
}

// farthest is how far a design may reach from its start, in 0.1 mm: 100 m,
// far beyond any frame. Files that reach further are damaged.
const farthest = 1_000_000

// ErrExtent says that a design reaches further than any frame.
var ErrExtent = errors.New("the design reaches over 100 m from its start; no machine sews that: the file is " +
	"damaged or not a stitch file")

// lay cuts a design into objects as a machine reads it (stitch.Events).
func lay(rec []stitch.Record, trimAfter int) (*layout, error) {
	l := &layout{rec: rec, trimAfter: trimAfter}
	sews, cuts := 0, 0
	for _, r := range rec {
		switch {
		case r.Op.Penetrates():
			sews++
		case r.Op == stitch.ColourStop || r.Op == stitch.Trim:
			cuts++
		}
		l.end.X += int(r.DX)
		l.end.Y += int(r.DY)
		if max(l.end.X, l.end.Y, -l.end.X, -l.end.Y) > farthest {
			return nil, ErrExtent
		}
	}
	l.holes, l.objects, l.joints = make([]hole, 0, sews), make([]Object, 0, cuts+1), make([]joint, 0, cuts+2)
	at := stitch.Point{}
	var j joint
	open := false // an object is being gathered
	var o Object
	lastHole, exit := stitch.Point{}, stitch.Point{}
	tail := 0 // records after the object's last hole begin here
	closeObject := func() {
		if !open {
			return
		}
		open = false
		o.To, o.Last, o.End, o.Exit = tail, len(l.holes), lastHole, exit
		l.objects = append(l.objects, o)
		j = joint{from: tail}
	}
	for e := range stitch.Events(rec, trimAfter) {
		switch e.Kind {
		case stitch.Run:
			for i := e.From; i < e.To; i++ {
				r := rec[i]
				before := at
				at.X += int(r.DX)
				at.Y += int(r.DY)
				if !r.Op.Penetrates() {
					continue
				}
				if !open {
					open = true
					j.to = i
					j.dx, j.dy = before.X-exit.X, before.Y-exit.Y
					l.joints = append(l.joints, j)
					o = Object{Block: e.Block, From: i, First: len(l.holes), Lead: before, Start: at, Bare: true}
				} else if at != lastHole {
					o.Bare = false
				}
				// A sequin is wider than thread and lies on all it touches.
				o.Wall = o.Wall || r.Op == stitch.Sequin
				l.holes = append(l.holes, hole{int32(at.X), int32(at.Y), int32(i)})
				lastHole, exit = at, at
				tail = i + 1
			}
		case stitch.TrimCut, stitch.ColourCut:
			jumps := 0
			if open {
				for i := tail; i < e.From; i++ {
					if rec[i].Op == stitch.Jump {
						jumps++
					}
				}
			}
			closeObject()
			j.jumps += jumps
			op := stitch.Trim
			if e.Kind == stitch.ColourCut {
				op = stitch.ColourStop
				l.blocks = e.Block
			}
			j.cuts = append(j.cuts, cut{op, at})
		case stitch.OperatorStop:
			if open {
				o.Wall = true
				// A stop after the last hole belongs to the object all the
				// same: the thread is still in the fabric.
				tail = e.To
				r := rec[e.From]
				exit = stitch.Point{X: at.X + int(r.DX), Y: at.Y + int(r.DY)}
			} else {
				j.cuts = append(j.cuts, cut{stitch.Stop, at})
			}
		case stitch.Travel:
			at.X += e.DX
			at.Y += e.DY
		}
	}
	jumps := 0
	if open {
		for _, r := range rec[tail:] {
			if r.Op == stitch.Jump {
				jumps++
			}
		}
	}
	closeObject()
	j.jumps += jumps
	j.to = len(rec)
	j.dx, j.dy = l.end.X-exit.X, l.end.Y-exit.Y
	l.joints = append(l.joints, j)
	l.blocks++
	return l, nil
}
