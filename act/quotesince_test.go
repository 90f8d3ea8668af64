package act_test

import (
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
)

// A quote of an order that costs otherwise than in the one before says what makes it: of the floor's reports, of a price of
// a machine, of the margin; and nothing where nothing is otherwise.
func TestAQuoteSaysWhyItIsAnotherThanTheOneBefore(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(b *bench)
		want   string
	}{
		{"nothing", func(*bench) {}, ""},
		{"a report", func(b *bench) {
			o := b.order(t, "gull-cap.dst", 60, "2026-03-20", book.Agreed)
			if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Skipper"], Good: 60, Breaks: 9, Seconds: 25_200},
				act.Recording{}, ""); err != nil {
				t.Fatal(err)
			}
		}, "by the floor’s reports and the times of hands a piece holds Skipper for"},
		{"a dearer machine", func(b *bench) { b.workshop(t, "price = 31000", "price = 91000") }, "an hour of Six Sisters costs"},
		{"a slower setting", func(b *bench) { b.workshop(t, "speed = 850", "speed = 600") }, "a run on Six Sisters takes"},
		{"the margin", func(b *bench) { b.workshop(t, "margin_percent = 35", "margin_percent = 45") }, "margin or shares of machines were changed"},
	} {
		b := fresh(t)
		o := b.order(t, "wheel-badge.dst", 144, "2026-03-20", book.Requested)
		first, err := b.KeepOneQuote(o.ID, "")
		if err != nil {
			t.Fatal(err)
		}
		c.change(b)
		again, err := b.MakeQuote(bg, ask.QuoteQuestion{Now: b.at, Order: o.ID})
		if err != nil {
			t.Fatal(err)
		}
		said := ""
		for _, m := range again.Caveats {
			if m.Key == "quote.other-price" {
				said += m.Text(nil) + "\n"
			}
		}
		is, was := again.Lines[0].Price, first.Lines[0].Price
		if is.Equal(was) != (c.want == "") || strings.Count(said, "\n") > 1 || !strings.Contains(said, c.want) || c.want == "" && said != "" {
			t.Errorf("%s: %s each, then %s: %q; want %q", c.what, was, is, said, c.want)
		}
	}
}
