package ask

import (
	"fmt"
	"slices"

	"github.com/shopspring/decimal"

	"needlepace/money"
	"needlepace/words"
)

// weekOf is what a week of the mix is.
func weekOf(k *money.Comparison) words.Message {
	pieces := 0
	for _, d := range k.Designs {
		pieces += d.Weekly
	}
	return words.Say("compare.week",
		words.Args{"designs": words.Count(len(k.Designs), "design"), "pieces": words.Count(pieces, "piece"),
			"machines": words.Count(len(k.Machines), "machine"), "shifts": words.Count(k.Mix.Shifts, "shift"),
			"hours": words.Seconds(k.Mix.Hours * 3600),
			"level": words.Level(k.Level)})
}

// Week is what was compared, in a sentence.
func (a *ComparisonAnswer) Week() words.Message { return a.week }

// Title names the comparison.
func (a *ComparisonAnswer) Title() words.Value {
	if a.Mix == "" {
		return words.Say("compare.the-mix")
	}
	return words.Name(a.Mix)
}

// InsteadOf names a pair.
func (a *ComparisonAnswer) InsteadOf(p *ComparedPair) words.Message {
	return words.Say("compare.instead", words.Args{"machine": words.Name(p.Machine), "base": words.Name(p.Base)})
}

// Best is the machine on which a year costs least.
func (a *ComparisonAnswer) Best() *ComparedMachine {
	return &a.Machines[slices.IndexFunc(a.Machines, func(m ComparedMachine) bool { return m.Machine == a.Cheapest })]
}

// Cost is what a piece costs on the best machine.
func (a *ComparisonAnswer) Cost() words.Value { return a.cash(a.Best().PerPiece.Mid) }

func (a *ComparisonAnswer) cash(s string) words.Value { return amount(s, a.Currency) }

// about is an amount to the whole unit: what is only estimated.
func (a *ComparisonAnswer) about(s string) words.Value {
	d, err := decimal.NewFromString(s)
	if err != nil {
		return words.None{}
	}
	return words.Money{Amount: d, Code: a.Currency, Round: true}
}

// judge says which machine costs least, how much, and what would tell.
func (a *ComparisonAnswer) judge(k *money.Comparison) {
	j, best := &k.Cheapest, a.Best()
	machine, rival := words.Name(a.Cheapest), words.Name(a.Rival)
	if j.Rival >= 0 {
		switch j.Is {
		case money.Wins:
			a.Verdict.Say("compare.wins", words.Args{"machine": machine})
		case money.Probably:
			a.Verdict.Say("compare.probably", words.Args{"machine": machine})
		case money.Alike:
			a.Verdict.Say("compare.alike", words.Args{"machine": machine, "other": rival})
		default:
			a.Verdict.Say("compare.cannot-tell", words.Args{"machine": machine, "other": rival})
		}
	}
	a.Verdict.Say("compare.costs", words.Args{"machine": machine, "cost": a.cash(best.PerPiece.Mid),
		"low": a.cash(best.PerPiece.Low), "high": a.cash(best.PerPiece.High)})
	if j.Rival >= 0 && j.Is != money.Alike {
		a.Verdict.Say("compare.chance", words.Args{"other": rival, "chance": words.Chance(j.Chance.P())})
	}
	for _, t := range j.Tells {
		if t.By == money.BySheet {
			a.Verdict.Say("compare.by-sheet", words.Args{"machine": words.Name(k.Machines[t.Machine].Name),
				"sd": words.Money{Amount: money.Measured(t.SD), Code: a.Currency, Round: true}})
		} else {
			a.Verdict.Say("compare.by-weeks", words.Args{"weeks": words.Count(t.Weeks, "simulated-week")})
		}
	}
}

// say is who ends the design's run first, and why.
func (d *ComparedDesign) say() {
	first, chance, why := words.Name(d.First), words.Chance(d.FirstChance), d.why
	switch {
	case len(d.On) < 2:
	case d.FirstIs == money.Wins:
		d.Verdict.Say("compare.first", words.Args{"machine": first, "chance": chance, "why": why})
	case d.FirstIs == money.Probably:
		d.Verdict.Say("compare.first-probably", words.Args{"machine": first, "chance": chance, "why": why})
	case d.FirstIs == money.Alike:
		d.Verdict.Say("compare.first-alike")
	default:
		d.Verdict.Say("compare.first-cannot-tell", words.Args{"machine": first, "chance": chance})
	}
	if d.Most != d.First && (d.MostIs == money.Wins || d.MostIs == money.Probably) {
		d.Verdict.Say("compare.most", words.Args{"machine": words.Name(d.Most), "chance": words.Chance(d.MostChance)})
	}
	if d.Verdict == nil {
		d.Verdict = words.Sentences{}
	}
}

// sayPair is whether the machine is cheaper than the base, what it saves, when
// it is paid back and up to which price it is worth having.
func (a *ComparisonAnswer) sayPair(p *ComparedPair, x *money.MachineResult) {
	machine, base, chance := words.Name(p.Machine), words.Name(p.Base), words.Chance(p.Cheaper)
	more := words.Chance(1 - p.Cheaper)
	switch cheaper := p.Cheaper >= 0.5; {
	case p.CheaperIs == money.Alike:
		p.Verdict.Say("compare.pair-alike", words.Args{"machine": machine, "base": base})
		return // nothing is saved, paid back or lost: no chance can be told of it
	case p.CheaperIs == money.Wins && cheaper:
		p.Verdict.Say("compare.pair-less", words.Args{"machine": machine, "base": base, "chance": chance})
	case p.CheaperIs == money.Wins:
		p.Verdict.Say("compare.pair-more", words.Args{"machine": machine, "base": base, "chance": more})
	case p.CheaperIs == money.Probably && cheaper:
		p.Verdict.Say("compare.pair-probably-less", words.Args{"machine": machine, "base": base, "chance": chance})
	case p.CheaperIs == money.Probably:
		p.Verdict.Say("compare.pair-probably-more", words.Args{"machine": machine, "base": base, "chance": more})
	default:
		p.Verdict.Say("compare.pair-cannot-tell", words.Args{"machine": machine, "base": base, "chance": chance})
	}
	p.Verdict.Say("compare.saves",
		words.Args{"mid": a.about(p.Saving.Mid), "low": a.about(p.Saving.Low), "high": a.about(p.Saving.High)})
	if invest, _ := decimal.NewFromString(p.Invest); !invest.IsPositive() {
		p.Verdict.Say("compare.costs-no-more", words.Args{"base": base})
	} else if len(p.Payback) == 0 {
		p.Verdict.Say("compare.never-back", words.Args{"invest": a.about(p.Invest)})
	} else if len(p.Discounted) == 0 {
		p.Verdict.Say("compare.back-not-with-interest",
			words.Args{"invest": a.about(p.Invest), "years": years(p.Payback)})
	} else {
		p.Verdict.Say("compare.back",
			words.Args{"invest": a.about(p.Invest), "years": years(p.Payback), "interest": years(p.Discounted)})
	}
	p.Verdict.Say("compare.worth",
		words.Args{"years": words.Count(p.Years, "year"), "npv": a.about(p.NPV.Mid), "low": a.about(p.NPV.Low),
			"high": a.about(p.NPV.High), "chance": words.Chance(p.Worth)})
	switch {
	case p.Tie == nil:
		p.Verdict.Say("compare.no-price")
	case x.Existing:
		p.Verdict.Say("compare.worth-keeping",
			words.Args{"tie": a.about(p.Tie.Mid), "low": a.about(p.Tie.Low), "high": a.about(p.Tie.High)})
	default:
		p.Verdict.Say("compare.worth-buying",
			words.Args{"tie": a.about(p.Tie.Mid), "low": a.about(p.Tie.Low), "high": a.about(p.Tie.High),
				"price": a.about(x.Owned.Price.String())})
	}
}

// years is when money comes back; more than once where the balance falls below
// zero between.
func years(all []string) words.Value {
	var out words.List
	for _, s := range all {
		d, _ := decimal.NewFromString(s)
		out = append(out, words.Number{V: d.InexactFloat64(), Places: 1, Noun: "year"})
	}
	return out
}

var shapeWords = map[string]words.Message{
	string(money.Straight): words.Say("compare.running"),
	string(money.Zigzag):   words.Say("compare.satin"),
	string(money.Both):     words.Say("compare.running-and-satin"),
}

// Shape is how the test designs are sewn.
func (t *Turning) ShapeName() words.Message { return shapeWords[t.Shape] }

// says is for which stitch lengths which machine is the faster.
func (t *Turning) says() words.Message {
	shape := t.ShapeName()
	var list words.List
	for i, s := range t.Stretches {
		where := words.Say("compare.at-every-length")
		switch last := i == len(t.Stretches)-1; {
		case i == 0 && !last:
			where = words.Say("compare.below", words.Args{"mm": words.StitchMM(s.To)})
		case i > 0 && last:
			where = words.Say("compare.above", words.Args{"mm": words.StitchMM(s.From)})
		case i > 0:
			where = words.Say("compare.from-to", words.Args{"from": words.StitchMM(s.From), "to": words.StitchMM(s.To)})
		}
		switch s.Is {
		case money.Alike:
			return words.Say("compare.no-difference", words.Args{"shape": shape})
		case money.Wins:
			list.Say("compare.faster", words.Args{"machine": words.Name(s.Faster), "where": where})
		case money.Probably:
			list.Say("compare.probably-faster", words.Args{"machine": words.Name(s.Faster), "where": where})
		}
	}
	if len(list) == 0 {
		return words.Say("compare.speed-cannot-be-told", words.Args{"shape": shape})
	}
	if len(t.Turns) == 1 && t.Turns[0].Low != nil {
		return words.Say("compare.turns",
			words.Args{"shape": shape, "said": list, "mm": words.StitchMM(t.Turns[0].Length)})
	}
	return words.Say("compare.speeds", words.Args{"shape": shape, "said": list})
}

// warn says what to know before relying on the comparison.
func (a *ComparisonAnswer) warn(k *money.Comparison) {
	a.Caveats = append(words.Sentences{}, priceCaveats(a.Placeholder, a.Missing, func(table string) string {
		var n int
		if _, err := fmt.Sscanf(table, "machine[%d]", &n); err != nil || n < 1 || n > len(a.Machines) {
			return table
		}
		return a.Machines[n-1].Machine
	})...)
	for i := range k.Machines {
		x := &k.Machines[i]
		if x.Needed > 1 {
			a.Caveats.Say("compare.needed",
				words.Args{"machine": words.Name(x.Name), "takes": words.Hours(x.Hours.Mean),
					"available": words.Hours(x.Available), "machines": words.Count(x.Needed, "machine")})
		}
		var idle words.List
		for _, d := range k.Designs {
			if n := d.On[i].Idle; n > 0 {
				idle.Say("compare.idle-heads",
					words.Args{"design": words.Name(d.Name), "heads": words.Count(n, "head")})
			}
		}
		if len(idle) > 0 {
			a.Caveats.Say("compare.idle", words.Args{"machine": words.Name(x.Name), "designs": idle})
		}
	}
	for i := range k.Machines {
		x := &k.Machines[i]
		if standingOf(x.Sheet) == noSpreads {
			a.Caveats.Say("compare.no-spreads", words.Args{"machine": words.Name(x.Name)})
		} else if standingOf(x.Sheet) != measured {
			a.Caveats.Say("compare.assumed", words.Args{"machine": words.Name(x.Name)})
		}
	}
}
