package main

import (
	"fmt"
	"strings"

	"needlepace/ask"
	"needlepace/help"
	"needlepace/shop"
	"needlepace/words"
)

// FindCmd finds things of the shop, and what the documentation says: the search of
// the page.
type FindCmd struct {
	ShopFlags
	Words []string `arg:"" name:"word" help:"Beginnings of words; all must be there. Case and accents do not matter."`
	JSON  bool     `name:"json" help:"One JSON object for each thing found, one a line."`
	CSV   bool     `name:"csv" help:"One CSV row for each thing found."`
}

// Run searches and lists what it found.
func (a *FindCmd) Run(c *Ctx) error {
	return a.use(c, func(d *desk) error {
		search := strings.Join(a.Words, " ")
		all, err := d.Find(c.Context, search)
		if err != nil {
			return err
		}
		for _, h := range help.Search(search, help.Beside) {
			all = append(all, shop.Found{Kind: "help", Ref: h.Topic.Name, Name: h.Name()})
		}
		t := &ask.Table{Columns: []ask.Column{{Key: "kind", Heading: words.Say("find.kind")},
			{Key: "name", Heading: words.Say("find.name")}, {Key: "ref", Heading: words.Say("find.ref")}}}
		for _, f := range all {
			t.Rows = append(t.Rows, []words.Value{words.Name(f.Kind), words.Name(f.Name), words.Name(f.Ref)})
			if !a.JSON {
				continue
			}
			if err := writeJSON(c.Out, f); err != nil {
				return err
			}
		}
		switch {
		case a.JSON:
		case a.CSV:
			return t.WriteCSV(c.Out)
		case len(all) == 0:
			fmt.Fprintln(c.Out, words.Say("find.none").Text(d.writer))
		default:
			d.table(t, "")
		}
		return nil
	})
}
