package main

import (
	"fmt"
	"slices"

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
	Machine string  `short:"m" help:"Price it on this machine, which is to sew all of it. Default: the shop's standard." placeholder:"NAME"`
	QuoteFlags
	Try   bool `help:"Keep nothing: only say the prices and the day."`
	Costs bool `help:"Say too what it costs the shop."`
	WhoFlag
	JSON bool   `name:"json" help:"One JSON object."`
	CSV  bool   `name:"csv" help:"One CSV row for each line and quantity."`
	XLSX string `name:"xlsx" help:"Write the prices to an .xlsx workbook." placeholder:"FILE"`
	PDF  string `name:"pdf" help:"Write the quote for the customer to a .pdf file." placeholder:"FILE"`
	PaperFlags
}

// QuoteFlags are what was agreed beside the prices.
type QuoteFlags struct {
	Discount       money.Amount `help:"Discount on lines and fees." placeholder:"PERCENT"`
	DeliveryCharge money.Amount `help:"What the delivery is charged, without tax." placeholder:"AMOUNT"`
	Deposit        money.Amount `help:"Deposit: the part of the total that is paid before work begins." placeholder:"PERCENT"`
}

func (a *QuoteFlags) agreed() ask.QuoteAgreed {
	return ask.QuoteAgreed{Discount: a.Discount.Dec, Delivery: a.DeliveryCharge.Dec, Deposit: a.Deposit.Dec}
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
		question := ask.QuoteQuestion{Now: d.Now(), Order: o.ID, Chance: a.Chance / 100, Quantities: a.Pieces,
			QuoteAgreed: a.agreed()}
		if question.Machine, err = d.machineID(a.Machine); err != nil {
			return err
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
			if err := writeQuotePDF(d, q.Quote, a.PDF, a.PaperFlags); err != nil {
				return err
			}
		}
		switch {
		case a.JSON:
			return writeJSON(c.Out, q)
		case a.CSV:
			return ask.QuotePrices(q.Quote).WriteCSV(c.Out)
		}
		quoteText(d, q, a.Costs)
		return nil
	})
}

// quoteText writes a quote as the shop has figures.
func quoteText(d *desk, q *ask.PricedOrder, costs bool) {
	in, w := d.writer, d.Out
	d.say("", words.Sentences{ask.QuoteTitle(q.Quote)})
	for i := range q.Lines {
		l := &q.Lines[i]
		fmt.Fprintf(w, "\n%s: %s", l.Design, words.Count(l.Quantity, "piece").Text(in))
		for _, s := range []string{l.Garment, l.Placement} {
			if s != "" {
				fmt.Fprintf(w, ", %s", s)
			}
		}
		fmt.Fprintf(w, "\n  %s, %s, %s\n", words.Count(l.Stitches, "stitch").Text(in),
			words.Count(len(l.Colours), "colour").Text(in), words.Size{W: l.WidthMM, H: l.HeightMM}.Text(in))
		d.say("  ", ask.QuoteTimes(l))
		d.table(ask.QuoteSteps(q.Quote, l, costs), "  ")
	}
	fmt.Fprintln(w)
	d.table(ask.QuoteSum(q.Quote), "")
	fmt.Fprintln(w)
	d.say("", q.Verdict)
	for _, s := range slices.Concat(q.Others, q.Notes) {
		fmt.Fprintln(w, "note:", s)
	}
	d.say("", q.Caveats)
	if costs {
		d.say("", words.Sentences{q.CostSay})
	}
}
