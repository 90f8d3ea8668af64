package act_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// One piece, or one day, decides: each of these was a mistake that no test saw.
func TestOnePieceOrOneDayDecides(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "wheel-badge.dst", 20, "2026-03-20", book.Agreed)
	report := func(good, spoilt int, day words.Day) (*act.Recorded, error) {
		return b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: good, Spoilt: spoilt, Day: day, Breaks: -1}, act.Recording{}, "")
	}
	today := words.Zone{}.Day(b.at)
	if _, err := report(21, 0, today); shop.ErrorOf(err) == nil || shop.ErrorOf(err).Key != "over" {
		t.Errorf("one piece more than is left is taken without a question: %v", err)
	}
	if _, err := report(1, 0, today.Add(1)); shop.ErrorOf(err) == nil || shop.ErrorOf(err).Key != "day" {
		t.Errorf("a report of tomorrow: %v", err)
	}
	spoilt, err := report(0, 2, today.Add(-1))
	if err != nil || spoilt.Order.State != book.Sewing {
		t.Fatal(err, spoilt)
	}
	// A day that a correction does not say stays; who spoilt a piece has begun.
	again, err := b.Correct(bg, o.ID, spoilt.Report.ID, book.Report{MachineID: b.m["Gannet"], Spoilt: 1, Breaks: -1}, act.Recording{}, "")
	if err != nil || again.Report.Day != today.Add(-1) || again.Order.State != book.Sewing {
		t.Errorf("corrected: %v, day %v for %v, %v", err, again.Report.Day, today.Add(-1), again.Order.State)
	}
	// What the customer has cannot be fewer than were good.
	good, err := report(20, 0, today)
	if err != nil || good.Order.State != book.Sewn {
		t.Fatal(err)
	}
	part, _, err := b.Deliver(bg, book.HandOver{OrderID: o.ID, Line: 1, Pieces: 19}, 0, "")
	if err != nil || part.State != book.Sewn {
		t.Errorf("of 20 sewn 19 are delivered: %v, the order is %s", err, part.State)
	}
	fewer := book.Report{MachineID: b.m["Gannet"], Good: 18, Breaks: -1}
	if _, err := b.Correct(bg, o.ID, good.Report.ID, fewer, act.Recording{}, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("18 good pieces where the customer has 19: %v", err)
	}
	fewer.Good = 19
	if x, err := b.Correct(bg, o.ID, good.Report.ID, fewer, act.Recording{}, ""); err != nil || x.Order.State != book.Sewing {
		t.Errorf("19 good pieces where the customer has 19: %v", err)
	}
}

// A design on two lines is digitized once.
func TestADesignOnTwoLinesIsDigitizedOnce(t *testing.T) {
	b := fresh(t)
	line := book.OrderLine{DesignID: b.designs["gull-cap.dst"], Quantity: 12, Digitize: true}
	q, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: b.lines(t, "2026-03-20", book.Requested, line, line).ID})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, f := range q.Fees {
		if f.Kind == book.DigitizingFee {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d fees for digitizing: %+v", n, q.Fees)
	}
}

// What a job costs is held against the newest quote.
func TestWhatIsDearIsHeldAgainstTheNewestQuote(t *testing.T) {
	b := fresh(t)
	o, first := b.quotedFor(t, "saltmere-oars.dst", 216, "2026-03-20", "Six Sisters", ask.QuoteAgreed{})
	b.plan(t)
	if a := b.dear(t); len(a.Rows) != 1 {
		t.Fatalf("on Gannet: %+v", a.Rows)
	}
	b.at = b.at.Add(time.Hour)
	newer, err := b.KeepQuote(bg, ask.QuoteQuestion{Now: b.at, Order: o.ID, Machine: b.m["Gannet"]}, nil, "")
	if err != nil || newer.Lines[0].Cost.Equal(first.Lines[0].Cost) {
		t.Fatal(err, "the quotes cost the same")
	}
	b.plan(t)
	if a := b.dear(t); len(a.Rows) != 0 {
		t.Errorf("quoted on Gannet since, and sewn there: %+v", a.Rows)
	}
	b.at = b.at.Add(time.Hour)
	last, err := b.KeepQuote(bg, ask.QuoteQuestion{Now: b.at, Order: o.ID, Machine: b.m["Six Sisters"], QuoteAgreed: ask.QuoteAgreed{Discount: decimal.NewFromInt(10)}}, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	b.plan(t)
	want := last.Lines[0].Sum.Mul(decimal.RequireFromString("0.9"))
	if a := b.dear(t); len(a.Rows) != 1 || a.Rows[0].Price.Sub(want).Abs().GreaterThan(decimal.RequireFromString("0.02")) {
		t.Errorf("quoted again at %s: %+v", want, a.Rows)
	}
}

// A machine is named as cheaper only where it saves more than a twentieth.
func TestACheaperMachineSavesATwentieth(t *testing.T) {
	b := fresh(t)
	for _, file := range []string{"saltmere-oars.dst", "wheel-badge.dst", "chowder-patch.dst", "gull-cap.dst", "crew-names.dst", "whale-line.dst"} {
		for _, pieces := range []int{1, 7, 60} {
			b.quotedFor(t, file, pieces, "2026-03-20", "Six Sisters", ask.QuoteAgreed{})
		}
	}
	b.plan(t)
	named := 0
	for _, r := range b.dear(t).Rows {
		if r.To == "" {
			continue
		}
		named++
		if saves, of := r.Saves.InexactFloat64(), r.Planned.InexactFloat64(); saves < .05*of-.011 {
			t.Errorf("%s: %s would save %.2f of %.2f", r.Name, r.To, saves, of)
		}
	}
	if named == 0 {
		t.Error("no cheaper machine was named")
	}
}
