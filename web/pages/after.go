package pages

import (
	"needlepace/ask"
	"needlepace/words"
)

// afterData is how jobs that are done went against their quotes.
type afterData struct {
	A  *ask.AfterAnswer
	By []option
}

// showAfter shows it, or gives its workbook.
func showAfter(c *call) error {
	by := c.asks("by")
	a, err := ask.After(c.Ctx, c.Shop.Asked(), ask.AfterQuestion{By: by})
	if err != nil {
		return err
	}
	if c.asks("xlsx") != "" {
		return c.workbook("after the job by "+a.By, a.By, a.Table())
	}
	w := c.writer()
	data := &afterData{A: a}
	for _, b := range ask.AfterBy {
		data.By = append(data.By, option{b, words.Say("after." + b).Text(w)})
	}
	p := &page{Title: words.Say("after.title").Text(w), Nav: "orders", Data: data}
	p.addTables(w, a.Table())
	p.Tables["after"].cards()
	return c.show("after.html", p)
}
