package pages

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// quoteData is a quote as its page shows it.
type quoteData struct {
	O          *book.Order
	Q          *book.Quote // nil: it could not be made; the form says why
	D          serve.When
	Kept       bool
	Lines      []quoteLineRow
	In         *quoteFields
	Machines   []option
	MayPromise bool
	Seen       string // the state it was made in
	NeedsMoney bool
	Verdict    words.Sentences // what it comes to, and when it can be had
	Cost       words.Message   // to the shop
	Caveats    words.Sentences
	Path       string
}

// quoteLineRow is one line of a quote: its steps and why it costs that.
type quoteLineRow struct {
	*book.QuoteLine
	Table string // ID of its table of steps
	Bar   template.HTML
	Axis  template.HTML
	Naive string
	Times words.Message
}

// quoteFields is the form of a quote.
type quoteFields struct {
	Chance  *amount    `toml:"chance"` // percent
	Steps   counts     `toml:"steps"`
	Machine string     `toml:"machine"`
	Seen    *book.Seen `toml:"seen"` // the state it was looked at in
}

func (in *quoteFields) question(c *call, o *book.Order) ask.QuoteQuestion {
	return ask.QuoteQuestion{Now: c.Shop.Now(), Order: o.ID, Machine: in.Machine,
		Chance:     float64(or(in.Chance, 0)) / 100,
		Quantities: in.Steps}
}

// acceptForm takes the order of a kept quote into the plan.
func acceptForm(c *call) error {
	var in struct {
		Version *count `toml:"version"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	o, q, err := c.KeptQuote()
	if err != nil {
		return err
	}
	if in.Version == nil {
		return shop.Invalidf("the order's version is missing; look at the quote anew")
	}
	if o, err = c.Shop.AcceptQuote(c.Ctx, o.ID, q.ID, int(*in.Version), c.By()); err != nil {
		return err
	}
	return c.see(orderPath(o))
}

// quotePage prices an order as it is asked for; nothing is kept. It shows the
// quote, or, where the form has something wrong, why there is none.
func (c *call) quotePage(in *quoteFields, f *form) error {
	o, err := c.Order()
	if err != nil {
		return err
	}
	d, w, err := c.When()
	if err != nil {
		return err
	}
	data := &quoteData{O: o, D: d, In: in, NeedsMoney: !w.Priced(), Path: orderPath(o) + "/quote"}
	if data.Machines, err = c.machineOptions(option{"", "where it is done first"}); err != nil {
		return err
	}
	p := &page{Title: fmt.Sprintf("Quote for order %d", o.Number), Nav: "orders", Data: data, Form: f}
	if !f.bad() {
		a, err := ask.Quote(c.Ctx, c.Shop.Asked(), in.question(c, o))
		if err := f.take(err); err != nil {
			return err
		}
		if !f.bad() {
			data.Q, data.Seen = a.Quote, a.Seen.String()
			if err := c.fillQuote(p, data); err != nil {
				return err
			}
		}
	}
	if in.Chance == nil {
		in.Chance = some(amount(w.Chance))
	}
	if len(in.Steps) == 0 && w.Priced() {
		in.Steps = w.Money.Quantities
	}
	return c.show("quote.html", p)
}

// keepQuoteForm makes the quote as asked, keeps it, and shows it.
func keepQuoteForm(c *call) error {
	o, err := c.Order()
	if err != nil {
		return err
	}
	var in quoteFields
	return c.sent(&in, func(*form) (string, error) {
		q, err := c.Shop.KeepQuote(c.Ctx, in.question(c, o), in.Seen, c.By())
		if err != nil {
			return "", err
		}
		return orderPath(o) + "/quotes/" + q.ID, nil
	}, func(f *form) error { return c.quotePage(&in, f) })
}

func showKeptQuote(c *call) error {
	o, q, err := c.KeptQuote()
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	data := &quoteData{O: o, Q: q, D: d, Kept: true, Path: orderPath(o) + "/quotes/" + q.ID,
		MayPromise: slices.Contains(o.State.Next(), book.Agreed) && o.State == book.Quoted}
	p := &page{Title: "Quote " + q.Serial, Nav: "orders", Data: data}
	if err := c.fillQuote(p, data); err != nil {
		return err
	}
	return c.show("quote.html", p)
}

// fillQuote makes a quote's tables and strips.
func (c *call) fillQuote(p *page, data *quoteData) error {
	q := data.Q
	data.Verdict, data.Cost, data.Caveats = ask.QuoteVerdict(q), ask.QuoteCost(q), ask.QuoteCaveats(q)
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	for i := range q.Lines {
		l := &q.Lines[i]
		row := quoteLineRow{QuoteLine: l}
		for _, m := range machines {
			if m.Name != l.Machine || data.O.Line(l.Line) == nil {
				continue
			}
			run, err := c.runOf(data.O, l.Line, m.ID)
			if err != nil {
				return err
			}
			// A kept quote stands as it was: its strip only where the run is still the same.
			if run != nil && math.Abs(run.Seconds-l.Run) < .5 {
				row.Axis = axis(run.Seconds, data.D.W)
				row.Bar = bar{Parts: picture.PartsOf(run.Parts), Max: run.Seconds,
					Label: words.Say("picture.one-run",
						words.Args{"parts": picture.TimedParts(picture.PartsOf(run.Parts))}).Text(data.D.W), W: data.D.W}.HTML()
				if naive := float64(l.Stitches) / m.Sheet.MaxSpeed * 60; naive < run.Seconds {
					row.Naive = words.Seconds(naive).Text(nil)
				}
			}
		}
		t := ask.QuoteSteps(q, l, true)
		p.addTables(data.D.W, t)
		row.Table = t.Key
		row.Times = ask.QuoteTimes(l)
		data.Lines = append(data.Lines, row)
	}
	t := tableOf(ask.QuoteSum(q), "", data.D.W)
	last := len(t.Rows) - 1
	t.Rows, t.Foot = t.Rows[:last], t.Rows[last]
	p.addTable(t)
	return nil
}
