package floor

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"sort"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// Options is how a shift is simulated.
type Options struct {
	Seed      uint64
	Precision float64 // stop when the interval of the mean yield is ± this fraction of it; 0: 0.005
	Level     float64 // of all intervals; 0: 0.90
	Batch     int     // replications between two looks at the interval, which settle how many are made; 0: 64
	Min, Max  int     // replications; 0: Batch and 20,000
	Workers   int     // goroutines; 0: one a core. The result does not depend on it
	WarmUp    float64 // s at the start that are simulated and not measured
	// Elsewhere, if not nil, makes replications in place of Replications, as that does: n of
	// them, the first of which is number from. So many are asked for at once as are likely to be needed.
	Elsewhere func(ctx context.Context, shop *Shop, opt Options, from, n int) ([]Shift, error)
	// UntilDone simulates until the last job is done instead of one shift:
	// every job must have a quantity, and pauses then belong to no shift and
	// must not be given.
	UntilDone bool
}

func (o *Options) fill(s *Shop) error {
	if o.Precision == 0 {
		o.Precision = .005
	}
	if o.Level == 0 {
		o.Level = .90
	}
	if o.Batch == 0 {
		o.Batch = 64
	}
	if o.Min == 0 {
		o.Min = o.Batch
	}
	if o.Max == 0 {
		o.Max = max(20_000, o.Min)
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	switch {
	case !(o.Precision > 0 && o.Precision < 1):
		return fmt.Errorf("a precision of %g: give a fraction, 0.0001 to 0.5", o.Precision)
	case !(o.Level > 0 && o.Level < 1):
		return fmt.Errorf("an interval of level %g: give a fraction such as 0.90", o.Level)
	case o.Batch < 2:
		return fmt.Errorf("a look at the interval after each %d replications: give at least 2", o.Batch)
	case o.Min < 2 || o.Max < o.Min:
		return fmt.Errorf("%d to %d replications: give at least 2, and no more at least than at most", o.Min,
			o.Max)
	case !(o.WarmUp >= 0) || !o.UntilDone && o.WarmUp >= newPlan(s).length:
		return fmt.Errorf("a warm-up of %g s leaves nothing of the shift to measure", o.WarmUp)
	}
	if o.UntilDone {
		if len(s.Pauses) > 0 {
			return errors.New("a simulation until the last job is done takes no pauses")
		}
		for i, j := range s.Jobs {
			if j.Quantity == 0 {
				return keyErr(fmt.Sprintf("job[%d].quantity", i+1), "is missing: a job without end is never done")
			}
		}
	}
	return nil
}

// Estimate is a quantity of a shift: its mean over replications, the interval
// of that mean (how well the simulation knows it) and the range in which a
// single shift falls (how much shifts differ), both of the options' level.
type Estimate struct {
	Mean      float64
	Low, High float64 // interval of the mean
	From, To  float64 // single shifts
}

// Result is a simulated shift: every number a mean over the replications.
type Result struct {
	Shop         *Shop
	Replications int
	Level        float64
	Narrow       bool // is the interval as narrow as asked?
	Length       float64

	Pieces   Estimate // sewn to the end
	Good     Estimate // of them, not spoilt
	Finished Estimate // s, with UntilDone: when the last job was done
	Left     float64  // pieces' worth under way at the end of the shift
	Jobs     []float64
	Machines []MachineResult
	Hands    []HandShift // means
	Calls    float64
	Waited   float64 // of the calls
	AllBusy  float64 // s
	OEE      OEE     // of the whole shop

	// ByShift is the yield of each replication, in order; BySecond the time
	// of Finished. They are what comparisons pair.
	ByShift    []float64
	ByFinished []float64
}

// MachineResult is one machine's shift.
type MachineResult struct {
	Name    string
	Seconds [NumStates]float64 // they add up to the shift
	Pieces  Estimate
	Good    float64
	Breaks  float64
	Bobbins float64
	Runs    float64
	Left    float64 // pieces' worth under way at the end of the shift
	// Attended is the operators' time that goes to the machine: on the way to
	// it, at it and hooping for it, s. Labour is shared between machines by it.
	Attended float64
	OEE      OEE
}

// HandUse is the fraction of an operator's time outside pauses that is work
// or walking.
func (r *Result) HandUse(o int) float64 {
	h := r.Hands[o]
	there := r.Length - h.Away
	if there <= 0 {
		return 0
	}
	return (h.Walking + h.Machines + h.Hooping) / there
}

// Progress is called after every batch: replications made, and the present
// half-width of the mean yield's interval as a fraction of the mean.
type Progress func(made int, half float64)

// Simulate runs the shop's shift again and again until the interval of the
// mean yield is as narrow as asked (or Max is reached: Result.Narrow says).
// With the same shop, seed and options the result is the same on any number
// of cores. An invalid shop gives a *KeyError; a cancelled context its error.
func Simulate(ctx context.Context, shop *Shop, opt Options, progress Progress) (*Result, error) {
	if err := shop.Validate(); err != nil {
		return nil, err
	}
	if err := opt.fill(shop); err != nil {
		return nil, err
	}
	makes := func(ctx context.Context, from, n int) ([]Shift, error) { return opt.Elsewhere(ctx, shop, opt, from, n) }
	if opt.Elsewhere == nil {
		sims := make([]*sim, opt.Workers)
		makes = func(ctx context.Context, from, n int) ([]Shift, error) {
			return replications(ctx, shop, &opt, sims, from, n)
		}
	}
	var shifts []Shift
	narrow, looked, half := 0, 0, 0.0
	for looked < opt.Max {
		n := opt.Batch
		if looked == 0 {
			n = max(n, opt.Min)
		}
		to := min(looked+n, opt.Max)
		if to > len(shifts) {
			all := to
			if opt.Elsewhere != nil {
				all = opt.likely(looked, half)
			}
			made, err := makes(ctx, len(shifts), all-len(shifts))
			if err == nil && len(made) != all-len(shifts) {
				err = fmt.Errorf("%d shifts came of the %d that were asked for", len(made), all-len(shifts))
			}
			if err != nil {
				return nil, err
			}
			shifts = append(shifts, made...)
		}
		looked = to
		half = relativeHalf(shifts[:looked], &opt)
		if progress != nil {
			progress(looked, half)
		}
		// One look that is narrow by luck must not end it: that would make
		// intervals too short on the whole. Two in a row do.
		if half > opt.Precision {
			narrow = 0
		} else if narrow++; looked >= opt.Min && narrow >= 2 {
			break
		}
	}
	return summarise(shop, &opt, shifts[:looked]), nil
}

// likely is how many replications are likely to be needed in all, where so many are made whose
// interval is ± half: it narrows as one over the root of their number.
func (o *Options) likely(made int, half float64) int {
	n := max(o.Min, o.Batch) + o.Batch // one look more: two in a row must be narrow
	if made > 0 {
		share := half / o.Precision
		n = made + o.Batch*(2+int(min(float64(made)*max(1.1*share*share-1, 0), float64(o.Max))/float64(o.Batch)))
	}
	return min(n, o.Max)
}

// Replications makes n replications of the shop's shift, the first of which is number from
// (from 0): those that Simulate makes with the same shop and seed. Errors as Simulate's.
func Replications(ctx context.Context, shop *Shop, opt Options, from, n int) ([]Shift, error) {
	if err := shop.Validate(); err != nil {
		return nil, err
	}
	if err := opt.fill(shop); err != nil {
		return nil, err
	}
	if from < 0 || n < 0 {
		return nil, fmt.Errorf("%d replications from number %d: give 0 or more", n, from)
	}
	return replications(ctx, shop, &opt, make([]*sim, opt.Workers), from, n)
}

// replications is Replications on simulations that are used again.
func replications(ctx context.Context, shop *Shop, opt *Options, sims []*sim, from, n int) ([]Shift, error) {
	shifts := make([]Shift, n)
	err := fan(ctx, sims, n, func(w, k int) (err error) {
		if sims[w] == nil {
			sims[w] = newSim(shop, opt)
		}
		shifts[k], err = sims[w].runShift(ctx, from+k)
		return err
	})
	return shifts, err
}

// fan makes n calls on as many goroutines as there are workers.
func fan(ctx context.Context, workers []*sim, n int, do func(worker, k int) error) error {
	var (
		wg   sync.WaitGroup
		mu   sync.Mutex
		next int
		bad  error
	)
	for w := range workers {
		wg.Go(func() {
			for {
				mu.Lock()
				k := next
				next++
				stop := bad != nil
				mu.Unlock()
				if stop || k >= n {
					return
				}
				err := ctx.Err()
				if err == nil {
					err = do(w, k)
				}
				if err != nil {
					mu.Lock()
					if bad == nil {
						bad = err
					}
					mu.Unlock()
					return
				}
			}
		})
	}
	wg.Wait()
	return bad
}

// student is the half-width of an interval of a mean in standard errors.
func student(level float64, n int) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile((1 + level) / 2)
}

func (o *Options) target(s *Shift) float64 {
	if o.UntilDone {
		return s.Finished
	}
	return float64(s.Pieces)
}

// relativeHalf is the half-width of the interval of the mean as a fraction of
// the mean; infinite where nothing was yielded in some shifts only.
func relativeHalf(shifts []Shift, o *Options) float64 {
	var m moments
	for i := range shifts {
		m.add(o.target(&shifts[i]))
	}
	half := student(o.Level, m.n) * m.sd() / math.Sqrt(float64(m.n))
	if half == 0 {
		return 0
	}
	return half / m.mean
}

// moments are a running mean and variance (Welford 1962).
type moments struct {
	n        int
	mean, m2 float64
}

func (m *moments) add(x float64) {
	m.n++
	d := x - m.mean
	m.mean += d / float64(m.n)
	m.m2 += d * (x - m.mean)
}

func (m *moments) sd() float64 {
	if m.n < 2 {
		return 0
	}
	return math.Sqrt(m.m2 / float64(m.n-1))
}

// estimate is the Estimate of values, which are left as they are.
func estimate(values []float64, level float64) Estimate {
	var m moments
	sum := 0.0
	for _, v := range values {
		m.add(v)
		sum += v
	}
	if m.n > 0 {
		m.mean = sum / float64(m.n) // whole pieces stay as exact as they can be
	}
	e := Estimate{Mean: m.mean, Low: m.mean, High: m.mean}
	if m.n > 1 {
		half := student(level, m.n) * m.sd() / math.Sqrt(float64(m.n))
		e.Low, e.High = m.mean-half, m.mean+half
	}
	sorted := append([]float64(nil), values...)
	sort.Float64s(sorted)
	e.From, e.To = quantile(sorted, (1-level)/2), quantile(sorted, (1+level)/2)
	return e
}

// quantile is the p-quantile of sorted values by the rule p(N+1) (NIST
// e-Handbook 7.2.6.2; Hyndman and Fan's sixth).
func quantile(sorted []float64, p float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	h := p*float64(n+1) - 1
	if h <= 0 {
		return sorted[0]
	}
	if h >= float64(n-1) {
		return sorted[n-1]
	}
	i := int(h)
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// summarise adds replications up in their order, so that rounding is the
// same whoever made them.
func summarise(shop *Shop, opt *Options, shifts []Shift) *Result {
	n := len(shifts)
	r := &Result{Shop: shop, Replications: n, Level: opt.Level, Narrow: relativeHalf(shifts, opt) <= opt.Precision,
		Jobs: make([]float64, len(shop.Jobs)), Machines: make([]MachineResult, len(shop.Machines)),
		Hands: make([]HandShift, len(shop.Operators))}
	good := make([]float64, n)
	perMachine := make([]float64, n)
	for i := range shifts {
		s := &shifts[i]
		r.ByShift = append(r.ByShift, float64(s.Pieces))
		r.ByFinished = append(r.ByFinished, s.Finished)
		good[i] = float64(s.Good)
		r.Length += s.Length
		r.Calls += float64(s.Calls)
		r.Waited += float64(s.Waited)
		r.AllBusy += s.AllBusy
		for j, p := range s.Jobs {
			r.Jobs[j] += float64(p)
		}
		for j, h := range s.Hands {
			o := &r.Hands[j]
			o.Walking += h.Walking
			o.Machines += h.Machines
			o.Hooping += h.Hooping
			o.Away += h.Away
		}
	}
	// Sums first, then one division: a mean of whole numbers is as exact as it can be.
	for _, sum := range []*float64{&r.Length, &r.Calls, &r.Waited, &r.AllBusy} {
		*sum /= float64(n)
	}
	for j := range r.Jobs {
		r.Jobs[j] /= float64(n)
	}
	for j := range r.Hands {
		o := &r.Hands[j]
		for _, sum := range []*float64{&o.Walking, &o.Machines, &o.Hooping, &o.Away} {
			*sum /= float64(n)
		}
	}
	r.Pieces = estimate(r.ByShift, opt.Level)
	r.Good = estimate(good, opt.Level)
	r.Finished = estimate(r.ByFinished, opt.Level)
	var all Times
	for m := range r.Machines {
		x := &r.Machines[m]
		x.Name = shop.Machines[m].Name
		var t Times
		for i := range shifts {
			s := &shifts[i].Machines[m]
			perMachine[i] = float64(s.Pieces)
			for st, sec := range s.Seconds {
				x.Seconds[st] += sec
			}
			x.Good += float64(s.Good)
			x.Breaks += float64(s.Breaks)
			x.Bobbins += float64(s.BobbinEnds)
			x.Runs += float64(s.Runs)
			x.Left += s.Left
			x.Attended += s.Attended
			t.add(timesOf(s))
		}
		for st := range x.Seconds {
			x.Seconds[st] /= float64(n)
		}
		for _, sum := range []*float64{&x.Good, &x.Breaks, &x.Bobbins, &x.Runs, &x.Left, &x.Attended} {
			*sum /= float64(n)
		}
		r.Left += x.Left
		x.Pieces = estimate(perMachine, opt.Level)
		x.OEE = t.OEE()
		all.add(t)
	}
	r.OEE = all.OEE()
	return r
}
