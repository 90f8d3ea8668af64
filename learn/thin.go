package learn

import (
	"slices"

	"needlepace/machine"
	"needlepace/stitch"
)

// thinned stands for a large design while machines are drawn: how its sewing
// time bends when constants move is taken from a small share of its runs, and
// its value and slope from the whole (a control variate).
type thinned struct {
	design       *stitch.Design
	at           []float64   // theta at which the two agree
	full, part   []float64   // s, by colour block, at that point
	dfull, dpart [][]float64 // derivative of ln by theta, by free constant and block
}

// thinRun is the longest stretch kept of one run of stitches.
const thinRun = 150

// thin makes a model of about share of the stitches, at the point of the last
// move, where the last full Jacobian must have been made too. What it predicts
// agrees with m there in value and slope.
func (m *model) thin(share float64) *model {
	t := m.like(m.base, m.free, m.obs)
	t.parts = m.parts
	by := map[*stitch.Design]*stitch.Design{}
	near := m.nearby()
	for i, g := range t.groups {
		w := &thinned{design: by[g.design], at: slices.Clone(m.at), full: slices.Clone(m.groups[i].sew), dfull: m.groups[i].slope,
			part: make([]float64, len(g.blocks))} // its parts bend as the rest does
		if w.design == nil {
			w.design = thinDesign(g.design, m.base.Reading.TrimAfterJumps, share)
			by[g.design] = w.design
		}
		g.run(m.clocks, w.design, w.part)
		w.dpart = near.slopes(g, w.design, w.part)
		g.thin = w
	}
	t.move(m.at)
	return t
}

// thinAs lets shares of the designs stand for them as in a model of the same machine and designs: needles move no stitch.
func (m *model) thinAs(t *model) {
	for _, g := range m.groups {
		for _, from := range t.groups {
			if from.design == g.design && from.setting == g.setting && len(from.blocks) == len(g.blocks) {
				g.thin = from.thin
			}
		}
	}
}

// among is the same for another list of free constants: what was not free bends
// as the share does.
func (w *thinned) among(was, now []machine.Constant) *thinned {
	t := &thinned{design: w.design, at: make([]float64, len(now)), full: w.full, part: w.part,
		dfull: make([][]float64, len(now)), dpart: make([][]float64, len(now))}
	for k, c := range now {
		if i := slices.IndexFunc(was, func(o machine.Constant) bool { return o.Path == c.Path }); i >= 0 {
			t.at[k], t.dfull[k], t.dpart[k] = w.at[i], w.dfull[i], w.dpart[i]
		}
	}
	return t
}

// straight are times moved by their slopes, in logarithms.
func straight(times []float64, slopes [][]float64, theta, from []float64) []float64 {
	out := make([]float64, len(times))
	for b, t := range times {
		lin := 0.0
		for k, s := range slopes {
			if s != nil {
				lin += s[b] * (theta[k] - from[k])
			}
		}
		out[b] = bent(t, lin*t)
	}
	return out
}

// kept reports whether something of a block was kept. One of which nothing was bends as
// the rest of the design does.
func (w *thinned) kept(block int) bool { return w.part[block] > nothing }

// sewing fills the whole design's sewing times from the share that was run.
func (w *thinned) sewing(theta, part, sew []float64) {
	copy(sew, straight(w.full, w.dfull, theta, w.at))
	flat := straight(w.part, w.dpart, theta, w.at)
	all, allFlat := 0.0, 0.0
	for b := range sew {
		if w.kept(b) {
			sew[b] *= part[b] / flat[b]
			all += part[b]
			allFlat += flat[b]
		}
	}
	for b := range sew {
		if !w.kept(b) && allFlat > nothing {
			sew[b] *= all / allFlat
		}
	}
}

// slopes are the derivatives of the logarithm of what sewing gives, from those of the share there.
func (w *thinned) slopes(theta, part []float64, dpart [][]float64) [][]float64 {
	flat := straight(w.part, w.dpart, theta, w.at)
	out := make([][]float64, len(dpart))
	for k, now := range dpart {
		if now == nil {
			continue
		}
		out[k] = make([]float64, len(now))
		was := make([]float64, len(now)) // the slopes that flat goes by
		if w.dpart[k] != nil {
			copy(was, w.dpart[k])
			copy(out[k], w.dfull[k])
		}
		d, all, dFlat, allFlat := 0.0, 0.0, 0.0, 0.0
		for b := range now {
			if w.kept(b) {
				out[k][b] += now[b] - was[b]
				d, all = d+now[b]*part[b], all+part[b]
				dFlat, allFlat = dFlat+was[b]*flat[b], allFlat+flat[b]
			}
		}
		for b := range now {
			if !w.kept(b) && allFlat > nothing {
				out[k][b] += d/all - dFlat/allFlat
			}
		}
	}
	return out
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
