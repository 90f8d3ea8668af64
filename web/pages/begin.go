package pages

import (
	"context"
	"html/template"

	"needlepace/act"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/words"
)

// beginFields is the form of what a new shop is asked first.
type beginFields struct {
	Class    string `toml:"class"`
	Currency string `toml:"currency"`
	TimeZone string `toml:"time_zone"`
	Sample   bool   `toml:"sample"` // invented designs and orders to look around in
}

// firstData is what the first page of an empty shop shows.
type firstData struct {
	In      *beginFields
	Classes []option
	first   bar
}

// FirstStrip is the strip of the first page: a left-chest logo of the sample
// shop, clocked when the page is asked for.
func (d *firstData) FirstStrip() template.HTML { return d.first.HTML() }

// firstPage asks three things, and shows an answer.
func (c *call) firstPage(in *beginFields, f *form) error {
	data := &firstData{In: in, first: firstStrip(), Classes: classOptions(c.writer(), "")}
	return c.show("first.html", &page{Title: words.Say("begin.title").Text(c.writer()), Nav: "designs", Data: data, Form: f})
}

// beginForm keeps what was asked first. With the sample it goes on to an answer;
// else a design of the shop's own is next.
func beginForm(c *call) error {
	var in beginFields
	return c.sent(&in, func(f *form) (string, error) {
		b, by := act.Beginning{Class: in.Class, Currency: in.Currency, TimeZone: in.TimeZone}, c.By()
		if !in.Sample {
			_, err := c.Shop.Begin(c.Ctx, b, by)
			return "/designs", err
		}
		if err := c.Shop.MayBegin(c.Ctx, b); err != nil {
			return "", err
		}
		return "", c.beginPage("demo", "/begin", func(ctx context.Context, s jobs.Step) (any, error) {
			return c.Shop.BeginWithSample(ctx, b, by, s)
		})
	}, func(f *form) error { return c.firstPage(&in, f) })
}

// showBegun leads to the first answer: a sample design on the shop's machine.
func showBegun(c *call) error {
	if c.asks("work") == "" {
		return c.see("/")
	}
	m, shown, err := result[*shop.Machine](c)
	if err != nil || shown {
		return err
	}
	d, err := c.Shop.Designs.Find(c.Ctx, firstDesign)
	if err != nil {
		return err
	}
	return c.see("/designs/" + d.ID + "?machine=" + m.ID)
}
