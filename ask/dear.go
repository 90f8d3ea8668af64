package ask

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/money"
	"needlepace/plan"
	"needlepace/words"
)

// DearFrom is what planned jobs are held against: the plan and the quotes.
type DearFrom interface {
	PlanFrom
	// KeptQuotes are an order's quotes, newest first.
	KeptQuotes(ctx context.Context, orderID string) ([]*book.Quote, error)
}

// DearAnswer is which jobs the kept plan sews at a higher cost than their quotes
// have, the most first. Its JSON is a written contract: later versions add keys
// and never change one.
type DearAnswer struct {
	Currency string          `json:"currency"`
	Rows     []DearRow       `json:"rows"`
	Unquoted int             `json:"unquoted" doc:"planned lines without a kept quote: nothing is known of them"`
	Unpriced int             `json:"unpriced" doc:"planned lines on a machine, or quoted on one, that has no prices: nothing is known of them"`
	Reckoned int             `json:"reckoned" doc:"planned lines whose quote does not say what they cost on a machine: that is reckoned by what machines cost now"`
	Verdict  words.Sentences `json:"verdict"`
	Caveats  words.Sentences `json:"caveats"`
}

// DearRow is one such line. Amounts are for the pieces that are planned.
type DearRow struct {
	OrderID  string    `json:"order"`
	Number   int       `json:"number"`
	Line     int       `json:"line"`
	Name     string    `json:"name"`
	Customer string    `json:"customer"`
	Pieces   int       `json:"pieces"`
	On       []string  `json:"machines"`
	Price    money.Dec `json:"price" doc:"without tax, with a set-up fee and less the discount; without fees for digitizing and delivery"`
	Quoted   money.Dec `json:"quoted_cost"`
	Planned  money.Dec `json:"planned_cost"`
	Loss     bool      `json:"loss" doc:"it is planned at more than its price"`
	// To is where it would cost least; empty: nowhere less.
	To        string    `json:"cheaper_on,omitempty"`
	Saves     money.Dec `json:"saves" doc:"there, by its quote, and no more than the plan as a whole, with its set-ups, then costs less; of a line that is held by its quote alone"`
	LateHours float64   `json:"late_hours" doc:"more weighted late hours if it went there; below 0: fewer"`
	Moves     int       `json:"late_lines" doc:"more lines late if it went there"`
	Held      bool      `json:"held" doc:"it is held where it is by hand"`

	lots int
}

// dearFrom is by how much more than quoted a job is told of: less is set-ups' and
// waiting's own.
const dearFrom = 0.05

// Dear says which jobs of the kept plan are sewn at a higher cost than they were
// quoted with, and what moving each would do. The cost is the quoted one with
// the planned machines' time in place of the quoted ones', each with one whole set-up, as quotes have.
// nil where there is no plan.
func Dear(ctx context.Context, from DearFrom) (*DearAnswer, error) {
	kept, err := from.LastPlan(ctx)
	if err != nil || kept == nil {
		return nil, err
	}
	memory := from.Memory()
	memory.hand.Lock()
	defer memory.hand.Unlock()
	seen, err := from.Seen(ctx)
	if err != nil {
		return nil, err
	}
	if memory.dear != nil && memory.dearSeen == seen {
		return memory.dear, nil
	}
	a := &DearAnswer{Rows: []DearRow{}, Verdict: words.Sentences{}, Caveats: words.Sentences{}}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	if w.Priced() && len(kept.Lots) > 0 {
		a.Currency = w.Money.Currency
		p, desk, err := onDesk(ctx, from, memory, time.Time{})
		if err != nil {
			return nil, err
		}
		if err := a.rows(ctx, from, p, desk); err != nil {
			return nil, err
		}
	}
	a.say()
	memory.dear, memory.dearSeen = a, seen
	return a, nil
}

// hourOf is what an hour of a machine costs while it sews, by its ID; 0: no prices.
func (p *problem) hourOf(id, name string) money.Dec {
	for _, st := range p.stations {
		if st.ID == id || id == "" && st.Name == name {
			return p.hours[st.ID]
		}
	}
	return money.Dec{}
}

// planned is what a line's pieces cost on a machine of the plan, by its quote: as quoted
// there, and what the plan's time costs beyond what it was then. reckoned: the quote does not say the first. !ok: nothing is known of it.
func (p *problem) planned(q *book.QuoteLine, job, machine, pieces int) (cost money.Dec, reckoned, ok bool) {
	c, ok := q.CostOn(p.stations[machine].ID, p.hourOf)
	for i, f := range p.Jobs[job].Fits {
		if ok && f.Machine == machine {
			return c.Took(pieces, p.Jobs[job].Fits[i].Work(pieces), c.Planned), c.Reckoned, true
		}
	}
	return money.Dec{}, false, false
}

func (a *DearAnswer) rows(ctx context.Context, from DearFrom, p *problem, desk *plan.Desk) error {
	type sewn struct {
		order *book.Order
		line  *book.OrderLine
		lots  []int
	}
	now := desk.Schedule()
	var lines []*sewn
	at := map[lineID]*sewn{}
	for i := range now.Lots {
		of := p.jobs[now.Lots[i].Job]
		id := lineID{of.order.ID, of.line.Line}
		if at[id] == nil {
			at[id] = &sewn{order: of.order, line: of.line}
			lines = append(lines, at[id])
		}
		at[id].lots = append(at[id].lots, i)
	}
	quotes := map[string][]*book.Quote{}
	for _, l := range lines {
		all, asked := quotes[l.order.ID]
		if !asked {
			var err error
			if all, err = from.KeptQuotes(ctx, l.order.ID); err != nil {
				return err
			}
			quotes[l.order.ID] = all
		}
		var q *book.QuoteLine
		if len(all) > 0 && all[0].Currency == a.Currency {
			k := slices.IndexFunc(all[0].Lines, func(x book.QuoteLine) bool { return x.Line == l.line.Line })
			if k >= 0 {
				q = &all[0].Lines[k]
			}
		}
		if q == nil {
			a.Unquoted++
			continue
		}
		row := DearRow{OrderID: l.order.ID, Number: l.order.Number, Line: l.line.Line, Customer: l.order.Customer,
			Name: book.LineName(l.order, l.line.Line), lots: len(l.lots)}
		priced, reckoned := true, false
		for _, i := range l.lots {
			lot := &now.Lots[i]
			st := p.stations[lot.Machine]
			cost, now, ok := p.planned(q, lot.Job, lot.Machine, lot.Quantity)
			priced, reckoned = priced && ok, reckoned || now
			row.Planned = row.Planned.Add(cost)
			row.Pieces += lot.Quantity
			if !slices.Contains(row.On, st.Name) {
				row.On = append(row.On, st.Name)
			}
		}
		if !priced {
			a.Unpriced++
			continue
		}
		if reckoned {
			a.Reckoned++
		}
		row.Price, row.Quoted = all[0].Asked(q, row.Pieces), q.Cost.Mul(money.Measured(float64(row.Pieces)))
		row.Loss = row.Planned.GreaterThan(row.Price)
		if row.Planned.LessThanOrEqual(row.Quoted.Mul(money.Measured(1 + dearFrom))) {
			continue
		}
		if len(l.lots) == 1 {
			if err := row.cheaper(p, desk, l.lots[0], q, a.Currency); err != nil {
				return err
			}
		}
		row.round(a.Currency)
		a.Rows = append(a.Rows, row)
	}
	slices.SortStableFunc(a.Rows, func(x, y DearRow) int {
		return cmp.Or(y.Planned.Sub(y.Quoted).Cmp(x.Planned.Sub(x.Quoted)), cmp.Compare(x.Number, y.Number))
	})
	return nil
}

func (r *DearRow) round(currency string) {
	places := int32(words.Places(currency))
	r.Price, r.Quoted = r.Price.Round(places), r.Quoted.Round(places)
	r.Planned, r.Saves = r.Planned.Round(places), r.Saves.Round(places)
}

// cheaper finds the machine where a lot costs least, and what the plan would come
// to with it at its best place there.
func (r *DearRow) cheaper(p *problem, desk *plan.Desk, lot int, q *book.QuoteLine, currency string) error {
	now := desk.Schedule()
	l := &now.Lots[lot]
	j := &p.Jobs[l.Job]
	to, least := -1, r.Planned
	for _, f := range j.Fits {
		cost, _, ok := p.planned(q, l.Job, f.Machine, l.Quantity)
		if f.Machine == l.Machine || !ok {
			continue
		}
		if cost.LessThan(least.Mul(money.Measured(1 - dearFrom))) {
			to, least = f.Machine, cost
		}
	}
	if to < 0 {
		return nil
	}
	r.To, r.Saves = p.stations[to].Name, r.Planned.Sub(least)
	if r.Held = p.stuck(*l, to) != nil; r.Held {
		return nil
	}
	var best *plan.Effect
	for place := range len(now.Queue(to)) + 1 {
		e, err := desk.WhatIfMove(lot, to, place)
		if err != nil {
			continue // before what is running
		}
		if best == nil || e.Cost < best.Cost {
			best = e
		}
	}
	// The plan as a whole may cost more without it there, where its set-up is short behind what is like it, or hardly
	// less, where what it waits for operators there is what others then wait.
	var whole money.Dec
	if rate := p.Machines[to].Rate; best != nil && rate > 0 {
		whole = p.hours[p.stations[to].ID].Mul(money.Measured((best.Before.Money - best.After.Money) / (3600 * rate)))
	}
	if !whole.Round(int32(words.Places(currency))).IsPositive() {
		r.To, r.Saves = "", money.Dec{}
		return nil
	}
	if whole.LessThan(r.Saves) {
		r.Saves = whole
	}
	r.LateHours, r.Moves = (best.After.Lateness-best.Before.Lateness)/3600, best.After.Late-best.Before.Late
	if math.Abs(r.LateHours) < leastLateHours {
		r.LateHours = 0
	}
	return nil
}

// say puts the answer into sentences.
func (a *DearAnswer) say() {
	loss := 0
	for i := range a.Rows {
		if a.Rows[i].Loss {
			loss++
		}
	}
	switch {
	case len(a.Rows) == 0:
		a.Verdict.Say("dear.none")
	case loss == 0:
		a.Verdict.Say("dear.some", words.Args{"lines": words.Count(len(a.Rows), "line")})
	default:
		a.Verdict.Say("dear.loss", words.Args{"lines": words.Count(len(a.Rows), "line"), "n": words.Whole(loss)})
	}
	if a.Unquoted > 0 {
		a.Caveats.Say("dear.unquoted", words.Args{"lines": words.Count(a.Unquoted, "line")})
	}
	if a.Unpriced > 0 {
		a.Caveats.Say("dear.unpriced", words.Args{"lines": words.Count(a.Unpriced, "line")})
	}
	if a.Reckoned > 0 {
		a.Caveats.Say("dear.reckoned", words.Args{"lines": words.Count(a.Reckoned, "line")})
	}
}

// Table is a row for each line.
func (a *DearAnswer) Table() *Table {
	t := table("dear", words.Say("dear.caption", words.Args{"currency": words.Name(a.Currency)}),
		column("order", "column.order"),
		column("customer", "column.customer"),
		number("pieces", "column.pieces"),
		column("machines", "dear.on"),
		number("price", "dear.price"),
		number("quoted_cost", "dear.quoted"),
		number("planned_cost", "dear.planned"),
		column("would", "dear.would"),
	)
	cash := func(d money.Dec) words.Value { return words.Money{Amount: d, Code: a.Currency, Bare: true} }
	for i := range a.Rows {
		r := &a.Rows[i]
		var on words.List
		for _, m := range r.On {
			on = append(on, words.Name(m))
		}
		t.add(words.Name(r.Name), words.Name(r.Customer), words.Whole(r.Pieces), on, cash(r.Price), cash(r.Quoted),
			cash(r.Planned), r.would(a.Currency))
	}
	return t
}

// would is what moving a line would do.
func (r *DearRow) would(currency string) words.Value {
	saves := words.Money{Amount: r.Saves, Code: currency}
	to := words.Name(r.To)
	switch {
	case r.To == "" && r.lots > 1:
		return words.Say("dear.shared")
	case r.To == "":
		return words.Say("dear.nowhere")
	case r.Held:
		return words.Say("dear.held", words.Args{"machine": to, "saves": saves})
	case r.LateHours > 0:
		return words.Say("dear.late", words.Args{"machine": to, "saves": saves, "late": words.Hours(r.LateHours)})
	case r.LateHours < 0:
		return words.Say("dear.sooner", words.Args{"machine": to, "saves": saves, "late": words.Hours(-r.LateHours)})
	}
	return words.Say("dear.free", words.Args{"machine": to, "saves": saves})
}
