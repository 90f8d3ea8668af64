package learn

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/mat"
)

// SlipKind is how a written row differs from what was meant.
type SlipKind string

// The kinds of slip.
const (
	LapsSlip      SlipKind = "laps"      // the blocks' times hold the colour stops too
	UnitSlip      SlipKind = "unit"      // minutes written as seconds, a point in the wrong place
	DigitsSlip    SlipKind = "digits"    // two neighbouring digits exchanged
	MisreadSlip   SlipKind = "misread"   // one block is wrong and the whole is right
	DesignSlip    SlipKind = "design"    // the time of another design or block
	ExchangedSlip SlipKind = "exchanged" // the times of two rows are exchanged
	NeedlesSlip   SlipKind = "needles"   // other needles than those written, or than 1, 2, 3
)

// Slip is a mistake that would explain rows better than the machine does: a
// question to who wrote them, never a correction by itself.
type Slip struct {
	Kind SlipKind
	Key  string  // what accepts it: laps, unit, needles, or row-5
	Rows []int   // the observations (indices) that share it
	Odds float64 // ln of the odds of meant so against as written
	// Meant are the rows as they were meant, in the order of Rows, with what
	// was written in the note. One that is Ignored has no number to give.
	Meant   []Observation
	Written []Observation // the same rows as written

	prior float64 // ln of the chance of what was written, before the rows are seen

	Expected float64 // of one row: what the others expect of it, s
	Other    float64 // of another design's time: what is expected of that, s
	Whole    string  // of a misread block: the row of the whole
	// Of many rows: seconds of a colour stop if meant so and as written, and
	// how far a row is off, predicted by the others, relative.
	Stop, StopAsWritten, Off, OffAsWritten float64
}

// What each slip is worth before anybody looks: the chance of it in a row, or
// in a file, of numbers written by hand. Assumed; the study of slips says how
// often they then name a slip that is none.
const (
	lapsChance      = 0.05 // a file
	fileUnitChance  = 0.02 // a file
	needlesChance   = 0.10 // a file that says none
	wrongListChance = 0.02 // a file that says some
	digitsChance    = 0.006
	unitChance      = 0.004
	misreadChance   = 0.004
	designChance    = 0.010
	blockChance     = 0.001 // the time of another block
	exchangedChance = 0.002 // a pair
	runChance       = 0.010 // all times of a run are another design's

	misreadWide  = 240.0 // s: a misread block lies within two minutes of its own time
	slipOdds     = 1.6   // ln odds from which a slip is offered
	beyondDoubt  = 40.0  // ln odds from which nothing else is looked for
	oddRowOdds   = -3.0  // the same for a row that looks held up
	oddRow       = 2.5   // deviations from which a row is looked at
	leastTells   = 3.0   // so many rows at least are thought to tell the scatter
	slack        = 0.002 // relative, beside the readings' own error
	exchangeHope = -8.0  // ln odds, rough, from which an exchange is worked out
	strangest    = 12    // so many odd rows are looked at, the oddest first
)

// slipSearch looks for slips around a fit.
type slipSearch struct {
	po    *posterior
	other float64 // evidence of the rows as written, by the kinds of machine that explain them best
	e     float64 // relative error that most rows show
	tells float64 // how many rows tell it
	owner []int   // the whole run that a row is a part of; −1
	odd   []bool
	full  *mat.SymDense
	share *model // of long designs, at the mode; nil until it is asked for
}

// slips are the mistakes in writing that explain the rows better than taking
// them as written, each judged by the odds of the one against the other; the
// fit's own doubt of its model, an unnoticed interruption and a number from
// nowhere count as "as written". Several rows that one mistake explains are
// one slip.
//
// po is by the plain law; kinds are the kinds of machine that the rows may have
// been made on: a machine that is another than the law is no slip of the pen.
func (po *posterior) slips(kinds []*belief) []Slip {
	f := po.f
	n := len(f.model.obs)
	s := &slipSearch{po: po, owner: make([]int, n), odd: make([]bool, n), other: math.Inf(-1)}
	for _, b := range kinds {
		if len(b.terms) > 0 {
			s.other = max(s.other, b.post.total()+b.odds)
		}
	}
	for i := range s.owner {
		s.owner[i] = -1
	}
	for w, parts := range f.model.parts {
		for _, b := range parts {
			s.owner[b] = w
		}
	}
	s.e = math.Hypot(s.scatter(), slack)
	_, free := f.elpd()
	s.tells = max(free, leastTells)
	shared, ok := s.shared()
	if ok && shared.Odds > beyondDoubt {
		return []Slip{shared}
	}
	out, odds := s.single(), math.Inf(-1)
	if len(out) > 0 {
		if odds = s.confirm(out); odds < s.least(out) {
			out = nil
		}
	}
	if len(out) == 0 {
		var one Slip
		if one, odds = s.astray(); odds >= slipOdds {
			out = []Slip{one}
		}
	}
	if ok && (len(out) == 0 || shared.Odds > odds) {
		return []Slip{shared}
	}
	return out
}

// single are the slips of one row, or of two that were exchanged.
func (s *slipSearch) single() []Slip {
	var found []Slip
	for _, i := range s.strange() {
		found = append(found, s.ofRow(i)...)
	}
	// The likeliest first; a row is asked about once.
	slices.SortStableFunc(found, func(a, b Slip) int { return cmp.Compare(b.Odds, a.Odds) })
	asked := make([]bool, len(s.owner))
	var out []Slip
	for _, c := range found {
		if c.Odds < s.least([]Slip{c}) || slices.ContainsFunc(c.Rows, func(i int) bool { return asked[i] || s.owned(asked, i) }) {
			continue
		}
		for _, i := range c.Rows {
			asked[i] = true
			if w := s.owner[i]; w >= 0 && c.Kind != ExchangedSlip {
				asked[w] = true // its block explains it
			}
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b Slip) int { return cmp.Compare(a.Rows[0], b.Rows[0]) })
	return out
}

// least is the ln odds from which slips are offered together. A row that is odd
// as it is written (held up, or a number from nowhere) is named in any case:
// what it may have been meant to be is then worth a question though it be the
// less likely of the two. Not where other rows are odd too: several are a sign
// against the model before they are one against the person with the watch.
func (s *slipSearch) least(slips []Slip) float64 {
	if s.others(slips) > 0 {
		return slipOdds
	}
	for _, c := range slips {
		own := c.Kind == DigitsSlip || c.Kind == DesignSlip || c.Kind == UnitSlip
		if !own || s.po.f.aside[c.Rows[0]] || s.po.clean(c.Rows[0]) {
			return slipOdds
		}
	}
	return oddRowOdds
}

// others is how many rows are odd that none of the slips is about.
func (s *slipSearch) others(slips []Slip) (n int) {
	for i := range s.owner {
		if s.po.clean(i) || s.po.f.model.obs[i].Ignored {
			continue
		}
		if !slices.ContainsFunc(slips, func(c Slip) bool {
			return slices.Contains(c.Rows, i) || slices.ContainsFunc(c.Rows, func(b int) bool { return s.owner[b] == i })
		}) {
			n++
		}
	}
	return n
}

// owned reports whether row i is a whole run of which a block was asked about.
func (s *slipSearch) owned(asked []bool, i int) bool {
	return slices.ContainsFunc(s.po.f.model.partsOf(i), func(b int) bool { return asked[b] })
}

// byHand reports whether a person wrote the time of row i.
func (s *slipSearch) byHand(i int) bool {
	o := &s.po.f.model.obs[i]
	return o.Kind != DisplayReading && o.Only == "" && !o.Pressed && !o.Ignored
}

// scatter is the relative error beside the readings' own that three quarters
// of the rows need, each judged by the others: a quarter may be slips.
func (s *slipSearch) scatter() float64 {
	f := s.po.f
	type one struct{ r, v, t float64 }
	var all []one
	for i := range f.model.obs {
		if !f.aside[i] && f.model.obs[i].Kind != DisplayReading {
			a := s.apart(i)
			v := sq(f.model.noise(i).sd) + sq(f.changes)*f.model.changing(i)
			all = append(all, one{f.model.value(i) - a.mean[0], v + a.cov[0][0], f.model.obs[i].value()})
		}
	}
	if len(all) < 3 {
		return 0
	}
	inside := func(e float64) float64 {
		k := 0
		for _, a := range all {
			if sq(a.r) <= sq(1.15)*(a.v+sq(e*a.t)) { // three quarters of a normal
				k++
			}
		}
		return float64(k) / float64(len(all))
	}
	lo, hi := 0.0, 0.3
	if inside(0) >= 0.75 {
		return 0
	}
	for range 30 {
		if mid := (lo + hi) / 2; inside(mid) < 0.75 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// strange are the rows that a fit without them does not expect, the strangest
// first.
func (s *slipSearch) strange() []int {
	f := s.po.f
	type one struct {
		i int
		z float64
	}
	var all []one
	for i := range f.model.obs {
		if !s.byHand(i) {
			continue
		}
		a := s.apart(i)
		o := &f.model.obs[i]
		v := sq(f.model.noise(i).sd) + sq(f.changes)*f.model.changing(i) + a.cov[0][0] + sq(s.e*max(f.model.value(i), 0))
		z := math.Abs(f.model.value(i)-a.mean[0]) / math.Sqrt(v)
		if w := s.owner[i]; w >= 0 {
			// The block and what is left of its whole without it, together.
			b := s.apart(i, w)
			z = max(z, math.Sqrt(b.distance([]float64{f.model.value(i), f.model.value(w)},
				[]float64{s.variance(i, o, nil), s.variance(w, &f.model.obs[w], s.parts(w, -1, nil))})))
		}
		all = append(all, one{i, z})
		s.odd[i] = z > oddRow
	}
	if !slices.Contains(s.odd, true) {
		return nil
	}
	slices.SortStableFunc(all, func(a, b one) int { return cmp.Compare(b.z, a.z) })
	var out []int
	for _, a := range all[:min(len(all), strangest)] {
		out = append(out, a.i)
	}
	return out
}

// parts are the observations that row w, a whole, is paired with; row i of
// them as in (nil: without it).
func (s *slipSearch) parts(w, i int, in *Observation) []*Observation {
	var out []*Observation
	for _, b := range s.po.f.model.partsOf(w) {
		switch {
		case b != i:
			out = append(out, &s.po.f.model.obs[b])
		case in != nil:
			out = append(out, in)
		}
	}
	return out
}

// variance is that of a time of row i, less its timed blocks, around the machine's own.
func (s *slipSearch) variance(i int, o *Observation, parts []*Observation) float64 {
	f := s.po.f
	size, v := o.Seconds, sq(o.reading())+sq(f.changes)*f.model.changing(i)
	for _, b := range parts {
		size -= b.Seconds
		v += sq(b.reading())
	}
	return v + sq(math.Hypot(RunToRun, s.e)*max(size, 0))
}

// ofRow are the slips that may have happened in writing row i.
func (s *slipSearch) ofRow(i int) []Slip {
	m := s.po.f.model
	o := &m.obs[i]
	w := s.owner[i]
	rows := []int{i}
	if w >= 0 {
		rows = append(rows, w)
	}
	a := s.without(rows...)
	written := s.written(rows, a)
	var out []Slip
	offer := func(kind SlipKind, prior, odds float64, meant Observation) *Slip {
		meant.Note = noted(o, meant.Ignored)
		out = append(out, Slip{Kind: kind, Key: rowKey(o, i), Rows: []int{i}, Odds: prior + odds - written, prior: prior, Meant: []Observation{meant},
			Written: []Observation{*o}, Expected: a.mean[0] + s.blocksOf(i)})
		return &out[len(out)-1]
	}
	// Another number was meant: the row becomes likely, and what is left of
	// its whole with it.
	for _, c := range meantTimes(o) {
		meant := *o
		meant.Seconds, meant.Step = c.seconds, c.step
		y := []float64{meant.Seconds - s.blocksOf(i)}
		noise := []float64{s.variance(i, &meant, s.parts(i, -1, nil))}
		if w >= 0 {
			y = append(y, m.value(w)+o.Seconds-meant.Seconds)
			noise = append(noise, s.variance(w, &m.obs[w], s.parts(w, i, &meant)))
		}
		offer(c.kind, math.Log(c.chance*c.scale), a.logNormal(y, noise), meant)
	}
	// The number is of something else: what is left of the whole counts this
	// block as never timed.
	gone := 0.0
	if w >= 0 {
		gone = s.gone(a, i, w)
	} else if s.po.f.aside[i] {
		w = s.standing(i)
	}
	if w >= 0 {
		meant := *o
		meant.Ignored = true
		wide := math.Max(misreadWide, o.Seconds)
		offer(MisreadSlip, math.Log(misreadChance/wide), gone, meant).Whole = m.obs[w].Where()
	}
	var others []Observation
	for _, q := range m.timed() {
		if q.Kind == o.Kind && (q.Design != o.Design || q.Block != o.Block) && !q.Ignored {
			others = append(others, q)
		}
	}
	chance := designChance
	if o.Kind == BlockRun {
		chance = blockChance
	}
	for _, q := range others {
		q.SetSpeed, q.Job = o.SetSpeed, o.Job
		p := m.probe(&q)
		v := s.variance(i, o, nil) + sq(p*s.spread(&q))
		odds := gone - sq(o.Seconds-p)/v/2 - math.Log(2*math.Pi*v)/2
		meant := *o
		meant.Name, meant.Design, meant.Block = q.Name, q.Design, q.Block
		offer(DesignSlip, math.Log(chance/float64(len(others))), odds, meant).Other = p
	}
	return append(out, s.exchanges(i)...)
}

// standing is the whole run of a block that was set aside, where the whole is
// as the others expect it; −1: none.
func (s *slipSearch) standing(i int) int {
	f := s.po.f
	for w := range f.model.obs {
		if o := &f.model.obs[w]; o.Kind == WholeRun && !f.aside[w] && o.run() == f.model.obs[i].run() {
			a := s.apart(w)
			v := a.cov[0][0] + s.variance(w, o, s.parts(w, -1, nil))
			if sq(f.model.value(w)-a.mean[0]) < sq(oddRow)*v {
				return w
			}
		}
	}
	return -1
}

// exchanges are the rows with which row i may have changed places.
func (s *slipSearch) exchanges(i int) []Slip {
	m := s.po.f.model
	var out []Slip
	for j := range i {
		p, q := &m.obs[i], &m.obs[j]
		if !s.odd[j] || p.Kind != q.Kind || !s.byHand(j) || s.owner[i] != s.owner[j] ||
			len(m.partsOf(i))+len(m.partsOf(j)) > 0 {
			continue
		}
		rows := []int{i, j}
		a := s.apart(rows...)
		x, y := *p, *q
		x.Seconds, x.Step, y.Seconds, y.Step = q.Seconds, q.Step, p.Seconds, p.Step
		x.Note, y.Note = noted(p, false), noted(q, false)
		odds := func(a *apart) float64 {
			return math.Log(exchangedChance) + a.logNormal([]float64{x.Seconds, y.Seconds},
				[]float64{s.variance(i, &x, nil), s.variance(j, &y, nil)}) - s.written(rows, a)
		}
		if odds(a) < exchangeHope {
			continue
		}
		a = s.without(rows...)
		out = append(out, Slip{Kind: ExchangedSlip, Key: rowKey(q, j), Rows: []int{j, i}, Odds: odds(a), prior: math.Log(exchangedChance),
			Meant: []Observation{y, x}, Written: []Observation{*q, *p}, Expected: a.mean[1]})
	}
	return out
}

// blocksOf is what row i counts less than its time: its timed blocks, s.
func (s *slipSearch) blocksOf(i int) float64 {
	t := 0.0
	for _, b := range s.po.f.model.partsOf(i) {
		t += s.po.f.model.obs[b].Seconds
	}
	return t
}

// gone is the log density of what is left of whole run w when block row i is
// not taken off it.
func (s *slipSearch) gone(a *apart, i, w int) float64 {
	m := s.po.f.model
	r := m.value(w) + m.value(i) - a.mean[0] - a.mean[1]
	v := a.cov[0][0] + 2*a.cov[0][1] + a.cov[1][1] + s.variance(w, &m.obs[w], s.parts(w, i, nil))
	return -r*r/v/2 - math.Log(2*math.Pi*v)/2
}

// spread is the relative spread of the time that is predicted of what some row
// times.
func (s *slipSearch) spread(q *Observation) float64 {
	m := s.po.f.model
	least := 0.05
	for i := range m.obs {
		o := &m.obs[i]
		if p := m.prediction(i); p > nothing && o.Kind == q.Kind && o.Design == q.Design && o.Block == q.Block &&
			len(m.partsOf(i)) == 0 {
			least = min(least, math.Sqrt(quad(s.po.row(i), s.po.cov))/p)
		}
	}
	return math.Hypot(s.e, least)
}

// written is the log density of rows as they are, one or two: read right, by a machine whose scatter is known from the
// rows alone, or held up by something unnoticed, or a number from nowhere.
func (s *slipSearch) written(rows []int, a *apart) float64 {
	m := s.po.f.model
	y, v := make([]float64, len(rows)), make([]float64, len(rows))
	each := 0.0
	for k, i := range rows {
		y[k] = m.value(i)
		v[k] = s.variance(i, &m.obs[i], s.parts(i, -1, nil))
		n := m.noise(i)
		n.sd = math.Sqrt(v[k] + a.cov[k][k])
		rho, _, _ := n.loss(y[k] - a.mean[k])
		each -= rho
	}
	both := a.logStudent(y, v, s.tells)
	top := max(both, each)
	return top + math.Log(math.Exp(both-top)+math.Exp(each-top))
}

// rowKey is how the slip of one row is accepted.
func rowKey(o *Observation, i int) string {
	if o.Row > 0 {
		return fmt.Sprintf("row-%d", o.Row)
	}
	return fmt.Sprintf("row-%d", i+1)
}

// noted is a row's note with what was written.
func noted(o *Observation, left bool) string {
	was := o.Written
	if was == "" {
		was = strconv.FormatFloat(o.Seconds, 'f', -1, 64) + " s"
	}
	note := "written: " + was
	if left {
		note = "left out, " + note
	}
	return joined(o.Note, note)
}

func joined(note, more string) string {
	if note != "" {
		return note + "; " + more
	}
	return more
}
