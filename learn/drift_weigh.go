package learn

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// driftScatter is how the times scatter beside readings and constants: what the
// model gets wrong of a design (relative, the same on every date), what a run is
// off by (relative), what each trim and colour stop is off by (relative).
type driftScatter struct {
	design, run, rest float64
	prior             float64 // ln chance before looking
}

// driftScatters are the sizes that are weighed; the larger ones are what machines of
// other families than the model show. The chances are assumed.
var driftScatters = func() (all []driftScatter) {
	for _, d := range []struct{ size, chance float64 }{{0.002, 0.4}, {0.007, 0.3}, {0.025, 0.2}, {0.08, 0.1}} {
		for _, r := range []struct{ size, chance float64 }{{0, 0.7}, {0.01, 0.2}, {0.03, 0.1}} {
			for _, e := range []struct{ size, chance float64 }{{0, 0.6}, {0.1, 0.2}, {0.25, 0.2}} {
				all = append(all, driftScatter{d.size, r.size, e.size, math.Log(d.chance * r.chance * e.chance)})
			}
		}
	}
	return all
}()

// believes is the rows under one scatter: the inverse of their covariance, with
// the changes and interruptions believed so far taken in.
type believes struct {
	rows *driftRows
	k    *mat.SymDense // inverse covariance; rows and columns of interrupted rows are 0
	out  []bool        // rows that count as interrupted, or as slips
	ln   float64       // ln evidence
}

// believe sets up one scatter; weight (nil: 1) divides each row's own variance.
func (rows *driftRows) believe(s driftScatter, weight []float64) *believes {
	n := len(rows.all)
	if rows.jj == nil {
		slopes := mat.NewDense(n, len(rows.all[0].slope), nil)
		for i := range rows.all {
			slopes.SetRow(i, rows.all[i].slope)
		}
		rows.jj = mat.NewSymDense(n, nil)
		rows.jj.SymOuterK(1, slopes)
	}
	v := mat.NewSymDense(n, nil)
	for i := range rows.all {
		a := &rows.all[i]
		for j := i; j < n; j++ {
			b := &rows.all[j]
			c := rows.jj.At(i, j)
			size := a.size * b.size
			if a.design == b.design {
				c += sq(s.design) * size / 2
			}
			if a.block == b.block {
				c += sq(s.design) * size / 2
			}
			if a.date == b.date {
				c += sq(dayToDay) * size
			}
			if a.run == b.run {
				c += sq(s.run) * size / 2
			}
			if i == j {
				own := a.read + sq(s.run)*size/2 + sq(s.rest)*a.rests
				if weight != nil {
					own /= weight[i]
				}
				c += own
			}
			v.SetSym(i, j, c)
		}
	}
	var ch mat.Cholesky
	k := mat.NewSymDense(n, nil)
	if !ch.Factorize(v) || ch.InverseTo(k) != nil {
		return nil
	}
	b := &believes{rows: rows, k: k, out: make([]bool, n), ln: -ch.LogDet()/2 - float64(n)/2*math.Log(2*math.Pi)}
	off := make([]float64, n)
	for i := range rows.all {
		off[i] = rows.all[i].off
		b.ln += math.Log(1 - rows.all[i].pause - rows.all[i].slip)
	}
	b.ln -= quadForm(k, off) / 2
	return b
}

func quadForm(k *mat.SymDense, v []float64) float64 {
	x := mat.NewVecDense(len(v), v)
	return mat.Inner(x, k, x)
}

// with is the same with a change of which u is one standard deviation (the matrix
// determinant lemma and the Sherman–Morrison formula).
func (b *believes) with(u []float64) *believes {
	n := len(b.rows.all)
	var ku mat.VecDense
	ku.MulVec(b.k, mat.NewVecDense(n, u))
	q := 1 + mat.Dot(&ku, mat.NewVecDense(n, u))
	k := mat.NewSymDense(n, nil)
	k.SymRankOne(b.k, -1/q, &ku)
	s := 0.0
	for i := range n {
		s += ku.AtVec(i) * b.rows.all[i].off
	}
	return &believes{rows: b.rows, k: k, out: make([]bool, n), ln: b.ln - math.Log(q)/2 + s*s/q/2}
}

// interrupt takes out row after row, as long as an interruption or a slip explains
// one better than the others do, and adds what is gained. A row's prediction by
// the others comes from the inverse covariance (Rasmussen and Williams 2006, section 5.4.2).
func (b *believes) interrupt() {
	n := len(b.rows.all)
	for range n / 2 {
		most, at := 0.0, -1
		for i := range n {
			if b.out[i] {
				continue
			}
			r := &b.rows.all[i]
			kii := b.k.At(i, i)
			left := 0.0
			for j := range n {
				left += b.k.At(i, j) * b.rows.all[j].off
			}
			left /= kii
			odd := noise{sd: 1 / math.Sqrt(kii), delay: pauseMean, pause: r.pause}
			as := odd.logPaused(left)
			if r.slip > 0 {
				as = logSum(as, math.Log(r.slip/r.wide))
			}
			gain := as + left*left*kii/2 + math.Log(2*math.Pi/kii)/2 - math.Log(1-r.pause-r.slip)
			if gain > most {
				most, at = gain, i
			}
		}
		if at < 0 {
			return
		}
		b.ln += most
		b.out[at] = true
		col := make([]float64, n)
		for j := range n {
			col[j] = b.k.At(at, j)
		}
		b.k.SymRankOne(b.k, -1/col[at], mat.NewVecDense(n, col))
		for j := range n {
			b.k.SetSym(at, j, 0)
		}
	}
}

// change is where a change lies that is believed, in standard deviations, and its spread.
func (b *believes) change(u []float64) (at, spread float64) {
	n := len(u)
	var ku mat.VecDense
	ku.MulVec(b.k, mat.NewVecDense(n, u))
	for i := range n {
		at += ku.AtVec(i) * b.rows.all[i].off
	}
	return at, math.Sqrt(max(1-mat.Dot(&ku, mat.NewVecDense(n, u)), 0))
}

func logSum(a, b float64) float64 {
	m := max(a, b)
	if math.IsInf(m, -1) {
		return m
	}
	return m + math.Log(math.Exp(a-m)+math.Exp(b-m))
}

// weigh gives the changes their odds. All are looked at roughly, the likeliest
// date of each kind and its neighbours well. total is the sum of their evidence
// (ln), best the likeliest.
func (rows *driftRows) weigh(all []*change) (best *change, total float64) {
	total = math.Inf(-1)
	rough := rows.rough(all)
	var picked []*change
	for _, kind := range driftKinds {
		top := -1
		for i, c := range all {
			if c.kind == kind && (top < 0 || rough[i] > rough[top]) {
				top = i
			}
		}
		if top < 0 {
			continue
		}
		for i := max(top-1, 0); i <= min(top+1, len(all)-1); i++ {
			if all[i].kind == kind {
				picked = append(picked, all[i])
			}
		}
	}
	rows.well(picked)
	for _, c := range picked {
		if best == nil || c.odds > best.odds {
			best = c
		}
		total = logSum(total, c.odds)
	}
	return best, total
}

// rough is how much each change explains under a middling scatter, rows far off
// counting for less.
func (rows *driftRows) rough(all []*change) []float64 {
	out := make([]float64, len(all))
	middling := driftScatter{design: 0.007, run: 0.003, rest: 0.1}
	b := rows.believe(middling, nil)
	if b == nil {
		return out
	}
	n := len(rows.all)
	weight := make([]float64, n)
	for i := range weight {
		r := &rows.all[i]
		own := r.read + sq(middling.run*r.size) + sq(middling.rest)*r.rests
		left := 0.0
		for j := range n {
			left += b.k.At(i, j) * rows.all[j].off
		}
		left /= b.k.At(i, i)
		weight[i] = 1 / (1 + left*left/(9*own))
	}
	if b = rows.believe(middling, weight); b == nil {
		return out
	}
	for i, c := range all {
		out[i] = b.with(c.u).ln - b.ln
	}
	return out
}

// well gives changes their odds, at and spread, over all scatters.
func (rows *driftRows) well(picked []*change) {
	none := math.Inf(-1)
	with := make([][3]float64, len(picked)) // ln Σ evidence, Σ at, Σ at² + spread², over the largest so far
	top := make([]float64, len(picked))
	for i := range top {
		top[i] = math.Inf(-1)
	}
	for _, s := range driftScatters {
		b := rows.believe(s, nil)
		if b == nil {
			continue
		}
		for i, c := range picked {
			w := b.with(c.u)
			w.interrupt()
			at, spread := w.change(c.u)
			l := w.ln + s.prior
			if l > top[i] {
				for k := range with[i] {
					with[i][k] *= math.Exp(top[i] - l)
				}
				top[i] = l
			}
			e := math.Exp(l - top[i])
			with[i][0] += e
			with[i][1] += e * at
			with[i][2] += e * (at*at + spread*spread)
		}
		b.interrupt()
		none = logSum(none, b.ln+s.prior)
	}
	for i, c := range picked {
		if with[i][0] > 0 {
			c.odds = top[i] + math.Log(with[i][0]) - none
			c.at = with[i][1] / with[i][0]
			c.spread = math.Sqrt(max(with[i][2]/with[i][0]-c.at*c.at, 0))
		}
	}
}
