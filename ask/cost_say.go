package ask

import (
	"strconv"
	"strings"

	"needlepace/floor"
	"needlepace/money"
	"needlepace/words"
)

// holds is how long a piece holds the machine, and for what.
func (a *CostAnswer) holds(m *money.Made) words.Message {
	var spent words.List
	for _, st := range []floor.State{floor.Running, floor.Loading, floor.Waiting, floor.WaitHoop, floor.Repair,
		floor.Bobbins, floor.Attending} {
		if s := m.Seconds[st]; s >= .05 {
			spent.Say("cost.spent", words.Args{"what": stateWords[st], "time": words.Seconds(s)})
		}
	}
	if last := &a.Steps[len(a.Steps)-1]; last.Idle > 0 {
		return words.Say("cost.holds-in-order", words.Args{"pieces": words.Count(last.Quantity, "piece"),
			"held": words.Seconds(last.Held), "time": words.Seconds(a.Piece), "spent": spent})
	}
	return words.Say("cost.holds", words.Args{"time": words.Seconds(a.Piece), "spent": spent})
}

// say puts the figures in sentences, the cost and the price first.
func (a *CostAnswer) say(r *money.Rates, level float64) {
	last := &a.Steps[len(a.Steps)-1]
	n, cur := words.Count(last.Quantity, "piece"), a.Currency
	a.Verdict = append(words.Sentences{
		words.Say("cost.costs", words.Args{"pieces": n, "cost": amount(last.Cost, cur), "level": words.Level(level),
			"low": amount(a.Range[0], cur), "high": amount(a.Range[1], cur)}),
		words.Say("cost.ask",
			words.Args{"price": amount(last.Price, cur), "margin": words.Name(r.Margin.String() + " %"),
				"step": amount(r.PriceStep.String(), cur)}),
		words.Say("cost.run-time",
			words.Args{"time": words.Seconds(a.Run), "low": words.Clock(a.Low), "high": words.Clock(a.High)}),
	}, a.Verdict...)
	var colours words.List
	for _, c := range a.Thread.Colours {
		colours.Say("cost.colour", words.Args{"colour": words.Name(c.Colour), "length": words.Metres(c.Top),
			"cones": words.Count(c.Cones, "cone")})
	}
	a.Verdict.Say("cost.thread", words.Args{"pieces": words.Count(a.Thread.Pieces, "piece"), "colours": colours,
		"bobbin": words.Metres(a.Thread.Bobbin), "bobbins": words.Count(a.Thread.Bobbins, "bobbin"),
		"each": words.Mean(a.Thread.PerBobbin, "piece")})
	a.Caveats = append(words.Sentences{}, priceCaveats(a.Placeholder, a.Missing, machineOf)...)
	for _, s := range a.Steps {
		if s.Idle > 0 {
			a.Caveats.Say("cost.idle", words.Args{"pieces": words.Count(s.Quantity, "piece"),
				"idle": words.Count(s.Idle, "head"), "heads": words.Whole(a.Heads)})
		}
	}
}

// LineTable is the cost of a piece line by line, a column a quantity.
func (a *CostAnswer) LineTable() *Table {
	more := words.Places(a.Currency) + 1
	t := table("lines", words.Say("cost.lines", words.Args{"currency": words.Name(a.Currency)}),
		column("line", "column.pieces-in-order"))
	for _, s := range a.Steps {
		t.Columns = append(t.Columns,
			Column{Key: strconv.Itoa(s.Quantity), Heading: words.Whole(s.Quantity), Number: true})
	}
	t.Columns = append(t.Columns, column("basis", "column.basis"))
	row := func(name words.Value, basis words.Value, places int, of func(*CostStep) string) {
		r := []words.Value{name}
		for i := range a.Steps {
			r = append(r, decimalOf(of(&a.Steps[i]), places))
		}
		t.add(append(r, basis)...)
	}
	for i, l := range a.Steps[len(a.Steps)-1].Lines {
		row(words.Name(l.Name), words.Name(l.Basis), more, func(s *CostStep) string { return s.Lines[i].Amount })
	}
	row(words.Say("cost.a-piece"), nil, more-1, func(s *CostStep) string { return s.Cost })
	row(words.Say("cost.per-1000"), nil, more, func(s *CostStep) string { return s.PerThousand })
	row(words.Say("cost.machine-hour"), nil, more-1, func(s *CostStep) string { return s.PerHour })
	row(words.Say("cost.price"), nil, more-1, func(s *CostStep) string { return s.Price })
	row(words.Say("cost.price-with-tax"), nil, more-1, func(s *CostStep) string { return s.PriceTax })
	return t
}

// CostTable is a row for each design, machine and quantity, for files.
func CostTable(all []*CostAnswer) *Table {
	t := table("cost", words.Say("cost.table"),
		Column{Key: "design", Heading: words.Name("design")}, Column{Key: "file", Heading: words.Name("file")},
		Column{Key: "machine",
			Heading: words.Name("machine")},
		Column{Key: "heads", Heading: words.Name("heads"), Number: true},
		Column{Key: "quantity", Heading: words.Name("quantity"),
			Number: true},
		Column{Key: "currency", Heading: words.Name("currency")},
	)
	if len(all) == 0 {
		return t
	}
	column := func(key string) {
		t.Columns = append(t.Columns, Column{Key: key, Heading: words.Name(key), Number: true})
	}
	for _, l := range all[0].Steps[0].Lines {
		key := strings.NewReplacer(" ", "_", "-", "_").Replace(l.Name)
		if key == "machine" { // which one it is has that key already
			key = "machine_cost"
		}
		column(key)
	}
	for _, key := range []string{"cost", "cost_per_1000_stitches", "cost_per_machine_hour", "price", "price_with_tax"} {
		column(key)
	}
	for _, a := range all {
		for _, s := range a.Steps {
			row := []words.Value{words.Name(a.Design), words.Name(a.File), words.Name(a.Machine), words.Whole(a.Heads),
				words.Whole(s.Quantity),
				words.Name(a.Currency)}
			for _, l := range s.Lines {
				row = append(row, decimalOf(l.Amount, 6))
			}
			for _, x := range []string{s.Cost, s.PerThousand, s.PerHour, s.Price, s.PriceTax} {
				row = append(row, decimalOf(x, 4))
			}
			t.add(row...)
		}
	}
	return t
}
