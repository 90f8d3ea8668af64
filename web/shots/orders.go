package main

import (
	"context"
	"fmt"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// orderPages plans the demo shop's week, lets it begin, and gives the pages of
// orders and plan.
func (a *app) orderPages(ctx context.Context) ([]shot, error) {
	orders, _, err := a.shop.Orders.List(ctx, shop.OrderQuery{Sort: "number", Reverse: true, Limit: 10})
	if err != nil {
		return nil, err
	}
	if len(orders) == 0 {
		return nil, fmt.Errorf("the demo shop has no orders")
	}
	asked, largest := orders[0], orders[0]
	for _, o := range orders {
		if o.State == book.Requested {
			asked = o
		} else if len(o.Lines) > len(largest.Lines) {
			largest = o
		}
	}
	// More due tomorrow than can be in time, to see what that looks like.
	for _, number := range []string{"1001", "1002", "1004"} {
		late, err := a.shop.Orders.Get(ctx, number)
		if err != nil {
			return nil, err
		}
		late.Due, late.Goods = words.Zone{}.Day(now().AddDate(0, 0, 1)), words.Day{}
		if _, _, err := a.shop.ChangeOrder(ctx, *late, ""); err != nil {
			return nil, err
		}
	}
	if _, err := a.shop.MakePlan(ctx, ask.PlanQuestion{Now: a.shop.Now()}, ""); err != nil {
		return nil, err
	}
	p, err := a.shop.Plans.Last(ctx)
	if err != nil {
		return nil, err
	}
	lot := p.Lots[0]
	if _, err := a.shop.Start(ctx, lot.OrderID, lot.Line, lot.MachineID, 0, "", ""); err != nil {
		return nil, err
	}
	if _, err := a.shop.Record(ctx, book.Report{OrderID: lot.OrderID, Line: lot.Line, MachineID: lot.MachineID,
		Good: min(6, lot.Quantity), Spoilt: 1, Breaks: 2, Seconds: lot.Work / float64(lot.Quantity) * 7 * 1.06}, act.Recording{},
		""); err != nil {
		return nil, err
	}
	q, err := a.shop.KeepQuote(ctx, ask.QuoteQuestion{Now: a.shop.Now(), Order: asked.ID}, nil, "")
	if err != nil {
		return nil, err
	}
	done, _, err := a.shop.AddOrder(ctx, book.Order{Customer: "Ostrel Ferry Canteen", State: book.Agreed, Weight: 1,
		Lines: []book.OrderLine{{DesignID: lot.DesignID, Quantity: 36, Placement: "left chest"}}}, "")
	if err != nil {
		return nil, err
	}
	if _, err := a.shop.KeepQuote(ctx, ask.QuoteQuestion{Now: a.shop.Now(), Order: done.ID}, nil, ""); err != nil {
		return nil, err
	}
	if _, err := a.shop.Record(ctx, book.Report{OrderID: done.ID, Line: 1, MachineID: lot.MachineID, Good: 36, Spoilt: 1,
		Breaks: 9, Seconds: lot.Work / float64(lot.Quantity) * 37 * 1.2}, act.Recording{}, ""); err != nil {
		return nil, err
	}
	other := p.Machines[len(p.Machines)-1].ID
	moved := p.Lots[len(p.Lots)/2]
	if moved.MachineID == other {
		other = p.Machines[0].ID
	}
	move := fmt.Sprintf("/plan?lot=%d/%d@%s&to=%s&place=2", moved.Number, moved.Line, moved.MachineID, other)
	one := fmt.Sprintf("/orders/%d", largest.Number)
	running := fmt.Sprintf("/orders/%d", lot.Number)
	line := fmt.Sprintf("?line=%d&machine=%s", lot.Line, lot.MachineID)
	return []shot{
		{name: "orders", path: "/orders"},
		{name: "orders-none", path: "/orders", empty: true},
		{name: "order", path: one},
		{name: "order-sewing", path: running},
		{name: "order-new", path: "/orders/new"},
		{name: "order-change", path: one + "/change"},
		{name: "quote", path: fmt.Sprintf("/orders/%d/quote", asked.Number)},
		{name: "quote-kept", path: fmt.Sprintf("/orders/%d/quotes/%s", asked.Number, q.ID)},
		{name: "today", path: "/today"},
		{name: "today-left", path: fmt.Sprintf("/today?machine=%s&stitch=1200", moved.MachineID)},
		{name: "today-wall", path: "/today/wall"},
		{name: "plan", path: "/plan"},
		{name: "plan-none", path: "/plan", empty: true},
		{name: "plan-move", path: move},
		{name: "plan-anew", path: "/plan", first: `document.querySelector("form[action='/plan'] button.main").click()`,
			until: `document.querySelector("#moved")`},
		{name: "plan-try", path: "/plan/try"},
		{name: "plan-tried", path: "/plan/try",
			first: fmt.Sprintf(`document.querySelector("[name=rush]").value = "%d"; document.querySelector("[name=operators]").value = "-1"; document.querySelector("form[action='/plan/try'] button.main").click()`, asked.Number), until: `document.querySelector("#t-both")`},
		{name: "plan-hours", path: "/plan/hours"},
		{name: "plan-runsheet", path: running + "/runsheet" + line},
		{name: "plan-costs", path: "/plan/costs"},
		{name: "orders-table", path: "/orders/table"},
		{name: "orders-rough", path: "/orders/rough?width=90&height=60&colours=5&quantity=48"},
		{name: "plan-fleet", path: "/plan/fleet"},
		{name: "plan-fleet-replayed", path: "/plan/fleet",
			first: `document.querySelector("form[action='/plan/fleet'] button.main").click()`, until: `document.querySelector("#t-fleet")`},
		{name: "plan-thread", path: "/plan/thread"},
		{name: "after", path: "/orders/after"},
		{name: "after-none", path: "/orders/after", empty: true},
		{name: "record", path: running + "/record" + line},
		{name: "record-kept", path: running + "/record" + line + "&kept=1"},
	}, nil
}
