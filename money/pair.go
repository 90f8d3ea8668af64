package money

import (
	"context"
	"math"

	"github.com/shopspring/decimal"

	"needlepace/clock"
)

// Pair is a machine against the base machine, on the mix.
type Pair struct {
	Machine, Base int
	// Cheaper is the chance that a year of the mix costs less on the machine,
	// Faster that the mix takes fewer machine hours on it.
	Cheaper, Faster float64
	Invest          Dec // price of the machines needed, less what the base's could be sold for
	Saving          Range
	Flow            []Dec      // by year: −Invest now, then savings after profit tax; salvage at the end
	Payback         []Crossing // simple, all crossings
	Discounted      []Crossing
	NPV             Range
	Worth           float64 // chance that the present value is above zero
	// Tie is the price of one machine at which a year costs the same on both;
	// TieOK is false where no price above zero does that.
	Tie    Range
	TieOK  bool
	Turns  []Turning
	Reason string // for which stitches the machine wins
}

func (c *Comparison) pair(ctx context.Context, i int, z map[string][][]float64) (Pair, error) {
	a, b := &c.Machines[i], &c.Machines[c.Base]
	p := Pair{Machine: i, Base: c.Base}
	savings := make([]Dec, len(a.yearly)) // running costs saved a year
	ownA, ownB := a.YearCost.Mid.Sub(a.running), b.YearCost.Mid.Sub(b.running)
	for k := range a.yearly {
		if a.yearly[k].LessThan(b.yearly[k]) {
			p.Cheaper++
		}
		if a.hours[k] < b.hours[k] {
			p.Faster++
		}
		savings[k] = b.yearly[k].Sub(ownB).Sub(a.yearly[k].Sub(ownA))
	}
	n := float64(len(a.yearly))
	p.Cheaper /= n
	p.Faster /= n
	mid := b.running.Sub(a.running)
	p.Saving = rangeOf(mid, savings, c.Level)
	nA, nB := decimal.NewFromInt(int64(a.Needed)), decimal.NewFromInt(int64(b.Needed))
	p.Invest = a.Owned.Price.Mul(nA).Sub(b.Owned.Price.Mul(nB))
	var err error
	if p.Flow, err = c.flow(a, b, p.Invest, mid); err != nil {
		return p, err
	}
	i0 := rate(c.Mix.Rates.Interest.Dec)
	if p.Payback, err = Paybacks(zero, p.Flow); err != nil {
		return p, err
	}
	if p.Discounted, err = Paybacks(i0, p.Flow); err != nil {
		return p, err
	}
	mean, err := PresentValue(i0, p.Flow)
	if err != nil {
		return p, err
	}
	values := make([]Dec, len(savings))
	for k, s := range savings {
		// The flow is linear in the saving: one more a year is worth P/A after tax.
		f, err := FactorsFor(i0, a.Owned.Life)
		if err != nil {
			return p, err
		}
		values[k] = mean.Add(s.Sub(mid).Mul(one.Sub(rate(c.Mix.Rates.ProfitTax.Dec))).Mul(f.PA))
		if values[k].IsPositive() {
			p.Worth++
		}
	}
	p.Worth /= n
	p.NPV = rangeOf(mean, values, c.Level)
	if err := c.tie(&p, a, b); err != nil {
		return p, err
	}
	if err := ctx.Err(); err != nil {
		return p, err
	}
	p.Turns = c.turnings(i, z)
	p.Reason = c.reason(&p)
	return p, nil
}

// flow is the money year by year over the machine's life, against going on
// with the base: savings less profit tax on them after depreciation.
func (c *Comparison) flow(a, b *MachineResult, invest, saving Dec) ([]Dec, error) {
	r := &c.Mix.Rates
	life := a.Owned.Life
	dep, err := depreciation(r.Depreciation, life)
	if err != nil {
		return nil, err
	}
	price := a.Owned.Price.Mul(decimal.NewFromInt(int64(a.Needed)))
	salvage := a.Owned.Salvage.Mul(decimal.NewFromInt(int64(a.Needed))).Sub(b.Owned.Salvage.Mul(decimal.NewFromInt(int64(b.Needed))))
	base := price
	if r.Depreciation == StraightLine {
		base = price.Sub(a.Owned.Salvage.Mul(decimal.NewFromInt(int64(a.Needed))))
	}
	if a.Existing {
		base = zero // bought and written off before
	}
	tax := rate(r.ProfitTax.Dec)
	flow := []Dec{invest.Neg()}
	for t := 1; t <= life; t++ {
		x := saving
		if tax.IsPositive() {
			writeOff := zero
			if t <= len(dep) {
				writeOff = base.Mul(dep[t-1])
			}
			x = x.Sub(saving.Sub(writeOff).Mul(tax))
		}
		if t == life {
			x = x.Add(salvage)
		}
		flow = append(flow, x)
	}
	return flow, nil
}

// tie is the price of the machine at which a year costs the same on both, its
// salvage staying the same share of the price.
func (c *Comparison) tie(p *Pair, a, b *MachineResult) error {
	share := zero
	if a.Owned.Price.IsPositive() {
		share = div(a.Owned.Salvage.Dec, a.Owned.Price.Dec)
	}
	perUnit, err := CapitalRecovery(rate(c.Mix.Rates.Interest.Dec), a.Owned.Life, one, share)
	if err != nil {
		return err
	}
	perUnit = perUnit.Mul(decimal.NewFromInt(int64(a.Needed)))
	at := func(saving Dec) Dec {
		// own(A) = running(B) + own(B) − running(A)
		return div(saving.Add(b.YearCost.Mid.Sub(b.running)), perUnit)
	}
	p.Tie = Range{at(p.Saving.Mid), at(p.Saving.Low), at(p.Saving.High)}
	p.TieOK = p.Tie.Mid.IsPositive()
	return nil
}

// Beats is the chance that machine a's year costs less than machine b's.
func (c *Comparison) Beats(a, b int) float64 {
	won := 0.0
	for k, x := range c.Machines[a].yearly {
		if x.LessThan(c.Machines[b].yearly[k]) {
			won++
		}
	}
	return won / math.Max(1, float64(len(c.Machines[a].yearly)))
}

// Draws gives a machine's simulated weeks: machine hours, and a year's cost
// at that pace.
func (m *MachineResult) Draws() (hours []float64, yearly []Dec) { return m.hours, m.yearly }

// set is the job the machine is compared at: its own setting.
func (o *Offer) set() clock.Job { return clock.Job{Speed: o.Speed} }
