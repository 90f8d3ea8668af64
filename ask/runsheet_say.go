package ask

import (
	"needlepace/book"
	"needlepace/words"
)

// RunSheetChanges says what interrupts the runs of a sheet: bobbins, the last
// run, thread breaks, the design's own stops.
func RunSheetChanges(r *book.RunSheet) words.Sentences {
	bobbins := words.Count(r.Bobbins, "bobbin")
	var out words.Sentences
	switch r.BobbinRuns {
	case 0:
		out.Say("runsheet.bobbins-within", words.Args{"bobbins": bobbins})
	case 1:
		out.Say("runsheet.bobbins-every", words.Args{"bobbins": bobbins})
	default:
		out.Say("runsheet.bobbins-after", words.Args{
			"bobbins": bobbins, "runs": words.Count(r.BobbinRuns, "run"),
		})
	}
	if r.LastRun < r.Heads {
		out.Say("runsheet.last-run", words.Args{
			"last": words.Whole(r.LastRun), "heads": words.Count(r.Heads, "head"),
		})
	}
	out.Say("runsheet.breaks", words.Args{"breaks": words.Mean(r.Breaks, "thread-break")})
	for _, s := range r.Stops {
		out.Say("runsheet.stop", words.Args{"what": s})
	}
	return out
}

// RunSheetCones says which cones are wanted.
func RunSheetCones(r *book.RunSheet) words.Message {
	var all words.List
	for _, c := range r.Colours {
		all.Say("runsheet.cone", words.Args{
			"thread": words.Name(c.Thread), "cones": words.Count(c.Cones, "cone"), "metres": words.Metres(c.Metres),
		})
	}
	return words.Say("runsheet.cones", words.Args{"cones": all})
}

// RunSheetBlocks is the colour order of a sheet with its needles. When a block
// begins and what it takes are both as on a stopwatch.
func RunSheetBlocks(r *book.RunSheet) *Table {
	t := table("colours", words.Say("runsheet.colours-and-needles"),
		number("block", "runsheet.block"),
		number("needle", "runsheet.needle"),
		column("thread", "runsheet.thread"),
		column("cone", "runsheet.cone-column"),
		number("stitches", "runsheet.stitches"),
		number("starts_seconds", "runsheet.begins"),
		number("seconds", "runsheet.takes"),
	)
	for i := range r.Blocks {
		b := &r.Blocks[i]
		t.add(words.Whole(b.Block), words.Whole(b.Needle), words.Name(b.Thread), b.Cone,
			words.Whole(b.Stitches), words.Clock(b.Starts), words.Clock(b.Seconds))
	}
	return t
}

// RunSheetThread is the thread to have at hand for all pieces of a sheet.
func RunSheetThread(r *book.RunSheet) *Table {
	t := table("thread", words.Say("runsheet.thread-for", words.Args{"pieces": words.Count(r.Quantity, "piece")}),
		number("needle", "runsheet.needle"),
		column("thread", "runsheet.thread"),
		number("metres", "runsheet.metres"),
		number("cones", "runsheet.cones-column"),
	)
	for _, c := range r.Colours {
		t.add(words.Whole(c.Needle), words.Name(c.Thread), words.Fixed(c.Metres, 0), words.Whole(c.Cones))
	}
	return t
}
