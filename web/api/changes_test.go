package api_test

import (
	"fmt"

	"needlepace/shop"
	"needlepace/web/webtest"
)

// changeOperations take a change back and do it again.
func changeOperations(a *webtest.App) {
	t := a.T
	type page struct {
		Changes []shop.Changed
		Total   int
	}
	before := webtest.Into[shop.Settings](a.Send("GET", "/settings", nil).OK(200))
	a.Send("PUT", "/settings", map[string]string{"shop_name": "Mended Sails"}).OK(200)
	last := func() shop.Changed {
		p := webtest.Into[page](a.Send("GET", "/changes?limit=1", nil).OK(200))
		if len(p.Changes) != 1 || p.Total < 1 {
			t.Fatalf("%+v", p)
		}
		return p.Changes[0]
	}
	c := last()
	if c.From != "API 127.0.0.1" || c.Thing != "settings" || !c.Undoable || c.At.IsZero() {
		t.Errorf("the last change is %+v", c)
	}
	back := webtest.Into[shop.Changed](a.Send("POST", fmt.Sprintf("/changes/%d/undo", c.ID), nil).OK(200))
	if back.Undoes != c.ID || back.ID != last().ID {
		t.Errorf("taken back by %+v", back)
	}
	if set := webtest.Into[shop.Settings](a.Send("GET", "/settings", nil).OK(200)); set != before {
		t.Errorf("the settings are %+v, were %+v", set, before)
	}
	a.Send("POST", fmt.Sprintf("/changes/%d/undo", c.ID), nil).Fails(409, shop.Conflict, "already")
	a.Send("POST", "/changes/999999/undo", nil).Fails(404, shop.NotFound, "no such change")
	a.Send("POST", "/changes/first/undo", nil).Fails(404, shop.NotFound, "no change")
	a.Send("GET", "/changes?limit=501", nil).Fails(422, shop.Invalid, "limit")
	p := webtest.Into[page](a.Send("GET", "/changes?thing=design&limit=3", nil).OK(200))
	for _, c := range p.Changes {
		if c.Thing != "design" {
			t.Errorf("of designs: %+v", c)
		}
	}
	a.Send("POST", fmt.Sprintf("/changes/%d/undo", back.ID), nil).OK(200)
	if set := webtest.Into[shop.Settings](a.Send("GET", "/settings", nil).OK(200)); set.ShopName != "Mended Sails" {
		t.Errorf("done again, the shop is called %q", set.ShopName)
	}
}
