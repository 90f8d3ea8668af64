package sound

import (
	"math"
	"slices"
)

// others is the most strokes in a row that are heard where this design has none: in the midst of a run as many of its own are silent
// there, or they lie before a run's first stroke or after its last, at the pace of the run. So sounds another version of the design.
// A machine that strikes twice a revolution has such strokes all along, and beside one whose law is known another may sew.
func (h *hearing) others() (most int) {
	if h.opt.Known || h.blurs().twins {
		return 0
	}
	for k, l := range h.laid {
		if !h.reliable(k) {
			continue
		}
		for _, n := range h.instead(l) {
			most = max(most, n)
		}
		last := len(l.at) - 1
		in := min(endStrokes, last/2)
		before, after := l.heard[in-1]-l.heard[in], l.heard[last-in+1]-l.heard[last-in]
		a, z := 0, last // a silent stroke tells nothing of where the next would be
		for a < in && h.silentAt(l, a) > 0 {
			a++
		}
		for z > last-in && h.silentAt(l, z) > 0 {
			z--
		}
		if k > 0 && h.laid[k-1].heard[len(h.laid[k-1].heard)-1] > l.heard[0]+(pacedStrokes+2)*before {
			before = 0 // the run before it is as near
		}
		if k+1 < len(h.laid) && h.laid[k+1].heard[0] < l.heard[last]+(pacedStrokes+2)*after {
			after = 0
		}
		from, to := 0.0, h.curve.Seconds() // of what is no other run's
		if k > 0 {
			from = h.laid[k-1].heard[len(h.laid[k-1].heard)-1] + twinApart
		}
		if k+1 < len(h.laid) {
			to = h.laid[k+1].heard[0] - twinApart
		}
		if n := max(h.walksOn(l, true, l.heard[in]-l.heard[in-1], from), h.walksOn(l, false, l.heard[last-in+1]-l.heard[last-in], to)); n >= walksStrokes {
			most = max(most, n)
		}
		if before != 0 && h.goesOn(l.heard[a], before) || after != 0 && h.goesOn(l.heard[z], after) {
			most = max(most, pacedStrokes)
		}
	}
	return most
}

// instead are, of each row of silent strokes in the midst of a run, as many as others are heard there.
func (h *hearing) instead(l *laid) (all []int) {
	for _, r := range h.silentRows(l) {
		from, to := max(r.from, endStrokes), min(r.to, len(l.at)-endStrokes)
		if from >= to {
			continue
		}
		silent := 0
		for i := from; i < to; i++ {
			silent += h.silentAt(l, i)
		}
		others := h.pulses(l.heard[from-1], l.heard[to], clearly) - (to - from - silent)
		all = append(all, max(min(silent, others), 0))
	}
	return all
}

// doubtOthers says of a run in whose midst others are heard in the place of some of its strokes that its numbers may be wrong by as
// many: a knock hides two, and in noise the strokes of a slow stretch lie beside the law's, too.
func (h *hearing) doubtOthers() {
	if h.opt.Known || h.blurs().twins {
		return
	}
	for _, l := range h.laid {
		sum := 0
		for _, n := range h.instead(l) {
			if n > 2 {
				sum += n
			}
		}
		l.within = max(l.within, min(sum, len(l.at)-1))
	}
}

// pulses are how many pulses as loud as least lie between two strokes, none of them theirs.
func (h *hearing) pulses(from, to float64, least float32) (n int) {
	for t := max(1, int((from+twinApart)/Step)); t <= min(int((to-twinApart)/Step), len(h.o)-2); t++ {
		if h.o[t] > least && h.o[t] >= h.o[t-1] && h.o[t] > h.o[t+1] {
			n++
		}
	}
	return n
}

// Strokes that go on at a run's pace beyond its end: so many, which earn so much of what is usual, and as much more than others would
// between them.
const (
	pacedStrokes = 8
	pacedEarn    = 0.6
)

// goesOn reports whether strokes follow one at a run's pace, turn seconds from one to the next; they precede it where turn is negative.
func (h *hearing) goesOn(stroke, turn float64) bool {
	earn := func(from float64) float64 {
		l := laid{passage: &passage{}}
		for i := range pacedStrokes {
			l.at, l.number = append(l.at, 0), append(l.number, 0)
			l.want = append(l.want, from+float64(i)*turn)
		}
		if turn < 0 {
			slices.Reverse(l.want)
		}
		l.follow(h.wide, h.o, drifting{reach: 0.2 * math.Abs(turn), step: 0.05, ends: 0.05})
		return l.score
	}
	paced := earn(stroke + turn)
	least := pacedEarn * pacedStrokes * h.perStroke()
	return paced > least && paced-earn(stroke+turn/2) > least
}

// deafEarns is of what strokes earn in the mean: a run that earns less is not heard where it is laid.
const deafEarns = 0.25

// deaf is how many strokes the longest run has of which next to nothing is heard, though the recorder left nothing of it out.
func (h *hearing) deaf() (most int) {
	least := deafEarns * h.perStroke()
	for k, l := range h.laid {
		if h.reliable(k) && l.score < least*float64(len(l.at)) && !slices.ContainsFunc(l.heard, h.dropped) {
			most = max(most, len(l.at))
		}
	}
	return most
}

// doubled is the most strokes beside a stop of the machine's own that are all sewn on its other side, too: few are sewn again where a
// thread breaks at a run's end, or just after it has begun; so many as a run has are a run that the design does not have.
func (h *hearing) doubled() (most int) {
	for q := range h.halted {
		a, b := h.pieces[h.after[q]-1], h.pieces[h.after[q]]
		if b.from <= a.from {
			most = max(most, a.to-a.from)
		}
		if b.to <= a.to {
			most = max(most, b.to-b.from)
		}
	}
	return most
}

// walksOn is how many pulses as loud as a run's strokes follow its last one, or precede its first, until a time: the first at about
// the run's pace, turn s, the next always about as long after the last as that was after the one before, with none between, as a shaft rises and slows.
func (h *hearing) walksOn(l *laid, begins bool, turn, until float64) (n int) {
	stroke, by := l.heard[len(l.heard)-1], 1
	if begins {
		stroke, by = l.heard[0], -1
	}
	gains := slices.Clone(l.gain)
	slices.Sort(gains)
	least, quickest, slowest := max(float32(walksLoud*gains[len(gains)/2]), clearly), turn/walksPace, walksPace*turn
	at := int(math.Round(stroke / Step))
	for t := at + by*int(twinApart/Step); t > 0 && t+1 < len(h.o) && float64(by)*(float64(t)*Step-until) < 0; t += by {
		d := math.Abs(float64(t-at)) * Step
		if d > slowest {
			break
		}
		if h.o[t] < least || h.o[t] < h.o[t-1] || h.o[t] <= h.o[t+1] {
			continue
		}
		if d < quickest {
			break
		}
		at, quickest, slowest, n = t, leastStep*d, mostStep*d, n+1
		t += by * int(twinApart/Step)
	}
	return n
}

// The next pulse of a shaft that rises or slows is so many turns away, the first one by walksPace more or less, and so loud beside the
// run's strokes. So many are no knocks at rest: where people talk five were found to follow one another so.
const (
	leastStep, mostStep, walksPace = 0.75, 1.8, 1.5
	walksLoud                      = 0.6
	walksStrokes                   = 9
)
