package main

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/readback"
	"needlepace/words"
)

// quotedOrder is the order that is priced.
const quotedOrder = "1006"

// quoteTerms are what is agreed beside its prices.
var quoteTerms = []string{"--discount", "5", "--delivery-charge", "12.50", "--deposit", "30"}

// quoted keeps a quote.
func (d *demoServed) quoted() {
	d.t.Helper()
	out, errs, code := invoke(d.t, d.shop(append([]string{"quote", quotedOrder, "--json"}, quoteTerms...)...)...)
	if err := json.Unmarshal([]byte(out), &d.quote); err != nil || code != exitOK || d.quote.ID == "" {
		d.t.Fatalf("status %d, %v, %s", code, err, errs)
	}
}

// orderQuestions are a day to promise, a quote and a run sheet.
func orderQuestions(d *demoServed) []asked {
	const number = quotedOrder
	lot := d.lot("1001")
	quote := d.shop(append([]string{"quote", number, "--try", "--costs"}, quoteTerms...)...)
	return []asked{{
		name: "promise", of: []string{"Promise"}, command: d.shop("order", "promise", d.anyDay, "--try", "--chance", "95"),
		get: "/orders/" + d.anyDay + "/promise?chance=0.95", page: "/orders/" + d.anyDay + "/quote?chance=95",
		not: map[string]string{"csv": oneAnswer, "xlsx": noWorkbook, "pdf": "on paper it stands in the quote"},
	}, {
		name: "quote", of: []string{"Quote"}, command: quote, post: "/orders/" + number + "/quotes",
		body: `{"discount_percent":5,"delivery":12.5,"deposit_percent":30}`,
		page: "/orders/" + number + "/quote?discount=5&delivery_charge=12.50&deposit=30", tables: map[string][]string{"steps-1": nil, "together": nil},
		shown: func(a map[string]any) []string {
			var q book.Quote
			into(d.t, a, &q)
			return []string{q.Net.StringFixed(2), q.Gross.StringFixed(2), ask.QuoteTimes(&q.Lines[0]).Text(nil),
				ask.QuoteCost(&q).Text(nil)}
		},
		headline: func(a map[string]any) []string {
			var q book.Quote
			into(d.t, a, &q)
			return []string{q.Net.StringFixed(2) + " " + q.Currency}
		},
		more: func(t *testing.T, d *demoServed, a *answers) { d.sameQuote(t, a) },
	}, {
		name: "run sheet", of: []string{"RunSheet"}, command: d.shop("runsheet", "1001"), get: "/orders/1001/runsheet",
		page:   "/orders/1001/runsheet?line=1&machine=" + lot.MachineID,
		tables: map[string][]string{"colours": nil, "thread": nil},
		shown:  d.onSheet,
		headline: func(a map[string]any) []string {
			speed := words.Whole(int(a["speed"].(float64))).Text(nil) + " stitches/min"
			return []string{seconds(a, "run_seconds"), speed, seconds(a, "total_seconds")}
		},
		not: map[string]string{"csv": "it is for the floor; its tables are CSV on the page", "xlsx": noWorkbook},
		more: func(t *testing.T, d *demoServed, a *answers) {
			files, _ := d.wrote(d.shop("runsheet", "1001"), "runsheet.pdf")
			for _, root := range []string{"", "/api/v1"} {
				d.sameFiles(files, root+"/orders/1001/", strings.NewReplacer())
			}
			for _, args := range [][]string{{"runsheet", "1001"}, {"order", "list"}, {"order", "show", "1001"}} {
				said, errs, code := invoke(t, d.shop(args...)...)
				if day := isoDay.FindString(said); code != exitOK || day != "" {
					t.Errorf("%v: status %d, %s; it says %q, a day as files have it", args, code, errs, day)
				}
			}
			paper := readback.PDF(t, files["runsheet.pdf"])
			for _, s := range d.onSheet(a.json) {
				if !says(paper, s) {
					t.Errorf("the run sheet on paper does not say %q: %s", s, paper)
				}
			}
			for _, row := range rowsOf(a.body, "colours") {
				if !inOrder(paper, row) {
					t.Errorf("the run sheet on paper has no row %q", row)
				}
			}
		},
	}}
}

// isoDay is a day as files and keys have it; people read 5 Mar 2026.
var isoDay = regexp.MustCompile(`\b\d{4}-\d\d-\d\d`)

// onSheet is what a run sheet says wherever it is read.
func (d *demoServed) onSheet(a map[string]any) (all []string) {
	var r book.RunSheet
	into(d.t, a, &r)
	zone, err := words.LoadZone(shopsZone)
	if err != nil {
		d.t.Fatal(err)
	}
	all = append(all, r.Machine, r.Design, words.Seconds(r.RunSeconds).Text(nil), words.Clock(r.Low).Text(nil),
		words.Clock(r.High).Text(nil), words.Seconds(r.Total).Text(nil), words.Whole(r.Speed).Text(nil), r.SpeedWhy.Text(nil),
		zone.ClockAt(r.Planned).Text(nil), zone.ClockAt(r.Done).Text(nil))
	for _, m := range slices.Concat(ask.RunSheetChanges(&r)) {
		all = append(all, m.Text(nil))
	}
	for _, c := range r.Cautions {
		all = append(all, c.Text(nil))
	}
	return all
}

// sameQuote reads the papers of a kept quote and of the same one tried again.
func (d *demoServed) sameQuote(t *testing.T, a *answers) {
	t.Helper()
	var tried book.Quote
	into(t, a.json, &tried)
	at := "/orders/" + quotedOrder + "/quotes/" + d.quote.ID
	files, out := d.wrote(d.shop(append([]string{"quote", quotedOrder, "--try", "--csv"}, quoteTerms...)...), "quote.pdf", "quote.xlsx")
	a.said["csv"], files["quote.csv"] = out, []byte(out)
	for _, root := range []string{"", "/api/v1"} {
		d.sameFiles(files, root+at+"/", strings.NewReplacer(tried.Serial, d.quote.Serial))
	}
	sheet, paper := columnsIn(readback.XLSX(t, files["quote.xlsx"])[0].Rows), readback.PDF(t, files["quote.pdf"])
	line := &tried.Lines[0]
	var prices []string
	for _, step := range line.Steps {
		prices = append(prices, step.Price.String())
		if !says(paper, step.Price.StringFixed(2)) {
			t.Errorf("the paper has no price of %s: %s", step.Price.StringFixed(2), paper)
		}
	}
	if csv := columnsOf(t, out, nil)["price"]; !slices.Equal(csv, prices) || !slices.Equal(sheet["price"], prices) {
		t.Errorf("the prices are %s, in CSV %s, in the workbook %s", prices, csv, sheet["price"])
	}
	for _, s := range []string{
		tried.Discount.StringFixed(2), tried.Deposit.StringFixed(2), tried.Net.StringFixed(2), tried.Gross.StringFixed(2), line.Sum.StringFixed(2), tried.Customer,
	} {
		if !says(paper, s) {
			t.Errorf("the quote on paper does not say %q: %s", s, paper)
		}
	}
	page := pageText(string(d.file(at)))
	for _, m := range ask.QuoteDay(&tried) {
		if !says(paper, m.Text(nil)) {
			t.Errorf("the quote on paper does not say %q: %s", m.Text(nil), paper)
		}
		if !says(page, m.Text(nil)) {
			t.Errorf("the kept quote's page does not say %q", m.Text(nil))
		}
	}
}
