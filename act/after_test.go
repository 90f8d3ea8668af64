package act_test

import (
	"math"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
)

// Jobs that are done stand against their quotes, and the parts of the time that
// was not quoted sum up to it, whatever they are summed up by.
func TestAfterTheJobTheTimeBeyondTheQuoteIsExplained(t *testing.T) {
	b := fresh(t)
	sew := func(file string, quantity int, machine string, report book.Report, longer float64) *book.Order {
		t.Helper()
		o := b.order(t, file, quantity, "", book.Agreed)
		if _, err := b.KeepOneQuote(o.ID, ""); err != nil {
			t.Fatal(err)
		}
		report.OrderID, report.Line, report.MachineID = o.ID, 1, b.m[machine]
		x, err := b.Record(bg, report, act.Recording{}, "")
		if err != nil {
			t.Fatal(err)
		}
		r := x.Report
		r.Seconds = longer * r.Predicted
		if _, err := b.Correct(bg, o.ID, r.ID, r, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
		return o
	}
	slow := sew("ostrel-light.dst", 60, "Gannet", book.Report{Good: 60, Spoilt: 2, Breaks: 30, SetSpeed: 600}, 1.3)
	sew("gull-cap.dst", 40, "Skipper", book.Report{Good: 40, Breaks: 0}, 0.9)
	sew("whale-line.dst", 12, "Gannet", book.Report{Good: 6, Breaks: -1}, 2) // not done yet
	near := func(a, b float64) bool { return math.Abs(a-b) < 1e-6*math.Max(1, math.Abs(b)) }
	for _, by := range ask.AfterBy {
		a, err := ask.After(bg, b.Asked(), ask.AfterQuestion{By: by})
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Rows) == 0 || len(a.Rows) > 2 || a.Untimed != 0 || a.Unquoted != 0 || a.All.Pieces != 100 {
			t.Errorf("by %s: %+v", by, a)
		}
		var sum ask.AfterRow
		for _, r := range append(a.Rows, a.All) {
			if parts := r.Spoilt + r.Machine + r.Breaks + r.Speed + r.Loading; !near(parts, r.Over()) {
				t.Errorf("by %s, %s: the parts are %v s, not quoted were %v s", by, r.Name, parts, r.Over())
			}
			sum.Sewn, sum.Quoted = sum.Sewn+r.Sewn, sum.Quoted+r.Quoted
		}
		if !near(sum.Sewn, 2*a.All.Sewn) || !near(sum.Quoted, 2*a.All.Quoted) {
			t.Errorf("by %s: the rows sum up to %v and %v, all is %+v", by, sum.Sewn-a.All.Sewn, sum.Quoted-a.All.Quoted, a.All)
		}
	}
	a, err := ask.After(bg, b.Asked(), ask.AfterQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	quotes, err := b.Plans.Quotes(bg, slow.ID)
	if err != nil {
		t.Fatal(err)
	}
	reports, err := b.Orders.Reports(bg, slow.ID)
	if err != nil {
		t.Fatal(err)
	}
	r, x, line := &reports[1], &a.Rows[0], &quotes[0].Lines[0]
	if x.Quoted != 60*line.Piece || x.Sewn != r.Seconds || x.Spoilt != 2*line.Piece ||
		!near(x.Breaks, 30*r.Usual.Break-r.Usual.Breaks) || !(x.Breaks > 0) || !(x.Speed > 0) {
		t.Errorf("the slow job: %+v of %+v, quoted %v s a piece", x, r, line.Piece)
	}
	if !x.Came.GreaterThan(x.Cost) == (x.Over() > 0) || !(x.Margin() < x.QuotedMargin()) == (x.Over() > 0) {
		t.Errorf("its cost came to %s, quoted were %s; the margin is %v of %v", x.Came, x.Cost, x.Margin(), x.QuotedMargin())
	}
	if len(a.Verdict) == 0 || len(a.Table().Rows) != 2 || a.Table().Foot == nil {
		t.Errorf("it says %v", a.Verdict.Text(nil))
	}
	if _, err := ask.After(bg, b.Asked(), ask.AfterQuestion{By: "moon"}); err == nil {
		t.Error("summed up by the moon")
	}
}
