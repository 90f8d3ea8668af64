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
		column("quote", words.Say("column.quote", nil)),
		column("customer", words.Say("column.customer", nil)),
		column("line", words.Say("column.line", nil)).number(""),
		column("design", words.Say("column.design", nil)),
		column("placement", words.Say("column.placement", nil)),
		column("garment", words.Say("column.garment", nil)),
		column("ordered", words.Say("column.ordered", nil)).number(""),
		column("quantity", words.Say("column.pieces", nil)).number(""),
		column("price", words.Say("column.price-a-piece", nil)).number(""),
		column("set_up_fee", words.Say("column.set-up-once", nil)).number(""),
		column("currency", words.Say("column.currency", nil)),
	}}
	t.Caption = words.Say("quote.title", words.Args{"serial": words.Name(q.Serial)})
	for i := range q.Lines {
		l := &q.Lines[i]
		for _, s := range l.Steps {
			t.Rows = append(t.Rows, []words.Value{
				words.Name(q.Serial), words.Name(q.Customer), words.Whole(l.Line), words.Name(l.Design),
				words.Name(l.Placement), words.Name(l.Garment), words.Whole(l.Quantity), words.Whole(s.Quantity),
				amountIn(q, s.Price), amountIn(q, s.SetupFee), words.Name(q.Currency),
			})
		}
	}
	return t
}

// QuoteSteps is the price of a line by quantity; with costs what a piece costs
// the shop too, which is on no paper for a customer.
func QuoteSteps(q *book.Quote, l *book.QuoteLine, costs bool) *Table {
	fees := slices.ContainsFunc(l.Steps, func(s book.QuoteStep) bool { return s.SetupFee.IsPositive() })
	t := &Table{
		Key: fmt.Sprintf("steps-%d", l.Line),
		Caption: words.Say("quote.steps",
			words.Args{"design": words.Name(l.Design), "currency": words.Name(q.Currency)}),
		Columns: []Column{
			column("pieces", words.Say("column.pieces", nil)).number(""),
			column("price", words.Say("column.price-a-piece", nil)).number(""),
		},
	}
	if fees {
		t.Columns = append(t.Columns, column("set_up_fee", words.Say("column.set-up-once", nil)).number(""))
	}
	if costs {
		t.Columns = append(t.Columns, column("cost", words.Say("column.cost-a-piece", nil)).number(""))
	}
	t.Columns = append(t.Columns, column("note", words.Say("column.note", nil)))
	for _, s := range l.Steps {
		row := []words.Value{words.Whole(s.Quantity), amountIn(q, s.Price)}
		if fees {
			row = append(row, amountIn(q, s.SetupFee))
		}
		if costs {
			row = append(row, amountIn(q, s.Cost))
		}
		if s.Quantity == l.Quantity {
			row = append(row, words.Say("quote.this-order", nil))
		} else {
			row = append(row, nil)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// QuoteSum is what a quote comes to; the last row is all of it together.
func QuoteSum(q *book.Quote) *Table {
	code := words.Name(q.Currency)
	t := &Table{Key: "together", Caption: words.Say("quote.comes-to", words.Args{"currency": code}),
		Columns: []Column{
			column("what", words.Say("column.what", nil)),
			column(strings.ToLower(q.Currency), words.Say("column.amount", words.Args{"currency": code})).number(""),
		}}
	add := func(what words.Message, d money.Dec) {
		t.Rows = append(t.Rows, []words.Value{what, amountIn(q, d)})
	}
	for i := range q.Lines {
		l := &q.Lines[i]
		add(words.Say("quote.pieces-at", words.Args{
			"pieces": words.Whole(l.Quantity), "design": words.Name(l.Design), "price": amountIn(q, l.Price),
		}), l.Sum)
	}
	for _, f := range q.Fees {
		add(words.Say("quote.fee", words.Args{"fee": words.Name(strings.ToUpper(f.Name[:1]) + f.Name[1:])}), f.Amount)
	}
	add(words.Say("quote.net", nil), q.Net)
	add(words.Say("quote.tax", words.Args{"percent": words.Name(q.TaxRate)}), q.Tax)
	add(words.Say("quote.gross", nil), q.Gross)
	return t
}

// QuoteDays are the days of a quote.
func QuoteDays(q *book.Quote) *Table {
	t := &Table{Key: "days", Caption: words.Say("quote.days", nil), Columns: []Column{
		column("what", words.Say("column.what", nil)),
		column("day", words.Say("column.day", nil)),
		column("chance", words.Say("column.chance", nil)).number(""),
	}}
	add := func(what words.Message, d words.Day, chance words.Value) {
		if !d.IsZero() {
			t.Rows = append(t.Rows, []words.Value{what, d, chance})
		}
	}
	add(words.Say("quote.valid-to", nil), q.Valid, nil)
	add(words.Say("quote.earliest", nil), q.Earliest, nil)
	add(words.Say("quote.promise", nil), q.Promise, words.Level(q.Chance))
	add(words.Say("quote.wanted", nil), q.Due, onTime(q.OnTime))
	return t
}
