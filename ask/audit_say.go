package ask

import (
	"needlepace/audit"
	"needlepace/words"
)

// say puts the answer into sentences.
func (a *AuditAnswer) say() {
	machine, n := words.Name(a.Machine), words.Count(len(a.Findings), "finding")
	a.Caveats = words.Sentences{}
	switch {
	case a.Stitches == 0:
		a.Verdict = words.Sentences{words.Say("audit.empty", nil)}
		return
	case len(a.Findings) == 0:
		a.Verdict = words.Sentences{words.Say("audit.clean", words.Args{"machine": machine})}
	case a.Total < leastCost:
		a.Verdict = words.Sentences{words.Say("audit.no-time", words.Args{"findings": n, "machine": machine})}
	default:
		a.Verdict = words.Sentences{words.Say("audit.costs", words.Args{"findings": n, "total": words.Seconds(a.Total),
			"time": words.Seconds(a.Seconds), "machine": machine})}
		if a.Pieces > 1 {
			a.Verdict = append(a.Verdict, words.Say("audit.order", words.Args{"pieces": words.Count(a.Pieces, "piece"),
				"runs": words.Count(a.Runs, "run"), "total": words.Seconds(a.Total * float64(a.Runs))}))
		}
		a.Caveats = append(a.Caveats, words.Say("audit.overlap", nil))
	}
	if a.ThreadsFrom == "" && a.Blocks > 1 {
		a.Caveats = append(a.Caveats, words.Say("audit.threads-unknown", nil))
	}
	for _, f := range a.Findings {
		if f.Kind == audit.SameHole {
			a.Caveats = append(a.Caveats, words.Say("audit.hole-rule", words.Args{"n": words.Count(int(a.Limits.SameHole), "penetration")}))
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
		return coded{words.Say("audit.next-to-nothing", nil), words.Seconds(s).Raw()}
	}
	return words.Seconds(s)
}

// Cost is what the finding costs on each run.
func (f *Finding) Cost() words.Value { return cost(f.Seconds) }

// OrderCost is what the finding costs in the whole order.
func (f *Finding) OrderCost() words.Value { return cost(f.OrderSeconds) }

// Where says which stitches it is about.
func (f *Finding) Where() words.Message {
	switch {
	case f.From == f.To && f.From == 0:
		return words.Say("audit.before", nil)
	case f.From == f.To:
		return words.Say("audit.after", words.Args{"n": words.Whole(f.From)})
	case f.To == f.From+1:
		return words.Say("audit.stitch", words.Args{"n": words.Whole(f.To)})
	}
	return words.Say("audit.stitches", words.Args{"from": words.Whole(f.FromStitch), "to": words.Whole(f.ToStitch)})
}

// Place says which block it is in, and where.
func (f *Finding) Place() words.Message {
	return words.Say("audit.block", words.Args{"n": words.Whole(f.Block), "where": f.Where()})
}

// KindTable is a row for each kind of finding.
func (a *AuditAnswer) KindTable() *Table {
	t := &Table{Key: "kinds", Caption: words.Say("audit.kinds", nil), Columns: []Column{
		{Key: "kind", Heading: words.Say("clock.what-short", nil)},
		{Key: "findings", Heading: words.Say("audit.how-many", nil), Number: true},
		{Key: "seconds", Heading: words.Say("audit.a-run", nil), Unit: "s", Number: true},
		{Key: "order_seconds", Heading: words.Say("audit.the-order", nil), Unit: "s", Number: true, File: a.Pieces < 2},
		{Key: "risk", Heading: words.Say("audit.risk", nil)},
	}}
	for _, k := range a.Kinds() {
		t.Rows = append(t.Rows, []words.Value{coded{k.Title(), string(k.Kind)}, words.Whole(len(k.Findings)), cost(k.Seconds),
			cost(k.Order), words.Name(string(k.Findings[0].Risk))})
	}
	return t
}

// FindingsTable is a row for each finding.
func (a *AuditAnswer) FindingsTable() *Table {
	t := &Table{Key: "findings", Caption: words.Say("audit.findings", nil), Columns: []Column{
		{Key: "design", Heading: words.Say("clock.design", nil), File: true},
		{Key: "file", Heading: words.Say("clock.file", nil), File: true},
		{Key: "machine", Heading: words.Say("clock.machine", nil), File: true},
		{Key: "kind", Heading: words.Say("clock.what-short", nil)},
		{Key: "block", Heading: words.Say("clock.block", nil), Number: true},
		{Key: "from_stitch", Heading: words.Say("audit.from-stitch", nil), Number: true},
		{Key: "to_stitch", Heading: words.Say("audit.to-stitch", nil), Number: true},
		{Key: "x_mm", Heading: words.Name("x"), Unit: "mm", Number: true},
		{Key: "y_mm", Heading: words.Name("y"), Unit: "mm", Number: true},
		{Key: "count", Heading: words.Say("audit.how-many", nil), Number: true},
		{Key: "seconds", Heading: words.Say("audit.a-run", nil), Unit: "s", Number: true},
		{Key: "order_seconds", Heading: words.Say("audit.the-order", nil), Unit: "s", Number: true},
		{Key: "split_seconds", Heading: words.Say("audit.split", nil), Unit: "s", Number: true, File: true},
		{Key: "risk", Heading: words.Say("audit.risk", nil)},
		{Key: "what", Heading: words.Say("clock.what", nil)},
		{Key: "ask", Heading: words.Say("audit.ask", nil)},
		{Key: "number", Heading: words.Say("audit.number", nil), Number: true},
	}}
	for i := range a.Findings {
		f := &a.Findings[i]
		t.Rows = append(t.Rows, []words.Value{words.Name(a.Design), words.Name(a.File), words.Name(a.Machine),
			coded{words.Name(f.Kind.Title()), string(f.Kind)}, words.Whole(f.Block), words.Whole(f.FromStitch), words.Whole(f.ToStitch),
			words.MM(f.X), words.MM(f.Y), words.Whole(f.Count), f.Cost(), f.OrderCost(), words.Seconds(f.SplitSeconds),
			words.Name(string(f.Risk)), words.Name(f.What), words.Name(f.Ask), words.Whole(f.Number)})
	}
	return t
}
