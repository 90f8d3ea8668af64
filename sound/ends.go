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
	softSpeeds  = []float64{120, 160, 205, 255, 310, 380, 470}
	creepSpeeds = []float64{45, 65, 90, 120, 165, 230}
	rises       = []float64{0.45, 0.65, 0.85, 1.15, 1.55, 2.1}
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
	from    int     // strokes that are read: from … to
	to      int
}

// cut makes short designs of the beginnings and of the ends of some passages of
// the design; what a stop of the machine's own has ended or begun is no end.
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
	c := &cuts{wide: newBlurred(h.wide)}
	var starts, ends stitch.Design
	sew := func(d *stitch.Design, records []int) {
		for _, r := range records {
			d.Records = append(d.Records, h.design.Records[r])
		}
		d.Records = append(d.Records, stitch.Record{Op: stitch.Stop})
	}
	for i, g := range all {
		l := h.laid[g.first]
		m := min(len(l.record), endRecords)
		sew(&starts, l.record[:m])
		c.first = append(c.first, ending{g.first, i, endStrokes, l.heard[endStrokes], 0, endStrokes})
		l = h.laid[g.last]
		n := len(l.record)
		m = min(n, endRecords)
		sew(&ends, l.record[n-m:])
		c.last = append(c.last, ending{g.last, i, m - 1 - endStrokes, l.heard[n-1-endStrokes], m - endStrokes, m})
	}
	c.starts, c.ends = h.law.score(&starts), h.law.score(&ends)
	return c
}

// shifts is what each passage earns with its numbers shifted by −mostShift …
// mostShift.
type shifts [][2*mostShift + 1]float64

// blurred is what a stroke earns at best within so many milliseconds.
type blurred struct {
	sharp []float32
	wide  [len(blurRadii)][]int8 // by radius, in earnQuanta
}

// blurRadii are in ms.
var blurRadii = [...]int{4, 10, 22, 45, 80}

// earnQuantum is the step in which what a stroke earns in a wide place is kept.
const earnQuantum = 0.01

func newBlurred(sharp []float32) *blurred {
	b := &blurred{sharp: sharp}
	last, radius := sharp, 0
	for k, r := range blurRadii {
		by := r - radius
		out := make([]float32, len(sharp))
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
		}
		last, radius = out, r
		levelled := slices.Clone(out)
		level(levelled) // chance earns more in a wider place
		b.wide[k] = make([]int8, len(levelled))
		for t, v := range levelled {
			b.wide[k][t] = int8(min(max(math.Round(float64(v)/earnQuantum), math.MinInt8), math.MaxInt8))
		}
	}
	return b
}

// near is what is earned at a millisecond, or at most so many seconds from it; off
// the recording it is what a stroke costs where nothing is heard.
func (b *blurred) near(t int, seconds float64) float64 {
	if t < 0 || t >= len(b.sharp) {
		return -background
	}
	for k := len(blurRadii) - 1; k >= 0; k-- {
		if float64(blurRadii[k])*Step <= seconds {
			return float64(b.wide[k][t]) * earnQuantum
		}
	}
	return float64(b.sharp[t])
}

// read is what the ends earn by a law, where strokes may be off by the part blur
// of how much longer they take than at an even speed.
func read(l law, short *score, ends []ending, wide *blurred, blur float64) shifts {
	sc := short.by(l)
	out := make(shifts, len(ends))
	if len(sc.passages) != len(ends) {
		return out
	}
	for k, e := range ends {
		p := &sc.passages[e.sewn]
		for s := -mostShift; s <= mostShift; s++ {
			j := e.anchor + s
			sum := 0.0
			if j < 0 || j >= len(p.at) {
				out[k][s+mostShift] = math.Inf(-1)
				continue
			}
			steady := p.turn[e.anchor]
			for i := e.from; i < e.to; i++ {
				if p.number[i] < 0 {
					continue
				}
				away := p.at[i] - p.at[j]
				near := blur * math.Abs(math.Abs(away)-math.Abs(float64(i-j))*steady)
				sum += wide.near(int(math.Round((e.at+away)/Step)), min(near, p.turn[i]/4))
			}
			out[k][s+mostShift] = sum
		}
	}
	return out
}

// slip is what it costs a passage to have other shifts at its two ends, for each
// number between them: somewhere on the way turns were lost or won.
const slip = 1.0

// way is one law in which passages may begin and end, the numbers of most of them
// shifted by the same.
type way struct {
	law        law
	shift      int // of the beginnings
	begins     shifts
	ends       shifts
	sum        float64
	byPassages []([2]int) // shifts of each passage read, at either end
}

// weigh reads the beginnings and, where asked, the ends.
func (w *way) weigh(h *hearing, c *cuts, blur float64, ends bool) {
	w.begins = read(w.law, c.starts, c.first, c.wide, blur)
	if w.ends = nil; ends {
		w.ends = read(w.law, c.ends, c.last, c.wide, blur)
	}
	w.add(h)
}

// add adds up what was read.
func (w *way) add(h *hearing) {
	ends := w.ends != nil
	w.sum = -h.unlikely(&w.law)
	w.byPassages = nil
	for k := range w.begins {
		best, at := math.Inf(-1), [2]int{}
		for s, v := range w.begins[k] {
			if s -= mostShift; s != w.shift {
				v -= slip * math.Abs(float64(s-w.shift))
			}
			if !ends {
				if v > best {
					best, at = v, [2]int{s, s}
				}
				continue
			}
			for z, e := range w.ends[k] {
				z -= mostShift
				if v := v + e - slip*math.Abs(float64(z-s)); v > best {
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
	first, last  []ending
	wide         *blurred
}

// number finds how passages begin and end and which number their strokes have.
func (h *hearing) number() {
	c := h.cut()
	if len(c.first) == 0 {
		return
	}
	best := &h.ways(c)[0]
	h.law = best.law
	h.relay()
	for k, l := range h.laid {
		shift := [2]int{best.shift, best.shift}
		if i := c.of(k); i >= 0 {
			// What a stop has begun or ended goes with the end that is the design's.
			shift = best.byPassages[i]
			if first, last := c.first[i].passage, c.last[i].passage; k == first && first != last {
				shift[1] = shift[0]
			} else if k == last && first != last {
				shift[0] = shift[1]
			}
		}
		l.renumber(shift)
	}
}

// of is the place of played passage k among those that are read, −1 for none.
func (c *cuts) of(k int) int {
	return slices.IndexFunc(c.first, func(e ending) bool {
		return k >= e.passage && k <= c.last[e.sewn].passage
	})
}

// ways are the laws in which passages may begin and end that earn most with most
// numbers shifted by each shift, the best first. Constants make up for one another,
// so a search from one place ends in some valley: many are begun, and the best of each
// shift gone on with on ever sharper evidence.
func (h *hearing) ways(c *cuts) []way {
	begun := h.begun != nil
	laws := append([]law{h.law}, h.begun...)
	first := 0.04 // the blur
	if !begun {
		laws, first = h.begins(), 0.12
	}
	begins := make([]shifts, len(laws))
	for i := range laws {
		begins[i] = read(laws[i], c.starts, c.first, c.wide, first)
	}
	var all []way
	for shift := -mostShift; shift <= mostShift; shift++ {
		var here []way
		for i := range laws {
			here = append(here, way{law: laws[i], shift: shift, sum: earned(begins[i], shift) - h.unlikely(&laws[i])})
		}
		all = append(all, bestWays(here, waysBegun)...)
	}
	if !begun {
		all = h.sharpen(all, c, false, waysBegun/3, 0.1, 0.06)
		all = h.sharpen(all, c, false, waysEnded, 0.03, 0.015)
		for k := range all {
			w := &all[k]
			w.weigh(h, c, 0.06, true)
			from := w.law.sheet.Shaft.CreepSpeed // a beginning hardly tells it
			for _, fall := range falls {
				for _, creep := range []float64{0.65, 0.8, 1, 1.25, 1.5} {
					t := way{law: w.law.clone(), shift: w.shift}
					t.law.sheet.Shaft.AccelDown = h.sheet.Shaft.AccelDown * fall
					t.law.sheet.Shaft.CreepSpeed = from * creep
					if t.weigh(h, c, 0.06, true); t.sum > w.sum {
						*w = t
					}
				}
			}
		}
		all = h.sharpen(all, c, true, waysEnded, 0.12, 0.06)
	}
	all = h.sharpen(all, c, true, waysKept, 0.03, 0.015, 0.007)
	h.begun = nil
	for k := range all {
		h.begun = append(h.begun, all[k].law)
		if all[k].shift != 0 { // wants a reason
			all[k].sum -= 0.3
		}
	}
	slices.SortFunc(all, byEarning)
	return all
}

// How many ways of each shift are gone on with.
const (
	waysBegun = 18
	waysEnded = 3
	waysKept  = 2
)

// begins are laws over the whole range of how a passage may begin.
func (h *hearing) begins() []law {
	up := h.law.sheet.Shaft.AccelUp
	if given := h.sheet.Shaft.AccelUp; math.Abs(math.Log(up/given)) > 1 {
		up = given
	}
	out := []law{h.law}
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

// earned is what beginnings earn with most numbers shifted alike.
func earned(begins shifts, shift int) (sum float64) {
	for k := range begins {
		sum += max(begins[k][shift+mostShift], slices.Max(begins[k][:])-2*slip)
	}
	return sum
}

func byEarning(a, b way) int {
	return cmp.Or(cmp.Compare(b.sum, a.sum), cmp.Compare(a.shift, b.shift),
		cmp.Compare(a.law.sheet.Shaft.SoftStartStitches, b.law.sheet.Shaft.SoftStartStitches))
}

// bestWays are the n that earn most, none of which is nearly another.
func bestWays(all []way, n int) (out []way) {
	slices.SortStableFunc(all, byEarning)
	for _, w := range all {
		if len(out) < n && !slices.ContainsFunc(out, w.nearly) {
			out = append(out, w)
		}
	}
	return out
}

// nearly reports whether two ways are one but for a few per cent.
func (w way) nearly(v way) bool {
	a, b := &w.law.sheet.Shaft, &v.law.sheet.Shaft
	same := func(x, y float64) bool { return math.Abs(x/y-1) < 0.04 }
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

func (o *offBy) within() int {
	all := 0.0
	for _, v := range o {
		all += v
	}
	sum := 0.0
	for d, v := range o {
		if sum += v; sum >= numbersHold*all {
			return d
		}
	}
	return mostShift
}

// doubt finds by how many the numbers of each passage may be wrong: every way to
// begin and to end, and every shift, is as likely as it earns (Bayes' rule; the ways
// that were looked at closely stand for all). A passage that is not read is as sure
// as those that are.
func (h *hearing) doubt() {
	c := h.cut()
	usual := offBy{mostShift: 1}
	var read []offBy
	if len(c.first) > 0 {
		read, usual = make([]offBy, len(c.first)), offBy{}
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
		l.within = min(off.within(), len(l.at)-1)
	}
}

// offBy is how likely a way has the numbers of a passage that is read wrong by 0 …
// mostShift at its worse end.
func (w *way) offBy(i int) (off offBy) {
	const shifts = 2*mostShift + 1
	var earn [shifts][shifts]float64
	best, sum := math.Inf(-1), 0.0
	for s := range shifts {
		for z := range shifts {
			earn[s][z] = w.begins[i][s] + w.ends[i][z] - ownSlip*(math.Abs(float64(z-s))+math.Abs(float64(s-mostShift-w.shift)))
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

// falls are the slowing accelerations to try, over the sheet's.
var falls = []float64{0.4, 0.5, 0.63, 0.8, 1, 1.25, 1.6, 2, 2.5}

// unlikely is what a law loses for lying far from its class, in clear strokes.
func (h *hearing) unlikely(l *law) (sum float64) {
	for k, t := range h.fitted {
		if t.path == "phase" || t.path == "speed" {
			continue
		}
		z := math.Log(t.get(l)/h.prior[k]) / t.spread
		sum += 0.15 * z * z
	}
	return sum
}

// sharpen searches near each way, one constant after another, by ever smaller steps,
// and gives the keep best of each shift.
func (h *hearing) sharpen(all []way, c *cuts, ends bool, keep int, steps ...float64) (out []way) {
	for shift := -mostShift; shift <= mostShift; shift++ {
		var here []way
		for k := range all {
			if all[k].shift != shift {
				continue
			}
			for _, step := range steps {
				h.sharpenBy(&all[k], c, ends, step)
			}
			here = append(here, all[k])
		}
		out = append(out, bestWays(here, keep)...)
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
		if n := w.law.sheet.Shaft.SoftStartStitches + more; ends && n >= 0 && n <= mostSoft {
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
	for range sharpenRounds {
		was := w.sum
		for _, k := range endConstants {
			if !ends && !k.begins {
				continue
			}
			for _, f := range []float64{-1, 1} {
				t := way{law: w.law.clone(), shift: w.shift, begins: w.begins, ends: w.ends}
				*k.at(&t.law) *= math.Exp(f * step)
				t.law.phase = min(max(t.law.phase, leastPhase), 1)
				if k.begins {
					t.begins = read(t.law, c.starts, c.first, c.wide, blur)
				}
				if ends && k.ends {
					t.ends = read(t.law, c.ends, c.last, c.wide, blur)
				}
				if t.add(h); t.sum > w.sum {
					*w = t
				}
			}
		}
		if w.sum < was+0.01 {
			break
		}
	}
}

// endConstants are what is searched over, and whether a passage's beginning and its
// end tell it.
var endConstants = []struct {
	at           func(*law) *float64
	begins, ends bool
}{
	{func(l *law) *float64 { return &l.sheet.Shaft.SoftStartSpeed }, true, false},
	{func(l *law) *float64 { return &l.sheet.Shaft.CreepSpeed }, true, true},
	{func(l *law) *float64 { return &l.sheet.Shaft.AccelUp }, true, false},
	{func(l *law) *float64 { return &l.phase }, true, true},
	{func(l *law) *float64 { return &l.sheet.Shaft.AccelDown }, false, true},
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
	l.heard, l.gain = heard, gain
}
