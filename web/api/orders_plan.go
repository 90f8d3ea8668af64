package api

import (
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/shop/setups"
	"needlepace/web/serve"
	"needlepace/words"
)

func planRoutes() []*route {
	return []*route{
		op("getPlan", "GET /plan", shop.Look,
			"The plan as it was made last, what changed since, and what that does to it.", gives(getPlan)),
		op("makePlan", "POST /plan", shop.MakePlans,
			"Plan all agreed orders, as work; the result says too what moved and why.", begins[planTold](makePlan)),
		op("tryPlan", "POST /plan/try", shop.AskWhatIf,
			"What if: a rush order, a machine down, more or fewer operators; as work. Nothing is kept.",
			begins[planTold](tryPlan)),
		op("replayFleet", "POST /plan/fleet", shop.SeeMoney,
			"The last months' finished orders and the open ones replayed with the fleet as it is and with another: what would "+
				"be late, refused, and what it costs; as work. Nothing is kept.",
			begins[ask.HindsightAnswer](replayFleet)),
		op("moveCost", "POST /plan/move", shop.AskWhatIf,
			"What it costs to put a line's lot elsewhere by hand. Nothing is changed.", takes(moveCost)),
		op("getThreadList", "GET /plan/thread", shop.Look,
			"The thread and bobbins that the kept plan will use, day by day, to buy from. It knows no stock.",
			gives(getThreadList), integer("days", "from today on; left out: all of the plan")),
		op("getPlanCosts", "GET /plan/costs", shop.SeeMoney,
			"Lines that the kept plan sews at a higher cost than their newest quotes have, and what moving each would do.",
			gives(getPlanCosts)),
		op("getPlanFile", "GET /plan/{file}", shop.Look,
			"The plan as plan.ics (iCalendar), plan.xlsx, plan.csv, plan.svg or plan.png; the thread it will use as thread.csv or thread.xlsx.",
			file("text/calendar,text/csv,image/svg+xml,image/png,"+serve.XLSXType, (*call).PlanFile)),
		op("getWorkshop", "GET /workshop", shop.SeeMoney,
			"When and how the shop works, and its prices.", gives(getWorkshop)),
		op("saveWorkshop", "PUT /workshop", shop.SeeMoney,
			"Change it. base is the version it was made from; where another is kept by now it is a conflict. What is wrong "+
				"in its TOML is told and nothing kept.", takes(saveWorkshop)),
	}
}

type planKept struct {
	Plan    *book.Plan `json:"plan" doc:"null: none was made yet"`
	Changed []string   `json:"changed" doc:"numbers of orders changed since it was made"`
	// Since is null where there is no plan.
	Since *ask.SinceAnswer `json:"since" doc:"what it was made from and is another now, and what that does to it"`
	planSaid
}

// planSaid is what is said of a plan.
type planSaid struct {
	Verdict []words.Message  `json:"verdict" doc:"what the plan comes to"`
	Caveats []words.Message  `json:"caveats" doc:"what it stands on"`
	Watch   []ask.AboutOrder `json:"watch" doc:"lines at risk, left out, or planned otherwise than asked"`
}

func getPlan(c *call) (*planKept, error) {
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil || p == nil {
		return &planKept{nil, []string{}, nil, planSaid{[]words.Message{}, []words.Message{}, []ask.AboutOrder{}}}, err
	}
	since, err := ask.Since(c.Ctx, c.Shop.Asked(), ask.SinceQuestion{Now: c.Shop.Now(), Effect: true})
	if err != nil {
		return nil, err
	}
	a := ask.PlanOf(p)
	return &planKept{p, since.Orders(), since, planSaid{a.Verdict, a.Caveats, a.Watch}}, nil
}

func getThreadList(c *call) (*ask.ThreadListAnswer, error) { return c.ThreadList() }

func getPlanCosts(c *call) (*ask.DearAnswer, error) {
	a, err := ask.Dear(c.Ctx, c.Shop.Asked())
	if a == nil && err == nil {
		err = shop.Saying(shop.NotFound, words.Say("refused.no-plan"))
	}
	return a, err
}

type planNew struct {
	Fresh       bool    `json:"fresh,omitempty" doc:"from nothing: what is planned may move freely"`
	FreezeHours float64 `json:"freeze_hours,omitempty" doc:"what is planned to begin within this time stays where it is"`
	Seed        uint64  `json:"seed,omitempty" doc:"left out: 1; the same seed gives the same plan"`
	Moves       int64   `json:"moves,omitempty" doc:"effort; left out: by the number of lines"`
}

// planTold is a plan against the one before.
type planTold struct {
	Plan   *book.Plan  `json:"plan"`
	Before *book.Plan  `json:"before"`
	Moved  []ask.Moved `json:"moved" doc:"what matters most first"`
	planSaid
	Seen book.Seen `json:"seen" doc:"what it was made from, in one word"`
}

func toldOf(a *ask.PlanAnswer, err error) (any, error) {
	if err != nil {
		return nil, err
	}
	return planTold{a.Plan, a.Before, orEmpty(a.Moved), planSaid{a.Verdict, a.Caveats, a.Watch}, a.Seen}, nil
}

func makePlan(c *call, in planNew) (*jobs.Work, error) {
	q := ask.PlanQuestion{Now: c.Shop.Now(), Seed: in.Seed, Moves: in.Moves, Fresh: in.Fresh,
		Freeze: time.Duration(in.FreezeHours * float64(time.Hour))}
	if err := ask.CheckPlan(q); err != nil {
		return nil, err
	}
	by := c.By()
	return c.begin("plan", func(w *work) (any, error) { return toldOf(c.MakePlan(w.ctx, w.step, q, by)) })
}

type planTry struct {
	Rush      []rushOrder `json:"rush,omitempty"`
	Down      []downTime  `json:"down,omitempty"`
	Operators float64     `json:"operators,omitempty" doc:"more in every shift; below 0: fewer"`
}

type rushOrder struct {
	Order    string    `json:"order" doc:"ID or number, of any open order; taken as agreed"`
	Priority float64   `json:"priority,omitempty" doc:"left out: 5"`
	Due      words.Day `json:"due,omitempty" doc:"left out: its own"`
}

type downTime struct {
	Machine string `json:"machine"`
	From    string `json:"from" doc:"in the workshop's time zone, e.g. 2026-03-04 07:00"`
	To      string `json:"to"`
}

func tryPlan(c *call, in planTry) (*jobs.Work, error) {
	q := ask.PlanQuestion{Now: c.Shop.Now(), Operators: in.Operators}
	for _, r := range in.Rush {
		o, err := c.Shop.Orders.Get(c.Ctx, r.Order)
		if err != nil {
			return nil, err
		}
		rush := ask.Rush{Order: o.ID, Due: r.Due}
		if r.Priority != 0 {
			rush.Priority = &r.Priority
		}
		q.Rush = append(q.Rush, rush)
	}
	for _, d := range in.Down {
		m, err := c.Shop.Machines.Get(c.Ctx, d.Machine)
		if err != nil {
			return nil, err
		}
		q.Down = append(q.Down, book.DownTime{Machine: m.ID, From: d.From, To: d.To})
	}
	if err := ask.CheckWhatIf(c.Ctx, c.Shop.Asked(), q); err != nil {
		return nil, err
	}
	return c.begin("try", func(w *work) (any, error) { return toldOf(c.TryPlan(w.ctx, w.step, q)) })
}

type fleetAsked struct {
	Months    int     `json:"months,omitempty" doc:"finished orders that came in so many last months; left out: 3"`
	Add       string  `json:"add,omitempty" doc:"a machine more: one like this machine of the shop, or of this built-in class"`
	Like      string  `json:"like,omitempty" doc:"machine whose fields, frames, speed setting and prices it has, where add is a class"`
	Price     float64 `json:"price,omitempty" doc:"what the machine more costs; left out: as the one that it is like"`
	Without   string  `json:"without,omitempty" doc:"a machine that is not there"`
	HeadsOf   string  `json:"heads_of,omitempty" doc:"a machine with another head count"`
	Heads     int     `json:"heads,omitempty"`
	Operators float64 `json:"operators,omitempty" doc:"more in every shift; below 0: fewer"`
	Shift     string  `json:"shift,omitempty" doc:"a shift more: days, hours, operators, e.g. sat 08:00-12:00 2"`
	NoShift   string  `json:"no_shift,omitempty" doc:"the shift that begins at this time is left out, e.g. 12:00"`
}

func replayFleet(c *call, in fleetAsked) (*jobs.Work, error) {
	q := ask.HindsightQuestion{Now: c.Shop.Now(), Months: in.Months, Add: in.Add, Like: in.Like, Price: in.Price,
		Without: in.Without, HeadsOf: in.HeadsOf, Heads: in.Heads, Operators: in.Operators, Shift: in.Shift,
		NoShift: in.NoShift}
	if err := ask.CheckHindsight(c.Ctx, c.Shop.Asked(), q); err != nil {
		return nil, err
	}
	return c.begin("fleet", func(w *work) (any, error) { return c.Replay(w.ctx, w.step, q) })
}

type moveAsked struct {
	Order string `json:"order" doc:"ID or number"`
	Line  int    `json:"line"`
	From  string `json:"from,omitempty" doc:"machine it is on, where it is on several"`
	To    string `json:"to" doc:"machine"`
	Place int    `json:"place,omitempty" doc:"in the machine's queue, from 1; left out: last"`
}

func moveCost(c *call, in moveAsked) (*ask.HandMove, error) {
	o, err := c.Shop.Orders.Get(c.Ctx, in.Order)
	if err != nil {
		return nil, err
	}
	return ask.Move(c.Ctx, c.Shop.Asked(), ask.MoveQuestion{Now: c.Shop.Now(),
		Order: o.ID, Line: in.Line, From: in.From, To: in.To, Place: in.Place,
	})
}

type workshopNew struct {
	TOML string `json:"toml" doc:"docs: orders and the plan"`
	Base int    `json:"base,omitempty" doc:"the version it was made from; 0: none was kept yet"`
}

type workshopFile struct {
	TOML  string `json:"toml" doc:"empty: nobody has said yet; hours are assumed then"`
	Given bool   `json:"given"`
	// Version is 0 where none is kept.
	Version int    `json:"version" doc:"give it back as base when you change it; 0: none is kept"`
	Zone    string `json:"time_zone"`
	Priced  bool   `json:"priced" doc:"it has the rates that prices need"`
}

func getWorkshop(c *call) (*workshopFile, error) {
	w, given, err := c.Shop.Setups.Workshop(c.Ctx)
	if err != nil {
		return nil, err
	}
	out := workshopFile{Given: given, Zone: w.Zone.String(), Priced: w.Priced()}
	if given {
		kept, err := c.Shop.Setups.Get(c.Ctx, shop.WorkshopID)
		if err != nil {
			return nil, err
		}
		out.TOML, out.Version = kept.TOML, kept.Version
	}
	return &out, nil
}

func saveWorkshop(c *call, in workshopNew) (*workshopFile, error) {
	if _, err := c.Shop.Setups.SaveWorkshop(c.Ctx, setups.OnPage, in.TOML, in.Base); err != nil {
		return nil, err
	}
	return getWorkshop(c)
}
