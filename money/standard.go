package money

import (
	"fmt"
	"math"
	"slices"

	"github.com/shopspring/decimal"

	"needlepace/floor"
)

// Share is a machine with its part of the pieces that a price stands on.
type Share struct {
	Made  Made
	Own   Owned
	Part  Dec // 0 to 1; all of a standard sum up to 1
	Given Dec // that the shop gave it, 0 to 1; below 0: none
}

// Usual fills in the parts of a standard's machines: those that the shop gave;
// what they leave of 1 goes to the others by the pieces an hour that they make.
// Parts are whole thousandths and sum up to 1. Where the given ones leave nothing for
// anybody, all go by what they make.
func Usual(all []Share) {
	part, left, makes := make([]float64, len(all)), 1.0, 0.0
	for i := range all {
		if g := all[i].Given.InexactFloat64(); g >= 0 {
			part[i], left = g, left-g
			continue
		}
		part[i] = -1 / all[i].Made.Occupied()
		makes -= part[i]
	}
	sum := 0.0
	for i, p := range part {
		if p < 0 {
			part[i] = max(0, left) * -p / makes
		}
		sum += part[i]
	}
	if sum <= 0 {
		for i := range all {
			part[i] = 1 / all[i].Made.Occupied()
			sum += part[i]
		}
	}
	rest, most := one, 0
	for i := range all {
		all[i].Part = decimal.NewFromFloat(part[i] / sum).Round(3)
		rest = rest.Sub(all[i].Part)
		if part[i] > part[most] {
			most = i
		}
	}
	all[most].Part = all[most].Part.Add(rest)
}

// Mean is what a piece takes on a machine that is served now so, now so: for the
// given seconds as each of all has it. A piece's seconds are weighed by the pieces that are
// made so, an hour's operators by the hours.
func Mean(all []Made, seconds []float64) Made {
	var out Made
	most, pieces, hours, crew, spoilt := 0.0, 0.0, 0.0, 0.0, 0.0
	var state [floor.NumStates]float64
	for i := range all {
		m := &all[i]
		n := seconds[i] / m.Occupied()
		if n > most {
			out, most = *m, n
		}
		pieces, hours = pieces+n, hours+seconds[i]
		for st, s := range m.Seconds {
			state[st] += n * s
		}
		crew, spoilt = crew+seconds[i]*m.Crew, spoilt+n*m.Spoilt
	}
	if len(all) < 2 {
		return out
	}
	for st, s := range state {
		out.Seconds[st] = s / pieces
	}
	out.Crew, out.Spoilt = crew/hours, spoilt/pieces
	return out
}

// Standard is what a piece of an order costs on the shop's standard, the parts of
// its machines taken together, and its price.
type Standard struct {
	Quantity int
	Total    Dec // a piece
	Setup    Dec // of it, a piece
	Price    Dec // a piece, without sales tax; where set-up is asked for apart, without it
	Fee      Dec // for the order's set-up, where it is asked for apart
	Hours    Dec // machine hours of the whole order
	// PriceOf is the smaller quantity whose price is kept, because more pieces would
	// cost more each: their last run has empty heads. 0: it has its own.
	PriceOf int
	// AtCost: the smaller quantity's price would be below what this one costs: its
	// price is its cost, and higher than that of fewer pieces.
	AtCost bool
}

// Standards is what a piece costs in each of the quantities, which rise. The
// price is the one with the wanted margin; the price of more pieces is never
// above that of fewer, unless it would then be below their cost (AtCost). apart
// asks for the set-up as a fee of its own.
func (r *Rates) Standards(all []Share, quantities []int, apart bool) ([]Standard, error) {
	cheapest, err := r.cheapest(all, quantities, apart)
	if err != nil {
		return nil, err
	}
	var out []Standard
	for i, n := range quantities {
		s, err := r.standard(all, n)
		if err != nil {
			return nil, err
		}
		cost := s.Total
		if apart {
			cost, s.Fee = cost.Sub(s.Setup), r.Price(s.Setup.Mul(decimal.NewFromInt(int64(n))))
		}
		s.Price = r.Price(cost)
		if k := cheapest[i]; k < n {
			x, err := r.standard(all, k)
			if err != nil {
				return nil, err
			}
			if apart {
				x.Total = x.Total.Sub(x.Setup)
			}
			least := r.RoundUp(cost)
			if p := r.Price(x.Total); p.LessThan(s.Price) {
				s.Price, s.PriceOf = p, k
				if least.GreaterThan(p) {
					s.Price, s.PriceOf, s.AtCost = least, 0, true
				}
			}
		}
		out = append(out, *s)
	}
	return out, nil
}

// standard is the cost of a piece, each machine's weighed by its part.
func (r *Rates) standard(all []Share, quantity int) (*Standard, error) {
	s := &Standard{Quantity: quantity}
	for i := range all {
		c, err := r.Of(all[i].Made, all[i].Own, quantity)
		if err != nil {
			return nil, err
		}
		part := all[i].Part
		s.Total = s.Total.Add(c.Total.Mul(part))
		s.Setup = s.Setup.Add(c.Setup.Mul(part))
		s.Hours = s.Hours.Add(c.Hours.Mul(part))
	}
	return s, nil
}

// searched is up to how many pieces each quantity is looked at for the least cost
// a piece; beyond it a run with empty heads is next to nothing of an order, and
// only whole runs are looked at.
const searched = 100_000

// cheapest is, for each of the quantities, which rise, the number of pieces up to
// it that cost least each. Only what hangs on the number is reckoned, and in
// floats: it chooses, and prices nothing.
func (r *Rates) cheapest(all []Share, quantities []int, apart bool) ([]int, error) {
	if len(quantities) == 0 {
		return nil, fmt.Errorf("no quantity to price")
	}
	type rate struct{ held, running, once float64 }
	rates := make([]rate, len(all))
	for i := range all {
		m, o := &all[i].Made, all[i].Own
		capital, upkeep, overhead, err := r.MachineHour(o, m.Shift)
		if err != nil {
			return nil, err
		}
		part := all[i].Part.InexactFloat64()
		hour := part * (capital.Add(upkeep).Add(overhead).InexactFloat64() + r.Labour.InexactFloat64()*m.Crew) / 3600
		power := part * o.KW.InexactFloat64() * r.Energy.InexactFloat64() / 3600
		good := 1 - m.Spoilt
		rates[i] = rate{hour / good, power / good, part * r.Digitizing.InexactFloat64()}
		if !apart {
			rates[i].once += hour * m.Setup
		}
	}
	each := func(n int) float64 {
		sum := 0.0
		for i, k := range rates {
			held, running, _ := all[i].Made.order(n)
			sum += k.held*held + k.running*running + k.once
		}
		return sum / float64(n)
	}
	best, least := 1, math.Inf(1)
	look := func(n int) {
		// A hair's difference is rounding's: the smaller number stays.
		if c := each(n); c < least*(1-1e-12) {
			best, least = n, c
		}
	}
	var out []int
	at := 1
	for _, n := range quantities {
		for ; at <= min(n, searched); at++ {
			look(at)
		}
		if n > searched {
			var whole []int
			for i := range all {
				whole = append(whole, n-n%all[i].Made.Heads)
			}
			slices.Sort(whole)
			for _, k := range append(whole, n) {
				look(k)
			}
		}
		out = append(out, best)
	}
	return out, nil
}
