package learn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/learn/leastsq"
	"needlepace/machine"
)

// Options of Fit. The zero value is the usual fit.
type Options struct {
	// Draws is how many machines are drawn to check the normal approximation;
	// 0 means 1,000, negative none.
	Draws int
	// Budget is the most stitches the draws may clock together; above it
	// they are left out and the result says so. 0 means 50 million.
	Budget int
	// Seed of the draws.
	Seed uint64
	// Meant are the keys of the slips that whoever wrote the rows says are
	// ones (Slip.Key): their rows are read as they were meant.
	Meant []string
	// Plain keeps to the sheet's own law: no term is tried.
	Plain bool
}

// Believed is a kind of machine and how strongly it is believed.
type Believed struct {
	Terms  []string // beside the sheet's own law
	Weight float64  // 0…1
	Score  float64  // ln of the predictive density of all rows, each left out, and of its odds
	Error  float64  // the model's own error of a row under it, relative
}

// leastForTerms is how many observations are needed before terms are tried.
const leastForTerms = 4

// Result is what was learned.
type Result struct {
	Sheet     *machine.Sheet // the new sheet
	Constants []Learned      // those that could move, in the order of the sheet
	Held      []string       // paths of constants with a value that were held, and why
	Runs      []Run          // in the order of the observations
	Warnings  []Problem
	Used      int     // observations used
	Set       int     // observations set aside as slips
	Learned   float64 // how many independent things the observations determined
	OnlyPace  bool    // one timing: nothing but the overall pace was learned
	Pace      float64 // OnlyPace: the machine's time over the old sheet's
	Misfit    float64 // relative error of the model found beyond the readings' own
	WarmUp    float64 // s: what a timed run loses, in the mean, because the machine is let in gently
	Frame     float64 // how much the frame's acceleration differs from run to run: relative, one deviation
	LeaveOut  LeaveOneOut
	Verdict   Verdict
	Check     Check
	Drift     *Drift // nil: no sign of one, or nothing to tell it by
	Next      []Suggestion
	Slips     []Slip     // what may have been meant otherwise: questions
	Meant     []Slip     // those accepted by Options.Meant, as they were applied
	Families  []Believed // the most believed first

	post *posterior
}

// Learned is one constant before and after.
type Learned struct {
	Path, Unit   string
	Prior, Value float64
	PriorSD, SD  float64 // relative, log-normal
	Reach        Reach
	Far          bool // moved more than four prior deviations: the wrong class, or wrong units
}

// Reach is how far the observations reached a constant.
type Reach uint8

// The reaches.
const (
	NotLearned Reach = iota // its spread stays as it was
	Partly
	Determined // its spread is less than half
)

// String names the reach for people.
func (r Reach) String() string {
	return [...]string{"not learned", "partly", "determined"}[r]
}

// Run is one observation against the fit.
type Run struct {
	Observation
	Predicted float64 // s, or stitches/min for a display reading, by the new sheet
	SD        float64 // of reading and prediction together
	LeftOut   float64 // prediction by the other observations alone
	Paused    float64 // chance that something unnoticed added time
	Slip      float64 // chance that the number has nothing to do with the run
	Aside     bool    // set aside as a slip before the fit
	Suspect   string  // a sentence where something is suspicious
	Parts     []int   // of a whole run: the runs (indices) that time its blocks
}

// Residual is read minus predicted.
func (r *Run) Residual() float64 { return r.value() - r.Predicted }

// Relative is the residual relative to the prediction; 0 where nothing is
// predicted (a block without stitches).
func (r *Run) Relative() float64 {
	if r.Predicted < nothing {
		return 0
	}
	return r.Residual() / r.Predicted
}

// LeaveOneOut is how well each observation is predicted by the others
// (display readings, suspicious rows and whole runs whose blocks are timed too
// are not counted), from the leverages.
type LeaveOneOut struct {
	Runs   int     `json:"rows"`
	Median float64 `json:"median" doc:"of the absolute relative errors"`
	RMS    float64 `json:"rms" doc:"of the relative errors"`
	Held   int     `json:"inside_90" doc:"how many lie within their 90 % interval"`
	Apart  int     `json:"apart" doc:"rows not judged: display readings, whole runs of timed blocks, odd rows"`
}

var errNothing = errors.New("no usable observation: every row was set aside; see the warnings")

// Fit learns a sheet's constants from observations. The sheet must be valid;
// its spreads (and a former fit's correlations) are the priors. The
// observations must have designs where they need them (ReadRuns sees to
// that). Slips and suspicious runs become warnings. Errors: nothing to learn
// from, no constant that may move, or ctx's.
func Fit(ctx context.Context, sheet *machine.Sheet, obs []Observation, opt Options) (*Result, error) {
	if len(obs) == 0 {
		return nil, errors.New("no observation to learn from")
	}
	sheet = withJobs(sheet, obs)
	free := freeConstants(sheet)
	if len(free) == 0 {
		return nil, fmt.Errorf("no constant of sheet %q has a spread: write those that are not exact into [sd]",
			sheet.Name)
	}
	if opt.Draws == 0 {
		opt.Draws = 1000
	}
	if opt.Budget == 0 {
		opt.Budget = 50_000_000
	}
	pr := newPrior(sheet, free)
	post, accepted, err := meant(obs, opt.Meant, func(obs []Observation) (*posterior, error) {
		return newFitter(ctx, pr, newModel(sheet, free, obs)).fit(opt.Plain)
	})
	if err != nil {
		return nil, err
	}
	if post.f.used == 0 {
		return &Result{Warnings: post.slipWarnings(sheet), Slips: post.found, Meant: accepted}, errNothing
	}
	res := post.result(sheet)
	res.Slips, res.Meant = post.found, accepted
	if err := post.check(ctx, opt, &res.Check); err != nil {
		return nil, err
	}
	if err := post.finish(sheet, res); err != nil {
		return nil, err
	}
	return res, nil
}

// newFitter makes ready to fit observations by a model, which it brings to the prior's
// mean; those that cannot be times of what they say are set aside.
func newFitter(ctx context.Context, pr *prior, m *model) *fitter {
	m.move(pr.mean)
	f := &fitter{ctx: ctx, prior: pr, model: m, aside: m.screen()}
	m.pair(f.aside)
	for _, a := range f.aside {
		if !a {
			f.used++
		}
	}
	return f
}

// fit finds the posterior of the kind of machine that the rows speak for most;
// plain: of the sheet's own law.
func (f *fitter) fit(plain bool) (*posterior, error) {
	base, err := believe(f, nil)
	if err != nil {
		return nil, err
	}
	all, tires := []*belief{base}, false
	if f.used >= leastForTerms && !plain {
		if all, err = families(base); err != nil {
			return nil, err
		}
		if tires, err = base.tires(all); err != nil {
			return nil, err
		}
	}
	post := all[0].post
	post.tires = tires
	post.believed, post.found = all, base.post.slips(all)
	post.unsaid = base.post.unsaid
	return post, nil
}

// prior is the sheet's belief in the logarithms of the free constants:
// normal with these means, whitened by lower: theta = mean + lower·z.
type prior struct {
	mean  []float64
	sd    []float64
	lower *mat.TriDense
}

// logSD is the spread of the logarithm for a relative spread of the value,
// and relSD the way back (log-normal).
func logSD(rel float64) float64 { return math.Sqrt(math.Log1p(rel * rel)) }
func relSD(log float64) float64 { return math.Sqrt(math.Expm1(log * log)) }

func newPrior(s *machine.Sheet, free []machine.Constant) *prior {
	p := len(free)
	pr := &prior{mean: make([]float64, p), sd: make([]float64, p)}
	cov := mat.NewSymDense(p, nil)
	for k, c := range free {
		pr.mean[k] = math.Log(c.Get(s))
		pr.sd[k] = logSD(s.SD[c.Path])
	}
	paths, correlation := s.Correlated()
	rho := func(i, j int) float64 {
		if i == j {
			return 1
		}
		if r, ok := kernel(s, free[i].Path, free[j].Path); ok && s.Fit == nil {
			return r
		}
		a, b := slices.Index(paths, free[i].Path), slices.Index(paths, free[j].Path)
		if a < 0 || b < 0 {
			return 0
		}
		return correlation[a][b]
	}
	for shrink := 1.0; ; shrink -= 1.0 / 64 { // a matrix rounded in the file may not quite be one
		for i := range p {
			for j := i; j < p; j++ {
				r := rho(i, j)
				if i != j {
					r *= max(shrink, 0)
				}
				cov.SetSym(i, j, r*pr.sd[i]*pr.sd[j])
			}
		}
		var ch mat.Cholesky
		if ch.Factorize(cov) {
			pr.lower = mat.NewTriDense(p, mat.Lower, nil)
			ch.LTo(pr.lower)
			return pr
		}
	}
}

// theta fills the logarithms of the constants for whitened z.
func (p *prior) theta(z, theta []float64) {
	for i := range p.mean {
		v := p.mean[i]
		for j := 0; j <= i; j++ {
			v += p.lower.At(i, j) * z[j]
		}
		theta[i] = v
	}
}

// solve is theta's way back to z.
func (p *prior) solve(theta, z []float64) {
	for i := range z {
		v := theta[i] - p.mean[i]
		for j := range i {
			v -= p.lower.At(i, j) * z[j]
		}
		z[i] = v / p.lower.At(i, i)
	}
}

// whiten turns a row of derivatives by theta into one by z: row·lower.
func (p *prior) whiten(row, out []float64) {
	for j := range out {
		v := 0.0
		for i := j; i < len(row); i++ {
			v += row[i] * p.lower.At(i, j)
		}
		out[j] = v
	}
}

// fitter finds the mode of the posterior.
type fitter struct {
	ctx   context.Context
	prior *prior
	model *model
	aside []bool
	used  int

	noises  []noise
	centres []float64
	least   []float64

	values []float64 // what the fit compares with pred: the model's values
	anchor []float64 // where the prior pulls z to; 0 but while drawing

	z, theta []float64
	pred     []float64 // at z
	jac      []float64 // ∂pred/∂z at z, row by row
	raw      []float64 // ∂pred/∂theta as it was last made, nil before
	rough    bool      // no last digits: drawing
	extra    float64   // relative error of the model, on every observation
	changes  float64   // relative standard deviation of a colour change or stop
	fixed    bool      // extra and changes are given, not learned
	loss     float64   // −ln posterior at z, up to a constant
}

// The outer steps, and the end: less than this to gain in −ln posterior (a
// tenth of a posterior deviation is 0.005).
const (
	maxOuter        = 60
	maxOuterOfSteps = 6 // of times that jump: no step comes to where slopes vanish
	lossTol         = 0.003
	wideTol         = 0.3 // while the errors are still wide
	crawl           = 0.2 // least gain in four steps
	manyRows        = 300 // up to so many rows every step is tried from several starts

	cheapStitches = 100_000 // up to so many in a run of the model it is run freely
)

// carry brings jac along with what one more run of the model has shown
// (Broyden's update, Mathematics of Computation 19, 1965, in ln pred): a run
// costs a tenth of a new Jacobian.
func (f *fitter) carry(zn, pn []float64) {
	p := len(f.z)
	step := make([]float64, p)
	size := 0.0
	for k := range step {
		step[k] = zn[k] - f.z[k]
		size += step[k] * step[k]
	}
	if size == 0 {
		return
	}
	for i := range pn {
		row := f.jac[i*p : (i+1)*p]
		if f.pred[i] < nothing || pn[i] < nothing {
			continue
		}
		miss := math.Log(pn[i] / f.pred[i])
		for k := range row {
			miss -= row[k] / f.pred[i] * step[k]
		}
		for k := range row {
			row[k] += f.pred[i] * miss * step[k] / size
		}
	}
}

// ready makes room for a fit, at the prior's mean.
func (f *fitter) ready() {
	if f.z != nil {
		return
	}
	n, p := len(f.model.obs), len(f.model.free)
	f.z, f.theta = make([]float64, p), make([]float64, p)
	f.pred, f.jac = make([]float64, n), make([]float64, n*p)
	f.anchor, f.values = make([]float64, p), make([]float64, n)
	for i := range f.values {
		f.values[i] = f.model.value(i)
	}
	if f.model.sheet == nil {
		f.prior.theta(f.z, f.theta)
		f.model.move(f.theta)
	}
	f.setNoise(f.extra, true)
}

// solve finds the mode, and the size of the model's own error where that is not
// fixed.
//
// A loss that forgives slips has no slope far away from the data, so the first
// steps are taken with wide errors and no slips, which are then drawn in. Where
// the model is cheap the narrow problem is tried from the start as well, and the better
// mode taken.
func (f *fitter) solve(fresh bool) error {
	f.ready()
	if fresh {
		f.belowSetting()
	}
	start := slices.Clone(f.z)
	for _, wide := range wideErrors {
		f.setNoise(f.extra+wide, false)
		if err := f.descend(wideTol, f.raw != nil); err != nil {
			return err
		}
	}
	f.setNoise(f.extra, true)
	if err := f.descend(lossTol, true); err != nil {
		return err
	}
	if fresh && f.model.stitches() <= cheapStitches {
		z, loss := slices.Clone(f.z), f.loss
		copy(f.z, start)
		if err := f.descend(lossTol, false); err != nil {
			return err
		}
		if f.loss > loss {
			copy(f.z, z)
			f.loss = f.evaluate(f.z, f.pred)
		}
	}
	if fresh {
		if err := f.belowTops(start); err != nil {
			return err
		}
	}
	for range mostErrorSteps {
		if f.fixed {
			break
		}
		f.linearise()
		extra, changes := f.extra, f.changes
		f.changes = f.changesSize()
		f.extra = f.errorSize()
		if math.Abs(f.extra-extra) < 0.1*extra && math.Abs(f.changes-changes) <= 0.1*changes {
			f.extra, f.changes = extra, changes
			f.setNoise(f.extra, true)
			break
		}
		f.setNoise(f.extra, true)
		if err := f.descend(lossTol, true); err != nil {
			return err
		}
	}
	if f.unmetLimits() {
		if err := f.descend(lossTol, false); err != nil {
			return err
		}
	}
	f.prior.theta(f.z, f.theta)
	f.model.move(f.theta)
	return nil
}

// wideErrors are the relative errors beside the readings' own with which a mode is first looked for.
var wideErrors = []float64{0.06, 0.012}

// mostErrorSteps is how often the size of the error and the mode are found by turns.
const mostErrorSteps = 3

// setNoise makes the noises ready for an extra relative error, with slips or
// without.
func (f *fitter) setNoise(extra float64, slips bool) {
	n := len(f.model.obs)
	f.noises = make([]noise, n)
	f.centres, f.least = make([]float64, n), make([]float64, n)
	for i := range f.noises {
		f.noises[i] = f.model.noise(i)
		if f.used == 1 {
			// Nothing tells an interruption from a slow machine: take the
			// machine at its word.
			f.noises[i].pause, f.noises[i].slip = 0, 0
		}
		e := extra * f.model.value(i)
		f.noises[i].sd = math.Sqrt(sq(f.noises[i].sd) + sq(e) + sq(f.changes)*f.model.changing(i))
		if !slips {
			f.noises[i].slip = 0
		}
		f.centres[i], f.least[i] = f.noises[i].centre()
	}
}

// descend goes from f.z to a mode. The model is linearised (in logarithms: a
// run time is nearly a product of powers of the constants), and the robust
// problem of the linearised model is solved from several starts, which costs
// next to nothing and finds the interruption that hides behind a constant;
// where the true posterior rises less than promised, the next step is damped.
// With keep the slopes of a former descent are carried on.
func (f *fitter) descend(tol float64, keep bool) error {
	n, p := len(f.model.obs), len(f.model.free)
	f.loss = f.evaluate(f.z, f.pred)
	fresh := !keep // is jac the model's own, or carried along?
	if !keep {
		f.linearise()
	}
	damp, poor := 0.0, 0
	zn, pn := make([]float64, p), make([]float64, n)
	var trail []float64
	most := maxOuter
	if f.model.base.Shaft.SpeedStep > 0 {
		most = maxOuterOfSteps
	}
	for outer := range most {
		if err := f.ctx.Err(); err != nil {
			return err
		}
		// A bent, narrow valley is followed for so long and no longer: the
		// rest is a fraction of a posterior deviation.
		trail = append(trail, f.loss)
		if k := len(trail) - 5; k >= 0 && trail[k]-f.loss < crawl {
			break
		}
		target, promise, err := f.inner(outer == 0 || n <= manyRows, damp)
		if err != nil {
			return err
		}
		gain := f.loss - promise // what the linearised model promises
		if gain < tol {
			if fresh || tol > lossTol {
				break
			}
			f.linearise()
			fresh, damp, poor = true, 0, 0
			continue
		}
		copy(zn, target)
		l := f.evaluate(zn, pn)
		f.carry(zn, pn)
		ratio := (f.loss - l) / gain
		if ratio < 0.3 {
			damp = max(4*damp, 0.3)
			poor++
		} else if damp /= 5; damp < 0.05 {
			damp = 0
		}
		if l < f.loss {
			copy(f.z, zn)
			copy(f.pred, pn)
			f.loss = l
			fresh = false
		}
		if poor >= 2 {
			f.linearise()
			fresh, poor = true, 0
		}
	}
	return nil
}

// evaluate is −ln posterior at z, with the predictions.
func (f *fitter) evaluate(z, pred []float64) float64 {
	f.prior.theta(z, f.theta)
	f.model.move(f.theta)
	f.model.predict(pred)
	return f.lossOf(z, pred)
}

// lossOf is −ln posterior at z where pred is predicted.
func (f *fitter) lossOf(z, pred []float64) float64 {
	sum := 0.0
	for k, v := range z {
		sum += sq(v-f.anchor[k]) / 2
	}
	for i := range pred {
		if !f.aside[i] {
			rho, _, _ := f.noises[i].loss(f.values[i] - pred[i])
			sum += rho
		}
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// linearise fills jac at f.z.
func (f *fitter) linearise() {
	f.prior.theta(f.z, f.theta)
	f.model.move(f.theta)
	f.model.predict(f.pred)
	n, p := len(f.model.obs), len(f.model.free)
	if f.raw == nil {
		f.raw = make([]float64, n*p)
	}
	f.model.jacobian(f.raw)
	for i := range n {
		f.prior.whiten(f.raw[i*p:(i+1)*p], f.jac[i*p:(i+1)*p])
	}
}

// bent is a prediction moved by s, in logarithms: p·exp(s/p), so that it stays
// positive; one that is nothing (a block without stitches) moves straight.
func bent(p, s float64) float64 {
	if p < nothing {
		return p + s
	}
	return p * math.Exp(max(min(s/p, 3), -3))
}

// bentSlope is the derivative of bent by s where it has the value y.
func bentSlope(p, y float64) float64 {
	if p < nothing {
		return 1
	}
	return y / p
}

// nothing is a time too short to have a logarithm worth having, s.
const nothing = 1e-3

// inner solves the linearised problem, robustly, from several starts, with
// damp·|z − z now|²/2 added, and gives its loss without that.
func (f *fitter) inner(many bool, damp float64) ([]float64, float64, error) {
	p := len(f.model.free)
	rows := make([]int, 0, f.used)
	for i, a := range f.aside {
		if !a {
			rows = append(rows, i)
		}
	}
	surrogate := func(i int, z []float64) float64 {
		s := 0.0
		for k := range p {
			s += f.jac[i*p+k] * (z[k] - f.z[k])
		}
		return bent(f.pred[i], s)
	}
	gradTol, stepTol := 1e-9, 1e-7
	if f.rough {
		gradTol, stepTol = 1e-4, 1e-3
	}
	solve := func(start []float64, leave map[int]bool, plain bool) (*leastsq.Result, error) {
		prob := leastsq.Problem{M: len(rows) + p, N: p}
		root := math.Sqrt(damp)
		if damp > 0 {
			prob.M += p
		}
		at, slopes := make([]float64, p), make([]float64, len(rows)) // ∂r/∂surrogate as last worked out
		prob.Residual = func(z, r []float64) {
			copy(at, z)
			for j, i := range rows {
				if leave[i] {
					r[j] = 0
					continue
				}
				y := surrogate(i, z)
				res := f.values[i] - y
				if plain {
					slopes[j] = 1 / (f.noises[i].sd + 0.01*f.values[i])
					r[j] = res * slopes[j]
				} else {
					r[j], slopes[j] = f.noises[i].root(res, f.centres[i], f.least[i])
				}
				slopes[j] *= -bentSlope(f.pred[i], y)
			}
			for k := range p {
				r[len(rows)+k] = z[k] - f.anchor[k]
				if damp > 0 {
					r[len(rows)+p+k] = root * (z[k] - f.z[k])
				}
			}
		}
		prob.Jacobian = func(z, r, jac []float64) {
			if !slices.Equal(z, at) {
				prob.Residual(z, r)
			}
			clear(jac)
			for j, i := range rows {
				if leave[i] {
					continue
				}
				for k := range p {
					jac[j*p+k] = slopes[j] * f.jac[i*p+k]
				}
			}
			for k := range p {
				jac[(len(rows)+k)*p+k] = 1
				if damp > 0 {
					jac[(len(rows)+p+k)*p+k] = root
				}
			}
		}
		return leastsq.Solve(prob, start, leastsq.Options{MaxIterations: 60, Damping: 1e-3, Straight: true,
			GradTol: gradTol, StepTol: stepTol, Anchored: true})
	}
	least := 0.0 // what the roots leave out of the loss
	for _, i := range rows {
		least += f.least[i]
	}
	promise := func(r *leastsq.Result) float64 {
		far := 0.0
		for k := range p {
			far += sq(r.X[k] - f.z[k])
		}
		return least + r.RSS/2 - damp*far/2
	}
	best, err := solve(f.z, nil, false)
	if err != nil {
		return nil, 0, err
	}
	if !many {
		return best.X, promise(best), nil
	}
	// Other starts: the plain least squares with nothing, or with the one or
	// two rows that are most too long, left out.
	leave := map[int]bool{}
	for range 4 {
		start, err := solve(make([]float64, p), leave, true)
		if err != nil {
			return nil, 0, err
		}
		res, err := solve(start.X, nil, false)
		if err != nil {
			return nil, 0, err
		}
		if res.RSS < best.RSS-1e-9 {
			best = res
		}
		worst, at := 0.0, -1
		for _, i := range rows {
			over := (f.values[i] - surrogate(i, start.X)) / f.noises[i].sd
			if over > worst && !leave[i] {
				worst, at = over, i
			}
		}
		if worst < 2.5 || len(leave)+2 > len(rows) {
			break
		}
		leave[at] = true
	}
	return best.X, promise(best), nil
}
