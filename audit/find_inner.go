package audit

import (
	"needlepace/stitch"
	"needlepace/words"
)

// InnerCurve is satin that crowds its holes on the inner side of a curve.
const InnerCurve Kind = "inner-curve"

// innerRow is how many crowded holes of one curve are reported; so many others,
// the outer ones among them, may lie between two. Engineering choices.
const (
	innerRow = 6
	innerGap = 3
)

// findInner looks along satin for holes that lie nearer than InnerCurve to the
// next one of their side while the other side goes on at twice the step or
// more: there the column bends, and the inner edge is cut like a stamp. Where
// both sides crowd, the spacing is at fault, and that is DenseSpot's.
func findInner(v *survey) []Finding {
	limit := v.lim.InnerCurve * stitch.UnitsPerMM
	crowded := make([]bool, len(v.l.holes))
	any := false
	for _, c := range v.columns() {
		for k := c.from; k+3 < c.to; k++ {
			in, out := v.long(k, k+2), v.long(k+1, k+3)
			if in < limit && out >= limit && out >= 2*in {
				crowded[k], any = true, true
			}
		}
	}
	if !any {
		return nil
	}
	var found []Finding
	for _, c := range v.rows(innerGap, func(k int) bool { return crowded[k] }) {
		if c.count < innerRow {
			continue
		}
		f := Finding{From: c.from, To: c.to, Count: c.count, Risk: RiskHole, Over: float64(c.count) / innerRow}
		v.cover(&f, c.from, c.to)
		f = v.place(f, c.object)
		v.around(&f, c.from, c.to)
		found = append(found, f)
	}
	return found
}

func sayInner(v *survey, f *Finding) {
	f.What = words.Say("finding.inner", words.Args{"holes": words.Count(f.Count, "hole"),
		"limit": words.FineMM(v.lim.InnerCurve)})
	f.Ask = words.Say("finding.inner-ask")
}
