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
		out = append(out, words.Say("runsheet.stop", words.Args{"what": words.Name(s)}))
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
