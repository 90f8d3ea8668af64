package act

import (
	"context"
	"encoding/json"

	"needlepace/ask"
	"needlepace/shop"
)

// MakePlan plans all agreed orders and keeps the plan. A plan of what might be is
// not kept.
func (s *Shop) MakePlan(ctx context.Context, q ask.PlanQuestion, by string) (*ask.PlanAnswer, error) {
	if q.WhatIf() {
		return nil, shop.Invalidf("a plan of what might be is not kept; ask what if")
	}
	a, err := ask.Plan(ctx, s.Asked(), q)
	if err != nil {
		return nil, err
	}
	a.Plan.Version, a.Plan.By = 1, by
	if a.Before != nil {
		a.Plan.Version = a.Before.Version + 1
	}
	doc, err := json.Marshal(a.Plan)
	if err != nil {
		return nil, err
	}
	kept := &shop.KeptPlan{Version: a.Plan.Version, Made: a.Plan.Made, By: by, Doc: string(doc)}
	return a, s.store.Keep(ctx, a.Seen, shop.Keeping{Plan: kept})
}
