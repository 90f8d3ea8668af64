package ask

import (
	"needlepace/learn"
	"needlepace/words"
)

// ConstantsTable is each constant before and after.
func (a *LearnAnswer) ConstantsTable() *Table {
	t := &Table{Key: "learned", Caption: words.Say("learn.constants", nil), Columns: []Column{
		{Key: "constant", Heading: words.Say("clock.constant", nil)},
		{Key: "before", Heading: words.Say("learn.before", nil), Number: true},
		{Key: "now", Heading: words.Say("learn.now", nil), Number: true},
		{Key: "unit", Heading: words.Say("learn.unit", nil)},
		{Key: "relative_sd_before", Heading: words.Say("learn.sd-before", nil), Number: true},
		{Key: "relative_sd", Heading: words.Say("learn.sd-now", nil), Number: true},
		{Key: "reach", Heading: words.Say("learn.reach", nil)},
	}}
	for _, k := range a.Constants {
		t.Rows = append(t.Rows, []words.Value{constantNamed(k.Path), words.Figure(k.Before), words.Figure(k.Value),
			words.Name(k.Unit), words.GiveOrTake(k.SDOld), words.GiveOrTake(k.SD), words.Name(k.Reach)})
	}
	return t
}

// RowsTable is each timing against the learned sheet.
func (a *LearnAnswer) RowsTable() *Table {
	t := &Table{Key: "runs", Caption: words.Say("learn.rows", nil), Columns: []Column{
		{Key: "row", Heading: words.Say("learn.row", nil), Number: true},
		{Key: "what", Heading: words.Say("learn.timing", nil)},
		{Key: "read", Heading: words.Say("learn.read", nil), Number: true},
		{Key: "predicted", Heading: words.Say("learn.predicted", nil), Number: true},
		{Key: "residual_percent", Heading: words.Say("learn.off", nil), Unit: "%", Number: true},
		{Key: "left_out", Heading: words.Say("learn.left-out", nil), Number: true},
		{Key: "odd", Heading: words.Say("learn.odd", nil)},
	}}
	for i, r := range a.Rows {
		x := &a.Result.Runs[i]
		figure := func(v float64) words.Value {
			switch {
			case v == 0:
				return coded{words.None{}, "0"}
			case x.Kind == learn.DisplayReading:
				return words.PerMinute(v)
			}
			return words.Seconds(v)
		}
		off := x.Relative()
		t.Rows = append(t.Rows, []words.Value{words.Whole(r.Row), words.Name(r.What), figure(r.Read), figure(r.Predicted),
			coded{words.Signed{Numeric: words.Share(off)}, words.Fixed(100*off, 3).Raw()}, figure(r.LeftOut), a.odd(x)})
	}
	return t
}

// odd marks a suspicious timing; nil for none. In files it is the sentence.
func (a *LearnAnswer) odd(r *learn.Run) words.Value {
	switch {
	case r.Aside:
		return coded{words.Say("learn.aside", nil), r.Suspect}
	case r.Suspect != "":
		return coded{words.Say("learn.suspicious", nil), r.Suspect}
	}
	for _, i := range r.Parts {
		if a.Result.Runs[i].Suspect != "" {
			return coded{words.Say("learn.suspicious-block", nil), ""}
		}
	}
	return nil
}

// Reached says which constants the timings determined, and which they did not
// reach.
func (a *LearnAnswer) Reached() words.Sentences {
	var sharper, stayed words.List
	for _, k := range a.Result.Constants {
		switch k.Reach {
		case learn.Determined:
			sharper = append(sharper, constantNamed(k.Path))
		case learn.NotLearned:
			stayed = append(stayed, constantNamed(k.Path))
		}
	}
	var out words.Sentences
	if len(sharper) > 0 {
		out = append(out, words.Say("learn.sharper", words.Args{"constants": sharper}))
	}
	if len(stayed) > 0 {
		out = append(out, words.Say("learn.stayed", words.Args{"constants": stayed}))
	}
	return out
}

// Checked says how the spreads were checked.
func (a *LearnAnswer) Checked() words.Message {
	k, draws := &a.Check, words.Count(a.Check.Draws, "machine")
	switch {
	case k.Draws == 0:
		return words.Say("learn.not-checked", words.Args{"why": words.Name(k.Note)})
	case k.Thinned:
		return words.Say("learn.thinned", words.Args{"machines": draws})
	case k.Replaced:
		return words.Say("learn.replaced", nil)
	}
	return words.Say("learn.stood", words.Args{"machines": draws})
}

// ToTime says what to time next, the most telling first.
func (a *LearnAnswer) ToTime() words.Sentences {
	var out words.Sentences
	for _, n := range a.Next {
		out = append(out, words.Say("learn.next-one", words.Args{"what": words.Name(n.What),
			"constant": constantNamed(n.Sharpens), "before": words.GiveOrTake(n.Before), "after": words.GiveOrTake(n.After)}))
	}
	return out
}
