package ask

import (
	"context"
	"fmt"
	"math"

	"needlepace/book"
	"needlepace/machine"
	"needlepace/plan"
)

// What is not known of a lot's time beside the breaks and the loading that are
// counted, as standard deviations of the logarithm; assumed. What the reports
// say of a machine takes away from what is not known of it.
const (
	paceSD = 0.10 // of a machine's yield against what the floor's numbers say
	daySD  = 0.06 // of one lot: the people, the goods, the day
)

// mostUnseen is by how much more what is left of a lot may be off, as a share of it, than the whole lot: nearer to its end
// a log-normal course would be none that is seen.
const mostUnseen = 4.0

// uncertainty is how far the plan's times may be off, machine by machine and lot by lot. What is drawn of it is kept
// in drawn; nil: nowhere.
func (p *problem) uncertainty(sc *plan.Schedule, drawn *plan.Drawn) plan.Uncertainty {
	u, lot := p.unsure(sc)
	return u.with(p.Problem, lot, drawn)
}

// unsure is it as data, with what lots are off: of each machine when it is asked for the first time.
func (p *problem) unsure(sc *plan.Schedule) (u *unsure, lot func(job, m int) float64) {
	u = &unsure{make([]float64, len(p.stations)), make([]float64, len(p.stations)), make([][]float64, len(p.stations))}
	lot = func(job, m int) float64 {
		if u.Lot[m] == nil {
			u.Lot[m] = make([]float64, len(p.jobs))
			for _, l := range sc.Queue(m) {
				whole := l.Work
				if pin := p.Jobs[l.Job].Pin; pin != nil && pin.Running {
					whole += pin.Done // nobody saw how far it came: what is left is as far off as all of it is
				}
				u.Lot[m][l.Job] = p.stations[m].lotSD(p.jobs[l.Job].on[m], l.Quantity, whole) * min(whole/max(l.Work, 1), mostUnseen)
			}
		}
		return u.Lot[m][job]
	}
	for m, st := range p.stations {
		cv := st.work.Setup.CV
		u.Mean[m] = math.Sqrt(1 + cv*cv) // of a log-normal of median 1: set-ups are planned by their mean
		u.Setup[m] = math.Sqrt(math.Log1p(cv * cv))
	}
	return u, lot
}

// lotSD is the root of lotVariance.
func (st *station) lotSD(k *lineOn, pieces int, work float64) float64 {
	return math.Sqrt(st.lotVariance(k, pieces, work))
}

// lotVariance is the variance of the logarithm of a lot's time where the
// machine's pace is known: a Poisson number of breaks, each of a spread time, loads
// of a spread time each, runs for spoilt pieces, and the day.
func (st *station) lotVariance(k *lineOn, pieces int, work float64) float64 {
	f := &st.floor
	breaks := f.Breaks / 1000 * float64(k.Stitches) * float64(pieces)
	loads := float64(pieces)
	v := breaks*k.PerBreak*k.PerBreak*(1+f.Repair.CV*f.Repair.CV) + loads*f.Load.Mean*f.Load.Mean*f.Load.CV*f.Load.CV
	// Spoilt pieces are sewn again as many at once as there are heads; whether a last run
	// more is needed is a matter of chance too.
	again, heads := loads*k.Spoilt, max(1, float64(f.Heads))
	full, few := k.Cycle/heads, k.Cycle-k.Idle*(heads-1)
	v += again*full*full + min(again, .25)*(1-1/heads)*few*few
	work = max(work, 1)
	return v/(work*work) + daySD*daySD
}

// unknown is the standard deviation of the logarithm of a machine's pace, its own
// constants as they tell on a job.
func (p *problem) unknown(ctx context.Context, from LineFrom, m, job int) (float64, error) {
	st, of := p.stations[m], p.jobs[job]
	k := of.on[m]
	key := fmt.Sprint(of.line.DesignID, of.line.LineGoods, k.Needles, st.digest)
	sd, err := from.Memory().figures.get(ctx, mostLines, key, func() (float64, error) { return spread(ctx, from, of.line, k, st) })
	if err != nil {
		return 0, err
	}
	return unknown(sd*k.Seconds/max(k.Cycle, k.Seconds), st.rates.Hours), nil
}

// unknown is the standard deviation of the logarithm of a machine's pace: what
// its sheet does not know (sheet), with what is not known beside it. Hours that
// were timed tell of both together, and as every mean's, the spread of what is
// left goes with the root of what they weigh against what was assumed.
func unknown(sheet, hours float64) float64 {
	return math.Hypot(sheet, paceSD) * math.Sqrt(book.PriorHours/(book.PriorHours+hours))
}

// spread is the standard deviation of the logarithm of a line's run time on a
// machine, as far as the sheet knows its constants.
func spread(ctx context.Context, from LineFrom, l *book.OrderLine, k *lineOn, st *station) (float64, error) {
	if !uncertain(st.Sheet) {
		return 0, nil
	}
	c, err := clockOn(ctx, from, l.DesignID, st, st.clockJob(l, k))
	if err != nil {
		return 0, err
	}
	how := c.how
	if !(how.Low > 0 && how.High > how.Low) {
		return 0, nil
	}
	const z90 = 1.6449 // the normal quantile at 95 %
	return math.Log(how.High/how.Low) / (2 * z90), nil
}

func uncertain(s *machine.Sheet) bool { return len(s.SD) > 0 }

// promiseDraws is how many courses of the plan are simulated: the day at 90 %
// then moves by about 1 % of chance from one seed to another.
const promiseDraws = 1000

// promise simulates a plan and writes the promised days and chances into it.
func promise(ctx context.Context, p *problem, sc *plan.Schedule, drawn *plan.Drawn, out *book.Plan) error {
	defer p.oneDelivery(out)
	if len(sc.Lots) == 0 {
		return nil
	}
	all, err := promised(ctx, p, sc, drawn, out.Chance, allJobs)
	if err != nil {
		return err
	}
	at := map[string]int{}
	for i := range out.Ends {
		at[jobID(&book.Order{ID: out.Ends[i].OrderID}, &book.OrderLine{Line: out.Ends[i].Line})] = i
	}
	latest := map[int]float64{}
	groups := p.orderJobs()
	for _, pr := range all {
		if pr.Job < 0 { // an order of several lines
			of := p.jobs[groups[-1-pr.Job][0]].order
			whole := &book.WholeEnd{Day: p.w.DayFor(p.At(pr.Promise)), OnTime: -1}
			for i := range out.Ends {
				if e := &out.Ends[i]; e.OrderID == of.ID && e.Partner == "" {
					if e.Whole = whole; !e.Due.IsZero() {
						whole.OnTime = pr.OnTime
					}
				}
			}
			continue
		}
		of := p.jobs[pr.Job]
		i := at[jobID(of.order, of.line)]
		e := &out.Ends[i]
		// Parts of one line: the latest promise, the smaller chance.
		if t, ok := latest[i]; !ok || pr.Promise > t {
			latest[i] = pr.Promise
			e.Day = p.w.DayFor(p.At(pr.Promise))
		}
		if !e.Due.IsZero() && (e.OnTime < 0 || pr.OnTime < e.OnTime) {
			e.OnTime = pr.OnTime
		}
	}
	return nil
}

// allJobs asks promised for all jobs.
const allJobs = -1

// promised simulates a plan. Where from is a job, those from it on are asked for, an
// order that is promised as a whole; else all jobs are.
func promised(
	ctx context.Context, p *problem, sc *plan.Schedule, drawn *plan.Drawn, chance float64, first int,
) ([]plan.Promised, error) {
	o := plan.PromiseOptions{Chance: chance, Draws: promiseDraws, Seed: 1}
	if first < 0 {
		o.Wholes, o.Groups = p.wholes(), p.orderJobs()
	} else {
		o.Of = []int{} // none is none
		for i := first; i < len(p.Jobs); i++ {
			o.Of = append(o.Of, i)
		}
		o.Wholes = [][]int{o.Of}
	}
	u, lot := p.unsure(sc)
	if first < 0 && len(sc.Lots) >= coursesAway && ctx.Value(elsewhereKey{}) != nil {
		for _, l := range sc.Lots {
			lot(l.Job, l.Machine)
		}
		came, ok, err := courses.away(ctx, []coursesAsked{{p.Problem, sc, *u, o}}, nil)
		if ok || err != nil {
			if err == nil {
				return came[0], nil
			}
			if ctx.Err() != nil {
				return nil, stopped(ctx)
			}
			return nil, err
		}
	}
	all, err := plan.Promise(ctx, p.Problem, sc, u.with(p.Problem, lot, drawn), o)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	return all, wrong(err)
}
