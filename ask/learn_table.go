package ask

import (
	"needlepace/learn"
	"needlepace/words"
)

// ConstantsTable is each constant before and after.
func (a *LearnAnswer) ConstantsTable() *Table {
	t := table("learned", words.Say("learn.constants"),
		column("constant", "clock.constant"),
		number("before", "learn.before"),
		number("now", "learn.now"),
		column("unit", "learn.unit"),
		number("relative_sd_before", "learn.sd-before"),
		number("relative_sd", "learn.sd-now"),
		column("reach", "learn.reach"),
	)
	for _, k := range a.Constants {
		t.add(constantNamed(k.Path), words.Figure(k.Before), words.Figure(k.Value),
			words.Name(k.Unit), words.GiveOrTake(k.SDOld), words.GiveOrTake(k.SD), words.Name(k.Reach))
	}
	return t
}

// RowsTable is each timing against the learned sheet.
func (a *LearnAnswer) RowsTable() *Table {
	t := table("runs", words.Say("learn.rows"),
		number("row", "learn.row"),
		column("what", "learn.timing"),
		number("read", "learn.read"),
		number("predicted", "learn.predicted"),
		number("residual_percent", "learn.off"),
		number("left_out", "learn.left-out"),
		column("odd", "learn.odd"),
	)
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
		t.add(words.Whole(r.Row), words.Name(r.What), figure(r.Read), figure(r.Predicted),
			coded{words.Signed{Numeric: words.Share(off)}, words.Fixed(100*off, 3).Raw()}, figure(r.LeftOut), a.odd(x))
	}
	return t
}

// odd marks a suspicious timing; nil for none. In files it is the sentence.
func (a *LearnAnswer) odd(r *learn.Run) words.Value {
	switch {
	case r.Aside:
		return coded{words.Say("learn.aside"), r.Suspect}
	case r.Suspect != "":
		return coded{words.Say("learn.suspicious"), r.Suspect}
	}
	for _, i := range r.Parts {
		if a.Result.Runs[i].Suspect != "" {
			return coded{words.Say("learn.suspicious-block"), ""}
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
		out.Say("learn.sharper", words.Args{"constants": sharper})
	}
	if len(stayed) > 0 {
		out.Say("learn.stayed", words.Args{"constants": stayed})
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
		return words.Say("learn.replaced")
	}
	return words.Say("learn.stood", words.Args{"machines": draws})
}

// ToTime says what to time next, the most telling first.
func (a *LearnAnswer) ToTime() words.Sentences {
	var out words.Sentences
	for _, n := range a.Next {
		out.Say("learn.next-one", words.Args{"what": words.Name(n.What),
			"constant": constantNamed(n.Sharpens), "before": words.GiveOrTake(n.Before),
			"after": words.GiveOrTake(n.After)})
	}
	return out
}

// OddOnly is what is odd about the rows beside the slips that are asked about.
func (a *LearnAnswer) OddOnly() []learn.Problem {
	asked := map[string]bool{}
	for i := range a.Slips {
		asked[a.Slips[i].Question] = true
	}
	var out []learn.Problem
	for _, p := range a.Odd {
		if !asked[p.Text] {
			out = append(out, p)
		}
	}
	return out
}

// mostMeant is how many rows of a slip are said one by one.
const mostMeant = 3

// Says is each row of a slip as it would count, the first of them only where
// there are many.
func (s *LearnSlip) Says() words.Sentences {
	var out words.Sentences
	for k := range s.Rows {
		if k == mostMeant && len(s.Rows) > mostMeant+1 {
			out.Say("learn.meant-more", words.Args{"rows": words.Count(len(s.Rows)-k, "row")})
			break
		}
		w, m := &s.Slip.Written[k], &s.Slip.Meant[k]
		where, written := words.Name(w.Where()), learn.TimeOf(w.Seconds)
		switch {
		case m.Ignored:
			out.Say("learn.meant-left-out", words.Args{"row": where, "written": written})
		case m.Design != w.Design || m.Block != w.Block:
			out.Say("learn.meant-of", words.Args{"row": where, "written": written, "what": words.Name(m.What())})
		case m.Seconds != w.Seconds:
			out.Say("learn.meant-time", words.Args{"row": where, "written": written, "meant": learn.TimeOf(m.Seconds)})
		case m.With != w.With:
			out.Say("learn.meant-with", words.Args{"row": where, "written": written, "what": words.Name(m.What()),
				"beside": m.With.Says()})
		default:
			out.Say("learn.meant-needles", words.Args{"row": where})
		}
	}
	return out
}

// AsMeantSay is each row that counts as it was meant.
func (a *LearnAnswer) AsMeantSay() words.Sentences {
	var out words.Sentences
	for i := range a.AsMeant {
		out = append(out, a.AsMeant[i].Says()...)
	}
	return out
}
