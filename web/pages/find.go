package pages

import (
	"net/url"

	"needlepace/help"
	"needlepace/shop"
	"needlepace/words"
)

// findData is what one search found.
type findData struct {
	Search string
	Kinds  []foundKind
}

// foundKind is what it found of one kind, under the kind's name.
type foundKind struct {
	Name string
	Rows []foundRow
}

type foundRow struct{ Name, To string }

// showFind is one search over orders, designs, customers and machines.
func showFind(c *call) error {
	data := &findData{Search: c.asks("find")}
	all, err := c.Shop.Find(c.Ctx, data.Search)
	if err != nil {
		return err
	}
	w := c.writer()
	for _, f := range all {
		name, row := words.Say("nav.orders"), foundRow{f.Name, "/orders/" + f.Ref}
		switch f.Kind {
		case shop.FoundOrder:
			row.Name = f.Ref + " " + f.Name
		case shop.FoundDesign:
			name, row.To = words.Say("nav.designs"), "/designs/"+f.Ref
		case shop.FoundMachine:
			name, row.To = words.Say("nav.machines"), "/machines/"+f.Ref
		case shop.FoundCustomer:
			name, row.To = words.Say("find.customers"), "/designs?customer="+url.QueryEscape(f.Ref)
		}
		if n := len(data.Kinds); n == 0 || data.Kinds[n-1].Name != name.Text(w) {
			data.Kinds = append(data.Kinds, foundKind{Name: name.Text(w)})
		}
		k := &data.Kinds[len(data.Kinds)-1]
		k.Rows = append(k.Rows, row)
	}
	if hits := help.Search(data.Search, help.Beside); len(hits) > 0 {
		k := foundKind{Name: words.Say("nav.help").Text(w)}
		for _, h := range hits {
			k.Rows = append(k.Rows, foundRow{h.Name(), h.To()})
		}
		data.Kinds = append(data.Kinds, k)
	}
	return c.show("find.html", &page{Title: words.Say("nav.find").Text(w), Nav: "find", Data: data})
}
