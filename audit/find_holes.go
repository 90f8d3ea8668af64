package audit

import (
	"cmp"
	"slices"
	"sort"

	"needlepace/stitch"
	"needlepace/words"
)

// Holes struck too often, and too many of them.
const (
	SameHole  Kind = "same-hole"
	DenseSpot Kind = "dense-spot"
)

// places are the holes of a design by their place: of each place the holes in
// sewing order. Equal places stand together.
func (v *survey) places(f func(holes []int32)) {
	const bits = 21 // of a place along an axis, and of a hole's number: 2 M each
	x0, y0 := int64(v.bounds.MinX), int64(v.bounds.MinY)
	if len(v.l.holes) >= 1<<bits {
		v.off(words.Say("finding.off-holes", words.Args{"stitches": words.Count(len(v.l.holes), "stitch")}))
		return
	}
	if v.byPlace == nil {
		v.byPlace = make([]uint64, len(v.l.holes))
		for k, h := range v.l.holes {
			v.byPlace[k] = uint64(int64(h.x)-x0)<<(2*bits) | uint64(int64(h.y)-y0)<<bits | uint64(k)
		}
		slices.Sort(v.byPlace)
	}
	keys := v.byPlace
	var holes []int32
	for i := 0; i < len(keys); {
		holes = holes[:0]
		k := i
		for ; k < len(keys) && keys[k]>>bits == keys[i]>>bits; k++ {
			holes = append(holes, int32(keys[k]&(1<<bits-1)))
		}
		f(holes)
		i = k
	}
}

// lockStrikes is how often a lock may strike one hole: two stitches to and fro, and
// the first of what is sewn. Engineering choice: as many in one hole lock, fewer do not.
const lockStrikes = 4

// isLock reports whether the strikes of one hole are those of one lock: few, and all
// where a thread begins, or ends.
func (v *survey) isLock(strikes []int32) bool {
	first, last := int(strikes[0]), int(strikes[len(strikes)-1])
	o := &v.l.objects[v.objectOf(first)]
	return len(strikes) <= lockStrikes && last < o.Last && (last-o.First <= lockWithin || o.Last-1-first <= lockWithin)
}

// findSameHole finds the holes that the needle strikes SameHole times or more,
// whatever it sewed between, a lock aside. The cost is that of the strikes after the second.
func findSameHole(v *survey) []Finding {
	least := max(int(v.lim.SameHole), 2)
	var strikes []int32 // of all such holes, those of each together
	var spots [][]int32 // of each
	v.places(func(holes []int32) {
		if len(holes) >= least && !v.isLock(holes) {
			strikes = append(strikes, holes...)
			spots = append(spots, holes) // for its length
		}
	})
	at := 0
	for i, s := range spots {
		spots[i] = strikes[at : at+len(s)]
		at += len(s)
	}
	slices.SortFunc(spots, func(a, b []int32) int { return cmp.Compare(a[0], b[0]) })
	found := make([]Finding, 0, len(spots))
	cures := make([]cure, 0, len(strikes)) // of all, and so are the cells
	cells := make([]uint64, len(spots))
	for i, holes := range spots {
		n, first := len(holes), len(cures)
		f := Finding{From: int(holes[0]), To: int(holes[n-1]) + 1, Spread: true, Count: 1, Risk: RiskHole,
			Peak: float64(n), Over: float64(n) / float64(least)}
		f.Severity = worse(Shows, f.Over)
		for _, k := range holes[2:] {
			cures = append(cures, cure{kind: cureStrike, object: v.objectOf(int(k)), from: int(k), to: int(k) + 1})
		}
		f.cures = cures[first:len(cures):len(cures)]
		f.cells = cells[i : i : i+1]
		v.cover(&f, f.From, f.From+1)
		found = append(found, v.place(f, v.objectOf(f.From)))
	}
	found = gather(found)
	v.strikes(found)
	return found
}

// strikes gives the findings of holes their seconds: each object is clocked with
// the strikes and without them, and each finding has its share by number.
func (v *survey) strikes(found []Finding) {
	struck := make([]int32, len(v.l.objects)) // how many, by object
	gone := make([]bool, len(v.l.rec))
	for i := range found {
		for _, c := range found[i].cures {
			struck[c.object]++
			gone[v.l.holes[c.from].record] = true
		}
	}
	each := make([]float64, len(v.l.objects))
	for object, n := range struck {
		if n > 0 {
			o := &v.l.objects[object]
			is := v.l.rec[o.From:o.To]
			each[object] = max(0, v.seconds(is)-v.seconds(without(is, func(i int) bool { return gone[o.From+i] }))) / float64(n)
		}
	}
	for i := range found {
		for _, c := range found[i].cures {
			found[i].Seconds += each[c.object]
		}
	}
}

// without is the records less the stitches that are gone; the next goes all the
// way.
func without(rec []stitch.Record, gone func(i int) bool) []stitch.Record {
	out := make([]stitch.Record, 0, len(rec))
	dx, dy := 0, 0
	for i, r := range rec {
		if gone(i) {
			dx, dy = dx+int(r.DX), dy+int(r.DY)
			continue
		}
		r.DX, r.DY = r.DX+int16(dx), r.DY+int16(dy)
		dx, dy = 0, 0
		out = append(out, r)
	}
	return out
}

func saySameHole(v *survey, f *Finding) {
	holes := words.Count(f.Count, "hole")
	f.What = words.Say("finding.same-hole", words.Args{"holes": holes, "times": words.Count(int(f.Peak), "time")})
	if f.Count > 1 {
		f.What = words.Say("finding.same-holes", words.Args{"holes": holes,
			"least": words.Count(max(int(v.lim.SameHole), 2), "time"), "most": words.Whole(int(f.Peak))})
	}
	f.Ask = words.Say("finding.same-hole-ask")
}

// heat counts penetrations by square millimetre.
func (v *survey) heat() Heat {
	b := v.bounds
	if b.Empty {
		return Heat{}
	}
	h := Heat{}
	x0, y0 := floorDiv(b.MinX, stitch.UnitsPerMM), floorDiv(b.MinY, stitch.UnitsPerMM)
	h.X0, h.Y0 = float64(x0), float64(y0)
	h.NX, h.NY = floorDiv(b.MaxX, stitch.UnitsPerMM)-x0+1, floorDiv(b.MaxY, stitch.UnitsPerMM)-y0+1
	if int64(h.NX)*int64(h.NY) > maxHeat {
		v.off(words.Say("finding.off-density", words.Args{"size": words.Size{W: float64(h.NX), H: float64(h.NY)}}))
		return Heat{}
	}
	h.Counts = make([]int32, h.NX*h.NY)
	for _, p := range v.l.holes {
		h.Counts[h.cell(p)]++
	}
	return h
}

// maxHeat is the most cells of a heat picture: 4 m².
const maxHeat = 4_000_000

func (h *Heat) cell(p hole) int {
	return (floorDiv(int(p.y), stitch.UnitsPerMM)-int(h.Y0))*h.NX + floorDiv(int(p.x), stitch.UnitsPerMM) - int(h.X0)
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// findDense gathers neighbouring square millimetres with too many holes. It
// costs no time by itself; the thread breaks it makes are the floor's. A lock or
// a sharp corner fills a square millimetre too and harms nothing: a spot smaller
// than a stack counts only where it is far beyond the limit.
func findDense(v *survey) []Finding {
	counts := make([]float32, len(v.report.Penetrations.Counts))
	for c, n := range v.report.Penetrations.Counts {
		counts[c] = float32(n)
	}
	found := slices.DeleteFunc(v.spots(counts, v.lim.Density), func(f Finding) bool {
		return f.Count < stackLeast && f.Over < lockOver
	})
	for i := range found {
		f := &found[i]
		f.Risk, f.Severity = RiskBreak, worse(Shows, f.Over)
		if f.Severity == Hurts {
			f.Risk = RiskNeedle
		}
	}
	return found
}

// lockOver is how far a lock may pass the limit of penetrations: four stitches to
// and fro on a corner of satin stay below. Engineering choice.
const lockOver = 1.5

// spots gathers neighbouring square millimetres of the heat whose value is over
// the limit: Count is how many, Peak the most, and the place where that is.
func (v *survey) spots(values []float32, limit float64) []Finding {
	h := &v.report.Penetrations
	spot := make([]int32, len(values)) // number of the spot, from 1
	var found []Finding
	var stack []int
	for c, n := range values {
		if float64(n) <= limit || spot[c] > 0 {
			continue
		}
		f := Finding{From: -1, Spread: true, Radius: cellRadius}
		id := int32(len(found) + 1)
		spot[c] = id
		stack = append(stack[:0], c)
		for len(stack) > 0 {
			c := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			f.Count++
			x, y := c%h.NX, c/h.NX
			if peak := float64(values[c]); peak > f.Peak {
				f.Peak, f.X, f.Y = peak, h.X0+float64(x)+0.5, h.Y0+float64(y)+0.5
			}
			f.cells = append(f.cells, v.cellAt((int(h.X0)+x)*stitch.UnitsPerMM, (int(h.Y0)+y)*stitch.UnitsPerMM))
			for ny := max(0, y-1); ny <= min(h.NY-1, y+1); ny++ {
				for nx := max(0, x-1); nx <= min(h.NX-1, x+1); nx++ {
					if k := ny*h.NX + nx; spot[k] == 0 && float64(values[k]) > limit {
						spot[k] = id
						stack = append(stack, k)
					}
				}
			}
		}
		f.Over = f.Peak / limit
		found = append(found, f)
	}
	if len(found) == 0 {
		return nil
	}
	in := make([][]int, len(found))
	for k, p := range v.l.holes {
		if id := spot[h.cell(p)]; id > 0 {
			in[id-1] = append(in[id-1], k)
		}
	}
	for i := range found {
		if f := &found[i]; len(in[i]) > 0 {
			f.From, f.To = mostOf(in[i])
			f.Block = v.l.objects[v.objectOf(f.From)].Block
		}
	}
	return slices.DeleteFunc(found, func(f Finding) bool { return f.From < 0 }) // no needle there
}

// mostOf is the shortest stretch of sewing in which three in four of some holes, in
// their order, are struck: a thread that comes by early or late does not make it
// long.
func mostOf(holes []int) (from, to int) {
	n := (3*len(holes) + 3) / 4
	from, to = holes[0], holes[len(holes)-1]+1
	for i := n - 1; i < len(holes); i++ {
		if a, b := holes[i-n+1], holes[i]+1; b-a < to-from {
			from, to = a, b
		}
	}
	return from, to
}

// cellRadius is the ring around a square millimetre, mm.
const cellRadius = 0.8

func sayDense(_ *survey, f *Finding) {
	f.What = words.Say("finding.dense", words.Args{"peak": words.Count(int(f.Peak), "penetration"),
		"side": words.FineMM(1), "area": words.AreaMM2(f.Count)})
	f.Ask = words.Say("finding.dense-ask")
}

// objectOf finds the object of a hole.
func (v *survey) objectOf(k int) int {
	return max(0, sort.Search(len(v.l.objects), func(i int) bool { return v.l.objects[i].First > k })-1)
}
