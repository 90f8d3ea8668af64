package pages

import (
	"context"
	"io"
	"slices"
	"strconv"
	"strings"

	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// settingsData is what the settings show.
type settingsData struct {
	Set                               shop.Settings
	Owner                             bool
	Roles                             []shop.Role // lowest first
	Accounts                          []*shop.Account
	On                                bool // there are accounts
	Add                               *accountFields
	Lengths, Hours, Papers, RoleNames []option
	PlanEvery                         []option // minutes
	Logo                              string   // where the picture on papers is; empty: none
}

func showSettings(c *call) error {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	return c.settingsPage(&set, &accountFields{Role: string(shop.Operator)}, nil)
}

// settingsPage shows the settings, with a form that was sent before.
func (c *call) settingsPage(set *shop.Settings, add *accountFields, f *form, say ...string) error {
	data := &settingsData{Set: *set, Add: add, Owner: c.May(shop.KeepSettings), On: c.Accounts,
		Roles: []shop.Role{shop.Operator, shop.Planner, shop.Owner}, Lengths: []option{{"mm", "millimetres"},
			{"inch", "inches"}},
		Hours: []option{{"24", "14:30"}, {"12", "2:30 pm"}}, Papers: []option{{"A4", "A4"}, {"Letter", "Letter"}}}
	data.PlanEvery = planEvery(set.PlanEvery, c.writer())
	for _, r := range data.Roles {
		data.RoleNames = append(data.RoleNames, option{string(r), string(r)})
	}
	logo, err := c.Shop.Settings.Logo(c.Ctx)
	if err != nil {
		return err
	}
	if logo != nil {
		data.Logo = serve.APIRoot + "/settings/logo?v=" + serve.ShortDigest(logo)
	}
	if data.Owner {
		if data.Accounts, err = c.Shop.Accounts.List(c.Ctx); err != nil {
			return err
		}
	}
	p := &page{Title: "Settings", Nav: "settings", Data: data, Form: f}
	if c.asks("kept") != "" {
		p.tell("Kept.")
	}
	if len(say) > 0 {
		p.tell(say...)
	}
	return c.show("settings.html", p)
}

// planEvery are the times between two looks at the plan that may be chosen, with the one that is set.
func planEvery(set int, w *words.Writer) []option {
	all := []int{5, 15, 60, 240}
	if set != 0 && !slices.Contains(all, set) {
		all = append(all, set)
		slices.Sort(all)
	}
	out := []option{{"0", words.Say("rounds.turned-off").Text(w)}}
	for _, n := range all {
		time := words.Say("time.min", words.Args{"min": words.Whole(n)})
		if n%60 == 0 {
			time = words.Say("time.h", words.Args{"h": words.Whole(n / 60)})
		}
		out = append(out, option{strconv.Itoa(n), words.Say("rounds.every", words.Args{"time": time}).Text(w)})
	}
	return out
}

// settingsFields is the form of how things are shown.
type settingsFields struct {
	ShopName string `toml:"shop_name"`
	Length   string `toml:"length"`
	Hours    string `toml:"hours"`
	Currency string `toml:"currency"`
	Paper    string `toml:"paper"`
	Visits   bool   `toml:"visits"`
	DriftAt  string `toml:"drift_at"`
	// PlanEvery is in minutes; 0: never.
	PlanEvery int `toml:"plan_every_minutes"`
}

func settingsForm(c *call) error {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	var in settingsFields
	return c.sent(&in, func(*form) (string, error) {
		set := set
		set.ShopName, set.Length, set.Hours, set.Currency, set.Paper, set.Visits = in.ShopName, in.Length, in.Hours, in.Currency, in.Paper, in.Visits
		set.DriftAt, set.PlanEvery = in.DriftAt, in.PlanEvery
		return "/settings?kept=1", c.Shop.Settings.Save(c.Ctx, set)
	}, func(f *form) error { return c.settingsPage(&set, &accountFields{}, f) })
}

// accountFields is the form of a person who signs in.
type accountFields struct {
	Name     string `toml:"name"`
	Role     string `toml:"role"`
	Password string `toml:"password"`
	Disabled bool   `toml:"disabled"`
}

func accountForm(c *call) error {
	return c.accountSent("add", func(in *accountFields) error {
		_, err := c.Shop.Accounts.Add(c.Ctx, in.Name, in.Password, shop.Role(in.Role))
		return err
	})
}

func changeAccountForm(c *call) error {
	id := c.PathValue("account")
	return c.accountSent(id, func(in *accountFields) error {
		_, err := c.Shop.Accounts.Change(c.Ctx, id, shop.Role(in.Role), in.Disabled, in.Password)
		return err
	})
}

// accountSent does what one of the forms of people is for.
func (c *call) accountSent(name string, do func(*accountFields) error) error {
	var in accountFields
	return c.sent(&in, func(*form) (string, error) {
		return "/settings?kept=1#accounts", do(&in)
	}, func(f *form) error {
		f.name = name
		set, err := c.Shop.Settings.Get(c.Ctx)
		if err != nil {
			return err
		}
		return c.settingsPage(&set, &in, f)
	})
}

// demoForm fills an empty shop with the demo shop.
func demoForm(c *call) error {
	return c.beginPage("demo", "/demo", func(ctx context.Context, s jobs.Step) (any, error) {
		return true, c.Shop.LoadDemo(ctx, s)
	})
}

func showDemo(c *call) error {
	if c.asks("work") == "" {
		return c.see("/")
	}
	_, shown, err := result[bool](c)
	if err != nil || shown {
		return err
	}
	return c.see("/designs")
}

// demoOutForm takes the demo shop out, and says what stays and why.
func demoOutForm(c *call) error {
	gone, err := c.Shop.TakeDemoOut(c.Ctx)
	if err != nil {
		return err
	}
	w := c.writer()
	lines := []string{words.Say("sample.gone", words.Args{"n": words.Whole(gone.Things)}).Text(w)}
	for _, why := range []string{shop.SampleChanged, shop.SampleNeeded} {
		var names []string
		for _, k := range gone.Kept {
			if k.Why == why {
				names = append(names, words.Say("sample-kind."+k.Kind, words.Args{"name": words.Name(k.Name)}).Text(w))
			}
		}
		if len(names) > 0 {
			lines = append(lines, words.Say("sample."+why, words.Args{"names": words.Name(strings.Join(names, ", "))}).Text(w))
		}
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	return c.settingsPage(&set, &accountFields{}, nil, lines...)
}

func showSignIn(c *call) error {
	if !c.Accounts {
		return c.see("/")
	}
	return c.letIn("sign-in.html", words.Say("signin.title"), words.Say("signin.wrong"))
}

// comeIn is what a page shows on which a person or a phone comes in.
type comeIn struct {
	Next   string
	Behind bool // by the door for phones
	People bool // there is somebody who signs in with a password
}

// letIn shows such a page, with what went wrong.
func (c *call) letIn(template string, title, wrong words.Message) error {
	w := c.writer()
	p := &page{Title: title.Text(w), Bare: true}
	data := &comeIn{Next: serve.LocalPath(c.asks("next")), Behind: c.Behind}
	all, err := c.Shop.Accounts.List(c.Ctx)
	if err != nil {
		return err
	}
	data.People, p.Data = len(all) > 0, data
	switch {
	case c.asks("wrong") != "":
		p.Told = &told{true, []string{wrong.Text(w)}}
	case c.asks("wait") != "":
		p.Told = &told{true, []string{words.Say("signin.wait").Text(w)}}
	}
	return c.show(template, p)
}

// logoForm takes the first part named file of the settings' form.
func logoForm(c *call) error {
	parts, err := c.MultipartReader()
	if err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			return shop.Invalidf("no picture was chosen; choose a PNG or JPEG file")
		}
		if err != nil {
			return serve.BadRequest("the form cannot be read: %v", err)
		}
		if p.FormName() != "file" {
			continue
		}
		b, err := serve.ReadLogo(p)
		if err != nil {
			return err
		}
		if _, err := c.Shop.Settings.SaveLogo(c.Ctx, b); err != nil {
			return err
		}
		return c.see("/settings?kept=1#logo")
	}
}

func removeLogoForm(c *call) error {
	return c.seeOr("/settings?kept=1#logo", c.Shop.Settings.RemoveLogo(c.Ctx))
}
