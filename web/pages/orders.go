package pages

import (
	"html/template"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// orderRow is one order of the list.
type orderRow struct {
	*book.Order
	What     string // what is to be sewn
	Due      string
	Promised string
	End      string // by the plan
	Chance   string
	OnTime   string // the chance, where one is known
	Risk     book.Risk
	Says     string // what the plan says, in words
	Strip    template.HTML
}

// ordersData is the list of orders.
type ordersData struct {
	Search, State     string
	Order             *listOrder
	Kept              *keptLists
	States            []option
	Rows              []orderRow
	From, To, Total   int
	Prev, Next        template.URL
	Axis              template.HTML
	Late, Open        int
	Planned           bool
	Stale             string
	Designs, Machines int
}

const ordersOnPage = 50

// openStates are the states in which something is still to be done.
func openStates() (out []book.OrderState) {
	for _, s := range book.OrderStates {
		if s.Open() {
			out = append(out, s)
		}
	}
	return out
}

// orderColumns are the columns of the list of orders.
var orderColumns = []listedBy{
	{Key: "number", Name: words.Say("lists.order"), First: words.Say("lists.number-newest"), Last: words.Say("lists.number-oldest"), Falls: true},
	{Key: "customer", Name: words.Say("lists.customer"), First: words.Say("lists.by-customer"), Last: words.Say("lists.by-customer-back")},
	{Key: byPlan, Name: words.Say("lists.sewn"), First: words.Say("lists.sewn-soonest"), Last: words.Say("lists.sewn-last"), Class: "course"},
	{Key: "due", Name: words.Say("lists.due"), First: words.Say("lists.by-due"), Last: words.Say("lists.by-due-back"), Class: "n"},
	{Key: "promised", Name: words.Say("lists.promised"), First: words.Say("lists.by-promised"), Last: words.Say("lists.by-promised-back"), Class: "n"},
	{Key: "state", Name: words.Say("lists.state"), First: words.Say("lists.by-state"), Last: words.Say("lists.by-state-back"), Class: "n"},
}

// byPlan sorts orders by when the plan has them sewn.
const byPlan = "plan"

// ordersBy is a page of the list of orders. The plan is no part of them: sorted by it all
// that are asked for are read, those that it has not stand last.
func (c *call) ordersBy(q shop.OrderQuery, p *book.Plan) ([]*book.Order, int, error) {
	if q.Sort != byPlan {
		return c.Shop.Orders.List(c.Ctx, q)
	}
	first, n := q.Offset, q.Limit
	q.Sort, q.Reverse, q.Offset, q.Limit = "due", false, 0, mostByPlan
	all, total, err := c.Shop.Orders.List(c.Ctx, q)
	if err != nil {
		return nil, 0, err
	}
	sortRows(all, func(o *book.Order) string {
		if p == nil || !o.State.Planned() {
			return ""
		}
		e, ok := p.OrderEnd(o.ID)
		if !ok {
			return ""
		}
		return strconv.FormatInt(e.End.Unix(), 10)
	}, strings.HasPrefix(c.asks("sort"), "-"))
	first = min(first, len(all))
	return all[first:min(first+n, len(all))], total, nil
}

// mostByPlan is how many orders are sorted by the plan.
const mostByPlan = 5000

func showOrders(c *call) error {
	q := c.Query()
	data := &ordersData{Search: q.Get("search"), State: q.Get("state"), Order: c.listOrder(q, "due", orderColumns...)}
	no := max(q.Integer("page", 1), 1)
	if q.Err != nil {
		return q.Err
	}
	ask := shop.OrderQuery{Search: data.Search, Sort: data.Order.Key, Reverse: data.Order.Backwards, Limit: ordersOnPage,
		Offset: (no - 1) * ordersOnPage}
	switch data.State {
	case "":
		ask.States = openStates()
	case "all":
	default:
		ask.States = []book.OrderState{book.OrderState(data.State)}
	}
	data.States = append(data.States, option{"", words.Say("orders.open").Text(c.writer())})
	for _, s := range book.OrderStates {
		data.States = append(data.States, option{string(s), stateName(s).Text(c.writer())})
	}
	data.States = append(data.States, option{"all", words.Say("orders.all").Text(c.writer())})
	d, w, err := c.When()
	if err != nil {
		return err
	}
	last, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil {
		return err
	}
	orders, total, err := c.ordersBy(ask, last)
	if err != nil {
		return err
	}
	if data.Kept, err = c.keptLists(shop.ListOfOrders); err != nil {
		return err
	}
	if data.Stale, err = c.stale(last); err != nil {
		return err
	}
	names := map[string]string{}
	axis := workingTime(last, d, w)
	data.Axis, data.Planned, data.Total = axis.Axis(), last != nil && len(last.Lots) > 0, total
	for _, o := range orders {
		row := orderRow{Order: o, Due: d.Kept(o.Due), Promised: d.Kept(o.Promised)}
		if row.What, err = c.whatOf(o, names); err != nil {
			return err
		}
		row.plan(last, axis)
		if row.Risk == book.IsLate {
			data.Late++
		}
		data.Rows = append(data.Rows, row)
	}
	if total > 0 {
		data.From, data.To = ask.Offset+1, ask.Offset+len(orders)
	}
	if no > 1 {
		data.Prev = turned(q, "page", no-1)
	}
	if data.To < total {
		data.Next = turned(q, "page", no+1)
	}
	if total == 0 {
		list, err := c.setupList(shop.FloorSetup)
		if err != nil {
			return err
		}
		data.Designs, data.Machines = list.Designs, len(list.Machines)
	}
	p := &page{Title: words.Say("nav.orders").Text(d.W), Nav: "orders", Data: data, Tables: map[string]*table{"orders": ordersTable(data.Rows, d.W)}}
	return c.show("orders.html", p)
}

// turned is the page's own address with another part of its list.
func turned(q *serve.Query, name string, n int) template.URL {
	q.Set(name, strconv.Itoa(n))
	return template.URL("?" + q.Encode())
}

func ordersTable(rows []orderRow, w *words.Writer) *table {
	t := &table{ID: "orders", Caption: words.Say("nav.orders").Text(w), Cols: cols("Order", "Customer", "State", "#Pieces",
		"#Left=pieces_left", "What", "Due", "Promised", "Sewn by the plan=sewn_by_plan", "On time=chance_on_time")}
	for i := range rows {
		r := &rows[i]
		t.row(text(strconv.Itoa(r.Number)), text(r.Customer), text(string(r.State)), whole(r.Pieces()), whole(r.Left()),
			text(r.What), figure(r.Due, r.Order.Due.String()), figure(r.Promised, r.Order.Promised.String()),
			text(r.End), text(r.Chance))
	}
	return t
}

// stateName is how the state of an order is called.
func stateName(s book.OrderState) words.Message { return words.Say("order-state." + string(s)) }

// whatOf says what an order is: "150 × Gull cap; 120 × Chowder patch".
func (c *call) whatOf(o *book.Order, names map[string]string) (string, error) {
	var out []string
	for i := range o.Lines {
		l := &o.Lines[i]
		if names[l.DesignID] == "" {
			des, err := c.Shop.Designs.Get(c.Ctx, l.DesignID)
			if err != nil {
				return "", err
			}
			names[l.DesignID] = des.Name
		}
		if i == 3 && len(o.Lines) > 4 {
			out = append(out, words.Say("orders.more-lines", words.Args{"n": words.Whole(len(o.Lines) - 3)}).Text(c.writer()))
			break
		}
		out = append(out, words.Whole(l.Quantity).Text(c.writer())+" × "+names[l.DesignID])
	}
	for i := range o.Roughs {
		out = append(out, o.Roughs[i].What().Text(c.writer()))
	}
	return strings.Join(out, "; "), nil
}

// plan puts what a plan says of an order into its row.
func (r *orderRow) plan(p *book.Plan, axis *working) {
	if p == nil || !r.State.Planned() {
		switch {
		case r.State.Planned():
			r.Says = words.Say("orders.in-no-plan").Text(axis.W)
		case r.State == book.Sewn, r.State == book.Delivered, r.State == book.Withdrawn:
			r.Says = stateName(r.State).Text(axis.W)
		}
		return
	}
	var lots []book.PlanLot
	for i := range p.Lots {
		if p.Lots[i].OrderID == r.ID {
			lots = append(lots, p.Lots[i])
		}
	}
	r.Says = words.Say("orders.not-in-plan").Text(axis.W)
	e, ok := p.OrderEnd(r.ID)
	if !ok {
		return
	}
	r.Strip, r.End, r.Chance, r.Risk = axis.Strip(lots,
		e.Due), axis.At(e.End), words.Chance(e.OnTime).Text(axis.W), p.Risk(&e)
	switch {
	case r.Risk == book.IsLate:
		r.Says = words.Say("orders.sewn-late", words.Args{"at": words.Name(r.End), "late": words.Span(e.Late / 3600)}).Text(axis.W)
	case e.OnTime >= 0:
		r.OnTime = r.Chance
		r.Says = words.Say("orders.sewn-chance", words.Args{"at": words.Name(r.End), "chance": words.Name(r.Chance)}).Text(axis.W)
	default:
		r.Says = words.Say("orders.sewn", words.Args{"at": words.Name(r.End)}).Text(axis.W)
	}
}

// stale says what changed since a plan was made, "" where nothing did.
func (c *call) stale(p *book.Plan) (string, error) {
	if p == nil {
		_, n, err := c.Shop.Orders.List(c.Ctx, shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Sewing},
			Limit: 1})
		if err != nil || n == 0 {
			return "", err
		}
		return words.Say("order.in-no-plan", words.Args{"n": words.Whole(n)}).Text(c.writer()), nil
	}
	since, err := ask.Since(c.Ctx, c.Shop.Asked(), ask.SinceQuestion{Now: c.Shop.Now()})
	if err != nil {
		return "", err
	}
	return since.Line().Text(c.writer()), nil
}
