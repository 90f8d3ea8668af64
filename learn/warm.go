package learn

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
)

// A machine may sew slower in the first minutes of a run: the oil is cold, the controller lets the shaft in gently.
// What a run loses by that hangs on the run, not on its stitches. Where the rows of the first minutes speak for it, the
// loss is learned as a share of each minute and put into the sheet at the run's start.

// Tried lengths of the first minutes (s), and shares of them that are lost.
var (
	warmTimes  = []float64{30, 60, 90, 120, 180, 240}
	warmShares = []float64{0.02, 0.04, 0.06, 0.09, 0.12, 0.16, 0.20, 0.25}
)

// leastGainOfWarm is how much likelier the rows must be with a slow start, in natural logarithms: a term's odds
// and what a search among so many costs.
const leastGainOfWarm = 6.0

// warmVaries is how far what a run loses lies from the mean, relative (assumed): a design that is slow for its own
// reasons loses less.
const warmVaries = 0.2

// warmUp is what runs lose in their first minutes.
type warmUp struct {
	late []float64 // s, by row
	loss float64   // s, of a run, in the mean
	sd   float64   // s
}

// widen puts the loss into a sheet's start, and what is not known of it into the covariance of the constants'
// logarithms.
func (w *warmUp) widen(free []machine.Constant, s *machine.Sheet, cov *mat.SymDense) {
	k := startAmong(free)
	if w == nil || k < 0 {
		return
	}
	was := s.Rest.Start
	s.Rest.Start += w.loss
	for j := range free {
		v := cov.At(k, j) * was / s.Rest.Start
		if j == k {
			v = v*was/s.Rest.Start + sq(w.sd/s.Rest.Start)
		}
		cov.SetSym(k, j, v)
	}
}

func startAmong(free []machine.Constant) int {
	return slices.IndexFunc(free, func(c machine.Constant) bool { return c.Path == "rest.start" })
}

// bySpeed is, of each colour block, the share of its sewing that the set speed holds back: a shaft that is let in
// gently is slower there only.
func (m *model) bySpeed() map[*group][]float64 {
	const less = 0.88
	c, out := newClocks(m.sheet), map[*group][]float64{}
	for _, g := range m.groups {
		slow := *g
		slow.speed *= less
		sew := make([]float64, len(g.blocks))
		slow.sewing(c, m.at, sew, make([]float64, len(sew)))
		for b := range sew {
			sew[b] = min(max((sew[b]/max(g.sew[b], nothing)-1)/(1/less-1), 0), 1)
		}
		out[g] = sew
	}
	return out
}

// overlap is how many seconds of each row's sewing at the set speed lie in the first so many of its run, and the
// mean of all runs, long ones counting for more.
func (m *model) overlap(first float64, held map[*group][]float64) (rows []float64, mean float64) {
	r := &m.sheet.Rest
	inside, whole := map[*group][]float64{}, 0.0
	for _, g := range m.groups {
		t := r.Start
		list := make([]float64, len(g.blocks))
		for b := range g.blocks {
			c := &g.blocks[b]
			t += g.opening[b] + float64(c.colours)*r.ColourStop + c.needles*r.PerNeedle
			took := g.sew[b] + g.travel[b] + float64(c.trims)*r.Trim + float64(c.stops)*r.Stop
			list[b] = max(min(t+took, first)-t, 0) * held[g][b]
			t += took
		}
		inside[g] = list
		mean += sum(g.sew) * sum(list)
		whole += sum(g.sew)
	}
	mean /= max(whole, nothing)
	rows = make([]float64, len(m.obs))
	for i := range m.obs {
		g := m.of[i]
		for b, v := range inside[g] {
			if g.sewn(&m.obs[i], b) {
				rows[i] += v
			}
		}
	}
	return rows, mean
}

// slowStart finds what the rows lose in the first minutes of their runs by the linearised model; nil: nothing to
// speak of.
func (f *fitter) slowStart() (*warmUp, error) {
	if len(f.model.obs) > manyRows || startAmong(f.model.free) < 0 {
		return nil, nil
	}
	values := f.values
	defer func() { f.values = values }()
	_, none, err := f.inner(true, 0)
	if err != nil {
		return nil, err
	}
	var best warmUp
	top := math.Inf(-1)
	var scores, losses []float64
	held := f.model.bySpeed()
	for _, first := range warmTimes {
		rows, mean := f.model.overlap(first, held)
		for _, share := range warmShares {
			late := make([]float64, len(rows))
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
				return nil, err
			}
			scores, losses = append(scores, none-loss), append(losses, share*mean)
			if s := none - loss; s > top {
				top, best = s, warmUp{late: late, loss: share * mean}
			}
		}
	}
	if top < leastGainOfWarm {
		return nil, nil
	}
	of, mean, square := 0.0, 0.0, 0.0
	for k, s := range scores {
		w := math.Exp(s - top)
		of, mean, square = of+w, mean+w*losses[k], square+w*sq(losses[k])
	}
	mean, square = mean/of, square/of
	best.sd = math.Hypot(math.Sqrt(max(square-sq(mean), 0)), warmVaries*best.loss)
	return &best, nil
}

// warmed is the belief with a slow start of runs where the rows speak for that; else nil.
func (b *belief) warmed() (*belief, error) {
	w, err := b.f.slowStart()
	if w == nil || err != nil {
		return nil, err
	}
	f := b.f.like(b.sheet)
	f.model.warm = w
	n, err := believe(f, b.f)
	if err != nil || n.score < b.score+leastGainOfWarm/2 {
		return nil, err
	}
	return n, nil
}
