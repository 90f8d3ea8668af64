package answer

import (
	"context"
	"fmt"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/picture"
	"needlepace/plan"
	"needlepace/words"
)

// MakePlan makes the plan and tells how far it is.
func MakePlan(ctx context.Context, s *act.Shop, st jobs.Step, q ask.PlanQuestion, by string) (*ask.PlanAnswer, error) {
	st(0, "looking at every line on every machine")
	q.Now, q.Progress = s.Now(), planProgress(st)
	return s.MakePlan(ctx, q, by)
}

func planProgress(st jobs.Step) func(plan.Progress) {
	return func(p plan.Progress) {
		st(float64(p.Moves)/float64(max(p.Of, 1)), fmt.Sprintf("%s of %s moves looked at", words.Whole(int(p.Moves)).Text(nil), words.Whole(int(p.Of)).Text(nil)))
	}
}

// TryPlan plans a question both ways.
func TryPlan(ctx context.Context, s *act.Shop, st jobs.Step, q ask.PlanQuestion) (*ask.PlanAnswer, error) {
	st(0, "planning both ways")
	q.Now, q.Progress = s.Now(), planProgress(st)
	return ask.Plan(ctx, s.Asked(), q)
}

// Gantt is a plan as rows of strips. against, if not nil, is the plan it is
// held against: lots that stand there too are pale.
func Gantt(p *book.Plan, d When, name, text string, against *book.Plan) *picture.Gantt {
	g := picture.PlanGantt(p, picture.GanttWords{Day: d.Day, Lot: func(l *book.PlanLot) string { return LotText(l, d) }}, d.W.Zone.Location(), against)
	g.Name, g.Text = name, text
	return g
}

// LotText says what a lot is, in a line.
func LotText(l *book.PlanLot, d When) string {
	s := fmt.Sprintf("%s, %s, %s, %s to %s", l.Name, l.Customer, Count(l.Quantity, "piece", "pieces"), d.At(l.From), d.At(l.To))
	switch {
	case l.Running:
		s += ", on the machine now"
	case l.Held:
		s += ", held by hand"
	}
	if l.Late {
		s += ", late"
	}
	return s
}

// PlanSum is what a plan comes to, in a line.
func PlanSum(p *book.Plan, d When) string { return ask.PlanSum(p).Text(d.W) }

// Count is a number of things with the right word: 1 trim, 2 trims.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return words.Whole(n).Text(nil) + " " + many
}
