package ask

import (
	"slices"

	"github.com/shopspring/decimal"

	"needlepace/floor"
	"needlepace/words"
)

// stateWords names the states in the words of the floor.
var stateWords = [floor.NumStates]words.Message{
	floor.Running: words.Say("floor.sewing"), floor.Waiting: words.Say("floor.waiting"),
	floor.WaitHoop: words.Say("floor.waiting-for-hoops"), floor.Repair: words.Say("floor.breaks"),
	floor.Bobbins: words.Say("floor.bobbins"), floor.Attending: words.Say("floor.stops"),
	floor.Loading: words.Say("floor.loading"), floor.Changeover: words.Say("floor.changeover"),
	floor.Pausing: words.Say("floor.pause"), floor.NoWork: words.Say("floor.no-work"),
}

// MachineTable is the machines' yield; files get their seconds too.
func (a *ShiftAnswer) MachineTable() *Table {
	t := table("machines", words.Say("shift.machines"),
		column("machine", "column.machine"),
		number("heads", "column.heads"),
		number("pieces", "column.pieces"),
		number("pieces_low", "column.level-from", words.Args{"level": words.Level(a.Level)}),
		number("pieces_high", "column.to"),
		number("good", "column.good").inFile(),
		number("thread_breaks", "column.thread-breaks"),
		number("bobbins", "column.bobbins").inFile(),
		number("runs", "column.runs").inFile(),
	)
	for st := range floor.NumStates {
		t.Columns = append(t.Columns,
			Column{Key: stateKey(st) + "_seconds", Heading: stateWords[st], Number: true, File: true})
	}
	t.Columns = append(t.Columns,
		number("availability", "column.availability").inFile(),
		number("effectiveness", "column.effectiveness").inFile(),
		number("quality_ratio", "column.quality").inFile(),
		number("oee", "column.oee"))
	for i := range a.Machines {
		m := &a.Machines[i]
		row := []words.Value{words.Name(m.Machine), words.Whole(m.Heads), words.Figure(m.Pieces.Mean),
			words.Fixed(m.Pieces.SingleLow, 0), words.Fixed(m.Pieces.SingleHigh, 0), words.Figure(m.Good),
			words.Fixed(m.Breaks, 1), words.Fixed(m.Bobbins, 1), words.Fixed(m.Runs, 1)}
		for st := range floor.NumStates {
			row = append(row, words.Seconds(m.In(st)))
		}
		t.add(append(row, words.Share(m.OEE.Availability), words.Share(m.OEE.Effectiveness),
			words.Share(m.OEE.Quality), words.Share(m.OEE.OEE))...)
	}
	return t
}

// leastShown is the seconds of all machines together below which a state is in
// files only.
const leastShown = 6

// StateTable is where each machine's shift goes, the states that take any time.
func (a *ShiftAnswer) StateTable() *Table {
	t := table("states", words.Say("shift.states"), column("machine", "column.machine"))
	for st := range floor.NumStates {
		sum := 0.0
		for i := range a.Machines {
			sum += a.Machines[i].In(st)
		}
		t.Columns = append(t.Columns,
			Column{Key: stateKey(st) + "_seconds", Heading: stateWords[st], Number: true,
				File: sum < leastShown})
	}
	for i := range a.Machines {
		row := []words.Value{words.Name(a.Machines[i].Machine)}
		for st := range floor.NumStates {
			row = append(row, words.Seconds(a.Machines[i].In(st)))
		}
		t.add(row...)
	}
	return t
}

// OperatorTable is where the operators' time goes, in shares of the time that
// they are there.
func (a *ShiftAnswer) OperatorTable() *Table {
	t := table("operators", words.Say("shift.operators"),
		column("operator", "column.operator"),
		number("busy", "column.busy"),
		number("at_machines", "floor.at-machines"),
		number("hooping", "floor.hooping"),
		number("walking", "floor.walking"),
		number("free", "floor.free"),
	)
	for _, h := range a.Operators {
		there := a.ShiftSeconds - h.Away
		share := func(s float64) words.Value { return words.Share(finite(s / there)) }
		t.add(words.Name(h.Operator), words.Share(h.Use), share(h.Machines), share(h.Hooping),
			share(h.Walking), share(h.Free))
	}
	return t
}

// JobTable is what each job gets.
func (a *ShiftAnswer) JobTable() *Table {
	t := table("jobs", words.Say("shift.jobs"),
		column("job", "column.job"),
		number("pieces", "column.pieces"),
		number("quantity", "column.ordered"),
	)
	for _, j := range a.Jobs {
		var ordered words.Value = words.Say("shift.all-it-yields")
		if j.Quantity > 0 {
			ordered = words.Whole(j.Quantity)
		}
		t.add(words.Name(j.Job), words.Figure(j.Pieces), ordered)
	}
	return t
}

// WhatIfTable is what one more of each would give; nil where it was not asked.
func (a *ShiftAnswer) WhatIfTable() *Table {
	if len(a.WhatIf) == 0 {
		return nil
	}
	t := table("whatif", words.Say("shift.what-if"),
		column("change", "column.change"),
		number("more_pieces", "column.more-pieces"),
		number("more_pieces_low", "column.level-from", words.Args{"level": words.Level(a.Level)}),
		number("more_pieces_high", "column.to"),
		Column{Key: "sooner_seconds", Heading: words.Say("column.sooner"), Number: true,
			File: a.WhatIf[0].Sooner == nil},
	)
	signed := func(v float64) words.Value { return words.Signed{Numeric: words.Fixed(v, 1)} }
	for _, x := range a.WhatIf {
		row := []words.Value{words.Name(x.Change), signed(x.Pieces.Mean), signed(x.Pieces.MeanLow),
			signed(x.Pieces.MeanHigh), nil}
		if x.Sooner != nil {
			row[4] = words.Seconds(*x.Sooner)
		}
		t.add(row...)
	}
	return t
}

// Table is the crews of each size; currency is that of the costs.
func (c *Crew) Table(currency string) *Table {
	priced := c.By[0].Cost != ""
	t := table("crew", words.Say("crew.table", words.Args{"machine": words.Name(c.Machine)}),
		number("machines", "column.machines"),
		number("pieces", "column.pieces-a-shift"),
		number("pieces_each", "column.each"),
		number("operator_use", "column.operator-busy"),
		number("machines_waiting", "column.machines-waiting"),
		Column{Key: "machine_and_labour_per_piece",
			Heading: words.Say("column.currency-a-piece", words.Args{"currency": words.Name(currency)}),
			Number:  true, File: !priced},
		Column{Key: "best", Heading: words.Message{}},
	)
	for _, p := range c.By {
		row := []words.Value{words.Whole(p.Machines), words.Fixed(p.Pieces.Mean, 1), words.Fixed(p.Each, 1),
			words.Share(p.Use),
			words.Share(p.Waiting), nil, nil}
		if priced {
			row[5] = decimalOf(p.Cost, words.Places(currency))
		}
		switch {
		case slices.Contains(c.Alike, p.Machines):
			row[6] = words.Say("crew.as-good")
		case p.Machines == c.Best:
			row[6] = words.Say("crew.best")
		}
		t.add(row...)
	}
	return t
}

// amount is decimal text of an answer as money.
func amount(s, currency string) words.Value {
	d, err := decimal.NewFromString(s)
	if err != nil {
		return words.None{}
	}
	return words.Money{Amount: d, Code: currency}
}
