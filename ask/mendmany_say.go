package ask

import (
	"strings"

	"needlepace/words"
)

// risks says what of a mended design is to be looked at before it is sewn.
func (d *MendedDesign) risks() {
	x := d.Mend
	if d.Stops > 0 {
		d.Risks.Say("many.risk.operators-stops", words.Args{"stops": words.Count(d.Stops, "operators-stop")})
	}
	for _, w := range x.Of.FileWarnings() {
		if d.Changed {
			d.Risks.Say("many.risk.file", words.Args{"warning": words.Name(w)})
		} else {
			d.Risks.Say("many.risk.old-file", words.Args{"warning": words.Name(w)})
		}
	}
	if !d.Changed {
		return
	}
	if spare := len(x.Kept.Spare()); spare > 0 {
		d.Risks.Say("many.risk.spare", words.Args{"stops": words.Count(spare, "stop")})
	}
	for _, m := range x.Machines {
		switch {
		case m.Good:
		case m.Trims[1] < x.After.Trims:
			d.Risks.Say("many.risk.trims", words.Args{"machine": words.Name(m.Machine)})
		case m.After > m.Before:
			d.Risks.Say("many.risk.slower", words.Args{"machine": words.Name(m.Machine)})
		default:
			d.Risks.Say("many.risk.uncut", words.Args{"machine": words.Name(m.Machine), "ways": words.Count(m.Uncut, "way")})
		}
	}
	if gone := x.Before.ColourStops - x.After.ColourStops; gone > 0 {
		d.Risks.Say("many.risk.stops-went", words.Args{"stops": words.Count(gone, "colour-stop")})
	}
	if x.Rethreaded() {
		d.Risks.Say("many.risk.colours")
	}
	if x.ThreadsFrom == "" && x.Before.ColourStops > 0 {
		d.Risks.Say("many.risk.threads")
	}
	if x.toName != "" {
		d.Risks.Say("many.risk.name-threads", words.Args{"threads": words.Name(x.toName)})
	}
}

// say puts the answer into sentences.
func (a *MendManyAnswer) say(money bool) {
	a.Verdict, a.Caveats = words.Sentences{}, words.Sentences{}
	machine, of := words.Name(a.Machine), words.Count(len(a.Designs), "design")
	if a.Mended > 0 {
		a.Verdict.Say("many.saved", words.Args{"mended": words.Whole(a.Mended), "designs": of, "machine": machine,
			"saved": words.Seconds(a.Saved), "share": words.Share(a.Saved / a.Before)})
		a.Verdict.Say("many.equal", words.Args{"equal": words.Whole(a.Equal), "mended": words.Count(a.Mended, "new-file")})
	} else if a.Same > 0 {
		a.Verdict.Say("many.nothing", words.Args{"designs": words.Count(a.Same, "design"), "machine": machine})
	} else {
		a.Verdict.Say("many.none", words.Args{"designs": of})
	}
	if looked := a.Mended + a.Same; looked > 0 {
		a.Verdict.Say("many.best", words.Args{"best": words.Whole(a.Best), "designs": words.Count(looked, "design")})
	}
	if a.Mended > 0 {
		a.Verdict.Say("many.clear", words.Args{"clear": words.Whole(a.Clear), "mended": words.Count(a.Mended, "new-file")})
	}
	if a.Held > 0 {
		a.Verdict.Say("many.held", words.Args{"held": words.Count(a.Held, "new-file")})
	}
	if a.SavedMoney != "" && a.Mended > 0 {
		a.Verdict.Say("many.money", words.Args{"hour": words.Money{Amount: a.hour, Code: a.Currency}, "machine": machine,
			"saved": a.amount(a.Saved)})
	}
	if failed := a.Failed - a.Left; failed > 0 {
		a.Caveats.Say("many.failed", words.Args{"failed": words.Count(failed, "design")})
	}
	if a.Left > 0 {
		a.Caveats.Say("many.left", words.Args{"left": words.Count(a.Left, "design")})
	}
	if money {
		a.sayPrices()
	}
	if a.Mended > 0 {
		a.Caveats.Say("mend.scrap")
	}
}

// sayPrices says that the machine's time has no price, or one that lacks some.
func (a *MendManyAnswer) sayPrices() {
	switch {
	case a.Currency != "":
		a.Caveats = append(a.Caveats, priceCaveats(a.Placeholder, a.Missing, func(string) string { return a.Machine })...)
	case len(a.Missing) > 0 && strings.HasPrefix(a.Missing[0], "money.machines."):
		a.Caveats.Say("many.no-price", words.Args{"machine": words.Name(a.Machine)})
	default:
		a.Caveats.Say("many.no-rates")
	}
}

// amount is what seconds of the machine cost: of a run it is often less than a
// cent.
func (a *MendManyAnswer) amount(seconds float64) words.Value {
	return words.Money{Amount: a.worth(seconds).Round(moneyDigits), Code: a.Currency, Places: 3}
}

// order says how good a design's order is.
func (d *MendedDesign) order() words.Message {
	switch {
	case d.Best:
		return words.Say("many.order-best")
	case d.Mend.Search.Objects == 0:
		return words.Say("many.order-not-looked")
	}
	return words.Say("many.order-gap", words.Args{"gap": words.Share(d.Gap)})
}

// risksListed are the risks in a row; nil for none.
func (d *MendedDesign) risksListed() words.Value {
	if len(d.Risks) == 0 {
		return nil
	}
	var all words.List
	for _, m := range d.Risks {
		all = append(all, m)
	}
	return all
}

// Table is every design with what a mend of it gains and what speaks against
// it, and the whole below.
func (a *MendManyAnswer) Table() *Table {
	t := table("designs", words.Say("many.caption", words.Args{"machine": words.Name(a.Machine)}),
		column("design", "many.design"),
		column("id", "many.id").inFile(),
		number("seconds_before", "many.before"),
		number("seconds_after", "many.after"),
		number("saved_seconds", "many.saves"),
		number("saved_money", "many.money-saved"),
		column("picture_equal", "many.picture"),
		column("order_best", "many.order"),
		number("order_gap", "many.gap").inFile(),
		number("operators_stops", "many.stops"),
		column("clear", "many.take"),
		column("risks", "many.risks"),
		column("kept", "many.kept").inFile(),
		column("error", "many.error"),
	)
	for i := range a.Designs {
		d := &a.Designs[i]
		row := []words.Value{words.Name(d.Design), words.Name(d.ID)}
		if d.Mend == nil || d.failed != nil {
			row = append(row, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, nil, words.Name(d.Error))
			t.add(row...)
			continue
		}
		row = append(row, words.Seconds(d.Before), words.Seconds(d.After), words.Seconds(d.Saved))
		if a.Currency == "" {
			row = append(row, nil)
		} else {
			row = append(row, coded{a.amount(d.Saved), d.Money})
		}
		picture := words.Value(coded{words.Say("many.stays"), ""})
		if d.Equal {
			picture = coded{words.Say("many.picture-equal"), "yes"}
		}
		order := coded{d.order(), ""}
		if d.Best {
			order.code = "yes"
		}
		row = append(row, picture, order, words.Share(d.Gap), words.Whole(d.Stops))
		switch {
		case d.Clear:
			row = append(row, coded{words.Say("many.yes"), "yes"})
		case d.Changed:
			row = append(row, coded{words.Say("many.look-first"), ""})
		default:
			row = append(row, nil)
		}
		row = append(row, d.risksListed())
		if d.Kept != "" {
			row = append(row, words.Name(d.Kept))
		}
		t.add(row...)
	}
	if a.Mended > 1 {
		foot := []words.Value{words.Say("many.whole"), nil, words.Seconds(a.Before), words.Seconds(a.After),
			words.Seconds(a.Saved)}
		if a.Currency != "" {
			foot = append(foot, a.amount(a.Saved))
		}
		t.Foot = foot
	}
	return t
}
