package pages

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"net/url"
	"slices"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/money"
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
	Agreed     bool // the order is promised a day that a new quote does not move
	In         *quoteFields
	Machines   []option
	MayPromise bool
	Unsure     bool            // its day cannot be promised any more as things are now
	Seen       string          // the state it was made in
	Verdict    words.Sentences // what it comes to, and when it can be had
	Cost       words.Message   // to the shop
	Caveats    words.Sentences
	Currency   string
	Unpriced   template.URL // where the prices of machines without any are put in; empty: all have them
	Path       string
}

// quoteLineRow is one line of a quote: its steps and why it costs that.
type quoteLineRow struct {
	*book.QuoteLine
	Table string // ID of its table of steps
	Runs  []quoteRun
	Axis  template.HTML
	Times words.Sentences
}

// quoteRun is a run on one of the machines that a price stands on.
type quoteRun struct {
	Machine string
	Bar     template.HTML
	Naive   string
}

// quoteFields is the form of a quote.
type quoteFields struct {
	Chance  *amount `toml:"chance"` // percent
	Steps   counts  `toml:"steps"`
	Machine string  `toml:"machine"`
	// agreed beside the prices
	Discount *money.Amount `toml:"discount"`
	Delivery *money.Amount `toml:"delivery_charge"`
	Deposit  *money.Amount `toml:"deposit"`
	Seen     *book.Seen    `toml:"seen"` // the state it was looked at in
}

func (in *quoteFields) question(c *call, o *book.Order) ask.QuoteQuestion {
	return ask.QuoteQuestion{Now: c.Shop.Now(), Order: o.ID, Machine: in.Machine,
		Chance:     float64(or(in.Chance, 0)) / 100,
		Quantities: in.Steps, QuoteAgreed: ask.QuoteAgreed{Discount: or(in.Discount, money.Amount{}).Dec,
			Delivery: or(in.Delivery, money.Amount{}).Dec, Deposit: or(in.Deposit, money.Amount{}).Dec}}
}

// acceptForm takes the order of a kept quote into the plan.
func acceptForm(c *call) error {
	var in struct {
		Version *count `toml:"version"`
		Anyway  bool   `toml:"anyway"`
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
	if o, err = c.Shop.AcceptQuote(c.Ctx, o.ID, q.ID, int(*in.Version), in.Anyway, c.By()); err != nil {
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
	data := &quoteData{O: o, D: d, In: in, Agreed: o.State != book.Requested && o.State != book.Quoted && !o.Promised.IsZero(), Path: orderPath(o) + "/quote"}
	if data.Machines, err = c.machineOptions(option{"", "the shop’s standard"}); err != nil {
		return err
	}
	p := &page{Title: fmt.Sprintf("Quote for order %d", o.Number), Nav: "orders", Data: data, Form: f}
	if !f.bad() {
		a, err := ask.Quote(c.Shop.Elsewhere(c.Ctx), c.Shop.Asked(), in.question(c, o))
		if err := f.take(err); err != nil {
			return err
		}
		if !f.bad() {
			data.Q, data.Seen = a.Quote, a.Seen.String()
			data.Unpriced = putPricesIn(a.Unpriced)
			if err := c.fillQuote(p, data); err != nil {
				return err
			}
			data.Caveats = a.Caveats // with what is said of its making too
		}
	}
	data.Currency = w.Money.Currency
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
		MayPromise: o.State == book.Quoted || o.State == book.Agreed && cmp.Or(q.Promise, q.TooLate) != o.Promised}
	p := &page{Title: "Quote " + q.Serial, Nav: "orders", Data: data}
	if err := c.fillQuote(p, data); err != nil {
		return err
	}
	if data.MayPromise {
		now, err := c.Shop.QuoteNow(c.Ctx, o, q)
		if err != nil {
			return err
		}
		if data.Unsure = !now.IsZero(); data.Unsure {
			data.Caveats.Say("quote.unsure", words.Args{"day": now})
		}
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
		longest := 0.0 // one axis for all strips
		for _, on := range l.On() {
			longest = max(longest, on.Run)
		}
		for _, on := range l.On() {
			run, err := c.quoteRun(data, l, on, machines, longest)
			if err != nil {
				return err
			}
			if run != nil {
				row.Runs = append(row.Runs, *run)
			}
		}
		row.Axis = axis(longest, data.D.W)
		t := ask.QuoteSteps(q, l, true)
		p.addTables(data.D.W, t)
		row.Table = t.Key
		row.Times = ask.QuoteTimes(l)
		data.Lines = append(data.Lines, row)
	}
	t := tableOf(ask.QuoteSum(q), "", data.D.W)
	last := len(t.Rows) - 1
	if !q.Deposit.IsPositive() { // else the total is not the last row
		t.Rows, t.Foot = t.Rows[:last], t.Rows[last]
	}
	p.addTable(t)
	return nil
}

// quoteRun is the strip of a run of a line on a machine; nil where the run is not
// what it was when the quote was kept, which stands as it was.
func (c *call) quoteRun(
	data *quoteData, l *book.QuoteLine, on book.QuoteShare, machines []*shop.Machine,
	longest float64,
) (*quoteRun, error) {
	i := slices.IndexFunc(machines, func(m *shop.Machine) bool {
		return on.MachineID == m.ID || on.MachineID == "" && m.Name == on.Machine
	})
	if i < 0 || data.O.Line(l.Line) == nil {
		return nil, nil
	}
	m := machines[i]
	run, err := c.runOf(data.O, l.Line, m.ID)
	if err != nil || run == nil || math.Abs(run.Seconds-on.Run) >= .5 {
		return nil, err
	}
	parts := picture.PartsOf(run.Parts)
	out := &quoteRun{Machine: m.Name, Bar: bar{Parts: parts, Max: max(longest, run.Seconds),
		Label: words.Say("picture.one-run", words.Args{"parts": picture.TimedParts(parts)}).Text(data.D.W), W: data.D.W}.HTML()}
	if naive := float64(l.Stitches) / m.Sheet.MaxSpeed * 60; naive < run.Seconds {
		out.Naive = words.Seconds(naive).Text(nil)
	}
	return out, nil
}

// putPricesIn is where the prices of machines without any are put in; empty: there are none such.
func putPricesIn(machines []string) template.URL {
	if len(machines) == 0 {
		return ""
	}
	return template.URL("/plan/hours?" + url.Values{"price": machines}.Encode())
}
