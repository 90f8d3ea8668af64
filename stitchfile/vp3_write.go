package stitchfile

import (
	"encoding/binary"
	"fmt"
	"math"
	"unicode/utf16"

	"needlepace/stitch"
)

const vp3Step = 127 // largest displacement of a short record; −128 in x is the escape

// encodeVP3 writes a .vp3 file. It has no jump: jumps with the thread uncut are
// part of the stitch after them, jumps after a cut the way to the next stitch or
// the start of the next colour block. So a colour stop stands at the stitch before
// it; one that the frame was driven away for is an UnsupportedError, and so are jumps
// with the thread uncut that are a trim on another machine which shall sew the file.
func encodeVP3(d *stitch.Design, r Readers) ([]byte, Written, error) {
	e := vp3Writer{trim: r.set().Trim}
	if e.fewest = e.trim; r.Fewest > 0 {
		e.fewest = min(e.trim, r.Fewest)
	}
	if err := e.design(d.Records); err != nil {
		return nil, Written{}, err
	}
	c := d.Count()
	e.w.Tail = e.at != e.file
	e.w.loses(LossNames, hasNames(d.Threads))
	// The blocks' colours; of threads that the design does not know, made up.
	threads := knownThreads(d.Threads, len(e.blocks), &e.w)

	var body []byte // from the design's part on
	body = vp3I32(body, 0, 0)
	body = append(body, 0, 0, 0)
	b := c.Bounds
	body = vp3I32(body, 100*b.MinX, 100*b.MaxX, 100*b.MinY, 100*b.MaxY, 100*(b.MaxX-b.MinX), 100*(b.MaxY-b.MinY))
	body = append(body, 0, 0)
	// A scale of 1 in both directions, and a mark.
	body = append(body, "\x64\x64\x00\x00\x10\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x10\x00xxPP\x01\x00"...)
	body = append(body, 0, 0)
	body = binary.BigEndian.AppendUint16(body, uint16(len(e.blocks)))
	for k := range e.blocks {
		body = e.blocks[k].append(body, threads[k])
	}

	name := utf16.Encode([]rune(d.Name))
	if len(name) > math.MaxUint16/2 {
		name = name[:math.MaxUint16/2]
		e.w.loses(LossName, true)
	}
	note := binary.BigEndian.AppendUint16(nil, uint16(2*len(name)))
	for _, u := range name {
		note = binary.BigEndian.AppendUint16(note, u)
	}
	note = vp3I32(note, 100*b.MaxX, 100*b.MaxY, 100*b.MinX, 100*b.MinY, c.Stitches)
	note = append(note, 0, byte(min(len(e.blocks), 255)), 0x0C, 0, 1, 0, 3, 0)
	note = vp3I32(note, len(body))

	out := append([]byte(vp3Signature), 0, 0, 0, 2, 0)
	out = vp3I32(out, len(note)+len(body))
	return append(append(out, note...), body...), e.w, nil
}

func vp3I32(b []byte, v ...int) []byte {
	for _, v := range v {
		b = binary.BigEndian.AppendUint32(b, uint32(int32(v)))
	}
	return b
}

// vp3Out is a colour block.
type vp3Out struct {
	start, end stitch.Point
	records    []byte
}

func (k *vp3Out) append(b []byte, t stitch.Thread) []byte {
	in := vp3I32(nil, 100*k.start.X, 100*k.start.Y)
	in = append(in, 1, 0, t.R, t.G, t.B, 0, 0, 0, 5, 40) // one colour; the type and weight that real files give
	in = append(in, 0, 0, 0, 0, 0, 0)                    // number, name and maker of the thread: none
	in = vp3I32(in, 100*(k.end.X-k.start.X), 100*(k.end.Y-k.start.Y))
	in = append(in, 0, 1, 0)
	in = vp3I32(in, len(k.records)+3)
	in = append(in, 0x0A, 0xF6, 0)
	in = append(append(in, k.records...), 0)
	b = append(b, 0, 5, 0)
	return append(vp3I32(b, len(in)), in...)
}

type vp3Writer struct {
	trim     int // so many jumps are one
	fewest   int // and so many on the machine that takes the shortest run for one
	blocks   []vp3Out
	at, file stitch.Point // where the frame stands, in the design and in the file
	thread   bool
	begun    bool // the block has its start
	w        Written
}

// begin opens a colour block, to start where the frame first does something.
func (e *vp3Writer) begin() {
	e.blocks = append(e.blocks, vp3Out{start: e.file, end: e.file})
	e.thread, e.begun = false, false
}

func (e *vp3Writer) start(p stitch.Point) error {
	if max(abs(p.X), abs(p.Y)) > vp3Reach {
		return &UnsupportedError{Format: "vp3", Record: -1,
			Text:   fmt.Sprintf("the design reaches %.1f m from its start", mm(max(abs(p.X), abs(p.Y)))/1000),
			Remedy: "move it to its start: no machine sews so far out"}
	}
	e.block().start, e.block().end, e.file, e.begun = p, p, p, true
	return nil
}

func (e *vp3Writer) block() *vp3Out { return &e.blocks[len(e.blocks)-1] }

func (e *vp3Writer) design(rec []stitch.Record) error {
	e.begin()
	for i := 0; i < len(rec); i++ {
		r := rec[i]
		switch r.Op {
		case stitch.Sew:
		case stitch.Jump:
			n := jumpsAt(rec, i)
			if e.thread && n >= e.trim {
				e.cut()
			} else if e.thread {
				if n >= e.fewest && i+n < len(rec) && rec[i+n].Op.Penetrates() {
					return &UnsupportedError{Format: "vp3", Record: i, Text: fmt.Sprintf("one machine cuts the thread at %d jumps in "+
						"a row, and the one that this is for leaves it; a .vp3 file has no jumps, and no machine would cut", n),
						Remedy: "write .dst, .exp, .jef or .pes, or leave out the machine that cuts there"}
				}
				e.w.Jumps += n
			}
			for ; n > 1; n-- { // in one step
				e.move(rec[i])
				i++
			}
			r = rec[i]
		case stitch.Trim:
			if e.thread {
				e.cut()
			}
		case stitch.ColourStop:
			if err := e.stop(rec, i); err != nil {
				return err
			}
		default:
			return noForm("vp3", i, r.Op)
		}
		from := e.at
		e.move(r)
		if r.Op == stitch.Sew {
			if err := e.stitch(i, from); err != nil {
				return err
			}
		}
	}
	if !e.begun {
		return e.start(e.at)
	}
	return nil
}

func (e *vp3Writer) move(r stitch.Record) { e.at.X, e.at.Y = e.at.X+int(r.DX), e.at.Y+int(r.DY) }

func (e *vp3Writer) cut() {
	e.block().records = append(e.block().records, 0x80, 3)
	e.thread = false
}

// stop ends a colour block at the last stitch.
func (e *vp3Writer) stop(rec []stitch.Record, i int) error {
	if !e.begun { // nothing was sewn: the block is empty, and starts where the stop stands
		if err := e.start(e.at); err != nil {
			return err
		}
	}
	if e.at != e.file {
		if away := e.apart(e.file); away > NearStop && e.toNext(rec[i:]) > SameStop {
			return &UnsupportedError{Format: "vp3", Record: i,
				Text: fmt.Sprintf("the frame is driven %.1f mm from the work for this colour stop; a .vp3 file has no "+
					"form for that, and the machine would stop over the work", away/stitch.UnitsPerMM),
				Remedy: "write .dst, .exp, .jef or .pes"}
		}
		e.w.Stops++
	}
	e.begin()
	return nil
}

// apart is how far the frame is from a point, 0.1 mm.
func (e *vp3Writer) apart(p stitch.Point) float64 {
	return math.Hypot(float64(p.X-e.at.X), float64(p.Y-e.at.Y))
}

// toNext is how far the next stitch of rec is, 0.1 mm; +Inf where none comes.
func (e *vp3Writer) toNext(rec []stitch.Record) float64 {
	next := e.at
	for _, r := range rec {
		next = stitch.Point{X: next.X + int(r.DX), Y: next.Y + int(r.DY)}
		if r.Op.Penetrates() {
			return e.apart(next)
		}
	}
	return math.Inf(1)
}

// stitch penetrates where the frame stands; it came straight from from.
func (e *vp3Writer) stitch(i int, from stitch.Point) error {
	if !e.begun {
		if max(abs(e.at.X-from.X), abs(e.at.Y-from.Y)) > vp3Step {
			from = e.at
		}
		if err := e.start(from); err != nil {
			return err
		}
	}
	dx, dy := e.at.X-e.file.X, e.at.Y-e.file.Y
	k := e.block()
	switch n := max(abs(dx), abs(dy)); {
	case n <= vp3Step:
		k.records = append(k.records, byte(int8(dx)), byte(int8(-dy)))
	case n > math.MaxInt16:
		return &UnsupportedError{Format: "vp3", Record: i, Text: fmt.Sprintf("a move of %.1f m", mm(n)/1000),
			Remedy: "no machine makes it: look at the picture"}
	default:
		k.records = append(k.records, 0x80, 1)
		k.records = binary.BigEndian.AppendUint16(k.records, uint16(int16(dx)))
		k.records = binary.BigEndian.AppendUint16(k.records, uint16(int16(-dy)))
		k.records = append(k.records, 0x80, 2)
	}
	e.file, k.end, e.thread = e.at, e.at, true
	return nil
}
