package pages

import (
	"context"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/words"
)

// fleetData is how the real book would have gone with another fleet.
type fleetData struct {
	A        *ask.HindsightAnswer
	In       *fleetFields
	Add      []option
	Machines []option
	Book     string // its workbook
}

// fleetFields is what is asked.
type fleetFields struct {
	Months    *count   `toml:"months"`
	Add       string   `toml:"add"`
	Like      string   `toml:"like"`
	Price     *amount  `toml:"price"`
	Without   string   `toml:"without"`
	HeadsOf   string   `toml:"heads_of"`
	Heads     *count   `toml:"heads"`
	Operators *float64 `toml:"operators"`
	Shift     string   `toml:"shift"`
	NoShift   string   `toml:"no_shift"`
}

func (in *fleetFields) question(c *call) ask.HindsightQuestion {
	return ask.HindsightQuestion{Now: c.Shop.Now(), Months: int(or(in.Months, 0)), Add: in.Add, Like: in.Like,
		Price: float64(or(in.Price, 0)), Without: in.Without, HeadsOf: in.HeadsOf, Heads: int(or(in.Heads, 0)),
		Operators: or(in.Operators, 0), Shift: in.Shift, NoShift: in.NoShift}
}

// fleetForm begins the replay.
func fleetForm(c *call) error {
	var in fleetFields
	return c.sent(&in, func(f *form) (string, error) {
		q := in.question(c)
		if err := ask.CheckHindsight(c.Ctx, c.Shop.Asked(), q); err != nil {
			return "", err
		}
		return "", c.beginPage("fleet", "/plan/fleet?"+f.typed.Encode(),
			func(ctx context.Context, st jobs.Step) (any, error) { return c.Replay(ctx, st, q) })
	}, func(f *form) error { return c.fleetPage(&in, f) })
}

// fleetPage shows a replay, or its form.
func (c *call) fleetPage(in *fleetFields, f *form) error {
	data := &fleetData{In: in}
	w := c.writer()
	view := &page{Title: words.Say("fleet.title").Text(w), Nav: "plan", Data: data, Form: f}
	if c.asks("work") != "" && !f.bad() {
		a, shown, err := result[*ask.HindsightAnswer](c)
		switch code := shop.CodeOf(err); {
		case shown:
			return err
		case code == shop.Stopped || code == shop.NotFound || code == shop.Invalid:
			view.Told = &told{code == shop.Invalid, []string{words.Sentence(err.Error())}}
		case err != nil:
			return err
		}
		data.A = a
	}
	if a := data.A; a != nil {
		if c.asks("xlsx") != "" {
			return c.workbook("another fleet", "Fleet", a.Table())
		}
		view.addTables(w, a.Table())
		view.Tables["fleet"].cards()
		data.Book = "/plan/fleet?work=" + c.asks("work") + "&xlsx=1"
	}
	none := words.Say("fleet.nothing").Text(w)
	var err error
	if data.Machines, err = c.machineOptions(option{"", none}); err != nil {
		return err
	}
	data.Add = append([]option{{"", none}}, data.Machines[1:]...)
	for i := range data.Add[1:] {
		o := &data.Add[1+i]
		o.Label = words.Say("fleet.one-like", words.Args{"machine": words.Name(o.Label)}).Text(w)
	}
	data.Add = append(data.Add, classOptions(w, "class: ")...)
	if in.Months == nil {
		in.Months = some(count(ask.DefaultMonths))
	}
	return c.show("fleet.html", view)
}
