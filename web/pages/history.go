package pages

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/act"
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
	From words.Value
	Kept string // details as they were kept, in English, where the page is in another language
	To   string // the page of the thing; empty: none
	Back bool   // whoever looks may take it back
}

const historyPage = 50

func showHistory(c *call) error {
	from, err := strconv.Atoi(c.asks("from"))
	if err != nil {
		from = 0
	}
	role, q := c.Account().Role, shop.ChangeQuery{Offset: max(from, 0), Limit: historyPage}
	all, total, err := c.Shop.Changes.List(c.Ctx, role, q)
	if err == nil && c.asks("csv") != "" { // a file has all, not a page
		all, err = c.Shop.Changes.All(c.Ctx, role, shop.ChangeQuery{}, shop.KeptHistory)
	}
	if err != nil {
		return err
	}
	data := &historyData{From: from + 1, Last: from + len(all), Total: total}
	for _, ch := range all {
		row := changeRow{ch, briefly(ch, c.writer()), act.ChangeFrom(ch), "", changePlace(ch), ch.May(role) && !(ch.Own() && ch.By != c.By())}
		if row.Says.Text(nil) != act.ChangeSays(ch).Text(nil) {
			row.Kept = ch.What
		}
		data.Rows = append(data.Rows, row)
	}
	zone, err := c.Shop.Setups.Zone(c.Ctx)
	if err != nil {
		return err
	}
	p := &page{Title: words.Say("history.title").Text(c.writer()), Nav: "history", Data: data}
	p.addTable(tableOf(act.HistoryTable(all, zone), "", c.writer()))
	if from > 0 {
		data.Prev = "/history?from=" + strconv.Itoa(max(0, from-historyPage))
	}
	if from+len(all) < total {
		data.Next = "/history?from=" + strconv.Itoa(from+historyPage)
	}
	return c.show("history.html", p)
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
		"account": "/settings", "token": "/settings", "phone": "/settings", "door": "/settings/phones", "sign-in": "/settings/sign-ins", "columns": "/orders/table", "demo": "/"}[thing]
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

// briefly says what was changed; to who reads another language without the details, which are kept
// in English.
func briefly(ch *shop.Changed, w *words.Writer) words.Message {
	if w.Tag() == "en" || ch.Thing != "order" && ch.Thing != "sheet" {
		return act.ChangeSays(ch)
	}
	plain := *ch
	plain.What = ""
	return act.ChangeSays(&plain)
}

// offerUndo is what the browser may take back on the page that it is shown.
func (c *call) offerUndo(p *page) *undoBar {
	made, left := c.Made()
	if made == nil {
		return nil
	}
	return &undoBar{ID: made.ID, Says: briefly(made, p.W), Left: int(left.Milliseconds()), To: unsaid(p.Path, p.Query)}
}

// saysDone are parameters with which a page says that something was done. Taken back, it was not.
var saysDone = []string{"kept", "new", "sent", "taken", "already", "left"}

// unsaid is a page's address without what it says was done.
func unsaid(path, query string) string {
	q, err := url.ParseQuery(query)
	if err != nil || !slices.ContainsFunc(saysDone, q.Has) {
		return (&url.URL{Path: path, RawQuery: query}).String()
	}
	for _, k := range saysDone {
		q.Del(k)
	}
	return (&url.URL{Path: path, RawQuery: q.Encode()}).String()
}
