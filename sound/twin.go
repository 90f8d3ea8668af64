package sound

import "slices"

// A machine may strike twice in a revolution, as loud each time. How fast it sews is
// heard as well, but which of the two strokes is the stitch's only its ends tell: a run
// begins with the one and ends with the other. Where the second stroke is half a revolution
// after the first, they sound as one stroke of a machine twice as fast: what cannot be laid on the
// design otherwise is heard so, too.

const (
	turnParts         = 40    // into which a revolution is cut
	twinFrom          = 6     // parts from a stroke in which it rings itself
	twinLoud          = 0.5   // of the stitch's own stroke: as loud
	twinPeak          = 2.0   // times what is usual in a revolution
	twinSlow          = 2.2   // times as long may a turn be before the first one heard, or after the last
	twinQuick         = 0.85  // and at the least: a shaft goes no faster there
	twinApart         = 0.012 // s between two pulses at the least
	twinPulse         = 0.35  // of the run's usual stroke: a pulse
	twinSeek          = 1.5   // s beyond a run's end in which its pulses may be
	twinFar, twinNear = 7, 3  // strokes from a run's end from which its pulses are counted, and which they must reach
	twinAside         = 0.15  // of a turn either side of the other stroke, as near as another may be
	twinSure          = 2     // ends of runs that say the same, more than say another; and two in three of all
)

// orBy takes for each speed and frame the greater evidence of two.
func (r *rhythm) orBy(other *rhythm) {
	for i, v := range other.e {
		r.e[i] = max(r.e[i], v)
	}
}

// untwin lays the runs on the other stroke of each revolution where there is one as
// loud, and the runs' ends say that it is the stitch's.
func (h *hearing) untwin() {
	share := h.twin()
	if share == 0 {
		return
	}
	var own int
	if own, h.unsure = h.ownStrokes(); own >= 0 {
		return
	}
	for _, l := range h.laid {
		was := l.heard[0]
		l.toOther(h, share)
		for i := range l.at { // where the run begins stays
			l.at[i] -= was - l.heard[0]
		}
	}
}

// retwinned is the hearing by the other stroke of each revolution where the runs' ends do not say that theirs is the stitch's and some
// strokes are silent, with the ways in which runs begin and end sought anew by it, where half as many are silent then: no machine begins as runs do
// that are laid on the wrong one, and by a law in which they begin with the one and go on with the other some of each beginning are.
// What the two earn does not tell: one may be louder.
func (h *hearing) retwinned(by drifting) *hearing {
	share := h.twin()
	if share == 0 || h.opt.Known {
		return h
	}
	if own, unsure := h.ownStrokes(); own >= 0 && !unsure {
		return h
	}
	try := h.again()
	try.told = &told{tried: map[beside]bool{}}
	for _, l := range try.laid {
		l.toOther(h, share)
	}
	was := max(h.silentAll(), try.silentAll())
	if was == 0 {
		return h
	}
	for range 2 {
		try = try.number(by)
		try.relearn(2)
		try = try.lay(by)
	}
	if try.silentAll() <= was/2 {
		return try.laidAnew(by)
	}
	return h
}

// laidAnew lays runs of which some strokes are silent by the law alone, from where most of theirs are heard so, where fewer are then.
func (h *hearing) laidAnew(by drifting) *hearing {
	best := h
	for k, l := range h.laid {
		if h.silent(l) == 0 || !h.reliable(k) {
			continue
		}
		begins := l.heard[0] - l.at[0]
		at, ok := h.seek(l.passage, begins-twinSeek, begins+twinSeek)
		if !ok {
			continue
		}
		try := best.again()
		try.laid[k].liesFrom(at)
		if now := try.lay(by); now.silent(now.laid[k]) < h.silent(l) && now.inOrder() {
			best = now
		}
	}
	return best
}

// silentAll is how many strokes are silent.
func (h *hearing) silentAll() (n int) {
	for _, l := range h.laid {
		n += h.silent(l)
	}
	return n
}

// ownStrokes are the ends of runs that say that they lie on the stitch's stroke, more than say that they do not; unsure: too few.
func (h *hearing) ownStrokes() (own int, unsure bool) {
	all := 0
	ask := func(l *laid, begins bool) {
		says := h.ownStroke(l, begins)
		own, all = own+says, all+says*says
	}
	for k, l := range h.laid {
		if len(l.heard) < endStrokes {
			continue
		}
		if !h.interrupted(k) {
			ask(l, true)
		}
		if !h.interrupted(k + 1) {
			ask(l, false)
		}
	}
	return own, max(own, -own) < max(twinSure, (all+2)/3)
}

// toOther lays a passage on the other stroke of each revolution, a share of the turn after the last one; where the shaft rises or slows
// that is not so, and it is the loudest well between the two.
func (l *laid) toOther(h *hearing, share float64) {
	was := slices.Clone(l.heard)
	for i := range was {
		switch {
		case i > 0:
			turn := was[i] - was[i-1]
			if l.heard[i], l.gain[i] = pick(h.o, int((was[i-1]+share*turn)/Step+0.5)); l.gain[i] <= clearly {
				l.heard[i], l.gain[i] = h.loudestIn(was[i-1]+twinAside*turn, was[i]-twinAside*turn)
			}
		case len(was) > 1:
			l.heard[0], l.gain[0] = h.loudest(was[0], -(1-share)*(was[1]-was[0]))
		}
	}
	l.liesAt = nil
}

// ownStroke says whether a run lies on the stitch's stroke, by one of its ends: 1 it does, -1 it does not, 0 that is not told. The pulses
// from the run's first to a stroke of the kind with which it begins are an even number, and from one of the other kind to its last. It
// goes from pulse to pulse as far as each is about as long after the last as the pulse two before it was, or longer: seldom does a knock at rest follow so.
func (h *hearing) ownStroke(l *laid, begins bool) int {
	gains := slices.Clone(l.gain)
	slices.Sort(gains)
	least := float32(twinPulse * gains[len(gains)/2])
	last := len(l.heard) - 1
	from, to, by := l.heard[twinFar], l.heard[0]-twinSeek, -1
	reached := func(at float64) bool { return at < l.heard[twinNear] }
	if !begins {
		from, to, by = l.heard[last-twinFar], l.heard[last]+twinSeek, 1
		reached = func(at float64) bool { return at > l.heard[last-twinNear] }
	}
	at := []float64{from}
	for t := int(from/Step+0.5) + by*int(twinApart/Step); t > 0 && t < len(h.o)-1 && float64(by)*(float64(t)*Step-to) < 0; t += by {
		if h.o[t] < least || h.o[t] < h.o[t-1] || h.o[t] <= h.o[t+1] || float64(by)*(float64(t)*Step-at[len(at)-1]) < twinApart {
			continue
		}
		n := len(at)
		at = append(at, float64(t)*Step)
		if n <= 2 {
			continue
		}
		slows := (at[n] - at[n-1]) / (at[n-2] - at[n-3])
		if slows > twinSlow || slows < twinQuick && reached(at[n-1]) {
			at = at[:n]
			break
		}
	}
	switch beyond := len(at) - 1; {
	case !reached(at[beyond]):
		return 0
	case beyond%2 == 0 == begins:
		return 1
	}
	return -1
}

// twin is where in a revolution another stroke is as loud as the stitch's, as a share of
// the turn from the one to the next; 0: nowhere.
func (h *hearing) twin() float64 {
	var loud [turnParts]float64
	for _, l := range h.laid {
		for i := 0; i+1 < len(l.heard); i++ {
			turn := l.heard[i+1] - l.heard[i]
			for k := range loud {
				_, gain := pick(h.o, int((l.heard[i]+turn*float64(k)/turnParts)/Step+0.5))
				loud[k] += gain
			}
		}
	}
	best := twinFrom
	for k := twinFrom; k <= turnParts-twinFrom; k++ {
		if loud[k] > loud[best] {
			best = k
		}
	}
	usual := loud
	slices.Sort(usual[:])
	if loud[best] < twinLoud*loud[0] || loud[best] < twinPeak*usual[turnParts/2] {
		return 0
	}
	sum, at := 0.0, 0.0
	for k := best - 2; k <= best+2; k++ {
		sum, at = sum+loud[k], at+loud[k]*float64(k)
	}
	return at / sum / turnParts
}

// loudest is the loudest pulse where one is looked for so many seconds after a stroke,
// before it where they are negative: a shaft that starts or stops may take longer.
func (h *hearing) loudest(stroke, after float64) (at, gain float64) {
	from, to := stroke+0.8*after, stroke+twinSlow*after
	if at, gain = h.loudestIn(min(from, to), max(from, to)); gain == 0 {
		at = stroke + after
	}
	return at, gain
}

// loudestIn is the loudest pulse from one time to another; half way between where there is none.
func (h *hearing) loudestIn(from, to float64) (at, gain float64) {
	at = (from + to) / 2
	for t := int(from / Step); t <= int(to/Step); t++ {
		if p, g := pick(h.o, t); g > gain {
			at, gain = p, g
		}
	}
	return at, gain
}
