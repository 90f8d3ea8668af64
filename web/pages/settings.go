package pages

import (
	"context"
	"io"

	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
)

// settingsData is what the settings show.
type settingsData struct {
	Set      shop.Settings
	Owner    bool
	Roles    []shop.Role // lowest first
	Accounts []*shop.Account
	On       bool // there are accounts
	Me       string
	Logo     string // where the picture on papers is; empty: none
}

func showSettings(c *call) error {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	data := &settingsData{Set: set, Owner: c.May(shop.KeepSettings), Roles: []shop.Role{shop.Operator, shop.Planner, shop.Owner}, On: c.Accounts, Me: c.By()}
	logo, err := c.Shop.Settings.Logo(c.Ctx)
	if err != nil {
		return err
	}
	if logo != nil {
		data.Logo = serve.APIRoot + "/settings/logo?" + serve.ShortDigest(logo)
	}
	if data.Owner {
		if data.Accounts, err = c.Shop.Accounts.List(c.Ctx); err != nil {
			return err
		}
	}
	p := &page{Title: "Settings", Nav: "settings", Data: data}
	if c.URL.Query().Get("kept") != "" {
		p.Told = &told{Lines: []string{"Kept."}}
	}
	return c.show("settings.html", p)
}

func settingsForm(c *call) error {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	f := c.PostForm
	set.ShopName, set.Length, set.Hours, set.Currency, set.Paper = f.Get("shop_name"), f.Get("length"), f.Get("hours"), f.Get("currency"), f.Get("paper")
	if err := c.Shop.Settings.Save(c.Ctx, set); err != nil {
		return err
	}
	return c.see("/settings?kept=1")
}

func accountForm(c *call) error {
	if _, err := c.Shop.Accounts.Add(c.Ctx, c.PostForm.Get("name"), c.PostForm.Get("password"), shop.Role(c.PostForm.Get("role"))); err != nil {
		return err
	}
	return c.see("/settings?kept=1#accounts")
}

func changeAccountForm(c *call) error {
	if _, err := c.Shop.Accounts.Change(c.Ctx, c.PathValue("account"), shop.Role(c.PostForm.Get("role")), c.PostForm.Get("disabled") == "1", c.PostForm.Get("password")); err != nil {
		return err
	}
	return c.see("/settings?kept=1#accounts")
}

// demoForm fills an empty shop with the demo shop.
func demoForm(c *call) error {
	return c.beginPage("demo", "/demo", func(ctx context.Context, s jobs.Step) (any, error) {
		return true, c.Shop.LoadDemo(ctx, s)
	})
}

func showDemo(c *call) error {
	if c.URL.Query().Get("work") == "" {
		return c.see("/")
	}
	_, shown, err := result[bool](c)
	if err != nil || shown {
		return err
	}
	return c.see("/designs")
}

func showSignIn(c *call) error {
	if !c.Accounts {
		return c.see("/")
	}
	q := c.URL.Query()
	p := &page{Title: "Sign in", Bare: true, Data: serve.LocalPath(q.Get("next"))}
	switch {
	case q.Get("wrong") != "":
		p.Told = &told{true, []string{"Name and password do not fit. Try again."}}
	case q.Get("wait") != "":
		p.Told = &told{true, []string{"Too many tries. Wait a little, then try again."}}
	}
	return c.show("sign-in.html", p)
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
			return shop.Errorf(shop.Invalid, "no picture was chosen; choose a PNG or JPEG file")
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
	if err := c.Shop.Settings.RemoveLogo(c.Ctx); err != nil {
		return err
	}
	return c.see("/settings?kept=1#logo")
}
