package ask

import (
	"math"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/words"
)

// WhyShown is how many constants are named where people ask what the interval
// hangs on.
const WhyShown = 3

// clockHead are the columns that say what a row is about.
func clockHead() []Column {
	return []Column{
		column("design", "clock.design").inFile(),
		column("file", "clock.file").inFile(),
		column("machine", "clock.machine"),
		number("set_speed", "sweep.set"),
	}
}

func (a *ClockAnswer) head() []words.Value {
	return []words.Value{words.Name(a.Design), words.Name(a.File), words.Name(a.Machine), words.PerMinute(a.SetSpeed)}
}

func partColumns() []Column {
	var out []Column
	for _, p := range partsOf(&clock.Parts{}) {
		out = append(out, Column{Key: "parts_" + p.key, Heading: p.name, Number: true, File: true})
	}
	return append(out,
		number("long_stitches_by_frame_x", "part.frame-x").inFile(),
		number("long_stitches_by_frame_y", "part.frame-y").inFile(),
		number("long_stitches_by_turn", "part.turn").inFile(),
		number("long_stitches_by_ladder", "part.ladder").inFile())
}

func partValues(p *clock.Parts, l *clock.LongBy) []words.Value {
	var out []words.Value
	for _, q := range partsOf(p) {
		out = append(out, words.Seconds(q.seconds))
	}
	for _, s := range []float64{l.FrameX, l.FrameY, l.Turn, l.Ladder} {
		out = append(out, words.Seconds(s))
	}
	return out
}

// ClockTable is a row for each answer: a design on machines, or many designs.
func ClockTable(all ...*ClockAnswer) *Table {
	swept, chance := false, DefaultLevel
	for _, a := range all {
		swept = swept || a.Swept != nil
		chance = a.Interval.Level
	}
	t := table("clock", words.Say("clock.machines"))
	t.Columns = append(clockHead(),
		number("seconds", "clock.run-time"),
		number("interval_low", "clock.level-between", words.Args{"level": words.Level(chance)}),
		number("interval_high", "clock.and"),
		number("interval_level", "clock.level").inFile(),
		number("stitches", "clock.stitches").inFile(),
		number("revolutions", "clock.revolutions").inFile(),
		number("trims", "part.trims").inFile(),
		number("colour_stops", "part.colour-stops").inFile(),
		number("jumps", "clock.jumps").inFile(),
		number("width_mm", "clock.width").inFile(),
		number("height_mm", "clock.height").inFile(),
		number("held_speed", "clock.held"),
		number("overall_speed", "clock.overall"),
		number("naive_seconds", "clock.naive"))
	t.Columns = append(t.Columns, partColumns()...)
	t.Columns = append(t.Columns,
		number("thread_top_m", "clock.top-thread").inFile(),
		number("thread_bobbin_m", "clock.bobbin-thread").inFile(),
		number("thread_top_g", "clock.top-thread").inFile())
	if swept {
		t.Columns = append(t.Columns, number("knee_speed", "sweep.mark").inFile())
	}
	t.Columns = append(t.Columns,
		column("warnings", "clock.warnings").inFile(),
		column("label", "clock.label").inFile())
	for _, a := range all {
		low, high := words.Value(words.Clock(a.Interval.Low)), words.Value(words.Clock(a.Interval.High))
		if standingOf(a.On) == noSpreads {
			low, high = coded{words.None{}, low.Raw()}, coded{words.None{}, high.Raw()}
		}
		row := append(a.head(), words.Seconds(a.Seconds), low, high,
			words.Level(a.Interval.Level), words.Whole(a.Stitches), words.Whole(a.Revolutions), words.Whole(a.Trims),
			words.Whole(a.ColourStops), words.Whole(a.Jumps), words.MM(a.WidthMM), words.MM(a.HeightMM),
			words.PerMinute(a.HeldSpeed), words.PerMinute(a.OverallSpeed), words.Seconds(a.NaiveSeconds))
		row = append(row, partValues(&a.Parts, &a.LongBy)...)
		row = append(row, words.Metres(a.Thread.Top), words.Metres(a.Thread.Bobbin), words.Fixed(a.Thread.Grams, 1))
		if swept {
			row = append(row, words.PerMinute(a.KneeSpeed))
		}
		notes := make(words.List, len(a.Warnings))
		for i, w := range a.Warnings {
			notes[i] = words.Name(w)
		}
		t.add(append(row, notes, words.Name(a.Label))...)
	}
	return t
}

// SecondsTable says where every second goes.
func (a *ClockAnswer) SecondsTable() *Table {
	t := table("seconds", words.Say("clock.where"),
		column("part", "clock.part"),
		number("seconds", "clock.time"),
		number("share", "clock.share"),
		column("what", "clock.what"),
	)
	notes := a.notes()
	for _, p := range partsOf(&a.Parts) {
		if p.seconds > 0 {
			t.add(coded{p.name, p.key}, words.Seconds(p.seconds),
				words.Share(p.seconds/a.Seconds), notes[p.key])
		}
	}
	return t
}

// PartsTable is the seconds of each part on each machine: the parts that some
// machine has.
func PartsTable(all []*ClockAnswer) *Table {
	t := table("parts", words.Say("clock.where"), clockHead()[2])
	none := partsOf(&clock.Parts{})
	on := make([]bool, len(none))
	for _, a := range all {
		for i, p := range partsOf(&a.Parts) {
			on[i] = on[i] || p.seconds > 0
		}
	}
	for i, p := range none {
		if on[i] {
			t.Columns = append(t.Columns, Column{Key: p.key, Heading: p.name, Number: true})
		}
	}
	for _, a := range all {
		row := []words.Value{words.Name(a.Machine)}
		for i, p := range partsOf(&a.Parts) {
			if on[i] {
				row = append(row, words.Seconds(p.seconds))
			}
		}
		t.add(row...)
	}
	return t
}

// BlocksTable is the same by colour block: the question must ask for them.
func (a *ClockAnswer) BlocksTable() *Table {
	t := table("blocks", words.Say("clock.blocks", words.Args{"machine": words.Name(a.Machine)}))
	t.Columns = clockHead()
	for i := range t.Columns {
		t.Columns[i].File = true
	}
	t.Columns = append(t.Columns,
		number("block", "clock.block"),
		number("needle", "clock.needle"),
		number("seconds", "clock.time"),
		number("stitches", "clock.stitches"),
		number("revolutions", "clock.revolutions").inFile(),
		number("trims", "part.trims"),
		number("jumps", "clock.jumps").inFile(),
		number("held_speed", "clock.held"),
		number("overall_speed", "clock.overall").inFile())
	t.Columns = append(t.Columns, partColumns()...)
	t.Columns = append(t.Columns,
		number("thread_top_m", "clock.top-thread"),
		column("thread", "clock.thread-name"))
	for i := range a.Blocks {
		b := &a.Blocks[i]
		row := append(a.head(), words.Whole(b.Block), words.Whole(b.Needle), words.Seconds(b.Seconds),
			words.Whole(b.Stitches), words.Whole(b.Revolutions), words.Whole(b.Trims), words.Whole(b.Jumps),
			words.PerMinute(b.HeldSpeed), words.PerMinute(b.OverallSpeed))
		row = append(row, partValues(&b.Parts, &b.LongBy)...)
		name := ""
		if i < len(a.Of.Threads) {
			name = a.Of.Threads[i].Name
		}
		t.add(append(row, words.Metres(a.Thread.ByBlock[i]), words.Name(name))...)
	}
	return t
}

// basisSays says where a constant is from; nothing of one of which the sheet says nothing.
func basisSays(b machine.Basis) words.Value {
	if b == "" {
		return words.Name("")
	}
	return coded{words.Say("basis." + string(b)), string(b)}
}

// WhyTable is what the interval hangs on, the first few constants: measure
// these first. The question must ask for them.
func (a *ClockAnswer) WhyTable() *Table {
	t := table("why", words.Say("clock.why", words.Args{"machine": words.Name(a.Machine)}),
		column("constant", "clock.constant"),
		number("share", "clock.of-doubt"),
		number("seconds", "clock.plus-minus"),
		column("what", "clock.what").inFile(),
		column("basis", "clock.basis"),
	)
	for _, w := range a.Why[:min(len(a.Why), WhyShown)] {
		t.add(coded{w.Named(), w.Constant}, words.Share(w.Share),
			words.Seconds(math.Abs(w.Seconds)), w.Named(), basisSays(a.On.BasisOf[w.Constant]))
	}
	return t
}
