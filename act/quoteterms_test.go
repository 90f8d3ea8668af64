package act_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/readback"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/words"
)

// A quote's discount, delivery and deposit are in its sums and on its paper, and
// another quantity holds the same as the total.
func TestWhatIsAgreedBesideThePrices(t *testing.T) {
	b := fresh(t)
	dec := decimal.RequireFromString
	for _, apart := range []bool{false, true} {
		if apart {
			b.workshop(t, "quote_valid_days = 30", "quote_valid_days = 30\nset_up_as_fee = true")
		}
		o, _, err := b.AddOrder(bg, book.Order{Customer: "Gull", CustomerAddress: []string{" Slipway 1 ", "", "Pellsand"},
			PurchaseOrder: "LQ 88", Weight: 1, Lines: []book.OrderLine{
				{DesignID: b.designs["chowder-patch.dst"], Quantity: 48, Digitize: true}}}, "")
		if err != nil {
			t.Fatal(err)
		}
		q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, Quantities: []int{12, 96},
			QuoteAgreed: ask.QuoteAgreed{Discount: dec("7.5"), Delivery: dec("11.335"), Deposit: dec("30")}})
		if err != nil {
			t.Fatal(err)
		}
		before := q.Lines[0].Sum
		for _, f := range q.Fees {
			before = before.Add(f.Amount)
		}
		fee := slices.IndexFunc(q.Fees, func(f book.QuoteFee) bool { return f.Kind == book.SetupFee })
		for _, s := range q.Lines[0].Steps {
			if s.SetupFee.IsPositive() != apart || s.Quantity == 48 && apart && (fee < 0 || !q.Fees[fee].Amount.Equal(s.SetupFee)) {
				t.Errorf("set-up apart is %v: %d pieces have a fee of %s, the order %+v", apart, s.Quantity, s.SetupFee, q.Fees)
			}
		}
		if !apart && fee >= 0 {
			t.Errorf("a set-up in the price is asked for again: %+v", q.Fees[fee])
		}
		off := before.Mul(dec("0.075")).Round(2)
		if !q.Discount.Equal(off) || !q.Delivery.Equal(dec("11.34")) || !q.Net.Equal(before.Sub(off).Add(dec("11.34"))) {
			t.Errorf("of %s the discount is %s, with delivery %s it is %s", before, q.Discount, q.Delivery, q.Net)
		}
		if !q.Gross.Equal(q.Net.Mul(dec("1.2")).Round(2)) || !q.Deposit.Equal(q.Gross.Mul(dec("0.3")).Round(2)) {
			t.Errorf("%s without tax is %s with it, the deposit %s", q.Net, q.Gross, q.Deposit)
		}
		for _, s := range q.Lines[0].Steps {
			alone, _, err := b.AddOrder(bg, book.Order{Customer: "Gull", Weight: 1, Lines: []book.OrderLine{
				{DesignID: b.designs["chowder-patch.dst"], Quantity: s.Quantity, Digitize: true}}}, "")
			if err != nil {
				t.Fatal(err)
			}
			want, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: alone.ID, Quantities: []int{12, 48, 96},
				QuoteAgreed: ask.QuoteAgreed{Discount: dec("7.5"), Delivery: dec("11.335"), Deposit: dec("30")}})
			if err != nil {
				t.Fatal(err)
			}
			if !s.Net.Equal(want.Net) || !s.Gross.Equal(want.Gross) {
				t.Errorf("%d pieces come to %s and %s, an order of them to %s and %s", s.Quantity, s.Net, s.Gross, want.Net,
					want.Gross)
			}
		}
		q.Placeholder = false
		said := onPaper(t, b, q.Quote)
		for _, s := range []string{"Slipway 1", "LQ 88", "Discount, 7.5 %", "Delivery 11.34", "Together, with tax",
			words.Money{Amount: q.Gross, Code: "EUR", Sign: true}.Text(nil), "Deposit, 30 %", q.Deposit.StringFixed(2),
			"without tax; the tax is added at the end"} {
			if !strings.Contains(said, s) {
				t.Errorf("the paper does not say %q:\n%s", s, said)
			}
		}
	}
}

// onPaper is what a quote's paper says.
func onPaper(t *testing.T, b *bench, q *book.Quote) string {
	t.Helper()
	doc, err := paper.QuoteOf(bg, b.Asked(), q, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	var pdf bytes.Buffer
	if err := doc.PDF(&pdf, paper.A4); err != nil {
		t.Fatal(err)
	}
	return readback.PDF(t, pdf.Bytes())
}

func TestWhatCannotBeAgreed(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "chowder-patch.dst", 12, "2026-03-20", book.Requested)
	dec := decimal.RequireFromString
	for _, a := range []ask.QuoteAgreed{{Discount: dec("100.01")}, {Discount: dec("-1")}, {Deposit: dec("101")}, {Deposit: dec("-0.5")},
		{Delivery: dec("-0.01")}, {Delivery: dec("1000000000000.01")}} {
		if _, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, QuoteAgreed: a}); shop.CodeOf(err) != shop.Invalid {
			t.Errorf("%+v: %v", a, err)
		}
	}
}

// A quote of many lines begins with its total, names each line's garment, and
// shows no drawing that would be taken for all of it.
func TestAQuoteOfManyLinesBeginsWithItsTotal(t *testing.T) {
	b := fresh(t)
	o := book.Order{Customer: "Gull", Weight: 1}
	for i := range 30 {
		o.Lines = append(o.Lines, book.OrderLine{DesignID: b.designs[[]string{"chowder-patch.dst", "wheel-badge.dst"}[i%2]],
			Quantity: 10 + i, Garment: fmt.Sprintf("garment %d of 30", i+1)})
	}
	kept, _, err := b.AddOrder(bg, o, "")
	if err != nil {
		t.Fatal(err)
	}
	q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: kept.ID})
	if err != nil {
		t.Fatal(err)
	}
	said := onPaper(t, b, q.Quote)
	total := words.Money{Amount: q.Gross, Code: "EUR", Sign: true}.Text(nil)
	if at, first := strings.Index(said, total), strings.Index(said, "garment 1 of 30"); at < 0 || at > first {
		t.Errorf("the total %s stands at %d, the first line at %d:\n%s", total, at, first, said)
	}
	if !strings.Contains(said, "30 lines, 735 pieces in all") || !strings.Contains(said, "garment 30 of 30") {
		t.Errorf("the paper says %s", said)
	}
	doc, err := paper.QuoteOf(bg, b.Asked(), q.Quote, nil, nil)
	if err != nil || doc.Drawing != nil {
		t.Errorf("a drawing of one design stands for all: %v", err)
	}
	if n := strings.Count(said, "each, EUR"); n < 2 {
		t.Errorf("the table's head stands %d times on its pages", n)
	}
}

// The fees of quotes that earlier versions kept are told in the reader's words
// too; what nobody knows is told as it was kept.
func TestFeesOfOldQuotes(t *testing.T) {
	for _, c := range []struct {
		fee  book.QuoteFee
		want string
	}{
		{book.QuoteFee{Name: "set-up: wheel-badge"}, "Set-up: wheel-badge, once"},
		{book.QuoteFee{Name: "digitizing: a: b"}, "Digitizing: a: b, once"},
		{book.FeeOf(book.SetupFee, "x", decimal.Zero), "Set-up: x, once"},
		{book.QuoteFee{Name: "courier"}, "courier, once"}, {book.QuoteFee{}, "–, once"},
	} {
		if got := ask.QuoteFee(&book.Quote{Fees: []book.QuoteFee{c.fee}}, c.fee).Text(nil); got != c.want {
			t.Errorf("%+v is %q, want %q", c.fee, got, c.want)
		}
	}
}

// A design on several lines has a set-up for each, and each says which; a design on one line needs no number.
func TestSetUpFeesSayOfWhichLineTheyAre(t *testing.T) {
	b := fresh(t)
	b.workshop(t, "quote_valid_days = 30", "quote_valid_days = 30\nset_up_as_fee = true")
	var lines []book.OrderLine
	for _, d := range []string{"wheel-badge.dst", "wheel-badge.dst", "gull-cap.dst"} {
		lines = append(lines, book.OrderLine{DesignID: b.designs[d], Quantity: 24})
	}
	q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: b.lines(t, "2026-05-04", book.Agreed, lines...).ID})
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, f := range q.Fees {
		said = append(said, ask.QuoteFee(q.Quote, f).Text(nil))
	}
	want := []string{"Set-up: wheel-badge, line 1, once", "Set-up: wheel-badge, line 2, once", "Set-up: gull-cap, once"}
	if !slices.Equal(said, want) {
		t.Errorf("%q, want %q", said, want)
	}
}

// A fee is asked for as it can be paid, to a yen or a cent.
func TestFeesAreAmountsThatCanBePaid(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"digitizing_fee = 45", "digitizing_fee = 45.555", "45.56"},
		{"digitizing_fee = 45", "digitizing_fee = 45.554", "45.55"},
	} {
		b := fresh(t)
		b.workshop(t, c.from, c.to)
		o := b.lines(t, "2026-03-20", book.Requested, book.OrderLine{DesignID: b.designs["gull-cap.dst"], Quantity: 12, Digitize: true})
		q, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: o.ID})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(q.Fees, func(f book.QuoteFee) bool { return f.Kind == book.DigitizingFee })
		if i < 0 || !q.Fees[i].Amount.Equal(decimal.RequireFromString(c.want)) || !q.Net.Equal(q.Net.Round(2)) {
			t.Errorf("%s: fees %+v, net %s", c.to, q.Fees, q.Net)
		}
	}
}
