package ask

import (
	"needlepace/book"
	"needlepace/words"
)

// RunSheetChanges says what interrupts the runs of a sheet: bobbins, the last
// run, thread breaks, the design's own stops.
func RunSheetChanges(r *book.RunSheet) []words.Message {
	bobbins := words.Count(r.Bobbins, "bobbin")
	var out []words.Message
	switch r.BobbinRuns {
	case 0:
		out = append(out, words.Say("runsheet.bobbins-within", words.Args{"bobbins": bobbins}))
	case 1:
		out = append(out, words.Say("runsheet.bobbins-every", words.Args{"bobbins": bobbins}))
	default:
		out = append(out, words.Say("runsheet.bobbins-after", words.Args{
			"bobbins": bobbins, "runs": words.Count(r.BobbinRuns, "run"),
		}))
	}
	if r.LastRun < r.Heads {
		out = append(out, words.Say("runsheet.last-run", words.Args{
			"last": words.Whole(r.LastRun), "heads": words.Count(r.Heads, "head"),
		}))
	}
	out = append(out, words.Say("runsheet.breaks", words.Args{"breaks": words.Mean(r.Breaks, "thread-break")}))
	for _, s := range r.Stops {
		out = append(out, words.Say("runsheet.stop", words.Args{"what": s}))
	}
	return out
}

// RunSheetCones says which cones are wanted.
func RunSheetCones(r *book.RunSheet) words.Message {
	var all words.List
	for _, c := range r.Colours {
		all = append(all, words.Say("runsheet.cone", words.Args{
			"thread": words.Name(c.Thread), "cones": words.Count(c.Cones, "cone"), "metres": words.Metres(c.Metres),
		}))
	}
	return words.Say("runsheet.cones", words.Args{"cones": all})
}

// RunSheetBlocks is the colour order of a sheet with its needles. When a block
// begins and what it takes are both as on a stopwatch.
func RunSheetBlocks(r *book.RunSheet) *Table {
	t := &Table{Key: "colours", Caption: words.Say("runsheet.colours-and-needles", nil), Columns: []Column{
		{Key: "block", Heading: words.Say("runsheet.block", nil), Number: true},
		{Key: "needle", Heading: words.Say("runsheet.needle", nil), Number: true},
		{Key: "thread", Heading: words.Say("runsheet.thread", nil)},
		{Key: "cone", Heading: words.Say("runsheet.cone-column", nil)},
		{Key: "stitches", Heading: words.Say("runsheet.stitches", nil), Number: true},
		{Key: "starts_seconds", Heading: words.Say("runsheet.begins", nil), Unit: "s", Number: true},
		{Key: "seconds", Heading: words.Say("runsheet.takes", nil), Unit: "s", Number: true},
	}}
	for i := range r.Blocks {
		b := &r.Blocks[i]
		t.Rows = append(t.Rows, []words.Value{words.Whole(b.Block), words.Whole(b.Needle), words.Name(b.Thread), b.Cone,
			words.Whole(b.Stitches), words.Clock(b.Starts), words.Clock(b.Seconds)})
	}
	return t
}

// RunSheetThread is the thread to have at hand for all pieces of a sheet.
func RunSheetThread(r *book.RunSheet) *Table {
	t := &Table{Key: "thread", Caption: words.Say("runsheet.thread-for", words.Args{"pieces": words.Count(r.Quantity, "piece")}),
		Columns: []Column{
			{Key: "needle", Heading: words.Say("runsheet.needle", nil), Number: true},
			{Key: "thread", Heading: words.Say("runsheet.thread", nil)},
			{Key: "metres", Heading: words.Say("runsheet.metres", nil), Unit: "m", Number: true},
			{Key: "cones", Heading: words.Say("runsheet.cones-column", nil), Number: true},
		}}
	for _, c := range r.Colours {
		t.Rows = append(t.Rows, []words.Value{words.Whole(c.Needle), words.Name(c.Thread), words.Fixed(c.Metres, 0), words.Whole(c.Cones)})
	}
	return t
}
