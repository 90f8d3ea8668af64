package act

import (
	"fmt"

	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/paper"
	"needlepace/words"
)

// QuoteSheets are a quote's prices as tables: first every line in every
// quantity, then what it comes to.
func QuoteSheets(q *book.Quote) []paper.Sheet {
	amount := decimal.Zero.StringFixed(int32(words.Places(q.Currency))) // 0.00: two decimals
	prices := paper.Sheet{Name: "Quote " + q.Serial, Columns: []paper.Column{
		{Head: "quote"}, {Head: "customer", Width: 28}, {Head: "line"}, {Head: "design", Width: 24}, {Head: "placement", Width: 18}, {Head: "garment", Width: 22},
		{Head: "ordered"}, {Head: "quantity"}, {Head: "price", Format: amount}, {Head: "set_up_fee", Format: amount}, {Head: "currency"},
	}}
	for i := range q.Lines {
		l := &q.Lines[i]
		for _, s := range l.Steps {
			prices.Rows = append(prices.Rows, []any{q.Serial, q.Customer, l.Line, l.Design, l.Placement, l.Garment, l.Quantity, s.Quantity, s.Price, s.SetupFee, q.Currency})
		}
	}
	sum := paper.Sheet{Name: "Together", Columns: []paper.Column{{Head: "what", Width: 36}, {Head: q.Currency, Format: amount}, {Head: "day", Width: 14}}}
	for i := range q.Lines {
		l := &q.Lines[i]
		sum.Rows = append(sum.Rows, []any{fmt.Sprintf("%d × %s", l.Quantity, l.Design), l.Sum})
	}
	for _, f := range q.Fees {
		sum.Rows = append(sum.Rows, []any{f.Name, f.Amount})
	}
	sum.Rows = append(sum.Rows, []any{"without tax", q.Net}, []any{"tax " + q.TaxRate + " %", q.Tax}, []any{"together", q.Gross},
		[]any{"valid to", nil, q.Valid.String()}, []any{"earliest", nil, q.Earliest.String()}, []any{fmt.Sprintf("promise, chance %.0f %%", 100*q.Chance), nil, q.Promise.String()})
	return []paper.Sheet{prices, sum}
}

// PlanSheets are a plan's lots and its lines' days as tables.
func PlanSheets(p *book.Plan) []paper.Sheet {
	loc := p.Location()
	lots := paper.Sheet{Name: "Plan", Columns: []paper.Column{
		{Head: "machine", Width: 18}, {Head: "order"}, {Head: "line"}, {Head: "customer", Width: 28}, {Head: "pieces"}, {Head: "runs"}, {Head: "heads"}, {Head: "cones"},
		{Head: "set_up_from", Width: 18}, {Head: "from", Width: 18}, {Head: "to", Width: 18}, {Head: "set_up_minutes", Format: "0"}, {Head: "work_hours", Format: "0.00"},
		{Head: "running"}, {Head: "held"}, {Head: "late"},
	}}
	yes := func(b bool) any {
		if b {
			return "yes"
		}
		return nil
	}
	for i := range p.Lots {
		l := &p.Lots[i]
		lots.Rows = append(lots.Rows, []any{l.Machine, l.Number, l.Line, l.Customer, l.Quantity, l.Runs, l.Heads, l.Cones,
			l.SetupFrom.In(loc), l.From.In(loc), l.To.In(loc), l.Setup / 60, l.Work / 3600, yes(l.Running), yes(l.Held), yes(l.Late)})
	}
	days := paper.Sheet{Name: "Days", Columns: []paper.Column{
		{Head: "order"}, {Head: "line"}, {Head: "customer", Width: 28}, {Head: "to_sew"}, {Head: "due", Width: 18}, {Head: "sewn_by_plan", Width: 18},
		{Head: "late_hours", Format: "0.0"}, {Head: "chance_on_time", Format: "0%"}, {Head: "promise", Width: 14}, {Head: "promise_chance", Format: "0%"},
	}}
	for _, e := range p.Ends {
		var due, chance any
		if !e.Due.IsZero() {
			due = e.Due.In(loc)
		}
		if e.OnTime >= 0 {
			chance = e.OnTime
		}
		days.Rows = append(days.Rows, []any{e.Number, e.Line, e.Customer, e.Quantity, due, e.End.In(loc), e.Late / 3600, chance, e.Day.String(), p.Chance})
	}
	return []paper.Sheet{lots, days}
}

// PlanCalendar is a plan's lots as appointments: one for each stretch of
// working hours that a lot stands in would be many; one a lot, from its set-up
// to its end, is what a calendar is looked at for.
func PlanCalendar(p *book.Plan, shopName string) *paper.Calendar {
	c := &paper.Calendar{Name: shopName + ": plan", Made: p.Made}
	for i := range p.Lots {
		l := &p.Lots[i]
		e := paper.Event{
			UID: l.Job + "@" + l.MachineID + ".needlepace", Start: l.SetupFrom, End: l.To,
			Summary:     fmt.Sprintf("%s %s: %s on %s", l.Name, l.Customer, words.Count(l.Quantity, "piece").Text(nil), l.Machine),
			Description: fmt.Sprintf("%d runs; set-up %.0f min, %d cones to put on; sewing from %s", l.Runs, l.Setup/60, l.Cones, l.From.In(p.Location()).Format("2 January 15:04")),
			Location:    l.Machine, Categories: []string{l.Machine},
		}
		if l.Late {
			e.Categories = append(e.Categories, "late")
		}
		c.Events = append(c.Events, e)
	}
	return c
}
