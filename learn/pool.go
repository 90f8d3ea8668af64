package learn

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"needlepace/learn/hier"
	"needlepace/machine"
)

// PoolMember is a learned sheet of a machine, by the asker's name for it.
type PoolMember struct {
	Name  string
	Sheet *machine.Sheet
}

// Pooled is what learned machines say of their class.
type Pooled struct {
	Class     *machine.Sheet // the class sheet: what a machine of the class is before anybody timed it
	Constants []PooledConstant
	Terms     []machine.PooledTerm
	Odd       []OddMember
}

// PooledConstant is a constant of the class before and after.
type PooledConstant struct {
	Path, Unit   string
	Prior, Value float64
	PriorSD, SD  float64 // relative, log-normal: of the next machine
	Between      float64 // relative: how far the machines lie apart
	Told         int     // how many machines told something of it
}

// OddMember is a machine unlike the others.
type OddMember struct {
	Member   int // from 0
	Path     string
	Value    float64 // by its own runs and the others' class
	Class    float64 // by the others
	Between  float64 // relative, with it
	Without  float64 // relative, without it
	Unlikely float64 // chance that a machine of the class is so far off, on all constants and machines taken together
}

// Refused is a sheet that cannot be pooled, and why.
type Refused struct{ Name, Why string }

// RefusedError is every sheet that cannot be pooled.
type RefusedError []Refused

// Error lists them, one a line.
func (e RefusedError) Error() string {
	lines := make([]string, len(e))
	for i, r := range e {
		lines[i] = r.Name + ": " + r.Why
	}
	return strings.Join(lines, "\n")
}

// CheckEvidence says what keeps a sheet from being pooled or shared; "" where
// nothing does. What is said tells what to do.
func CheckEvidence(s *machine.Sheet) string {
	f := s.Fit
	switch {
	case f == nil && s.Pool != nil:
		return "this is a class already (" + s.Pool.Words().Raw() + "): pool the machines' own learned sheets"
	case f == nil:
		return "this sheet was never learned, so it has no evidence: learn it from timed runs first"
	case f.ModelVersion > machine.ModelVersion:
		return fmt.Sprintf("it was learned under version %d of the model, newer than this program's (%d): use a newer "+
			"needlepace", f.ModelVersion, machine.ModelVersion)
	case f.ModelVersion < machine.ModelVersion:
		return fmt.Sprintf("it was learned under version %d of the model, this is %d: learn it again from its timed runs",
			f.ModelVersion, machine.ModelVersion)
	case f.Evidence == nil:
		return "[fit.evidence] is missing: the sheet was learned before sheets kept it, or somebody took it out; learn it " +
			"again from its timed runs"
	case f.Evidence.Seal != s.SealNow():
		return "it was changed after it was learned: fit.evidence.seal does not match its numbers; take the sheet as learn " +
			"or machines export wrote it, or learn it again from its timed runs"
	}
	return ""
}

// unpoolable says what keeps a member from the class; members before it are
// those that were taken.
func unpoolable(class *machine.Sheet, m PoolMember, before []PoolMember) string {
	s := m.Sheet
	if why := CheckEvidence(s); why != "" {
		return why
	}
	switch {
	case s.Class != class.Class:
		return fmt.Sprintf("it is of another class: %q, and the others are pooled as %q; pool each class by itself", s.Class,
			class.Class)
	case s.Travel.Mode != class.Travel.Mode:
		return fmt.Sprintf("travel.mode is %q and the class's is %q: such machines are not of one class", s.Travel.Mode,
			class.Travel.Mode)
	}
	for _, o := range before {
		shared := 0
		for _, d := range s.Fit.Evidence.Rows {
			if slices.Contains(o.Sheet.Fit.Evidence.Rows, d) {
				shared++
			}
		}
		switch {
		case s.Fit.Digest == o.Sheet.Fit.Digest:
			return fmt.Sprintf("the very same evidence is in %s: leave one of the two out", o.Name)
		case shared > 1 && 2*shared >= min(len(s.Fit.Evidence.Rows), len(o.Sheet.Fit.Evidence.Rows)):
			// One row may be the same by chance: two machines that take equally
			// long for a block of the same piece.
			return fmt.Sprintf("%d of its %d timed rows are in %s too: a machine counts once, leave the older sheet out", shared,
				len(s.Fit.Evidence.Rows), o.Name)
		}
	}
	return impossible(class, s)
}

// farthest is how many of the class's spreads a machine may lie from it.
const farthest = 8

// impossible says which constant cannot be what the evidence tells.
func impossible(class, s *machine.Sheet) string {
	e := s.Fit.Evidence
	free := freeConstants(class)
	pr := newPrior(class, free)
	told, read := toldOf(s, len(free), func(path string) int {
		return slices.IndexFunc(free, func(c machine.Constant) bool { return c.Path == path })
	})
	if told == nil {
		return "its evidence tells nothing of the class's constants: " + strings.Join(e.Constants, ", ")
	}
	wide := mat.NewSymDense(len(free), nil)
	for k, sd := range pr.sd {
		wide.SetSym(k, k, 1/sq(2*sd))
	}
	mean, ok := conditional(wide, pr.mean, told, read)
	if !ok {
		return "its evidence cannot be reckoned with: learn the sheet again from its timed runs"
	}
	for k, c := range free {
		if v := math.Exp(mean[k]); !(v >= c.Min && v <= c.Max) {
			return fmt.Sprintf("by its evidence %s is %.3g, and no machine has that (%s): learn the sheet again from its timed "+
				"runs", c.Path, v, c.Range())
		} else if math.Abs(mean[k]-pr.mean[k]) > farthest*pr.sd[k] {
			return fmt.Sprintf("by its evidence %s is %.3g %s, more than %d spreads from the class's %.3g: it is another kind "+
				"of machine, or its runs were timed in another unit", c.Path, v, c.Unit, farthest, c.Get(class))
		}
	}
	return ""
}

// conditional is the mean of θ by a normal prior (precision, mean) and readings.
func conditional(prec *mat.SymDense, mean []float64, told *mat.Dense, read []float64) ([]float64, bool) {
	n := len(mean)
	var sum mat.SymDense
	sum.SymOuterK(1, told.T())
	sum.AddSym(&sum, prec)
	var right, more, out mat.VecDense
	right.MulVec(prec, mat.NewVecDense(n, slices.Clone(mean)))
	more.MulVec(told.T(), mat.NewVecDense(len(read), slices.Clone(read)))
	right.AddVec(&right, &more)
	var ch mat.Cholesky
	if !ch.Factorize(&sum) || ch.SolveVecTo(&out, &right) != nil {
		return nil, false
	}
	return out.RawVector().Data, true
}

// toldOf are a sheet's readings over n numbers; at says where a constant
// stands, -1 for nowhere. What stands nowhere is taken as the sheet has it.
func toldOf(s *machine.Sheet, n int, at func(path string) int) (told *mat.Dense, read []float64) {
	e := s.Fit.Evidence
	if len(e.Told) == 0 {
		return nil, nil
	}
	told, read = mat.NewDense(len(e.Told), n, nil), slices.Clone(e.Read)
	some := false
	for k, path := range e.Constants {
		i := at(path)
		c, _ := machine.ConstantAt(path)
		for j := range e.Told {
			w := e.Told[j][k]
			if i >= 0 {
				told.Set(j, i, w)
				some = some || w != 0
			} else if v := c.Get(s); w != 0 && v > 0 {
				read[j] -= w * math.Log(v)
			}
		}
	}
	if !some {
		return nil, nil
	}
	return told, read
}

// What a class says before any machine of it was learned: a quarter of its
// spread's square is how little is known of the class's middle, three quarters
// are how far machines lie apart, which is known as if spreadMachines had shown it
// (assumed: so that one or two sheets move a class little).
const (
	middleShare    = 0.25
	spreadMachines = 4
)

// termMachines is how many machines the first guess at a term's chance counts as
// (assumed).
const termMachines = 4

// oddChance: a machine is called odd where one in so many pools of machines of
// one class would have such a one.
const oddChance = 0.02

// Pool makes a class sheet of learned sheets: a hierarchical normal model of the
// logarithms of their constants (Gelman and others, Bayesian Data Analysis, 3rd
// edition, chapter 5; package hier), from what each sheet's runs told by
// themselves (machine.Evidence), so that what was known before is counted once: in
// class. class is the class that nobody measured. Errors: ctx's, or a RefusedError
// with every sheet that cannot be pooled and why.
func Pool(ctx context.Context, class *machine.Sheet, members []PoolMember) (*Pooled, error) {
	if class.Pool != nil || class.Fit != nil {
		return nil, fmt.Errorf("the class %s is learned itself: give the class that its machines were learned from",
			class.Name)
	}
	var refused RefusedError
	for i, m := range members {
		if why := unpoolable(class, m, taken(members[:i])); why != "" {
			refused = append(refused, Refused{m.Name, why})
		}
	}
	if len(refused) > 0 {
		return nil, refused
	}
	if len(members) == 0 {
		return nil, fmt.Errorf("no sheet to pool: name learned sheets")
	}
	p := newPooling(class, members)
	pop, err := hier.Sample(ctx, p.of, p.prior, hier.Options{})
	if err != nil {
		return nil, err
	}
	return p.result(pop), nil
}

// taken are the members with evidence.
func taken(all []PoolMember) (out []PoolMember) {
	for _, m := range all {
		if CheckEvidence(m.Sheet) == "" {
			out = append(out, m)
		}
	}
	return out
}

// pooling is what the model is asked.
type pooling struct {
	class   *machine.Sheet
	members []PoolMember
	free    []machine.Constant // of the class, and then of terms that machines have
	own     int                // how many are the class's
	start   []float64          // values before
	sd      []float64          // relative, before
	of      []hier.Member
	prior   hier.Prior
}

func newPooling(class *machine.Sheet, members []PoolMember) *pooling {
	p := &pooling{class: class, members: members, free: freeConstants(class)}
	p.own = len(p.free)
	for _, c := range p.free {
		p.start, p.sd = append(p.start, c.Get(class)), append(p.sd, class.SD[c.Path])
	}
	for _, t := range termConstants(class) {
		told := slices.ContainsFunc(members, func(m PoolMember) bool {
			return slices.Contains(m.Sheet.Fit.Evidence.Constants, t.path)
		})
		if c, ok := machine.ConstantAt(t.path); ok && told {
			p.free, p.start, p.sd = append(p.free, c), append(p.start, t.value), append(p.sd, t.sd)
		}
	}
	p.prior.DF = spreadMachines
	for k := range p.free {
		s := logSD(p.sd[k])
		p.prior.Mean = append(p.prior.Mean, math.Log(p.start[k]))
		p.prior.SD = append(p.prior.SD, s*math.Sqrt(middleShare))
		// The mean of τ² is DF/(DF − 2) times the scale's square.
		p.prior.Scale = append(p.prior.Scale, s*math.Sqrt((1-middleShare)*(spreadMachines-2)/spreadMachines))
	}
	for _, m := range members {
		told, read := toldOf(m.Sheet, len(p.free), p.at)
		p.of = append(p.of, hier.Member{Told: told, Read: read})
		p.onlyTold(&p.of[len(p.of)-1])
	}
	return p
}

// leastShare is how much of what was known before, as a variance, runs must add
// to a constant to have told something of it.
const leastShare = 0.02

// onlyTold takes a constant that a member's runs hardly told for what it is in
// the class.
func (p *pooling) onlyTold(m *hier.Member) {
	if m.Told == nil {
		return
	}
	rows, n := m.Told.Dims()
	for k := range n {
		info, s := 0.0, logSD(p.sd[k])
		for j := range rows {
			info += sq(m.Told.At(j, k) * s)
		}
		for j := 0; j < rows && info < leastShare; j++ {
			m.Read[j] -= m.Told.At(j, k) * p.prior.Mean[k]
			m.Told.Set(j, k, 0)
		}
	}
}

func (p *pooling) at(path string) int {
	return slices.IndexFunc(p.free, func(c machine.Constant) bool { return c.Path == path })
}

// termConstant is a constant of a term that has a value of its own on most
// machines with the term.
type termConstant struct {
	term, path string
	value, sd  float64
}

// termConstants are the constants of the terms that a class lets pool, with the
// values and spreads that learning starts them from.
func termConstants(class *machine.Sheet) (out []termConstant) {
	path := map[string]string{"settle": "frame.settle", "jerk": "frame.jerk_time", "turn": "frame.turn",
		"lag": "shaft.lag", "turns": "turns.speed"}
	for i := range terms {
		t := &terms[i]
		c, ok := machine.ConstantAt(path[t.key])
		if !ok {
			continue
		}
		if v := t.variants(&belief{sheet: class}); len(v) > 0 {
			out = append(out, termConstant{t.key, c.Path, c.Get(v[0]), v[0].SD[c.Path]})
		}
	}
	return out
}

// result puts what the model says into a class sheet.
func (p *pooling) result(pop *hier.Population) *Pooled {
	out := &Pooled{Class: p.class.Clone()}
	s := out.Class
	pool := &machine.Pool{Machines: len(p.members), ModelVersion: machine.ModelVersion}
	s.Pool = pool
	shops := map[string]bool{}
	for _, m := range p.members {
		shops[m.Sheet.Fit.Evidence.Shop] = true
		pool.From = append(pool.From, m.Sheet.Fit.Digest)
	}
	pool.Shops = len(shops)
	for k, c := range p.free[:p.own] {
		x := PooledConstant{Path: c.Path, Unit: c.Unit, Prior: p.start[k], PriorSD: p.sd[k], Value: p.start[k], SD: p.sd[k],
			Told: pop.Told[k]}
		if x.Told > 0 {
			x.Value = round(min(max(math.Exp(pop.Mean[k]), c.Min), c.Max), 4)
			x.SD = round(min(relSD(math.Sqrt(pop.Cov.At(k, k))), machine.MaxSD), 3)
			x.Between = round(relSD(pop.Between[k]), 3)
			c.Set(s, x.Value)
			s.SD[c.Path], s.BasisOf[c.Path] = x.SD, machine.Pooled
		}
		out.Constants = append(out.Constants, x)
		pool.Constants, pool.Told = append(pool.Constants, c.Path), append(pool.Told, x.Told)
	}
	for i := range p.own {
		row := make([]float64, p.own)
		for j := range p.own {
			row[j] = math.Round(1e4*pop.Cov.At(i, j)/math.Sqrt(pop.Cov.At(i, i)*pop.Cov.At(j, j))) / 1e4
		}
		row[i] = 1
		pool.Correlation = append(pool.Correlation, row)
	}
	out.Terms = p.terms(pop)
	pool.Terms = out.Terms
	adopt(s, out.Terms)
	out.Odd = p.odd(pop)
	return out
}

// terms are how often each term was believed, and what follows for the next
// machine: the chance π of the term has a Beta prior, each machine's rows are
// π·e^odds + 1 − π as likely (a mixture of having it and not).
func (p *pooling) terms(pop *hier.Population) (out []machine.PooledTerm) {
	for i := range terms {
		t := &terms[i]
		x := machine.PooledTerm{Term: t.key, Values: map[string]float64{}, SD: map[string]float64{}}
		var odds []float64
		for _, m := range p.members {
			f := m.Sheet.Fit
			if o, ok := f.Evidence.Terms[t.key]; ok {
				odds = append(odds, o)
			}
			if slices.Contains(f.Terms, t.key) {
				x.Believed++
			}
		}
		if x.Of = len(odds); x.Of == 0 {
			continue
		}
		x.Odds = round(nextOdds(t.odds, odds), 3)
		for _, c := range termConstants(p.class) {
			if k := p.at(c.path); c.term == t.key && k >= 0 && x.Believed > 0 {
				x.Values[c.path] = round(math.Exp(pop.Mean[k]), 4)
				x.SD[c.path] = round(min(relSD(math.Sqrt(pop.Cov.At(k, k))), machine.MaxSD), 3)
			}
		}
		p.chosen(&x)
		out = append(out, x)
	}
	return out
}

// nextOdds are the natural logarithm of the odds that the next machine has a
// term, from those before any machine was learned and what each machine's rows
// say: the mean of the term's chance by its posterior, on a grid.
func nextOdds(before float64, odds []float64) float64 {
	chance := 1 / (1 + math.Exp(-before))
	beta := distuv.Beta{Alpha: termMachines * chance, Beta: termMachines * (1 - chance)}
	const steps = 2000
	logs := make([]float64, steps)
	top := math.Inf(-1)
	for i := range logs {
		pi := (float64(i) + 0.5) / steps
		logs[i] = beta.LogProb(pi)
		for _, o := range odds {
			logs[i] += math.Log(pi*math.Exp(o) + 1 - pi)
		}
		top = max(top, logs[i])
	}
	sum, mean := 0.0, 0.0
	for i, l := range logs {
		w := math.Exp(l - top)
		sum += w
		mean += w * (float64(i) + 0.5) / steps
	}
	mean /= sum
	return math.Log(mean / (1 - mean))
}

// odd are the machines that are unlike the others: what a machine's runs tell
// of a constant is held against what the others say, with the spread that they
// show without it (a t test of the constant's innovation; the chances are
// corrected for how many are looked at).
func (p *pooling) odd(pop *hier.Population) (out []OddMember) {
	n := len(p.members)
	if n < 3 {
		return nil // two cannot say which of them is the odd one
	}
	for i, m := range p.of {
		if m.Told == nil {
			continue
		}
		mean, prec, tau := p.without(pop, i)
		cov := make([]float64, len(mean)) // before the machine's own runs
		for k := range mean {
			cov[k] = 1 / prec.At(k, k)
		}
		after, ok := conditional(prec, mean, m.Told, m.Read)
		if !ok {
			continue
		}
		left := conditionalVariances(prec, m.Told)
		worst := OddMember{Unlikely: math.Inf(1)}
		looked := 0
		for k := range mean {
			told := cov[k] - left[k]
			if told < 0.2*cov[k] {
				continue
			}
			looked++
			t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: spreadMachines + float64(pop.Told[k]) - 1}
			chance := 2 * t.CDF(-math.Abs(after[k]-mean[k])/math.Sqrt(told))
			if chance < worst.Unlikely {
				worst = OddMember{Member: i, Path: p.free[k].Path, Value: round(math.Exp(after[k]), 3),
					Class: round(math.Exp(mean[k]), 3), Between: round(relSD(pop.Between[k]), 3),
					Without: round(relSD(tau[k]), 3), Unlikely: chance}
			}
		}
		if worst.Unlikely *= float64(looked * n); worst.Unlikely < oddChance {
			out = append(out, worst)
		}
	}
	return out
}

// without is the next machine by all members but one: means, precision and
// spreads between. The one's part is taken out of the sums that the sampler's
// conditional distributions are made of.
func (p *pooling) without(pop *hier.Population, i int) (mean []float64, prec *mat.SymDense, tau []float64) {
	prec = mat.NewSymDense(len(p.free), nil)
	m := pop.Members[i]
	for k := range p.free {
		at, tau2, v := pop.Mean[k], sq(pop.Between[k]), pop.MeanCov.At(k, k)
		if m.Told[k] {
			df := p.prior.DF + float64(pop.Told[k]) - 2
			tau2 = max(tau2*df-m.Apart[k], sq(p.prior.Scale[k])/10) / max(df-1, 1)
			counts := max(tau2/v, 1+1e-3) // machines that the middle is known from, the prior's part included
			at = (counts*at - m.Mean[k]) / (counts - 1)
			v = tau2 / (counts - 1)
		}
		mean, tau = append(mean, at), append(tau, math.Sqrt(tau2))
		prec.SetSym(k, k, 1/(tau2+v))
	}
	return mean, prec, tau
}

func conditionalVariances(prec *mat.SymDense, told *mat.Dense) []float64 {
	n := prec.SymmetricDim()
	var sum, inv mat.SymDense
	sum.SymOuterK(1, told.T())
	sum.AddSym(&sum, prec)
	var ch mat.Cholesky
	out := make([]float64, n)
	if !ch.Factorize(&sum) || ch.InverseTo(&inv) != nil {
		return out
	}
	for k := range n {
		out[k] = inv.At(k, k)
	}
	return out
}
