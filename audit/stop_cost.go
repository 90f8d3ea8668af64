package audit

import (
	"math"
	"slices"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// stopCost says what putting two groups of objects together saves, from the
// joints that change alone: a design of a thousand stops is not clocked as a
// whole a thousand times.
type stopCost struct {
	v      *survey
	clock  *clock.Clock      // without the way home and the crossing of needles: that hangs on all blocks
	blocks int               // now
	known  map[int]jointCost // see joint
	now    float64           // s, the whole design with its groups as they are; 0: not clocked yet
}

// jointCost is the seconds of a joint with the stitches on both sides, and its
// colour stops.
type jointCost struct {
	seconds float64
	stops   int
}

func newStopCost(v *survey) *stopCost {
	s := v.sheet.Clone()
	s.Rest.PerNeedle = 0
	s.Slow = machine.Slow{}
	s.Travel.ReturnToStart = false
	return &stopCost{v, clock.New(s, v.job), v.l.blocks, make(map[int]jointCost, 4*v.l.blocks), 0}
}

// leastSaved is what rounding cannot make, s.
const leastSaved = 1e-9

// saved is the seconds that merge(groups, b, c, at) saves.
func (s *stopCost) saved(groups []group, b, c, at int) float64 {
	if at == c && b == 0 || at == b && c == len(groups)-1 && c > b+1 {
		return s.savedInAll(groups, b, c, at) // the ends of the design change
	}
	if s.v.l.fixed(s.v.in(groups[c])[0], build{}) {
		return 0 // the stop between them is not one alone: it would stay
	}
	var sum jointCost
	needles := 0.0
	between := func(sign, x, y int) {
		from := s.v.in(groups[x])
		a, k := from[len(from)-1], s.v.in(groups[y])[0]
		j := s.joint(a, k, sign < 0 && x == b && y == c)
		sum.seconds += float64(sign) * j.seconds
		sum.stops += sign * j.stops
	}
	crossed := func(sign, x, y int) {
		if y < len(groups) && len(s.v.job.Needles) > 0 {
			needles += float64(sign) * math.Abs(float64(s.needle(groups[x].block)-s.needle(groups[y].block)))
		}
	}
	was := func(x, y int) { between(1, x, y); crossed(1, x, y) }
	switch {
	case c == b+1:
		was(b, c)
		crossed(1, c, c+1)
		crossed(-1, b, c+1)
	case at == b:
		was(b, b+1)
		was(c-1, c)
		was(c, c+1)
		between(-1, c, b+1)
		crossed(-1, b, b+1)
		between(-1, c-1, c+1)
		crossed(-1, c-1, c+1)
	default:
		was(b-1, b)
		was(b, b+1)
		was(c-1, c)
		crossed(1, c, c+1)
		between(-1, b-1, b+1)
		crossed(-1, b-1, b+1)
		between(-1, c-1, b)
		crossed(-1, c-1, b)
		crossed(-1, b, c+1)
	}
	between(-1, b, c)
	if len(s.v.job.Needles) == 0 {
		needles = float64(s.crossings(s.blocks) - s.crossings(s.blocks-sum.stops))
	}
	saved := sum.seconds + s.v.sheet.Rest.PerNeedle*needles
	if saved > leastSaved {
		s.blocks -= sum.stops
		s.now = max(0, s.now-saved)
	}
	return saved
}

// savedInAll clocks the whole design before and after.
func (s *stopCost) savedInAll(groups []group, b, c, at int) float64 {
	if s.now == 0 {
		s.now = s.v.secondsOf(s.v.arrange(groups))
	}
	lists := s.v.lists
	after := s.v.arrange(s.v.merge(append([]group(nil), groups...), b, c, at))
	s.v.lists = lists
	then := s.v.secondsOf(after)
	saved := s.now - then
	if saved > leastSaved {
		s.blocks, s.now = len(after.blocks), then
	}
	return saved
}

// joint is the cost of what stands between objects a and k, with the last stitches
// of the one and the first of the other.
func (s *stopCost) joint(a, k int, same bool) jointCost {
	key := a*len(s.v.l.objects) + k
	if same {
		key = -1 - key
	}
	if j, ok := s.known[key]; ok {
		return j
	}
	v := s.v
	last := v.last(a)
	rec := append(v.was[:0], last...)
	b := build{explicit: v.explicit}
	j := jointCost{stops: v.l.joint(v.l.writer(&rec, b), a, k, same, b)}
	if n := jumps(rec[len(last):]); n > 0 && n < v.l.trimAfter && v.l.joints[a+1].jumps == 0 {
		// Jumps before a stop that takes its way along: the shaft may slow on them.
		tail := v.tail(&v.l.objects[a])
		j.seconds = s.clock.Seconds(last) - s.clock.Seconds(tail)
		rec = append(slices.Clone(tail), rec[len(last):]...)
	}
	rec = append(rec, v.first(k)...)
	v.was = rec
	j.seconds += s.clock.Seconds(rec)
	s.known[key] = j
	return j
}

// jumps is how many jumps records begin with.
func jumps(rec []stitch.Record) int {
	for n, r := range rec {
		if r.Op != stitch.Jump {
			return n
		}
	}
	return len(rec)
}

// needle is the needle of an old block where the job names needles.
func (s *stopCost) needle(block int) int {
	return jobFor(s.v.job, []int{block}, s.v.sheet.Needles).Needles[0]
}

// crossings is over how many needles the head goes between so many blocks on
// needles in turn.
func (s *stopCost) crossings(blocks int) int {
	n := s.v.sheet.Needles
	if n < 2 || blocks < 2 {
		return 0
	}
	back := (blocks - 1) / n // from the last needle to the first
	return blocks - 1 - back + back*(n-1)
}
