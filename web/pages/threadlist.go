package pages

import (
	"html/template"

	"needlepace/ask"
	"needlepace/words"
)

// threadListData is the thread of the plan as its page shows it.
type threadListData struct {
	*ask.ThreadListAnswer
	In    threadListFields
	Big   string // the upper thread; empty: nothing is sewn
	Says  string // the verdict
	Link  string // what the files are asked for with
	First string // that not all days stand on the page; empty: they do
}

// firstDays is how many days stand on the page where nobody asked for another number.
const firstDays = 28

type threadListFields struct {
	Days *count `toml:"days"`
}

// showThreadList shows the thread that the plan will use.
func showThreadList(c *call) error {
	var in threadListFields
	f, err := c.form(&in)
	if err == nil {
		err = f.err(map[string]string{"days": words.Say("threadlist.days").Text(c.writer())})
	}
	if err != nil {
		return err
	}
	a, err := c.ThreadList()
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	data := &threadListData{ThreadListAnswer: a, In: in, Says: a.Verdict.Text(d.W)}
	if len(a.Days) > 0 {
		data.Big = a.Top().Text(d.W)
	}
	if c.URL.RawQuery != "" {
		data.Link = "?" + c.URL.Query().Encode()
	}
	p := &page{Title: words.Say("threadlist.title").Text(d.W), Nav: "plan", Data: data, Form: f}
	p.addTables(d.W, a.DayTable(), a.ThreadTable())
	var swatches []template.HTML
	for _, day := range a.Days {
		for _, x := range day.Threads {
			swatches = append(swatches, swatch(x.Colour))
		}
		swatches = append(swatches, "")
	}
	for i, row := range p.Tables["thread-days"].Rows {
		row[1].HTML = swatches[i]
	}
	// A year of days would be slow to press anything on; files have them all, and so has the page for whoever asks for so
	// many days.
	if all := len(a.Days); all > firstDays && in.Days == nil && c.asks("csv") == "" {
		rows := 0
		for _, day := range a.Days[:firstDays] {
			rows += len(day.Threads) + 1
		}
		p.Tables["thread-days"].Rows = p.Tables["thread-days"].Rows[:rows]
		data.First = words.Say("threadlist.first", words.Args{"days": words.Count(firstDays, "day"), "all": words.Whole(all)}).Text(d.W)
	}
	for i, x := range a.Threads {
		p.Tables["thread-all"].Rows[i][0].HTML = swatch(x.Colour)
	}
	return c.show("threadlist.html", p)
}
