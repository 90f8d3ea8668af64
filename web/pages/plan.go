package pages

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// planData is the plan as its page shows it.
type planData struct {
	P       *book.Plan // nil: none yet
	D       serve.When
	Big     string
	Says    []string         // verdict and caveats
	Since   *ask.SinceAnswer // nil: nothing changed since
	More    int              // changes that the page leaves out
	Ready   int              // agreed orders
	Lots    []planLotMark
	Few     bool // few enough lots to print their picture
	Moved   bool
	Fresh   bool // just made in place of another
	Hand    *handData
	Watch   []ask.AboutOrder // the first of them
	Unseen  int              // of them that the page leaves out
	Assumed bool
	Dear    words.Sentences // of jobs planned above their cost, for who may see money

	// The page's large parts: the same as long as the plan is.
	Picture, Days, Machines, Watching, Goal part
}

// planLotMark is a lot as the list of jobs has it.
type planLotMark struct {
	Value string // as the form has it
	Said  string
}

// planFields is what a plan is made with.
type planFields struct {
	Freeze *amount `toml:"freeze"` // hours that stay as they are
	Fresh  bool    `toml:"fresh"`
	Then   string  `toml:"then"` // where the browser goes when it is made; empty: to the plan
}

// makePlanForm plans anew.
func makePlanForm(c *call) error {
	var in planFields
	return c.sent(&in, func(*form) (string, error) {
		freeze := time.Duration(float64(or(in.Freeze, 0)) * float64(time.Hour))
		then := "/plan"
		if in.Then != "" {
			then = serve.LocalPath(in.Then)
		}
		return "", c.planAnew(ask.PlanQuestion{Fresh: in.Fresh, Freeze: freeze}, then)
	}, c.planPage)
}

func (c *call) planAnew(q ask.PlanQuestion, then string) error {
	q.Now = c.Shop.Now()
	if err := ask.CheckPlan(q); err != nil {
		return err
	}
	who := c.By()
	return c.beginPage("plan", then, func(ctx context.Context, st jobs.Step) (any,
		error) {
		return c.MakePlan(ctx, st, q, who)
	})
}

func showPlan(c *call) error { return c.planPage(nil) }

// readyToPlan is how many orders a plan would be of.
func (c *call) readyToPlan() (n int, err error) {
	_, n, err = c.Shop.Orders.List(c.Ctx, shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Sewing}, Limit: 1})
	return n, err
}

// planPage shows the plan, with a form that was sent before.
func (c *call) planPage(f *form) error {
	d, _, err := c.When()
	if err != nil {
		return err
	}
	var fresh *ask.PlanAnswer
	var stopped *told
	if c.asks("work") != "" {
		var shown bool
		fresh, shown, err = result[*ask.PlanAnswer](c)
		switch {
		case shown:
			return err
		case shop.CodeOf(err) == shop.Stopped:
			stopped = &told{Lines: []string{words.Say("plan-page.stopped").Text(d.W)}}
		case shop.CodeOf(err) == shop.NotFound: // made long ago: the plan itself is kept
		case err != nil:
			return err
		}
	}
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil {
		return err
	}
	data := &planData{P: p, D: d}
	if p != nil {
		since, err := ask.Since(c.Ctx, c.Shop.Asked(), ask.SinceQuestion{Now: c.Shop.Now(), Effect: true})
		if err != nil {
			return err
		}
		if since.Stale() {
			data.Since = since
			data.More = max(0, len(since.Changes)-changesOnPage)
		}
	}
	if data.Ready, err = c.readyToPlan(); err != nil {
		return err
	}
	view := &page{Title: words.Say("nav.plan").Text(d.W), Nav: "plan", Data: data, Told: stopped, Form: f}
	if p == nil {
		if f != nil { // the form is not on this page
			view.Told = &told{true, f.said(map[string]string{"freeze": words.Say("plan-page.freeze-is").Text(d.W)})}
		}
		return c.show("plan.html", view)
	}
	a := ask.PlanOf(p)
	for _, m := range a.Say() {
		data.Says = append(data.Says, m.Text(d.W))
	}
	data.Assumed = p.Assumed
	if data.Since != nil && len(data.Since.Lines) > 0 {
		t := data.Since.LineTable()
		t.Rows = t.Rows[:min(len(t.Rows), rowsOnPage)]
		view.addTables(d.W, t)
		linkOrders(view.Tables["since"], 0)
		view.Tables["since"].cards()
	}
	data.Watch = a.Watch[:min(len(a.Watch), toWatchOnPage)]
	data.Unseen = len(a.Watch) - len(data.Watch)
	if c.May(shop.SeeMoney) && len(p.Lots) > 0 {
		dear, err := ask.Dear(c.Ctx, c.Shop.Asked())
		if err != nil {
			return err
		}
		if dear != nil && len(dear.Rows) > 0 {
			data.Dear = dear.Verdict
		}
	}
	switch {
	case len(p.Lots) == 0:
		data.Big = words.Say("plan-page.big-nothing").Text(d.W)
	case data.Since != nil && data.Since.LateIs != p.Late:
		data.Big = words.Say("since.big", words.Args{"n": words.Whole(data.Since.LateIs)}).Text(d.W)
	case len(p.TooLate()) > 0:
		data.Big = words.Say("plan.big-too-late", words.Args{"n": words.Whole(len(p.TooLate()))}).Text(d.W)
	case p.Late == 0 && ask.LeastSure(p) != nil:
		e := ask.LeastSure(p)
		data.Big = words.Say("plan.big-unsure", words.Args{"order": words.Name(e.Name), "chance": words.Chance(e.OnTime)}).Text(d.W)
	case p.Late == 0:
		data.Big = words.Say("plan-page.big-none-late").Text(d.W)
	default:
		data.Big = words.Say("plan-page.big-late", words.Args{"n": words.Whole(p.Late)}).Text(d.W)
	}
	made := []any{p.Version, p.Made.UnixMicro(), d.W.Zone.String(), d.W.Hours12, d.Now.Year()}
	data.Picture, data.Days, data.Machines = c.part("picture", made...), c.part("days", made...), c.part("machines",
		made...)
	data.Goal = c.part("goal", made...)
	data.Watching = c.part("watch", made...)
	// The menu of what can be taken away leads to the page as it is asked for, and names the tables that come and go.
	view.Take = c.part("take", append(slices.Clone(made), c.URL.RawQuery, data.Since != nil && len(data.Since.Lines) > 0)...)
	if !data.Days.Same || !data.Machines.Same || !view.Take.Same {
		most := rowsOnPage
		if c.asks("csv") != "" {
			most = len(p.Lots) + len(p.Ends)
		}
		planTables(view, p, d, most)
	}
	if len(p.Lots) > 0 {
		if !data.Picture.Same || !view.Take.Same {
			view.drawPlan("plan", p, d, words.Say("plan-page.picture").Text(d.W), words.Say("plan-page.picture-how").Text(d.W), nil)
		}
		data.Lots, data.Few = lotMarks(p, d), len(p.Lots) <= rowsOnPage
		if err := c.handMove(view, data); err != nil {
			return err
		}
		// Where what was chosen is gone, the list is sent to choose none in it.
		data.Hand.Jobs = c.part("jobs", append(made, c.asks("lot") != "" && data.Hand.Lot == "")...)
	}
	if fresh != nil && fresh.Plan.Version == p.Version {
		data.Fresh, data.Moved = fresh.Before != nil, len(fresh.Moved) > 0
		if data.Moved {
			view.addTables(d.W, fresh.MovedTable())
		}
	}
	return c.show("plan.html", view)
}

// lotMarks are the lots, machine by machine.
func lotMarks(p *book.Plan, d serve.When) []planLotMark {
	var out []planLotMark
	for _, m := range p.Machines {
		for i := range p.Lots {
			if l := &p.Lots[i]; l.MachineID == m.ID {
				out = append(out, planLotMark{lotValue(l),
					words.Say("plan.lot-on", words.Args{
						"order": words.Name(l.Name), "customer": words.Name(l.Customer),
						"pieces": words.Count(l.Quantity, "piece"), "machine": words.Name(l.Machine)}).Text(d.W)})
			}
		}
	}
	return out
}

func lotValue(l *book.PlanLot) string {
	return strconv.Itoa(l.Number) + "/" + strconv.Itoa(l.Line) + "@" + l.MachineID
}

// planTables lays the first rows of a plan's tables out, at most so many.
func planTables(p *page, pl *book.Plan, d serve.When, most int) {
	for _, t := range []*ask.Table{ask.LotTable(pl), ask.DayTable(pl), ask.GoalTable(pl)} {
		all := len(t.Rows)
		t.Rows = t.Rows[:min(all, most)]
		p.addTables(d.W, t)
		if all > most {
			p.Tables[t.Key].Caption = words.Say("plan.first-of", words.Args{"table": t.Caption,
				"first": words.Whole(most), "all": words.Whole(all)}).Text(d.W)
		}
	}
	linkOrders(p.Tables["days"], 0)
	p.Tables["days"].cards()
	lots := p.Tables["lots"]
	linkOrders(lots, 1)
	lots.Cols = append(lots.Cols, col{Name: words.Say("plan-page.for-floor").Text(d.W), CSV: "run_sheet"})
	lots.cards()
	for i := range lots.Rows {
		l := &pl.Lots[i]
		to := fmt.Sprintf("/orders/%d/runsheet?line=%d&machine=%s", l.Number, l.Line, l.MachineID)
		lots.Rows[i] = append(lots.Rows[i], linked(words.Say("plan-page.run-sheet").Text(d.W), to))
	}
}

// linkOrders makes a column of orders lead to them.
func linkOrders(t *table, column int) {
	for _, r := range t.Rows {
		r[column].Link = "/orders/" + r[column].Raw
	}
}

// changesOnPage is how many changes since the plan was made the page names.
const changesOnPage = 12

// First are the changes that the page names.
func (d *planData) First() []ask.SinceChange {
	return d.Since.Changes[:len(d.Since.Changes)-d.More]
}

// toWatchOnPage is how much to watch the page names; the days to promise have every order's risk.
const toWatchOnPage = 24

// rowsOnPage is how many rows of a plan's table the page shows; the CSV has all.
const rowsOnPage = 100
