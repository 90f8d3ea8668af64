package ask

import (
	"context"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/money"
	"needlepace/words"
)

// CompareQuestion asks which machine serves a mix of designs best.
type CompareQuestion struct {
	Name string // of the mix, in errors: its file, or "the mix"
	TOML []byte // the mix, a MIX.toml (docs/comparing-machines.md)
	Simulation
	Weeks int    // simulated on every machine, 20 to 100,000; 0: DefaultWeeks
	Base  string // the machine that the others are measured against; empty: the first existing one, else the first
}

// Check puts the defaults in and says what is wrong with the question or its
// mix, an *Error; nothing is simulated.
func (q *CompareQuestion) Check(from floor.Sources) error {
	_, err := q.read(from)
	return err
}

func (q *CompareQuestion) read(from floor.Sources) (*money.Mix, error) {
	if err := q.Simulation.fill(); err != nil {
		return nil, err
	}
	if q.Weeks == 0 {
		q.Weeks = DefaultWeeks
	}
	if q.Weeks < 20 || q.Weeks > 100_000 {
		return nil, Errorf("%d weeks are to be simulated; give 20 to 100,000", q.Weeks)
	}
	mf, f, err := money.ParseMix(q.Name, q.TOML)
	if err != nil {
		return nil, wrong(err)
	}
	mix, err := mf.Resolve(f, from)
	if err != nil {
		return nil, wrong(err)
	}
	found := q.Base == ""
	for _, o := range mix.Offers {
		found = found || o.Name == q.Base
	}
	if !found {
		return nil, Errorf("the mix has no machine %q to measure the others against; name one of its [[machine]]",
			q.Base)
	}
	return mix, nil
}

// Compare sews the mix on every machine, week after week, and says which is
// best, on which design and why. from reads what the mix names. An *Error says
// what is wrong with the question.
func Compare(ctx context.Context, q CompareQuestion, from floor.Sources) (*ComparisonAnswer, error) {
	mix, err := q.read(from)
	if err != nil {
		return nil, err
	}
	k, err := money.Compare(ctx, mix, money.CompareOptions{Seed: q.Seed, Level: q.Level, Weeks: q.Weeks, Base: q.Base,
		Elsewhere: shiftsElsewhere(ctx, 0, nil), Progress: func(done, of int) { q.step(float64(done)/float64(max(of, 1)), words.Say("compare.comparing")) }})
	if err != nil {
		return nil, simError(ctx, err)
	}
	return comparisonAnswer(k, q.Seed), nil
}

func comparisonAnswer(k *money.Comparison, seed uint64) *ComparisonAnswer {
	j, places := &k.Cheapest, int32(words.Places(k.Mix.Rates.Currency))
	a := &ComparisonAnswer{Mix: k.Mix.Name, Currency: k.Mix.Rates.Currency, Seed: seed, Weeks: k.Weeks, Level: k.Level,
		Base: k.Machines[k.Base].Name, Machines: []ComparedMachine{}, Designs: []ComparedDesign{},
		Pairs: []ComparedPair{},
		Beats: [][]float64{}, Cheapest: k.Machines[j.Best].Name, Is: j.Is, Missing: append([]string{}, k.Missing...),
		Placeholder: k.Placeholder, week: weekOf(k)}
	if j.Rival >= 0 {
		a.Rival = k.Machines[j.Rival].Name
	}
	for i := range k.Machines {
		x := &k.Machines[i]
		row := ComparedMachine{Machine: x.Name, Existing: x.Existing, Heads: x.Heads, RatedSpeed: x.Sheet.MaxSpeed,
			HeldSpeed: x.Held,
			Hours:     EstimateOf(x.Hours), Available: x.Available, Needed: x.Needed,
			PiecesPerShift: EstimateOf(x.PiecesPerShift),
			OEE:            OEEOf(x.OEE), PerPiece: moneyRange(x.PerPiece, 4), Year: moneyRange(x.YearCost, places),
			Lines: map[string]string{},
			Price: x.Owned.Price.StringFixed(places), CrewMachines: x.Crew.Machines, CrewOperators: x.Crew.Operators}
		for _, l := range x.Year {
			row.Lines[l.Name] = l.Amount.StringFixed(places)
			if i == 0 {
				a.lines = append(a.lines, l.Name)
			}
		}
		a.Machines = append(a.Machines, row)
		var beats []float64
		for o := range k.Machines {
			beats = append(beats, k.Beats(i, o).P())
		}
		a.Beats = append(a.Beats, beats)
	}
	a.judge(k)
	for i := range k.Designs {
		a.Designs = append(a.Designs, comparedDesign(k, &k.Designs[i]))
	}
	for i := range k.Pairs {
		a.Pairs = append(a.Pairs, a.pair(k, &k.Pairs[i]))
	}
	a.warn(k)
	return a
}

func comparedDesign(k *money.Comparison, d *money.DesignResult) ComparedDesign {
	row := ComparedDesign{Design: d.Name, Weekly: d.Weekly, MeanStitch: d.Mean, First: k.Machines[d.First].Name,
		FirstChance: d.FirstChance.P(), Most: k.Machines[d.Most].Name, MostChance: d.MostChance.P(), Why: d.Why.Raw(),
		why: d.Why, On: []ComparedOn{},
		FirstIs: d.FirstChance.Verdict(), MostIs: d.MostChance.Verdict()}
	for i := range d.On {
		o := &d.On[i]
		row.On = append(row.On, ComparedOn{k.Machines[i].Name, o.Result.Seconds,
			clock.Interval{Low: o.Low, High: o.High, Level: k.Level}, o.Result.HeldSpeed(), o.PerPiece, o.Result.Parts,
			o.Idle})
	}
	row.say()
	row.kinds(k, d)
	return row
}

func (a *ComparisonAnswer) pair(k *money.Comparison, p *money.Pair) ComparedPair {
	places := int32(words.Places(a.Currency))
	row := ComparedPair{Machine: k.Machines[p.Machine].Name, Base: k.Machines[p.Base].Name, Cheaper: p.Cheaper.P(),
		Faster: p.Faster.P(), Invest: p.Invest.StringFixed(places), Saving: moneyRange(p.Saving, places),
		Payback:    ups(p.Payback),
		Discounted: ups(p.Discounted), NPV: moneyRange(p.NPV, places), Worth: p.Worth.P(), Turning: []Turning{},
		CheaperIs: p.Cheaper.Verdict(), Years: p.Horizon, Annual: moneyRange(p.Annual, places)}
	if is := p.Cheaper.Not().Verdict(); row.CheaperIs == money.CannotTell {
		row.CheaperIs = is
	}
	if p.TieOK {
		tie := moneyRange(p.Tie, places)
		row.Tie = &tie
	}
	var reasons words.Sentences
	for i := range p.Turns {
		t := &p.Turns[i]
		tr := Turning{string(t.Shape), t.Length, t.Machine, t.Base, []float64{}, []Turn{}, []Stretch{}}
		for _, c := range t.Chance {
			tr.Chance = append(tr.Chance, c.P())
		}
		for _, u := range t.At {
			tr.Turns = append(tr.Turns, Turn{u.Length, known(u.Low), known(u.High), row.named(u.Below)})
		}
		for _, s := range t.Stretches() {
			tr.Stretches = append(tr.Stretches, Stretch{s.From, s.To, row.named(s.Machine), s.Is})
		}
		row.Turning = append(row.Turning, tr)
		reasons = append(reasons, tr.says())
	}
	row.Reason = reasons.Raw()
	a.sayPair(&row, &k.Machines[p.Machine])
	row.Verdict = append(row.Verdict, reasons...)
	return row
}

// named is the machine of the pair, or the base.
func (p *ComparedPair) named(machine bool) string {
	if machine {
		return p.Machine
	}
	return p.Base
}

// ups are the years after which the balance turns to above zero.
func ups(all []money.Crossing) []string {
	out := []string{}
	for _, x := range all {
		if x.Up {
			out = append(out, x.At.StringFixed(4))
		}
	}
	return out
}
