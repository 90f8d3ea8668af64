package web

import (
	"context"

	"needlepace/shop"
)

// settingsData is what the settings show.
type settingsData struct {
	Set      shop.Settings
	Owner    bool
	Accounts []*shop.Account
	On       bool // there are accounts
	Me       string
	Logo     string // where the picture on papers is; empty: none
}

func showSettings(c *call) error {
	set, err := c.s.shop.Settings(c.ctx)
	if err != nil {
		return err
	}
	data := &settingsData{Set: set, Owner: c.s.may(c.Request, shop.Owner), On: c.s.opt.Accounts, Me: c.who()}
	logo, err := c.s.shop.Logo(c.ctx)
	if err != nil {
		return err
	}
	if logo != nil {
		data.Logo = apiRoot + "/settings/logo?" + shortDigest(logo)
	}
	if data.Owner {
		if data.Accounts, err = c.s.shop.Accounts(c.ctx); err != nil {
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
	if err := c.ParseForm(); err != nil {
		return badRequest("the form cannot be read: %v", err)
	}
	set, err := c.s.shop.Settings(c.ctx)
	if err != nil {
		return err
	}
	f := c.PostForm
	set.ShopName, set.Length, set.Hours, set.Currency, set.Paper = f.Get("shop_name"), f.Get("length"), f.Get("hours"), f.Get("currency"), f.Get("paper")
	if err := c.s.shop.SaveSettings(c.ctx, set); err != nil {
		return err
	}
	return c.see("/settings?kept=1")
}

func accountForm(c *call) error {
	if err := c.ParseForm(); err != nil {
		return badRequest("the form cannot be read: %v", err)
	}
	if _, err := c.s.shop.AddAccount(c.ctx, c.PostForm.Get("name"), c.PostForm.Get("password"), shop.Role(c.PostForm.Get("role"))); err != nil {
		return err
	}
	return c.see("/settings?kept=1#accounts")
}

func changeAccountForm(c *call) error {
	if err := c.ParseForm(); err != nil {
		return badRequest("the form cannot be read: %v", err)
	}
	if _, err := c.s.shop.ChangeAccount(c.ctx, c.PathValue("account"), shop.Role(c.PostForm.Get("role")), c.PostForm.Get("disabled") == "1", c.PostForm.Get("password")); err != nil {
		return err
	}
	return c.see("/settings?kept=1#accounts")
}

// demoForm fills an empty shop with the demo shop.
func demoForm(c *call) error {
	return c.beginPage("demo", "/demo", func(ctx context.Context, s step) (any, error) {
		return true, c.s.shop.LoadDemo(ctx, s)
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
	if !c.s.opt.Accounts {
		return c.see("/")
	}
	q := c.URL.Query()
	p := &page{Title: "Sign in", Bare: true, Data: localPath(q.Get("next"))}
	switch {
	case q.Get("wrong") != "":
		p.Told = &told{true, []string{"Name and password do not fit. Try again."}}
	case q.Get("wait") != "":
		p.Told = &told{true, []string{"Too many tries. Wait a little, then try again."}}
	}
	return c.show("sign-in.html", p)
}
