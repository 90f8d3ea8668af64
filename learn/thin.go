package learn

import (
	"slices"
	"strings"

	"needlepace/machine"
	"needlepace/stitch"
)

// thinned stands for a large design while machines are drawn: how its sewing
// time bends when constants move is taken from a small share of its runs, and
// its value and slope from the whole (a control variate).
type thinned struct {
	design      *stitch.Design
	at          []float64   // theta at which the two agree
	full, part  []float64   // s, by colour block, at that point
	dfull, dprt [][]float64 // derivative of ln by theta, by free constant and block
}

// thinRun is the longest stretch kept of one run of stitches.
const thinRun = 150

// thin makes a model of about share of the stitches, at the point of the last
// move, where the last full Jacobian must have been made too. What it predicts
// agrees with m there in value and slope.
func (m *model) thin(share float64) *model {
	t := newModel(m.base, m.free, m.obs)
	t.parts, t.warm = m.parts, m.warm
	by := map[*stitch.Design]*stitch.Design{}
	law := func(k int) bool {
		p := m.free[k].Path
		return !strings.HasPrefix(p, "rest.") && !strings.HasPrefix(p, "travel.")
	}
	theta := append([]float64(nil), m.at...)
	for i, g := range t.groups {
		w := &thinned{design: by[g.design], at: theta, full: append([]float64(nil), m.groups[i].sew...),
			dfull: m.groups[i].slope, part: make([]float64, len(g.blocks))}
		if w.design == nil {
			w.design = thinDesign(g.design, m.base.Reading.TrimAfterJumps, share)
			by[g.design] = w.design
		}
		g.thin = w
	}
	c := newClocks(m.sheet)
	for _, g := range t.groups {
		g.run(c, g.thin.design, g.thin.part)
	}
	for k := range m.free {
		if !law(k) {
			for _, g := range t.groups {
				g.thin.dprt = append(g.thin.dprt, nil)
			}
			continue
		}
		moved := append([]float64(nil), theta...)
		step := logStep
		if isLimit(&m.free[k]) {
			step = -step
		}
		moved[k] += step
		ck := newClocks(m.sheetAt(moved))
		for _, g := range t.groups {
			w := g.thin
			part := make([]float64, len(g.blocks))
			g.run(ck, w.design, part)
			w.dprt = append(w.dprt, slopes(w.part, part, step))
		}
	}
	t.move(theta)
	return t
}

// among is the same for another list of free constants: what was not free bends
// as the share does.
func (w *thinned) among(was, now []machine.Constant) *thinned {
	t := &thinned{design: w.design, at: make([]float64, len(now)), full: w.full, part: w.part,
		dfull: make([][]float64, len(now)), dprt: make([][]float64, len(now))}
	for k, c := range now {
		if i := slices.IndexFunc(was, func(o machine.Constant) bool { return o.Path == c.Path }); i >= 0 {
			t.at[k], t.dfull[k], t.dprt[k] = w.at[i], w.dfull[i], w.dprt[i]
		}
	}
	return t
}

// sewing fills the whole design's sewing times from the share that was run. A
// block of which nothing was kept bends as the rest of the design does.
func (w *thinned) sewing(theta, sew []float64) {
	run, flat := 0.0, 0.0
	for b, part := range sew {
		lin, prt := 0.0, 0.0
		for k := range w.dfull {
			if w.dfull[k] != nil {
				d := theta[k] - w.at[k]
				lin += w.dfull[k][b] * d
				prt += w.dprt[k][b] * d
			}
		}
		sew[b] = bent(w.full[b], lin*w.full[b])
		if w.part[b] > nothing {
			straight := bent(w.part[b], prt*w.part[b])
			sew[b] *= part / straight
			run += part
			flat += straight
		}
	}
	if flat <= nothing {
		return
	}
	for b := range sew {
		if w.part[b] <= nothing {
			sew[b] *= run / flat
		}
	}
}

// thinDesign keeps about share of a design's runs, long ones cut short, and at
// least one.
func thinDesign(d *stitch.Design, trimAfter int, share float64) *stitch.Design {
	t := &stitch.Design{}
	block, credit := 0, 1.0
	for e := range d.Events(trimAfter) {
		for ; block < e.Block; block++ {
			t.Records = append(t.Records, stitch.Record{Op: stitch.ColourStop})
		}
		if e.Kind != stitch.Run {
			continue
		}
		if credit += share * float64(e.To-e.From); credit <= 0 {
			continue
		}
		n := min(e.To-e.From, thinRun)
		t.Records = append(t.Records, d.Records[e.From:e.From+n]...)
		t.Records = append(t.Records, stitch.Record{Op: stitch.Stop}) // ends the run and nothing else
		credit -= float64(n)
	}
	return t
}
