package pages

import (
	"net/url"

	"needlepace/web/serve"
	"needlepace/words"
)

// spoken are the pages and forms that are answered in the language of who asks: what
// operators read at the machine, phones and how one comes to trust the shop, an adviser's visits, and
// what strangers read who answer an open call.
var spoken = []string{
	"GET /orders/{order}/runsheet", "GET /orders/{order}/runsheet.pdf", "POST /orders/{order}/start",
	"GET /orders/{order}/record", "POST /orders/{order}/record", "POST /orders/{order}/record/{report}/undo",
	"GET /time", "GET /time/new", "GET /time/{timing}", "GET /today", "GET /today/wall", "GET /phone", "POST /phone", "GET /sign-in",
	"GET /trust", "GET /settings/phones", "POST /settings/phones", "POST /settings/phones/door", "GET /settings/phones/{phone}",
	"POST /settings/phones/{phone}/code", "POST /settings/phones/{phone}/remove",
	"GET /language", "POST /language", "GET /shops", "POST /shops",
	"GET /call", "GET /call/{code}", "POST /call/{code}", "GET /call/{code}/pack.zip",

	// A run listened to, at the machine.
	"GET /designs/{design}/listen", "GET /listen", "GET /recordings/{recording}", "POST /recordings/{recording}/hear",
	"POST /recordings/{recording}/keep", "POST /recordings/{recording}/drop", "GET /work/{work}", "POST /work/{work}/stop",

	// Lists of designs, machines and orders.
	"GET /designs", "GET /machines", "POST /machines", "GET /orders", "POST /lists", "POST /lists/{list}", "POST /lists/{list}/remove",

	// The plan.
	"GET /plan", "POST /plan", "GET /plan/bars", "POST /plan/hold", "GET /plan/try", "POST /plan/try", "GET /plan/thread", "GET /plan/costs", "GET /plan/hours", "POST /plan/hours",
	"GET /plan/fleet", "POST /plan/fleet",

	// One machine.
	"GET /machines/{machine}", "POST /machines/{machine}/runs", "POST /machines/{machine}/sheet", "POST /machines/{machine}/undo",
	"POST /machines/{machine}/remove",

	// One order, its form, and one search over all.
	"GET /orders/new", "POST /orders", "GET /orders/{order}/change", "POST /orders/{order}", "GET /find",
	"GET /orders/{order}", "POST /orders/{order}/state", "POST /orders/{order}/garments", "POST /orders/{order}/deliveries",
	"POST /orders/{order}/deliveries/{delivery}/undo", "POST /orders/{order}/rough",

	// One design.
	"GET /designs/{design}", "POST /designs/{design}", "POST /designs/{design}/remove", "POST /designs/{design}/restore",

	// What was changed.
	"GET /history", "POST /history/{change}/undo",

	// An adviser's visits.
	"GET /visits", "POST /visits", "POST /visits/import", "GET /visits/{visit}", "POST /visits/{visit}", "POST /visits/{visit}/files",
	"POST /visits/{visit}/drop", "POST /visits/{visit}/away", "POST /visits/{visit}/back", "POST /visits/{visit}/erase",
	"GET /visits/{visit}/plan", "POST /visits/{visit}/plan", "GET /visits/{visit}/trials/{trial}", "POST /visits/{visit}/trials/{trial}/returns",
	"POST /visits/{visit}/trials/{trial}/scale", "GET /visits/{visit}/trials/{trial}/grade", "POST /visits/{visit}/trials/{trial}/grade",
	"POST /visits/{visit}/trials/{trial}/evidence", "GET /visits/{visit}/call", "POST /visits/{visit}/call", "GET /visits/{visit}/calls/{call}",
	"POST /visits/{visit}/calls/{call}/entries", "POST /visits/{visit}/calls/{call}/open", "POST /visits/{visit}/calls/{call}/shut",
}

// spokenPages are their templates, which lead to the choice.
var spokenPages = []string{"runsheet.html", "record.html", "time.html", "timing.html", "wall.html", "phone_in.html", "sign-in.html", "called.html",
	"today.html", "listen.html", "heard.html", "visits.html", "visit.html", "trial_plan.html", "trial.html", "trial_grade.html", "call_plan.html", "call.html",
	"plan.html", "plan_try.html", "threadlist.html", "plan_hours.html", "dear.html", "designs.html", "machines.html", "orders.html",
	"fleet.html", "history.html", "order.html", "order_form.html", "find.html", "machine.html", "design.html", "phones.html", "phone.html", "shops.html"}

// Here is the page's own address, to come back to.
func (p *page) Here() string { return (&url.URL{Path: p.Path, RawQuery: p.Query}).String() }

// languageData is the choice of a language.
type languageData struct {
	Next string // where the browser goes then
	All  []tongue
}

// tongue is one that may be chosen.
type tongue struct {
	Tag, Name string
	Now       bool   // it is the page's
	Unchecked string // says in it that no speaker has checked it; empty: one has
}

func showLanguages(c *call) error {
	w := c.writer()
	data := &languageData{Next: serve.LocalPath(c.asks("next"))}
	for _, l := range words.Languages() {
		t := tongue{Tag: l.Tag.String(), Name: l.Name, Now: l.Tag.String() == w.Tag()}
		if l.Note != "" {
			t.Unchecked = words.Say("language-choice.unchecked").Text(&words.Writer{Language: l})
		}
		data.All = append(data.All, t)
	}
	return c.show("language.html", &page{Title: words.Say("language-choice.title").Text(w), Bare: true, Data: data})
}

// languageForm remembers a language, and goes on in it.
func languageForm(c *call) error {
	var in struct {
		Language string `toml:"language"`
		Next     string `toml:"next"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	return c.seeOr(serve.LocalPath(in.Next), c.Choose(in.Language))
}
