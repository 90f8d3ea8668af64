package ask

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// worthWaiting is by how many seconds an order must end later for another one
// to be told of.
const worthWaiting = 60.0

// dates is when an order could be had, and where the plan would sew it.
type dates struct {
	p                 *problem // with the order's lines in it, where they can be made
	earliest, promise words.Day
	onTime            float64
	others            []string
	notes             []string
	on                map[int]int // line → station
	hours             float64
}

// datesOf puts an order into the kept plan where it is done earliest without
// making others late, and simulates that plan.
func datesOf(ctx context.Context, from PlanFrom, o *book.Order, chance float64, now time.Time) (*dates, error) {
	kept, err := from.LastPlan(ctx)
	if err != nil {
		return nil, err
	}
	x := *o
	x.Promised = words.Day{} // what was told before is not what is asked now
	full, err := problemOf(ctx, from, &PlanQuestion{Now: now, extra: []*book.Order{&x}, NoBound: true})
	if err != nil {
		return nil, err
	}
	d := &dates{onTime: -1, on: map[int]int{}}
	for _, l := range full.left {
		if l.OrderID == o.ID {
			d.notes = append(d.notes, fmt.Sprintf("line %d is not in the dates: %s", l.Line, l.Why))
		}
	}
	base := *full
	base.jobs = nil
	rest := *full.Problem
	rest.Jobs = nil
	var mine []plan.Job
	var mineOf []jobOf
	for i := range full.Jobs {
		if full.jobs[i].order == &x {
			mine, mineOf = append(mine, full.Jobs[i]), append(mineOf, full.jobs[i])
			continue
		}
		rest.Jobs = append(rest.Jobs, full.Jobs[i])
		base.jobs = append(base.jobs, full.jobs[i])
	}
	base.Problem = &rest
	var sc *plan.Schedule
	switch {
	case len(rest.Jobs) == 0:
		sc = &plan.Schedule{}
	case kept == nil || len(kept.Lots) == 0:
		o := plan.Options{NoBound: true, LotSeconds: full.w.Split * 3600}
		if sc, err = plan.Solve(ctx, &rest, o); err != nil {
			return nil, wrong(err)
		}
	default:
		desk, err := plan.NewDesk(&rest, base.again(kept))
		if err != nil {
			return nil, wrong(err)
		}
		sc = desk.Schedule()
	}
	p := base.Problem
	var ends []float64
	before := sc.Ends(p)
	n := len(p.Jobs)
	for i, j := range mine {
		due := j.Due
		j.Due = math.Inf(1)
		offer, err := plan.Earliest(p, sc, j)
		if err != nil {
			return nil, wrong(err)
		}
		p, sc = offer.With, offer.Plan
		p.Jobs[len(p.Jobs)-1].Due = due
		base.jobs = append(base.jobs, mineOf[i])
		ends = append(ends, offer.End)
		pieces := 0
		for _, l := range offer.Lots {
			d.hours += (l.Setup + l.Work) / 3600
			if line := mineOf[i].line.Line; l.Quantity > pieces {
				pieces, d.on[line] = l.Quantity, l.Machine
			}
		}
	}
	base.Problem = p
	d.p = &base
	if len(mine) == 0 {
		return d, nil
	}
	after := sc.Ends(p)
	for i := range n {
		if due := p.Jobs[i].Due; after[i] >= due+lateFrom && after[i] > before[i]+worthWaiting {
			d.others = append(d.others, fmt.Sprintf("%s would be %s late, %s without it",
				p.Jobs[i].Name, shortTime(after[i]-due), shortTime(max(0, before[i]-due))))
		}
	}
	d.earliest = full.w.DayFor(p.At(slices.Max(ends)))
	courses, err := promised(ctx, from, d.p, sc, chance)
	if err != nil {
		return nil, err
	}
	latest := 0.0
	for _, pr := range courses {
		if pr.Job < n {
			continue
		}
		latest = max(latest, pr.Promise)
		if !o.Due.IsZero() && (d.onTime < 0 || pr.OnTime < d.onTime) {
			d.onTime = pr.OnTime
		}
	}
	d.promise = full.w.DayFor(p.At(latest))
	if o.Due.After(d.promise) {
		d.promise = o.Due
	}
	return d, nil
}

func shortTime(s float64) string {
	if s < 36*3600 {
		return fmt.Sprintf("%.1f h", s/3600)
	}
	return fmt.Sprintf("%.1f days", s/86400)
}
