package sound

import (
	"math"
	"slices"
	"sync"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// passage is a run of the design: revolutions with no stop between, as the
// machine of a law sews them.
type passage struct {
	record []int     // of each revolution, in the design
	number []int     // of each: which stitch of the design it is, −1 for a jump
	at     []float64 // s from the passage's start to each stroke
	turn   []float64 // s of each revolution
	total  float64   // s
}

// rest is what a machine does between two passages.
type rest struct {
	kind    Kind
	seconds float64 // by the law
	byHand  bool    // people take as long as they take
}

// least is how long it takes at the least, in s.
func (r *rest) least() float64 {
	if r.byHand {
		return quickHands * r.seconds
	}
	return shortRest * r.seconds
}

// score is a design as a machine of a law sews it: passages and the rests
// before each, the first of which is the start.
type score struct {
	design   *stitch.Design
	passages []passage
	rests    []rest
	clock    *clock.Clock // of the law, whose set speed and frame are
	speed    float64
	frame    machine.Frame
	room     *[]float64 // of the passages' times, from rooms; nil: their own
	turned   map[turnedBy][]float64
}

// turnedBy is what the turns' times of some strokes of a score's passages depend on: where in the turn the needle strikes is not in it.
type turnedBy struct {
	speed float64
	frame machine.Frame
	shaft machine.Shaft
	most  int
	end   bool
}

// turnedKept are the laws whose turns are kept, at the most.
const turnedKept = 256

// rooms are for the times of scores that are looked at once: thousands are reckoned in one search.
var rooms = sync.Pool{New: func() any { return new([]float64) }}

// done gives back the room of a score that nobody looks at any more.
func (s *score) done() {
	if s.room != nil {
		rooms.Put(s.room)
		s.room, s.passages = nil, nil
	}
}

// law is a machine and how it is set: all that says when a stroke falls.
type law struct {
	sheet *machine.Sheet
	job   clock.Job
	phase float64 // of a revolution, at which the needle strikes
}

func (l law) clone() law {
	l.sheet = l.sheet.Clone()
	return l
}

// setSpeed is the set speed, stitches/min.
func (l law) setSpeed() float64 {
	if l.job.Speed > 0 {
		return min(l.job.Speed, l.sheet.MaxSpeed)
	}
	return l.sheet.MaxSpeed
}

// score reads a design as the law's machine does.
func (l law) score(d *stitch.Design) *score {
	c := clock.New(l.sheet, l.job)
	tr := c.Trace(d)
	sc := &score{design: d, clock: c, speed: l.setSpeed(), frame: l.sheet.Frame}
	n := 0
	moment, pending := 0, rest{kind: Start, seconds: l.sheet.Rest.Start}
	for i := range d.Records {
		for moment < len(tr.Moments) && tr.Moments[moment].From <= i {
			m := tr.Moments[moment]
			pending.seconds += m.Seconds
			switch m.Kind {
			case stitch.TrimCut:
				pending.kind = max(pending.kind, Trim)
			case stitch.OperatorStop:
				pending.kind = max(pending.kind, Stop)
			case stitch.ColourCut:
				pending.kind = max(pending.kind, ColourStop)
			}
			moment++
		}
		if tr.Seconds[i] > 0 {
			if pending.kind != none || len(sc.passages) == 0 {
				pending.byHand = pending.kind == ColourStop && l.sheet.Needles == 1
				sc.rests = append(sc.rests, pending)
				sc.passages = append(sc.passages, passage{})
				pending = rest{}
			}
			p := &sc.passages[len(sc.passages)-1]
			p.record = append(p.record, i)
			p.turn = append(p.turn, tr.Seconds[i])
			if d.Records[i].Op == stitch.Sew {
				p.number = append(p.number, n)
			} else {
				p.number = append(p.number, -1)
			}
		}
		if d.Records[i].Op == stitch.Sew {
			n++
		}
	}
	for k := range sc.passages {
		p := &sc.passages[k]
		p.strikes(l.phase, l.sheet.Shaft.CreepSpeed/60, 0, len(p.turn))
	}
	return sc
}

// by is the same design on the same machine by another law of sewing: what lies
// in the design, and the rests, are shared with it.
func (s *score) by(l law) *score { return s.near(l, math.MaxInt, false) }

// near is by for the most strokes of each passage that are next to its beginning, or its
// end; the times of the others are not reckoned. The turns of the last laws that were asked for so are kept: many differ only in when the
// needle strikes.
func (s *score) near(l law, most int, end bool) *score {
	out := &score{design: s.design, passages: slices.Clone(s.passages), rests: s.rests, speed: l.setSpeed(), frame: l.sheet.Frame}
	n := 0
	for k := range s.passages {
		n += len(s.passages[k].record)
	}
	out.room = rooms.Get().(*[]float64)
	if cap(*out.room) < 2*n {
		*out.room = make([]float64, 2*n)
	}
	turns, at := (*out.room)[:n], (*out.room)[n:2*n]
	by := turnedBy{out.speed, out.frame, l.sheet.Shaft, most, end}
	was, kept := s.turned[by]
	if kept {
		copy(turns, was)
	} else {
		clear(turns)
		out.clock = s.clocked(l)
	}
	clear(at)
	from := 0
	for k := range out.passages {
		p := &out.passages[k]
		n := len(p.record)
		p.turn, p.at = turns[from:from+n:from+n], at[from:from+n:from+n]
		from += n
		if !kept {
			out.clock.Turns(s.design.Records[p.record[0]:p.record[n-1]+1], p.turn) // it is one run of the design's events
		}
		from, to := 0, min(most, n)
		if end {
			from, to = n-to, n
		}
		p.strikes(l.phase, l.sheet.Shaft.CreepSpeed/60, from, to)
	}
	if !kept && most < math.MaxInt {
		if len(s.turned) >= turnedKept || s.turned == nil {
			s.turned = map[turnedBy][]float64{}
		}
		s.turned[by] = slices.Clone(turns)
	}
	return out
}

// clocked is the clock of another law of sewing, which shares what it can with the score's.
func (s *score) clocked(l law) *clock.Clock {
	if l.setSpeed() == s.speed && l.sheet.Frame == s.frame {
		return s.clock.WithShaft(l.sheet.Shaft)
	}
	return clock.New(l.sheet, l.job)
}

// strikes reckons when in each revolution from ≤ i < to the needle strikes: at an even
// acceleration through the revolution, its speeds at either end taken from its
// neighbours' times and creep at the passage's ends.
func (p *passage) strikes(phase, creep float64, from, to int) {
	p.at = grown(p.at, len(p.turn))
	p.total = 0
	n := len(p.turn)
	for i := from; i < to; i++ {
		t := p.turn[i]
		u, v := min(creep, 1/t), min(creep, 1/t)
		if i > 0 {
			u = 2 / (p.turn[i-1] + t)
		}
		if i+1 < n {
			v = 2 / (t + p.turn[i+1])
		}
		p.at[i] = p.total + t*partOf(phase, u, v)
		p.total += t
	}
}

// partOf is the part of a revolution's time after which the angle phase is
// reached, where the speed goes evenly from in proportion u to v.
func partOf(phase, u, v float64) float64 {
	a, b := (v-u)/(u+v), 2*u/(u+v)
	if math.Abs(a) < 1e-6 {
		return phase
	}
	return (math.Sqrt(b*b+4*a*phase) - b) / (2 * a)
}

func grown(f []float64, n int) []float64 {
	if cap(f) < n {
		return make([]float64, n)
	}
	return f[:n]
}
