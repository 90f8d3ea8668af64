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

	cells []uint64 // it lies in, for gather
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

// cellAt names the cell of a place in 0.1 mm, counted from the corner of the design: a side is Touch long.
func (v *survey) cellAt(x, y int) uint64 {
	side := max(1, int(v.lim.Touch*stitch.UnitsPerMM))
	return uint64(uint32(floorDiv(x-v.bounds.MinX, side)))<<32 | uint64(uint32(floorDiv(y-v.bounds.MinY, side)))
}

// cover notes the cells that holes from ≤ k < to lie in.
func (v *survey) cover(f *Finding, from, to int) {
	for _, h := range v.l.holes[from:to] {
		if c := v.cellAt(int(h.x), int(h.y)); len(f.cells) == 0 || f.cells[len(f.cells)-1] != c {
			f.cells = append(f.cells, c)
		}
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

// gather makes one finding of those of one kind that touch: whose cells are the
// same or beside each other. The place is that of the worst.
func gather(fs []Finding) []Finding {
	if len(fs) < 2 {
		return fs
	}
	sets := newSets(len(fs))
	at := newCellIndex(fs)
	for i := range fs {
		for _, c := range fs[i].cells {
			x, y := int32(c>>32), int32(c)
			for dx := int32(-1); dx <= 1; dx++ {
				for dy := int32(-1); dy <= 1; dy++ {
					if k := at.of(x+dx, y+dy); k >= 0 {
						sets.join(i, k)
					}
				}
			}
			at.set(x, y, i)
		}
	}
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

// cellIndex keeps a finding's number for cells: in a table where they lie close, else
// in a map.
type cellIndex struct {
	x, y, nx, ny int64   // of the table
	table        []int32 // number + 1
	far          map[uint64]int
}

func newCellIndex(fs []Finding) *cellIndex {
	x0, y0, x1, y1, n := int64(math.MaxInt32), int64(math.MaxInt32), int64(math.MinInt32), int64(math.MinInt32), int64(0)
	for i := range fs {
		for _, c := range fs[i].cells {
			x, y := int64(int32(c>>32)), int64(int32(c))
			x0, y0, x1, y1, n = min(x0, x), min(y0, y), max(x1, x), max(y1, y), n+1
		}
	}
	if n == 0 {
		return &cellIndex{}
	}
	ix := &cellIndex{x: x0, y: y0, nx: x1 - x0 + 1, ny: y1 - y0 + 1}
	if ix.nx*ix.ny <= 1<<14+16*n {
		ix.table = make([]int32, ix.nx*ix.ny)
	} else {
		ix.far = make(map[uint64]int, n)
	}
	return ix
}

// of is the finding of a cell, −1 where none has it.
func (ix *cellIndex) of(x, y int32) int {
	if ix.far != nil {
		if k, ok := ix.far[uint64(uint32(x))<<32|uint64(uint32(y))]; ok {
			return k
		}
		return -1
	}
	if cx, cy := int64(x)-ix.x, int64(y)-ix.y; cx >= 0 && cy >= 0 && cx < ix.nx && cy < ix.ny {
		return int(ix.table[cy*ix.nx+cx]) - 1
	}
	return -1
}

func (ix *cellIndex) set(x, y int32, k int) {
	if ix.far != nil {
		ix.far[uint64(uint32(x))<<32|uint64(uint32(y))] = k
		return
	}
	ix.table[(int64(y)-ix.y)*ix.nx+int64(x)-ix.x] = int32(k + 1)
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
