package act_test

import (
	"context"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
)

// The questions and acts of a bench, at its time.

func (b *bench) MakePlan(ctx context.Context, q ask.PlanQuestion, by string) (*ask.PlanAnswer, error) {
	q.Now = b.at
	return b.Shop.MakePlan(ctx, q, by)
}

func (b *bench) TryPlan(ctx context.Context, q ask.PlanQuestion) (*ask.PlanAnswer, error) {
	q.Now = b.at
	return ask.Plan(ctx, b.Asked(), q)
}

func (b *bench) MakeQuote(ctx context.Context, q ask.QuoteQuestion) (*ask.PricedOrder, error) {
	q.Now = b.at
	return ask.Quote(ctx, b.Asked(), q)
}

func (b *bench) KeepOneQuote(order, by string) (*ask.PricedOrder, error) {
	return b.KeepQuote(bg, ask.QuoteQuestion{Now: b.at, Order: order}, nil, by)
}

func (b *bench) MoveCost(ctx context.Context, order string, line int, from, to string, place int) (*ask.HandMove, error) {
	return ask.Move(ctx, b.Asked(), ask.MoveQuestion{Now: b.at, Order: order, Line: line, From: from, To: to, Place: place + 1})
}

func (b *bench) MakeRunSheet(ctx context.Context, id string, line int, m string, quantity int) (*book.RunSheet, error) {
	return ask.RunSheet(ctx, b.Asked(), ask.RunSheetQuestion{Now: b.at, Order: id, Line: line, Machine: m, Quantity: quantity})
}

// machineRates is what the reports say of a machine.
type machineRates struct {
	Machine ask.Machine
	book.Rates
}

func (b *bench) FloorRates(ctx context.Context) (out []machineRates, err error) {
	a, err := ask.Reported(ctx, b.Asked(), "")
	if err != nil {
		return nil, err
	}
	for _, m := range a.Machines {
		out = append(out, machineRates{ask.Machine{ID: m.ID, Name: m.Machine}, book.Rates{Breaks: m.Breaks,
			Counted: m.Counted, Sewn: m.Sewn, Pace: m.Pace, Hours: m.Hours, Runs: m.Reports, Real: m.PaceEvidence}})
	}
	return out, nil
}

func (b *bench) HoldLine(ctx context.Context, id string, line int, m string, at time.Time, by string) (*book.Order, error) {
	return b.Shop.HoldLine(ctx, act.HoldQuestion{Order: id, Line: line, Machine: m, At: at}, by)
}
