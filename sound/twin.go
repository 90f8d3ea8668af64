package sound

import "slices"

// A machine may strike twice in a revolution, as loud each time. How fast it sews is
// heard as well, but which of the two strokes is the stitch's only its ends tell: a run
// begins with the one and ends with the other. Where the second stroke is half a revolution
// after the first, they sound as one stroke of a machine twice as fast: what cannot be laid on the
// design otherwise is heard so, too.

const (
	turnParts = 40    // into which a revolution is cut
	twinFrom  = 6     // parts from a stroke in which it rings itself
	twinLoud  = 0.5   // of the stitch's own stroke: as loud
	twinPeak  = 2.0   // times what is usual in a revolution
	twinSlow  = 2.2   // times as long may a turn be before the first one heard, or after the last
	twinSeek  = 0.8   // s beyond a run's end in which its pulses may be
	twinApart = 0.012 // s between two pulses at the least
	twinPulse = 0.35  // of the run's usual stroke: a pulse
	twinSure  = 1.3   // times as much must be heard on one side as on the other
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
	before, after := 0.0, 0.0
	for k, l := range h.laid {
		n := len(l.heard)
		if n < endStrokes {
			continue
		}
		if !h.interrupted(k) {
			_, loud := h.loudest(l.heard[0], -(1-share)*(l.heard[1]-l.heard[0]))
			before += loud
		}
		if !h.interrupted(k + 1) {
			_, loud := h.loudest(l.heard[n-1], share*(l.heard[n-1]-l.heard[n-2]))
			after += loud
		}
	}
	others, all := 0, 0
	for k, l := range h.laid {
		if len(l.heard) < endStrokes {
			continue
		}
		if !h.interrupted(k) {
			others, all = others+h.otherStrokes(l, true), all+len(twinCounts)
		}
		if !h.interrupted(k + 1) {
			others, all = others+h.otherStrokes(l, false), all+len(twinCounts)
		}
	}
	h.unsure = 3*others <= 2*all && 3*others >= all
	switch {
	case 3*others > 2*all:
	case 3*others < all || before < twinSure*after:
		return
	}
	for _, l := range h.laid {
		was := slices.Clone(l.heard)
		for i := range was {
			switch {
			case i > 0:
				l.heard[i], l.gain[i] = pick(h.o, int((was[i-1]+share*(was[i]-was[i-1]))/Step+0.5))
			case len(was) > 1:
				l.heard[0], l.gain[0] = h.loudest(was[0], -(1-share)*(was[1]-was[0]))
			}
		}
		for i := range l.at { // where the run begins stays
			l.at[i] -= was[0] - l.heard[0]
		}
	}
}

// twinCounts are the strokes, from a run's end, up to which pulses are counted.
var twinCounts = [...]int{5, 7, 9, 11}

// otherStrokes is at how many of twinCounts the run is laid on the stroke with which it does
// not begin: the pulses from the run's first to a stroke of its first kind are an even
// number, and from a stroke of the second kind to the run's last.
func (h *hearing) otherStrokes(l *laid, begins bool) (n int) {
	gains := slices.Clone(l.gain)
	slices.Sort(gains)
	least := float32(twinPulse * gains[len(gains)/2])
	for _, i := range twinCounts {
		from, to := l.heard[0]-twinSeek, l.heard[i]-twinApart/2
		if !begins {
			from, to = l.heard[len(l.heard)-1-i]+twinApart/2, l.heard[len(l.heard)-1]+twinSeek
		}
		count, last := 0, -1.0
		for t := max(1, int(from/Step)); t <= min(int(to/Step), len(h.o)-2); t++ {
			if at := float64(t) * Step; h.o[t] >= least && h.o[t] >= h.o[t-1] && h.o[t] > h.o[t+1] && at-last > twinApart {
				count, last = count+1, at
			}
		}
		if count%2 == 1 == begins {
			n++
		}
	}
	return n
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
	at = stroke + after
	for t := int(min(from, to) / Step); t <= int(max(from, to)/Step); t++ {
		if p, g := pick(h.o, t); g > gain {
			at, gain = p, g
		}
	}
	return at, gain
}
