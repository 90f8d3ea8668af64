package act_test

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/book"
)

// A price is made from the design, the goods and what the shop has set: the hour,
// the other orders and the plan do not move it, and lines of one design cost less
// each the more pieces they are.
func TestPricesStandStill(t *testing.T) {
	b := fresh(t)
	quantities := []int{112, 147, 182, 24, 23, 7, 6}
	var lines []book.OrderLine
	for _, n := range quantities {
		lines = append(lines, book.OrderLine{DesignID: b.designs["wheel-badge.dst"], Quantity: n})
	}
	o, _, err := b.AddOrder(bg, book.Order{Customer: "Gull", Weight: 1, Lines: lines}, "")
	if err != nil {
		t.Fatal(err)
	}
	caps := b.order(t, "gull-cap.dst", 24, "", book.Requested)
	prices := func() (out []string) {
		t.Helper()
		for _, id := range []string{o.ID, caps.ID} {
			q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: id})
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range q.Lines {
				out = append(out, fmt.Sprintf("%d at %s, cost %s on %s", l.Quantity, l.Price, l.Cost, l.Machine))
			}
		}
		return out
	}
	before := prices()
	b.at = b.at.Add(26 * time.Hour)
	for i, f := range []string{"ostrel-light.dst", "harbour-jacket-back.dst", "gull-cap.dst"} {
		b.order(t, f, 200+100*i, "2026-03-06", book.Agreed)
	}
	b.plan(t)
	b.at = b.at.Add(3 * time.Hour)
	if after := prices(); !slices.Equal(before, after) {
		t.Errorf("a day later, with a full plan:\n%s\nbefore:\n%s", strings.Join(after, "\n"), strings.Join(before, "\n"))
	}
	q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	by := slices.Clone(q.Lines)
	slices.SortFunc(by, func(x, y book.QuoteLine) int { return x.Quantity - y.Quantity })
	for i := 1; i < len(by); i++ {
		if by[i].Price.GreaterThan(by[i-1].Price) {
			t.Errorf("%d pieces at %s, %d at %s", by[i-1].Quantity, by[i-1].Price, by[i].Quantity, by[i].Price)
		}
	}
}

// A price hangs on when the shop is open and who is there, and not on how that is written:
// neither on which shift stands first nor on a break that makes two of one.
func TestPricesHangOnTheWeekAndNotOnItsTables(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 144, "", book.Requested)
	demo, err := os.ReadFile("../demo/orders/WORKSHOP.toml")
	if err != nil {
		t.Fatal(err)
	}
	at := strings.Index(string(demo), "[[shift]]")
	shifts := string(demo[at:strings.Index(string(demo), "[[down]]")])
	table := func(days, from, to, operators string) string {
		return fmt.Sprintf("[[shift]]\ndays = [%s]\nfrom = %q\nto = %q\noperators = %s\n\n", days, from, to, operators)
	}
	week := `"mon", "tue", "wed", "thu", "fri"`
	morning, afternoon := table(week, "07:00", "11:30", "2"), table(week, "12:00", "15:30", "2")
	price := func(written string) decimal.Decimal {
		t.Helper()
		b.workshop(t, shifts, written)
		q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID})
		if err != nil {
			t.Fatal(err)
		}
		return q.Lines[0].Cost
	}
	was := price(shifts)
	for what, written := range map[string]string{
		"afternoon first": afternoon + morning,
		"one shift":       table(week, "07:00", "15:00", "2"),
		"three":           afternoon + table(week, "07:00", "09:00", "2") + table(week, "09:00", "11:30", "2"),
		"one person each": table(week, "07:00", "15:00", "1") + table(week, "07:00", "15:00", "1"),
	} {
		if is := price(written); !is.Equal(was) {
			t.Errorf("%s: a piece costs %s, was %s", what, is, was)
		}
	}
	saturday := table(`"sat"`, "07:00", "09:00", "1")
	first, last := price(saturday+morning+afternoon), price(morning+afternoon+saturday)
	if !first.Equal(last) || first.Sub(was).Abs().GreaterThan(was.Mul(decimal.New(4, -2))) {
		t.Errorf("with two hours on Saturdays a piece costs %s, or %s where they stand last; without them %s", first, last, was)
	}
	// As many hours with three people as with one: what it costs lies between both, and is
	// neither the first table's nor the largest crew's.
	one, three := price(table(week, "07:00", "15:00", "1")), price(table(week, "07:00", "15:00", "3"))
	both := price(table(week, "07:00", "11:00", "3") + table(week, "11:00", "15:00", "1"))
	if low, high := decimal.Min(one, three), decimal.Max(one, three); !both.GreaterThan(low) || !both.LessThan(high) {
		t.Errorf("half of the day with three and half with one: %s; with one %s, with three %s", both, one, three)
	}
	half, two := price(table(week, "07:00", "15:00", "2.5")), price(table(week, "07:00", "15:00", "2"))
	if low, high := decimal.Min(two, three), decimal.Max(two, three); !half.GreaterThan(low) || !half.LessThan(high) {
		t.Errorf("with two and a half: %s; with two %s, with three %s", half, two, three)
	}
}

// The shop's standard may be one machine, or a mix with given shares; a machine
// asked for by hand goes before both, and then every figure is that machine's.
func TestTheStandardIsASetting(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 48, "", book.Requested)
	quote := func(machine string) *ask.PricedOrder {
		t.Helper()
		q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, Machine: machine})
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	mixed := quote("")
	if l := mixed.Lines[0]; len(l.Mix) != 3 || l.Heads != l.Mix[0].Heads || l.Mix[0].Machine != "Six Sisters" {
		t.Fatalf("the mix is %+v", l.Mix)
	}
	// The mix is its machines, each weighed by its part.
	cost, run := decimal.Zero, 0.0
	for _, m := range mixed.Lines[0].Mix {
		one := quote(m.MachineID)
		l := &one.Lines[0]
		if len(l.Mix) != 1 || l.Machine != m.Machine || l.Run != m.Run || l.Piece != m.Piece || l.Heads != m.Heads {
			t.Errorf("by hand on %s: %+v, in the mix %+v", m.Machine, l, m)
		}
		pieces := float64(l.Quantity)
		if m.Heads == 1 && (one.Hours < l.Piece*pieces/3600 || one.Hours > l.Piece*pieces/3600+1) {
			t.Errorf("48 pieces of %v s on %s are %v machine hours", l.Piece, m.Machine, one.Hours)
		}
		cost = cost.Add(l.Cost.Mul(m.Part))
		run += l.Run * m.Part.InexactFloat64()
	}
	if l := mixed.Lines[0]; l.Cost.Sub(cost).Abs().GreaterThan(decimal.New(1, -9)) || run-l.Run > 1e-9 || l.Run-run > 1e-9 {
		t.Errorf("the mix costs %s and runs %v s; its machines weighed: %s, %v s", l.Cost, l.Run, cost, run)
	}
	gannet := quote(b.m["Gannet"])
	b.workshop(t, "quote_valid_days = 30", "quote_valid_days = 30\nquote_standard = \"gannet\"")
	if q := quote(""); !q.Lines[0].Cost.Equal(gannet.Lines[0].Cost) || q.Lines[0].Machine != "Gannet" {
		t.Errorf("with Gannet as the standard: %s on %s; by hand it is %s", q.Lines[0].Cost, q.Lines[0].Machine, gannet.Lines[0].Cost)
	}
	if q := quote(b.m["Skipper"]); q.Lines[0].Machine != "Skipper" {
		t.Errorf("by hand on Skipper: %s", q.Lines[0].Machine)
	}
	b.workshop(t, "name = \"Skipper\"\n", "name = \"Skipper\"\nusual_share_percent = 40\n")
	for _, m := range quote("").Lines[0].Mix {
		if m.Machine == "Skipper" && !m.Part.Equal(decimal.New(4, -1)) {
			t.Errorf("Skipper's share is given as 40 %%, priced with %s", m.Part)
		}
	}
}

// A machine without prices stops no quote: it is left out by name.
func TestAMachineWithoutPricesIsLeftOut(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 48, "", book.Requested)
	demo, err := os.ReadFile("../demo/orders/WORKSHOP.toml")
	if err != nil {
		t.Fatal(err)
	}
	without := func(names ...string) {
		t.Helper()
		var replace []string
		for _, n := range names {
			table := regexp.MustCompile(`(?s)\[money\.machines\."?` + n + `"?\][^\[]*`).FindString(string(demo))
			replace = append(replace, table, "")
		}
		b.workshop(t, replace...)
	}
	without("Six Sisters")
	q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	if len(q.Lines[0].Mix) != 2 || !slices.Equal(q.Unpriced, []string{"Six Sisters"}) || !strings.Contains(q.Caveats.Text(nil), "Six Sisters") {
		t.Errorf("priced on %+v, unpriced %q, said: %s", q.Lines[0].Mix, q.Unpriced, q.Caveats.Text(nil))
	}
	lines := []book.OrderLine{{DesignID: b.designs["wheel-badge.dst"], Quantity: 24}, {DesignID: b.designs["gull-cap.dst"], Quantity: 12},
		{DesignID: b.designs["larkess-ferry.dst"], Quantity: 12}}
	lines[1].CapFrame = true // Six Sisters has no cap frame
	many, _, err := b.AddOrder(bg, book.Order{Customer: "C", Weight: 1, State: book.Requested, Lines: lines}, "")
	if err != nil {
		t.Fatal(err)
	}
	if q, err = b.MakeQuote(bg, ask.QuoteQuestion{Order: many.ID}); err != nil || strings.Count(q.Caveats.Text(nil), "priced without") != 1 ||
		!strings.Contains(q.Caveats.Text(nil), "Line 1 and 3: priced without Six Sisters") {
		t.Errorf("of three lines it is said: %s, %v", q.Caveats.Text(nil), err)
	}
	if _, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, Machine: b.m["Six Sisters"]}); err == nil || !strings.Contains(err.Error(), "Six Sisters") {
		t.Errorf("by hand on a machine without prices: %v", err)
	}
	without("Six Sisters", "Gannet", "Skipper")
	if _, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID}); err == nil || !strings.Contains(err.Error(), "Gannet, Six Sisters and Skipper") {
		t.Errorf("with no prices of any machine: %v", err)
	}
}
