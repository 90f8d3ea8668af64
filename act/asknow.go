package act

import (
	"context"
	"fmt"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
)

// QuoteOptions is how a quote is made.
type QuoteOptions struct {
	Chance     float64 // of the day to promise, 0…1; 0: the workshop's
	Quantities []int   // steps; none: the workshop's
	MachineID  string  // cost it on this machine; empty: where the plan puts it
	Keep       bool    // keep the quote; a requested order then is quoted
	By         string
}

// MakeQuote is ask.Quote, and keeps the quote where that is asked.
func (s *Shop) MakeQuote(ctx context.Context, id string, opt QuoteOptions) (*book.Quote, error) {
	a, err := ask.Quote(ctx, s.Asked(), ask.QuoteQuestion{
		Now: s.now(), Order: id, Chance: opt.Chance, Quantities: opt.Quantities, Machine: opt.MachineID,
	})
	if err != nil {
		return nil, err
	}
	q := a.Quote
	q.ID, q.By = shop.NewID(), opt.By
	if !opt.Keep {
		return q, nil
	}
	o, err := s.store.Order(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := s.Plans.KeepQuote(ctx, q); err != nil {
		return nil, err
	}
	if o.State == book.Requested {
		o.State = book.Quoted
	}
	o.Promised = q.Promise
	_, err = s.Orders.Keep(ctx, o, opt.By, fmt.Sprintf("quote %s, day to promise %s", q.Serial, q.Promise))
	return q, err
}

// MakePlan plans all open orders, keeps the plan, and says what moved against
// the one before and why.
func (s *Shop) MakePlan(ctx context.Context, q ask.PlanQuestion, by string) (*ask.PlanAnswer, error) {
	if q.WhatIf() {
		return nil, shop.Errorf(shop.Invalid, "a plan of what might be is not kept; ask what if")
	}
	q.Now = s.now()
	a, err := ask.Plan(ctx, s.Asked(), q)
	if err != nil {
		return nil, err
	}
	return a, s.Plans.Keep(ctx, a.Plan, a.Before, by)
}

// TryPlan is ask.Plan of how things might be.
func (s *Shop) TryPlan(ctx context.Context, q ask.PlanQuestion) (*ask.PlanAnswer, error) {
	q.Now = s.now()
	return ask.Plan(ctx, s.Asked(), q)
}

// MoveCost is ask.Move; place is counted from 0, −1 is the last.
func (s *Shop) MoveCost(ctx context.Context, order string, line int, from, to string, place int) (*ask.HandMove, error) {
	return ask.Move(ctx, s.Asked(), ask.MoveQuestion{Order: order, Line: line, From: from, To: to, Place: place + 1})
}

// MakeRunSheet is ask.RunSheet.
func (s *Shop) MakeRunSheet(ctx context.Context, id string, line int, machine string, quantity int) (*book.RunSheet, error) {
	return ask.RunSheet(ctx, s.Asked(), ask.RunSheetQuestion{Order: id, Line: line, Machine: machine, Quantity: quantity})
}

// RunOfLine is ask.RunOfLine.
func (s *Shop) RunOfLine(ctx context.Context, o *book.Order, line int, machineID string) (*ask.LineRun, error) {
	return ask.RunOfLine(ctx, s.Asked(), o, line, machineID)
}

// FloorRates is ask.FloorRates.
func (s *Shop) FloorRates(ctx context.Context) ([]ask.MachineRates, error) {
	return ask.FloorRates(ctx, s.Asked())
}
