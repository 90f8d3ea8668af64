package pages

import (
	"cmp"
	"slices"
	"strings"
	"time"

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
	// Version is the one that form and file were made from; 0: none is kept.
	Version count
	Was     string // the form of that version
	Groups  []fieldGroup
	Propose bool     // the browser's time zone
	Differs []string // what the file that was typed has otherwise than the kept one, after a conflict
}

func showHours(c *call) error {
	file, err := c.hoursFile()
	if err != nil {
		return err
	}
	return c.hoursPage(&hoursForm{TOML: file}, nil)
}

// hoursPage shows hours and prices with their form and their file, or with what was sent of
// them: f.
func (c *call) hoursPage(in *hoursForm, f *form) error {
	w, given, err := c.Shop.Setups.Workshop(c.Ctx)
	if err != nil {
		return err
	}
	data := &hoursData{W: w, Given: given, Priced: w.Priced(), TOML: in.TOML, Version: in.Version, Was: in.Was}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	hoursInWords(data, d)
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	fields := f
	if in.Sent {
		if data.TOML, err = c.hoursFile(); err != nil {
			return err
		}
	} else { // the form as it is kept, or as it may begin
		if fields = (&form{w: d.W}); f != nil {
			data.Differs = c.differs(w, in.TOML)
		} else {
			version, _, err := c.Shop.Setups.WorkshopVersion(c.Ctx)
			if err != nil {
				return err
			}
			data.Version = count(version)
		}
		if !given {
			first, err := c.firstHours()
			if err != nil {
				return err
			}
			if w, err = book.ParseWorkshop("the first hours", []byte(first)); err != nil {
				return err
			}
		}
		in = hoursOf(w, machines)
		data.Was = wasForm(in)
	}
	data.Groups, data.Propose = in.groups(fields, machines, c.URL.Query()["price"]), !given && w.Zone.String() == "UTC"
	p := &page{Title: words.Say("hours-page.title").Text(d.W), Nav: "plan", Data: data, Form: f}
	switch c.asks("kept") {
	case "":
	case "both":
		p.tell(words.Say("hours-page.kept-both").Text(d.W))
	default:
		p.tell(words.Say("hours-page.kept").Text(d.W))
	}
	return c.show("plan_hours.html", p)
}

func hoursInWords(data *hoursData, at serve.When) {
	say := func(m words.Message) { data.Lines = append(data.Lines, m.Text(at.W)) }
	for _, s := range data.W.Shift {
		var days words.List
		for _, d := range daysOfWeek {
			if slices.ContainsFunc(s.Days, func(name string) bool { return strings.EqualFold(d.Raw(), name) }) {
				days = append(days, words.Name(at.W.Weekday(time.Weekday(d))))
			}
		}
		if len(s.Days) == 0 {
			days.Say("hours-page.every-day")
		}
		say(words.Say("hours-page.shift", words.Args{"days": days, "from": words.Name(s.From), "to": words.Name(s.To),
			"operators": words.Count(int(s.Operators), "operator")}))
	}
	if len(data.W.Holidays) > 0 {
		var days words.List
		for _, d := range data.W.Holidays {
			days = append(days, words.Name(at.Kept(d)))
		}
		say(words.Say("hours-page.no-shift", words.Args{"days": days}))
	}
	for _, s := range data.W.Down {
		machine := words.Value(words.Name(s.Machine))
		if s.Machine == "" {
			machine = words.Say("hours-page.all-machines")
		}
		from, to := words.Name(at.Typed(s.From)), words.Name(at.Typed(s.To))
		if s.Why == "" {
			say(words.Say("hours-page.down", words.Args{"machine": machine, "from": from, "to": to}))
		} else {
			say(words.Say("hours-page.down-why", words.Args{"machine": machine, "from": from, "to": to, "why": words.Name(s.Why)}))
		}
	}
}

// keepHours keeps the form, or the whole file; what is wrong stands at its field,
// of the file over it.
func keepHours(c *call) error {
	var in hoursForm
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	file := ""
	return c.sent(&in, func(f *form) (string, error) {
		back := "/plan/hours?kept=1"
		version, _, err := c.Shop.Setups.WorkshopVersion(c.Ctx)
		if err != nil {
			return "", err
		}
		if file = in.TOML; in.Sent {
			kept, err := c.hoursFile()
			if err != nil {
				return "", err
			}
			if version != int(in.Version) {
				w, _, err := c.Shop.Setups.Workshop(c.Ctx)
				if err != nil {
					return "", err
				}
				now := hoursOf(w, machines)
				agreed := f.meanwhile(in.Was, now, &in)
				if in.Version, in.Was = count(version), wasForm(now); !agreed {
					return "", nil
				}
				if f.merged {
					back = "/plan/hours?kept=both"
				}
			}
			if file, err = in.file(f, kept, machines); err != nil || f.bad() {
				return "", err
			}
		}
		_, err = c.Shop.Setups.SaveWorkshop(c.Ctx, setups.OnPage, file, int(in.Version))
		switch code := shop.CodeOf(err); {
		case code == shop.Invalid && !in.Sent:
			err = shop.At("toml", err)
		case code == shop.Conflict && !in.Sent: // it is told what differs: what is sent again takes its place
			in.Version = count(version)
		}
		return back, err
	}, func(f *form) error { return c.hoursPage(&in, f) })
}

// hoursTOML gives the file.
func hoursTOML(c *call) error {
	file, err := c.hoursFile()
	if err != nil {
		return err
	}
	c.W.Header().Set("Content-Type", "application/toml; charset=utf-8")
	c.W.Header().Set("Content-Disposition", serve.SaveAs("WORKSHOP", ".toml"))
	_, err = c.W.Write([]byte(file))
	return err
}

// hoursFile is the kept file, with machines by their names; where none is kept, one to
// begin with.
func (c *call) hoursFile() (string, error) {
	kept, err := c.Shop.Setups.Get(c.Ctx, shop.WorkshopID)
	switch {
	case err == nil:
		return kept.TOML, nil
	case shop.CodeOf(err) != shop.NotFound:
		return "", err
	}
	return c.firstHours()
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
	if set == shop.DefaultSettings {
		set.Currency = cmp.Or(c.proposedCurrency(), set.Currency)
	}
	return ask.FirstWorkshop(set.ShopName, set.Currency, set.TimeZone, names), nil
}
