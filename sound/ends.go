package sound

import (
	"cmp"
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

// ways to begin and to end, tried one with another.
var (
	softSpeeds  = []float64{100, 117, 137, 160, 187, 219, 256, 300, 351, 411, 480}
	creepSpeeds = []float64{45, 65, 90, 120, 165, 230}
	rises       = []float64{0.45, 0.65, 0.85, 1, 1.15, 1.55, 2.1} // over what the strokes heard say
	phases      = []float64{0.5, 1}
)

const mostSoft = 13

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

// blurred is what a stroke earns at best within so many milliseconds.
type blurred struct {
	sharp []int16                // in 1/wideUnit
	wide  [len(blurRadii)][]int8 // by radius, in earnQuanta
	block []int16                // the most that is earned in each beyondBlock ms, in 1/wideUnit
	twins bool                   // the machine strikes twice a revolution: what lies beyond an end tells nothing
}

// blurs is what a stroke of the recording earns so.
func (h *hearing) blurs() *blurred {
	if h.blurred == nil {
		h.blurred = newBlurred(h.wide)
	}
	return h.blurred
}

// blurRadii are in ms.
var blurRadii = [...]int{4, 10, 22, 45, 80}

// blurBy is the widest of these within so many ms, −1 for none.
var blurBy = func() (by [81]int8) {
	for ms := range by {
		by[ms] = -1
		for k, r := range blurRadii {
			if r <= ms {
				by[ms] = int8(k)
			}
		}
	}
	return by
}()

// earnQuantum is the step in which what a stroke earns in a wide place is kept.
const earnQuantum = 0.01

func newBlurred(sharp []int16) *blurred {
	b := &blurred{sharp: sharp}
	last, out, levelled := slices.Clone(sharp), make([]int16, len(sharp)), make([]float32, len(sharp))
	radius := 0
	for k, r := range blurRadii {
		by := r - radius
		for t := range out {
			m := last[t]
			// Maxima of maxima: two places at the edges and some between.
			for _, d := range []int{by, by / 2} {
				if t >= d {
					m = max(m, last[t-d])
				}
				if t+d < len(last) {
					m = max(m, last[t+d])
				}
			}
			out[t] = m
			levelled[t] = float32(m) / wideUnit
		}
		last, out, radius = out, last, r
		level(levelled) // chance earns more in a wider place
		b.wide[k] = make([]int8, len(levelled))
		for t, v := range levelled {
			b.wide[k][t] = int8(min(max(math.Round(float64(v)/earnQuantum), math.MinInt8), math.MaxInt8))
		}
	}
	for t := 0; t < len(sharp); t += beyondBlock {
		b.block = append(b.block, slices.Max(sharp[t:min(t+beyondBlock, len(sharp))]))
	}
	return b
}

// Where, in turns from a passage's first or last stroke, one stroke more would be heard,
// and where what is heard of a rest anyway.
const (
	beyondBlock          = 16 // ms
	beforeFrom, afterBy  = 0.3, 0.6
	beyondTo             = 1.5
	beyondRest, restEnds = 2.5, 4.5
	unheard              = 0.7 // what it costs that a stroke is heard which the design does not have
)

// beyond is what it costs a passage that strokes are heard just before its first stroke, at
// a time in s, or after its last; turn is that stroke's, negative before.
func (b *blurred) beyond(at, turn float64) float64 {
	near := beforeFrom
	if turn > 0 {
		near = afterBy
	}
	if b.twins {
		return 0
	}
	return unheard * max(b.most(at+near*turn, at+beyondTo*turn)-max(b.most(at+beyondRest*turn, at+restEnds*turn), 0), 0)
}

// most is the most that is earned between two times in s.
func (b *blurred) most(from, to float64) float64 {
	i, j := int(min(from, to)/Step)/beyondBlock, int(max(from, to)/Step)/beyondBlock
	if i, j = max(i, 0), min(j, len(b.block)-1); i > j {
		return 0
	}
	return float64(slices.Max(b.block[i:j+1])) / wideUnit
}

// near is what is earned at a millisecond, or at most so many seconds from it; off
// the recording it is what a stroke costs where nothing is heard.
func (b *blurred) near(t int, seconds float64) float64 {
	if t < 0 || t >= len(b.sharp) {
		return -background
	}
	if k := blurBy[min(int(seconds/Step+1e-6), len(blurBy)-1)]; k >= 0 {
		return float64(b.wide[k][t]) * earnQuantum
	}
	return float64(b.sharp[t]) / wideUnit
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

// slip is what it costs a passage to have other shifts at its two ends, for each
// number between them: somewhere on the way turns were lost or won.
// A stop of the machine's own on the way may have been taken for a few strokes later or
// earlier than it was.
const slip, slipAtStop = 1.0, 0.25

// way is one law in which passages may begin and end, the numbers of most of them
// shifted by the same.
type way struct {
	law        law
	shift      int // of the beginnings
	begins     readings
	ends       readings
	sum        float64
	byPassages []([2]int) // shifts of each passage read, at either end
}

// weigh reads the beginnings and, where asked, the ends.
func (w *way) weigh(h *hearing, c *cuts, blur float64, ends bool) {
	w.begins = read(w.law, c.starts, c.first, c.wide, blur)
	if w.ends = (readings{}); ends {
		w.ends = read(w.law, c.ends, c.last, c.wide, blur)
	}
	w.add(h, c)
}

// add adds up what was read.
func (w *way) add(h *hearing, c *cuts) {
	ends := w.ends.by != nil
	w.sum = w.begins.stops + w.ends.stops - h.unlikely(&w.law)
	w.byPassages = nil
	for k := range w.begins.by {
		best, at := math.Inf(-1), [2]int{}
		for s, v := range w.begins.by[k] {
			if s -= mostShift; s != w.shift {
				v -= slip * math.Abs(float64(s-w.shift))
			}
			if !ends {
				if v > best {
					best, at = v, [2]int{s, s}
				}
				continue
			}
			lost := slip
			if c.first[k].passage < c.last[k].passage {
				lost = slipAtStop
			}
			for z, e := range w.ends.by[k] {
				z -= mostShift
				if v := v + e - lost*math.Abs(float64(z-s)); v > best {
					best, at = v, [2]int{s, z}
				}
			}
		}
		w.sum += best
		w.byPassages = append(w.byPassages, at)
	}
}

// cuts are the short designs of the passages' ends.
type cuts struct {
	starts, ends *score
	first, last  []ending // of the runs, then of the machine's own stops
	runs         int
	wide         *blurred
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

// ways are the laws in which passages may begin and end that earn most with most
// numbers shifted by each shift, the best first. Constants make up for one another,
// so a search from one place ends in some valley: many are begun, and the best of each
// shift gone on with on ever sharper evidence.
func (h *hearing) ways(c *cuts) []way {
	if c.alike(h.told.by) {
		return h.told.ways
	}
	var laws []law
	most := waysBegun
	if h.told.by != nil && c.sameEnds(h.told.by) { // by another frame they begin much as they did
		laws = append(laws, h.law)
		for k := range h.told.ways {
			l := h.told.ways[k].law.clone()
			l.sheet.Frame = h.law.sheet.Frame
			laws = append(laws, l)
		}
	} else {
		laws = h.begins()
	}
	for k := range h.told.ways {
		laws, most = append(laws, h.told.ways[k].law), waysBegun/2
	}
	begins := make([]readings, len(laws))
	for i := range laws {
		begins[i] = read(laws[i], c.starts, c.first, c.wide, 0.12)
	}
	var all []way
	for shift := -mostShift; shift <= mostShift; shift++ {
		var here []way
		for i := range laws {
			here = append(here, way{law: laws[i], shift: shift, sum: earned(&begins[i], shift) - h.unlikely(&laws[i])})
		}
		all = append(all, bestWays(here, most, waysAlike)...)
	}
	all = h.sharpen(all, c, false, waysBegun/3, 0.1, 0.06)
	all = h.sharpen(all, c, false, waysEnded, 0.03, 0.015)
	all = kept(h.ended(all, c), waysEndedBy)
	all = h.sharpen(all, c, true, waysEnded, 0.12, 0.06)
	all = h.sharpen(all, c, true, waysKept, 0.03, 0.015, 0.007)
	for k := range all {
		if all[k].shift != 0 { // wants a reason
			all[k].sum -= 0.3
		}
	}
	slices.SortFunc(all, func(a, b way) int { return byEarning(&a, &b) })
	h.told.by, h.told.ways = c, all
	return all
}

// How many ways of each shift are gone on with.
const (
	waysBegun   = 24
	waysAlike   = 2 // with as many soft stitches and the stroke in one half of the revolution, of those begun
	waysEnded   = 3
	waysEndedBy = 6 // of them with each way to end
	waysKept    = 2
)

// ended are ways with the slowings, creeps and phases by which the passages' beginnings and
// ends earn most: a beginning hardly tells the creep, so all are tried over their whole
// range, so finely that between two of them a last stroke is not further off than the
// evidence is blurred.
func (h *hearing) ended(all []way, c *cuts) (out []way) {
	for k := range all {
		w := &all[k]
		here := []way{{law: w.law, shift: w.shift}}
		here[0].weigh(h, c, endedBlur, true)
		if !h.opt.Known {
			for _, aside := range endPhases {
				for _, creep := range endCreeps {
					l := w.law.clone()
					l.phase, l.sheet.Shaft.CreepSpeed = min(max(l.phase+aside, leastPhase), 1), creep
					begins := read(l, c.starts, c.first, c.wide, endedBlur)
					for _, fall := range falls {
						t := way{law: l.clone(), shift: w.shift, begins: begins}
						t.law.sheet.Shaft.AccelDown = h.sheet.Shaft.AccelDown * fall
						t.ends = read(t.law, c.ends, c.last, c.wide, endedBlur)
						t.add(h, c)
						here = append(here, t)
					}
				}
			}
		}
		some, others := here[:1:1], here[1:] // its own, and those by which both earn most, and the ends alone
		most := len(some)
		for _, by := range []func(a, b *way) int{byEarning, byEnds} {
			most += waysFallen
			slices.SortStableFunc(others, func(a, b way) int { return by(&a, &b) })
			for _, t := range others {
				if len(some) < most && !slices.ContainsFunc(some, t.fallsLike) {
					some = append(some, t)
				}
			}
		}
		out = append(out, some...)
	}
	return out
}

// byEnds puts first the ways by which the ends earn most, whatever the beginnings do.
func byEnds(a, b *way) int { return cmp.Compare(earned(&b.ends, 0), earned(&a.ends, 0)) }

// fallsLike reports whether two ways end alike, to a step of those tried at once.
func (w way) fallsLike(v way) bool {
	a, b := &w.law.sheet.Shaft, &v.law.sheet.Shaft
	same := func(x, y float64) bool { return math.Abs(math.Log(x/y)) < 0.25 }
	return same(a.AccelDown, b.AccelDown) && same(a.CreepSpeed, b.CreepSpeed) && math.Abs(w.law.phase-v.law.phase) < 0.1
}

// waysFallen are the ways to end that each way to begin is gone on with by, of those below
// on evidence that is blurred by endedBlur.
const (
	waysFallen = 2
	endedBlur  = 0.06
)

var (
	endPhases = [...]float64{0, -0.15, 0.15}
	endCreeps = [...]float64{40, 50, 63, 80, 100, 126, 160, 200, 250}
	falls     = [...]float64{0.35, 0.42, 0.5, 0.6, 0.72, 0.87, 1.05, 1.25, 1.5, 1.8, 2.2, 2.6} // over the sheet's
)

// begins are laws over the whole range of how a passage may begin.
func (h *hearing) begins() []law {
	up := h.law.sheet.Shaft.AccelUp
	if given := h.sheet.Shaft.AccelUp; math.Abs(math.Log(up/given)) > 1 {
		up = given
	}
	out := []law{h.law}
	if h.opt.Known { // all but when the needle strikes
		for phase := leastPhase; phase <= 1; phase += 0.1 {
			l := h.law.clone()
			l.phase = phase
			out = append(out, l)
		}
		return out
	}
	for soft := range mostSoft + 1 {
		for _, speed := range softSpeeds {
			if soft == 0 && speed != softSpeeds[0] {
				continue
			}
			for _, creep := range creepSpeeds {
				for _, rise := range rises {
					for _, phase := range phases {
						l := h.law.clone()
						l.sheet.Shaft.SoftStartStitches = soft
						l.sheet.Shaft.SoftStartSpeed = speed
						l.sheet.Shaft.CreepSpeed = creep
						l.sheet.Shaft.AccelUp = up * rise
						l.phase = phase
						out = append(out, l)
					}
				}
			}
		}
	}
	return out
}

// earned is what beginnings, or ends, earn with most numbers shifted alike.
func earned(begins *readings, shift int) float64 {
	sum := begins.stops
	for _, v := range begins.by {
		sum += max(v[shift+mostShift], slices.Max(v[:])-2*slip)
	}
	return sum
}

func byEarning(a, b *way) int {
	return cmp.Or(cmp.Compare(b.sum, a.sum), cmp.Compare(a.shift, b.shift),
		cmp.Compare(a.law.sheet.Shaft.SoftStartStitches, b.law.sheet.Shaft.SoftStartStitches))
}

// bestWays are the n that earn most, none of which is nearly another, at most so many with as
// many soft stitches and the stroke in the same half of the revolution: creep hardly tells them apart.
func bestWays(all []way, n, alike int) (out []way) {
	order := make([]int32, len(all)) // a way is large, and they are thousands
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(a, b int32) int { return cmp.Or(byEarning(&all[a], &all[b]), cmp.Compare(a, b)) })
	var like [mostSoft + 1][2]int
	for _, i := range order {
		w := all[i]
		if len(out) == n {
			break
		}
		late := 0
		if w.law.phase > (phases[0]+phases[1])/2 {
			late = 1
		}
		if n := &like[min(max(w.law.sheet.Shaft.SoftStartStitches, 0), mostSoft)][late]; *n < alike && !slices.ContainsFunc(out, w.nearly) {
			out, *n = append(out, w), *n+1
		}
	}
	return out
}

// nearly reports whether two ways are one but for less than a step of those begun: a search near either ends where
// the other does.
func (w way) nearly(v way) bool {
	a, b := &w.law.sheet.Shaft, &v.law.sheet.Shaft
	same := func(x, y float64) bool { return math.Abs(x/y-1) < 0.12 }
	return a.SoftStartStitches == b.SoftStartStitches && same(a.SoftStartSpeed, b.SoftStartSpeed) && same(a.CreepSpeed, b.CreepSpeed) &&
		same(a.AccelUp, b.AccelUp) && same(a.AccelDown, b.AccelDown) && same(w.law.phase, v.law.phase)
}

// What is said of numbers holds with this probability; the odds are e for so much
// earned more, in clear strokes, which the study of listening was fitted with.
const (
	numbersHold = 0.95
	oddsEarn    = 1.5
	ownSlip     = 4.0 // what it costs a passage to be wrong by itself, for each number: one is as the others are
)

// offBy is how likely numbers are wrong by 0 … mostShift, either way.
type offBy [mostShift + 1]float64

// within is by how many numbers may be wrong that are so likely wrong by 0, 1, …
func within(off []float64) int {
	all := 0.0
	for _, v := range off {
		all += v
	}
	sum := 0.0
	for d, v := range off {
		if sum += v; sum >= numbersHold*all {
			return d
		}
	}
	return len(off) - 1
}

// doubt finds by how many the numbers of each passage may be wrong: every way to
// begin and to end, and every shift, is as likely as it earns (Bayes' rule; the ways
// that were looked at closely stand for all). A passage that is not read is as sure
// as those that are.
func (h *hearing) doubt() {
	c := h.cut()
	usual := offBy{mostShift: 1}
	var read []offBy
	if c.runs > 0 {
		read, usual = make([]offBy, c.runs), offBy{}
		ways := h.ways(c)
		for k := range ways {
			likely := math.Exp((ways[k].sum - ways[0].sum) / oddsEarn)
			for i := range read {
				for d, v := range ways[k].offBy(i) {
					read[i][d] += likely * v
				}
			}
		}
		for i := range read {
			for d, v := range read[i] {
				usual[d] += v
			}
		}
	}
	for k, l := range h.laid {
		off := &usual
		if i := c.of(k); i >= 0 {
			off = &read[i]
		}
		l.within = min(within(off[:]), len(l.at)-1)
	}
	h.doubtSilent()
}

// doubtSilent says of a passage in which more strokes are silent than in those of which most is heard, where
// nearly all strokes are clear, that its numbers may be wrong by so many: each may be a turn that there was not.
func (h *hearing) doubtSilent() {
	if h.silentCosts() == 0 {
		return
	}
	best := slices.Clone(h.laid)
	share := func(l *laid) float64 { return float64(h.silent(l)) / float64(len(l.at)) }
	slices.SortStableFunc(best, func(a, b *laid) int { return cmp.Compare(share(a), share(b)) })
	all := 0
	for _, l := range best {
		all += len(l.at)
	}
	n, silent := 0, 0
	for _, l := range best {
		if n >= all/2 {
			break
		}
		n, silent = n+len(l.at), silent+h.silent(l)
	}
	for _, l := range h.laid {
		usual := float64(silent) / float64(n) * float64(len(l.at))
		more := float64(h.silent(l)) - usual - chanceSilent*math.Sqrt(usual+1)
		if !l.placed { // a run that is not heard to begin may begin where it is heard, and so end later
			more = max(more, float64(h.muteAt(l, 1)), float64(h.muteAt(l, -1)))
		}
		l.within = max(l.within, min(int(math.Ceil(more)), len(l.at)-1))
	}
	slips, _ := h.slips()
	for k, l := range h.laid { // no law was found by which there are none
		l.within = max(l.within, min(len(slips[k]), len(l.at)-1))
	}
}

// chanceSilent is how many standard deviations more silent strokes than usual a passage has by chance.
const chanceSilent = 2

// offBy is how likely a way has the numbers of a passage that is read wrong by 0 …
// mostShift at its worse end.
func (w *way) offBy(i int) (off offBy) {
	const shifts = 2*mostShift + 1
	var earn [shifts][shifts]float64
	best, sum := math.Inf(-1), 0.0
	for s := range shifts {
		for z := range shifts {
			earn[s][z] = w.begins.by[i][s] + w.ends.by[i][z] - ownSlip*(math.Abs(float64(z-s))+math.Abs(float64(s-mostShift-w.shift)))
			best = max(best, earn[s][z])
		}
	}
	for s := range shifts {
		for z := range shifts {
			v := math.Exp((earn[s][z] - best) / oddsEarn)
			off[max(s-mostShift, mostShift-s, z-mostShift, mostShift-z)] += v
			sum += v
		}
	}
	for d := range off {
		off[d] /= sum
	}
	return off
}

// unlikely is what a law loses for lying far from its class, in clear strokes. How many soft
// stitches a machine begins with is set, and few set it.
func (h *hearing) unlikely(l *law) (sum float64) {
	if l.sheet.Shaft.SoftStartStitches != h.sheet.Shaft.SoftStartStitches {
		sum = otherSoft
	}
	for k, t := range h.fitted {
		if t.path == "phase" || t.path == "speed" {
			continue
		}
		z := math.Log(t.get(l)/h.prior[k]) / t.spread
		sum += 0.15 * z * z
	}
	return sum
}

const otherSoft = 0.5

// sharpen searches near each way, one constant after another, by ever smaller steps,
// and gives the keep best of each shift.
func (h *hearing) sharpen(all []way, c *cuts, ends bool, keep int, steps ...float64) []way {
	if !h.opt.Known {
		all = h.neighbours(all, c, ends, steps[0])
	}
	for _, step := range steps {
		for k := range all {
			h.sharpenBy(&all[k], c, ends, step)
		}
		least := slices.MaxFunc(all, func(a, b way) int { return cmp.Compare(a.sum, b.sum) }).sum - wayOut - wayBlur*step
		all = slices.DeleteFunc(all, func(w way) bool { return w.sum < least })
	}
	return kept(all, keep)
}

// kept are the best ways of each shift, so many.
func kept(all []way, keep int) (out []way) {
	for shift := -mostShift; shift <= mostShift; shift++ {
		here := slices.DeleteFunc(slices.Clone(all), func(w way) bool { return w.shift != shift })
		out = append(out, bestWays(here, keep, keep)...)
	}
	return out
}

// A way that earns by wayOut less than the best, in clear strokes, is given up: it is
// less likely than one in two hundred. On blurred evidence by more, for each part of blur.
const (
	wayOut  = 8.0
	wayBlur = 100.0
)

// neighbours are ways and, where they earn more than some of these, the same but for
// the first strokes: with all numbers a few more, and as many soft stitches more
// before them, or fewer. Of each shift three times as many are given as there were.
func (h *hearing) neighbours(all []way, c *cuts, ends bool, blur float64) (out []way) {
	var by [2*mostShift + 1][]way
	for k := range all {
		all[k].weigh(h, c, blur, ends)
		by[all[k].shift+mostShift] = append(by[all[k].shift+mostShift], all[k])
	}
	var most [len(by)]int
	for s := range by {
		most[s] = len(by[s])
	}
	for k := range all {
		for more := -mostShift; more <= mostShift; more++ {
			if more == 0 {
				continue
			}
			w := way{law: all[k].law.clone(), shift: all[k].shift + more}
			w.law.sheet.Shaft.SoftStartStitches += more
			if n := w.law.sheet.Shaft.SoftStartStitches; n < 0 || n > mostSoft || max(w.shift, -w.shift) > mostShift {
				continue
			}
			w.weigh(h, c, blur, ends)
			by[w.shift+mostShift] = append(by[w.shift+mostShift], w)
		}
	}
	for s := range by {
		out = append(out, bestWays(by[s], 3*most[s], 3*most[s])...)
	}
	return out
}

func (h *hearing) sharpenBy(w *way, c *cuts, ends bool, step float64) {
	blur := step
	if step < 0.01 {
		blur = 0
	}
	w.weigh(h, c, blur, ends)
	for _, more := range []int{-1, 1} { // one soft stitch more or less
		if n := w.law.sheet.Shaft.SoftStartStitches + more; ends && !h.opt.Known && n >= 0 && n <= mostSoft {
			for _, f := range []float64{0.8, 0.9, 1, 1.1, 1.25} {
				t := way{law: w.law.clone(), shift: w.shift}
				t.law.sheet.Shaft.SoftStartStitches = n
				t.law.sheet.Shaft.SoftStartSpeed *= f
				if t.weigh(h, c, blur, ends); t.sum > w.sum {
					*w = t
				}
			}
		}
	}
	// Where the creep is off, a run's last stroke is laid where nothing is heard, and a small step earns nothing.
	for _, f := range creepsAside(step) {
		if !ends || h.opt.Known {
			break
		}
		t := way{law: w.law.clone(), shift: w.shift}
		t.law.sheet.Shaft.CreepSpeed *= f
		if t.weigh(h, c, blur, ends); t.sum > w.sum {
			*w = t
		}
	}
	var idle [len(endMoves)]bool // moves that the last round did not take
	for range sharpenRounds {
		was := w.sum
		for i, m := range endMoves {
			if !ends && !m.alone || idle[i] {
				continue
			}
			before := w.sum
			for _, f := range []float64{-1, 1} {
				t := way{law: w.law.clone(), shift: w.shift, begins: w.begins, ends: w.ends}
				begins := false
				for _, k := range m.by {
					*k.at(&t.law) *= math.Exp(f * k.times * step)
					begins = begins || k.begins
				}
				t.law.phase = min(max(t.law.phase, leastPhase), 1)
				if begins {
					t.begins = read(t.law, c.starts, c.first, c.wide, blur)
				}
				if ends && m.ends {
					t.ends = read(t.law, c.ends, c.last, c.wide, blur)
				}
				if t.add(h, c); t.sum > w.sum {
					*w = t
				}
			}
			idle[i] = w.sum == before
		}
		if w.sum < was+0.01 {
			break
		}
	}
}

// endConstant is a constant that is searched over, by times a step; begins: a passage's beginning tells it.
type endConstant struct {
	at     func(*law) *float64
	times  float64
	begins bool
}

func softSpeed(l *law) *float64 { return &l.sheet.Shaft.SoftStartSpeed }
func creep(l *law) *float64     { return &l.sheet.Shaft.CreepSpeed }
func accelUp(l *law) *float64   { return &l.sheet.Shaft.AccelUp }
func accelDown(l *law) *float64 { return &l.sheet.Shaft.AccelDown }
func phase(l *law) *float64     { return &l.phase }

// endMoves are what is changed at once: constants, and pairs of them that make up for one another.
// alone: it is worth a try where only beginnings are read; ends: a passage's end tells it.
var endMoves = [...]struct {
	by          []endConstant
	alone, ends bool
}{
	{[]endConstant{{softSpeed, 1, true}}, true, false},
	{[]endConstant{{creep, 1, true}}, true, true},
	{[]endConstant{{accelUp, 1, true}}, true, false},
	{[]endConstant{{phase, 1, true}}, true, true},
	// As long a rise from another soft speed: between half and most of the set speed it takes as much less to rise.
	{[]endConstant{{softSpeed, 1, true}, {accelUp, -1, true}}, true, false},
	{[]endConstant{{accelDown, 1, false}}, false, true},
	{[]endConstant{{creep, 2, true}, {accelDown, -0.5, false}}, false, true},
	{[]endConstant{{creep, 2, true}, {accelDown, 0.5, false}}, false, true},
	{[]endConstant{{creep, 2, true}, {phase, 1, true}}, false, true},
	{[]endConstant{{creep, 2, true}, {phase, -1, true}}, false, true},
	{[]endConstant{{phase, 1, true}, {accelDown, 0.5, false}}, false, true},
	{[]endConstant{{phase, 1, true}, {accelDown, -0.5, false}}, false, true},
}

// creepsAside are over what there is the creeps that are tried at once where evidence is blurred by a step: each
// so much more than the one before that a run's last stroke is not further off than it is seen from.
func creepsAside(step float64) (all []float64) {
	by := max(step, 0.04)
	for k := 1; k <= 8; k++ {
		all = append(all, math.Exp(by*float64(k)), math.Exp(-by*float64(k)))
	}
	return all
}

// sharpenRounds is how often at the most a search near a way goes over the constants
// at one step.
const sharpenRounds = 4

// leastPhase is where in the revolution the needle strikes at the earliest.
const leastPhase = 0.3

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
