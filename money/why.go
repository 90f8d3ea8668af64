package money

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"needlepace/clock"
	"needlepace/words"
)

// why says in words where the winner of a run gains on the next, and where it
// loses: the differences of the clock's parts, the largest first.
func why(winner, other *clock.Result) string {
	type diff struct {
		name string
		s    float64 // saved by the winner
	}
	a, b := winner.Parts, other.Parts
	var diffs []diff
	saved := map[clock.Part]float64{}
	for k, seconds := range b.Each() {
		saved[k] += seconds
	}
	for k, seconds := range a.Each() {
		name := words.Say("part."+strings.ReplaceAll(k.String(), "_", "-"), nil).Text(nil)
		if k == clock.AtSetSpeed {
			name = "its set speed"
		}
		diffs = append(diffs, diff{name, saved[k] - seconds})
	}
	sort.SliceStable(diffs, func(i, j int) bool { return math.Abs(diffs[i].s) > math.Abs(diffs[j].s) })
	var gains, losses []string
	total := other.Seconds - winner.Seconds
	for _, d := range diffs {
		if math.Abs(d.s) < 1 || math.Abs(d.s) < math.Abs(total)/10 {
			continue
		}
		text := fmt.Sprintf("%s in %s", span(math.Abs(d.s)), d.name)
		if d.s > 0 {
			gains = append(gains, text)
		} else {
			losses = append(losses, text)
		}
	}
	if len(gains) == 0 {
		return "the two take the same time"
	}
	s := "gains " + strings.Join(gains, " and ")
	if len(losses) > 0 {
		s += ", loses " + strings.Join(losses, " and ")
	}
	return s
}

// span is a difference in seconds for people.
func span(s float64) string {
	if s < 60 {
		return fmt.Sprintf("%.0f s", s)
	}
	n := int(math.Round(s))
	return fmt.Sprintf("%d min %02d s", n/60, n%60)
}
