package pages

import (
	"cmp"
	"fmt"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/shop/setups"
	"needlepace/web/serve"
	"needlepace/words"
)

// hoursData is when and how the shop works: what plans and quotes are made of.
type hoursData struct {
	W      *book.Workshop
	Given  bool
	TOML   string
	Open   string // how it works, in words
	Lines  []string
	Priced bool
	// Version is the one that the file in the form was made from; 0: none is kept.
	Version int
	Differs []string // what the file that was typed has otherwise than the kept one, after a conflict
}

func showHours(c *call) error {
	kept, err := c.Shop.Setups.Get(c.Ctx, shop.WorkshopID)
	switch {
	case err == nil:
		return c.hoursPage(withPrices(kept.TOML, c.URL.Query()["price"]), nil)
	case shop.CodeOf(err) != shop.NotFound:
		return err
	}
	first, err := c.firstHours()
	if err != nil {
		return err
	}
	return c.hoursPage(first, nil)
}

// withPrices puts the prices of machines that have none at the end of the file, to
// be filled in.
func withPrices(toml string, machines []string) string {
	for _, name := range machines {
		toml = fmt.Sprintf("%s\n\n[money.machines.%q]\n", strings.TrimRight(toml, "\n"), name)
		for _, l := range []string{
			"price =            # what it costs, or could be sold for today", "life_years =       # from today",
			"salvage =          # what it is worth then", "upkeep_per_year =", "kilowatts =        # while sewing",
		} {
			toml += l + "\n"
		}
	}
	return toml
}

// hoursPage shows hours and prices with their file, or with one that was sent.
func (c *call) hoursPage(toml string, f *form) error {
	w, given, err := c.Shop.Setups.Workshop(c.Ctx)
	if err != nil {
		return err
	}
	data := &hoursData{W: w, Given: given, Priced: w.Priced(), TOML: toml}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	hoursInWords(data, d)
	if data.Version, _, err = c.Shop.Setups.WorkshopVersion(c.Ctx); err != nil {
		return err
	}
	if f != nil {
		data.Differs = c.differs(w, toml)
	}
	p := &page{Title: "Hours and prices", Nav: "plan", Data: data, Form: f}
	if c.asks("kept") != "" {
		p.tell("Kept. Plan anew to see it in the plan.")
	}
	return c.show("plan_hours.html", p)
}

func hoursInWords(data *hoursData, at serve.When) {
	for _, s := range data.W.Shift {
		days := "Every day"
		if len(s.Days) > 0 {
			var names []string
			for _, d := range s.Days {
				names = append(names, capital(d))
			}
			days = strings.Join(names, ", ")
		}
		data.Lines = append(data.Lines, fmt.Sprintf("%s: %s to %s, %s", days, s.From, s.To,
			words.Count(int(s.Operators), "operator").Text(nil)))
	}
	if len(data.W.Holidays) > 0 {
		var days []string
		for _, d := range data.W.Holidays {
			days = append(days, at.Kept(d))
		}
		data.Lines = append(data.Lines, "No shift on "+strings.Join(days, ", "))
	}
	for _, s := range data.W.Down {
		line := fmt.Sprintf("%s down from %s to %s", cmp.Or(s.Machine, "All machines"), at.Typed(s.From), at.Typed(s.To))
		if s.Why != "" {
			line += ": " + s.Why
		}
		data.Lines = append(data.Lines, line)
	}
}

// hoursForm keeps the file; what is wrong in it is told over it.
func hoursForm(c *call) error {
	var in struct {
		TOML    string `toml:"toml"`
		Version count  `toml:"version"`
	}
	return c.sent(&in, func(*form) (string, error) {
		_, err := c.Shop.Setups.SaveWorkshop(c.Ctx, setups.OnPage, in.TOML, int(in.Version))
		if shop.CodeOf(err) == shop.Invalid {
			err = shop.At("toml", err)
		}
		return "/plan/hours?kept=1", err
	}, func(f *form) error { return c.hoursPage(in.TOML, f) })
}

// differs says what a file that was typed has otherwise than the kept one;
// nothing where it cannot be read.
func (c *call) differs(kept *book.Workshop, toml string) (out []string) {
	typed, err := book.ParseWorkshop("WORKSHOP.toml", []byte(toml))
	if err != nil {
		return nil
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil
	}
	if typed.Identify(func(ref string) (string, string, error) {
		m, err := shop.MachineNamed(machines, ref)
		if err != nil {
			return "", "", err
		}
		return m.ID, m.Name, nil
	}) != nil {
		return nil
	}
	d, _, err := c.When()
	if err != nil {
		return nil
	}
	for _, m := range ask.WorkshopChanges(kept, typed, d.Now) {
		out = append(out, words.Sentence(m.Text(d.W)))
	}
	return out
}

// firstHours is a file to begin with.
func (c *call) firstHours() (string, error) {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return "", err
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return "", err
	}
	var names []string
	for _, m := range machines {
		names = append(names, m.Name)
	}
	return ask.FirstWorkshop(set.ShopName, set.Currency, names), nil
}
