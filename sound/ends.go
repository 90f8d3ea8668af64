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
	w.sum = -h.unlikely(&w.law)
	if ends {
		w.ends = read(w.law, c.ends, c.last, c.wide, blur)
	}
	w.byPassages = w.byPassages[:0]
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

// number finds how passages begin and end and which number their strokes have;
// again: it was done before, and only ways like those found then are tried.
func (h *hearing) number(again bool) {
	c := h.cut()
	if len(c.first) == 0 {
		return
	}
	ways := map[[2]int]way{} // by shift and soft stitches
	try := func(l law) {
		begins := read(l, c.starts, c.first, c.wide, 0.12)
		far := h.unlikely(&l)
		for s := range 2*mostShift + 1 {
			sum := -far
			for k := range begins {
				sum += max(begins[k][s], slices.Max(begins[k][:])-2*slip)
			}
			key := [2]int{s, l.sheet.Shaft.SoftStartStitches}
			if have, ok := ways[key]; !ok || sum > have.sum {
				ways[key] = way{law: l, shift: s - mostShift, sum: sum}
			}
		}
	}
	up := h.law.sheet.Shaft.AccelUp
	if given := h.sheet.Shaft.AccelUp; math.Abs(math.Log(up/given)) > 1 {
		up = given
	}
	try(h.law)
	creeps, rises := creepSpeeds, rises
	if again {
		creep := h.law.sheet.Shaft.CreepSpeed
		up, creeps, rises = h.law.sheet.Shaft.AccelUp, []float64{creep * 0.75, creep, creep * 1.33}, []float64{1}
	}
	for soft := range mostSoft + 1 {
		for _, speed := range softSpeeds {
			if soft == 0 && speed != softSpeeds[0] {
				continue
			}
			for _, creep := range creeps {
				for _, rise := range rises {
					for _, phase := range phases {
						l := h.law.clone()
						l.sheet.Shaft.SoftStartStitches = soft
						l.sheet.Shaft.SoftStartSpeed = speed
						l.sheet.Shaft.CreepSpeed = creep
						l.sheet.Shaft.AccelUp = up * rise
						l.phase = phase
						try(l)
					}
				}
			}
		}
	}
	var all []way
	for _, w := range ways {
		all = append(all, w)
	}
	byEarning := func(a, b way) int {
		return cmp.Or(cmp.Compare(b.sum, a.sum), cmp.Compare(a.shift, b.shift),
			cmp.Compare(a.law.sheet.Shaft.SoftStartStitches, b.law.sheet.Shaft.SoftStartStitches))
	}
	slices.SortFunc(all, byEarning)
	all = all[:min(40, len(all))]
	for k := range all {
		w := &all[k]
		h.sharpen(w, c, false)
		w.weigh(h, c, 0.06, true)
		for _, fall := range falls {
			t := way{law: w.law.clone(), shift: w.shift}
			t.law.sheet.Shaft.AccelDown = h.sheet.Shaft.AccelDown * fall
			if t.weigh(h, c, 0.06, true); t.sum > w.sum {
				*w = t
			}
		}
	}
	slices.SortFunc(all, byEarning)
	all = all[:min(8, len(all))]
	for k := range all {
		h.sharpen(&all[k], c, true)
		if all[k].shift != 0 { // wants a reason
			all[k].sum -= 0.3
		}
	}
	slices.SortFunc(all, byEarning)
	best := &all[0]
	h.law = best.law
	h.relay()
	for k, l := range h.laid {
		shift := [2]int{best.shift, best.shift}
		for i := range c.first {
			// What a stop has begun or ended goes with the end that is the design's.
			if first, last := c.first[i].passage, c.last[i].passage; k >= first && k <= last {
				shift = best.byPassages[i]
				if k == first && first != last {
					shift[1] = shift[0]
				} else if k == last && first != last {
					shift[0] = shift[1]
				}
			}
		}
		l.renumber(shift)
	}
}

// falls are the slowing accelerations to try, over the sheet's.
var falls = []float64{0.4, 0.5, 0.63, 0.8, 1, 1.25, 1.6, 2, 2.5}

// unlikely is what a law loses for lying far from its class, in clear strokes.
func (h *hearing) unlikely(l *law) (sum float64) {
	for k, t := range h.terms() {
		if t.path == "phase" || t.path == "speed" {
			continue
		}
		z := math.Log(t.get(l)/h.prior[k]) / t.spread
		sum += 0.15 * z * z
	}
	return sum
}

// sharpen searches near a way, one constant after another.
func (h *hearing) sharpen(w *way, c *cuts, ends bool) {
	constants := []func(*law) *float64{
		func(l *law) *float64 { return &l.sheet.Shaft.SoftStartSpeed },
		func(l *law) *float64 { return &l.sheet.Shaft.CreepSpeed },
		func(l *law) *float64 { return &l.sheet.Shaft.AccelUp },
		func(l *law) *float64 { return &l.phase },
	}
	if ends {
		constants = append(constants, func(l *law) *float64 { return &l.sheet.Shaft.AccelDown })
	}
	for _, step := range []float64{0.12, 0.06, 0.03, 0.015, 0.007} {
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
		for _, at := range constants {
			for _, f := range []float64{-1, 1} {
				t := way{law: w.law.clone(), shift: w.shift}
				*at(&t.law) *= math.Exp(f * step)
				t.law.phase = min(max(t.law.phase, leastPhase), 1)
				if t.weigh(h, c, blur, ends); t.sum > w.sum {
					*w = t
				}
			}
		}
	}
}

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
