package sound

import (
	"cmp"
	"math"
	"slices"
)

// A law can be bent so that a turn too many, or one too few, lies wherever a run does the same: where all runs begin, or in
// each round of a design that turns. The times of the other strokes stay right, and no number of turns more or less at
// the ends alone puts that right. Where nearly all strokes are clear it shows: at that place a stroke is silent, again and again.
// What is heard is then numbered as if there had been a turn less there, or a turn more, and the law fitted to that.

const (
	leastSlips   = 3   // places of a run, or runs with the same place; both where there are two
	slipsStrokes = 2   // silent ones in a row that are a place of one run
	slipsShare   = 0.5 // of the runs, for a place of them all
	slipsNear    = 2   // strokes between two silent ones of one place, at the most
)

// slipRow is a row of strokes from ≤ i < to of which the outer ones are silent.
type slipRow struct{ from, to int }

// silentRows are the rows of silent strokes of a passage, none within slipsNear of the next.
func (h *hearing) silentRows(l *laid) (rows []slipRow) {
	for i := range l.at {
		if h.silentAt(l, i) == 0 {
			continue
		}
		if n := len(rows); n > 0 && i-rows[n-1].to <= slipsNear {
			rows[n-1].to = i + 1
		} else {
			rows = append(rows, slipRow{i, i + 1})
		}
	}
	return rows
}

// slips are, by passage, the places at which strokes are silent again and again.
func (h *hearing) slips() (all [][]slipRow, found bool) {
	all = make([][]slipRow, len(h.laid))
	if h.silentCosts() == 0 {
		return all, false
	}
	runs := 0
	begins, ends := map[int]int{}, map[int]int{} // runs by their silent stroke, from either end
	for k, l := range h.laid {
		if !h.reliable(k) {
			continue
		}
		runs++
		var long []slipRow
		for _, r := range h.silentRows(l) {
			for i := r.from; i < r.to; i++ {
				begins[i] += h.silentAt(l, i)
				ends[len(l.at)-1-i] += h.silentAt(l, i)
			}
			if r.to-r.from >= slipsStrokes {
				long = append(long, r)
			}
		}
		if len(long) >= leastSlips {
			all[k], found = long, true
		}
	}
	often := func(n int) bool {
		return n >= leastSlips && float64(n) >= slipsShare*float64(runs) || n == runs && n == leastSlips-1
	}
	for k, l := range h.laid {
		if !h.reliable(k) || len(all[k]) > 0 {
			continue
		}
		for _, r := range h.silentRows(l) {
			here := false
			for i := r.from; i < r.to; i++ {
				here = here || i < endStrokes && often(begins[i]) || len(l.at)-1-i < endStrokes && often(ends[len(l.at)-1-i])
			}
			if here {
				all[k], found = append(all[k], r), true
			}
		}
	}
	return all, found
}

// rival is how else what is heard may be numbered at such places.
type rival struct {
	more   int     // 1: a turn more at each, −1: a turn less; 0: what is after it is heard by the other stroke of the turn
	front  bool    // what is before the place has other numbers, not what is after it
	walked bool    // its far end is walked to from pulse to pulse; else the fit is not told of it
	share  float64 // where the other stroke of a turn is, for 0
}

// unslipped is the hearing by the way to number what is heard by which most is heard, where strokes are silent again and
// again at the same places.
func (h *hearing) unslipped(by drifting) *hearing {
	slips, found := h.slips()
	if !found || h.opt.Known {
		return h
	}
	begins, ends, mids := h.bySide(slips)
	var tries []*hearing
	try := func(slips [][]slipRow, r rival, soft int) {
		if !slices.ContainsFunc(slips, func(rows []slipRow) bool { return len(rows) > 0 }) {
			return
		}
		t := h.again()
		t.law = t.law.clone()
		t.law.sheet.Shaft.SoftStartStitches += soft
		if n := t.law.sheet.Shaft.SoftStartStitches; n < 0 || n > mostSoft {
			return
		}
		t.slipAll(slips, r)
		t.law, _ = t.fit(t.law, append(t.blocks(0), t.bridges(slips, r)...), 3)
		t.relay()
		tries = append(tries, t.lay(by))
	}
	for _, walked := range []bool{true, false} {
		for _, more := range []int{-1, 1} {
			after, before := rival{more: more, walked: walked}, rival{more: more, walked: walked, front: true}
			try(begins, after, 0)
			try(begins, after, more) // it was one of the soft stitches, or one of those was missed
			try(ends, before, 0)
			try(mids, after, 0)
			try(mids, before, 0)
		}
	}
	if share := h.twin(); share > 0 {
		try(begins, rival{share: share}, 0)
		try(begins, rival{share: share - 1}, 0)
	}
	slices.SortStableFunc(tries, func(a, b *hearing) int { return cmp.Compare(b.earned, a.earned) })
	for _, try := range tries[:min(len(tries), slipsTried)] {
		if try = try.sharpened(by); try.earned > h.earned+gains {
			return try
		}
	}
	return h
}

// bySide are the places near the runs' beginnings, near their ends, and the others.
func (h *hearing) bySide(slips [][]slipRow) (begins, ends, mids [][]slipRow) {
	begins, ends, mids = make([][]slipRow, len(slips)), make([][]slipRow, len(slips)), make([][]slipRow, len(slips))
	for k, rows := range slips {
		for _, r := range rows {
			of := mids
			switch {
			case r.from < endStrokes:
				of = begins
			case len(h.laid[k].at)-r.to < endStrokes:
				of = ends
			}
			of[k] = append(of[k], r)
		}
	}
	return begins, ends, mids
}

// sharpened is the hearing by the law near its own by which the ends earn most, and as fitted from there.
func (h *hearing) sharpened(by drifting) *hearing {
	c := h.cut()
	if c.runs == 0 {
		return h
	}
	near := h.sharpen([]way{{law: h.law}}, c, true, 1, 0.12, 0.06, 0.03, 0.015, 0.007)
	w := slices.MaxFunc(near, func(a, b way) int { return byEarning(&b, &a) })
	best := h.again()
	best.renumber(&w, c)
	best = best.lay(by)
	for range 2 {
		t := best.again()
		t.relearn(2)
		if now := t.lay(by); now.earned > best.earned {
			best = now
		}
	}
	return best
}

// slipsTried are the rivals that are gone on with.
const slipsTried = 3

// bridges are the stretches to fit across such places, numbered by a rival: what is silent there is in none of the others.
func (h *hearing) bridges(slips [][]slipRow, r rival) (out []block) {
	for k, rows := range slips {
		l := h.laid[k]
		for i, row := range rows {
			from, to := row.from-1+r.more*i, row.to+r.more*(i+1)
			if r.front {
				from, to = row.from-1-r.more*(len(rows)-i), row.to-r.more*(len(rows)-1-i)
			}
			if from >= 0 && to < len(l.at) && from < to {
				out = append(out, block{passage: k, from: from, to: to, seconds: l.heard[to] - l.heard[from], weight: 1})
			}
		}
	}
	return out
}

// slipAll numbers all strokes by a rival at such places.
func (h *hearing) slipAll(slips [][]slipRow, r rival) {
	for k, l := range h.laid {
		for i := range slips[k] { // those first that move none of the others
			if !r.front {
				i = len(slips[k]) - 1 - i
			}
			h.slip(l, slips[k][i], r)
		}
		l.liesAt = nil
	}
}

// slip numbers a passage's strokes by a rival at one place.
func (h *hearing) slip(l *laid, row slipRow, r rival) {
	n := len(l.at)
	heard := slices.Clone(l.heard)
	switch {
	case r.more == 0:
		for i := row.from; i < n; i++ {
			a, b := i-1, i
			if r.share < 0 {
				a, b = i, i+1
			}
			if a >= 0 && b < n {
				d := math.Abs(r.share)
				if r.share < 0 {
					d = 1 + r.share
				}
				heard[i] = l.heard[a] + d*(l.heard[b]-l.heard[a])
			}
		}
	case r.front:
		// Mirrored in time: what is before the place.
		m := &laid{passage: &passage{at: l.at}, heard: make([]float64, n)}
		for i, t := range l.heard {
			m.heard[n-1-i] = -t
		}
		heard = h.slipped(m, slipRow{n - row.to, n - row.from}, r)
		slices.Reverse(heard)
		for i := range heard {
			heard[i] = -heard[i]
		}
	default:
		heard = h.slipped(l, row, r)
	}
	for i, t := range heard {
		l.heard[i], l.gain[i] = pick(h.o, int(math.Round(t/Step)))
		if r.more != 0 && !r.walked && (!r.front && i >= n-walkedStrokes || r.front && i < walkedStrokes) {
			l.gain[i] = 0
		}
	}
}

// walkedStrokes are the strokes of a run's far end that lay by the other law.
const walkedStrokes = 12

// slipped are the times of strokes with so many turns more at a place (1 or −1); times below 0 run backwards.
func (h *hearing) slipped(l *laid, row slipRow, r rival) []float64 {
	more := r.more
	n, m := len(l.heard), row.to-row.from
	heard := slices.Clone(l.heard[:row.from])
	if row.from > 0 && row.to < n {
		a, b := l.heard[row.from-1], l.heard[row.to]
		for i := range m + more {
			heard = append(heard, a+(b-a)*float64(i+1)/float64(m+more+1))
		}
	}
	heard = append(heard, l.heard[row.to:]...)
	if r.walked {
		heard = heard[:min(len(heard), max(n-walkedStrokes, row.to+1))]
	}
	for len(heard) < n {
		k := len(heard)
		if k < 2 {
			heard = append(heard, l.heard[k])
			continue
		}
		heard = append(heard, h.nextPulse(heard[k-1], heard[k-1]-heard[k-2]))
	}
	return heard[:n]
}

// nextPulse is when the next clear pulse is after a stroke, where a turn takes so many seconds; as long after it where none is.
func (h *hearing) nextPulse(stroke, turn float64) float64 {
	for ms := int(math.Ceil((stroke + 0.6*turn) / Step)); ms <= int(math.Floor((stroke+twinSlow*turn)/Step)); ms++ {
		if t := max(ms, -ms); t > 0 && t+1 < len(h.o) && h.o[t] > clearly && h.o[t] >= h.o[t-1] && h.o[t] > h.o[t+1] {
			return float64(ms) * Step
		}
	}
	return stroke + turn
}
