package floor

import (
	"slices"
	"sort"
)

// stretch is a half-open stretch of time [from, to) in seconds.
type stretch struct{ from, to float64 }

// merged joins stretches that touch or overlap and drops empty ones.
func merged(list []stretch) []stretch {
	sort.Slice(list, func(i, j int) bool { return list[i].from < list[j].from })
	var out []stretch
	for _, s := range list {
		if s.to <= s.from {
			continue
		}
		if n := len(out); n > 0 && s.from <= out[n-1].to {
			out[n-1].to = max(out[n-1].to, s.to)
			continue
		}
		out = append(out, s)
	}
	return out
}

// calendar is when one operator is away.
type calendar []stretch

// away reports whether t lies in a pause.
func (c calendar) away(t float64) bool {
	for _, s := range c {
		if t < s.from {
			return false
		}
		if t < s.to {
			return true
		}
	}
	return false
}

// after is when d seconds of work begun at t are done, the work lying still
// through pauses.
func (c calendar) after(t, d float64) float64 {
	end := t + d
	for _, s := range c {
		if s.to <= t {
			continue
		}
		if s.from >= end {
			break
		}
		end += s.to - max(s.from, t)
	}
	return end
}

// within is the time of the calendar inside [from, to).
func (c calendar) within(from, to float64) float64 {
	sum := 0.0
	for _, s := range c {
		if d := min(s.to, to) - max(s.from, from); d > 0 {
			sum += d
		}
	}
	return sum
}

// plan is the shift in simulated time: where machines stand in the pauses of
// all operators, these pauses are cut out of the clock (nothing happens in
// them) and given back as time that is not planned busy time.
type plan struct {
	length float64    // s, simulated
	cut    float64    // s, cut out
	away   []calendar // by operator, simulated time
}

func newPlan(s *Shop) plan {
	var all []stretch
	if !s.RunThrough {
		for _, p := range s.Pauses {
			if p.Operators == nil {
				all = append(all, stretch{p.At, p.At + p.For})
			}
		}
		all = merged(all)
	}
	out := calendar(all)
	sim := func(t float64) float64 { return t - out.within(0, t) }
	pl := plan{length: sim(s.Seconds), cut: out.within(0, s.Seconds), away: make([]calendar, len(s.Operators))}
	for _, p := range s.Pauses {
		if p.Operators == nil && !s.RunThrough {
			continue
		}
		st := stretch{sim(p.At), sim(p.At + p.For)}
		for o := range s.Operators {
			if p.Operators == nil || slices.Contains(p.Operators, o) {
				pl.away[o] = append(pl.away[o], st)
			}
		}
	}
	for o := range pl.away {
		pl.away[o] = merged(pl.away[o])
	}
	return pl
}
