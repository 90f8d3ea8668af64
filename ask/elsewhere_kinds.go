package ask

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"time"

	"needlepace/audit"
	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/plan"
	"needlepace/sound"
	"needlepace/stitch"
	"needlepace/trial/mixed"
	"needlepace/words"
)

// shiftsAsked are some of the shifts that are simulated of a shop.
type shiftsAsked struct {
	Shop      *floor.Shop
	Seed      uint64
	WarmUp    float64
	UntilDone bool
	From, N   int
}

var shifts = heavy[shiftsAsked, []floor.Shift]{"shifts", func(ctx context.Context, q *shiftsAsked, _ func(done, of float64)) ([]floor.Shift, error) {
	return floor.Replications(ctx, q.Shop, floor.Options{Seed: q.Seed, WarmUp: q.WarmUp, UntilDone: q.UntilDone, Workers: 1}, q.From, q.N)
}}

// Shifts in a part that is made elsewhere: an eighth of those that are asked for, within bounds.
const (
	leastInPart = 32
	mostInPart  = 500
)

// leastAsked is for how many shifts of each of many simulations one after the other it is worth
// to ask others: each asking takes some tenths of a second.
const leastAsked = 1000

// shiftsElsewhere has a simulation's shifts made elsewhere, in parts, where it is at least so
// many; tell hears the share of all. Nil where nothing is made elsewhere.
func shiftsElsewhere(ctx context.Context, least int, tell func(share float64)) func(context.Context, *floor.Shop, floor.Options, int, int) ([]floor.Shift, error) {
	if ctx.Value(elsewhereKey{}) == nil {
		return nil
	}
	return func(ctx context.Context, shop *floor.Shop, opt floor.Options, from, n int) (all []floor.Shift, err error) {
		opt.Elsewhere = nil
		if n < least || !arrives(shop) {
			return floor.Replications(ctx, shop, opt, from, n)
		}
		size := min(max(n/8, leastInPart), mostInPart)
		var parts []shiftsAsked
		for at := from; at < from+n; at += size {
			parts = append(parts, shiftsAsked{shop, opt.Seed, opt.WarmUp, opt.UntilDone, at, min(size, from+n-at)})
		}
		came, ok, err := shifts.away(ctx, parts, func(done, of float64) {
			if tell != nil {
				tell((float64(from) + done/max(of, 1)*float64(n)) / float64(from+n))
			}
		})
		if err != nil {
			return nil, err
		}
		if !ok {
			return floor.Replications(ctx, shop, opt, from, n)
		}
		for _, some := range came {
			all = append(all, some...)
		}
		return all, nil
	}
}

// arrives reports whether a shop is read as it is written: in it an empty list and none are
// two things.
func arrives(shop *floor.Shop) bool {
	var came floor.Shop
	b, err := pack(shop)
	if err == nil {
		err = unpack(b, &came)
	}
	is, err1 := json.Marshal(shop)
	then, err2 := json.Marshal(&came)
	return errors.Join(err, err1, err2) == nil && bytes.Equal(is, then)
}

// crewAsked are crews to be simulated (floor.CrewOf).
type crewAsked struct {
	Shop             *floor.Shop
	Machine, Most    int
	Seed             uint64
	Precision, Level float64
	Min, Max         int
}

var crewed = heavy[crewAsked, []floor.Crew]{"crews", func(ctx context.Context, q *crewAsked, tell func(done, of float64)) ([]floor.Crew, error) {
	o := floor.Options{Seed: q.Seed, Precision: q.Precision, Level: q.Level, Min: q.Min, Max: q.Max}
	return floor.CrewOf(ctx, q.Shop, q.Machine, q.Most, o, func(done, of int) {
		if tell != nil {
			tell(float64(done), float64(of))
		}
	})
}}

// triedCrews is floor.CrewOf, elsewhere where that can be.
func triedCrews(ctx context.Context, s *floor.Shop, m int, o floor.Options, tell func(done, of float64)) ([]floor.Crew, error) {
	q := &crewAsked{s, m, crewMost, o.Seed, o.Precision, o.Level, o.Min, o.Max}
	if ctx.Value(elsewhereKey{}) == nil || !arrives(s) {
		return crewed.here(ctx, q, tell)
	}
	return crewed.make(ctx, q, tell)
}

// planAsked is a plan to be searched.
type planAsked struct {
	Before  *plan.Plan // nil: there is none
	Problem *plan.Problem
	Seed    uint64
	Moves   int64
	Keep    bool
	NoBound bool
}

var searched = heavy[planAsked, *plan.Schedule]{"plan", func(ctx context.Context, q *planAsked, tell func(done, of float64)) (*plan.Schedule, error) {
	o := plan.Options{Seed: q.Seed, Moves: q.Moves, Keep: q.Keep, NoBound: q.NoBound}
	if tell != nil {
		o.Progress = func(p plan.Progress) { tell(float64(p.Moves), float64(p.Of)) }
	}
	if q.Before == nil {
		return plan.Solve(ctx, q.Problem, o)
	}
	s, err := plan.Replan(ctx, *q.Before, q.Problem, o)
	if err == nil && !q.NoBound {
		s.Bound, err = plan.Bound(ctx, q.Problem, s.Lateness)
	}
	return s, err
}}

// learnAsked is a sheet to be learned. Observations of one design have one, here as there:
// Of says which, −1 for none.
type learnAsked struct {
	Prior   *machine.Sheet
	Seen    []learn.Observation
	Of      []int
	Designs []*stitch.Design
	Meant   []string
	Budget  int
}

// learnt is what came of it. A fit that only tells what is odd, and its error, are made
// where they were asked for.
type learnt struct {
	Result *learn.Result
	Of     []int // of the observations in it, in the order of eachObservation
}

// eachObservation calls do for each observation that a result has.
func eachObservation(r *learn.Result, do func(*learn.Observation)) {
	for i := range r.Runs {
		do(&r.Runs[i].Observation)
	}
	for _, slips := range [][]learn.Slip{r.Slips, r.Meant} {
		for i := range slips {
			for k := range slips[i].Meant {
				do(&slips[i].Meant[k])
			}
			for k := range slips[i].Written {
				do(&slips[i].Written[k])
			}
		}
	}
}

// designsOut takes an observation's design out, and gives its number among all; −1 for none,
// below that for one that is not among them.
func designsOut(o *learn.Observation, number map[*stitch.Design]int) int {
	k, ok := number[o.Design]
	switch {
	case o.Design == nil:
		k = -1
	case !ok:
		k = -2
	}
	o.Design = nil
	return k
}

// designIn puts it in again.
func designIn(o *learn.Observation, k int, all []*stitch.Design) bool {
	if k < -1 || k >= len(all) {
		return false
	}
	if k >= 0 {
		o.Design = all[k]
	}
	return true
}

var fitted = heavy[learnAsked, learnt]{"learn", func(ctx context.Context, q *learnAsked, _ func(done, of float64)) (learnt, error) {
	number := map[*stitch.Design]int{}
	for k, d := range q.Designs {
		number[d] = k
	}
	for i := range q.Seen {
		if i >= len(q.Of) || !designIn(&q.Seen[i], q.Of[i], q.Designs) {
			return learnt{}, errors.New("an observation's design did not come")
		}
	}
	r, err := learn.Fit(ctx, q.Prior, q.Seen, learn.Options{Meant: q.Meant, Budget: q.Budget})
	if err != nil {
		return learnt{}, err
	}
	out := learnt{Result: r}
	eachObservation(r, func(o *learn.Observation) { out.Of = append(out.Of, designsOut(o, number)) })
	return out, nil
}}

// fit is learn.Fit, elsewhere where that can be.
func fit(ctx context.Context, prior *machine.Sheet, seen []learn.Observation, o learn.Options) (*learn.Result, error) {
	if ctx.Value(elsewhereKey{}) == nil {
		return learn.Fit(ctx, prior, seen, o)
	}
	q := learnAsked{Prior: prior, Seen: append([]learn.Observation{}, seen...), Meant: o.Meant, Budget: o.Budget}
	number := map[*stitch.Design]int{}
	for i := range q.Seen {
		if d := q.Seen[i].Design; d != nil {
			if _, ok := number[d]; !ok {
				number[d], q.Designs = len(q.Designs), append(q.Designs, d)
			}
		}
		q.Of = append(q.Of, designsOut(&q.Seen[i], number))
	}
	came, ok, err := fitted.away(ctx, []learnAsked{q}, nil)
	if err != nil {
		return nil, err
	}
	if ok {
		of := came[0].Of
		eachObservation(came[0].Result, func(o *learn.Observation) {
			ok = ok && len(of) > 0 && designIn(o, of[0], q.Designs)
			of = of[min(1, len(of)):]
		})
	}
	if !ok {
		return learn.Fit(ctx, prior, seen, o)
	}
	return came[0].Result, nil
}

// pieceAsked is a test piece to be made.
type pieceAsked struct {
	Sheet   *machine.Sheet
	Options learn.PieceOptions
}

var pieced = heavy[pieceAsked, *learn.Piece]{"testpiece", func(ctx context.Context, q *pieceAsked, _ func(done, of float64)) (*learn.Piece, error) {
	return learn.TestPiece(ctx, q.Sheet, q.Options)
}}

// hearAsked is a recording to be laid on a design.
type hearAsked struct {
	Curve  *sound.Curve
	Design *stitch.Design
	Sheet  *machine.Sheet
	Job    clock.Job
	Known  bool
}

// hearing is what was heard, or why not.
type hearing struct {
	Heard   *sound.Heard
	Refused bool
	Why     sound.Refused // where it was refused
}

var heard = heavy[hearAsked, hearing]{"listen", func(ctx context.Context, q *hearAsked, tell func(done, of float64)) (hearing, error) {
	o := sound.Options{Known: q.Known}
	if tell != nil {
		o.Progress = func(done float64) { tell(done, 1) }
	}
	h, err := sound.Hear(ctx, q.Curve, q.Design, q.Sheet, q.Job, o)
	out := hearing{Heard: h}
	if errors.As(err, &out.Why) {
		return hearing{Refused: true, Why: out.Why}, nil
	}
	return out, err
}}

// orderAsked is an order of objects to be searched.
type orderAsked struct {
	Problem *sequence.Problem
	Seed    uint64
	States  int
	Quick   bool
	Initial []int
	Seconds float64 // of searching
}

var ordered = heavy[orderAsked, sequence.Result]{"order", func(ctx context.Context, q *orderAsked, tell func(done, of float64)) (sequence.Result, error) {
	o := sequence.Options{Seed: q.Seed, States: q.States, Quick: q.Quick, Initial: q.Initial}
	if tell != nil {
		o.Progress = func(p sequence.Progress) { tell(float64(p.Cost), float64(p.Bound)) }
	}
	search, stop := context.WithTimeout(ctx, time.Duration(q.Seconds*float64(time.Second)))
	defer stop()
	r, err := sequence.Solve(search, q.Problem, o)
	if ctx.Err() != nil {
		return r, ctx.Err() // nobody waits for the best so far
	}
	return r, err
}}

// searchElsewhere searches orders elsewhere where that can be, until limit ends, in ctx;
// what is quick is searched here.
func searchElsewhere(ctx context.Context) func(context.Context, *sequence.Problem, sequence.Options) (sequence.Result, error) {
	return func(limit context.Context, p *sequence.Problem, o sequence.Options) (sequence.Result, error) {
		until, ends := limit.Deadline()
		if left := time.Until(until); ends && left > 0 && o.Rounds == 0 {
			came, ok, _ := ordered.away(ctx, []orderAsked{{p, o.Seed, o.States, o.Quick, o.Initial, left.Seconds()}}, func(cost, bound float64) {
				if o.Progress != nil {
					o.Progress(sequence.Progress{Cost: int64(cost), Bound: int64(bound)})
				}
			})
			if ok {
				return came[0], nil
			}
		}
		return sequence.Solve(limit, p, o)
	}
}

// fleets are questions how the book would have gone, which those who help answer from the
// same shop.
const fleets = "fleet"

// hindsightElsewhere has the question answered elsewhere, where that can be.
func hindsightElsewhere(ctx context.Context, q *HindsightQuestion) (*HindsightAnswer, bool, error) {
	came, ok, err := heavy[HindsightQuestion, *HindsightAnswer]{kind: fleets}.away(ctx, []HindsightQuestion{*q}, func(done, _ float64) {
		if q.Progress != nil {
			q.Progress(done)
		}
	})
	if !ok || err != nil {
		return nil, false, err
	}
	a := came[0]
	if a.Fleets == nil {
		a.Fleets = []FleetRow{}
	}
	if a.Caveats == nil {
		a.Caveats = words.Sentences{}
	}
	return a, true, nil
}

// auditAsked is a design to be audited.
type auditAsked struct {
	Design  *stitch.Design
	Sheet   *machine.Sheet
	Job     clock.Job
	Options audit.Options
	Seconds float64 // until what takes long is left out; 0: never
}

var audited = heavy[auditAsked, *audit.Report]{"audit", func(ctx context.Context, q *auditAsked, _ func(done, of float64)) (*audit.Report, error) {
	in := ctx
	if q.Seconds > 0 {
		var stop context.CancelFunc
		in, stop = context.WithTimeout(ctx, time.Duration(q.Seconds*float64(time.Second)))
		defer stop()
	}
	r, err := audit.Check(in, q.Design, q.Sheet, q.Job, q.Options)
	if ctx.Err() != nil {
		return nil, ctx.Err() // nobody waits for what is left out
	}
	return r, err
}}

// auditAway is from how many stitches on it is worth to ask others for an audit: it takes some 2 s a million. Tests have less, here and below.
var auditAway = 100_000

// check is audit.Check, elsewhere where that can be.
func check(ctx context.Context, d *stitch.Design, s *machine.Sheet, job clock.Job, stitches int, o audit.Options) (*audit.Report, error) {
	if stitches < auditAway || ctx.Value(elsewhereKey{}) == nil {
		return audit.Check(ctx, d, s, job, o)
	}
	q := auditAsked{d, s, job, o, 0}
	if until, ends := ctx.Deadline(); ends {
		q.Seconds = max(time.Until(until).Seconds(), 0.001)
	}
	came, ok, err := audited.away(ctx, []auditAsked{q}, nil)
	if errors.Is(err, ErrStopped) {
		return nil, err
	}
	if !ok { // a done context leaves out what takes long, as ever
		return audit.Check(ctx, d, s, job, o)
	}
	return came[0], nil
}

// unsure is how far the times of a plan's lots may be off, as data; see with.
type unsure struct {
	Setup, Mean []float64   // by machine: standard deviation of the logarithm of a set-up's time, and its mean over its median
	Lot         [][]float64 // by machine and job: that of a lot's; nil of a machine that has none
}

// with is it as a plan is simulated with it.
func (u *unsure) with(p *plan.Problem, lot func(job, m int) float64, drawn *plan.Drawn) plan.Uncertainty {
	setup := make([]func(float64) float64, len(u.Setup))
	for m, sd := range u.Setup {
		setup[m] = plan.LogNormal(sd)
	}
	return plan.Uncertainty{
		Machine: func(m int, x float64) float64 { return plan.LogNormal(p.Machines[m].Spread)(x) },
		Lot:     func(job, m int, x float64) float64 { return plan.LogNormal(lot(job, m))(x) },
		Setup:   func(m int, x float64) float64 { return setup[m](x) / u.Mean[m] },
		Laws:    func(job, m int) (set, work float64) { return u.Mean[m], lot(job, m) },
		Kept:    drawn,
	}
}

// coursesAsked are courses of a plan to be simulated.
type coursesAsked struct {
	Problem  *plan.Problem
	Schedule *plan.Schedule
	Unsure   unsure
	Options  plan.PromiseOptions
}

var courses = heavy[coursesAsked, []plan.Promised]{"courses", func(ctx context.Context, q *coursesAsked, _ func(done, of float64)) ([]plan.Promised, error) {
	lot := func(job, m int) float64 { return q.Unsure.Lot[m][job] }
	return plan.Promise(ctx, q.Problem, q.Schedule, q.Unsure.with(q.Problem, lot, &plan.Drawn{}), q.Options)
}}

// coursesAway is from how many lots on it is worth to ask others for the courses of all of a plan.
var coursesAway = 400

// sampleAsked are times of machines side by side to be weighed.
type sampleAsked struct {
	Data    *mixed.Data
	Options mixed.Options
}

var weighed = heavy[sampleAsked, []mixed.Draw]{"trial", func(_ context.Context, q *sampleAsked, _ func(done, of float64)) ([]mixed.Draw, error) {
	return mixed.Sample(q.Data, q.Options)
}}

// sampleAway is from how many cells on it is worth to ask others: 120 took 2 to 5 s, 40 a third of one.
var sampleAway = 60

// sample is mixed.Sample, elsewhere where that can be.
func sample(ctx context.Context, d *mixed.Data, o mixed.Options) ([]mixed.Draw, error) {
	q := sampleAsked{d, o}
	if d.Rows*d.Cols < sampleAway {
		return weighed.here(ctx, &q, nil)
	}
	return weighed.make(ctx, &q, nil)
}
