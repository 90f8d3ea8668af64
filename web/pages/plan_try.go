package pages

import (
	"context"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// tryData is a what-if: its form, and the plan before and after.
type tryData struct {
	D        serve.When
	Orders   []option
	Machines []option
	In       *tryFields
	A        *ask.PlanAnswer
	Big      string
	What     string
	Says     words.Sentences
	Moved    bool
	Watch    []ask.AboutOrder
}

// tryFields is what is asked.
type tryFields struct {
	Rush      string    `toml:"rush"`
	Priority  *amount   `toml:"priority"`
	Due       words.Day `toml:"due"`
	Down      string    `toml:"down"`
	From      string    `toml:"from"`
	To        string    `toml:"to"`
	Operators *float64  `toml:"operators"` // more in every shift
}

// question makes the plan's question of the form and says it in words.
func (in *tryFields) question(c *call, f *form) (ask.PlanQuestion, string, error) {
	q := ask.PlanQuestion{Now: c.Shop.Now(), Operators: or(in.Operators, 0)}
	d, _, err := c.When()
	if err != nil {
		return q, "", err
	}
	var what []string
	if in.Rush != "" {
		o, err := c.Shop.Orders.Get(c.Ctx, in.Rush)
		if err != nil {
			return q, "", shop.At("rush", err)
		}
		rush := ask.Rush{Order: o.ID, Priority: (*float64)(in.Priority), Due: in.Due}
		q.Rush = append(q.Rush, rush)
		what = append(what, words.Say("try.rushed", words.Args{"order": words.Name(strconv.Itoa(o.Number)), "customer": words.Name(o.Customer)}).Text(d.W))
	} else if !in.Due.IsZero() {
		f.refuse("rush", words.Say("refused.rush-which").Text(f.w))
	}
	if in.Down != "" {
		m, err := c.Shop.Machines.Get(c.Ctx, in.Down)
		if err != nil {
			return q, "", shop.At("down", err)
		}
		for name, v := range map[string]string{"from": in.From, "to": in.To} {
			if v == "" {
				f.refuse(name, words.Say("refused.down-when", words.Args{"machine": words.Name(m.Name)}).Text(f.w))
			}
		}
		q.Down = append(q.Down, book.DownTime{Machine: m.ID, From: in.From, To: in.To})
		what = append(what, words.Say("try.is-down", words.Args{"machine": words.Name(m.Name), "from": words.Name(d.Typed(in.From)), "to": words.Name(d.Typed(in.To))}).Text(d.W))
	}
	switch {
	case q.Operators > 0:
		what = append(what, words.Say("plan.operators-more",
			words.Args{"n": words.Whole(int(q.Operators))}).Text(d.W))
	case q.Operators < 0:
		what = append(what, words.Say("plan.operators-fewer",
			words.Args{"n": words.Whole(int(-q.Operators))}).Text(d.W))
	}
	if f.bad() {
		return q, "", nil
	}
	return q, strings.Join(what, "; "), ask.CheckWhatIf(c.Ctx, c.Shop.Asked(), q)
}

// tryFormPost begins the two plans.
func tryFormPost(c *call) error {
	var in tryFields
	return c.sent(&in, func(f *form) (string, error) {
		q, _, err := in.question(c, f)
		if err != nil || f.bad() {
			return "", err
		}
		return "", c.beginPage("try", "/plan/try?"+f.typed.Encode(),
			func(ctx context.Context, st jobs.Step) (any, error) {
				return c.TryPlan(ctx, st, q)
			})
	}, func(f *form) error { return c.tryPage(&in, f) })
}

// tryPage shows a what-if, or its form.
func (c *call) tryPage(in *tryFields, f *form) error {
	d, _, err := c.When()
	if err != nil {
		return err
	}
	data := &tryData{D: d, In: in, Orders: []option{{"", words.Say("hand.none").Text(d.W)}}}
	view := &page{Title: words.Say("try.title").Text(d.W), Nav: "plan", Data: data, Form: f}
	if c.asks("work") != "" && !f.bad() {
		a, shown, err := result[*ask.PlanAnswer](c)
		switch code := shop.CodeOf(err); {
		case shown:
			return err
		case code == shop.Stopped || code == shop.NotFound || code == shop.Invalid:
			view.Told = &told{code == shop.Invalid, []string{words.Sentence(shop.ErrorOf(err).In(d.W))}}
		case err != nil:
			return err
		}
		data.A = a
	}
	if data.Machines, err = c.machineOptions(option{"", words.Say("hand.none").Text(d.W)}); err != nil {
		return err
	}
	orders, _, err := c.Shop.Orders.List(c.Ctx, shop.OrderQuery{States: []book.OrderState{book.Requested, book.Quoted,
		book.Agreed}, Sort: "number", Limit: 500})
	if err != nil {
		return err
	}
	for _, o := range orders {
		data.Orders = append(data.Orders, option{strconv.Itoa(o.Number),
			words.Say("try.order-is", words.Args{"order": words.Name(strconv.Itoa(o.Number)), "customer": words.Name(o.Customer),
				"pieces": words.Count(o.Pieces(), "piece"), "state": stateName(o.State)}).Text(d.W)})
	}
	if a := data.A; a != nil && a.Before != nil {
		if _, data.What, err = in.question(c, f); err != nil {
			return err
		}
		tryAnswer(view, data, a)
	}
	if in.Priority == nil {
		in.Priority = some(amount(ask.RushPriority))
	}
	tomorrow := d.Local(d.Now.AddDate(0, 0, 1))[:11]
	in.From, in.To = firstOf(in.From, tomorrow+"07:00"), firstOf(in.To, tomorrow+"16:00")
	return c.show("plan_try.html", view)
}

// tryAnswer puts the two plans beside each other.
func tryAnswer(view *page, data *tryData, a *ask.PlanAnswer) {
	d := data.D
	switch was, is := a.Before.Late, a.Plan.Late; {
	case is == 0 && was == 0:
		data.Big = words.Say("try.still-none").Text(d.W)
	case is == was:
		data.Big = words.Say("try.still-late", words.Args{"n": words.Whole(is)}).Text(d.W)
	default:
		data.Big = words.Say("try.late-instead", words.Args{"is": words.Whole(is), "was": words.Whole(was)}).Text(d.W)
	}
	view.drawPlan("before", a.Before, d, words.Say("try.as-is").Text(d.W), ask.PlanSum(a.Before).Text(d.W), a.Plan)
	view.drawPlan("after", a.Plan, d, words.Say("try.then").Text(d.W), ask.PlanSum(a.Plan).Text(d.W), a.Before)
	view.addTables(d.W, a.BothTable(), a.LineTable(), a.MovedTable())
	linkOrders(view.Tables["lines"], 0)
	data.Says, data.Watch, data.Moved = a.Say(), a.Watch, len(a.Moved) > 0
}
