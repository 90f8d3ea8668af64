package main

import (
	"fmt"
	"io"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/money"
	"needlepace/paper"
	"needlepace/words"
)

// QuoteCmd prices an order and finds its day.
type QuoteCmd struct {
	ShopFlags
	Order   string  `arg:"" help:"The order's number."`
	Chance  float64 `help:"Chance that the promised day is met, in percent. Default: the workshop's." placeholder:"PERCENT"`
	Pieces  []int   `short:"n" help:"Pieces, as quantity steps. Default: the workshop's." placeholder:"N,…"`
	Machine string  `short:"m" help:"Cost it on this machine. Default: where the plan puts it." placeholder:"NAME"`
	Try     bool    `help:"Do not keep the quote."`
	Costs   bool    `help:"Say too what it costs the shop."`
	WhoFlag
	JSON bool   `name:"json" help:"One JSON object."`
	CSV  bool   `name:"csv" help:"One CSV row for each line and quantity."`
	XLSX string `name:"xlsx" help:"Write the prices to an .xlsx workbook." placeholder:"FILE"`
	PDF  string `name:"pdf" help:"Write the quote for the customer to a .pdf file." placeholder:"FILE"`
	PaperFlags
}

// Run makes the quote.
func (a *QuoteCmd) Run(c *Ctx) error {
	if a.Chance != 0 && !(a.Chance >= 50 && a.Chance <= 99.5) {
		return usagef("--chance %v: give percent, 50 to 99.5", a.Chance)
	}
	if err := endsIn([3]string{"--xlsx", a.XLSX, ".xlsx"}, [3]string{"--pdf", a.PDF, ".pdf"}); err != nil {
		return err
	}
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		question := ask.QuoteQuestion{Now: d.Now(), Order: o.ID, Chance: a.Chance / 100, Quantities: a.Pieces}
		if a.Machine != "" {
			m, err := d.Machines.Find(c.Context, a.Machine)
			if err != nil {
				return err
			}
			question.Machine = m.ID
		}
		var q *ask.PricedOrder
		if a.Try {
			q, err = ask.Quote(c.Context, d.Asked(), question)
		} else {
			q, err = d.KeepQuote(c.Context, question, nil, a.Who)
		}
		if err != nil {
			return err
		}
		if a.XLSX != "" {
			if err := writeXLSX(a.XLSX, paper.QuoteSheets(q.Quote)); err != nil {
				return err
			}
		}
		if a.PDF != "" {
			if err := writeQuotePDF(c, d, q.Quote, a.PDF, a.PaperFlags); err != nil {
				return err
			}
		}
		switch {
		case a.JSON:
			return writeJSON(c.Out, q)
		case a.CSV:
			return paper.QuoteSheets(q.Quote)[0].CSV(c.Out)
		}
		quoteText(c.Out, d.writer, q.Quote, a.Costs)
		return nil
	})
}

// quoteText writes a quote as the shop's writer in has figures.
func quoteText(w io.Writer, in *words.Writer, q *book.Quote, costs bool) {
	whole := func(n int) string { return words.Whole(n).Text(in) }
	chance := func(p float64) string { return words.Chance(p).Text(in) }
	cash := func(d money.Dec) string { return words.Money{Amount: d, Code: q.Currency, Bare: true}.Text(in) }
	fmt.Fprintf(w, "Quote %s for %s, %s, valid to %s. Prices in %s, without tax.\n", q.Serial, q.Customer, q.Day,
		q.Valid, q.Currency)
	for i := range q.Lines {
		l := &q.Lines[i]
		fmt.Fprintf(w, "\n%s: %s", l.Design, words.Count(l.Quantity, "piece").Text(in))
		for _, s := range []string{l.Garment, l.Placement} {
			if s != "" {
				fmt.Fprintf(w, ", %s", s)
			}
		}
		fmt.Fprintf(w, "\n  %s, %s, %s\n",
			words.Count(l.Stitches, "stitch").Text(in), words.Count(len(l.Colours), "colour").Text(in),
			words.Size{W: l.WidthMM, H: l.HeightMM}.Text(in))
		fmt.Fprintf(w, "  on %s, %s: run time %s; a piece holds the machine for %s\n",
			l.Machine, words.Count(l.Heads, "head").Text(in), words.Seconds(l.Run).Text(in),
			words.Seconds(l.Piece).Text(in))
		t := table{indent: "  ", align: "l" + strings.Repeat("r", len(l.Steps))}
		row := func(name string, of func(*book.QuoteStep) string) {
			out := []string{name}
			for k := range l.Steps {
				out = append(out, of(&l.Steps[k]))
			}
			t.row(out...)
		}
		row("pieces", func(s *book.QuoteStep) string { return whole(s.Quantity) })
		row("price a piece", func(s *book.QuoteStep) string { return cash(s.Price) })
		fees := false
		for _, s := range l.Steps {
			fees = fees || s.SetupFee.IsPositive()
		}
		if fees {
			row("set-up, once", func(s *book.QuoteStep) string { return cash(s.SetupFee) })
		}
		if costs {
			row("cost a piece", func(s *book.QuoteStep) string { return cash(s.Cost) })
		}
		t.write(w)
	}
	fmt.Fprintln(w)
	t := table{align: "lr"}
	for i := range q.Lines {
		l := &q.Lines[i]
		t.row(fmt.Sprintf("%s × %s", whole(l.Quantity), l.Design), cash(l.Sum))
	}
	for _, f := range q.Fees {
		t.row(f.Name, cash(f.Amount))
	}
	t.row("without tax", cash(q.Net))
	t.row(fmt.Sprintf("tax, %s %%", q.TaxRate), cash(q.Tax))
	t.row("together", cash(q.Gross))
	t.write(w)
	fmt.Fprintln(w)
	if !q.Earliest.IsZero() {
		fmt.Fprintf(w, "Earliest %s, if all goes as planned. Promise %s", q.Earliest, q.Promise)
		if q.Promise == q.Due {
			fmt.Fprintf(w, ", as wanted: it is met with a chance of %s.\n", chance(q.OnTime))
		} else {
			fmt.Fprintf(w, ": it is met with a chance of %s.\n", chance(q.Chance))
			if q.OnTime >= 0 {
				fmt.Fprintf(w, "The %s that is wanted is met with a chance of %s only.\n", q.Due, chance(q.OnTime))
			}
		}
	}
	for _, s := range q.Others {
		fmt.Fprintln(w, "note:", s)
	}
	for _, s := range q.Notes {
		fmt.Fprintln(w, "note:", s)
	}
	writeSentences(w, "", ask.QuoteCaveats(q))
	if costs {
		fmt.Fprintf(w, "It costs the shop %s %s and %.1f machine hours; the wanted margin is %s %%.\n",
			cash(q.Cost), q.Currency, q.Hours, q.Margin)
	}
}
