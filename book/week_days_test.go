package book_test

import (
	"testing"

	"github.com/shopspring/decimal"

	"needlepace/book"
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
