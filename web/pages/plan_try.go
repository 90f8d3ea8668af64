package pages

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
)

// tryData is a what-if: its form, and the plan before and after.
type tryData struct {
	D         serve.When
	Orders    []option
	Machines  []*shop.Machine
	F         tryForm
	A         *ask.PlanAnswer
	Big       string
	What      string
	Changes   []string
	Moved     bool
	Left      []book.LeftOut
	HasPlan   bool
	DueHint   string
	From, To  string
	NoMachine bool
}

// tryForm is what is asked.
type tryForm struct {
	Rush, Priority, Due string
	Down, From, To      string
	Operators           string
}

func readTry(q url.Values) tryForm {
	f := tryForm{Rush: q.Get("rush"), Priority: q.Get("priority"), Due: q.Get("due"), Down: q.Get("down"), From: q.Get("from"), To: q.Get("to"), Operators: q.Get("operators")}
	if f.Priority == "" {
		f.Priority = raw(ask.RushPriority)
	}
	return f
}

// question makes the plan's question of a form and says it in words.
func (c *call) question(q url.Values) (ask.PlanQuestion, string, error) {
	f := readTry(q)
	question := ask.PlanQuestion{Now: c.Shop.Now()}
	var what []string
	r := formNumbers{f: q}
	question.Operators = r.number("operators", "the number of operators more", 0)
	weight := r.number("priority", "the priority", ask.RushPriority)
	due := r.day("due", "the day it is wanted")
	if r.err != nil {
		return question, "", r.err
	}
	if f.Rush != "" {
		o, err := c.Shop.Orders.Get(c.Ctx, f.Rush)
		if err != nil {
			return question, "", err
		}
		question.Rush = append(question.Rush, ask.Rush{Order: o.ID, Priority: &weight, Due: due})
		what = append(what, fmt.Sprintf("order %d for %s is rushed", o.Number, o.Customer))
	}
	if f.Down != "" {
		m, err := c.Shop.Machines.Get(c.Ctx, f.Down)
		if err != nil {
			return question, "", err
		}
		if f.From == "" || f.To == "" {
			return question, "", shop.Errorf(shop.Invalid, "say from when to when %s is down", m.Name)
		}
		question.Down = append(question.Down, book.DownTime{Machine: m.ID, From: f.From, To: f.To})
		what = append(what, fmt.Sprintf("%s is down from %s to %s", m.Name, strings.Replace(f.From, "T", " ", 1), strings.Replace(f.To, "T", " ", 1)))
	}
	switch {
	case question.Operators > 0:
		what = append(what, "every shift has "+counted(int(question.Operators), "operator more", "operators more"))
	case question.Operators < 0:
		what = append(what, "every shift has "+counted(int(-question.Operators), "operator fewer", "operators fewer"))
	}
	if err := ask.CheckWhatIf(c.Ctx, c.Shop.Asked(), question); err != nil {
		return question, "", err
	}
	return question, strings.Join(what, "; "), nil
}

// tryFormPost begins the two plans.
func tryFormPost(c *call) error {
	question, _, err := c.question(c.PostForm)
	if err != nil {
		return err
	}
	keep := url.Values{}
	for _, k := range []string{"rush", "priority", "due", "down", "from", "to", "operators"} {
		if v := c.PostForm.Get(k); v != "" {
			keep.Set(k, v)
		}
	}
	return c.beginPage("try", "/plan/try?"+keep.Encode(), func(ctx context.Context, st jobs.Step) (any, error) {
		return c.TryPlan(ctx, st, question)
	})
}

func showTry(c *call) error {
	q := c.URL.Query()
	d, _, err := c.When()
	if err != nil {
		return err
	}
	data := &tryData{D: d, F: readTry(q), From: d.Local(d.Now.AddDate(0, 0, 1))[:11] + "07:00", To: d.Local(d.Now.AddDate(0, 0, 1))[:11] + "16:00"}
	view := &page{Title: "What if", Nav: "plan", Data: data, Tables: map[string]*table{}, Pics: map[string]pic{}}
	if q.Get("work") != "" {
		a, shown, err := result[*ask.PlanAnswer](c)
		switch code := shop.CodeOf(err); {
		case shown:
			return err
		case code == shop.Stopped || code == shop.NotFound || code == shop.Invalid:
			view.Told = &told{code == shop.Invalid, []string{sentence(err.Error())}}
		case err != nil:
			return err
		}
		data.A = a
	}
	if data.Machines, err = c.Shop.Machines.List(c.Ctx); err != nil {
		return err
	}
	orders, _, err := c.Shop.Orders.List(c.Ctx, shop.OrderQuery{States: []book.OrderState{book.Requested, book.Quoted, book.Agreed}, Sort: "number", Limit: 500})
	if err != nil {
		return err
	}
	for _, o := range orders {
		data.Orders = append(data.Orders, option{strconv.Itoa(o.Number), fmt.Sprintf("%d %s, %s, %s", o.Number, o.Customer, counted(o.Pieces(), "piece", "pieces"), o.State)})
	}
	if a := data.A; a != nil && a.Before != nil {
		if _, data.What, err = c.question(q); err != nil {
			return err
		}
		tryAnswer(view, data, a)
	}
	return c.show("plan_try.html", view)
}

// tryAnswer puts the two plans beside each other.
func tryAnswer(view *page, data *tryData, a *ask.PlanAnswer) {
	d := data.D
	switch was, is := a.Before.Late, a.Plan.Late; {
	case is == 0 && was == 0:
		data.Big = "Still none late"
	case is == was:
		data.Big = fmt.Sprintf("Still %d late", is)
	default:
		data.Big = fmt.Sprintf("%d late, not %d", is, was)
	}
	view.Pics["before"], view.Pics["after"] = ganttPic(a.Before, d, "As things are", ask.PlanSum(a.Before).Text(d.W), a.Plan), ganttPic(a.Plan, d, "What if", ask.PlanSum(a.Plan).Text(d.W), a.Before)
	t := &table{ID: "both", Caption: "Before and after", Cols: []col{textCol("", "what"), numCol("As things are", "before"), numCol("What if", "after")}}
	t.Cols[0].Name = "The plan"
	row := func(what, was, is string) { t.Rows = append(t.Rows, []cell{text(what), text(was), text(is)}) }
	b, n := a.Before, a.Plan
	row("Lines late", strconv.Itoa(b.Late), strconv.Itoa(n.Late))
	row("Late hours by priority", fixed(b.LateHours, 1), fixed(n.LateHours, 1))
	row("All sewn", d.At(b.Done), d.At(n.Done))
	row("Machine hours at work", fixed(b.WorkHours, 1), fixed(n.WorkHours, 1))
	row("Set-up hours", fixed(b.SetupHours, 1), fixed(n.SetupHours, 1))
	row("Operators asked for while all machines run", fixed(b.Hands, 1), fixed(n.Hands, 1))
	view.Tables["both"] = t
	ends := &table{ID: "lines", Caption: "Line by line", Full: true, Cols: []col{textCol("Order", "order"), textCol("Customer", "customer"), textCol("Due", "due"), textCol("Sewn as things are", "before"), textCol("Sewn then", "after"), numCol("On time", "on_time_before"), numCol("Then", "on_time_after")}}
	for _, e := range n.Ends {
		was, chance := "–", "–"
		if i := slices.IndexFunc(b.Ends, func(x book.LineEnd) bool { return x.OrderID == e.OrderID && x.Line == e.Line }); i >= 0 {
			was, chance = d.At(b.Ends[i].End), chanceText(b.Ends[i].OnTime)
		}
		end := d.At(e.End)
		if e.Late > 0 {
			end += ", " + hours(e.Late/3600) + " late"
		}
		ends.Rows = append(ends.Rows, []cell{linked(e.Name, fmt.Sprintf("/orders/%d", e.Number)), text(e.Customer), figure(d.Kept(e.DueDay), e.DueDay.String()), text(was), text(end), text(chance), text(chanceText(e.OnTime))})
	}
	view.Tables["lines"] = ends
	data.Left = n.Left
	if data.Moved = len(a.Moved) > 0; data.Moved {
		view.Tables["moved"] = movedTable(a.Moved, d)
		view.Tables["moved"].Caption = "Against the plan as things are, what matters most first"
	}
}
