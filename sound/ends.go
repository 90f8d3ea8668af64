package sound

import (
	"math"
	"slices"

	"needlepace/stitch"
)

// How a passage begins and ends decides which number each stroke has: at an even
// speed one turn more or less changes nothing else. The search here reads the
// first and the last strokes of several passages, for every way to begin and to
// end that a machine may have, with every passage's numbers shifted by a few.

const (
	endStrokes  = 22 // strokes of an end that are read
	endRecords  = 44 // of a passage that are sewn to know them: more than any ramp
	endPassages = 10 // passages that are read
	mostShift   = 3  // numbers that a passage may be shifted by
)

// ending is the first or the last strokes of a passage, with what is known of
// when they were.
type ending struct {
	passage int
	sewn    int     // its place in the short design
	anchor  int     // stroke of the short passage whose time is known
	at      float64 // s
	ends    bool    // the strokes after it are read, not those before
	stop    int     // 1 …: the stop of the machine's own that it may be the side of; 0: it is the design's
}

// cuts are the short designs of the passages' ends.
type cuts struct {
	starts, ends *score
	first, last  []ending // of the runs, then of the machine's own stops
	runs         int
	wide         *blurred
}

// cut makes short designs of the beginnings and of the ends of some passages of
// the design. What a stop of the machine's own has begun or ended is read too, for
// it tells the law as well; but which stroke was the first or the last is free there.
func (h *hearing) cut() *cuts {
	const least = endStrokes + 8
	type group struct{ first, last int } // played passages
	var all []group
	for k := 0; k < len(h.laid); k++ {
		g := group{k, k}
		for k+1 < len(h.laid) && h.interrupted(k+1) {
			k++
			g.last = k
		}
		// A piece of few strokes tells nothing of how runs begin or end: the piece beside it is read as if they did there.
		for g.first < g.last && len(h.laid[g.first].record) < least {
			g.first++
		}
		for g.first < g.last && len(h.laid[g.last].record) < least {
			g.last--
		}
		a, z := h.laid[g.first], h.laid[g.last]
		if len(a.record) < least || len(z.record) < least {
			continue
		}
		whole := true // jumps at an end would be a travel there
		for _, l := range []*laid{a, z} {
			n, m := len(l.record), min(len(l.record), endRecords)
			for _, i := range []int{0, m - 1, n - m, n - 1} {
				whole = whole && l.number[i] >= 0
			}
		}
		if whole {
			all = append(all, g)
		}
	}
	if len(all) > endPassages { // spread over the run
		some := make([]group, endPassages)
		for i := range some {
			some[i] = all[i*len(all)/endPassages]
		}
		all = some
	}
	h.blurs().twins = h.twin() > 0
	c := &cuts{wide: h.blurs()}
	var starts, ends stitch.Design
	sewOf := func(d, of *stitch.Design, records []int) {
		for _, r := range records {
			d.Records = append(d.Records, of.Records[r])
		}
		d.Records = append(d.Records, stitch.Record{Op: stitch.Stop})
	}
	sew := func(d *stitch.Design, records []int) { sewOf(d, h.design, records) }
	sewWhole := func(d *stitch.Design, records []int) { sewOf(d, h.whole, records) }
	for i, g := range all {
		l := h.laid[g.first]
		m := min(len(l.record), endRecords)
		sew(&starts, l.record[:m])
		c.first = append(c.first, ending{g.first, i, endStrokes, l.heard[endStrokes], false, 0})
		l = h.laid[g.last]
		n := len(l.record)
		m = min(n, endRecords)
		sew(&ends, l.record[n-m:])
		c.last = append(c.last, ending{g.last, i, m - 1 - endStrokes, l.heard[n-1-endStrokes], true, 0})
	}
	c.runs = len(c.first)
	stop := 0
	for k := 1; k < len(h.laid) && stop < stopsRead; k++ {
		if !h.interrupted(k) || len(h.laid[k].record) < least || len(h.laid[k-1].record) < least {
			continue
		}
		stop++
		passage := h.first.passages[h.pieces[k].passage].record
		for by := -stopShift; by <= stopShift; by++ {
			if from := h.pieces[k].from + by; from >= 0 && from+endRecords <= len(passage) && h.sewsAll(passage[from:from+endRecords]) {
				sewWhole(&starts, passage[from:from+endRecords])
				c.first = append(c.first, ending{k, len(c.first), endStrokes - by, h.laid[k].heard[endStrokes], false, stop})
			}
			if to := h.pieces[k-1].to + by; to >= endRecords && to <= len(passage) && h.sewsAll(passage[to-endRecords:to]) {
				sewWhole(&ends, passage[to-endRecords:to])
				l := h.laid[k-1]
				c.last = append(c.last, ending{k - 1, len(c.last), endRecords - 1 - endStrokes - by, l.heard[len(l.heard)-1-endStrokes], true, stop})
			}
		}
	}
	c.starts, c.ends = h.law.score(&starts), h.law.score(&ends)
	return c
}

// stopsRead are the stops of the machine's own whose sides are read, and stopShift by
// how many strokes from where they are thought to be.
const stopsRead, stopShift = 2, 3

// sewsAll reports whether records of the design are stitches, with no jump between.
func (h *hearing) sewsAll(records []int) bool {
	return !slices.ContainsFunc(records, func(r int) bool { return h.whole.Records[r].Op != stitch.Sew })
}

// readings are what passages earn at one end by a law.
type readings struct {
	by    [][2*mostShift + 1]float64 // each with its numbers shifted by −mostShift … mostShift
	stops float64                    // the sides of the machine's own stops, each wherever it earns most
}

// read is what the ends earn by a law, where strokes may be off by the part blur
// of how much longer they take than at an even speed. All strokes between a stroke
// whose time is known and the passage's end are counted, so that one more stroke
// that is heard earns more.
func read(l law, short *score, ends []ending, wide *blurred, blur float64) readings {
	sc := short.near(l, endStrokes+mostShift+stopShift+2, len(ends) > 0 && ends[0].ends)
	defer sc.done()
	var out readings
	if len(sc.passages) != len(ends) {
		return out
	}
	best, stop := 0.0, 0
	for k, e := range ends {
		p := &sc.passages[k]
		if e.stop == 0 {
			var by [2*mostShift + 1]float64
			for s := range by {
				by[s] = e.earns(p, e.anchor+s-mostShift, wide, blur)
			}
			out.by = append(out.by, by)
			continue
		}
		v := e.earns(p, e.anchor, wide, blur)
		if e.stop != stop {
			out.stops += best
			best, stop = v, e.stop
		}
		best = max(best, v)
	}
	out.stops += best
	return out
}

// earns is what the strokes between stroke j of a passage, whose time is known, and
// the passage's end earn.
func (e *ending) earns(p *passage, j int, wide *blurred, blur float64) (sum float64) {
	if j < 0 || j >= len(p.at) {
		return math.Inf(-1)
	}
	steady := p.turn[e.anchor]
	from, to := 0, j
	if last := len(p.at) - 1; e.ends {
		from, to = j+1, last+1
		sum -= wide.beyond(e.at+p.at[last]-p.at[j], p.turn[last])
	} else {
		sum -= wide.beyond(e.at+p.at[0]-p.at[j], -p.turn[0])
	}
	for i := from; i < to; i++ {
		if p.number[i] < 0 {
			continue
		}
		away := p.at[i] - p.at[j]
		near := blur * math.Abs(math.Abs(away)-math.Abs(float64(i-j))*steady)
		sum += wide.near(int((e.at+away)/Step+0.5), min(near, p.turn[i]/4))
	}
	return sum
}

// number finds how passages begin and end and which number their strokes have, and lays
// them so. Where the machine stopped by itself ways that earn nearly as much are laid too:
// where its stops lie depends on the numbers.
func (h *hearing) number(by drifting) *hearing {
	c := h.cut()
	if c.runs == 0 || c.alike(h.told.by) { // by the best of these ways the numbers are already
		h.sortHalts()
		return h.lay(by)
	}
	var best *hearing
	var tried []way
	for _, w := range h.ways(c) {
		same := func(t way) bool { return t.shift == w.shift && t.nearly(w) }
		if slices.ContainsFunc(tried, same) || len(tried) > 0 && (len(h.halted) == 0 || w.sum < h.told.ways[0].sum-nearlyAsMuch) {
			continue
		}
		tried = append(tried, w)
		try := h.again()
		try.renumber(&w, c)
		try.sortHalts()
		if now := try.lay(by); best == nil || now.earned > best.earned {
			best = now
		}
		if len(tried) == mostNumberings {
			break
		}
	}
	return best
}

// So many numberings are laid at the most, of ways that earn so much less than the best, in
// clear strokes.
const (
	mostNumberings = 4
	nearlyAsMuch   = 2.0
)

// renumber gives the passages the numbers of a way.
func (h *hearing) renumber(w *way, c *cuts) {
	h.law = w.law
	h.relay()
	for k, l := range h.laid {
		shift := [2]int{w.shift, w.shift}
		if i := c.of(k); i >= 0 {
			shift = w.byPassages[i]
			if last := c.last[i].passage; k < last { // turns are won or lost at the last stop
				shift[1] = shift[0]
			} else if c.first[i].passage < last {
				shift[0] = shift[1]
			}
		}
		l.renumber(shift)
	}
}

// told is what the ends told last: shared by all copies of a hearing, for what they are
// read from seldom changes.
type told struct {
	by    *cuts
	ways  []way
	tried map[beside]bool // what sounds in a rest that was tried as a part of a passage, in vain
}

// sameStroke is by how much, in s, a stroke may be heard elsewhere and still tell the same.
const sameStroke = 0.002

// alike reports whether other ends are of the same stitches, heard at the same times.
func (c *cuts) alike(other *cuts) bool {
	return other != nil && c.starts.frame == other.starts.frame && c.sameEnds(other)
}

// sameEnds is alike by whatever frame.
func (c *cuts) sameEnds(other *cuts) bool {
	same := func(a, b ending) bool {
		return a.stop == b.stop && a.anchor == b.anchor && math.Abs(a.at-b.at) < sameStroke
	}
	return c.runs == other.runs && slices.EqualFunc(c.first, other.first, same) && slices.EqualFunc(c.last, other.last, same) &&
		slices.Equal(c.starts.design.Records, other.starts.design.Records) && slices.Equal(c.ends.design.Records, other.ends.design.Records)
}

// numbered reports whether the ends have told all that they do where they are heard now, by a frame as good as this.
func (h *hearing) numbered() bool {
	c, by := h.cut(), h.told.by
	if c.runs == 0 || by == nil {
		return c.runs == 0
	}
	a, b := &c.starts.frame, &by.starts.frame
	for _, x := range [][2]float64{{a.AccelX, b.AccelX}, {a.AccelY, b.AccelY}, {a.SpeedX, b.SpeedX}, {a.SpeedY, b.SpeedY}} {
		if math.Abs(math.Log(x[0]/x[1])) > sameFrame {
			return false
		}
	}
	return c.sameEnds(by)
}

// sameFrame is by how much (ln) a constant of the frame may be another and the ends tell the same.
const sameFrame = 0.05

// of is the place of played passage k among those that are read, −1 for none.
func (c *cuts) of(k int) int {
	return slices.IndexFunc(c.first[:c.runs], func(e ending) bool {
		return k >= e.passage && k <= c.last[e.sewn].passage
	})
}

// renumber shifts a passage's strokes, at its beginning and at its end: stroke i
// is what was taken for i − shift.
func (l *laid) renumber(shift [2]int) {
	if shift == [2]int{} {
		return
	}
	n := len(l.at)
	heard, gain := make([]float64, n), make([]float64, n)
	for i := range heard {
		s := shift[0]
		if i > n/2 {
			s = shift[1]
		}
		switch j := i - s; {
		case j < 0:
			heard[i] = l.heard[0] + l.at[i] - l.at[min(s, n-1)]
		case j >= n:
			heard[i] = l.heard[n-1] + l.at[i] - l.at[max(n-1+s, 0)]
		default:
			heard[i], gain[i] = l.heard[j], l.gain[j]
		}
	}
	l.heard, l.gain, l.liesAt = heard, gain, nil
}
