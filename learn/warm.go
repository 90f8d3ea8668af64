package learn

import (
	"cmp"
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

// leastGainOfWarm is how much better, in natural logarithms, rows left out must be foretold with a slow start, or by a
// machine that tires, for that to be taken for sure (assumed).
const leastGainOfWarm = 3.0

// warmVaries is how far what a run loses lies from the mean at least, relative (assumed): a design that is slow for its own
// reasons loses less, and the runs that were timed say how much less.
const warmVaries = 0.2

// warmUp is what runs lose in their first minutes.
type warmUp struct {
	late []float64 // s, by row
	loss float64   // s, of a run, in the mean
	sd   float64   // s
	odds float64   // of it, before any timing: natural logarithm, the choice of the shape included
	gain float64   // how much likelier the rows are with it, by the linearised model: natural logarithm
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

// overlap is how many seconds of each row's sewing at the set speed are lost where lost gives those between two
// times (s) of a run, and mean and standard deviation of all runs, long ones counting for more.
func (m *model) overlap(lost func(from, to float64) float64, held map[*group][]float64) (rows []float64, mean, sd float64) {
	r := &m.sheet.Rest
	inside, whole, square := map[*group][]float64{}, 0.0, 0.0
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
		size, all := sum(g.sew[:g.colours]), sum(list)
		whole, mean, square = whole+size, mean+size*all, square+size*sq(all)
		for b := g.colours; b < len(list); b++ { // as its block, by its share of the sewing
			of := g.blocks[b].of
			list[b] = list[of] * g.sew[b] / max(g.sew[of], nothing)
		}
		inside[g] = list
	}
	mean /= max(whole, nothing)
	sd = math.Sqrt(max(square/max(whole, nothing)-sq(mean), 0))
	rows = make([]float64, len(m.obs))
	for i := range m.obs {
		g := m.of[i]
		for b, v := range inside[g] {
			if g.sewn(&m.obs[i], b) {
				rows[i] += v
			}
		}
	}
	return rows, mean, sd
}

// slow finds what the rows lose in some part of their runs by the linearised model, of shapes that give what is lost
// between two times and of shares of that; nil: nothing to speak of. spread are losses that stand for all that are as likely:
// a third of the chance each.
func (f *fitter) slow(shapes []func(from, to float64) float64, held map[*group][]float64) (best *warmUp, spread []*warmUp, err error) {
	values := f.values
	defer func() { f.values = values }()
	_, none, err := f.inner(true, 0)
	if err != nil {
		return nil, nil, err
	}
	top := math.Inf(-1)
	var all []*warmUp
	var scores []float64
	for _, lost := range shapes {
		rows, mean, varies := f.model.overlap(lost, held)
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
				return nil, nil, err
			}
			w := &warmUp{late: late, loss: share * mean, sd: share * max(warmVaries*mean, varies)}
			all, scores = append(all, w), append(scores, none-loss)
			if s := none - loss; s > top {
				top, best = s, w
			}
		}
	}
	odds := rare + choosing(scores, top)
	if top+odds < math.Log(leastWeight) {
		return nil, nil, nil
	}
	order := make([]int, len(all))
	of, mean, square := 0.0, 0.0, 0.0
	for k, w := range all {
		order[k] = k
		p := math.Exp(scores[k] - top)
		of, mean, square = of+p, mean+p*w.loss, square+p*sq(w.loss)
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(all[a].loss, all[b].loss) })
	const thirds = 3
	sum := 0.0
	for _, k := range order {
		sum += math.Exp(scores[k]-top) / of
		for n := len(spread); n < thirds && sum > (float64(n)+0.5)/thirds; n++ {
			w := *all[k]
			w.odds = odds - math.Log(thirds)
			// Three equal parts have the variance of a normal where the outer lie √1.5 deviations out.
			w.loss = max(w.loss+float64(n-1)*math.Sqrt(1.5)*w.sd, 0)
			spread = append(spread, &w)
		}
	}
	mean, square = mean/of, square/of
	best.gain = top
	best.sd = math.Hypot(math.Sqrt(max(square-sq(mean), 0)), best.sd)
	return best, spread, nil
}

// inFirst gives the seconds that lie in the first so many of a run.
func inFirst(first float64) func(from, to float64) float64 {
	return func(from, to float64) float64 { return max(min(to, first)-from, 0) }
}

// slowStart finds what the rows lose in the first minutes of their runs.
func (f *fitter) slowStart() (best *warmUp, spread []*warmUp, err error) {
	if len(f.model.obs) > manyRows || startAmong(f.model.free) < 0 {
		return nil, nil, nil
	}
	var shapes []func(from, to float64) float64
	for _, first := range warmTimes {
		shapes = append(shapes, inFirst(first))
	}
	return f.slow(shapes, f.model.bySpeed())
}

// tireTimes are tried times (s) within which two thirds of the speed are lost that a machine loses as a run goes on.
var tireTimes = []float64{120, 300, 700}

// tires reports whether the rows speak for a machine that slows down as a run goes on: more than against it, and
// clearly more than for any kind of machine. What a run loses by that hangs on its length: no sheet can say it.
func (b *belief) tires(kinds []*belief) (bool, error) {
	if len(b.f.model.obs) > manyRows || b.f.model.warm != nil {
		return false, nil
	}
	var shapes []func(from, to float64) float64
	for _, t := range tireTimes {
		shapes = append(shapes, func(from, to float64) float64 { return to - from - t*(math.Exp(-from/t)-math.Exp(-to/t)) })
	}
	w, _, err := b.f.slow(shapes, b.f.model.sewingShare())
	if w == nil || err != nil {
		return false, err
	}
	n, err := b.light().besideWarm(w)
	return err == nil && n.score+rare > kinds[0].score+leastGainOfWarm, err
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

// besideWarm is the belief with what runs lose.
func (b *belief) besideWarm(w *warmUp) (*belief, error) {
	f := b.f.like(b.sheet)
	f.model.warm = w
	return believe(f, b.f)
}

// light is the belief, of long designs with a share of the stitches standing for all.
func (b *belief) light() *belief {
	if b.f.model.stitches() > cheapStitches {
		return b.thinned()
	}
	return b
}

// kindsOf are the kinds of machines that the rows may have been made on, the most believed first, and the plain one among
// them: with a slow start of runs where the rows are sure of that. Where they leave it open some of it are kinds more.
func kindsOf(base *belief) (plain *belief, all []*belief, err error) {
	best, spread, err := base.f.slowStart()
	if err != nil {
		return nil, nil, err
	}
	if best == nil {
		all, err = families(base)
		return base, all, err
	}
	light := base.light()
	if best.gain > 2*leastGainOfWarm { // as sure as it then may be
		warm, err := light.besideWarm(best)
		if err != nil {
			return nil, nil, err
		}
		if warm.score > light.score+leastGainOfWarm {
			return base.surely(best, warm)
		}
	}
	var open []*belief
	for _, w := range spread {
		b, err := light.besideWarm(w)
		if err != nil {
			return nil, nil, err
		}
		open = append(open, b)
	}
	all, err = families(base, open...)
	return base, all, err
}

// surely are the kinds of machines with a slow start, if it is better than every kind without; warm is the plain law with it.
func (b *belief) surely(w *warmUp, warm *belief) (plain *belief, all []*belief, err error) {
	if warm.f.model.stitches() > cheapStitches {
		if warm, err = b.besideWarm(w); err != nil {
			return nil, nil, err
		}
	}
	if all, err = families(b); err != nil {
		return nil, nil, err
	}
	slow, err := families(warm)
	if err != nil || slow[0].score > all[0].score+leastGainOfWarm {
		return warm, slow, err
	}
	return b, all, nil
}
