package pages

import (
	"html/template"
	"net/http"
	"slices"
	"strings"

	"needlepace/help"
	"needlepace/shop"
	"needlepace/words"
)

// helpAt has, for each page by its template, the topic of the help and the heading
// that fit it.
var helpAt = map[string]string{
	"after.html":       "orders-and-plan#9-after-the-job",
	"audit.html":       "reading-an-audit#what-it-prints",
	"call.html":        "trials#open-calls",
	"call_plan.html":   "trials#open-calls",
	"called.html":      "trials#open-calls",
	"classes.html":     "machine-sheets#a-class-from-learned-machines",
	"compare.html":     "comparing-machines",
	"compares.html":    "comparing-machines",
	"dear.html":        "orders-and-plan#4-the-plan",
	"design.html":      "model#where-the-seconds-go",
	"designs.html":     "stitch-files",
	"error.html":       "first-steps",
	"find.html":        "first-steps#finding-things",
	"first.html":       "first-steps",
	"fleet.html":       "orders-and-plan#5-by-hand-and-what-if",
	"floor.html":       "what-a-shift-yields",
	"floors.html":      "what-a-shift-yields",
	"heard.html":       "listening",
	"help.html":        "",
	"history.html":     "keeping-the-shop#undo-and-what-was-changed",
	"language.html":    "first-steps#languages",
	"learned.html":     "how-to-time-a-machine#4-learn",
	"listen.html":      "listening#how-to",
	"machine.html":     "machine-sheets#the-constants-in-plain-words",
	"machines.html":    "machine-sheets",
	"mend_many.html":   "reading-an-audit#a-customers-whole-folder",
	"mended.html":      "reading-an-audit#mending",
	"mended_many.html": "reading-an-audit#a-customers-whole-folder",
	"order.html":       "orders-and-plan#2-orders",
	"order_form.html":  "orders-and-plan#2-orders",
	"order_table.html": "orders-and-plan#2-orders",
	"orders.html":      "orders-and-plan#2-orders",
	"phone.html":       "keeping-the-shop#phones",
	"phone_in.html":    "keeping-the-shop#phones",
	"phones.html":      "keeping-the-shop#phones",
	"plan.html":        "orders-and-plan#4-the-plan",
	"plan_hours.html":  "orders-and-plan#1-when-and-how-the-shop-works",
	"plan_try.html":    "orders-and-plan#5-by-hand-and-what-if",
	"quote.html":       "orders-and-plan#3-quotes",
	"record.html":      "orders-and-plan#7-what-the-floor-says",
	"rough.html":       "orders-and-plan#3-quotes",
	"running.html":     "keeping-the-shop",
	"runsheet.html":    "orders-and-plan#6-to-the-floor",
	"settings.html":    "keeping-the-shop",
	"shops.html":       "keeping-the-shop#several-shops-in-one-installation",
	"sign-in.html":     "keeping-the-shop#who-may-reach-it",
	"signins.html":     "keeping-the-shop#who-may-reach-it",
	"testpiece.html":   "how-to-time-a-machine#1-make-the-test-piece",
	"threadlist.html":  "orders-and-plan#4-the-plan",
	"time.html":        "how-to-time-a-machine#2-time-it",
	"timing.html":      "how-to-time-a-machine#on-a-phone",
	"today.html":       "first-steps#a-day-with-it",
	"topic.html":       "",
	"trial.html":       "trials",
	"trial_grade.html": "trials",
	"trial_plan.html":  "trials",
	"trust.html":       "keeping-the-shop#phones",
	"visit.html":       "trials",
	"visits.html":      "trials",
	"wall.html":        "first-steps#a-day-with-it",
	"work.html":        "first-steps",
}

// helpOf is where the help has what a page is about.
func helpOf(template string) string {
	if at := helpAt[template]; at != "" {
		return help.Root + at
	}
	return strings.TrimSuffix(help.Root, "/")
}

// mostHits is how many places a search in the help gives.
const mostHits = 40

// helpData is the list of topics, and what a search in them found.
type helpData struct {
	Search        string
	Hits          []help.Hit
	Daily, Deeper []*help.Topic
}

// daily is how many topics a shop's own people read; the others are for who wants
// to know how it works inside.
const daily = 15

func showHelp(c *call) error {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	// A shop that advises nobody reads nothing of it.
	advisers := func(t *help.Topic) bool { return t.Name == "trials" && !set.Visits }
	all := help.Topics()
	data := &helpData{Search: c.asks("find"), Daily: slices.DeleteFunc(slices.Clone(all[:daily]), advisers), Deeper: slices.DeleteFunc(slices.Clone(all[daily:]), advisers)}
	if err := shop.CheckText("find", data.Search, 200, false); err != nil {
		return shop.At("find", err)
	}
	data.Hits = slices.DeleteFunc(help.Search(data.Search, mostHits), func(h help.Hit) bool { return advisers(h.Topic) })
	return c.show("help.html", &page{Title: words.Say("help.title").Text(c.writer()), Nav: "help", Bare: c.Account() == nil, Data: data})
}

// topicData is one topic.
type topicData struct {
	*help.Topic
	Body template.HTML
}

// Contents are the headings below its title.
func (d *topicData) Contents() []help.Section { return d.Sections[1:] }

func showTopic(c *call) error {
	name := c.PathValue("topic")
	t, ok := help.Find(name)
	if !ok {
		var names []string
		for _, t := range help.Topics() {
			names = append(names, t.Name)
		}
		return shop.Errorf(shop.NotFound, "the help has no topic %q; there are %s", name, strings.Join(names, ", "))
	}
	body, err := t.HTML()
	if err != nil {
		return err
	}
	return c.show("topic.html", &page{Title: t.Title, Nav: "help", Bare: c.Account() == nil, Data: &topicData{t, body}})
}

func showHelpPicture(c *call) error {
	b, ok := help.Picture(c.PathValue("picture"))
	if !ok {
		return shop.Errorf(shop.NotFound, "the help has no picture %q", c.PathValue("picture"))
	}
	c.W.Header().Set("Content-Type", "image/svg+xml")
	c.W.Header().Set("Cache-Control", "no-cache")
	c.W.WriteHeader(http.StatusOK)
	_, err := c.W.Write(b)
	return err
}
