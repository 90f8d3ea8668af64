package sound

import (
	"cmp"
	"math"
	"slices"
)

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

// slip is what it costs a passage to have other shifts at its two ends, for each
// number between them: somewhere on the way turns were lost or won.
// A stop of the machine's own on the way may have been taken for a few strokes later or
// earlier than it was.
const slip, slipAtStop = 1.0, 0.25

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

const mostSoft = 13

// ways to begin and to end, tried one with another.
var (
	softSpeeds  = []float64{100, 117, 137, 160, 187, 219, 256, 300, 351, 411, 480}
	creepSpeeds = []float64{45, 65, 90, 120, 165, 230}
	rises       = []float64{0.45, 0.65, 0.85, 1, 1.15, 1.55, 2.1} // over what the strokes heard say
	phases      = []float64{0.5, 1}
)

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
