package money

import (
	"math"
	"sort"

	"needlepace/clock"
	"needlepace/words"
)

// why says where the winner of a run gains on the next, and where it loses: the
// differences of the clock's parts, the largest first.
func why(winner, other *clock.Result) words.Message {
	type diff struct {
		part clock.Part
		s    float64 // saved by the winner
	}
	var diffs []diff
	saved := map[clock.Part]float64{}
	for k, seconds := range other.Parts.Each() {
		saved[k] += seconds
	}
	for k, seconds := range winner.Parts.Each() {
		diffs = append(diffs, diff{k, saved[k] - seconds})
	}
	sort.SliceStable(diffs, func(i, j int) bool { return math.Abs(diffs[i].s) > math.Abs(diffs[j].s) })
	var gains, losses words.List
	total := other.Seconds - winner.Seconds
	for _, d := range diffs {
		if math.Abs(d.s) < 1 || math.Abs(d.s) < math.Abs(total)/10 {
			continue
		}
		part := d.part.Name()
		if d.part == clock.AtSetSpeed {
			part = words.Say("compare.its-set-speed")
		}
		text := words.Say("compare.time-in", words.Args{"time": words.Seconds(math.Abs(d.s)), "part": part})
		if d.s > 0 {
			gains = append(gains, text)
		} else {
			losses = append(losses, text)
		}
	}
	switch {
	case len(gains) == 0:
		return words.Say("compare.same-time")
	case len(losses) == 0:
		return words.Say("compare.gains", words.Args{"gains": gains})
	}
	return words.Say("compare.gains-loses", words.Args{"gains": gains, "losses": losses})
}
