package pages

import (
	"fmt"
	"html/template"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

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
	Q          *book.Quote // nil: it could not be made; Wrong says why
	Wrong      string
	D          serve.When
	Kept       bool
	Lines      []quoteLineRow
	Machines   []*shop.Machine
	Chance     string // percent, of the form
	Steps      string
	Machine    string
	MayPromise bool
	Seen       string // the state it was made in
	NeedsMoney bool
	Path       string
}

// quoteLineRow is one line of a quote: its steps and why it costs that.
type quoteLineRow struct {
	*book.QuoteLine
	Table string // ID of its table of steps
	Bar   template.HTML
	Axis  template.HTML
	Naive string
}

// quoteAsked reads how a quote is wanted from a form or a query.
func (c *call) quoteAsked(q url.Values, order string) (ask.QuoteQuestion, error) {
	opt := ask.QuoteQuestion{Now: c.Shop.Now(), Order: order, Machine: q.Get("machine")}
	r := formNumbers{f: q}
	if p := r.number("chance", "the chance", 0); p != 0 {
		opt.Chance = p / 100
	}
	if r.err != nil {
		return opt, r.err
	}
	for s := range strings.FieldsFuncSeq(q.Get("steps"), func(c rune) bool { return c == ',' || c == ' ' || c == ';' }) {
		n, err := strconv.Atoi(s)
		if err != nil {
			return opt, shop.Errorf(shop.Invalid, "the quantity steps have %q; give whole numbers with a comma between, e.g. 12, 48, 96", s)
		}
		opt.Quantities = append(opt.Quantities, n)
	}
	slices.Sort(opt.Quantities)
	opt.Quantities = slices.Compact(opt.Quantities)
	return opt, nil
}

// readSeen is the state that a form was looked at in; nil where it does not say.
func readSeen(f url.Values) (*book.Seen, error) {
	v := f.Get("seen")
	if v == "" {
		return nil, nil
	}
	var s book.Seen
	if err := s.UnmarshalText([]byte(v)); err != nil {
		return nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	return &s, nil
}

// acceptForm takes the order of a kept quote into the plan.
func acceptForm(c *call) error {
	o, q, err := c.KeptQuote()
	if err != nil {
		return err
	}
	version, err := strconv.Atoi(c.PostForm.Get("version"))
	if err != nil {
		return shop.Errorf(shop.Invalid, "the order's version is missing; look at the quote anew")
	}
	if o, err = c.Shop.AcceptQuote(c.Ctx, o.ID, q.ID, version, c.By()); err != nil {
		return err
	}
	return c.see(orderPath(o))
}

// showQuote prices an order as it is asked for; nothing is kept.
func showQuote(c *call) error {
	o, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
	if err != nil {
		return err
	}
	d, w, err := c.When()
	if err != nil {
		return err
	}
	q := c.URL.Query()
	data := &quoteData{O: o, D: d, Chance: q.Get("chance"), Steps: q.Get("steps"), Machine: q.Get("machine"), NeedsMoney: !w.Priced(), Path: orderPath(o) + "/quote"}
	if data.Chance == "" {
		data.Chance = raw(w.Chance)
	}
	if data.Steps == "" && w.Priced() {
		var s []string
		for _, n := range w.Money.Quantities {
			s = append(s, strconv.Itoa(n))
		}
		data.Steps = strings.Join(s, ", ")
	}
	if data.Machines, err = c.Shop.Machines.List(c.Ctx); err != nil {
		return err
	}
	p := &page{Title: fmt.Sprintf("Quote for order %d", o.Number), Nav: "orders", Data: data, Tables: map[string]*table{}}
	opt, err := c.quoteAsked(q, o.ID)
	if err == nil {
		var a *ask.PricedOrder
		if a, err = ask.Quote(c.Ctx, c.Shop.Asked(), opt); err == nil {
			data.Q, data.Seen = a.Quote, a.Seen.String()
		}
	}
	switch {
	case err == nil:
		if err := c.fillQuote(p, data); err != nil {
			return err
		}
	case shop.CodeOf(err) == shop.Invalid: // told on the page, with the form to mend it
		data.Wrong = sentence(err.Error())
	default:
		return err
	}
	return c.show("quote.html", p)
}

// keepQuoteForm makes the quote as asked, keeps it, and shows it.
func keepQuoteForm(c *call) error {
	o, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
	if err != nil {
		return err
	}
	opt, err := c.quoteAsked(c.PostForm, o.ID)
	if err != nil {
		return err
	}
	saw, err := readSeen(c.PostForm)
	if err != nil {
		return err
	}
	q, err := c.Shop.KeepQuote(c.Ctx, opt, saw, c.By())
	if err != nil {
		return err
	}
	return c.see(orderPath(o) + "/quotes/" + q.ID)
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
	data := &quoteData{O: o, Q: q, D: d, Kept: true, Path: orderPath(o) + "/quotes/" + q.ID, MayPromise: slices.Contains(o.State.Next(), book.Agreed) && o.State == book.Quoted}
	p := &page{Title: "Quote " + q.Serial, Nav: "orders", Data: data, Tables: map[string]*table{}}
	if err := c.fillQuote(p, data); err != nil {
		return err
	}
	return c.show("quote.html", p)
}

// fillQuote makes a quote's tables and strips.
func (c *call) fillQuote(p *page, data *quoteData) error {
	q := data.Q
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	for i := range q.Lines {
		l := &q.Lines[i]
		row := quoteLineRow{QuoteLine: l, Table: fmt.Sprintf("steps-%d", l.Line)}
		for _, m := range machines {
			if m.Name != l.Machine || data.O.Line(l.Line) == nil {
				continue
			}
			run, err := ask.RunOfLine(c.Ctx, c.Shop.Asked(), data.O, l.Line, m.ID)
			if code := shop.CodeOf(err); err != nil && code != shop.Invalid && code != shop.NotFound {
				return err
			}
			// A kept quote stands as it was: its strip only where the run is still the same.
			if run != nil && math.Abs(run.Seconds-l.Run) < .5 {
				row.Axis = axis(run.Seconds)
				row.Bar = bar{Parts: picture.PartsOf(run.Parts), Max: run.Seconds, Label: "one run: " + partsText(run.Parts)}.HTML()
				if naive := float64(l.Stitches) / m.Sheet.MaxSpeed * 60; naive < run.Seconds {
					row.Naive = words.Seconds(naive).Text(nil)
				}
			}
		}
		p.Tables[row.Table] = stepsTable(q, l, row.Table)
		data.Lines = append(data.Lines, row)
	}
	t := &table{ID: "together", Caption: "What it comes to, " + q.Currency, Cols: []col{textCol("For", "what"), {Name: q.Currency, CSV: strings.ToLower(q.Currency), Num: true}}}
	sum := func(what string, v money.Dec) { t.Rows = append(t.Rows, []cell{text(what), priced(v, q.Currency)}) }
	for i := range q.Lines {
		l := &q.Lines[i]
		sum(fmt.Sprintf("%s × %s at %s",
			thousands(l.Quantity), l.Design, cash(l.Price, q.Currency)), l.Sum)
	}
	for _, f := range q.Fees {
		sum(strings.ToUpper(f.Name[:1])+f.Name[1:]+", once", f.Amount)
	}
	sum("Without tax", q.Net)
	sum("Tax, "+q.TaxRate+" %", q.Tax)
	t.Foot = []cell{text("Together"), priced(q.Gross, q.Currency)}
	p.Tables["together"] = t
	return nil
}

func stepsTable(q *book.Quote, l *book.QuoteLine, id string) *table {
	t := &table{ID: id, Caption: l.Design + ", price a piece by quantity, " + q.Currency, Cols: []col{numCol("Pieces", "pieces"), numCol("Price a piece", "price")}}
	fees := slices.ContainsFunc(l.Steps, func(s book.QuoteStep) bool { return s.SetupFee.IsPositive() })
	if fees {
		t.Cols = append(t.Cols, numCol("Set-up, once", "set_up_fee"))
	}
	t.Cols = append(t.Cols, numCol("Costs the shop", "cost"), col{Name: ""})
	for _, s := range l.Steps {
		row := []cell{whole(s.Quantity), priced(s.Price, q.Currency)}
		if fees {
			row = append(row, priced(s.SetupFee, q.Currency))
		}
		mark := ""
		if s.Quantity == l.Quantity {
			mark = "this order"
		}
		t.Rows = append(t.Rows, append(row, priced(s.Cost, q.Currency), text(mark)))
	}
	t.Cols[len(t.Cols)-1].Name, t.Cols[len(t.Cols)-1].CSV = "Note", "note"
	return t
}

// priced is an amount with its currency's decimals, without its code.
func priced(d money.Dec, code string) cell {
	return figure(cash(d, code), d.StringFixed(int32(words.Places(code))))
}
