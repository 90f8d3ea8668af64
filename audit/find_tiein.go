package audit

import "needlepace/words"

// MissingTieIn is a thread that begins without lock stitches.
const MissingTieIn Kind = "missing-tie-in"

// findTieIns: the loose beginnings that are not said together with a loose end.
func findTieIns(v *survey) []Finding {
	u := v.loose()
	if u.mostStarts && u.mostEnds {
		return nil // findLocks has said it
	}
	var found []Finding
	for k := range v.l.objects {
		if o := &v.l.objects[k]; u.starts[k] && v.saidAt(k) < 0 {
			f := Finding{From: o.First, To: o.First, Count: 1, Risk: RiskUnravel, What: words.Say("finding.no-tie-in"),
				Ask: words.Say("finding.no-tie-in-ask")}
			found = append(found, v.place(f, k))
		}
	}
	if !u.mostStarts {
		return found
	}
	return asOne(found, words.Say("finding.no-tie-ins", words.Args{"n": words.Whole(len(found)),
		"threads": words.Count(len(v.l.objects), "stretch")}))
}
