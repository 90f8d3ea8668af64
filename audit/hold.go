package audit

import (
	"math"
	"slices"

	"needlepace/stitch"
)

// Where a stop is the operator's: the frame was driven there for a hand, to lay
// cloth, to cut, to take the work out.
const (
	// awayUnits, 0.1 mm: a stop farther than 30 mm from the stitches before and
	// after it. An ordinary stop stands at one of the two.
	awayUnits = 300
	// Two stops or more at one place (1 to 2 mm) to which the frame was driven
	// from the work are the operator's, however near, and so is one at the start.
	// Engineering choices, to be on the safe side; 0.1 mm.
	samePlace = 10
	drivenTo  = 50
	// So few stitches by themselves, with the frame driven as far as to an operator's stop before them
	// and after them, are no work: a controller sets one where it stops.
	mostStray = 3
)

// Why says why a mend leaves a stop as it is; stable, for JSON.
type Why string

// The reasons, the gravest first. Those up to WhyAsked cannot be given up.
const (
	WhyOperator  Why = "operator-stop"  // the file says that the operator must act
	WhyAway      Why = "frame-out"      // the frame stands away from the work
	WhyAsked     Why = "asked"          // all stops are to stay
	WhyOneThread Why = "one-thread"     // the same thread goes on after it
	WhyNothing   Why = "nothing-sewn"   // nothing is sewn before the next, before it or after it
	WhyBeside    Why = "beside-another" // it stands together with one that stays
)

// Final reports whether a stop stays even when it is named to go.
func (w Why) Final() bool { return w == WhyOperator || w == WhyAway || w == WhyAsked }

// Stand is a stop that a mend leaves where it is, with what is sewn before it
// and after it.
type Stand struct {
	Number int     // among all stops of the design, colour stops and operator's, from 1
	Stitch int     // stitches before it
	Block  int     // colour block it ends, from 0
	X, Y   float64 // where the frame stands, mm from the start, y up
	Away   float64 // to the nearer one of the stitches before and after it, mm
	Why    Why
}

// standing is a Stand and its place in the layout.
type standing struct {
	Stand
	joint int // −1: within an object
	at    stitch.Point
}

// stands lists every stop of the design in its order, those that only change
// the thread with an empty Why. threads are the blocks'; keepAll holds all.
func (l *layout) stands(threads []int, keepAll bool) []standing {
	joint, at := 0, stitch.Point{}
	sewn, block := 0, 0
	n := 0
	for _, r := range l.rec {
		if r.Op == stitch.Stop || r.Op == stitch.ColourStop {
			n++
		}
	}
	all := make([]standing, 0, n)
	stray := l.strays()
	work := func(k, by int) int { // the hole of the work from k on
		for k >= 0 && k < len(stray) && stray[k] {
			k += by
		}
		return k
	}
	for i, r := range l.rec {
		if r.Op == stitch.Stop || r.Op == stitch.ColourStop {
			for joint < len(l.objects) && l.joints[joint].to <= i {
				joint++
			}
			s := standing{joint: joint, at: at}
			if i < l.joints[joint].from {
				s.joint = -1
			}
			s.Number, s.Stitch, s.Block = len(all)+1, sewn, block
			s.X, s.Y = float64(at.X)/stitch.UnitsPerMM, float64(at.Y)/stitch.UnitsPerMM
			s.Away = min(l.apart(at, work(sewn-1, -1)), l.apart(at, work(sewn, 1))) / stitch.UnitsPerMM
			if math.IsInf(s.Away, 1) {
				s.Away = 0
			}
			if r.Op == stitch.Stop {
				s.Why = WhyOperator
			} else {
				block++
			}
			all = append(all, s)
		}
		at.X += int(r.DX)
		at.Y += int(r.DY)
		if r.Op.Penetrates() {
			sewn++
		}
	}
	x0, y0, x1, y1 := l.sewnArea(stray)
	again := l.together(all)
	for k := range all {
		s := &all[k]
		switch {
		case s.Why != "":
		case s.Away > awayUnits/stitch.UnitsPerMM, len(l.holes) > 0 &&
			(s.at.X < x0 || s.at.X > x1 || s.at.Y < y0 || s.at.Y > y1), again(s), slices.Contains(l.hands, s.at):
			s.Why = WhyAway
		case keepAll:
			s.Why = WhyAsked
		case s.joint == 0 || s.joint == len(l.objects) || k+1 < len(all) && all[k+1].joint == s.joint:
			s.Why = WhyNothing
		case l.oneThread(threads, s.joint):
			s.Why = WhyOneThread
		}
	}
	return all
}

func (l *layout) oneThread(threads []int, joint int) bool {
	return threads[l.objects[joint-1].Block] == threads[l.objects[joint].Block]
}

// apart is the distance in 0.1 mm to hole k, +Inf if there is none.
func (l *layout) apart(p stitch.Point, k int) float64 {
	if k < 0 || k >= len(l.holes) {
		return math.Inf(1)
	}
	return math.Hypot(float64(p.X)-float64(l.holes[k].x), float64(p.Y)-float64(l.holes[k].y))
}

// strays are the holes of stitches that are no work, see mostStray; nil: there are none.
func (l *layout) strays() (stray []bool) {
	left := len(l.holes)
	for from, to := 0, 0; from < len(l.holes); from = to {
		for to = from + 1; to < len(l.holes); to++ {
			if h := l.holes[to]; l.apart(stitch.Point{X: int(h.x), Y: int(h.y)}, to-1) > awayUnits {
				break
			}
		}
		if to-from > mostStray {
			continue
		}
		if stray == nil {
			stray = make([]bool, len(l.holes))
		}
		for k := from; k < to; k++ {
			stray[k] = true
			left--
		}
	}
	if left == 0 {
		return nil
	}
	return stray
}

// sewnArea is where something is sewn that is no stray.
func (l *layout) sewnArea(stray []bool) (x0, y0, x1, y1 int) {
	x0, y0, x1, y1 = math.MaxInt, math.MaxInt, math.MinInt, math.MinInt
	for k, h := range l.holes {
		if stray != nil && stray[k] {
			continue
		}
		x0, y0 = min(x0, int(h.x)), min(y0, int(h.y))
		x1, y1 = max(x1, int(h.x)), max(y1, int(h.y))
	}
	return
}

// together are the places to which the frame was driven from the work for more
// than one stop, and the start.
func (l *layout) together(all []standing) func(*standing) bool {
	driven := func(s *standing) bool {
		return l.apart(s.at, s.Stitch-1) > drivenTo && l.apart(s.at, s.Stitch) > samePlace
	}
	cell := func(p stitch.Point) stitch.Point { return stitch.Point{X: p.X / samePlace, Y: p.Y / samePlace} }
	// Two joints, +1, that have a stop in the cell; 0: none. The start of the design
	// counts as one: that is where the frame is driven to take the work out.
	joints := map[stitch.Point][2]int{{}: {math.MaxInt}}
	for k := range all {
		s := &all[k]
		if !driven(s) {
			continue
		}
		at, joint := cell(s.at), s.joint+1
		if two := joints[at]; two[0] == 0 || two[0] == joint {
			joints[at] = [2]int{joint, two[1]}
		} else {
			joints[at] = [2]int{two[0], joint}
		}
	}
	return func(s *standing) bool {
		if !driven(s) {
			return false
		}
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				at := cell(s.at)
				for _, joint := range joints[stitch.Point{X: at.X + dx, Y: at.Y + dy}] {
					if joint != 0 && joint != s.joint+1 {
						return true
					}
				}
			}
		}
		return false
	}
}

// Stands lists every stop of a design in its order. threads gives each colour
// block its thread; trimAfter is how many jumps in a row the machine reads as a
// trim. Why is empty where a stop only changes the thread. Errors: ErrExtent, a
// list that does not fit the design.
func Stands(d *stitch.Design, threads []int, trimAfter int) ([]Stand, error) {
	l, err := lay(d.Records, trimAfter)
	if err != nil {
		return nil, err
	}
	if threads, err = blockThreads(threads, l.blocks); err != nil {
		return nil, err
	}
	var all []Stand
	for _, s := range l.stands(threads, false) {
		all = append(all, s.Stand)
	}
	return all, nil
}

// hold marks the joints where a stop stays, and lists those stops. gone says
// which stops, by number, may go; nil: none.
func (l *layout) hold(threads []int, keepAll bool, gone func(int) bool) []Stand {
	return l.holdOf(l.stands(threads, keepAll), gone)
}

// holdOf does hold for all that stands.
func (l *layout) holdOf(all []standing, gone func(int) bool) []Stand {
	for k := range l.joints {
		l.joints[k].held = false
	}
	for k := range all {
		if s := &all[k]; s.joint >= 0 && s.Why != "" && (s.Why.Final() || gone == nil || !gone(s.Number)) {
			l.joints[s.joint].held = true
		}
	}
	var kept []Stand
	for _, s := range all {
		if s.joint >= 0 && !l.joints[s.joint].held {
			continue
		}
		if s.Why == "" {
			s.Why = WhyBeside
		}
		kept = append(kept, s.Stand)
	}
	return kept
}
