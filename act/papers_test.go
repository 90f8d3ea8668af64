package act_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"github.com/xuri/excelize/v2"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/readback"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/words"
)

func TestThePlansPapersHaveEveryLot(t *testing.T) {
	b := fresh(t)
	o, _, err := b.AddOrder(bg, book.Order{Customer: "=HYPERLINK(\"x\"), Möwe; & Söhne", State: book.Agreed, Due: words.NewDay(2026, 3, 6), Weight: 1, Lines: []book.OrderLine{
		{DesignID: b.designs["gull-cap.dst"], Quantity: 40, Garment: "cap\nsecond line"}, {DesignID: b.designs["ostrel-light.dst"], Quantity: 500}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	b.order(t, "whale-line.dst", 90, "", book.Agreed)
	p := b.plan(t).Plan
	var ics bytes.Buffer
	if err := paper.PlanCalendar(p, nil, "Quay").ICS(&ics); err != nil {
		t.Fatal(err)
	}
	if read := readback.ICS(t, ics.Bytes()); len(read) != len(p.Lots) {
		t.Errorf("another program reads %d appointments of %d lots", len(read), len(p.Lots))
	}
	if n := strings.Count(ics.String(), "BEGIN:VEVENT"); n != len(p.Lots) || n < 3 {
		t.Errorf("%d events for %d lots", n, len(p.Lots))
	}
	var book bytes.Buffer
	if err := paper.XLSX(&book, paper.PlanSheets(p)...); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&book)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("Plan")
	if err != nil || len(rows) != len(p.Lots)+1 {
		t.Fatalf("%d rows for %d lots, %v", len(rows), len(p.Lots), err)
	}
	for i, r := range rows[1:] {
		if r[0] != p.Lots[i].Machine || strings.HasPrefix(r[3], "=") {
			t.Errorf("row %d is %q", i+2, r)
		}
	}
	if days, err := f.GetRows("Days"); err != nil || len(days) != len(p.Ends)+1 {
		t.Errorf("%d rows for %d lines, %v", len(days), len(p.Ends), err)
	}
	r, err := b.MakeRunSheet(bg, o.ID, 1, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := paper.RunSheetOf(bg, b.Asked(), r, b.at, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if sheet.Link != "http://quay.example:8237/orders/1001/record?line=1&machine="+r.MachineID {
		t.Errorf("link %q", sheet.Link)
	}
	for _, size := range []paper.Size{paper.A4, paper.Letter} {
		var pdf bytes.Buffer
		if err := sheet.PDF(&pdf, size); err != nil || !bytes.HasPrefix(pdf.Bytes(), []byte("%PDF-")) {
			t.Errorf("%s: %v", size, err)
		}
	}
}

func TestWatchTellsBeforeItIsLate(t *testing.T) {
	b := fresh(t)
	// Far more than a day's work, due in two days: late by the plan.
	b.order(t, "harbour-jacket-back.dst", 400, "2026-03-04", book.Agreed)
	b.order(t, "gull-cap.dst", 10, "2026-03-20", book.Agreed)
	p := b.plan(t).Plan
	w := p.Watch()
	if len(w) != 1 || w[0].Number != 1001 || w[0].Late == 0 || w[0].OnTime > .01 {
		t.Errorf("watch %+v", w)
	}
	if c := b.since(t).Orders(); len(c) != 0 {
		t.Errorf("changed since: %q", c)
	}
	b.at = b.at.Add(1e9)
	o, err := b.Orders.Get(bg, "1002")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Orders.Move(bg, o.ID, 0, book.Withdrawn, "", ""); err != nil {
		t.Fatal(err)
	}
	if c := b.since(t).Orders(); len(c) != 1 || c[0] != "1002" {
		t.Errorf("changed since: %q", c)
	}
}

// Older versions kept quotes with two decimals in every currency, and with as
// many as the shop's fee or step had: they print what they said.
func TestAnOldQuotePrintsWhatItSaid(t *testing.T) {
	b := fresh(t)
	dec := decimal.RequireFromString
	old := func(currency, price, sum, tax, gross string) *book.Quote {
		return &book.Quote{Serial: "1002-1", Currency: currency, Net: dec(sum), TaxRate: "20", Tax: dec(tax), Gross: dec(gross),
			Lines: []book.QuoteLine{{DesignID: b.designs["gull-cap.dst"], Design: "gull-cap", Quantity: 240,
				Price: dec(price), Sum: dec(sum)}}}
	}
	for _, c := range []struct {
		q    *book.Quote
		want string // the total
	}{
		{old("JPY", "0.97", "232.8", "46.56", "279.36"), "279.36 JPY"},
		{old("JPY", "97", "23280", "4656", "27936"), "27,936 JPY"},
		{old("BHD", "1.07", "256.8", "51.36", "308.16"), "308.160 BHD"},
		{old("BHD", "1.0725", "257.4", "51.48", "308.88"), "308.8800 BHD"},
		{old("EUR", "1.007", "241.68", "48.34", "290.02"), "290.020 EUR"},
	} {
		doc, err := paper.QuoteOf(bg, b.Asked(), c.q, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		var pdf bytes.Buffer
		if err := doc.PDF(&pdf, paper.A4); err != nil {
			t.Errorf("%s: %v", c.want, err)
		}
		if said := ask.QuoteVerdict(c.q)[0].Text(nil); !strings.Contains(said, c.want+" with it") {
			t.Errorf("%s: the quote says %q", c.want, said)
		}
		c.q.Gross = c.q.Gross.Add(dec("0.01"))
		if doc, err = paper.QuoteOf(bg, b.Asked(), c.q, nil, nil); err != nil {
			t.Fatal(err)
		}
		if err := doc.PDF(&pdf, paper.A4); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "make a new quote") {
			t.Errorf("%s and a hundredth more: %v", c.want, err)
		}
	}
}
