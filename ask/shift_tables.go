package ask

import (
	"github.com/shopspring/decimal"

	"needlepace/floor"
	"needlepace/words"
)

// stateWords names the states in the words of the floor.
var stateWords = [floor.NumStates]words.Message{
	floor.Running: words.Say("floor.sewing", nil), floor.Waiting: words.Say("floor.waiting", nil),
	floor.WaitHoop: words.Say("floor.waiting-for-hoops", nil), floor.Repair: words.Say("floor.breaks", nil),
	floor.Bobbins: words.Say("floor.bobbins", nil), floor.Attending: words.Say("floor.stops", nil),
	floor.Loading: words.Say("floor.loading", nil), floor.Changeover: words.Say("floor.changeover", nil),
	floor.Pausing: words.Say("floor.pause", nil), floor.NoWork: words.Say("floor.no-work", nil),
}

// MachineTable is the machines' yield; files get their seconds too.
func (a *ShiftAnswer) MachineTable() *Table {
	t := &Table{Key: "machines", Caption: words.Say("shift.machines", nil), Columns: []Column{
		{Key: "machine", Heading: words.Say("column.machine", nil)},
		{Key: "heads", Heading: words.Say("column.heads", nil), Number: true},
		{Key: "pieces", Heading: words.Say("column.pieces", nil), Number: true},
		{Key: "pieces_low", Heading: words.Say("column.level-from", words.Args{"level": words.Level(a.Level)}),
			Number: true},
		{Key: "pieces_high", Heading: words.Say("column.to", nil), Number: true},
		{Key: "good", Heading: words.Say("column.good", nil), Number: true, File: true},
		{Key: "thread_breaks", Heading: words.Say("column.thread-breaks", nil), Number: true},
		{Key: "bobbins", Heading: words.Say("column.bobbins", nil), Number: true, File: true},
		{Key: "runs", Heading: words.Say("column.runs", nil), Number: true, File: true},
	}}
	for st := range floor.NumStates {
		t.Columns = append(t.Columns,
			Column{Key: stateKey(st) + "_seconds", Heading: stateWords[st], Unit: "s", Number: true, File: true})
	}
	t.Columns = append(t.Columns,
		Column{Key: "availability", Heading: words.Say("column.availability", nil), Number: true, File: true},
		Column{Key: "effectiveness", Heading: words.Say("column.effectiveness", nil), Number: true, File: true},
		Column{Key: "quality_ratio", Heading: words.Say("column.quality", nil), Number: true, File: true},
		Column{Key: "oee", Heading: words.Say("column.oee", nil), Number: true})
	for i := range a.Machines {
		m := &a.Machines[i]
		row := []words.Value{words.Name(m.Machine), words.Whole(m.Heads), words.Figure(m.Pieces.Mean),
			words.Fixed(m.Pieces.SingleLow, 0), words.Fixed(m.Pieces.SingleHigh, 0), words.Figure(m.Good),
			words.Fixed(m.Breaks, 1), words.Fixed(m.Bobbins, 1), words.Fixed(m.Runs, 1)}
		for st := range floor.NumStates {
			row = append(row, words.Seconds(m.In(st)))
		}
		t.Rows = append(t.Rows, append(row, words.Share(m.OEE.Availability), words.Share(m.OEE.Effectiveness),
			words.Share(m.OEE.Quality), words.Share(m.OEE.OEE)))
	}
	return t
}

// leastShown is the seconds of all machines together below which a state is in
// files only.
const leastShown = 6

// StateTable is where each machine's shift goes, the states that take any time.
func (a *ShiftAnswer) StateTable() *Table {
	t := &Table{Key: "states", Caption: words.Say("shift.states", nil),
		Columns: []Column{{Key: "machine", Heading: words.Say("column.machine", nil)}}}
	for st := range floor.NumStates {
		sum := 0.0
		for i := range a.Machines {
			sum += a.Machines[i].In(st)
		}
		t.Columns = append(t.Columns,
			Column{Key: stateKey(st) + "_seconds", Heading: stateWords[st], Unit: "s", Number: true,
				File: sum < leastShown})
	}
	for i := range a.Machines {
		row := []words.Value{words.Name(a.Machines[i].Machine)}
		for st := range floor.NumStates {
			row = append(row, words.Seconds(a.Machines[i].In(st)))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// OperatorTable is where the operators' time goes, in shares of the time that
// they are there.
func (a *ShiftAnswer) OperatorTable() *Table {
	t := &Table{Key: "operators", Caption: words.Say("shift.operators", nil), Columns: []Column{
		{Key: "operator", Heading: words.Say("column.operator", nil)},
		{Key: "busy", Heading: words.Say("column.busy", nil), Number: true},
		{Key: "at_machines", Heading: words.Say("floor.at-machines", nil), Number: true},
		{Key: "hooping", Heading: words.Say("floor.hooping", nil), Number: true},
		{Key: "walking", Heading: words.Say("floor.walking", nil), Number: true},
		{Key: "free", Heading: words.Say("floor.free", nil), Number: true},
	}}
	for _, h := range a.Operators {
		there := a.ShiftSeconds - h.Away
		share := func(s float64) words.Value { return words.Share(finite(s / there)) }
		t.Rows = append(t.Rows,
			[]words.Value{words.Name(h.Operator), words.Share(h.Use), share(h.Machines), share(h.Hooping),
				share(h.Walking), share(h.Free)})
	}
	return t
}

// JobTable is what each job gets.
func (a *ShiftAnswer) JobTable() *Table {
	t := &Table{Key: "jobs", Caption: words.Say("shift.jobs", nil), Columns: []Column{
		{Key: "job", Heading: words.Say("column.job", nil)},
		{Key: "pieces", Heading: words.Say("column.pieces", nil), Number: true},
		{Key: "quantity", Heading: words.Say("column.ordered", nil), Number: true},
	}}
	for _, j := range a.Jobs {
		var ordered words.Value = words.Say("shift.all-it-yields", nil)
		if j.Quantity > 0 {
			ordered = words.Whole(j.Quantity)
		}
		t.Rows = append(t.Rows, []words.Value{words.Name(j.Job), words.Figure(j.Pieces), ordered})
	}
	return t
}

// WhatIfTable is what one more of each would give; nil where it was not asked.
func (a *ShiftAnswer) WhatIfTable() *Table {
	if len(a.WhatIf) == 0 {
		return nil
	}
	t := &Table{Key: "whatif", Caption: words.Say("shift.what-if", nil), Columns: []Column{
		{Key: "change", Heading: words.Say("column.change", nil)},
		{Key: "more_pieces", Heading: words.Say("column.more-pieces", nil), Number: true},
		{Key: "more_pieces_low", Heading: words.Say("column.level-from", words.Args{"level": words.Level(a.Level)}),
			Number: true},
		{Key: "more_pieces_high", Heading: words.Say("column.to", nil), Number: true},
		{Key: "sooner_seconds", Heading: words.Say("column.sooner", nil), Unit: "s", Number: true,
			File: a.WhatIf[0].Sooner == nil},
	}}
	signed := func(v float64) words.Value { return words.Signed{Numeric: words.Fixed(v, 1)} }
	for _, x := range a.WhatIf {
		row := []words.Value{words.Name(x.Change), signed(x.Pieces.Mean), signed(x.Pieces.MeanLow),
			signed(x.Pieces.MeanHigh), nil}
		if x.Sooner != nil {
			row[4] = words.Seconds(*x.Sooner)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// Table is the crews of each size; currency is that of the costs.
func (c *Crew) Table(currency string) *Table {
	priced := c.By[0].Cost != ""
	t := &Table{Key: "crew", Caption: words.Say("crew.table", words.Args{"machine": words.Name(c.Machine)}),
		Columns: []Column{
			{Key: "machines", Heading: words.Say("column.machines", nil), Number: true},
			{Key: "pieces", Heading: words.Say("column.pieces-a-shift", nil), Number: true},
			{Key: "pieces_each", Heading: words.Say("column.each", nil), Number: true},
			{Key: "operator_use", Heading: words.Say("column.operator-busy", nil), Number: true},
			{Key: "machines_waiting", Heading: words.Say("column.machines-waiting", nil), Number: true},
			{Key: "machine_and_labour_per_piece",
				Heading: words.Say("column.currency-a-piece", words.Args{"currency": words.Name(currency)}),
				Unit:    currency, Number: true, File: !priced},
			{Key: "best", Heading: words.Message{}},
		}}
	for _, p := range c.By {
		row := []words.Value{words.Whole(p.Machines), words.Figure(p.Pieces.Mean), words.Figure(p.Each),
			words.Share(p.Use),
			words.Share(p.Waiting), nil, nil}
		if priced {
			row[5] = decimalOf(p.Cost, words.Places(currency))
		}
		if p.Machines == c.Best {
			row[6] = words.Say("crew.best", nil)
		}
		t.Rows = append(t.Rows, row)
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
