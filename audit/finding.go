package audit

import (
	"cmp"
	"math"
	"slices"

	"needlepace/stitch"
	"needlepace/words"
)

// Kind names what a finding is about; stable, for JSON and CSV.
type Kind string

// Title is the kind in words, in the plural.
func (k Kind) Title() words.Message { return words.Say("finding.title." + string(k)) }

// Risk is what may go wrong in sewing, beside the time.
type Risk string

// The risks.
const (
	RiskNone    Risk = ""
	RiskBreak   Risk = "thread break"
	RiskHole    Risk = "hole in the fabric"
	RiskPucker  Risk = "puckering"
	RiskSnag    Risk = "snags in wear"
	RiskUnravel Risk = "comes undone"
	RiskLoose   Risk = "loose thread to cut by hand"
	RiskStrike  Risk = "needle or foot strikes the frame"
	RiskNeedle  Risk = "broken needle"
	RiskGap     Risk = "a gap that shows the cloth"
	RiskWrong   Risk = "wrong colour or a wait for the operator"
)

// Finding is one thing in a design that wastes time or risks breaks.
type Finding struct {
	Kind     Kind
	Severity Severity
	// Over is how many times its limit it passes, 0 where that says nothing:
	// what orders findings of one severity that cost no time.
	Over  float64
	Block int // colour block, from 0
	// From and To are stitches of the whole design, from 0: From ≤ i < To.
	// From = To: between stitch From−1 and stitch From. Spread: they only bound
	// it, and most stitches between them are none of it.
	From, To int
	Spread   bool
	X, Y     float64 // where it is worst, in mm from the start of the design, y up
	Radius   float64 // mm around (X, Y) that show it; 0: the place itself
	Count    int     // how many single ones it gathers
	Peak     float64 // the worst of them, in the unit of its limit; 0: none
	// Seconds is what it costs on each run, solved together with the others: the
	// costs of a report add up to no more than what all of its cures save.
	Seconds      float64
	Alone        float64 // s, the clock with it less the clock without it alone
	OrderSeconds float64 // Seconds for the whole order
	// Split is what splitting long stitches would add to each run, in seconds;
	// negative where it saves. 0 for other kinds.
	Split float64
	Risk  Risk
	What  words.Message // one sentence: what it is
	Ask   words.Message // what to ask the digitizer for
	// Places are the places it gathers, the worst first; nil where there is one.
	Places []Place

	at    []spot // where it lies, for gather
	cures []cure
}

// Report is the audit of one design on one machine.
type Report struct {
	Findings     []Finding // gravest first, then dearest
	Seconds      float64   // run time as it is
	Stitches     int
	Runs         int     // times the machine sews the design for the order
	Total        float64 // Σ Seconds of the findings: at most what all cures save together
	Penetrations Heat
	Kept         []Stand // stops that a mend leaves alone unless told otherwise
	// Off names findings that could not be looked for, and why.
	Off words.Sentences
}

// Heat is penetrations by cells of 1 mm, in file order of the rows from below.
type Heat struct {
	X0, Y0 float64 // mm, lower left corner
	NX, NY int
	Counts []int32 // NX·NY, per mm²
}

// sortFindings puts the gravest first, then the dearest, then what passes its
// limit farthest, then those with a risk, then by place.
func sortFindings(fs []Finding) {
	slices.SortStableFunc(fs, func(a, b Finding) int {
		return cmp.Or(
			-cmp.Compare(a.Severity, b.Severity),
			-cmp.Compare(a.Seconds, b.Seconds),
			-cmp.Compare(a.Over, b.Over),
			-cmp.Compare(min(len(a.Risk), 1), min(len(b.Risk), 1)),
			cmp.Compare(a.From, b.From),
			cmp.Compare(a.Kind, b.Kind),
		)
	})
}

// spot is a place in 0.1 mm.
type spot struct{ x, y float32 }

// lies notes a place that a finding lies at.
func (f *Finding) lies(x, y float64) {
	if p := (spot{float32(x), float32(y)}); len(f.at) == 0 || f.at[len(f.at)-1] != p {
		f.at = append(f.at, p)
	}
}

// cover notes the places of holes from ≤ k < to.
func (v *survey) cover(f *Finding, from, to int) {
	for _, h := range v.l.holes[from:to] {
		f.lies(float64(h.x), float64(h.y))
	}
}

// mostRadius is the largest ring drawn round a place, mm: a larger one points
// at nothing.
const mostRadius = 6

// around sets a finding's place to the middle of holes from ≤ k < to, and its
// ring to hold them as far as a ring may.
func (v *survey) around(f *Finding, from, to int) {
	f.X, f.Y = v.mm((from + to - 1) / 2)
	for k := from; k < to && k < len(v.l.holes); k++ {
		x, y := v.mm(k)
		f.Radius = min(mostRadius, max(f.Radius, math.Hypot(x-f.X, y-f.Y)))
	}
}

// onto sets a finding's place to the middle one of some holes, in their order, and its ring to hold
// those of them that one ring can.
func (v *survey) onto(f *Finding, holes []int) {
	f.X, f.Y = v.mm(holes[len(holes)/2])
	f.Radius = 0
	for _, k := range holes {
		x, y := v.mm(k)
		if far := math.Hypot(x-f.X, y-f.Y); far <= mostRadius {
			f.Radius = max(f.Radius, far)
		}
	}
}

// gather makes one finding of those of one kind that have places at most touch mm apart. The place is that of
// the worst.
func gather(fs []Finding, touch float64) []Finding {
	if len(fs) < 2 {
		return fs
	}
	sets := joined(fs, touch*stitch.UnitsPerMM)
	var out []Finding
	place := make([]int, len(fs)) // in out, from 1, by root
	for i := range fs {
		f, root := &fs[i], sets.of(i)
		if place[root] == 0 {
			out = append(out, *f)
			place[root] = len(out)
			continue
		}
		g := &out[place[root]-1]
		sum := *f
		if cmp.Or(cmp.Compare(g.Over, f.Over), cmp.Compare(g.Count, f.Count)) >= 0 {
			sum = *g
		}
		sum.From, sum.To, sum.Spread = min(g.From, f.From), max(g.To, f.To), true
		sum.Count, sum.Peak = g.Count+f.Count, max(g.Peak, f.Peak)
		sum.Severity = max(g.Severity, f.Severity)
		sum.Seconds, sum.Split = g.Seconds+f.Seconds, g.Split+f.Split
		sum.cures = append(g.cures, f.cures...)
		*g = sum
	}
	return out
}

// joined joins findings that have places at most so far apart, in 0.1 mm. Places in one cell of a grid are always that
// near; of cells near each other those are looked at whose findings are not joined yet. So the grid decides nothing.
func joined(fs []Finding, reach float64) sets {
	type member struct {
		cell    uint64
		at      spot
		finding int32
	}
	side := reach / math.Sqrt2
	number := func(p float32) int64 { return int64(math.Floor(float64(p)/side)) + 1<<31 }
	column := func(x, y int64) uint64 { return uint64(x)<<32 + uint64(y) } // the cells' order: by columns
	n := 0
	for i := range fs {
		n += len(fs[i].at)
	}
	all := make([]member, 0, n)
	for i := range fs {
		for _, p := range fs[i].at {
			all = append(all, member{column(number(p.x), number(p.y)), p, int32(i)})
		}
	}
	slices.SortFunc(all, func(a, b member) int { return cmp.Compare(a.cell, b.cell) })
	out := newSets(len(fs))
	touch := func(a, b []member) bool {
		for i := range a {
			for k := range b {
				if dx, dy := float64(a[i].at.x-b[k].at.x), float64(a[i].at.y-b[k].at.y); dx*dx+dy*dy <= reach*reach {
					return true
				}
			}
		}
		return false
	}
	end := func(from int) int { // of the cell that begins there
		to := from + 1
		for ; to < len(all) && all[to].cell == all[from].cell; to++ {
			out.join(int(all[to].finding), int(all[from].finding))
		}
		return to
	}
	var next [3]int // where the cells near the present one begin, in its column and the two after it
	for from, to := 0, 0; from < len(all); from = to {
		to = end(from)
		for dx := range next {
			first := all[from].cell + uint64(dx)<<32 - 2
			k := max(next[dx], from)
			for k < len(all) && all[k].cell < first {
				k++
			}
			for next[dx] = k; k < len(all) && all[k].cell <= first+4; {
				b := k
				if k = end(b); out.of(int(all[from].finding)) != out.of(int(all[b].finding)) && touch(all[from:to], all[b:k]) {
					out.join(int(all[from].finding), int(all[b].finding))
				}
			}
		}
	}
	return out
}

// sets are disjoint sets of numbers from 0.
type sets []int

func newSets(n int) sets { return identity(n) }

func (s sets) of(i int) int {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

func (s sets) join(i, j int) { s[s.of(i)] = s.of(j) }
