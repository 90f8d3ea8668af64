package ask

import (
	"cmp"
	"math"
	"slices"

	"github.com/shopspring/decimal"

	"needlepace/money"
	"needlepace/trial"
	"needlepace/words"
)

// TrialMoney is what the difference is worth in the client's own year.
type TrialMoney struct {
	Currency string      `json:"currency"`
	Source   string      `json:"source" doc:"where the figures are from"`
	Costs    []TrialCost `json:"costs" doc:"the cheapest year first"`
	Swings   []Swing     `json:"swings" doc:"what the lead of the cheapest hangs on, the widest first"`
	Lead     string      `json:"lead" doc:"of the cheapest over the next, a year"`
}

// TrialCost is a machine's year. Amounts are decimal text.
type TrialCost struct {
	Machine  string  `json:"machine"`
	Hours    float64 `json:"hours" doc:"that the mix holds it"`
	Needed   int     `json:"machines_needed" doc:"for the hours there are"`
	Labour   string  `json:"labour"`
	Owning   string  `json:"owning" doc:"its price spread over its life at interest"`
	Upkeep   string  `json:"upkeep"`
	Year     string  `json:"year"`
	Cheapest float64 `json:"cheapest" doc:"chance that it is the cheapest"`
	Tie      string  `json:"tie_price" doc:"the price at which it costs what the cheapest other does; empty: none, even as a gift"`
	Payback  float64 `json:"payback_years" doc:"against the first machine that is owned; 0: none is, or it never pays"`
	Worth    string  `json:"present_value" doc:"of what it saves against the machine that is owned, over its life; empty: none is"`

	year, running, tie decimal.Decimal
}

// Swing is how the lead changes with one input.
type Swing struct {
	Input string        `json:"input"`
	What  words.Message `json:"what"`
	Low   float64       `json:"low" doc:"lead a year where the input is lower"`
	High  float64       `json:"high"`
	Turns bool          `json:"turns" doc:"the cheapest is another at one end"`

	lead float64 // where the input is as it is
}

// Span is the least and the most lead of the three, amounts a year: at both ends, and where the input is as it is,
// which lies outside the two where whole machines are saved either way.
func (s *Swing) Span() (low, high float64) {
	return min(s.Low, s.High, s.lead), max(s.Low, s.High, s.lead)
}

// inputs are what a year is reckoned from.
type inputs struct {
	labour, interest, price decimal.Decimal // price: a factor
	pieces, handling, life  float64         // factors
	seconds                 [][]float64     // [design][machine], s a piece
}

func (a *TrialAnswer) money() error {
	m := a.File.Money
	if m == nil || len(a.Ranks) == 0 {
		return nil
	}
	a.priced = slices.DeleteFunc(slices.Clone(a.ranked), func(k int) bool { return !a.File.Machines[k].Priced() })
	if len(a.priced) < 2 {
		return nil
	}
	nm := len(a.File.Machines)
	base := inputs{labour: m.Labour, interest: m.Interest, price: decimal.NewFromInt(1), pieces: 1, handling: 1, life: 1, seconds: a.middle}
	costs := make([]TrialCost, nm)
	for _, k := range a.priced {
		c, err := a.year(k, base)
		if err != nil {
			return Errorf("%w", err)
		}
		costs[k] = c
	}
	for _, w := range a.draws {
		in := base
		in.seconds = w
		costs[a.cheapest(in)].Cheapest++
	}
	owned := slices.IndexFunc(a.File.Machines, func(m trial.MachineKeys) bool { return m.Owned })
	if !slices.Contains(a.priced, owned) {
		owned = -1
	}
	for _, k := range a.priced {
		costs[k].Cheapest /= float64(len(a.draws))
		if err := a.against(costs, k, owned); err != nil {
			return Errorf("%w", err)
		}
	}
	best := a.cheapest(base)
	out := &TrialMoney{Currency: m.Currency, Source: m.Source}
	rival := -1
	for _, k := range a.priced {
		if k != best && (rival < 0 || costs[k].year.LessThan(costs[rival].year)) {
			rival = k
		}
	}
	out.Lead = costs[rival].year.Sub(costs[best].year).StringFixed(int32(words.Places(m.Currency)))
	out.Swings = a.swings(base, best)
	a.most = map[int]decimal.Decimal{}
	for _, k := range a.ranked {
		if !a.File.Machines[k].Priced() {
			most, err := a.mayCost(k, base, costs[best].year)
			if err != nil {
				return Errorf("%w", err)
			}
			a.most[k] = most
		}
	}
	costs = slices.DeleteFunc(costs, func(c TrialCost) bool { return c.Machine == "" })
	slices.SortStableFunc(costs, func(x, y TrialCost) int { return x.year.Cmp(y.year) })
	out.Costs = costs
	a.Money = out
	return nil
}

// year is what a machine costs in a year at the inputs.
func (a *TrialAnswer) year(k int, in inputs) (TrialCost, error) {
	m, f := a.File.Machines[k], a.File.Money
	c := TrialCost{Machine: m.Name, Needed: 1}
	heads := float64(max(a.Sheets[k].Heads, 1))
	for i, d := range a.Designs {
		c.Hours += in.pieces * d.Year * (in.seconds[i][k] + in.handling*f.Handling/heads) / 3600
	}
	for f.Hours > 0 && float64(c.Needed)*f.Hours < c.Hours && c.Needed < 1000 {
		c.Needed++
	}
	n := decimal.NewFromInt(int64(c.Needed))
	labour := in.labour.Mul(money.Measured(c.Hours)).DivRound(money.Measured(f.Tends), 9)
	life := max(1, int(in.life*float64(m.Life)+0.5))
	owning, err := money.CapitalRecovery(in.interest.Div(decimal.NewFromInt(100)), life, m.Price.Mul(in.price), decimal.Zero)
	if err != nil {
		return c, err
	}
	owning = owning.Mul(n)
	upkeep := m.Upkeep.Mul(n)
	c.running = labour.Add(upkeep)
	c.year = c.running.Add(owning)
	places := int32(words.Places(f.Currency))
	c.Labour, c.Owning, c.Upkeep, c.Year = labour.StringFixed(places), owning.StringFixed(places), upkeep.StringFixed(places), c.year.StringFixed(places)
	return c, nil
}

func (a *TrialAnswer) cheapest(in inputs) int {
	best, least := -1, decimal.Zero
	for _, k := range a.priced {
		c, err := a.year(k, in)
		if err == nil && (best < 0 || c.year.LessThan(least)) {
			best, least = k, c.year
		}
	}
	return best
}

// against fills in what a machine's price may be, and what it saves against the one
// that is owned.
func (a *TrialAnswer) against(costs []TrialCost, k, owned int) error {
	m, f := a.File.Machines[k], a.File.Money
	c := &costs[k]
	rival := -1
	for _, i := range a.priced {
		if i != k && (rival < 0 || costs[i].year.LessThan(costs[rival].year)) {
			rival = i
		}
	}
	factors, err := money.FactorsFor(f.Interest.Div(decimal.NewFromInt(100)), m.Life)
	if err != nil {
		return err
	}
	places := int32(words.Places(f.Currency))
	if room := costs[rival].year.Sub(c.running); room.IsPositive() && !m.Owned {
		c.tie = tied(room, factors, c)
		c.Tie = c.tie.StringFixed(places)
	}
	if owned < 0 || m.Owned { // what the client has is not bought
		return nil
	}
	saved := costs[owned].running.Sub(c.running)
	extra := m.Price.Mul(decimal.NewFromInt(int64(c.Needed))).
		Sub(a.File.Machines[owned].Price.Mul(decimal.NewFromInt(int64(costs[owned].Needed))))
	c.Worth = saved.Mul(factors.PA).Sub(extra).StringFixed(places)
	if saved.IsPositive() && extra.IsPositive() {
		c.Payback = extra.Div(saved).InexactFloat64()
	}
	return nil
}

// tied is the price of each of the machines that a year needs, where what is left of the year for
// owning them is room.
func tied(room decimal.Decimal, factors money.Factors, c *TrialCost) decimal.Decimal {
	return room.Mul(factors.PA).Div(decimal.NewFromInt(int64(c.Needed)))
}

// mayCost is the price up to which a machine without one costs no more in a year than the cheapest
// of those that have one; not positive: none, even as a gift.
func (a *TrialAnswer) mayCost(k int, base inputs, least decimal.Decimal) (decimal.Decimal, error) {
	c, err := a.year(k, base)
	if err != nil {
		return decimal.Zero, err
	}
	factors, err := money.FactorsFor(base.interest.Div(decimal.NewFromInt(100)), a.File.Machines[k].Life)
	if err != nil {
		return decimal.Zero, err
	}
	return tied(least.Sub(c.running), factors, &c), nil
}

// swings turn one input at a time: the lead of the cheapest over the next at both ends.
func (a *TrialAnswer) swings(base inputs, best int) []Swing {
	lead := func(in inputs) float64 {
		mine, next, first := decimal.Zero, decimal.Zero, true
		for _, k := range a.priced {
			c, err := a.year(k, in)
			switch {
			case err != nil:
			case k == best:
				mine = c.year
			case first || c.year.LessThan(next):
				next, first = c.year, false
			}
		}
		return next.Sub(mine).InexactFloat64()
	}
	percent := func(n int64) decimal.Decimal { return decimal.New(n, -2) }
	two := decimal.NewFromInt(2)
	var out []Swing
	now := lead(base)
	add := func(input string, what words.Message, low, high inputs) {
		s := Swing{Input: input, What: what, Low: lead(low), High: lead(high), lead: now}
		s.Turns = s.Low < 0 || s.High < 0
		out = append(out, s)
	}
	with := func(change func(*inputs)) inputs {
		in := base
		change(&in)
		return in
	}
	add("labour", words.Say("trial.swing-labour"), with(func(in *inputs) { in.labour = in.labour.Mul(percent(80)) }),
		with(func(in *inputs) { in.labour = in.labour.Mul(percent(120)) }))
	add("pieces", words.Say("trial.swing-pieces"), with(func(in *inputs) { in.pieces = 0.8 }), with(func(in *inputs) { in.pieces = 1.2 }))
	add("price", words.Say("trial.swing-price"), with(func(in *inputs) { in.price = percent(80) }), with(func(in *inputs) { in.price = percent(120) }))
	add("life", words.Say("trial.swing-life"), with(func(in *inputs) { in.life = 0.75 }), with(func(in *inputs) { in.life = 1.25 }))
	add("interest", words.Say("trial.swing-interest"), with(func(in *inputs) { in.interest = decimal.Max(decimal.Zero, in.interest.Sub(two)) }),
		with(func(in *inputs) { in.interest = in.interest.Add(two) }))
	add("handling", words.Say("trial.swing-handling"), with(func(in *inputs) { in.handling = 0.8 }), with(func(in *inputs) { in.handling = 1.2 }))
	var leads []float64
	for i := 0; i < len(a.draws); i += 4 { // enough for two ends, and each costs a year of every machine
		in := base
		in.seconds = a.draws[i]
		leads = append(leads, lead(in))
	}
	low, _, high := middle(leads, a.Level)
	out = append(out, Swing{Input: "times", What: words.Say("trial.swing-times"), Low: low, High: high, Turns: low < 0, lead: now})
	slices.SortStableFunc(out, widerFirst)
	return out
}

// widerFirst is the order of a tornado: by what the lead moves over, to the hundredth of the currency that is shown,
// and what is as wide stays in the order in which it is asked: labour, pieces, price, life, interest, handling, times.
func widerFirst(x, y Swing) int {
	wide := func(s Swing) float64 {
		low, high := s.Span()
		return math.Round(100 * (high - low))
	}
	return cmp.Compare(wide(y), wide(x))
}
