package ask

import (
	"strconv"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

// row is a row of a table as files have it, by the columns' keys.
func row(t *testing.T, table *Table, n int) map[string]string {
	t.Helper()
	all := table.CSV()
	if len(all) <= n+1 {
		t.Fatalf("%s: no row %d in %v", table.Key, n, all)
	}
	out := map[string]string{}
	for i, key := range all[0] {
		out[key] = all[n+1][i]
	}
	return out
}

// holds says what a row of a table should have, and nothing beside it.
func holds(t *testing.T, table *Table, n int, want map[string]string) {
	t.Helper()
	got := row(t, table, n)
	for key, v := range got {
		if w, ok := want[key]; !ok || v != w {
			t.Errorf("%s, row %d: %s is %q, want %q (there: %v)", table.Key, n, key, v, w, ok)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%s, row %d: %d columns, want %d", table.Key, n, len(got), len(want))
	}
}

// somePlan is a plan in which no two figures are alike; hour is what moves it.
func somePlan(t *testing.T, hour int) *book.Plan {
	t.Helper()
	zone, err := words.LoadZone("America/New_York") // four hours behind UTC in July
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, h, m int) time.Time { return time.Date(2026, 7, day, h+hour, m, 0, 0, time.UTC) }
	return &book.Plan{
		Zone: zone, From: at(1, 10, 0), Chance: .9, Complete: true,
		Lots: []book.PlanLot{{
			OrderID: "a", Number: 1003, Line: 2, Name: "1003/2", Customer: "Pellsand", Machine: "Skipper", Heads: 4,
			Quantity: 31, Runs: 8, Cones: 5, SetupFrom: at(1, 10, 30), From: at(1, 11, 0), To: at(1, 18, 15), Setup: 1800,
			Work: 27000, Held: true, Again: true,
		}, {Number: 1004, Line: 1, Name: "1004", Machine: "Gannet", Running: true, Late: true}},
		Ends: []book.LineEnd{{
			OrderID: "a", Number: 1003, Line: 2, Name: "1003/2", Customer: "Pellsand", Quantity: 31, Due: at(3, 21, 0),
			DueDay: words.NewDay(2026, 7, 3), End: at(4, 1, 30), Late: 16200, Day: words.NewDay(2026, 7, 6), OnTime: .25,
		}, {OrderID: "b", Number: 1004, Line: 1, Name: "1004", Quantity: 6, End: at(2, 12, 0), OnTime: -1,
			Day: words.NewDay(2026, 7, 7)}},
		PlanTotals: book.PlanTotals{Late: 1 + hour, LateHours: 4.5 + float64(hour), Done: at(4, 1, 30),
			WorkHours: 7.5 + float64(hour), SetupHours: .5 + float64(hour)},
		Hands: 1.2 + float64(hour),
	}
}

// Every column has its own figure, and every moment is by the shop's clocks.
func TestEveryColumnOfAPlanHasItsFigure(t *testing.T) {
	p := somePlan(t, 0)
	holds(t, LotTable(p), 0, map[string]string{
		"machine": "Skipper", "order": "1003", "line": "2", "customer": "Pellsand", "pieces": "31", "runs": "8", "heads": "4",
		"cones": "5", "set_up_from": "2026-07-01T06:30:00-04:00", "from": "2026-07-01T07:00:00-04:00",
		"to": "2026-07-01T14:15:00-04:00", "set_up_minutes": "30", "work_hours": "7.5", "running": "", "held": "yes",
		"late": "", "again": "yes",
	})
	if r := row(t, LotTable(p), 1); r["running"] != "yes" || r["held"] != "" || r["late"] != "yes" {
		t.Errorf("a lot that runs and is late: %v", r)
	}
	holds(t, DayTable(p), 0, map[string]string{
		"order": "1003", "line": "2", "customer": "Pellsand", "to_sew": "31", "due": "2026-07-03T17:00:00-04:00",
		"sewn_by_plan": "2026-07-03T21:30:00-04:00", "late_hours": "4.5", "chance_on_time": "0.25",
		"promise": "2026-07-06", "promise_chance": "0.9",
	})
	// People read days.
	if _, rows := DayTable(p).Shown(nil); rows[0][3] != "Fri 3 Jul" || rows[0][6] != "Mon 6 Jul" {
		t.Errorf("due and promised are shown as %q", rows[0])
	}
	if r := row(t, DayTable(p), 1); r["order"] != "1004" || r["due"] != "" || r["chance_on_time"] != "" ||
		r["promise"] != "2026-07-07" {
		t.Errorf("an order without a day: %v", r)
	}
}

// The side "before" is the plan as things are, "after" the one of the what-if.
func TestTheSidesOfAWhatIfStayTheirOwn(t *testing.T) {
	a := &PlanAnswer{Before: somePlan(t, 0), Plan: somePlan(t, 1), whatIf: true}
	a.Plan.Ends[0].OnTime = .125
	for i, want := range [][2]string{
		{"1", "2"}, {"4.5", "5.5"}, {"2026-07-03T21:30:00-04:00", "2026-07-03T22:30:00-04:00"}, {"7.5", "8.5"},
		{"0.5", "1.5"}, {"1.2", "2.2"},
	} {
		if r := row(t, a.BothTable(), i); r["before"] != want[0] || r["after"] != want[1] {
			t.Errorf("row %d: %v, want %v", i, r, want)
		}
	}
	holds(t, a.LineTable(), 0, map[string]string{
		"order": "1003", "customer": "Pellsand", "due": "2026-07-03", "before": "2026-07-03T21:30:00-04:00",
		"after": "2026-07-03T22:30:00-04:00", "on_time_before": "0.25", "on_time_after": "0.125",
	})
}

// What a piece costs the shop is never in the column of its price, and a fee
// never in that of a piece.
func TestPricesAndCostsOfAQuoteKeepTheirColumns(t *testing.T) {
	q := &book.Quote{Serial: "1003-1", Customer: "Pellsand", Currency: "EUR", TaxRate: "20",
		Net: money.Measured(200), Tax: money.Measured(40), Gross: money.Measured(240)}
	l := book.QuoteLine{Line: 2, Design: "whale", Placement: "left chest", Garment: "polo", Quantity: 12}
	for i, n := range []int{6, 12} {
		f := float64(i)
		l.Steps = append(l.Steps, book.QuoteStep{Quantity: n, Price: money.Measured(9 - f), Cost: money.Measured(5 - f),
			SetupFee: money.Measured(20 + f)})
	}
	q.Lines = []book.QuoteLine{l}
	for i, n := range []int{6, 12} {
		price, fee, cost := strconv.Itoa(9-i), strconv.Itoa(20+i), strconv.Itoa(5-i)
		holds(t, QuotePrices(q), i, map[string]string{
			"quote": "1003-1", "customer": "Pellsand", "line": "2", "design": "whale", "placement": "left chest",
			"garment": "polo", "ordered": "12", "quantity": strconv.Itoa(n), "price": price, "set_up_fee": fee,
			"currency": "EUR",
		})
		for _, costs := range []bool{false, true} {
			r := row(t, QuoteSteps(q, &l, costs), i)
			if r["pieces"] != strconv.Itoa(n) || r["price"] != price || r["set_up_fee"] != fee {
				t.Errorf("%d pieces: %v", n, r)
			}
			if is, ok := r["cost"]; ok != costs || costs && is != cost {
				t.Errorf("%d pieces, costs shown %v: %v", n, costs, r)
			}
		}
	}
	for i, want := range []string{"200", "40", "240"} {
		table := QuoteSum(q)
		if r := row(t, table, len(table.Rows)-3+i); r["eur"] != want {
			t.Errorf("%v, want %s", r, want)
		}
	}
}
