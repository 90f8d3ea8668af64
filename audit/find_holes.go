package audit

import (
	"cmp"
	"slices"
	"sort"

	"needlepace/stitch"
	"needlepace/words"
)

// SameHole is a hole struck too often.
const SameHole Kind = "same-hole"

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
	b := v.places()
	var spots [][]int32
	strikes := 0
	for _, p := range b.at {
		if p.strikes() >= least && !v.isLock(b.strikes(p)) {
			spots = append(spots, b.strikes(p))
			strikes += p.strikes()
		}
	}
	slices.SortFunc(spots, func(a, b []int32) int { return cmp.Compare(a[0], b[0]) })
	found := make([]Finding, 0, len(spots))
	cures := make([]cure, 0, strikes) // of all, and so are the places
	at := make([]spot, len(spots))
	for i, holes := range spots {
		n, first := len(holes), len(cures)
		f := Finding{From: int(holes[0]), To: int(holes[n-1]) + 1, Spread: true, Count: 1, Risk: RiskHole,
			Peak: float64(n), Over: float64(n) / float64(least)}
		f.Severity = worse(Shows, f.Over)
		for _, k := range holes[2:] {
			cures = append(cures, cure{kind: cureStrike, object: v.objectOf(int(k)), from: int(k), to: int(k) + 1})
		}
		f.cures = cures[first:len(cures):len(cures)]
		f.at = at[i : i : i+1]
		v.cover(&f, f.From, f.From+1)
		found = append(found, v.place(f, v.objectOf(f.From)))
	}
	found = gather(found, v.lim.Touch)
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

// objectOf finds the object of a hole.
func (v *survey) objectOf(k int) int {
	return max(0, sort.Search(len(v.l.objects), func(i int) bool { return v.l.objects[i].First > k })-1)
}
