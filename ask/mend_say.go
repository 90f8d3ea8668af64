package ask

import (
	"slices"

	"needlepace/words"
)

// say puts the answer into sentences.
func (a *MendAnswer) say() {
	machine := words.Name(a.Machine)
	if a.Changed {
		a.Verdict = words.Sentences{words.Say("mend.saved", words.Args{"after": words.Seconds(a.After.Seconds),
			"before": words.Seconds(a.Before.Seconds), "saved": words.Seconds(a.Saved),
			"share": words.Share(a.Saved / a.Before.Seconds), "machine": machine})}
	} else {
		a.Verdict = words.Sentences{words.Say("mend.nothing", words.Args{"time": words.Seconds(a.Before.Seconds), "machine": machine})}
	}
	switch n := words.Count(a.Search.Objects, "object"); {
	case a.Search.Objects < 2:
	case a.Search.Optimal:
		a.Verdict = append(a.Verdict, words.Say("mend.proven", words.Args{"objects": n}))
	default:
		a.Verdict = append(a.Verdict, words.Say("mend.gap", words.Args{"objects": n, "gap": words.Share(a.Search.Gap)}))
	}
	if a.Changed {
		a.Verdict = append(a.Verdict,
			words.Say("mend.counts", words.Args{
				"trims-before": words.Whole(a.Before.Trims), "trims-after": words.Whole(a.After.Trims),
				"stops-before": words.Whole(a.Before.ColourStops), "stops-after": words.Whole(a.After.ColourStops),
				"stitches-before": words.Whole(a.Before.Stitches), "stitches-after": words.Whole(a.After.Stitches)}),
			words.Say("mend.proof", words.Args{"points": words.Count(a.Proof.Points, "point"), "layers": words.Count(a.Proof.Layers, "layer")}))
	}
	a.Caveats = words.Sentences{}
	if a.ThreadsFrom == "" && a.Of.Counts.ColourStops > 0 {
		a.Caveats = append(a.Caveats, words.Say("mend.threads-unknown", nil))
	}
	if !a.Changed {
		return
	}
	if a.After.ColourStops < a.Before.ColourStops {
		a.Caveats = append(a.Caveats, words.Say("mend.stops-went", nil))
	}
	a.Caveats = append(a.Caveats, words.Say("mend.scrap", nil))
}

// Rethreaded reports whether the operator must set the colours otherwise than
// before.
func (a *MendAnswer) Rethreaded() bool {
	return !slices.IsSorted(a.Blocks) || len(a.Blocks) != a.Of.Counts.ColourStops+1
}

// ChangesTable is what was done.
func (a *MendAnswer) ChangesTable() *Table {
	t := &Table{Key: "changes", Caption: words.Say("mend.done", nil), Columns: []Column{
		{Key: "kind", Heading: words.Say("mend.kind", nil), File: true},
		{Key: "count", Heading: words.Say("audit.how-many", nil), Number: true, File: true},
		{Key: "seconds", Heading: words.Say("mend.gained", nil), Unit: "s", Number: true},
		{Key: "what", Heading: words.Say("clock.what-short", nil)},
	}}
	for _, ch := range a.Changes {
		t.Rows = append(t.Rows, []words.Value{words.Name(ch.Kind), words.Whole(ch.Count), words.Seconds(ch.Seconds), words.Name(ch.What)})
	}
	return t
}

// ColoursTable is the colours of the new file in the order of sewing.
func (a *MendAnswer) ColoursTable() *Table {
	t := &Table{Key: "colours", Caption: words.Say("mend.colours", nil), Columns: []Column{
		{Key: "block", Heading: words.Say("clock.block", nil), Number: true},
		{Key: "old_block", Heading: words.Say("mend.old-block", nil), Number: true},
		{Key: "thread", Heading: words.Say("clock.thread-name", nil)},
		{Key: "needle", Heading: words.Say("clock.needle", nil), Number: true},
	}}
	for i, c := range a.Colours {
		row := []words.Value{words.Whole(c.Block), words.Whole(c.OldBlock), words.Name(c.Thread), nil}
		if i < len(a.Needles) {
			row[3] = words.Whole(a.Needles[i])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
