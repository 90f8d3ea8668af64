package serve

import (
	"context"
	"fmt"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/plan"
	"needlepace/words"
)

// MakePlan makes the plan, keeps it, and tells how far it is.
func (s *Site) MakePlan(ctx context.Context, st jobs.Step, q ask.PlanQuestion, by string) (*ask.PlanAnswer, error) {
	st(0, "looking at every line on every machine")
	q.Now, q.Progress = s.Shop.Now(), planProgress(st)
	return s.Shop.MakePlan(ctx, q, by)
}

// TryPlan plans a question both ways. Nothing is kept.
func (s *Site) TryPlan(ctx context.Context, st jobs.Step, q ask.PlanQuestion) (*ask.PlanAnswer, error) {
	st(0, "planning both ways")
	q.Now, q.Progress = s.Shop.Now(), planProgress(st)
	return ask.Plan(ctx, s.Shop.Asked(), q)
}

func planProgress(st jobs.Step) func(plan.Progress) {
	return func(p plan.Progress) {
		st(float64(p.Moves)/float64(max(p.Of, 1)), fmt.Sprintf("%s of %s moves looked at",
			words.Whole(int(p.Moves)).Text(nil), words.Whole(int(p.Of)).Text(nil)))
	}
}

// Replay asks how the real book would have gone with another fleet.
func (s *Site) Replay(ctx context.Context, st jobs.Step, q ask.HindsightQuestion) (*ask.HindsightAnswer, error) {
	what := words.Say("fleet.replaying").Text(nil)
	st(0, what)
	q.Now, q.Progress = s.Shop.Now(), func(done float64) { st(done, what) }
	return ask.Hindsight(ctx, s.Shop.Asked(), q)
}
