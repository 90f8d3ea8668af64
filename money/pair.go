package money

import (
	"cmp"
	"context"

	"github.com/shopspring/decimal"

	"needlepace/clock"
)

// Pair is a machine against the base machine, on the mix.
//
// Every sum of money in it is for one Horizon, the machine's life, and treats
// the base's life, where that is another, by its equivalent annual cost: a base
// that would last longer is credited with what it is then still worth, one that
// lasts less is renewed at the same yearly cost (the imputed market value of
// engineering economics, e.g. Sullivan, Wicks and Koelling, Engineering
// Economy). So these say the same of every machine:
//
//	its price is below Tie  ⇔  Annual > 0  ⇔  NPV > 0
//	and, where money is put in (Invest > 0), paid back for good within it: the
//	last of the Discounted crossings is upward
//
// Without profit tax they also say that its year costs less than the base's
// (YearCost). With it they are after tax, and YearCost is before.
type Pair struct {
	Machine, Base int
	// Cheaper is the chance that a year of the mix costs less on the machine,
	// Faster that the mix takes fewer machine hours on it.
	Cheaper, Faster Chance
	Invest          Dec // price of the machines needed, less what the base's could be sold for
	Horizon         int // years: the machine's life
	Saving          Range
	// Flow is the money by year: −Invest now, then what is saved after profit
	// tax; at the end the machine's salvage less what the base is worth then.
	Flow       []Dec
	Payback    []Crossing // simple, all crossings
	Discounted []Crossing
	// NPV is the flow's present value, Annual the same spread evenly over the
	// horizon: what the base's equivalent annual cost is above the machine's.
	NPV, Annual Range
	Worth       Chance // that the present value is above zero
	// Tie is the price of one machine at which NPV is zero, its salvage staying
	// the same share of the price; TieOK is false where no price above zero does that.
	Tie   Range
	TieOK bool
	Turns []Turning // for which stitches the machine wins
}

func (c *Comparison) pair(ctx context.Context, i int, z map[string][][]float64) (Pair, error) {
	p := Pair{Machine: i, Base: c.Base}
	if err := c.worth(&p); err != nil {
		return p, err
	}
	if err := ctx.Err(); err != nil {
		return p, err
	}
	p.Turns = c.turnings(i, z)
	return p, nil
}

// worth fills in all that is money.
func (c *Comparison) worth(p *Pair) error {
	a, b := &c.Machines[p.Machine], &c.Machines[p.Base]
	p.Cheaper = c.Beats(p.Machine, p.Base)
	p.Faster = count(a.hours, b.hours, cmp.Compare)
	p.Horizon = a.Owned.Life
	i := rate(c.Mix.Rates.Interest.Dec)
	f, err := FactorsFor(i, p.Horizon)
	if err != nil {
		return err
	}
	ownA, err := c.owning(a, a.Owned)
	if err != nil {
		return err
	}
	ownB, err := c.owning(b, b.Owned)
	if err != nil {
		return err
	}
	savings := make([]Dec, len(a.yearly)) // running costs saved a year, before tax
	capitalA, capitalB := a.YearCost.Mid.Sub(a.running), b.YearCost.Mid.Sub(b.running)
	for k := range savings {
		savings[k] = b.yearly[k].Sub(capitalB).Sub(a.yearly[k].Sub(capitalA))
	}
	p.Saving = rangeOf(b.running.Sub(a.running), savings, c.Level)
	kept := one.Sub(rate(c.Mix.Rates.ProfitTax.Dec)) // of a saving, after tax
	annual := make([]Dec, len(savings))
	value := make([]Dec, len(savings))
	for k, s := range savings {
		annual[k] = s.Mul(kept).Add(ownB).Sub(ownA)
		value[k] = annual[k].Mul(f.PA)
		switch annual[k].Sign() {
		case 1:
			p.Worth.Won++
		case 0:
			p.Worth.Tied++
		}
		p.Worth.Of++
	}
	mid := p.Saving.Mid.Mul(kept).Add(ownB).Sub(ownA)
	p.Annual = rangeOf(mid, annual, c.Level)
	p.NPV = rangeOf(mid.Mul(f.PA), value, c.Level)
	p.Invest = a.owned(a.Owned.Price).Sub(b.owned(b.Owned.Price))
	if p.Flow, err = c.flow(a, b, p.Saving.Mid, ownB, f); err != nil {
		return err
	}
	if p.Payback, err = Paybacks(zero, p.Flow); err != nil {
		return err
	}
	if p.Discounted, err = Paybacks(i, p.Flow); err != nil {
		return err
	}
	return c.tie(p, a, ownB, kept)
}

// owned is an amount of one machine for all that are needed.
func (m *MachineResult) owned(each Amount) Dec {
	return each.Mul(decimal.NewFromInt(int64(m.Needed)))
}

// writeOff is what profit tax sees of a machine that was bought so: the amount
// written off in each year of its life, and what is left in the books at its
// end. A machine that the shop has is taken as written off before.
func (c *Comparison) writeOff(x *MachineResult, o Owned) (by []Dec, left Dec, err error) {
	by = make([]Dec, o.Life)
	if x.Existing {
		return by, x.owned(o.Salvage), nil
	}
	method := c.Mix.Rates.Depreciation
	shares, err := depreciation(method, o.Life)
	if err != nil {
		return nil, zero, err
	}
	left = x.owned(o.Price)
	base := left
	if method == StraightLine {
		base = left.Sub(x.owned(o.Salvage))
	}
	for t := range by {
		if t < len(shares) {
			by[t] = base.Mul(shares[t])
			left = left.Sub(by[t])
		}
	}
	return by, left, nil
}

// owning is the equivalent annual cost, after profit tax, of owning the
// machines needed at such a price: capital recovery, less the tax that
// depreciation saves, plus the tax on what the salvage is above the books.
func (c *Comparison) owning(x *MachineResult, o Owned) (Dec, error) {
	i, tax := rate(c.Mix.Rates.Interest.Dec), rate(c.Mix.Rates.ProfitTax.Dec)
	cost, err := CapitalRecovery(i, o.Life, x.owned(o.Price), x.owned(o.Salvage))
	if err != nil || tax.IsZero() {
		return cost, err
	}
	by, left, err := c.writeOff(x, o)
	if err != nil {
		return zero, err
	}
	by[o.Life-1] = by[o.Life-1].Sub(x.owned(o.Salvage)).Add(left)
	shield, err := PresentValue(i, append([]Dec{zero}, by...))
	if err != nil {
		return zero, err
	}
	f, err := FactorsFor(i, o.Life)
	return cost.Sub(shield.Mul(tax).Mul(f.AP)), err
}

// flow is the money year by year over the machine's life, against going on
// with the base, which costs ownB a year to own; f is for that life.
func (c *Comparison) flow(a, b *MachineResult, saving, ownB Dec, f Factors) ([]Dec, error) {
	tax := rate(c.Mix.Rates.ProfitTax.Dec)
	by, left, err := c.writeOff(a, a.Owned)
	if err != nil {
		return nil, err
	}
	priceB, salvage := b.owned(b.Owned.Price), a.owned(a.Owned.Salvage)
	flow := []Dec{priceB.Sub(a.owned(a.Owned.Price))}
	for _, off := range by {
		flow = append(flow, saving.Sub(saving.Sub(off).Mul(tax)))
	}
	// What the base is worth at the horizon for its yearly cost to be ownB; at
	// its own life's end that is its salvage.
	worthB := priceB.Sub(ownB.Mul(f.PA)).Mul(f.FP).Round(digits / 2)
	end := salvage.Sub(salvage.Sub(left).Mul(tax)).Sub(worthB)
	flow[len(flow)-1] = flow[len(flow)-1].Add(end)
	return flow, nil
}

// tie is the price of the machine at which its equivalent annual cost is the
// base's, its salvage staying the same share of the price.
func (c *Comparison) tie(p *Pair, a *MachineResult, ownB, kept Dec) error {
	each := Owned{Price: Amount{Dec: one}, Life: a.Owned.Life}
	if a.Owned.Price.IsPositive() {
		each.Salvage.Dec = div(a.Owned.Salvage.Dec, a.Owned.Price.Dec)
	}
	perUnit, err := c.owning(a, each) // owning costs in proportion to the price
	if err != nil || !perUnit.IsPositive() {
		return err // it costs nothing to own at any price: no price ties
	}
	at := func(saving Dec) Dec { return div(saving.Mul(kept).Add(ownB), perUnit) }
	p.Tie = Range{at(p.Saving.Mid), at(p.Saving.Low), at(p.Saving.High)}
	p.TieOK = p.Tie.Mid.IsPositive()
	return nil
}

// Beats is the chance that machine a's year costs less than machine b's.
func (c *Comparison) Beats(a, b int) Chance {
	return count(c.Machines[a].yearly, c.Machines[b].yearly, Dec.Cmp)
}

// set is the job the machine is compared at: its own setting.
func (o *Offer) set() clock.Job { return clock.Job{Speed: o.Speed} }
