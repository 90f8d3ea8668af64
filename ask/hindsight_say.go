package ask

import (
	"math"
	"slices"

	"needlepace/book"
	"needlepace/money"
	"needlepace/plan"
	"needlepace/words"
)

// overtime is for how many seconds machines would have to be run outside their
// hours for every lot to end on its day: on each machine the longest that it works
// beyond a lot's due date, for what is sewn earlier brings all that follows forward.
func overtime(p *plan.Problem, sc *plan.Schedule) (sum float64) {
	for m := range p.Machines {
		most := 0.0
		for _, l := range sc.Queue(m) {
			if due := p.Jobs[l.Job].Due; l.To >= due+lateFrom {
				most = max(most, open(p.Machines[m].Windows, l.To)-open(p.Machines[m].Windows, max(due, 0)))
			}
		}
		sum += most
	}
	return sum
}

// open is for how many seconds windows are open until t; without any, always.
func open(all []plan.Window, t float64) (sum float64) {
	if len(all) == 0 {
		return max(t, 0)
	}
	for _, w := range all {
		sum += max(0, min(w.To, t)-max(w.From, 0))
	}
	return sum
}

// write puts courses into rows and sentences.
func (h *hindsight) write(w *book.Workshop, courses []*course, names []words.Message) error {
	a, base := h.a, courses[0]
	until := base.p.Second(h.q.Now)
	for _, c := range courses {
		until = max(until, c.sc.MakeSpan)
	}
	a.Until = w.Zone.Day(base.p.At(until))
	until = base.p.Second(w.Zone.At(a.Until.Add(1), 0))
	have := open(w.Calendar("").Windows(h.start, min(w.Horizon+h.days, mostDays)), until) / 3600
	var unpriced []string
	for i, c := range courses {
		r := FleetRow{What: names[i], Late: c.late, LateHours: c.hours, Fewer: 0, Alike: 1, Unused: c.unused, staffed: c.staffed,
			Overtime: overtime(c.p.Problem, c.sc) / 3600, Refused: len(c.refused), Left: c.left()}
		for _, o := range c.refused {
			r.RefusedPcs += o.Pieces()
		}
		sorted := slices.Sorted(slices.Values(c.draws))
		n := float64(len(sorted))
		r.LateLow, r.LateHigh = float64(sorted[int(.05*n)]), float64(sorted[int(math.Ceil(.95*n))-1])
		fewer, alike := 0, 0
		for d := range c.draws {
			r.LateMean += float64(c.draws[d]) / n
			switch {
			case c.draws[d] < base.draws[d]:
				fewer++
			case c.draws[d] == base.draws[d]:
				alike++
			}
		}
		r.Fewer, r.Alike = float64(fewer)/n, float64(alike)/n
		for _, l := range c.sc.Lots {
			r.Busy += (l.Work + l.Setup) / 3600
		}
		if a.Currency != "" {
			cost, without, err := c.cost(w, have, until)
			if err != nil {
				return err
			}
			r.Cost = cost.Round(int32(words.Places(a.Currency)))
			for _, m := range without {
				if !slices.Contains(unpriced, m) {
					unpriced = append(unpriced, m)
				}
			}
		}
		if i > 0 {
			r.More = r.Cost.Sub(a.Fleets[0].Cost)
		}
		a.Fleets = append(a.Fleets, r)
	}
	a.say(unpriced)
	return nil
}

// cost is what a fleet costs over the replay: each machine to have (capital,
// upkeep, overhead) for the hours that the shop is open as it is, operators for
// the fleet's own hours, power for what is sewn. without are machines that have no
// prices.
func (c *course) cost(w *book.Workshop, have, until float64) (sum money.Dec, without []string, err error) {
	owned, shift := map[string]money.Owned{}, w.Week().ShiftHours()
	for _, m := range c.fleet {
		o, ok := w.Money.Machines[m.ID]
		if m.ID == offered {
			o, ok = w.Money.Machines[c.from.add.like]
			if p := c.from.add.price; p.IsPositive() {
				if !ok {
					o = money.Owned{Life: offeredYears}
				}
				o.Price.Dec, ok = p, true
				if o.Salvage.GreaterThan(p) {
					o.Salvage.Dec = p
				}
			}
		}
		if !ok {
			without = append(without, m.Name)
			continue
		}
		owned[m.ID] = o
		capital, upkeep, overhead, err := w.Money.MachineHour(o, shift)
		if err != nil {
			return sum, nil, wrong(err)
		}
		sum = sum.Add(capital.Add(upkeep).Add(overhead).Mul(money.Measured(have)))
	}
	for _, x := range c.crew {
		hours := max(0, min(x.To, until)-max(x.From, 0)) / 3600
		sum = sum.Add(w.Money.Labour.Mul(money.Measured(hours * x.Operators)))
	}
	for _, l := range c.sc.Lots {
		o := owned[c.p.stations[l.Machine].ID]
		sum = sum.Add(o.KW.Mul(w.Money.Energy.Dec).Mul(money.Measured(l.Work / 3600)))
	}
	return sum, without, nil
}

// offeredYears is the life of an offered machine of which only the price is known.
// Assumed.
const offeredYears = 8

// gain is how many orders fewer are late by a row, in the mean of the draws.
func (a *HindsightAnswer) gain(r *FleetRow) float64 { return a.Fleets[0].LateMean - r.LateMean }

// oneOrder is from how many orders on a difference counts as one; fewerSure from
// which chance of fewer late orders it is told without doubt.
const oneOrder, fewerSure = .5, .9

// say puts the answer into sentences.
func (a *HindsightAnswer) say(unpriced []string) {
	if len(a.Fleets) == 0 {
		a.Verdict.Say("fleet.none")
		return
	}
	base := &a.Fleets[0]
	a.Verdict.Say("fleet.book", words.Args{"orders": words.Count(a.Finished+a.Open, "order"), "from": a.From,
		"pieces": words.Count(a.Pieces, "piece"), "finished": words.Whole(a.Finished), "open": words.Whole(a.Open)})
	if base.Late == 0 {
		a.Verdict.Say("fleet.in-time")
	} else {
		a.Verdict.Say("fleet.late", words.Args{"orders": words.Count(base.Late, "order"),
			"hours": words.Span(base.LateHours), "overtime": words.Hours(base.Overtime)})
	}
	if base.LateHigh == 0 && base.Refused == 0 {
		a.Verdict.Say("fleet.drawn-none")
	} else {
		a.Verdict.Say("fleet.drawn", words.Args{"mean": words.Mean(base.LateMean, "order"),
			"low": words.Whole(int(base.LateLow)), "high": words.Whole(int(base.LateHigh)), "n": words.Whole(base.Refused)})
	}
	a.decide(base)
	a.Caveats.Say("fleet.how")
	if a.Finished == 0 {
		a.Caveats.Say("fleet.none-finished")
	}
	if a.offered != "" {
		a.Caveats.Say("fleet.offered", words.Args{"machine": words.Name(a.offered), "years": words.Count(offeredYears, "year")})
	}
	if a.Currency == "" {
		a.Caveats.Say("fleet.no-prices")
	}
	for _, m := range unpriced {
		a.Caveats.Say("fleet.unpriced", words.Args{"machine": words.Name(m)})
	}
	for i := range a.Fleets {
		r := &a.Fleets[i]
		switch {
		case r.staffed != nil:
			a.Caveats.Say("fleet.unused-hands", words.Args{"what": r.What, "hours": words.Span(r.staffed.hours), "before": words.Span(r.LateHours)})
		case r.Unused:
			a.Caveats.Say("fleet.unused", words.Args{"what": r.What})
		}
		if r.Left > 0 {
			a.Caveats.Say("fleet.left", words.Args{"what": r.What, "lines": words.Count(r.Left, "line")})
		}
	}
}

// decide says what the fleets tell, or what would.
func (a *HindsightAnswer) decide(base *FleetRow) {
	cash := func(d money.Dec) words.Value { return words.Money{Amount: d, Code: a.Currency, Round: true} }
	var best, saves *FleetRow
	for i := range a.Fleets[1:] {
		r := &a.Fleets[1+i]
		if r.Left > base.Left {
			continue
		}
		if best == nil || a.gain(r) > a.gain(best) || a.gain(r) == a.gain(best) && r.More.LessThan(best.More) {
			best = r
		}
		asGood := a.gain(r) > -oneOrder && r.Refused <= base.Refused && r.LateHours <= base.LateHours
		if asGood && r.More.IsNegative() && (saves == nil || r.More.LessThan(saves.More)) {
			saves = r
		}
	}
	if saves != nil {
		a.Verdict.Say("fleet.saves", words.Args{"what": saves.What, "less": cash(saves.More.Neg())})
	}
	switch {
	case best == nil:
		return
	case a.gain(best) < oneOrder && base.Refused <= best.Refused:
		least := base
		for i := range a.Fleets {
			if r := &a.Fleets[i]; r.Left <= base.Left && r.LateHours < least.LateHours {
				least = r
			}
		}
		switch {
		case base.Late+base.Refused > 0 && least != base && a.Currency != "":
			a.Verdict.Say("fleet.less-late", words.Args{"what": least.What, "hours": words.Span(least.LateHours),
				"before": words.Span(base.LateHours), "more": cash(least.More)})
		case base.Late+base.Refused > 0:
			a.Verdict.Say("fleet.no-help")
		case saves == nil:
			a.Verdict.Say("fleet.no-need")
		}
		return
	}
	gain := max(a.gain(best), float64(base.Refused-best.Refused))
	fewer, refused := words.Mean(max(0, a.gain(best)), "order"), words.Whole(max(0, base.Refused-best.Refused))
	switch {
	case a.Currency != "" && best.More.IsPositive():
		a.Verdict.Say("fleet.pays-from", words.Args{"what": best.What, "fewer": fewer, "refused": refused,
			"more": cash(best.More), "each": cash(best.More.Div(money.Measured(gain)))})
	case best != saves:
		a.Verdict.Say("fleet.best", words.Args{"what": best.What, "fewer": fewer, "refused": refused})
	}
	if best.Fewer < fewerSure {
		a.Verdict.Say("fleet.unsure", words.Args{"what": best.What, "chance": words.Chance(best.Fewer)})
	}
}

// Table is a row for each fleet.
func (a *HindsightAnswer) Table() *Table {
	t := table("fleet", words.Say("fleet.caption", words.Args{"from": a.From, "until": a.Until}),
		column("fleet", "fleet.fleet"),
		number("late_orders", "fleet.late-orders"),
		number("late_hours", "fleet.late-hours"),
		number("late_mean", "fleet.late-mean"),
		number("late_low", "fleet.late-low"),
		number("late_high", "fleet.late-high"),
		number("fewer_percent", "fleet.fewer"),
		number("overtime_hours", "fleet.overtime"),
		number("refused_orders", "fleet.refused"),
		number("refused_pieces", "fleet.refused-pieces"),
		number("machine_hours", "fleet.busy"),
	)
	if a.Currency != "" {
		t.Columns = append(t.Columns,
			number("cost", "fleet.cost", words.Args{"currency": words.Name(a.Currency)}),
			number("more", "fleet.more", words.Args{"currency": words.Name(a.Currency)}))
	}
	for i := range a.Fleets {
		r := &a.Fleets[i]
		var fewer words.Value = words.None{}
		if i > 0 {
			fewer = coded{words.Chance(r.Fewer), words.Fixed(100*r.Fewer, 1).Raw()}
		}
		cells := []words.Value{r.What, words.Whole(r.Late), words.Fixed(r.LateHours, 1), words.Fixed(r.LateMean, 1),
			words.Whole(int(r.LateLow)), words.Whole(int(r.LateHigh)), fewer, words.Fixed(r.Overtime, 1),
			words.Whole(r.Refused), words.Whole(r.RefusedPcs), words.Fixed(r.Busy, 1)}
		if a.Currency != "" {
			cells = append(cells, words.Money{Amount: r.Cost, Code: a.Currency, Round: true, Bare: true},
				words.Money{Amount: r.More, Code: a.Currency, Round: true, Bare: true})
		}
		t.add(cells...)
	}
	return t
}
