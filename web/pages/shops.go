package pages

import (
	"needlepace/shop"
	"needlepace/words"
)

// shopsData is what the page of somebody's shops shows.
type shopsData struct {
	Person bool // who looks has a password
	Mine   []mineShop
	Add    *joinFields
}

// mineShop is one that whoever looks goes to.
type mineShop struct{ Name, To string }

type joinFields struct {
	Shop     string `toml:"shop"`
	Name     string `toml:"name"`
	Password string `toml:"password"`
}

func showShops(c *call) error {
	in := &joinFields{}
	if a := c.Account(); a != nil {
		in.Name = a.Name
	}
	return c.shopsPage(in, nil)
}

func (c *call) shopsPage(add *joinFields, f *form) error {
	if c.Others == nil {
		return noPage(c)
	}
	data := &shopsData{Add: add, Person: c.Sessions.Secret(c.Call) != ""}
	if data.Person {
		names, err := c.Others.Mine(c.Call)
		if err != nil {
			return err
		}
		for _, n := range names {
			data.Mine = append(data.Mine, mineShop{n, c.Others.Address(c.Call, n)})
		}
	}
	p := &page{Title: words.Say("shops.title").Text(c.writer()), Nav: "settings", Data: data, Form: f}
	if c.asks("kept") != "" {
		p.tell(words.Say("shops.joined").Text(c.writer()))
	}
	return c.show("shops.html", p)
}

func joinForm(c *call) error {
	if c.Others == nil {
		return noPage(c)
	}
	var in joinFields
	return c.sent(&in, func(*form) (string, error) {
		err := c.Others.Join(c.Call, in.Shop, in.Name, in.Password)
		if shop.CodeOf(err) == shop.Conflict || shop.CodeOf(err) == shop.Invalid {
			err = shop.At("shop", err)
		}
		return "/shops?kept=1", err
	}, func(f *form) error { return c.shopsPage(&in, f) })
}

func endOthersForm(c *call) error { return c.seeOr("/settings/sign-ins", c.EndOthers()) }
