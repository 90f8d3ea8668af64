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
	return ask.Move(ctx, b.Asked(), ask.MoveQuestion{Order: order, Line: line, From: from, To: to, Place: place + 1})
}

func (b *bench) MakeRunSheet(ctx context.Context, id string, line int, m string, quantity int) (*book.RunSheet, error) {
	return ask.RunSheet(ctx, b.Asked(), ask.RunSheetQuestion{Order: id, Line: line, Machine: m, Quantity: quantity})
}

func (b *bench) FloorRates(ctx context.Context) ([]ask.MachineRates, error) {
	return ask.FloorRates(ctx, b.Asked())
}

func (b *bench) HoldLine(ctx context.Context, id string, line int, m string, at time.Time, by string) (*book.Order, error) {
	return b.Shop.HoldLine(ctx, act.HoldQuestion{Order: id, Line: line, Machine: m, At: at}, by)
}
