package stitch

import "iter"

// EventKind is what a machine does with a stretch of records.
type EventKind uint8

// The events of a design, in the machine's order. The displacement that a
// trim, colour stop or stop record carries belongs to the Travel that follows.
const (
	Run          EventKind = iota // shaft revolutions with no stop between: From…To are sews and short jumps
	TrimCut                       // the thread is cut
	ColourCut                     // colour stop: the thread is cut, the needle changes
	OperatorStop                  // the operator must act
	Travel                        // the frame moves with no thread in the fabric, or past a stop
)

// Event is one step of the machine: records From ≤ i < To. The record ranges
// of a design's events never overlap. A trim that a run of jumps stands for
// has an empty range (From = To), since its jumps are the Travel's; a trim
// record that cuts nothing stands inside a Travel or in no event.
type Event struct {
	Kind     EventKind
	From, To int
	Block    int // colour block: the number of colour stops before it, from 0; a ColourCut has the block it opens
	DX, DY   int // Travel: net displacement, units of 0.1 mm
	Jumps    int // Travel: jump records in it
	Moves    int // Travel: records that moved the frame: the jumps, and a stop or trim that carries a displacement
}

// Events reads the records as a machine does (MODEL section 1). A maximal run
// of at least trimAfter consecutive jumps is a trim and a travel if thread is
// in the fabric; with no thread in the fabric (at the start, after a trim or
// a colour stop) jumps of any number are travel only; fewer jumps with thread
// in the fabric are revolutions of the Run they stand in. A trim record with
// no thread in the fabric cuts nothing and is travel only. trimAfter < 1 is
// taken as 1.
func (d *Design) Events(trimAfter int) iter.Seq[Event] {
	return Events(d.Records, trimAfter)
}

// Events is Design.Events for a bare list of records.
func Events(rec []Record, trimAfter int) iter.Seq[Event] {
	if trimAfter < 1 {
		trimAfter = 1
	}
	return func(yield func(Event) bool) {
		thread := false // is thread in the fabric?
		block := 0
		runFrom := 0
		i := 0
		// travel gathers consecutive jumps, and the displacement of the
		// record at i−1 if that was a trim or a stop, into one straight move.
		travel := func(carried bool) bool {
			e := Event{Kind: Travel, From: i, Block: block}
			if carried {
				if r := rec[i-1]; r.DX != 0 || r.DY != 0 {
					e.DX, e.DY, e.Moves = int(r.DX), int(r.DY), 1
				}
			}
			for !thread && i < len(rec) && (rec[i].Op == Jump || rec[i].Op == Trim) {
				r := rec[i]
				e.DX += int(r.DX)
				e.DY += int(r.DY)
				if r.Op == Jump {
					e.Jumps++
					e.Moves++
				} else if r.DX != 0 || r.DY != 0 {
					e.Moves++
				}
				i++
			}
			e.To = i
			runFrom = i
			return e.Moves == 0 || yield(e)
		}
		endRun := func(at int) bool {
			return at == runFrom || yield(Event{Kind: Run, From: runFrom, To: at, Block: block})
		}
		for i < len(rec) {
			switch op := rec[i].Op; op {
			case Sew, Sequin:
				thread = true
				i += 1 + sewn(rec[i+1:])
			case Jump:
				if thread {
					n := i
					for n < len(rec) && rec[n].Op == Jump {
						n++
					}
					if n-i < trimAfter {
						i = n
						continue
					}
					if !endRun(i) || !yield(Event{Kind: TrimCut, From: i, To: i, Block: block}) {
						return
					}
					thread = false
				}
				if !travel(false) {
					return
				}
			default:
				if !endRun(i) {
					return
				}
				e := Event{Kind: OperatorStop, From: i, To: i + 1, Block: block}
				cut := true
				switch op {
				case Trim:
					e.Kind = TrimCut
					cut = thread
					thread = false
				case ColourStop:
					block++
					e.Kind, e.Block = ColourCut, block
					thread = false
				}
				if cut && !yield(e) {
					return
				}
				i++
				if !travel(true) {
					return
				}
			}
		}
		endRun(i)
	}
}

// sewn is how many records at the beginning of rec are Sew, as by far the most are: eight are looked at in one.
func sewn(rec []Record) (n int) {
	for ; len(rec)-n >= 8; n += 8 {
		if r := (*[8]Record)(rec[n:]); r[0].Op|r[1].Op|r[2].Op|r[3].Op|r[4].Op|r[5].Op|r[6].Op|r[7].Op != Sew {
			break
		}
	}
	for n < len(rec) && rec[n].Op == Sew {
		n++
	}
	return n
}
