package sound

import "slices"

// Refused is why a recording was not laid on a design.
type Refused uint8

// The reasons.
const (
	TooShort   Refused = iota // it cannot hold the whole design
	NoMachine                 // no machine is heard to sew
	NotThis                   // what is heard is another design, or only part of this one
	TooCrowded                // too much else is heard with the same rhythm
)

var refusedKeys = [...]string{"too_short", "no_machine", "not_this", "too_crowded"}

// Error is the reason's key.
func (r Refused) Error() string { return refusedKeys[r] }

// signs are what tells a recording of the design from one of something else.
type signs struct {
	clear     float64 // share of the strokes that are clearly heard
	earned    float64 // what a stroke earns in the mean
	drift     float64 // ms that a stroke runs ahead or falls behind, in the mean
	left      float64 // share of the rhythm heard where nothing of the design is
	leftOn    float64 // the same of what goes on as a machine does
	explained float64 // share of the rhythm heard that the design's own speeds explain
	rhythm    float64 // share of the frames that have a rhythm at all
	still     bool    // hardly anything of a machine is heard
	earns     float64 // what the way through the design earns, over what the best speed of each frame would
	earnsOn   float64 // the same over the frames near its strokes, and those that go on as a machine does; rest costs nothing, however long
	resewn    float64 // strokes that are sewn again after stops, beyond those that are as a matter of course
	halts     int     // stops that the design does not know
	unheard   int     // strokes in a row of which little is heard
	mute      float64 // share of the runs' ends at which most strokes are silent, where nearly all of the others are clear
	others    int     // strokes in a row that are heard where the design has none
	deaf      int     // strokes of a run of which next to nothing is heard
	doubled   int     // strokes on one side of a stop that are all sewn on its other, too
	pressed   int     // the design's own rests that are shorter than any machine makes them
	unsure    bool    // which of the two strokes of each turn is the stitch's, the runs' ends do not tell
	strokes   int
}

func (h *hearing) signs() signs {
	var s signs
	n := 0
	for _, l := range h.laid {
		for i, g := range l.gain {
			if l.number[i] < 0 {
				continue
			}
			if t := int(l.heard[i] / Step); t >= 0 && t < h.curve.n && h.curve.level[t] == 0 {
				continue // a drop-out
			}
			n++
			if g > clearly {
				s.clear++
			}
		}
		s.earned += l.score
		s.drift += l.drifted
	}
	if n > 0 {
		s.clear /= float64(n)
		s.earned /= float64(n)
		s.drift /= float64(n)
	}
	// What of the rhythm is where the design sews, at its speed.
	speed := make([]int, h.rhythm.n)
	for f := range speed {
		speed[f] = -1
	}
	for _, l := range h.laid {
		for i := range l.heard {
			a, b := max(0, i-4), min(len(l.heard)-1, i+4)
			if b-a < 3 {
				continue
			}
			if f := int(l.heard[i]/h.rhythm.every + 0.5); f >= 0 && f < len(speed) {
				speed[f] = gridIndex(float64(b-a) / (l.heard[b] - l.heard[a]))
			}
		}
	}
	near := make([]bool, h.rhythm.n) // strokes are in what the frame hears
	for _, l := range h.laid {
		for _, t := range l.heard {
			for f := int((t - rhythmWindow*Step/2) / h.rhythm.every); f <= int((t+rhythmWindow*Step/2)/h.rhythm.every)+1; f++ {
				if f >= 0 && f < len(near) {
					near[f] = true
				}
			}
		}
	}
	var speeds []int
	for _, k := range speed {
		if k >= 0 {
			speeds = append(speeds, k)
		}
	}
	slices.Sort(speeds)
	slow, fast := 0, gridSize
	if n := len(speeds); n > 0 { // what sews too, but not this
		slow, fast = max(speeds[n/5]-2, 0), min(speeds[n-1-n/20]+3, gridSize)
	}
	all, own, left := 0.0, 0.0, 0.0
	goesOn, most, allOn, leftOn, rested := h.rhythm.goesOn(), 0.0, 0.0, 0.0, 0.0
	s.halts, s.strokes, s.unheard, s.pressed, s.mute = len(h.halted), n, h.unheard(), h.pressed(), h.mute()
	s.others, s.resewn, s.unsure = h.others(), resewn(h.halted), h.unsure
	s.deaf, s.doubled, s.still = h.deaf(), h.doubled(), h.still()
	s.earns = h.shareOf(h.played(h.law), false)
	for f := range h.rhythm.n {
		e := h.rhythm.at(f)
		top := float64(slices.Max(e))
		if near[f] || goesOn[f] {
			most += worthOf(top, h.rhythm.every)
		}
		if !near[f] {
			rested += standing * h.rhythm.every / 0.1
		}
		if top < leastOfRhythm {
			continue
		}
		s.rhythm++
		all += top
		if near[f] || goesOn[f] {
			allOn += top
		}
		if !near[f] && h.pulsesNear(f) >= 6 {
			here := max(float64(slices.Max(e[slow:fast])), 0)
			if left += here; goesOn[f] {
				leftOn += here
			}
		}
		if k := speed[f]; k >= 0 {
			here := float64(slices.Max(e[max(0, k-2):min(gridSize, k+3)]))
			own += max(here, 0)
		}
	}
	s.rhythm /= float64(max(h.rhythm.n, 1))
	if all > 0 {
		s.explained, s.left = own/all, left/all
	}
	if allOn > 0 {
		s.leftOn = leftOn / allOn
	}
	if most > 0 {
		s.earnsOn = (s.earns*h.rhythm.most() + rested) / most
	}
	return s
}

// mute is the share of the runs' ends at which most of the last muteOf strokes are silent; none where not nearly all the
// other strokes are clear, nor where fewer than leastMute are. Slow strokes are weak, but a machine that is heard all along
// is heard to begin and to end: where it is not, again and again, its runs lie on strokes of another's.
func (h *hearing) mute() float64 {
	if h.silentCosts() == 0 {
		return 0
	}
	ends, mute := 0, 0
	for k, l := range h.laid {
		for by, stop := range map[int]int{1: k, -1: k + 1} {
			if !h.reliable(k) || h.interrupted(stop) {
				continue
			}
			if ends++; h.muteAt(l, by) > 0 {
				mute++
			}
		}
	}
	if mute < leastMute {
		return 0
	}
	return float64(mute) / float64(ends)
}

// reliable reports whether it is known where a passage was sewn: one of few strokes may lie on a knock.
func (h *hearing) reliable(k int) bool { return len(h.laid[k].at) >= endStrokes && !h.laid[k].placed }

// muteAt is how many strokes of a passage are silent from its beginning on (by 1), or back from its end (−1), as far as
// most are; 0 where most of the outermost muteOf are not.
func (h *hearing) muteAt(l *laid, by int) (silent int) {
	at := 0
	if by < 0 {
		at = len(l.at) - 1
	}
	for i := 0; i < len(l.at) && (i < muteOf || 2*silent > i); i++ {
		silent += h.silentAt(l, at+i*by)
	}
	if 2*silent <= muteOf {
		return 0
	}
	return silent
}

// pressed is how many of the design's own rests are so much shorter than the law's that no machine makes them: the runs
// beside them do not both lie where they were sewn.
func (h *hearing) pressed() (n int) {
	for k := 1; k < len(h.laid); k++ {
		if h.interrupted(k) || !h.reliable(k) || !h.reliable(k-1) {
			continue
		}
		if h.restBefore(k) < leastRest*h.score.rests[k].seconds {
			n++
		}
	}
	return n
}

// share is what the best way through the design by a law earns, over what would be earned at the
// speed heard best in each frame.
func (h *hearing) share(l law) float64 { return h.shareOf(l.score(h.whole), true) }

func (h *hearing) shareOf(sc *score, stops bool) float64 {
	most := h.rhythm.most()
	if most <= 0 {
		return 0
	}
	return follow(h.rhythm, h.rhythm.n, sc.cells(h.rhythm.every), true, stops).score / most
}

// most is what a way would earn that goes at the speed heard best in each frame.
func (r *rhythm) most() (sum float64) {
	for f := range r.n {
		sum += worthOf(float64(slices.Max(r.at(f))), r.every)
	}
	return sum
}

// worthOf is what a frame of so many seconds earns for evidence.
func worthOf(e, every float64) float64 { return max(earns*(e-asks), 0) * every / 0.1 }

// leastOfRhythm is the evidence of a frame that has a rhythm.
const leastOfRhythm = 0.3

// share is what part of the frames has a rhythm.
func (r *rhythm) share() float64 {
	n := 0
	for f := range r.n {
		if slices.Max(r.at(f)) >= leastOfRhythm {
			n++
		}
	}
	return float64(n) / float64(max(r.n, 1))
}

// A machine's rhythm goes on: in so many frames in a row there is one, its speed so many places on the grid from the last one at the most.
// What people do with their hands and say has one now and then, of no length.
const (
	goesOnFrames = 5
	goesOnApart  = 4
)

// goesOn reports of each frame whether it is in such a row.
func (r *rhythm) goesOn() []bool {
	out := make([]bool, r.n)
	for f, from, was := 0, 0, -1; f <= r.n; f++ {
		now := -1
		if f < r.n {
			if top := slices.Max(r.at(f)); top >= leastOfRhythm {
				now = slices.Index(r.at(f), top)
			}
		}
		if now < 0 || was < 0 || max(now-was, was-now) > goesOnApart {
			for k := from; k < f && f-from >= goesOnFrames; k++ {
				out[k] = true
			}
			if from = f; now < 0 {
				from = f + 1
			}
		}
		was = now
	}
	return out
}

// still reports whether hardly anything of a machine is heard: next to none of the recording has a rhythm, nor for as long as a good part
// of the design takes at the sheet's top speed. Where colours are changed by hand a machine may sew in a minute of an hour.
func (h *hearing) still() bool {
	if h.rhythm.share() >= leastRhythm {
		return false
	}
	n := 0
	for _, on := range h.rhythm.goesOn() {
		if on {
			n++
		}
	}
	return float64(n)*h.rhythm.every < leastSewn*60*float64(h.whole.Count().Stitches)/h.sheet.MaxSpeed
}

// pulsesNear is how many clear pulses a frame of the rhythm hears: what cuts and
// clicks at rest has some, sewing has many.
func (h *hearing) pulsesNear(f int) (n int) {
	mid := int(float64(f) * h.rhythm.every / Step)
	for t := max(1, mid-rhythmWindow/2); t < min(mid+rhythmWindow/2, len(h.o)-1); t++ {
		if h.o[t] > 0.4 && h.o[t] >= h.o[t-1] && h.o[t] > h.o[t+1] {
			n++
		}
	}
	return n
}

// What a recording of the design shows at the least; docs/listening.md has how
// often it is missed and how often another design shows it too.
const (
	leastRhythm  = 0.02 // of the frames,
	leastSewn    = 0.3  // or of what the design takes at the top speed
	sewsRhythm   = 0.3  // something sews, though nothing of this design
	leastEarns   = 0.3
	mostHalts    = 3   // stops of the machine's own that any run may have,
	haltStrokes  = 250 // and one in so many strokes more: else they make a design of what is none
	leastClear   = 0.945
	leastEarned  = 0.3
	mostDrifting = 0.3
	mostStraying = 0.045 // where more is sewn again after a stop than as a matter of course
	mostLeft     = 0.025
	mostOthers   = 7     // strokes: in noise six of a slow stretch were found to lie beside the law's
	mostDoubled  = 20    // strokes (common practice, no published source: an operator goes back ten or less)
	mostUnheard  = 60    // strokes: more than a slow beginning beside noise
	leastTwin    = 0.985 // where a machine strikes twice and the runs' ends do not tell with which: laid on the other stroke some are silent
	muteOf       = 8
	leastMute    = 3
	mostMute     = 0.2
	leastRest    = 0.15 // of the law's rest
	clearlyKnown = 0.98 // where so many strokes are clear
	driftKnown   = 0.05 // and keep to a law that was known, another machine may sew in the rests,
	earnsBeside  = 0.15 // and so little of what would be earned be the design's;
	driftFitted  = 0.02 // and to one that was fitted, people may talk there and do what they do, in rests as long as they are
)

// refuse says why what was found is not to be trusted, nil where it is.
func (h *hearing) refuse() error {
	if h.twice && (h.unsure || h.twin() == 0) {
		return NotThis // it strikes once, and was refused so; or laid on either stroke its speed may be heard wrong
	}
	s := h.signs()
	h.beside = s.refused(h.opt.Known) == nil && s.another()
	if h.beside {
		return TooCrowded
	}
	return s.refused(h.opt.Known)
}

// another reports whether all strokes may be heard and yet were not sewn so: another machine sews too.
func (s signs) another() bool { return s.pressed > 0 || s.mute > mostMute }

// sure reports whether nearly every stroke is clear and keeps to the law: of something else that is not so, and what sounds in the rests
// is then not of it. A law that was fitted keeps to more than one that was known.
func (s signs) sure(known bool) bool {
	return s.clear > clearlyKnown && (s.drift < driftFitted || known && s.drift < driftKnown)
}

// strays reports whether strokes run ahead of the law or behind it, and more are sewn again after a stop than as a matter of course: by
// both another version of the design is laid on this one.
func (s signs) strays() bool { return s.resewn > 0 && s.drift > mostStraying }

// refused is why what has these signs is not to be trusted, whatever another machine does; known: the law was.
func (s signs) refused(known bool) error {
	least := leastEarns
	switch {
	case s.sure(known) && known:
		least, s.left = earnsBeside, 0
	case s.sure(known):
		s.earns, s.left = s.earnsOn, s.leftOn
	}
	switch {
	case s.still:
		return NoMachine
	case s.earns < least || s.halts > mostHalts+s.strokes/haltStrokes || s.clear < leastClear || s.unheard > mostUnheard ||
		s.earned < leastEarned || s.drift > mostDrifting || s.strays() || s.others > mostOthers || s.left > mostLeft ||
		s.deaf > 0 || s.doubled > mostDoubled ||
		s.unsure && s.clear < leastTwin:
		if s.clear > 0.6 && s.rhythm > 0.5 && s.explained < 0.5 {
			return TooCrowded
		}
		return NotThis
	}
	return nil
}
