package ask

import (
	"needlepace/money"
	"needlepace/words"
)

// MachineTable is the machines on the mix.
func (a *ComparisonAnswer) MachineTable() *Table {
	sameCrew := true
	for i := range a.Machines {
		m := &a.Machines[i]
		sameCrew = sameCrew && m.CrewMachines == a.Machines[0].CrewMachines &&
			m.CrewOperators == a.Machines[0].CrewOperators
	}
	t := table("machines", words.Say("compare.machines"),
		column("machine", "column.machine"),
		number("heads", "column.heads"),
		Column{Key: "crew_machines", Heading: words.Say("column.crew-machines"), Number: true, File: sameCrew},
		Column{Key: "crew_operators", Heading: words.Say("column.crew-operators"), Number: true, File: sameCrew},
		number("rated_speed", "column.rated"),
		number("held_speed", "column.held"),
		number("hours_a_week", "column.hours-a-week"),
		number("hours_a_week_low", "column.level-from", words.Args{"level": words.Level(a.Level)}),
		number("hours_a_week_high", "column.to"),
		number("pieces_per_shift", "column.pieces-a-shift"),
		number("machines_needed", "column.needed"),
		number("cost_per_piece", "column.currency-a-piece", words.Args{"currency": words.Name(a.Currency)}),
		number("cost_per_piece_low", "column.level-from", words.Args{"level": words.Level(a.Level)}),
		number("cost_per_piece_high", "column.to"),
		number("oee", "column.oee").inFile(),
	)
	for i := range a.Machines {
		m := &a.Machines[i]
		t.add(a.machineName(m), words.Whole(m.Heads), words.Whole(m.CrewMachines),
			words.Whole(m.CrewOperators),
			words.PerMinute(m.RatedSpeed), words.PerMinute(m.HeldSpeed), words.Fixed(m.Hours.Mean,
				1), words.Fixed(m.Hours.SingleLow, 1),
			words.Fixed(m.Hours.SingleHigh, 1), words.Figure(m.PiecesPerShift.Mean), words.Whole(m.Needed),
			a.figure(m.PerPiece.Mid, 1), a.figure(m.PerPiece.Low, 1), a.figure(m.PerPiece.High,
				1), words.Share(m.OEE.OEE))
	}
	return t
}

// machineName is a machine's name, with a word where the shop has it already.
func (a *ComparisonAnswer) machineName(m *ComparedMachine) words.Value {
	if !m.Existing {
		return words.Name(m.Machine)
	}
	return coded{words.Say("compare.existing", words.Args{"machine": words.Name(m.Machine)}), m.Machine}
}

// digits is decimal text of an answer with so many decimals for people; files
// have all of them.
type digits struct {
	words.Number
	text string
}

// Raw is the text.
func (d digits) Raw() string { return d.text }

// figure is an amount alone, with some decimals more than its currency has.
func (a *ComparisonAnswer) figure(s string, more int) words.Value {
	return decimalOf(s, words.Places(a.Currency)+more)
}

func decimalOf(s string, places int) words.Value {
	m, ok := amount(s, "").(words.Money)
	if !ok {
		return words.None{}
	}
	return digits{words.Fixed(m.Float(), places), s}
}

// YearTable is what a year of the mix costs on each machine, line by line.
func (a *ComparisonAnswer) YearTable() *Table {
	t := table("year", words.Say("compare.year", words.Args{"currency": words.Name(a.Currency)}),
		Column{Key: "line", Heading: words.Message{}})
	for i := range a.Machines {
		t.Columns = append(t.Columns,
			Column{Key: a.Machines[i].Machine, Heading: words.Name(a.Machines[i].Machine), Number: true})
	}
	for _, l := range a.lines {
		row := []words.Value{words.Name(l)}
		for i := range a.Machines {
			row = append(row, decimalOf(a.Machines[i].Lines[l], 0))
		}
		t.add(row...)
	}
	row := []words.Value{words.Say("compare.together")}
	for i := range a.Machines {
		row = append(row, decimalOf(a.Machines[i].Year.Mid, 0))
	}
	t.add(row...)
	return t
}

// BeatsTable is how sure it is that one machine's year costs less than
// another's; nil for one machine alone.
func (a *ComparisonAnswer) BeatsTable() *Table {
	if len(a.Machines) < 2 {
		return nil
	}
	t := table("beats", words.Say("compare.beats"), Column{Key: "machine", Heading: words.Message{}})
	for i := range a.Machines {
		name := words.Name(a.Machines[i].Machine)
		t.Columns = append(t.Columns, Column{Key: string(name), Heading: name, Number: true})
		row := []words.Value{name}
		for j := range a.Machines {
			if i == j {
				row = append(row, words.None{})
			} else {
				row = append(row, words.Chance(a.Beats[i][j]))
			}
		}
		t.add(row...)
	}
	return t
}

// DesignTable is every design on every machine.
func (a *ComparisonAnswer) DesignTable() *Table {
	file := func(key, heading string) Column {
		return Column{Key: key, Heading: words.Name(heading), Number: true, File: true}
	}
	t := table("designs", words.Say("compare.designs"),
		column("design", "column.design"),
		file("weekly", "weekly"), file("mean_stitch_mm", "mean stitch"),
		column("machine", "column.machine"),
		number("seconds", "column.run-time"),
		number("interval_low", "column.level-from", words.Args{"level": words.Level(a.Level)}),
		number("interval_high", "column.to"),
		number("held_speed", "column.held"),
		number("machine_seconds_per_piece", "column.a-piece"),
		Column{Key: "first", Heading: words.Name("first"), File: true},
		number("first_chance", "column.first"),
		Column{Key: "why", Heading: words.Name("why"), File: true},
		file("machine_hours_a_week", "hours a week"), file("pieces_per_shift",
			"pieces a shift"), file("cost_per_piece", "cost a piece"),
		file("cost_per_piece_low", "from"), file("cost_per_piece_high", "to"), Column{Key: "currency",
			Heading: words.Name("currency"), File: true},
	)
	for i := range a.Designs {
		d := &a.Designs[i]
		for j := range d.On {
			o, m := &d.On[j], &a.Machines[j]
			var first, chance, why words.Value
			if o.Machine == d.First && len(d.On) > 1 && d.FirstIs != money.Alike {
				first, chance, why = words.Whole(1), words.Chance(d.FirstChance), d.why
			}
			var name words.Value = words.Name(d.Design)
			if j > 0 { // people see it once
				name = coded{words.Message{}, d.Design}
			}
			low, high := words.Value(words.Clock(o.Interval.Low)), words.Value(words.Clock(o.Interval.High))
			if o.Interval.Low == o.Interval.High { // its sheet has no spreads
				low, high = coded{words.None{}, low.Raw()}, coded{words.None{}, high.Raw()}
			}
			t.add(name, words.Whole(d.Weekly), words.StitchMM(d.MeanStitch), words.Name(o.Machine),
				words.Seconds(o.Seconds), low, high, words.PerMinute(o.Held),
				words.Seconds(o.PerPiece), first, chance, why, words.Hours(m.Hours.Mean),
				words.Figure(m.PiecesPerShift.Mean),
				decimalOf(m.PerPiece.Mid, 4), decimalOf(m.PerPiece.Low, 4), decimalOf(m.PerPiece.High,
					4), words.Name(a.Currency))
		}
	}
	return t
}
