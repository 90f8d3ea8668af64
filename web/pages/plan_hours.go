package pages

import (
	"bytes"
	"fmt"
	"strings"

	"needlepace/book"
	"needlepace/shop"
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
}

func showHours(c *call) error {
	kept, err := c.Shop.Setups.Get(c.Ctx, shop.WorkshopID)
	switch {
	case err == nil:
		return c.hoursPage(kept.TOML, nil)
	case shop.CodeOf(err) != shop.NotFound:
		return err
	}
	first, err := c.firstHours()
	if err != nil {
		return err
	}
	return c.hoursPage(first, nil)
}

// hoursPage shows hours and prices with their file, or with one that was sent.
func (c *call) hoursPage(toml string, f *form) error {
	w, given, err := c.Shop.Setups.Workshop(c.Ctx)
	if err != nil {
		return err
	}
	data := &hoursData{W: w, Given: given, Priced: w.Priced(), TOML: toml}
	hoursInWords(data)
	p := &page{Title: "Hours and prices", Nav: "plan", Data: data, Form: f}
	if c.asks("kept") != "" {
		p.tell("Kept. Plan anew to see it in the plan.")
	}
	return c.show("plan_hours.html", p)
}

func hoursInWords(data *hoursData) {
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
			counted(int(s.Operators), "operator", "operators")))
	}
	if len(data.W.Holidays) > 0 {
		var days []string
		for _, d := range data.W.Holidays {
			days = append(days, words.FullDay{Day: d}.Text(nil))
		}
		data.Lines = append(data.Lines, "No shift on "+strings.Join(days, ", "))
	}
	for _, s := range data.W.Down {
		name := s.Machine
		if name == "" {
			name = "All machines"
		}
		line := fmt.Sprintf("%s down from %s to %s", name, s.From, s.To)
		if s.Why != "" {
			line += ": " + s.Why
		}
		data.Lines = append(data.Lines, line)
	}
}

// hoursForm keeps the file; what is wrong in it is told over it.
func hoursForm(c *call) error {
	var in struct {
		TOML string `toml:"toml"`
	}
	return c.sent(&in, func(*form) (string, error) {
		_, err := c.Shop.Setups.SaveWorkshop(c.Ctx, "WORKSHOP.toml", in.TOML)
		if shop.CodeOf(err) == shop.Invalid {
			err = shop.At("toml", err)
		}
		return "/plan/hours?kept=1", err
	}, func(f *form) error { return c.hoursPage(in.TOML, f) })
}

// firstHours is a file to begin with: the shop's machines, and placeholders
// where only the shop knows.
func (c *call) firstHours() (string, error) {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return "", err
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return "", err
	}
	name := set.ShopName
	if name == "" {
		name = "Our shop"
	}
	var b bytes.Buffer
	fmt.Fprintf(&b,
		"# Every number here is a placeholder until you put in your own.\nname = %q\ntime_zone = \"UTC\"\nready_by = \"16:00\"  # of the due day\npromise_percent = 90\n\n", name)
	b.WriteString("[[shift]]\ndays = [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\"]\nfrom = \"08:00\"\nto = \"16:00\"\noperators = 2\n\n")
	b.WriteString("[money]\nplaceholder = true  # take this line away when the prices are your own\n")
	fmt.Fprintf(&b,
		"currency = %q\nsales_tax_percent = 20\ninterest_percent = 5\nlabour_per_hour = 20\noverhead_per_year = 0\nenergy_per_kwh = 0.30\ntop_thread_per_1000m = 1.50\nbobbin_thread_per_1000m = 0.70\nbacking_per_m2 = 1\nneedle_each = 0.40\ngarment_each = 0\ndigitizing_fee = 40\nmargin_percent = 30\nshifts_per_year = 240\nquantities = [12, 24, 48, 96]\n", set.Currency)
	for _, m := range machines {
		fmt.Fprintf(&b,
			"\n[money.machines.%q]\nprice = 8000\nlife_years = 7\nsalvage = 800\nupkeep_per_year = 400\nkilowatts = 0.4\n", m.Name)
	}
	return b.String(), nil
}
