package ask

import (
	"fmt"
	"slices"
	"strings"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

// amountIn is an amount in a column whose heading or caption has the currency.
func amountIn(q *book.Quote, d money.Dec) words.Money {
	m := q.Cash(d)
	m.Bare = true
	return m
}

// QuotePrices is every line of a quote in every quantity, for files.
func QuotePrices(q *book.Quote) *Table {
	t := &Table{Key: "prices", Columns: []Column{
		column("quote", "column.quote"),
		column("customer", "column.customer"),
		number("line", "column.line"),
		column("design", "column.design"),
		column("placement", "column.placement"),
		column("garment", "column.garment"),
		number("ordered", "column.ordered"),
		number("quantity", "column.pieces"),
		number("price", "quote.each-net"),
		number("set_up_fee", "column.set-up-once"),
		column("currency", "column.currency"),
	}}
	t.Caption = words.Say("quote.title", words.Args{"serial": words.Name(q.Serial)})
	for i := range q.Lines {
		l := &q.Lines[i]
		for _, s := range l.Steps {
			t.add(
				words.Name(q.Serial), words.Name(q.Customer), words.Whole(l.Line), words.Name(l.Design),
				words.Name(l.Placement), words.Name(l.Garment), words.Whole(l.Quantity), words.Whole(s.Quantity),
				amountIn(q, s.Price), amountIn(q, s.SetupFee), words.Name(q.Currency),
			)
		}
	}
	return t
}

// QuoteSteps is the price of a line by quantity; with costs what a piece costs
// the shop too, which is on no paper for a customer.
func QuoteSteps(q *book.Quote, l *book.QuoteLine, costs bool) *Table {
	fees := slices.ContainsFunc(l.Steps, func(s book.QuoteStep) bool { return s.SetupFee.IsPositive() })
	t := table(fmt.Sprintf("steps-%d", l.Line), words.Say("quote.steps",
		words.Args{"design": words.Name(l.Design), "currency": words.Name(q.Currency)}),
		number("pieces", "column.pieces"), number("price", "quote.each-net"))
	if fees {
		t.Columns = append(t.Columns, number("set_up_fee", "column.set-up-once"))
	}
	whole := !slices.ContainsFunc(l.Steps, func(s book.QuoteStep) bool { return s.Net.IsZero() })
	if whole {
		net, gross := number("net", "quote.all-net"), number("gross", "quote.all-gross")
		if len(q.Lines) > 1 {
			net, gross = number("net", "quote.whole-net"), number("gross", "quote.whole-gross")
		}
		t.Columns = append(t.Columns, net)
		if !q.Tax.IsZero() {
			t.Columns = append(t.Columns, gross)
		}
	}
	if costs {
		t.Columns = append(t.Columns, number("cost", "column.cost-a-piece"))
	}
	t.Columns = append(t.Columns, column("note", "column.note"))
	for _, s := range l.Steps {
		row := []words.Value{words.Whole(s.Quantity), amountIn(q, s.Price)}
		if fees {
			row = append(row, amountIn(q, s.SetupFee))
		}
		if whole {
			row = append(row, amountIn(q, s.Net))
			if !q.Tax.IsZero() {
				row = append(row, amountIn(q, s.Gross))
			}
		}
		if costs {
			row = append(row, amountIn(q, s.Cost))
		}
		t.add(append(row, stepNote(&s, s.Quantity == l.Quantity))...)
	}
	return t
}

// stepNote is what is to be said of a step: that it is the order, and why its
// price is not its own.
func stepNote(s *book.QuoteStep, order bool) words.Value {
	var notes words.List
	if order {
		notes.Say("quote.this-order")
	}
	switch {
	case s.PriceOf > 0:
		notes.Say("quote.price-of", words.Args{"pieces": words.Whole(s.PriceOf)})
	case s.AtCost:
		notes.Say("quote.empty-heads")
	}
	switch len(notes) {
	case 0:
		return nil
	case 1:
		return notes[0]
	}
	return notes
}

// QuoteSum is what a quote comes to; the last row is all of it together, or where
// a part of it is paid before, that deposit.
func QuoteSum(q *book.Quote) *Table {
	code := words.Name(q.Currency)
	t := table("together", words.Say("quote.comes-to", words.Args{"currency": code}),
		column("what", "column.what"),
		number(strings.ToLower(q.Currency), "column.amount", words.Args{"currency": code}),
	)
	add := func(what words.Message, d money.Dec) {
		t.add(what, amountIn(q, d))
	}
	for i := range q.Lines {
		l := &q.Lines[i]
		add(words.Say("quote.pieces-at", words.Args{
			"pieces": words.Whole(l.Quantity), "design": words.Name(l.Design), "price": amountIn(q, l.Price),
		}), l.Sum)
	}
	for _, f := range q.Fees {
		add(QuoteFee(q, f), f.Amount)
	}
	for _, x := range QuoteExtras(q) {
		add(x.What, x.Amount)
	}
	add(words.Say("quote.net"), q.Net)
	add(words.Say("quote.tax", words.Args{"percent": words.Name(q.TaxRate)}), q.Tax)
	add(QuoteTotal(q), q.Gross)
	if q.Deposit.IsPositive() {
		add(QuoteDeposit(q), q.Deposit)
	}
	return t
}

// QuoteDays are the days of a quote.
func QuoteDays(q *book.Quote) *Table {
	t := table("days", words.Say("quote.days"),
		column("what", "column.what"),
		column("day", "column.day"),
		number("chance", "column.chance"),
	)
	add := func(what words.Message, d words.Day, chance words.Value) {
		if !d.IsZero() {
			t.add(what, d, chance)
		}
	}
	var promised words.Value
	if q.Chance > 0 {
		promised = words.Level(q.Chance)
	}
	add(words.Say("quote.valid-to"), q.Valid, nil)
	add(words.Say("quote.earliest"), q.Earliest, nil)
	add(words.Say("quote.promise"), q.Promise, promised)
	add(words.Say("quote.too-late"), q.TooLate, promised)
	add(words.Say("quote.latest"), q.Latest, nil)
	add(words.Say("quote.wanted"), q.Due, onTime(q.OnTime))
	return t
}
