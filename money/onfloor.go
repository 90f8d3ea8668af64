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

// Sewn is a design on one machine of a floor.
type Sewn struct {
	Machine int // index into the floor's machines
	Name    string
	Design  *stitch.Design
	Run     floor.Run // before what the reports say of the machine's pace
	Pace    float64   // real ÷ predicted seconds that pieces hold the machine, by the reports; 1: as predicted
	Law     thread.Law
	AtJumps int     // so many jumps in a row are a trim
	Setup   float64 // s, a changeover to the order
}

// Makes is what a piece takes on each machine that a design is sewn on: they sew
// it all shift among the floor's other machines at the floor's jobs, and the
// simulated shift gives every second of a piece, waiting and thread breaks
// included. It is the one arithmetic under costs, price lists and quotes.
func Makes(ctx context.Context, on *floor.Shop, sewn []Sewn, opt floor.Options) ([]Made, error) {
	shop := *on
	shop.Jobs = nil
	taken := make([]bool, len(shop.Machines))
	for _, s := range sewn {
		j := floor.Job{Name: s.Name, Machines: []int{s.Machine}, Runs: make([]floor.Run, len(shop.Machines))}
		j.Runs[s.Machine] = s.Run
		taken[s.Machine] = true
		shop.Jobs = append(shop.Jobs, j)
	}
	for _, j := range on.Jobs {
		c := j
		c.Machines = nil
		for k := range shop.Machines {
			if !taken[k] && (j.Machines == nil || slices.Contains(j.Machines, k)) {
				c.Machines = append(c.Machines, k)
			}
		}
		if len(c.Machines) > 0 {
			shop.Jobs = append(shop.Jobs, c)
		}
	}
	res, err := floor.Simulate(ctx, &shop, opt, nil)
	if err != nil {
		return nil, err
	}
	out := make([]Made, len(sewn))
	for i := range sewn {
		s := &sewn[i]
		if out[i], err = MadeFrom(res, s.Machine); err != nil {
			return nil, err
		}
		m := &out[i]
		for k := range m.Seconds {
			m.Seconds[k] *= s.Pace
		}
		use, err := thread.Of(s.Design, s.Law, s.AtJumps)
		if err != nil {
			return nil, err
		}
		// The expected share, in place of the simulated one: the same, without chance.
		m.Spoilt = shop.Machines[s.Machine].Spoilt(s.Run.Stitches)
		b := s.Design.Count().Bounds
		m.Stitches, m.Top, m.Bobbin = s.Run.Stitches, use.Total.Top, use.Total.Bobbin
		m.Width, m.Height, m.Setup = b.WidthMM(), b.HeightMM(), s.Setup
	}
	return out, nil
}

// OnFloor costs a design on one machine of a shop (Makes).
func OnFloor(ctx context.Context, r *floor.Resolved, rates *Rates, d *stitch.Design, name string, m int, speed float64,
	g floor.Goods, quantities []int, opt floor.Options) (*Quote, error) {
	if len(quantities) == 0 {
		return nil, fmt.Errorf("no quantity to cost")
	}
	at := &r.Shop.Machines[m]
	sheet, w := r.Sheets[m], r.Works[m]
	own, ok := rates.Machines[at.Name]
	if !ok {
		return nil, bad(fmt.Sprintf("money.machines.%q", at.Name),
			"is missing: give the machine's price, life_years, salvage, upkeep_per_year and kilowatts")
	}
	job := g.Clock(speed)
	if err := job.Validate(); err != nil {
		return nil, err
	}
	run, err := floor.NewRun(d, sheet, job, w, at.Heads, r.Law, nil)
	if err != nil {
		return nil, err
	}
	q := &Quote{Machine: at.Name, Heads: at.Heads, Placeholder: rates.Placeholder,
		Missing: append(rates.Missing(), own.Missing("money.machines."+at.Name)...)}
	// A changeover: the set-up, and every thread's cone on every head.
	setup := w.Setup.Mean + w.Cone.Mean*float64(at.Heads*len(floor.Threads(d, name, nil)))
	made, err := Makes(ctx, r.Shop, []Sewn{{Machine: m, Name: name, Design: d, Run: run, Pace: r.PaceOf(m), Law: r.Law,
		AtJumps: sheet.Reading.TrimAfterJumps, Setup: setup}}, opt)
	if err != nil {
		return nil, err
	}
	q.Made = made[0]
	q.Clock, q.How = clock.How(d, sheet, job, levelOf(opt))
	if q.Use, err = thread.Of(d, r.Law, sheet.Reading.TrimAfterJumps); err != nil {
		return nil, err
	}
	for _, n := range quantities {
		c, err := rates.Of(q.Made, own, n)
		if err != nil {
			return nil, err
		}
		q.Steps = append(q.Steps, c)
	}
	last := quantities[len(quantities)-1]
	supply := r.Supply
	if b := at.Bobbin.Metres; b > 0 {
		supply.Bobbin = b
	}
	if q.Thread, err = thread.ForOrder(d, q.Use, last, at.Heads, supply); err != nil {
		return nil, err
	}
	end := func(seconds float64) (Dec, error) {
		x := q.Made
		x.Seconds[floor.Running] *= seconds / q.Clock.Seconds
		c, err := rates.Of(x, own, last)
		if err != nil {
			return zero, err
		}
		return c.Total, nil
	}
	if q.Low, err = end(q.How.Low); err != nil {
		return nil, err
	}
	q.High, err = end(q.How.High)
	return q, err
}

func levelOf(o floor.Options) float64 {
	if o.Level == 0 {
		return clock.DefaultLevel
	}
	return o.Level
}
