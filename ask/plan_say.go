package ask

import (
	"math"
	"slices"

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
	if bound := PlanBound(a.Plan); !bound.IsZero() {
		a.Verdict = append(a.Verdict, bound)
	}
	if a.whatIf {
		a.Verdict = append(a.Verdict, words.Say("plan.without", words.Args{"sum": PlanSum(a.Before)}),
			words.Say("plan.operators", words.Args{"operators": words.Fixed(a.Plan.Hands, 1)}))
	}
	if a.Plan.Assumed {
		a.Caveats = append(a.Caveats, words.Say("plan.assumed-hours", nil))
	}
	if !a.Plan.Complete {
		a.Caveats = append(a.Caveats, words.Say("plan.stopped", nil))
	}
}

// Say is all that is said of the plan: the verdict, then the caveats.
func (a *PlanAnswer) Say() words.Sentences { return append(slices.Clone(a.Verdict), a.Caveats...) }

// PlanSum is what a plan comes to: how much is sewn on what until when, and what
// is late.
func PlanSum(p *book.Plan) words.Message {
	if len(p.Lots) == 0 {
		return words.Say("plan.nothing", nil)
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
// nobody reckoned it, or all that is known is that no plan has less than none.
func PlanBound(p *book.Plan) words.Message {
	switch {
	case p.Late == 0 || p.BoundHours < 0 || len(p.Lots) == 0:
		return words.Message{}
	case p.Gap <= provedGap:
		return words.Say("plan.proved", nil)
	case p.BoundHours == 0:
		return words.Message{}
	}
	return words.Say("plan.bound", words.Args{
		"hours": words.Hours(p.BoundHours), "percent": words.Whole(int(math.Ceil(100*p.Gap - provedGap))),
	})
}
