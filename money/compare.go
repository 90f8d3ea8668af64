package money

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"sort"

	"github.com/shopspring/decimal"
	"gonum.org/v1/gonum/stat"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/words"
)

// CompareOptions is how a comparison is made.
type CompareOptions struct {
	Seed  uint64
	Level float64 // of intervals; 0: 0.90
	Weeks int     // simulated weeks of each machine; 0: 300
	Base  string  // the machine that others are measured against; "": the first existing one, else the first
	// Progress is called with the steps done.
	Progress func(done, of int)
	// Elsewhere makes the weeks in place of this program, as floor.Options.Elsewhere; nil: they are made here.
	Elsewhere func(ctx context.Context, shop *floor.Shop, opt floor.Options, from, n int) ([]floor.Shift, error)
}

// Range is a decimal with its interval.
type Range struct{ Mid, Low, High Dec }

// Comparison is machines on one mix of designs.
type Comparison struct {
	Mix      *Mix
	Level    float64
	Weeks    int
	Base     int
	Machines []MachineResult
	Designs  []DesignResult
	Pairs    []Pair // every machine but the base against the base
	// Cheapest is which machine a year of the mix costs least on, and how far
	// that may be said.
	Cheapest Judgement
	// Missing names the keys of prices that count as zero for want of a figure.
	Missing []string
	// Placeholder: the rates were an example's, not the owner's own.
	Placeholder bool
}

// MachineResult is one machine on the whole mix.
type MachineResult struct {
	Offer
	Hours          floor.Estimate // machine hours the week's mix takes, loading, breaks, waiting and set-ups in it
	RunHours       float64        // of them, sewing
	Available      float64        // machine hours a week has
	Needed         int            // machines to buy or have for the mix
	PiecesPerShift floor.Estimate // of one machine, kept busy with the mix
	Held           float64        // stitches/min over the mix, while sewing
	OEE            floor.OEE
	Year           []Line // costs of a year, machines needed, by line; Amount is a year's
	YearCost       Range
	PerPiece       Range
	yearly         []Dec // by simulated week
	running        Dec   // of YearCost, what is not capital
	hours          []float64
	sheetSD        float64 // money a year that the sheet leaves open, standard deviation
}

// On is one design on one machine.
type On struct {
	Result   *clock.Result
	Low      float64 // s, the run time's interval
	High     float64
	PerPiece float64 // s of the machine a piece of an order: runs, loading, expected breaks and bobbins
	Idle     int     // heads that stay empty in the last run of an order
	draws    []float64
	pieces   []float64
}

// DesignResult is one design on every machine.
type DesignResult struct {
	Wanted
	On          []On
	First       int    // which finishes a run first, by the sheets as they are
	FirstChance Chance // that it does before every other
	Most        int    // which yields most pieces an hour
	MostChance  Chance
	Why         words.Message // why First finishes before the others
}

// Compare runs the mix on every machine.
func Compare(ctx context.Context, m *Mix, opt CompareOptions) (*Comparison, error) {
	if opt.Level == 0 {
		opt.Level = clock.DefaultLevel
	}
	if opt.Weeks == 0 {
		opt.Weeks = 300
	}
	c := &Comparison{Mix: m, Level: opt.Level, Weeks: opt.Weeks, Base: -1, Placeholder: m.Rates.Placeholder,
		Missing: m.Rates.Missing()}
	if len(m.Offers) == 0 || len(m.Designs) == 0 {
		return nil, bad("machine", "and design tables are needed: a comparison has at least one of each")
	}
	if err := m.Rates.Check(); err != nil {
		return nil, err
	}
	for i := range m.Offers {
		o, key := &m.Offers[i], fmt.Sprintf("machine[%d]", i+1)
		if o.Crew == (Crew{}) {
			o.Crew = m.Crew
		}
		if err := errors.Join(o.Owned.check(key), o.Crew.check(key)); err != nil {
			return nil, err
		}
		c.Missing = append(c.Missing, o.Owned.Missing(key)...)
	}
	for i, o := range m.Offers {
		if o.Name == opt.Base || opt.Base == "" && o.Existing && c.Base < 0 {
			c.Base = i
		}
	}
	if c.Base < 0 {
		if opt.Base != "" {
			return nil, bad("machine", "tables have no machine %q to measure against", opt.Base)
		}
		c.Base = 0
	}
	of := 2*len(m.Offers) + len(m.Offers) - 1
	step := 0
	tick := func() {
		step++
		if opt.Progress != nil {
			opt.Progress(step, of)
		}
	}
	// Machines of one sheet are drawn together: what is not known of a class
	// cannot decide between two of its machines.
	z := map[string][][]float64{}
	var kinds machine.Jobs
	for _, d := range m.Designs {
		kinds |= d.Goods.Kinds()
	}
	for _, o := range m.Offers {
		if z[o.SheetID] == nil {
			z[o.SheetID] = floor.DrawMachines(o.Sheet, kinds, opt.Weeks, opt.Seed+uint64(len(z)))
		}
	}
	c.Designs = make([]DesignResult, len(m.Designs))
	for k, d := range m.Designs {
		c.Designs[k].Wanted = d
	}
	runs := make([][]floor.Run, len(m.Offers))
	for i, o := range m.Offers {
		for k, d := range m.Designs {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			on, run, err := m.on(d, o, z[o.SheetID], opt.Level)
			if err != nil {
				return nil, err
			}
			c.Designs[k].On = append(c.Designs[k].On, on)
			runs[i] = append(runs[i], run)
		}
		tick()
	}
	for i, o := range m.Offers {
		r, err := m.machine(ctx, o, runs[i], c.Designs, i, opt)
		if err != nil {
			return nil, err
		}
		c.Machines = append(c.Machines, r)
		tick()
	}
	for k := range c.Designs {
		c.Designs[k].judge()
	}
	c.Cheapest = c.cheapest()
	for i := range m.Offers {
		if i == c.Base {
			continue
		}
		p, err := c.pair(ctx, i, z)
		if err != nil {
			return nil, err
		}
		c.Pairs = append(c.Pairs, p)
		tick()
	}
	return c, nil
}

// on clocks a design on a machine.
func (m *Mix) on(d Wanted, o Offer, z [][]float64, level float64) (On, floor.Run, error) {
	job := d.Goods.Clock(o.Speed)
	run, err := floor.NewRun(d.Design, o.Sheet, job, o.Work, o.Heads, m.Law, z)
	if err != nil {
		return On{}, run, err
	}
	on := On{Result: clock.Run(d.Design, o.Sheet, job)}
	// Machine seconds and, on a single needle, the operator's own; a draw of
	// both keeps the sheet's interval.
	byHand := 0.0
	for _, s := range run.Stops {
		if o.Sheet.Needles == 1 {
			byHand += s.Work.Mean
		}
	}
	fm := o.Work.Machine(o.Name, o.Heads)
	for _, s := range run.Seconds {
		on.draws = append(on.draws, s+byHand)
		on.pieces = append(on.pieces, perPiece(&fm, &run, s, d.Order, o.Crew.Operators))
	}
	on.PerPiece = perPiece(&fm, &run, on.Result.Seconds-byHand, d.Order, o.Crew.Operators)
	on.Idle = (o.Heads - d.Order%o.Heads) % o.Heads
	sorted := append([]float64(nil), on.draws...)
	sort.Float64s(sorted)
	on.Low, on.High = clock.Quantile(sorted, (1-level)/2), clock.Quantile(sorted, (1+level)/2)
	return on, run, nil
}

// perPiece is the seconds of the machine that a piece of an order takes, runs
// of s seconds: the last run carries the heads that stay empty in it.
func perPiece(fm *floor.Machine, run *floor.Run, s float64, order, operators int) float64 {
	t := 0.0
	if full := order / fm.Heads; full > 0 {
		t = float64(full) * floor.Cycle(fm, run, s, fm.Heads, operators)
	}
	if rest := order % fm.Heads; rest > 0 {
		t += floor.Cycle(fm, run, s, rest, operators)
	}
	return t / float64(order)
}

// machine simulates weeks of the mix on a crew of like machines and costs a year.
func (m *Mix) machine(ctx context.Context, o Offer, runs []floor.Run, designs []DesignResult, at int,
	opt CompareOptions) (MachineResult, error) {
	s := &floor.Shop{Name: m.Name, Seconds: m.Hours * 3600, Ready: true, Walk: floor.Walk{Seconds: m.Walk},
		Notice: m.Notice}
	for range o.Crew.Machines {
		s.Machines = append(s.Machines, o.Work.Machine(o.Name, o.Heads))
	}
	for range o.Crew.Operators {
		s.Operators = append(s.Operators, floor.Operator{})
	}
	// The week's orders of a crew, design by design in turn.
	left := make([]int, len(m.Designs))
	for k, d := range m.Designs {
		left[k] = d.Weekly * o.Crew.Machines
	}
	for more := true; more; {
		more = false
		for k, d := range m.Designs {
			q := min(d.Order, left[k])
			if q == 0 {
				continue
			}
			left[k] -= q
			more = true
			job := floor.Job{Name: d.Name, Quantity: q, Threads: d.Threads}
			for range o.Crew.Machines {
				job.Runs = append(job.Runs, runs[k])
			}
			s.Jobs = append(s.Jobs, job)
			if len(s.Jobs) > floor.MaxJobs {
				return MachineResult{}, bad("design",
					"tables ask for more than %d orders a week of a crew: make the orders larger", floor.MaxJobs)
			}
		}
	}
	r, err := floor.Simulate(ctx, s, floor.Options{Seed: opt.Seed, Level: opt.Level, Min: opt.Weeks, Max: opt.Weeks,
		UntilDone: true, Elsewhere: opt.Elsewhere}, nil)
	if err != nil {
		return MachineResult{}, err
	}
	x := MachineResult{Offer: o, OEE: r.OEE, Available: float64(m.Shifts) * m.Hours}
	weekly := 0
	var stitches, sewing float64
	for k, d := range m.Designs {
		weekly += d.Weekly
		res := designs[k].On[at].Result
		stitches += float64(d.Weekly * res.Stitches)
		sewing += float64(d.Weekly) * res.Parts.Sewing()
	}
	x.Held = stitches / sewing * 60
	for _, mr := range r.Machines {
		x.RunHours += mr.Seconds[floor.Running] / 3600 / float64(o.Crew.Machines)
	}
	perShift := make([]float64, 0, opt.Weeks)
	for _, t := range r.ByFinished {
		x.hours = append(x.hours, t/3600)
		perShift = append(perShift, float64(weekly)/(t/3600)*m.Hours)
	}
	x.Hours = floor.EstimateOf(x.hours, opt.Level)
	x.PiecesPerShift = floor.EstimateOf(perShift, opt.Level)
	x.Needed = int(math.Ceil(x.Hours.Mean/x.Available - 1e-9))
	if err := m.costYear(&x, weekly, opt.Level); err != nil {
		return x, err
	}
	x.sheetSD = m.ofSheet(&x, designs, at)
	return x, nil
}

// ofSheet is the standard deviation of a year's cost that comes from what the
// machine's sheet leaves open, the luck of the weeks left out.
func (m *Mix) ofSheet(x *MachineResult, designs []DesignResult, at int) float64 {
	hours := make([]float64, len(x.hours))
	for d := range designs {
		runs := float64(designs[d].Weekly) / float64(x.Heads) / 3600
		for k, s := range designs[d].On[at].draws {
			hours[k] += runs * s
		}
	}
	return stat.StdDev(hours, nil) * m.Rates.Labour.Mul(x.Crew.labour()).Mul(m.weeks()).InexactFloat64()
}

// weeks is the weeks of the mix in a year of productive hours.
func (m *Mix) weeks() Dec {
	return div(m.Rates.YearHours(m.Hours), Measured(float64(m.Shifts)*m.Hours))
}

// costYear is what a year of the mix costs on the machines needed. Capital,
// upkeep and overhead are the machines'; labour follows the hours the work
// takes; materials are the same on every machine but for spoilage.
func (m *Mix) costYear(x *MachineResult, weekly int, level float64) error {
	r := &m.Rates
	n := decimal.NewFromInt(int64(x.Needed))
	weeks := m.weeks()
	capital, err := CapitalRecovery(rate(r.Interest.Dec), x.Owned.Life, x.Owned.Price.Dec, x.Owned.Salvage.Dec)
	if err != nil {
		return err
	}
	labourHour := r.Labour.Mul(x.Crew.labour())
	running := Measured(x.RunHours)
	var top, bobbin, backing, needle Dec // a week
	spoiltPieces := zero
	for k := range m.Designs {
		d := &m.Designs[k]
		q := decimal.NewFromInt(int64(d.Weekly))
		top = top.Add(div(Measured(d.Use.Total.Top).Mul(r.TopThread.Dec), thousand).Mul(q))
		bobbin = bobbin.Add(div(Measured(d.Use.Total.Bobbin).Mul(r.BobbinThread.Dec), thousand).Mul(q))
		w, h := Measured(d.Counts.Bounds.WidthMM()).Add(r.BackingEdge.Mul(two)),
			Measured(d.Counts.Bounds.HeightMM()).Add(r.BackingEdge.Mul(two))
		backing = backing.Add(div(w.Mul(h), million).Mul(r.Backing.Dec).Mul(q))
		fm := x.Work.Machine(x.Name, x.Heads)
		// Chance of a spoilt piece: at any time, or at one of its own head's breaks.
		spoiltPieces = spoiltPieces.Add(Measured(fm.Spoilt(d.Counts.Stitches)).Mul(q))
	}
	needle = div(running.Mul(decimal.NewFromInt(int64(x.Heads))).Mul(r.Needle.Dec), r.NeedleHours.Dec)
	materials := top.Add(bobbin).Add(backing)
	pieces := decimal.NewFromInt(int64(weekly))
	hours := Measured(x.Hours.Mean)
	// A spoilt piece takes its making again and a garment.
	spoil := div(spoiltPieces, pieces)
	again := div(materials.Add(needle).Add(hours.Mul(labourHour)), pieces).Add(r.Garment.Dec)
	lines := []struct {
		name, basis string
		amount      Dec // a year
	}{
		{"machine", "price, salvage and interest over its life", capital.Mul(n)},
		{"upkeep", "", x.Owned.Upkeep.Mul(n)},
		{"overhead", "", r.Overhead.Mul(n)},
		{"labour", "of the hours the work takes", hours.Mul(labourHour).Mul(weeks)},
		{"energy", "while sewing", running.Mul(x.Owned.KW.Dec).Mul(r.Energy.Dec).Mul(weeks)},
		{"top thread", "", top.Mul(weeks)},
		{"bobbin thread", "", bobbin.Mul(weeks)},
		{"backing", "", backing.Mul(weeks)},
		{"needles", "", needle.Mul(weeks)},
		{"spoilage", "their making again, and garments", spoil.Mul(pieces).Mul(again).Mul(weeks)},
	}
	total := zero
	for _, l := range lines {
		x.Year = append(x.Year, Line{l.name, l.basis, l.amount})
		total = total.Add(l.amount)
	}
	x.running = total.Sub(lines[0].amount)
	// By week only what follows the hours differs.
	perHour := labourHour.Mul(one.Add(spoil)).Mul(weeks)
	fixed := total.Sub(hours.Mul(perHour))
	for _, h := range x.hours {
		x.yearly = append(x.yearly, fixed.Add(Measured(h).Mul(perHour)))
	}
	x.YearCost = rangeOf(total, x.yearly, level)
	year := pieces.Mul(weeks)
	x.PerPiece = Range{div(x.YearCost.Mid, year), div(x.YearCost.Low, year), div(x.YearCost.High, year)}
	return nil
}

func rangeOf(mid Dec, values []Dec, level float64) Range {
	s := append([]Dec(nil), values...)
	sort.Slice(s, func(i, j int) bool { return s[i].LessThan(s[j]) })
	at := func(p float64) Dec { return s[min(len(s)-1, max(0, int(p*float64(len(s)))))] }
	return Range{mid, at((1 - level) / 2), at((1 + level) / 2)}
}

// judge names the winners of a design and why.
func (d *DesignResult) judge() {
	first := func(of func(*On) float64) int {
		best := 0
		for i := range d.On {
			if of(&d.On[i]) < of(&d.On[best]) {
				best = i
			}
		}
		return best
	}
	chance := func(winner int, of func(*On) []float64) Chance {
		mine := of(&d.On[winner])
		others := make([]float64, len(mine)) // the best of them, draw by draw
		for k := range others {
			others[k] = math.Inf(1)
			for i := range d.On {
				if i != winner {
					others[k] = min(others[k], of(&d.On[i])[k])
				}
			}
		}
		return count(mine, others, cmp.Compare)
	}
	d.First = first(func(o *On) float64 { return o.Result.Seconds })
	d.FirstChance = chance(d.First, func(o *On) []float64 { return o.draws })
	d.Most = first(func(o *On) float64 { return o.PerPiece })
	d.MostChance = chance(d.Most, func(o *On) []float64 { return o.pieces })
	second := -1
	for i := range d.On {
		if i != d.First && (second < 0 || d.On[i].Result.Seconds < d.On[second].Result.Seconds) {
			second = i
		}
	}
	if second >= 0 {
		d.Why = why(d.On[d.First].Result, d.On[second].Result)
	}
}
