package pages

import (
	"time"

	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/web/serve"
	"needlepace/words"
)

// signInsData is what the page of passwords, sign-ins and tokens shows.
type signInsData struct {
	Person    bool // who looks has a password
	Mine      []accounts.SignIn
	Away      []serve.Elsewhere // of who looks, in other shops
	Others    []accounts.SignIn
	Tokens    []tokenRow
	Add       *tokenFields
	RoleNames []option
	Secret    string // of the token just made
}

type tokenRow struct {
	*shop.Token
	Says words.Message
}

type passwordFields struct {
	Before   string `toml:"before"`
	Password string `toml:"password"`
}

// tokenFields is the form of a token.
type tokenFields struct {
	Name string `toml:"name"`
	Role string `toml:"role"`
	Days *count `toml:"days"`
}

func showSignIns(c *call) error { return c.signInsPage(&tokenFields{Role: string(shop.Operator)}, nil) }

func (c *call) signInsPage(add *tokenFields, f *form) error {
	w := c.writer()
	if add.Days == nil {
		days := count(365)
		add.Days = &days
	}
	data := &signInsData{Add: add, Person: c.Accounts && c.Sessions.Secret(c.Call) != ""}
	var err error
	if data.Person {
		if data.Mine, err = c.SignIns(false); err != nil {
			return err
		}
		if c.Call.Others != nil {
			if data.Away, err = c.Call.Others.SignIns(c.Call); err != nil {
				return err
			}
		}
	}
	if c.May(shop.KeepAccounts) {
		all, err := c.SignIns(true)
		if err != nil {
			return err
		}
		for _, s := range all {
			if !data.Person || s.Account != c.Account().ID {
				data.Others = append(data.Others, s)
			}
		}
		tokens, err := c.Shop.Accounts.Tokens(c.Ctx)
		if err != nil {
			return err
		}
		for _, t := range tokens {
			data.Tokens = append(data.Tokens, tokenRow{t, c.tokenSays(t)})
		}
		for _, r := range []shop.Role{shop.Operator, shop.Planner, shop.Owner} {
			data.RoleNames = append(data.RoleNames, option{string(r), words.Say("role." + string(r)).Text(w)})
		}
		if id := c.asks("token"); id != "" {
			data.Secret = c.Shop.Accounts.Fresh(id)
		}
	}
	p := &page{Title: words.Say("signins.title").Text(w), Nav: "settings", Data: data, Form: f}
	if c.asks("kept") != "" {
		p.tell(words.Say("signins.changed").Text(w))
	}
	return c.show("signins.html", p)
}

// tokenSays is what a token may do, and when it was used.
func (c *call) tokenSays(t *shop.Token) words.Message {
	role, until, seen := words.Say("role."+string(t.Role)), words.Moment{Time: t.Expires}, words.Moment{Time: t.Seen}
	switch {
	case !c.Now().Before(t.Expires):
		return words.Say("signins.token-over", words.Args{"role": role, "until": until})
	case t.Seen.IsZero():
		return words.Say("signins.token-unused", words.Args{"role": role, "until": until})
	}
	return words.Say("signins.token-used", words.Args{"role": role, "until": until, "seen": seen})
}

func passwordForm(c *call) error {
	var in passwordFields
	return c.sent(&in, func(*form) (string, error) {
		return "/settings/sign-ins?kept=1", c.Sessions.ChangePassword(c.Call, in.Before, in.Password)
	}, func(f *form) error {
		f.name = "password"
		return c.signInsPage(&tokenFields{Role: string(shop.Operator)}, f)
	})
}

func endSignInForm(c *call) error {
	return c.seeOr("/settings/sign-ins", c.EndSignIn(c.PathValue("signin")))
}

func tokenForm(c *call) error {
	var in tokenFields
	return c.sent(&in, func(*form) (string, error) {
		if in.Days == nil {
			return "", shop.At("days", shop.Invalidf("say for how many days"))
		}
		expires := c.Now().Add(time.Duration(min(int(*in.Days), 100_000)) * 24 * time.Hour)
		_, t, err := c.Shop.Accounts.MakeToken(c.Ctx, c.Account(), in.Name, shop.Role(in.Role), expires)
		if err != nil {
			return "", shop.At(keyOf(err), err)
		}
		return "/settings/sign-ins?token=" + t.ID + "#tokens", nil
	}, func(f *form) error { return c.signInsPage(&in, f) })
}

// keyOf is the field of the form of a token that an error is about.
func keyOf(err error) string {
	if e := shop.ErrorOf(err); e != nil && e.Key == "expires" {
		return "days"
	}
	if e := shop.ErrorOf(err); e != nil {
		return e.Key
	}
	return ""
}

func takeTokenBackForm(c *call) error {
	return c.seeOr("/settings/sign-ins#tokens", c.Shop.Accounts.TakeBack(c.Ctx, c.PathValue("token")))
}
