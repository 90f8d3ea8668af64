package ask

import (
	"math"

	"needlepace/clock"
	"needlepace/words"
)

// WhyShown is how many constants are named where people ask what the interval
// hangs on.
const WhyShown = 3

// clockHead are the columns that say what a row is about.
func clockHead() []Column {
	return []Column{
		{Key: "design", Heading: words.Say("clock.design", nil), File: true},
		{Key: "file", Heading: words.Say("clock.file", nil), File: true},
		{Key: "machine", Heading: words.Say("clock.machine", nil)},
		{Key: "set_speed", Heading: words.Say("sweep.set", nil), Unit: "1/min", Number: true},
	}
}

func (a *ClockAnswer) head() []words.Value {
	return []words.Value{words.Name(a.Design), words.Name(a.File), words.Name(a.Machine), words.PerMinute(a.SetSpeed)}
}

func partColumns() []Column {
	var out []Column
	for _, p := range partsOf(&clock.Parts{}) {
		out = append(out, Column{Key: "parts_" + p.key, Heading: p.name, Unit: "s", Number: true, File: true})
	}
	for _, c := range []Column{
		{Key: "long_stitches_by_frame_x", Heading: words.Say("part.frame-x", nil)},
		{Key: "long_stitches_by_frame_y", Heading: words.Say("part.frame-y", nil)},
		{Key: "long_stitches_by_turn", Heading: words.Say("part.turn", nil)},
		{Key: "long_stitches_by_ladder", Heading: words.Say("part.ladder", nil)},
	} {
		c.Unit, c.Number, c.File = "s", true, true
		out = append(out, c)
	}
	return out
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
	number := func(key string, heading words.Value, unit string, file bool) Column {
		return Column{Key: key, Heading: heading, Unit: unit, Number: true, File: file}
	}
	swept, chance := false, DefaultLevel
	for _, a := range all {
		swept = swept || a.Swept != nil
		chance = a.Interval.Level
	}
	t := &Table{Key: "clock", Caption: words.Say("clock.machines", nil)}
	t.Columns = append(clockHead(),
		number("seconds", words.Say("clock.run-time", nil), "s", false),
		number("interval_low", words.Say("clock.level-between", words.Args{"level": words.Level(chance)}), "s", false),
		number("interval_high", words.Say("clock.and", nil), "s", false),
		number("interval_level", words.Say("clock.level", nil), "", true),
		number("stitches", words.Say("clock.stitches", nil), "", true),
		number("revolutions", words.Say("clock.revolutions", nil), "", true),
		number("trims", words.Say("part.trims", nil), "", true),
		number("colour_stops", words.Say("part.colour-stops", nil), "", true),
		number("jumps", words.Say("clock.jumps", nil), "", true),
		number("width_mm", words.Say("clock.width", nil), "mm", true),
		number("height_mm", words.Say("clock.height", nil), "mm", true),
		number("held_speed", words.Say("clock.held", nil), "1/min", false),
		number("overall_speed", words.Say("clock.overall", nil), "1/min", false),
		number("naive_seconds", words.Say("clock.naive", nil), "s", false))
	t.Columns = append(t.Columns, partColumns()...)
	t.Columns = append(t.Columns,
		number("thread_top_m", words.Say("clock.top-thread", nil), "m", true),
		number("thread_bobbin_m", words.Say("clock.bobbin-thread", nil), "m", true),
		number("thread_top_g", words.Say("clock.top-thread", nil), "g", true))
	if swept {
		t.Columns = append(t.Columns, number("knee_speed", words.Say("sweep.mark", nil), "1/min", true))
	}
	t.Columns = append(t.Columns,
		Column{Key: "warnings", Heading: words.Say("clock.warnings", nil), File: true},
		Column{Key: "label", Heading: words.Say("clock.label", nil), File: true})
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
		t.Rows = append(t.Rows, append(row, notes, words.Name(a.Label)))
	}
	return t
}

// SecondsTable says where every second goes.
func (a *ClockAnswer) SecondsTable() *Table {
	t := &Table{Key: "seconds", Caption: words.Say("clock.where", nil), Columns: []Column{
		{Key: "part", Heading: words.Say("clock.part", nil)},
		{Key: "seconds", Heading: words.Say("clock.time", nil), Unit: "s", Number: true},
		{Key: "share", Heading: words.Say("clock.share", nil), Number: true},
		{Key: "what", Heading: words.Say("clock.what", nil)},
	}}
	notes := a.notes()
	for _, p := range partsOf(&a.Parts) {
		if p.seconds > 0 {
			t.Rows = append(t.Rows, []words.Value{coded{p.name, p.key}, words.Seconds(p.seconds),
				words.Share(p.seconds / a.Seconds), notes[p.key]})
		}
	}
	return t
}

// PartsTable is the seconds of each part on each machine: the parts that some
// machine has.
func PartsTable(all []*ClockAnswer) *Table {
	t := &Table{Key: "parts", Caption: words.Say("clock.where", nil), Columns: []Column{clockHead()[2]}}
	none := partsOf(&clock.Parts{})
	on := make([]bool, len(none))
	for _, a := range all {
		for i, p := range partsOf(&a.Parts) {
			on[i] = on[i] || p.seconds > 0
		}
	}
	for i, p := range none {
		if on[i] {
			t.Columns = append(t.Columns, Column{Key: p.key, Heading: p.name, Unit: "s", Number: true})
		}
	}
	for _, a := range all {
		row := []words.Value{words.Name(a.Machine)}
		for i, p := range partsOf(&a.Parts) {
			if on[i] {
				row = append(row, words.Seconds(p.seconds))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// BlocksTable is the same by colour block: the question must ask for them.
func (a *ClockAnswer) BlocksTable() *Table {
	t := &Table{Key: "blocks", Caption: words.Say("clock.blocks", words.Args{"machine": words.Name(a.Machine)})}
	t.Columns = clockHead()
	for i := range t.Columns {
		t.Columns[i].File = true
	}
	for _, c := range []Column{
		{Key: "block", Heading: words.Say("clock.block", nil)},
		{Key: "needle", Heading: words.Say("clock.needle", nil)},
		{Key: "seconds", Heading: words.Say("clock.time", nil), Unit: "s"},
		{Key: "stitches", Heading: words.Say("clock.stitches", nil)},
		{Key: "revolutions", Heading: words.Say("clock.revolutions", nil), File: true},
		{Key: "trims", Heading: words.Say("part.trims", nil)},
		{Key: "jumps", Heading: words.Say("clock.jumps", nil), File: true},
		{Key: "held_speed", Heading: words.Say("clock.held", nil), Unit: "1/min"},
		{Key: "overall_speed", Heading: words.Say("clock.overall", nil), Unit: "1/min", File: true},
	} {
		c.Number = true
		t.Columns = append(t.Columns, c)
	}
	t.Columns = append(t.Columns, partColumns()...)
	t.Columns = append(t.Columns,
		Column{Key: "thread_top_m", Heading: words.Say("clock.top-thread", nil), Unit: "m", Number: true},
		Column{Key: "thread", Heading: words.Say("clock.thread-name", nil)})
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
		t.Rows = append(t.Rows, append(row, words.Metres(a.Thread.ByBlock[i]), words.Name(name)))
	}
	return t
}

// WhyTable is what the interval hangs on, the first few constants: measure
// these first. The question must ask for them.
func (a *ClockAnswer) WhyTable() *Table {
	t := &Table{Key: "why", Caption: words.Say("clock.why", words.Args{"machine": words.Name(a.Machine)}), Columns: []Column{
		{Key: "constant", Heading: words.Say("clock.constant", nil)},
		{Key: "share", Heading: words.Say("clock.of-doubt", nil), Number: true},
		{Key: "seconds", Heading: words.Say("clock.plus-minus", nil), Unit: "s", Number: true},
		{Key: "what", Heading: words.Say("clock.what", nil)},
		{Key: "basis", Heading: words.Say("clock.basis", nil)},
	}}
	for _, w := range a.Why[:min(len(a.Why), WhyShown)] {
		t.Rows = append(t.Rows, []words.Value{words.Name(w.Constant), words.Share(w.Share),
			words.Seconds(math.Abs(w.Seconds)), w.Means(), words.Name(string(a.On.BasisOf[w.Constant]))})
	}
	return t
}
