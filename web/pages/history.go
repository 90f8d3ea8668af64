package pages

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// undoBar offers to take back what the browser changed just now.
type undoBar struct {
	ID   int64
	Says words.Message
	Left int    // for how long, ms
	To   string // where the browser goes then
}

// historyData is a page of what was changed.
type historyData struct {
	Rows       []changeRow
	From, Last int
	Total      int
	Prev, Next string
}

type changeRow struct {
	*shop.Changed
	Says words.Message
	To   string // the page of the thing; empty: none
	Back bool   // whoever looks may take it back
}

const historyPage = 50

func showHistory(c *call) error {
	from, err := strconv.Atoi(c.asks("from"))
	if err != nil {
		from = 0
	}
	role := c.Account().Role
	all, total, err := c.Shop.Changes.List(c.Ctx, role, shop.ChangeQuery{Offset: max(from, 0), Limit: historyPage})
	if err != nil {
		return err
	}
	data := &historyData{From: from + 1, Last: from + len(all), Total: total}
	for _, ch := range all {
		data.Rows = append(data.Rows, changeRow{ch, changeSays(ch), changePlace(ch), ch.May(role) && !(ch.Own() && ch.By != c.By())})
	}
	if from > 0 {
		data.Prev = "/history?from=" + strconv.Itoa(max(0, from-historyPage))
	}
	if from+len(all) < total {
		data.Next = "/history?from=" + strconv.Itoa(from+historyPage)
	}
	return c.show("history.html", &page{Title: words.Say("history.title").Text(c.writer()), Nav: "history", Data: data})
}

// changeSays says what was changed.
func changeSays(ch *shop.Changed) words.Message {
	verb, undone := strings.CutPrefix(ch.Verb, shop.TakenBack)
	verb, again := strings.CutPrefix(verb, shop.DoneAgain)
	m := changeDid(ch, ch.Thing+"-"+verb)
	switch {
	case undone:
		return words.Say("history.undone", words.Args{"what": m})
	case again:
		return words.Say("history.redone", words.Args{"what": m})
	}
	return m
}

func changeDid(ch *shop.Changed, key string) words.Message {
	name := words.Name(ch.Name)
	switch {
	case ch.Thing == "design", ch.Thing == "run", key == "order-added":
		return words.Say("change."+key, words.Args{"name": name, "things": words.Whole(ch.Things)})
	case ch.What != "" && slices.Contains([]string{"order", "sheet", "account", "token", "phone"}, ch.Thing):
		return words.Say("change."+key, words.Args{"name": name, "what": words.Name(ch.What)})
	case ch.Thing == "order":
		return words.Say("change.plain-order", words.Args{"name": name})
	case ch.Thing == "sheet":
		return words.Say("change.plain-sheet", words.Args{"name": name})
	case ch.Name == "", ch.Thing == "hours":
		return words.Say("change." + key)
	}
	return words.Say("change."+key, words.Args{"name": name})
}

// changePlace is the page of the thing that a change is about; empty for none.
func changePlace(ch *shop.Changed) string {
	gone := strings.HasSuffix(ch.Verb, "gone") != strings.HasPrefix(ch.Verb, shop.TakenBack) ||
		ch.Verb == shop.TakenBack+"added"
	switch ch.Thing {
	case "order":
		return "/orders/" + url.PathEscape(ch.Name)
	case "design":
		return "/designs/" + ch.Ref
	case "machine", "sheet", "run", "timing":
		return "/machines/" + ch.Ref
	case "visit":
		if gone || ch.Verb == "erased" {
			return "/visits"
		}
		return "/visits/" + ch.Ref
	case "list":
		return "/" + ch.What
	case "floor", "mix":
		if gone {
			return changeList(ch.Thing)
		}
		return changeList(ch.Thing) + "/" + ch.Ref
	}
	return changeList(ch.Thing)
}

// changeList is the page that lists things of a kind.
func changeList(thing string) string {
	return map[string]string{"floor": "/floor", "mix": "/compare", "class": "/classes", "evidence": "/classes", "plan": "/plan",
		"hours": "/plan/hours", "settings": "/settings", "logo": "/settings", "visit": "/visits",
		"account": "/settings", "token": "/settings", "phone": "/settings", "columns": "/orders/table", "demo": "/"}[thing]
}

// undoForm takes a change back, and goes on to where it was asked to.
func undoForm(c *call) error {
	var in struct {
		To string `toml:"to"` // where the browser goes then
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	to := serve.LocalPath(in.To)
	if to == "/" {
		to = "/history"
	}
	ch, err := c.Undo()
	if err != nil {
		return c.again("/history", err)
	}
	if ch.Verb == "added" && strings.Contains(to, ch.Ref) && ch.Ref != "" { // its page is gone
		if list := changeList(ch.Thing); list != "" {
			to = list
		}
	}
	return c.see(to)
}

// offerUndo is what the browser may take back on the page that it is shown.
func (c *call) offerUndo(p *page) *undoBar {
	made, left := c.Made()
	if made == nil {
		return nil
	}
	to := p.Path
	if p.Query != "" {
		to += "?" + p.Query
	}
	return &undoBar{ID: made.ID, Says: changeSays(made), Left: int(left.Milliseconds()), To: to}
}
