package money

import (
	"context"
	"fmt"
	"slices"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/stitch"
	"needlepace/thread"
)

// Quote is the cost of one design on one machine of a shop, in quantity steps.
type Quote struct {
	Machine string
	Heads   int
	Clock   *clock.Result
	How     *clock.Uncertainty // of the run time
	Use     thread.Use
	Thread  thread.Need // for an order of the last step's pieces
	Made    Made
	Steps   []*Cost
	// Low and High are the totals of the last step at the ends of the run
	// time's interval.
	Low, High Dec
	// Missing names the keys of [money] that count as zero for want of a figure.
	Missing []string
	// Placeholder: the rates were an example's, not the owner's own.
	Placeholder bool
}

// OnFloor costs a design on one machine of a shop: the machine sews the
// design all shift among the shop's other machines at their own jobs, and the
// simulated shift gives every second of a piece, waiting and thread breaks
// included. threads may be nil (the file's own).
func OnFloor(ctx context.Context, r *floor.Resolved, rates *Rates, d *stitch.Design, name string, m int, speed float64,
	g floor.Goods, quantities []int, opt floor.Options) (*Quote, error) {
	if len(quantities) == 0 {
		return nil, fmt.Errorf("no quantity to cost")
	}
	shop := *r.Shop
	sheet, w := r.Sheets[m], r.Works[m]
	own, ok := rates.Machines[shop.Machines[m].Name]
	if !ok {
		return nil, bad(fmt.Sprintf("money.machines.%q", shop.Machines[m].Name),
			"is missing: give the machine's price, life_years, salvage, upkeep_per_year and kilowatts")
	}
	job := g.Clock(speed)
	if err := job.Validate(); err != nil {
		return nil, err
	}
	heads := shop.Machines[m].Heads
	run, err := floor.NewRun(d, sheet, job, w, heads, r.Law, nil)
	if err != nil {
		return nil, err
	}
	jobs := []floor.Job{{Name: name, Machines: []int{m}, Runs: make([]floor.Run, len(shop.Machines))}}
	jobs[0].Runs[m] = r.Paced(run, m)
	for _, j := range shop.Jobs {
		c := j
		c.Machines = nil
		for k := range shop.Machines {
			if k == m {
				continue
			}
			if j.Machines == nil || slices.Contains(j.Machines, k) {
				c.Machines = append(c.Machines, k)
			}
		}
		if len(c.Machines) > 0 {
			jobs = append(jobs, c)
		}
	}
	shop.Jobs = jobs
	res, err := floor.Simulate(ctx, &shop, opt, nil)
	if err != nil {
		return nil, err
	}
	q := &Quote{Machine: shop.Machines[m].Name, Heads: heads, Placeholder: rates.Placeholder,
		Missing: append(rates.Missing(), own.Missing("money.machines."+shop.Machines[m].Name)...)}
	q.Clock, q.How = clock.How(d, sheet, job, levelOf(opt))
	if q.Use, err = thread.Of(d, r.Law, sheet.Reading.TrimAfterJumps); err != nil {
		return nil, err
	}
	if q.Made, err = MadeFrom(res, m); err != nil {
		return nil, err
	}
	// The expected share, in place of the simulated one: the same, without chance.
	fm := &shop.Machines[m]
	q.Made.Spoilt = min(fm.Reject+fm.RejectPerBreak*fm.Breaks/1000*float64(q.Clock.Stitches), .999)
	b := d.Count().Bounds
	q.Made.Stitches, q.Made.Top, q.Made.Bobbin, q.Made.Width, q.Made.Height = q.Clock.Stitches, q.Use.Total.Top,
		q.Use.Total.Bobbin, b.WidthMM(), b.HeightMM()
	// A changeover: the set-up, and every thread's cone on every head.
	q.Made.Setup = w.Setup.Mean + w.Cone.Mean*float64(heads*len(floor.Threads(d, name, nil)))
	for _, n := range quantities {
		c, err := rates.Of(q.Made, own, n)
		if err != nil {
			return nil, err
		}
		q.Steps = append(q.Steps, c)
	}
	last := quantities[len(quantities)-1]
	supply := r.Supply
	if b := shop.Machines[m].Bobbin.Metres; b > 0 {
		supply.Bobbin = b
	}
	if q.Thread, err = thread.ForOrder(d, q.Use, last, heads, supply); err != nil {
		return nil, err
	}
	at := func(seconds float64) (Dec, error) {
		x := q.Made
		x.Seconds[floor.Running] *= seconds / q.Clock.Seconds
		c, err := rates.Of(x, own, last)
		if err != nil {
			return zero, err
		}
		return c.Total, nil
	}
	if q.Low, err = at(q.How.Low); err != nil {
		return nil, err
	}
	q.High, err = at(q.How.High)
	return q, err
}

func levelOf(o floor.Options) float64 {
	if o.Level == 0 {
		return clock.DefaultLevel
	}
	return o.Level
}
