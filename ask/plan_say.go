package ask

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"needlepace/book"
	"needlepace/words"
)

// provedGap is the share of the late hours below which a plan is the best there is.
const provedGap = 1e-9

// PlanOf is a kept plan as an answer: what it says of itself.
func PlanOf(kept *book.Plan) *PlanAnswer {
	a := &PlanAnswer{Plan: kept}
	a.say()
	return a
}

// say puts the answer into sentences.
func (a *PlanAnswer) say() {
	a.Verdict, a.Caveats = words.Sentences{PlanSum(a.Plan)}, words.Sentences{}
	a.Watch = planWatch(a.Plan)
	if e := LeastSure(a.Plan); e != nil {
		a.Verdict = append(words.Sentences{words.Say("plan.least-sure", words.Args{"order": words.Name(e.Name),
			"customer": words.Name(e.Customer), "chance": words.Chance(e.OnTime)})}, a.Verdict...)
	}
	if late := mostLate(a.Plan); !late.IsZero() {
		a.Verdict = append(words.Sentences{late}, a.Verdict...)
	}
	if n := len(a.Plan.TooLate()); n > 0 {
		a.Verdict = append(words.Sentences{words.Say("plan.too-late", words.Args{"n": words.Whole(n)})}, a.Verdict...)
	}
	if bound := PlanBound(a.Plan); !bound.IsZero() {
		a.Verdict = append(a.Verdict, bound)
	}
	if a.whatIf {
		a.Verdict = append(a.Verdict, words.Say("plan.without", words.Args{"sum": PlanSum(a.Before)}),
			words.Say("plan.operators", words.Args{"operators": words.Fixed(a.Plan.Hands, 1)}))
	}
	if slices.ContainsFunc(a.Plan.Lots, func(l book.PlanLot) bool { return l.Running }) {
		a.Caveats.Say("plan.counted-on")
	}
	if a.Plan.Assumed {
		a.Caveats.Say("plan.assumed-hours")
	}
	if until := a.Plan.Beyond(); !until.IsZero() {
		a.Caveats.Say("plan.beyond", words.Args{"day": words.NearDay{Day: a.Plan.Zone.Day(until), Today: a.Plan.Zone.Day(a.Plan.From)}})
	}
	if !a.Plan.Complete {
		a.Caveats.Say("plan.stopped")
	}
}

// LeastSure is the line that is in time by a plan with the smallest chance, where
// that is below the plan's; nil where none is.
func LeastSure(p *book.Plan) *book.LineEnd {
	for _, e := range p.Watch() {
		if p.Risk(&e) == book.AtRisk {
			return &e
		}
	}
	return nil
}

// mostLate names the line that a plan has latest after its day; nothing where none is late.
func mostLate(p *book.Plan) words.Message {
	e := &book.LineEnd{}
	for i := range p.Ends {
		if p.Ends[i].Late > e.Late {
			e = &p.Ends[i]
		}
	}
	order, customer, at, by := words.Name(e.Name), words.Name(e.Customer), onDay(p.Zone, e.End, p.From), words.Span(e.Late/3600)
	switch {
	case e.Late <= 0:
		return words.Message{}
	case p.Late == 1:
		return words.Say("plan.only-late", words.Args{"order": order, "customer": customer, "at": at, "late": by})
	}
	return words.Say("plan.most-late", words.Args{"order": order, "customer": customer, "at": at, "late": by})
}

// Say is all that is said of the plan: the verdict, then the caveats.
func (a *PlanAnswer) Say() words.Sentences { return append(slices.Clone(a.Verdict), a.Caveats...) }

// AboutOrder is a sentence about an order.
type AboutOrder struct {
	Number int           `json:"number" doc:"the order's"`
	Say    words.Message `json:"say"`
}

// planWatch is what to look at in a plan: lines in time by the plan whose chance
// is small, those that are not in it, and those that it has otherwise than asked.
func planWatch(p *book.Plan) []AboutOrder {
	out := []AboutOrder{}
	today := p.Zone.Day(p.From)
	for _, e := range p.TooLate() {
		out = append(out, AboutOrder{e.Number, words.Say("plan.watch-too-late", words.Args{"order": words.Name(e.Name),
			"customer": words.Name(e.Customer), "day": words.NearDay{Day: cmp.Or(e.DoneDay, e.Day), Today: today},
			"latest": words.NearDay{Day: e.Latest, Today: today}})})
	}
	for _, e := range p.Watch() {
		if p.Risk(&e) == book.AtRisk { // seen before it is late
			out = append(out, AboutOrder{e.Number, words.Say("plan.watch",
				words.Args{"order": words.Name(e.Name), "chance": words.Chance(e.OnTime)})})
		}
	}
	for i := range p.Left {
		l := &p.Left[i]
		out = append(out, AboutOrder{l.Number, words.Say("plan.left-out", words.Args{"order": lineNumber(l),
			"line": words.Whole(l.Line), "customer": words.Name(l.Customer), "why": l.Because()})})
	}
	for i := range p.Notes {
		l := &p.Notes[i]
		out = append(out, AboutOrder{l.Number, noteSays(l)})
	}
	return out
}

func lineNumber(l *book.LeftOut) words.Value { return words.Name(strconv.Itoa(l.Number)) }

// noteSays is a note of a plan as a sentence.
func noteSays(l *book.LeftOut) words.Message {
	return words.Say("plan.note", words.Args{"order": lineNumber(l), "line": words.Whole(l.Line), "customer": words.Name(l.Customer), "why": l.Because()})
}

// PlanSum is what a plan comes to: how much is sewn on what until when, and what
// is late.
func PlanSum(p *book.Plan) words.Message {
	if len(p.Lots) == 0 {
		return words.Say("plan.nothing")
	}
	lines, machines := words.Count(len(p.Ends), "line"), words.Count(len(p.Machines), "machine")
	day := words.NearDay{Day: p.Zone.Day(p.Done), Today: p.Zone.Day(p.From)}
	at := p.Zone.ClockAt(p.Done)
	if p.Late == 0 {
		return words.Say("plan.none-late", words.Args{"lines": lines, "machines": machines, "day": day, "time": at})
	}
	return words.Say("plan.late", words.Args{"lines": lines, "machines": machines, "day": day, "time": at,
		"late": words.Count(p.Late, "line"), "hours": words.Hours(p.LateHours)})
}

// PlanBound is how much better any plan could be; nothing where none is late,
// nobody reckoned it, or all that is known is that no plan has less than next to none.
func PlanBound(p *book.Plan) words.Message {
	percent := int(math.Ceil(100*p.Gap - provedGap))
	switch {
	case p.Late == 0 || p.BoundHours < 0 || len(p.Lots) == 0:
		return words.Message{}
	case p.Gap <= provedGap:
		return words.Say("plan.proved")
	case p.BoundHours == 0 || percent >= 100:
		return words.Message{}
	}
	return words.Say("plan.bound", words.Args{"hours": words.Hours(p.BoundHours), "percent": words.Whole(percent)})
}
