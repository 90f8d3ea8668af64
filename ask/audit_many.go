package ask

import (
	"cmp"
	"context"
	"slices"

	"needlepace/audit"
	"needlepace/words"
)

// AuditedDesign is one of many designs that were audited, in short.
type AuditedDesign struct {
	Design   string         `json:"design" doc:"by the asker's name for it"`
	Name     string         `json:"name"`
	Stitches int            `json:"stitches"`
	Seconds  float64        `json:"seconds" doc:"run time as it is"`
	Saves    float64        `json:"saves_seconds" doc:"on each run, of all findings"`
	Worst    audit.Severity `json:"worst" doc:"of its gravest finding; time where it has none"`
	Hurts    int            `json:"hurts" doc:"findings by severity"`
	Spoils   int            `json:"spoils"`
	Shows    int            `json:"shows"`
	OnlyTime int            `json:"time"`
	Why      string         `json:"why,omitempty" doc:"it could not be audited"`
}

// AuditMany audits designs on a machine one after another. What cannot be audited is told
// with it; only that ctx is done, and the shelf's errors, end it.
func AuditMany(ctx context.Context, from Shelf, designs []string, machine string) ([]AuditedDesign, error) {
	if _, err := from.Sheet(ctx, machine); err != nil {
		return nil, err
	}
	all := []AuditedDesign{}
	for _, id := range designs {
		x := AuditedDesign{Design: id, Name: id}
		a, err := Audit(ctx, from, AuditQuestion{Design: id, Machine: machine})
		if ctx.Err() != nil {
			return nil, stopped(ctx)
		}
		if err != nil {
			x.Why = err.Error()
		} else {
			x.Name, x.Stitches, x.Seconds, x.Saves = a.Design, a.Stitches, a.Seconds, a.TotalSeconds
			for i := range a.Findings {
				s := a.Findings[i].Severity
				x.Worst = max(x.Worst, s)
				*x.of(s)++
			}
		}
		all = append(all, x)
	}
	return all, nil
}

func (x *AuditedDesign) of(s audit.Severity) *int {
	switch s {
	case audit.Hurts:
		return &x.Hurts
	case audit.Spoils:
		return &x.Spoils
	case audit.Shows:
		return &x.Shows
	}
	return &x.OnlyTime
}

// AuditManyAnswer is what came of many audits, the gravest design first, then the one that
// a mend would win most of.
type AuditManyAnswer struct {
	Machine string          `json:"machine"`
	Designs []AuditedDesign `json:"designs"`
}

// NewAuditManyAnswer puts audits in order; a design that is there twice counts once.
func NewAuditManyAnswer(machine string, all []AuditedDesign) *AuditManyAnswer {
	a := &AuditManyAnswer{Machine: machine, Designs: []AuditedDesign{}}
	seen := map[string]bool{}
	for _, x := range all {
		if !seen[x.Design] {
			a.Designs = append(a.Designs, x)
		}
		seen[x.Design] = true
	}
	slices.SortStableFunc(a.Designs, func(x, y AuditedDesign) int {
		return cmp.Or(cmp.Compare(y.Worst, x.Worst), cmp.Compare(y.count(x.Worst), x.count(x.Worst)), cmp.Compare(y.Saves, x.Saves), cmp.Compare(x.Name, y.Name))
	})
	return a
}

func (x AuditedDesign) count(s audit.Severity) int { return *x.of(s) }

// Verdict says in sentences what was found.
func (a *AuditManyAnswer) Verdict() words.Sentences {
	var grave, failed int
	var saves, seconds float64
	for i := range a.Designs {
		x := &a.Designs[i]
		if x.Hurts > 0 || x.Spoils > 0 {
			grave++
		}
		if x.Why != "" {
			failed++
		}
		saves, seconds = saves+x.Saves, seconds+x.Seconds
	}
	out := words.Sentences{words.Say("audit-many.verdict", words.Args{"n": words.Count(len(a.Designs), "design"), "machine": words.Name(a.Machine),
		"grave": words.Whole(grave), "saves": words.Seconds(saves), "seconds": words.Seconds(seconds)})}
	if failed > 0 {
		out = append(out, words.Say("audit-many.failed", words.Args{"n": words.Count(failed, "design")}))
	}
	return out
}

// Table has a row a design.
func (a *AuditManyAnswer) Table() *Table {
	t := table("audits", words.Say("audit-many.caption"), column("design", "audit-many.design"), number("stitches", "audit-many.stitches"),
		number("seconds", "audit-many.seconds"), number("saves_seconds", "audit-many.saves"), number("hurts", "audit-many.hurts"),
		number("spoils", "audit-many.spoils"), number("shows", "audit-many.shows"), number("time", "audit-many.time"), column("why", "audit-many.why"))
	for i := range a.Designs {
		x := &a.Designs[i]
		if x.Why != "" {
			t.add(words.Name(x.Name), nil, nil, nil, nil, nil, nil, nil, words.Name(x.Why))
			continue
		}
		t.add(words.Name(x.Name), words.Whole(x.Stitches), words.Seconds(x.Seconds), words.Seconds(x.Saves), words.Whole(x.Hurts), words.Whole(x.Spoils),
			words.Whole(x.Shows), words.Whole(x.OnlyTime), nil)
	}
	return t
}
