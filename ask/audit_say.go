package ask

import (
	"needlepace/audit"
	"needlepace/stitch"
	"needlepace/words"
)

// say puts the answer into sentences.
func (a *AuditAnswer) say() {
	machine, n := words.Name(a.Machine), words.Count(len(a.Findings), "finding")
	a.Caveats = words.Sentences{}
	switch {
	case a.Stitches == 0:
		a.Verdict = words.Sentences{words.Say("audit.empty")}
		return
	case len(a.Findings) == 0:
		a.Verdict = words.Sentences{words.Say("audit.clean", words.Args{"machine": machine})}
	case a.Total < leastCost:
		a.Verdict = words.Sentences{words.Say("audit.no-time", words.Args{"findings": n, "machine": machine})}
	default:
		a.Verdict = words.Sentences{words.Say("audit.costs", words.Args{"findings": n, "total": words.Seconds(a.Total),
			"time": words.Seconds(a.Seconds), "machine": machine})}
		if a.Pieces > 1 {
			a.Verdict.Say("audit.order", words.Args{"pieces": words.Count(a.Pieces, "piece"),
				"runs": words.Count(a.Runs, "run"), "total": words.Seconds(a.Total * float64(a.Runs))})
		}
		a.Caveats.Say("audit.together")
	}
	grave := map[audit.Severity]int{}
	for _, f := range a.Findings {
		grave[f.Severity]++
	}
	if n := grave[audit.Hurts]; n > 0 {
		a.Verdict.Say("audit.hurts", words.Args{"findings": words.Count(n, "finding")})
	}
	if n := grave[audit.Spoils]; n > 0 {
		a.Verdict.Say("audit.spoils", words.Args{"findings": words.Count(n, "finding")})
	}
	a.Kept.say(&a.Caveats, &a.Caveats)
	a.Of.sayCloth(&a.Caveats)
	if a.ThreadsFrom == "" && a.Blocks > 1 {
		a.Caveats.Say("audit.threads-unknown")
	}
	for _, f := range a.Findings {
		if f.Kind == audit.SameHole {
			a.Caveats.Say("audit.hole-rule", words.Args{"n": words.Count(int(a.Limits.SameHole), "penetration")})
			break
		}
	}
}

// leastCost is the least cost that is shown as a time, s.
const leastCost = 0.05

// cost is what a finding costs; a dash for nothing.
func cost(s float64) words.Value {
	if s <= 0 {
		return coded{words.None{}, words.Seconds(s).Raw()}
	}
	if s < leastCost {
		return coded{words.Say("audit.next-to-nothing"), words.Seconds(s).Raw()}
	}
	return words.Seconds(s)
}

// Cost is what the finding costs on each run.
func (f *Finding) Cost() words.Value { return cost(f.Seconds) }

// OrderCost is what the finding costs in the whole order.
func (f *Finding) OrderCost() words.Value { return cost(f.OrderSeconds) }

// Where says which stitches it is about.
func (f *Finding) Where() words.Message { return where(f.From, f.To) }

func where(from, to int) words.Message {
	switch {
	case from == to && from == 0:
		return words.Say("audit.before")
	case from == to:
		return words.Say("audit.after", words.Args{"n": words.Whole(from)})
	case to == from+1:
		return words.Say("audit.stitch", words.Args{"n": words.Whole(to)})
	}
	return words.Say("audit.stitches", words.Args{"from": words.Whole(from + 1), "to": words.Whole(to)})
}

// Cost is the place's part of its finding's cost on each run.
func (p *Place) Cost() words.Value { return cost(p.Seconds) }

// Where says which block and which stitches the place is in.
func (p *Place) Where() words.Message {
	return words.Say("audit.block", words.Args{"n": words.Whole(p.Block), "where": where(p.From, p.To)})
}

// Place says which block it is in, where, and in which kind of stitches.
func (f *Finding) Place() words.Message {
	if len(f.Places) > 0 {
		p, n := f.Places[0], words.Count(len(f.Places), "place")
		if f.in == stitch.NotSewn {
			return words.Say("audit.places", words.Args{"places": n, "n": words.Whole(p.Block), "where": where(p.From, p.To)})
		}
		return words.Say("audit.places-in", words.Args{"places": n, "n": words.Whole(p.Block), "where": where(p.From, p.To),
			"kind": f.in.Name()})
	}
	if f.in != stitch.NotSewn {
		return words.Say("audit.block-in", words.Args{"n": words.Whole(f.Block), "where": f.Where(), "kind": f.in.Name()})
	}
	return words.Say("audit.block", words.Args{"n": words.Whole(f.Block), "where": f.Where()})
}

// KindTable is a row for each kind of finding.
func (a *AuditAnswer) KindTable() *Table {
	t := table("kinds", words.Say("audit.kinds"),
		column("kind", "clock.what-short"),
		number("findings", "audit.how-many"),
		number("seconds", "audit.a-run"),
		Column{Key: "order_seconds", Heading: words.Say("audit.the-order"), Number: true, File: a.Pieces < 2},
		column("severity", "audit.severity"),
		column("risk", "audit.risk"),
	)
	for _, k := range a.Kinds() {
		places := 0
		for i := range k.Findings {
			places += max(1, len(k.Findings[i].Places))
		}
		t.add(coded{k.Title(), string(k.Kind)}, words.Whole(places), cost(k.Seconds),
			cost(k.Order), k.Severity, words.Name(string(k.Findings[0].Risk)))
	}
	return t
}

// FindingsTable is a row for each finding.
func (a *AuditAnswer) FindingsTable() *Table {
	t := table("findings", words.Say("audit.findings"),
		column("design", "clock.design").inFile(),
		column("file", "clock.file").inFile(),
		column("machine", "clock.machine").inFile(),
		column("kind", "clock.what-short"),
		number("block", "clock.block"),
		number("from_stitch", "audit.from-stitch"),
		number("to_stitch", "audit.to-stitch"),
		Column{Key: "x_mm", Heading: words.Name("x"), Number: true},
		Column{Key: "y_mm", Heading: words.Name("y"), Number: true},
		number("count", "audit.how-many"),
		number("seconds", "audit.a-run"),
		number("order_seconds", "audit.the-order"),
		number("split_seconds", "audit.split").inFile(),
		column("risk", "audit.risk"),
		column("what", "clock.what"),
		column("ask", "audit.ask"),
		number("number", "audit.number"),
		column("severity", "audit.severity"),
		column("stitch_kind", "audit.in-kind"),
	)
	for i := range a.Findings {
		f := &a.Findings[i]
		t.add(words.Name(a.Design), words.Name(a.File), words.Name(a.Machine),
			coded{f.Kind.Title(), string(f.Kind)}, words.Whole(f.Block), words.Whole(f.FromStitch),
			words.Whole(f.ToStitch),
			words.MM(f.X), words.MM(f.Y), words.Whole(f.Count), f.Cost(), f.OrderCost(), words.Seconds(f.SplitSeconds),
			words.Name(string(f.Risk)), f.What, f.Ask, words.Whole(f.Number), f.Severity, f.inKind())
	}
	return t
}

// inKind is the kind of stitches it is in, for tables.
func (f *Finding) inKind() words.Value {
	if f.in == stitch.NotSewn {
		return nil
	}
	return coded{f.in.Name(), f.StitchKind}
}
