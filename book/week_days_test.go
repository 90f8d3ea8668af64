package book_test

import (
	"testing"

	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

// What is expected today may still come today; what was expected yesterday comes tomorrow at the earliest. A partner's line that
// is to be back today is not late. Days by the calendar, from a Tuesday.
func TestWhatIsExpectedTodayIsNotLate(t *testing.T) {
	today := words.NewDay(2026, 3, 10)
	yesterday, tomorrow := today.Add(-1), today.Add(1)
	for _, c := range []struct{ day, from, late words.Day }{{yesterday, tomorrow, yesterday}, {today, today, words.Day{}}, {tomorrow, tomorrow, words.Day{}}} {
		if from, late := (book.Approval{Due: c.day}).From(today); from != c.from || late != c.late {
			t.Errorf("approval expected %v: from %v, late %v; want %v, %v", c.day, from, late, c.from, c.late)
		}
		line := &book.OrderLine{Quantity: 12, LinePieces: book.LinePieces{Deliveries: []book.Delivery{{Day: c.day, Pieces: 12}}}}
		if b := line.GarmentBatches(words.Day{}, today); len(b) != 1 || b[0].From != c.from || b[0].Late != c.late {
			t.Errorf("garments expected %v: %+v", c.day, b)
		}
		at := (&book.OrderLine{Quantity: 12, LinePieces: book.LinePieces{Partner: book.Partner{Name: "P", Days: 4, Sent: c.day.Add(-4)}}}).AtPartner(words.Day{}, today)
		if at.Back != c.from || at.Late != c.late {
			t.Errorf("to be back from the partner %v: back %v, late %v; want %v, %v", c.day, at.Back, at.Late, c.from, c.late)
		}
	}
	if from, _ := (book.Approval{Due: yesterday, Given: tomorrow}).From(today); from != tomorrow {
		t.Errorf("approved as of tomorrow, it can be sewn from %v", from)
	}
	same := book.Approval{Due: today, Sent: today, Given: today}
	if err := same.Check(); err != nil {
		t.Errorf("sent and approved on one day: %v", err)
	}
	back := book.Partner{Name: "P", Days: 1, Sent: today, Back: today}
	if err := back.Check(); err != nil {
		t.Errorf("sent and back on one day: %v", err)
	}
	if none := (book.Partner{Name: "P"}); none.Check() == nil {
		t.Error("a partner who needs no days")
	}
}

// By hand: 40 pieces at 2.50, their set-up 8.00 apart, digitizing 30.00, together 138.00; less 10 % is 124.20, and 12.00 for the delivery makes
// a net of 136.20. 10 pieces and their part of the set-up: (100 + 8) × 10/40 × 0.9 = 24.30.
func TestWhatAQuoteAsksForAPartOfALine(t *testing.T) {
	d := decimal.RequireFromString
	line := book.QuoteLine{Quantity: 40, Price: d("2.50"), Sum: d("100"), Steps: []book.QuoteStep{{Quantity: 20, SetupFee: d("7")}, {Quantity: 40, Price: d("2.50"), SetupFee: d("8")}}}
	q := &book.Quote{Net: d("136.20"), Lines: []book.QuoteLine{line}}
	q.Discount, q.Delivery = d("13.80"), d("12")
	if got := q.Asked(&line, 10); !got.Equal(d("24.30")) {
		t.Errorf("10 of 40 pieces: %s, want 24.30", got)
	}
}

// By hand: three quarters on A, which holds a piece 100 s of which a plan reckons 60, a quarter on B, 200 s of which 160: of a
// piece's time 0.75 × 40 + 0.25 × 40 = 40 s are waiting. C, of which the quote says nothing, costs 4.00 less 0.75 × 100 s and 0.25 × 200 s of
// 36.00 an hour, which is 2.75 for its own hours to stand on, and is not known where one of the two has no prices.
func TestWhatAPieceWaitsAndCostsOnAMixOfMachines(t *testing.T) {
	d := decimal.RequireFromString
	line := book.QuoteLine{Cost: d("4"), Mix: []book.QuoteShare{{MachineID: "a", Part: d("0.75"), Piece: 100}, {MachineID: "b", Part: d("0.25"), Piece: 200}},
		Costs: []book.QuoteCost{{MachineID: "a", Planned: 60}, {MachineID: "b", Planned: 160}}}
	if got := line.Waiting(); got != 40 {
		t.Errorf("a piece waits %v s, by hand 40", got)
	}
	for dear, cost := range map[string]string{"": "2.75", "b": "", "a": ""} {
		got, ok := line.CostOn("c", func(id, _ string) money.Dec {
			if id == dear {
				return money.Dec{}
			}
			return d("36")
		})
		if ok != (cost != "") || ok && !got.Cost.Round(6).Equal(d(cost)) {
			t.Errorf("%q has no prices: on C it costs %s, known %v; by hand %s", dear, got.Cost, ok, cost)
		}
	}
}

// Nobody takes an agreed order to sewn by hand: the floor's reports do. A quoted one is in no plan.
func TestStatesThatNobodyPassesOver(t *testing.T) {
	way := map[book.OrderState]string{book.Agreed: "requested sewing withdrawn ", book.Sewn: "sewing delivered withdrawn ", book.Delivered: "sewn ", book.Withdrawn: "requested "}
	for state, want := range way {
		got := ""
		for _, s := range state.Next() {
			got += string(s) + " "
		}
		if got != want {
			t.Errorf("from %s to %q, want %q", state, got, want)
		}
	}
	for _, s := range book.OrderStates {
		if s.Planned() != (s == "agreed" || s == "sewing") {
			t.Errorf("%s is in the plan: %v", s, s.Planned())
		}
	}
}
