package audit

import (
	"fmt"

	"needlepace/words"
)

// BackAndForth is an order that walks between two threads, one after the other
// and back.
const BackAndForth Kind = "back-and-forth"

// findWalks looks for WalkBlocks blocks or more that take turns between two
// threads, of which some could be put together: where each lies over the one
// before it has to be so. What it would save is findReturns' business.
func findWalks(v *survey) []Finding {
	if !v.known {
		return nil
	}
	groups := v.groups()
	most := max(3, int(v.lim.WalkBlocks))
	var f Finding // all of them are one: the longest is its place
	longest := 0
	stays := func(k int) bool { return v.l.walled(v.in(groups[k])[0]) } // what lies on both sides of a stop that stays cannot meet
	for i := 0; i+1 < len(groups); {
		if stays(i + 1) {
			i++
			continue
		}
		a, b := groups[i].thread, groups[i+1].thread
		k := i + 2
		for ; k < len(groups) && a != b && groups[k].thread == groups[k-2].thread && !stays(k); k++ {
		}
		n := k - i
		if n < most || !v.someMeet(groups[i:k]) {
			i++
			continue
		}
		first, last := v.in(groups[i]), v.in(groups[k-1])
		if f.Count == 0 {
			f.From = v.l.objects[first[0]].First
		}
		f.Count += n
		f.To = v.l.objects[last[len(last)-1]].Last
		if n > longest {
			longest = n
			x, y := v.mm(v.l.objects[first[0]].First)
			f.X, f.Y, f.Block, f.Over = x, y, groups[i].block, float64(n)/v.lim.WalkBlocks
			f.What = words.Say("finding.walk", words.Args{"blocks": words.Count(n, "block"),
				"from": words.Name(fmt.Sprint(groups[i].block + 1)), "to": words.Name(fmt.Sprint(groups[k-1].block + 1))})
		}
		i = k - 1
	}
	if f.Count == 0 {
		return nil
	}
	if f.Count > longest {
		f.What = words.Say("finding.walks", words.Args{"blocks": words.Count(f.Count, "block"), "longest": f.What})
	}
	f.Spread, f.Risk, f.Ask = true, RiskWrong, words.Say("finding.walk-ask")
	return []Finding{f}
}

// someMeet reports whether two groups with one between could be sewn together; where nobody
// looked what touches they may.
func (v *survey) someMeet(groups []group) bool {
	for k := 2; k < len(groups); k++ {
		if v.touch == nil {
			return true
		}
		if _, ok := v.meet(groups, k-2, k); ok {
			return true
		}
	}
	return false
}
