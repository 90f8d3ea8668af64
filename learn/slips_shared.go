package learn

import (
	"math"
	"slices"
)

// sharedSlip is one mistake of many rows, to be weighed.
type sharedSlip struct {
	kind   SlipKind
	key    string
	chance float64
	scale  float64 // ln of how much wider the meant times' unit is, over all rows
	whole  float64 // ln density of the rows as they are where they tell nothing
	rows   []int
	meant  []Observation // of rows

	unknown bool // needles that nobody knows where none are written
}

// with is all observations as the slip has them meant.
func (c *sharedSlip) with(obs []Observation) []Observation {
	out := slices.Clone(obs)
	for k, i := range c.rows {
		out[i] = c.meant[k]
	}
	return out
}

// shared is the likeliest mistake that many rows share, if one is likely.
func (s *slipSearch) shared() (Slip, bool) {
	f := s.po.f
	var best *sharedSlip
	var bestPost *posterior
	top := slipOdds
	base := s.likeliest(sharedSlip{})
	far := s.farOff()
	for _, c := range s.sharedCandidates() {
		lin, of := 0.0, weighed{changes: f.changes} // another unit is far beyond the lines
		if c.kind != UnitSlip {
			of = s.likeliest(c)
			lin = of.evidence + math.Log(c.chance) + c.scale - base.evidence
		} else if !far {
			continue
		}
		if lin < sharedHope[c.kind] {
			continue
		}
		post, err := s.again(&c, of)
		if err != nil {
			continue // the caller's context ends it
		}
		odds := post.total() + math.Log(c.chance) + c.scale - max(base.evidence, s.other)
		if c.unknown {
			odds = s.doubt(post, &c)
		}
		if odds > top {
			top, best, bestPost = odds, &c, post
		}
	}
	if best == nil {
		return Slip{}, false
	}
	now := bestPost.f.model.sheet
	out := Slip{Kind: best.kind, Key: best.key, Rows: best.rows, Odds: top, Meant: best.meant,
		Stop: now.Rest.ColourStop, StopAsWritten: f.model.sheet.Rest.ColourStop, Off: bestPost.typical(),
		OffAsWritten: s.po.typical()}
	for _, i := range best.rows {
		out.Written = append(out.Written, f.model.obs[i])
	}
	return out, true
}

// farOff reports whether half of the times are farther from the sheet than any
// machine of its class: three times too long or too short.
func (s *slipSearch) farOff() bool {
	m := s.po.f.model.like(s.po.f.model.base, s.po.f.model.free, s.po.f.model.obs)
	m.move(s.po.f.prior.mean)
	far, of := 0, 0
	for i := range m.obs {
		if p := m.prediction(i); m.obs[i].Kind != DisplayReading && p > nothing {
			of++
			if math.Abs(math.Log(m.obs[i].Seconds/p)) > math.Log(3) {
				far++
			}
		}
	}
	return 2*far > of
}

// sharedHope is the ln odds of the linearised fit from which a shared slip is
// fitted anew: far from the mode the lines are rough.
var sharedHope = map[SlipKind]float64{LapsSlip: -12, NeedlesSlip: -5, UnitSlip: 0, DesignSlip: -6}

// mostRuns is up to how many runs each is tried as one of another design.
const mostRuns = 20

// sharedCandidates are the mistakes that one person makes all through a file.
func (s *slipSearch) sharedCandidates() []sharedSlip {
	obs := s.po.f.model.obs
	var out []sharedSlip
	add := func(c sharedSlip, change func(i int, o *Observation, blocks int) bool) {
		for i := range obs {
			o := obs[i]
			if !s.byHand(i) || !change(i, &o, s.po.f.model.of[i].size()) {
				continue
			}
			o.Note = c.noted(&obs[i])
			c.rows, c.meant = append(c.rows, i), append(c.meant, o)
		}
		if len(c.rows) > 1 || len(c.rows) == 1 && c.kind == NeedlesSlip {
			c.scale = c.scale*float64(len(c.rows)) + c.whole
			out = append(out, c)
		}
	}
	// Laps of a watch that ran on, from restart to restart or from stop to stop;
	// the first from the start button or not, the last to the very end or not.
	for _, with := range []Beside{StopAfter, StopAfter | AtEnd, StopAfter | AtStart | AtEnd, StopBefore,
		StopBefore | AtStart | AtEnd} {
		add(sharedSlip{kind: LapsSlip, key: "laps", chance: lapsChance / 5},
			func(_ int, o *Observation, blocks int) bool {
				if o.Kind != BlockRun || o.With != 0 || o.Only != "" {
					return false
				}
				o.With = with & besideOf(o.Block, blocks)
				return o.With != 0
			})
	}
	for _, factor := range []float64{60, 1.0 / 60} {
		add(sharedSlip{kind: UnitSlip, key: "unit", chance: fileUnitChance / 3, scale: math.Log(factor)},
			func(_ int, o *Observation, _ int) bool {
				o.Seconds, o.Step = o.Seconds*factor, max(o.Step, 0.01)*factor
				return o.Seconds <= maxSeconds
			})
	}
	add(sharedSlip{kind: UnitSlip, key: "unit", chance: fileUnitChance / 3, scale: math.Log(100)}, func(_ int, o *Observation, _ int) bool {
		t, ok := minutesPointSeconds(o)
		o.Seconds, o.Step = t, 1
		return ok
	})
	// All times of one run, of another design than the one that is written.
	runs := map[runKey]int{}
	for i := range obs {
		if obs[i].Design != nil {
			runs[obs[i].run()]++
		}
	}
	for i := range obs {
		of := obs[i].run()
		if runs[of] < 2 || len(runs) < 2 || len(runs) > mostRuns {
			continue
		}
		runs[of] = 0
		wide := 0.0
		for k := range obs {
			if obs[k].Design != nil && obs[k].run() == of {
				wide -= math.Log(2 * obs[k].Seconds)
			}
		}
		add(sharedSlip{kind: DesignSlip, key: rowKey(&obs[i], i), chance: runChance, whole: wide},
			func(_ int, o *Observation, _ int) bool {
				o.Ignored = true
				return o.run() == of
			})
	}
	lists := needlesOf(obs)
	changes := func(o *Observation, blocks int) bool {
		return blocks > 1 && (o.Kind == WholeRun || o.With&(StopBefore|StopAfter) != 0)
	}
	if s.po.f.model.base.Needles > 2 {
		other := func(chance float64, unknown bool, only func(i int) bool) {
			add(sharedSlip{kind: NeedlesSlip, key: "needles", chance: chance, unknown: unknown},
				func(i int, o *Observation, blocks int) bool {
					o.Needles = Needles{AnyNeedle}
					return only(i) && changes(o, blocks)
				})
		}
		unsaid := func(i int) bool { return len(lists[i]) == 0 }
		other(needlesChance, true, unsaid)
		other(wrongListChance, false, func(i int) bool { return !unsaid(i) && !lists[i].unknown() })
		if slices.ContainsFunc(lists, func(n Needles) bool { return len(n) > 1 }) {
			add(sharedSlip{kind: NeedlesSlip, key: "needles", chance: wrongListChance},
				func(_ int, o *Observation, blocks int) bool {
					had := len(o.Needles) > 1
					o.Needles = nil
					return had && changes(o, blocks)
				})
		}
	}
	return out
}

// noted is a row's note with what was written.
func (c *sharedSlip) noted(o *Observation) string {
	switch c.kind {
	case UnitSlip:
		return noted(o, false)
	case DesignSlip:
		return noted(o, true)
	case NeedlesSlip:
		if len(o.Needles) > 0 {
			return joined(o.Note, "needles written: "+o.Needles.String())
		}
		return joined(o.Note, "no needles written")
	}
	return joined(o.Note, "written as the block alone")
}

// weighed is how well rows are explained under the errors that suit them best.
type weighed struct {
	evidence float64
	e        float64 // relative error of the model
	changes  float64 // relative standard deviation of a colour change
}

// again fits the rows as a slip has them meant, of the same machine, under given errors of the model. Of long designs a
// share stands for the whole, as where kinds of machines are tried.
func (s *slipSearch) again(c *sharedSlip, of weighed) (*posterior, error) {
	f := s.po.f
	m := f.model.like(f.model.base, f.model.free, c.with(f.model.obs))
	if all := f.model.stitches(); all > cheapStitches {
		if s.share == nil {
			s.share = f.model.thin(familyStitches / float64(all))
		}
		m.thinAs(s.share)
	}
	g := newFitter(f.ctx, f.prior, m)
	g.extra, g.changes, g.fixed = of.e, of.changes, true
	if err := g.solve(true); err != nil {
		return nil, err
	}
	return g.posterior(), nil
}

// likeliest is the evidence of a shared slip under the errors of the model that
// suit it best.
func (s *slipSearch) likeliest(c sharedSlip) weighed {
	linear := s.linear(c)
	f := s.po.f
	best := weighed{evidence: math.Inf(-1)}
	for _, e := range s.errors() {
		for _, changes := range slices.Compact([]float64{0, f.changes}) {
			if v := linear(e, changes); v > best.evidence {
				best = weighed{v, e, changes}
			}
		}
	}
	return best
}

// errors are the errors of the model that are tried.
func (s *slipSearch) errors() []float64 {
	if len(s.owner) > manyRows {
		return []float64{s.po.f.extra}
	}
	return []float64{0, 0.002, 0.004, 0.008, 0.016, 0.03, 0.06}
}

// total is the log evidence of all rows: Laplace's, a number from nowhere for
// each row set aside, and what it costs to believe in an error of the model.
func (po *posterior) total() float64 {
	f := po.f
	sum := po.evidence() - math.Log1p(sq(po.f.extra/typicalMisfit)) + po.f.changesPrior(po.f.changes)
	for i, a := range f.aside {
		if o := &f.model.obs[i]; a && !o.Ignored {
			n := f.model.noise(i)
			sum += math.Log(n.slip / n.wide)
		}
	}
	return sum
}

// typicalMisfit is half the size of a usual error of the model, relative.
const typicalMisfit = 0.005

// typical is how far each row is off, predicted by the others: the median.
func (po *posterior) typical() float64 {
	var all []float64
	for i := range po.f.model.obs {
		o := &po.f.model.obs[i]
		if po.f.aside[i] || o.Kind == DisplayReading || len(po.f.model.partsOf(i)) > 0 || o.Seconds <= 0 {
			continue
		}
		left, _ := po.leaveOut(i)
		all = append(all, math.Abs(left)/o.Seconds)
	}
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// linear is the evidence of a shared slip by the fit's own lines, under errors of the model and
// of changes: what it changes are rests and the way to a block, both known at the mode.
func (s *slipSearch) linear(c sharedSlip) func(e, changes float64) float64 {
	f := s.po.f
	p := len(f.z)
	g := newFitter(f.ctx, f.prior, f.model.like(f.model.base, f.model.free, c.with(f.model.obs)))
	g.model.sheet, g.model.clocks, g.model.at = f.model.sheet, f.model.clocks, slices.Clone(f.model.at)
	for _, to := range g.model.groups {
		for _, from := range f.model.groups {
			if from.design == to.design && from.speed == to.speed {
				to.moves = from.moves
			}
		}
	}
	g.ready()
	g.raw = slices.Clone(f.raw)
	g.model.jacobianRests(g.raw)
	return func(e, changes float64) float64 {
		copy(g.z, f.z)
		g.extra, g.changes = 0, changes
		g.setNoise(e, true)
		g.model.predict(g.pred)
		for i := range g.pred {
			g.prior.whiten(g.raw[i*p:(i+1)*p], g.jac[i*p:(i+1)*p])
		}
		z, loss, err := g.inner(len(g.pred) <= manyRows, 0)
		if err != nil {
			return math.Inf(-1)
		}
		g.extra = e
		po := &posterior{f: g, z: z}
		for i := range g.pred {
			d := 0.0
			for k := range p {
				d += g.jac[i*p+k] * (z[k] - g.z[k])
			}
			y := bent(g.pred[i], d)
			slope := bentSlope(g.pred[i], y)
			for k := range p {
				g.jac[i*p+k] *= slope
			}
			g.pred[i] = y
		}
		g.loss = loss
		po.laplace()
		return po.total()
	}
}
