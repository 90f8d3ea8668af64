package learn

import (
	"cmp"
	"math"
	"slices"

	"needlepace/machine"
)

// withJobs is the sheet with what is assumed of the kinds of job that the
// observations name free to learn. What no run names stays assumed.
func withJobs(sheet *machine.Sheet, obs []Observation) *machine.Sheet {
	var named machine.Jobs
	for i := range obs {
		if !obs[i].Ignored {
			named |= obs[i].Job
		}
	}
	if named == 0 || len(sheet.SD) == 0 {
		return sheet
	}
	s := sheet.Clone()
	for c := range machine.JobConstants(named) {
		s.SD[c.Path] = sheet.Spread(c)
	}
	return s
}

// jobRuns counts the rows of each kind of job, those before added.
func jobRuns(before *machine.Fit, obs []Observation, aside []bool) []machine.RunsOfJob {
	runs := map[machine.Jobs]int{}
	if before != nil {
		for _, j := range before.Jobs {
			runs[j.Job] += j.Runs
		}
	}
	for i := range obs {
		if !aside[i] && obs[i].Job != 0 {
			runs[obs[i].Job]++
		}
	}
	var out []machine.RunsOfJob
	for j, n := range runs {
		out = append(out, machine.RunsOfJob{Job: j, Runs: n})
	}
	slices.SortFunc(out, func(a, b machine.RunsOfJob) int { return cmp.Compare(a.Job, b.Job) })
	return out
}

// isLimit reports whether a constant is the most speed of a kind of job. Its
// slope is taken downwards: above the speed that the operator had set it has none.
func isLimit(c *machine.Constant) bool { return c.Job != 0 && c.Unit != "" }

// reached is the natural logarithm of the highest speed that the rows which name
// constant k's kind of job were set to (other limits of theirs counted): what the
// limit could show at most. false: no row names it.
func (f *fitter) reached(k int) (float64, bool) {
	c := &f.model.free[k]
	top := 0.0
	for i := range f.model.obs {
		o := &f.model.obs[i]
		if f.aside[i] || o.Job&c.Job == 0 {
			continue
		}
		v := min(o.SetSpeed, f.model.base.MaxSpeed)
		if other := f.model.sheet.JobSpeed(o.Job &^ c.Job); other > 0 {
			v = min(v, other)
		}
		top = max(top, v)
	}
	return math.Log(top), top > 0
}

// belowSetting starts the limits of kinds of job where the rows can tell that
// they are lower: a limit above the speed that was set has no slope.
func (f *fitter) belowSetting() {
	moved := false
	f.prior.theta(f.z, f.theta)
	f.model.move(f.theta)
	for k := range f.model.free {
		if top, ok := f.reached(k); isLimit(&f.model.free[k]) && ok && f.theta[k] > top-limitStart {
			f.theta[k] = top - limitStart
			moved = true
		}
	}
	if moved {
		f.prior.solve(f.theta, f.z)
	}
}

const (
	limitStart  = 0.02 // how far below the setting a limit starts, of its logarithm
	limitNear   = 0.7  // what a limit at the setting may lose against where it came out
	limitTaught = 4    // what a limit one spread below the setting loses at least, −ln likelihood, where it was not met
)

// unmet reports whether the rows speak for a limit that none of them met: they
// were as fast as the setting allows, and would not have been with a lower limit.
func (f *fitter) unmet(k int, top float64) bool {
	z, pred := make([]float64, len(f.z)), make([]float64, len(f.pred))
	theta := slices.Clone(f.theta)
	// both is −ln posterior and −ln likelihood with the limit somewhere.
	both := func(limit float64) (float64, float64) {
		theta[k] = limit
		f.prior.solve(theta, z)
		all := f.evaluate(z, pred)
		data := all
		for j, v := range z {
			data -= sq(v-f.anchor[j]) / 2
		}
		return all, data
	}
	was := f.theta[k]
	now, nowData := both(was)
	at, atData := both(top)
	_, lower := both(top - f.prior.sd[k])
	theta[k] = was
	copy(f.theta, theta)
	f.model.move(f.theta)
	return at < now+limitNear && atData < nowData+limitNear && lower > atData+limitTaught
}

// unmetLimits puts limits that no row met where they can be: above what was set,
// as likely as before (the moments of the normal cut off below: Johnson, Kotz and
// Balakrishnan, Continuous Univariate Distributions 1, 1994, section 13.10.1).
// Limits that a former fit learned stay as they come out. true: some were moved.
func (f *fitter) unmetLimits() bool {
	moved := false
	f.prior.theta(f.z, f.theta)
	for k := range f.model.free {
		c := &f.model.free[k]
		top, ok := f.reached(k)
		if !isLimit(c) || !ok || !f.prior.alone(k) || !f.unmet(k, top) {
			continue
		}
		f.prior.mean[k], f.prior.sd[k] = above(f.prior.mean[k], f.prior.sd[k], top)
		f.prior.lower.SetTri(k, k, f.prior.sd[k])
		f.theta[k] = f.prior.mean[k]
		moved = true
	}
	if moved {
		f.prior.solve(f.theta, f.z)
	}
	return moved
}

// alone reports whether a constant goes with no other in the prior.
func (p *prior) alone(k int) bool {
	for j := range p.mean {
		if j != k && p.lower.At(max(j, k), min(j, k)) != 0 {
			return false
		}
	}
	return true
}

// above is the mean and the standard deviation of a normal that is known to lie
// above a bound.
func above(mean, sd, bound float64) (float64, float64) {
	a := (bound - mean) / sd
	tail := math.Erfc(a/math.Sqrt2) / 2
	if tail < 1e-12 { // so far out that the tail is exponential
		return bound + sd/a, sd / a
	}
	l := math.Exp(-a*a/2) / math.Sqrt(2*math.Pi) / tail
	return mean + sd*l, sd * math.Sqrt(max(1+a*l-l*l, 1e-6))
}
