package learn

import (
	"math"
)

// confirm is the ln odds of slips of single rows together, each row fitted as
// it was meant, against the rows as written.
func (s *slipSearch) confirm(slips []Slip) float64 {
	f := s.po.f
	all := sharedSlip{}
	prior := 0.0
	for _, one := range slips {
		all.rows, all.meant = append(all.rows, one.Rows...), append(all.meant, one.Meant...)
		prior += one.prior
	}
	po, err := s.again(&all, weighed{e: f.extra, changes: f.changes})
	if err != nil {
		return math.Inf(-1)
	}
	again := &slipSearch{po: po}
	meant, written := again.likeliest(sharedSlip{}), s.likeliest(sharedSlip{})
	return max(meant.evidence, po.total()) + prior - max(written.evidence, s.po.total(), s.other)
}

// sharpens is the most ln odds that a block left out may gain by a number that
// was meant: the one density over the other.
const sharpens = 8.0

// astray looks for the one block that led the whole fit astray, so that other
// rows look held up instead: each timed block of a whole is left out in turn.
func (s *slipSearch) astray() (best Slip, odds float64) {
	f := s.po.f
	guilty := 0
	for i := range f.model.obs {
		if !f.aside[i] && !s.po.clean(i) {
			guilty++
		}
	}
	if guilty < 2 || f.model.stitches() > cheapStitches {
		return best, math.Inf(-1)
	}
	for i, w := range s.owner {
		if w < 0 || !s.byHand(i) {
			continue
		}
		o := &f.model.obs[i]
		meant := *o
		meant.Ignored, meant.Note = true, noted(o, true)
		c := Slip{Kind: MisreadSlip, Key: rowKey(o, i), Rows: []int{i}, Meant: []Observation{meant},
			Written: []Observation{*o}, prior: math.Log(misreadChance / math.Max(misreadWide, o.Seconds)),
			Whole: f.model.obs[w].Where()}
		if c.Odds = s.confirm([]Slip{c}); best.Rows == nil || c.Odds > best.Odds {
			best = c
		}
	}
	if best.Rows == nil || best.Odds < slipOdds-sharpens {
		return best, math.Inf(-1)
	}
	all := sharedSlip{rows: best.Rows, meant: best.Meant}
	po, err := s.again(&all, weighed{e: f.extra, changes: f.changes})
	if err != nil {
		return best, math.Inf(-1)
	}
	i := best.Rows[0]
	best.Expected = po.f.model.prediction(i)
	best = s.sharper(best, po)
	return best, best.Odds
}

// sharper is the slip that a misread block may be instead: one that gives its
// own number.
func (s *slipSearch) sharper(was Slip, po *posterior) Slip {
	i := was.Rows[0]
	o := s.po.f.model.obs[i]
	best := was
	rel := math.Sqrt(quad(po.row(i), po.cov))
	for _, c := range meantTimes(&o) {
		meant := o
		meant.Seconds, meant.Step = c.seconds, c.step
		meant.Note = noted(&o, false)
		v := sq(rel) + s.variance(i, &meant, nil)
		prior := math.Log(c.chance * c.scale)
		odds := was.Odds - was.prior + prior - sq(c.seconds-was.Expected)/v/2 - math.Log(2*math.Pi*v)/2
		if odds > best.Odds {
			best = was
			best.Kind, best.Meant, best.Odds, best.prior = c.kind, []Observation{meant}, odds, prior
		}
	}
	return best
}
