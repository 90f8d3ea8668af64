package sound

import "slices"

// A machine may strike twice in a revolution, as loud each time. How fast it sews is
// heard as well, but which of the two strokes is the stitch's only its ends tell: a run
// begins with the one and ends with the other.

const (
	turnParts = 40  // into which a revolution is cut
	twinFrom  = 6   // parts from a stroke in which it rings itself
	twinLoud  = 0.5 // of the stitch's own stroke: as loud
	twinPeak  = 2.0 // times what is usual in a revolution
	twinSlow  = 2.2 // times as long may a turn be before the first one heard, or after the last
	twinSure  = 1.3 // times as much must be heard on one side as on the other
)

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
	if before < twinSure*after {
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
