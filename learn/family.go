package learn

import (
	"cmp"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"needlepace/machine"
)

// belief is one kind of machine that the observations may have been made on.
type belief struct {
	sheet  *machine.Sheet // the prior
	terms  []string
	odds   float64 // prior, natural logarithm
	f      *fitter
	post   *posterior
	rows   []float64 // natural logarithm of the predictive density of each row, left out
	score  float64   // their sum, and odds
	weight float64
}

// believe fits a kind of machine. from is a fit of a kind with fewer terms, to
// begin at; nil: the prior.
func believe(f *fitter, from *fitter) (*belief, error) {
	if from != nil {
		f.startAt(from)
	}
	if err := f.solve(from == nil); err != nil {
		return nil, err
	}
	b := &belief{sheet: f.model.base, f: f}
	b.judge()
	return b, nil
}

// judge makes the posterior and weighs the rows by it.
func (b *belief) judge() {
	b.post = b.f.posterior()
	b.rows = b.post.elpd()
	for i, w := range b.f.model.repeated() {
		b.rows[i] *= w
	}
	b.score = sum(b.rows) + b.odds
}

// repeatsToAKind is how many repeats of one run tell as much between kinds of machines
// as one that leaves nothing to chance could (assumed): that no law is right to a
// seventh (1/√50) of what a machine differs from run to run.
const repeatsToAKind = 50.0

// repeated is how much each row counts between kinds of machines: less where many
// repeat one run. All kinds are somewhat wrong about each run, and repeats,
// which are of one error, tell that one kind is closer as surely as they are
// many (the power likelihood of Miller and Dunson, Journal of the American
// Statistical Association 114, 2019, section 2.3, by run).
func (m *model) repeated() []float64 {
	type run struct {
		g        *group
		kind     Kind
		block    int
		with     Beside
		only     Only
		lengthMM float64
		speed    float64
		zigzag   bool
	}
	of := func(i int) run {
		o := &m.obs[i]
		return run{m.of[i], o.Kind, o.Block, o.With, o.Only, o.LengthMM, o.SetSpeed, o.Zigzag}
	}
	n := map[run]float64{}
	for i := range m.obs {
		n[of(i)]++
	}
	out := make([]float64, len(m.obs))
	for i := range out {
		out[i] = repeatsToAKind / (repeatsToAKind + n[of(i)] - 1)
	}
	return out
}

// like is a fitter of the same rows for another kind of machine.
func (f *fitter) like(sheet *machine.Sheet) *fitter {
	free := freeConstants(sheet)
	g := &fitter{ctx: f.ctx, prior: newPrior(sheet, free), model: f.model.like(sheet, free, f.model.obs), aside: f.aside,
		used: f.used}
	g.model.parts = f.model.parts
	for i, from := range f.model.groups {
		if from.thin != nil {
			g.model.groups[i].thin = from.thin.among(f.model.free, free)
		}
	}
	return g
}

// familyStitches is how many stitches stand for all runs while kinds of
// machines are tried.
const familyStitches = 15_000

// thinned is the belief with a share of the stitches standing for all.
func (b *belief) thinned() *belief {
	f := b.f
	g := &fitter{ctx: f.ctx, prior: f.prior, aside: f.aside, used: f.used, extra: f.extra, changes: f.changes,
		model: f.model.thin(familyStitches / float64(f.model.stitches()))}
	g.ready()
	copy(g.z, f.z)
	g.raw = slices.Clone(f.raw)
	copy(g.jac, f.jac)
	g.loss = g.evaluate(g.z, g.pred)
	t := *b
	t.f = g
	t.judge()
	return &t
}

// startAt begins where another fit of the same rows stands; what only this one
// has begins at its prior.
func (f *fitter) startAt(from *fitter) {
	theta, z := slices.Clone(f.prior.mean), make([]float64, len(f.prior.mean))
	for k, c := range f.model.free {
		if at := slices.IndexFunc(from.model.free, func(o machine.Constant) bool { return o.Path == c.Path }); at >= 0 {
			theta[k] = from.theta[at]
		}
	}
	f.prior.solve(theta, z)
	f.prior.theta(z, theta)
	f.model.move(theta)
	f.ready()
	copy(f.z, z)
	f.linearise()
}

// quick is how well a variant might do, by one run of the model and the slopes
// of another fit: minus what its linearised problem loses.
func quick(sheet *machine.Sheet, from *fitter) (float64, error) {
	f := from.like(sheet)
	f.startAt(from)
	f.changes = from.changes
	f.setNoise(from.extra, true)
	f.loss = f.evaluate(f.z, f.pred)
	_, loss, err := f.inner(false, 0.05)
	return -loss, err
}

// best is the best variant of a term on top of a belief, fitted; nil where the
// term has none.
func (b *belief) best(t *term) (*belief, error) {
	all := t.variants(b)
	if len(all) == 0 {
		return nil, nil
	}
	var n *belief
	top := math.Inf(-1)
	scores := make([]float64, len(all))
	if t.jumps {
		likely, err := b.likely(all)
		if err != nil {
			return nil, err
		}
		for i, v := range all {
			if scores[i] = math.Inf(-1); !slices.Contains(likely, v) {
				continue
			}
			m, err := believe(b.f.like(v), b.f)
			if err != nil {
				return nil, err
			}
			if scores[i] = m.score; m.score > top {
				top, n = m.score, m
			}
		}
	} else {
		pick := all[0]
		for i, v := range all {
			if len(all) == 1 {
				break
			}
			s, err := quick(v, b.f)
			if err != nil {
				return nil, err
			}
			if scores[i] = s; s > top {
				top, pick = s, v
			}
		}
		pick, err := b.beside(t, pick, top)
		if err != nil {
			return nil, err
		}
		if n, err = believe(b.f.like(pick), b.f); err != nil {
			return nil, err
		}
	}
	if n == nil || t.moot != nil && t.moot(n) {
		return nil, nil
	}
	n.terms = append(slices.Clone(b.terms), t.key)
	n.odds = b.odds + t.oddsOn(b.sheet)
	if !t.starts {
		n.odds += choosing(scores, top)
	}
	n.score += n.odds
	return n, nil
}

// fittedOfMany is how many variants whose times jump are fitted.
const fittedOfMany = 2

// likely are the variants, of those whose times jump, that come nearest to the rows by a rough fit.
func (b *belief) likely(all []*machine.Sheet) ([]*machine.Sheet, error) {
	loss := map[*machine.Sheet]float64{}
	for _, v := range all {
		f := b.f.like(v)
		f.startAt(b.f)
		f.setNoise(wideErrors[len(wideErrors)-1], false)
		if err := f.descend(wideTol, true); err != nil {
			return nil, err
		}
		loss[v] = f.loss
	}
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b *machine.Sheet) int { return cmp.Compare(loss[a], loss[b]) })
	return all[:min(len(all), fittedOfMany)], nil
}

// firstStep is how far a picked variant is moved first, degrees.
const firstStep = 10.0

// mostMoves is how often a picked variant is moved at most.
const mostMoves = 8

// beside goes from a variant to the best one near it as long as that gains.
func (b *belief) beside(t *term, pick *machine.Sheet, top float64) (*machine.Sheet, error) {
	if t.near == nil {
		return pick, nil
	}
	for range mostMoves {
		at := pick
		for _, v := range append(t.near(at, firstStep), t.near(at, 4)...) {
			s, err := quick(v, b.f)
			if err != nil {
				return nil, err
			}
			if s -= t.rarer; s > top {
				top, pick = s, v
			}
		}
		if pick == at {
			break
		}
	}
	return pick, nil
}

// Of the variants near the believed one, those that explain the rows nearly as
// well are believed too, but not many.
const (
	nearlyAsWell = 3.0 // natural logarithm
	mostBeside   = 8
)

// around is a belief's variants that explain the rows about as well: where a
// threshold lies is not known to the degree. They share the belief's odds.
func (b *belief) around() (out []*belief, err error) {
	for i := range terms {
		t := &terms[i]
		if t.near == nil || !slices.Contains(b.terms, t.key) {
			continue
		}
		own, err := quick(b.sheet, b.f)
		if err != nil {
			return nil, err
		}
		var near []*machine.Sheet
		for _, by := range []float64{5, firstStep, 20, 35, 55, 80} {
			for _, v := range t.near(b.sheet, by) {
				s, err := quick(v, b.f)
				if err != nil {
					return nil, err
				}
				if s > own-nearlyAsWell {
					near = append(near, v)
				}
			}
		}
		// Those farthest off say most of how little is known.
		slices.Reverse(near)
		near = near[:min(len(near), mostBeside)]
		for _, v := range near {
			n, err := believe(b.f.like(v), b.f)
			if err != nil {
				return nil, err
			}
			n.terms, n.odds = b.terms, -t.rarer
			out = append(out, n)
		}
	}
	share := 1.0
	for _, n := range out {
		share += math.Exp(n.odds)
	}
	b.odds -= math.Log(share)
	b.score -= math.Log(share)
	for _, n := range out {
		n.odds += b.odds
		n.score += n.odds
	}
	return out, nil
}

// choosing is what the choice among variants costs: the natural logarithm of the
// mean of their chances over that of the best. Of many, one does well by luck.
func choosing(scores []float64, top float64) float64 {
	if len(scores) < 2 {
		return 0
	}
	sum := 0.0
	for _, s := range scores {
		sum += math.Exp(s - top)
	}
	return math.Log(sum / float64(len(scores)))
}

// mostTerms is how many terms one machine is believed to have at most.
const mostTerms = 3

// leastGainOfTerm is how much better, in natural logarithms, a kind of machine must
// explain the rows for the search to go on from it.
const leastGainOfTerm = 1.0

// families fits kinds of machines: the plain law, each term on top, and on the
// best of them the next, as long as that gains. The first is the most believed.
func families(base *belief) ([]*belief, error) {
	base.terms, base.odds = lawTerms(base.sheet)
	base.score += base.odds
	at := base
	thin := base.f.model.stitches() > cheapStitches
	if thin {
		at = base.thinned()
	}
	slow := true
	if thin {
		var err error
		if slow, err = base.f.looksSlow(); err != nil {
			return nil, err
		}
	}
	all := []*belief{at}
	for _, key := range all[0].terms { // those that the class has
		n, err := all[0].without(key)
		if err != nil {
			return nil, err
		}
		if all = append(all, n); n.score > at.score {
			at = n
		}
	}
	for range mostTerms {
		next := make([]*belief, len(terms))
		errs := make([]error, len(terms))
		var wg sync.WaitGroup
		turn := make(chan struct{}, runtime.GOMAXPROCS(0))
		for i := range terms {
			from := at
			switch {
			case slices.Contains(at.terms, terms[i].key), terms[i].frame && slices.Contains(at.terms, "ladder"):
				continue
			case thin && terms[i].early && (!slow || at != all[0]):
				continue
			case thin && terms[i].early:
				from = base
			}
			wg.Go(func() {
				turn <- struct{}{}
				defer func() { <-turn }()
				next[i], errs[i] = from.best(&terms[i])
			})
		}
		wg.Wait()
		top := at
		for i, n := range next {
			if errs[i] != nil {
				return nil, errs[i]
			}
			if n == nil {
				continue
			}
			all = append(all, n)
			if n.score > top.score {
				top = n
			}
		}
		if top.score < at.score+leastGainOfTerm {
			break
		}
		if at = top; thin && at.early() {
			break // of whole designs: what is beside it costs too much
		}
	}
	if !thin || !at.early() {
		near, err := at.around()
		if err != nil {
			return nil, err
		}
		all = append(all, near...)
	}
	for _, b := range all {
		if t := b.twin(); t != nil {
			all = append(all, t)
		}
	}
	weigh(all)
	slices.SortStableFunc(all, func(a, b *belief) int { return cmp.Compare(b.weight, a.weight) })
	if thin {
		whole := base
		if most := all[0]; most.sheet != base.sheet {
			var err error
			if whole, err = believe(base.f.like(most.sheet), most.f); err != nil {
				return nil, err
			}
		}
		all[0].f, all[0].post = whole.f, whole.post
	}
	return all, nil
}

// early reports whether a belief has a term that hangs on when in a run a stitch is sewn.
func (b *belief) early() bool {
	return slices.ContainsFunc(terms, func(t term) bool { return t.early && slices.Contains(b.terms, t.key) })
}

// weigh says how strongly each kind is believed: by its score, averaged over
// how the score might have come out with other rows of the same sort, rows
// weighed by a Bayesian bootstrap (pseudo-BMA+ of Yao, Vehtari, Simpson and
// Gelman, Bayesian Analysis 13, 2018, section 3.4). A few rows tell little
// between kinds, and this says so.
func weigh(all []*belief) {
	rng := rand.New(rand.NewPCG(7, 11))
	n := len(all[0].rows)
	share, score := make([]float64, n), make([]float64, len(all))
	for range bootstraps {
		of := 0.0
		for i := range share {
			share[i] = rng.ExpFloat64()
			of += share[i]
		}
		top := math.Inf(-1)
		for k, b := range all {
			score[k] = b.odds
			for i, r := range b.rows {
				score[k] += r * share[i] / of * float64(n)
			}
			top = max(top, score[k])
		}
		of = 0
		for _, s := range score {
			of += math.Exp(s - top)
		}
		for k, b := range all {
			b.weight += math.Exp(score[k]-top) / of / bootstraps
		}
	}
}

const bootstraps = 400

// leastWeight is how strongly a kind must be believed to be kept.
const leastWeight = 0.05

// also keeps in a sheet the kinds that are believed beside it.
func (po *posterior) also(s *machine.Sheet) {
	if len(po.believed) < 2 {
		return
	}
	sum := 0.0
	for i, b := range po.believed {
		if i == 0 || b.weight >= leastWeight {
			sum += b.weight
		}
	}
	s.Fit.Terms, s.Fit.Weight = po.believed[0].terms, round(po.believed[0].weight/sum, 3)
	for _, b := range po.believed[1:] {
		if b.weight < leastWeight {
			continue
		}
		other := b.f.model.sheetAt(b.f.theta)
		a := machine.Alternative{Weight: round(b.weight/sum, 3), Terms: b.terms, Values: s.Differs(other)}
		for path, v := range a.Values {
			a.Values[path] = round(v, 5)
		}
		s.Fit.Also = append(s.Fit.Also, a)
	}
}
