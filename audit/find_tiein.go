package audit

import "needlepace/words"

// MissingTieIn is a thread that begins without lock stitches.
const MissingTieIn Kind = "missing-tie-in"

// findTieIns looks behind every cut, and at the start, for lock stitches, as
// findLocks does before it. Common practice, no published source: lock stitches at
// both ends of a thread.
func findTieIns(v *survey) []Finding {
	var found []Finding
	for k := range v.l.objects {
		o := &v.l.objects[k]
		if o.Bare || o.Last-o.First < int(v.lim.FewStitches) || // that is findFew's
			v.lockedAt(o, false) {
			continue
		}
		f := Finding{From: o.First, To: o.First, Count: 1, Risk: RiskUnravel, What: words.Say("finding.no-tie-in"),
			Ask: words.Say("finding.no-tie-in-ask")}
		found = append(found, v.place(f, k))
	}
	return v.mostly(found, words.Say("finding.no-tie-ins", words.Args{"n": words.Whole(len(found)),
		"threads": words.Count(len(v.l.objects), "stretch")}))
}
