package learn

import (
	"math"
	"slices"
)

// A machine may lose speed as a run goes on: it grows warm, the thread drags. What a run loses by that hangs on its
// length, not on its stitches, and no sheet can say it.

// lostShares are tried shares of the speed that are lost.
var lostShares = []float64{0.02, 0.04, 0.06, 0.09, 0.12, 0.16, 0.20, 0.25}

// leastGainOfTiring is how much better, in natural logarithms, rows left out must be foretold by a
// machine that tires than by any other kind for that to be said (assumed).
const leastGainOfTiring = 3.0

// lateness is what rows lose, s, by row.
type lateness []float64

// overlap is how many seconds of each row's time are lost where lost gives those between two
// times (s) of a run, of each colour block the share that held says.
func (m *model) overlap(lost func(from, to float64) float64, held map[*group][]float64) lateness {
	r := &m.sheet.Rest
	inside := map[*group][]float64{}
	for _, g := range m.groups {
		t := r.Start
		list := make([]float64, len(g.blocks))
		for b := range g.blocks[:g.colours] {
			c := &g.blocks[b]
			t += g.opening[b] + float64(c.colours)*r.ColourStop + c.needles*r.PerNeedle
			took := g.sew[b] + g.travel[b] + float64(c.trims)*r.Trim + float64(c.stops)*r.Stop
			list[b] = lost(t, t+took) * held[g][b]
			t += took
		}
		for b := g.colours; b < len(list); b++ { // as its block, by its share of the sewing
			of := g.blocks[b].of
			list[b] = list[of] * g.sew[b] / max(g.sew[of], nothing)
		}
		inside[g] = list
	}
	rows := make(lateness, len(m.obs))
	for i := range m.obs {
		g := m.of[i]
		for b, v := range inside[g] {
			if g.sewn(&m.obs[i], b) {
				rows[i] += v
			}
		}
	}
	return rows
}

// losing is what the rows lose in some part of their runs where they are likeliest so, by the linearised model, of shapes that
// give what is lost between two times (s) of a run; gain is how much likelier they then are: natural logarithm, what
// the choice costs taken off.
func (f *fitter) losing(shapes []func(from, to float64) float64) (best lateness, gain float64, err error) {
	values := f.values
	defer func() { f.values = values }()
	_, none, err := f.inner(true, 0)
	if err != nil {
		return nil, 0, err
	}
	top := math.Inf(-1)
	var scores []float64
	held := f.model.sewingShare()
	for _, lost := range shapes {
		rows := f.model.overlap(lost, held)
		for _, share := range lostShares {
			late := make(lateness, len(rows))
			f.values = slices.Clone(values)
			for i := range rows {
				late[i] = share * rows[i]
			}
			for i := range rows {
				f.values[i] -= late[i]
				for _, b := range f.model.partsOf(i) {
					f.values[i] += late[b]
				}
			}
			_, loss, err := f.inner(true, 0)
			if err != nil {
				return nil, 0, err
			}
			scores = append(scores, none-loss)
			if s := none - loss; s > top {
				top, best = s, late
			}
		}
	}
	return best, top + choosing(scores, top), nil
}

// tireTimes are tried times (s) within which two thirds of the speed are lost that a machine loses as a run goes on.
var tireTimes = []float64{120, 300, 700}

// tires reports whether the rows speak for a machine that slows down as a run goes on: more than against it, and
// clearly more than for any kind of machine. What a run loses by that hangs on its length: no sheet can say it.
func (b *belief) tires(kinds []*belief) (bool, error) {
	if len(b.f.model.obs) > manyRows {
		return false, nil
	}
	var shapes []func(from, to float64) float64
	for _, t := range tireTimes {
		shapes = append(shapes, func(from, to float64) float64 { return to - from - t*(math.Exp(-from/t)-math.Exp(-to/t)) })
	}
	late, gain, err := b.f.losing(shapes)
	if err != nil || gain+rare < math.Log(leastWeight) {
		return false, err
	}
	n := b
	if b.f.model.stitches() > cheapStitches {
		n = b.thinned()
	}
	f := n.f.like(n.sheet)
	f.model.late = late
	t, err := believe(f, n.f)
	return err == nil && t.score+rare > kinds[0].score+leastGainOfTiring, err
}

// sewingShare is, of each colour block, the share of its time that is sewing.
func (m *model) sewingShare() map[*group][]float64 {
	out := map[*group][]float64{}
	for _, g := range m.groups {
		list := make([]float64, len(g.blocks))
		for b, c := range g.blocks {
			r := &m.sheet.Rest
			list[b] = g.sew[b] / max(g.sew[b]+g.travel[b]+float64(c.trims)*r.Trim+float64(c.stops)*r.Stop, nothing)
		}
		out[g] = list
	}
	return out
}
