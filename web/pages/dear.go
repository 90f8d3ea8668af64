package pages

import (
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/words"
)

// showDear shows what the plan sews at a higher cost than it was quoted with, or
// gives it as a workbook.
func showDear(c *call) error {
	a, err := ask.Dear(c.Ctx, c.Shop.Asked())
	if err != nil {
		return err
	}
	if a == nil {
		return shop.Saying(shop.NotFound, words.Say("refused.no-plan"))
	}
	if c.asks("xlsx") != "" {
		return c.workbook("planned above cost", "Costs", a.Table())
	}
	w := c.writer()
	p := &page{Title: words.Say("dear.title").Text(w), Nav: "plan", Data: a}
	p.addTables(w, a.Table())
	linkOrders(p.Tables["dear"], 0)
	p.Tables["dear"].cards()
	return c.show("dear.html", p)
}
