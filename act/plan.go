package act

import (
	"context"
	"encoding/json"

	"needlepace/ask"
	"needlepace/shop"
)

// MakePlan plans all agreed orders and keeps the plan. A plan of what might be is
// not kept. What others change or report meanwhile is taken in: it is then made again.
func (s *Shop) MakePlan(ctx context.Context, q ask.PlanQuestion, by string) (*ask.PlanAnswer, error) {
	if q.WhatIf() {
		return nil, shop.Invalidf("a plan of what might be is not kept; ask what if")
	}
	return again(planTries, func() (*ask.PlanAnswer, error) { return s.makePlan(ctx, q, by) })
}

// How often at most what nobody decided by what they saw is done, where others change the shop while it is: a plan takes
// seconds, a report some milliseconds.
const (
	planTries   = 4
	reportTries = 20
)

// again does it again where somebody changed what it was done from meanwhile.
func again[A any](tries int, do func() (A, error)) (a A, err error) {
	for range tries {
		if a, err = do(); shop.CodeOf(err) != shop.Conflict {
			break
		}
	}
	return a, err
}

func (s *Shop) makePlan(ctx context.Context, q ask.PlanQuestion, by string) (*ask.PlanAnswer, error) {
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
