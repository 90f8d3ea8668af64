package pages

import (
	"context"
	"net/url"
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// mendManyFields is the form of a mend of many designs: those named, or all of a
// customer.
type mendManyFields struct {
	Customer    string   `toml:"customer"`
	Design      []string `toml:"design"` // IDs
	Machine     string   `toml:"machine"`
	KeepColours bool     `toml:"keep_colours"`
	KeepStops   bool     `toml:"keep_stops"`
	Format      string   `toml:"format"`  // of the new files; empty: the usual
	Seconds     *amount  `toml:"seconds"` // of searching for each at most; nil: the usual
}

// mendManyData is the page of the form.
type mendManyData struct {
	In       *mendManyFields
	Machines []option
	Formats  []option
	Rows     []mendManyRow
	More     int // designs of the customer that are not among the rows
}

// mendManyRow is a design that can be ticked.
type mendManyRow struct {
	*shop.Design
	On   bool
	Says string // its file and its name, told apart from others
}

// mendManyPage shows what is to be mended, and on which machine.
func (c *call) mendManyPage(in *mendManyFields, f *form) error {
	data := &mendManyData{In: in, Formats: formatOptions(words.Say("mend.format-each").Text(c.writer()))}
	var err error
	if data.Machines, err = c.sheetOptions(); err != nil {
		return err
	}
	if in.Machine == "" && len(data.Machines) > 0 {
		in.Machine = data.Machines[0].Value
	}
	if in.Seconds == nil {
		in.Seconds = some(amount(ask.DefaultMendSeconds))
	}
	if in.Customer != "" {
		all, total, err := c.Shop.Designs.Of(c.Ctx, in.Customer, ask.MostMended)
		if err != nil {
			return err
		}
		for _, d := range all {
			data.Rows = append(data.Rows, mendManyRow{Design: d, On: !c.posted() || slices.Contains(in.Design, d.ID)})
		}
		data.More = total - len(all)
	} else {
		for _, id := range in.Design {
			d, err := c.Shop.Designs.Get(c.Ctx, id)
			if err != nil {
				return err
			}
			data.Rows = append(data.Rows, mendManyRow{Design: d, On: true})
		}
	}
	names, ids := make([]string, len(data.Rows)), make([]string, len(data.Rows))
	for i, r := range data.Rows {
		names[i], ids[i] = strings.TrimSpace(r.File+" "+r.Called()), r.ID
	}
	for i, name := range ask.NamesApart(names, ids) {
		data.Rows[i].Says = name
	}
	return c.show("mend_many.html", &page{Title: words.Say("many.title").Text(c.writer()), Nav: "designs", Data: data,
		Form: f})
}

// mendManyForm begins a mend of many designs.
func mendManyForm(c *call) error {
	var in mendManyFields
	return c.sent(&in, func(*form) (string, error) {
		q := ask.MendManyQuestion{Designs: in.Design, Machine: in.Machine, KeepColours: in.KeepColours,
			KeepStops: in.KeepStops, Format: in.Format, Seconds: float64(or(in.Seconds, 0)), Money: c.May(shop.SeeMoney)}
		if err := c.Shop.MendManyCheck(c.Ctx, q); err != nil {
			return "", err
		}
		w := c.writer()
		then := "/designs/mended?" + url.Values{"machine": {in.Machine}}.Encode()
		return "", c.beginPage("mendmany", then, func(ctx context.Context, s jobs.Step) (any, error) {
			q.Progress = func(f float64, doing words.Message) { s(f, doing.Text(w)) }
			return c.Shop.MendMany(ctx, q)
		})
	}, func(f *form) error { return c.mendManyPage(&in, f) })
}

// mendedManyData is what a mend of many designs came to.
type mendedManyData struct {
	A    *ask.MendManyAnswer
	Work string
}

func showMendedMany(c *call) error {
	a, shown, err := result[*ask.MendManyAnswer](c)
	if err != nil || shown {
		return err
	}
	data := &mendedManyData{A: a, Work: c.asks("work")}
	w := c.writer()
	p := &page{Title: words.Say("many.title").Text(w), Nav: "designs", Data: data}
	p.addTables(w, a.Table())
	t := p.Tables["designs"]
	t.cards()
	for i, row := range t.Rows {
		row[0].Link = "/designs/" + a.Designs[i].ID
		if a.Designs[i].Mend != nil {
			row[0].Link += "/mended?" + url.Values{"machine": {c.asks("machine")}, "work": {data.Work}}.Encode()
		}
	}
	return c.show("mended_many.html", p)
}

// mendedZip is the new files that can be taken together.
func mendedZip(c *call) error {
	a, shown, err := result[*ask.MendManyAnswer](c)
	if err != nil || shown {
		return err
	}
	b := serve.MendedZip(a)
	if b == nil {
		return shop.Errorf(shop.NotFound, "there is no file to be taken together with others")
	}
	c.Download("mended.zip", "application/zip", b, "")
	return nil
}

// keepMendedManyForm adds them to the designs.
func keepMendedManyForm(c *call) error {
	a, shown, err := result[*ask.MendManyAnswer](c)
	if err != nil || shown {
		return err
	}
	_, err = c.Shop.KeepAllMended(c.Ctx, a)
	return c.seeOr("/designs", err)
}
