package act_test

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// kept is all that acts keep, to see that nothing half is left of a refused one.
type kept struct {
	Orders  []*book.Order
	History [][]book.Change
	Reports []book.Report
	Runs    []shop.Run
	Quotes  int
	Plan    *book.Plan
}

func (b *bench) kept(t *testing.T) (k kept) {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	var err error
	k.Orders, _, err = b.Orders.List(bg, shop.OrderQuery{Sort: "number"})
	must(err)
	for _, o := range k.Orders {
		h, err := b.Orders.History(bg, o.ID)
		must(err)
		k.History = append(k.History, h)
		q, err := b.Plans.Quotes(bg, o.ID)
		must(err)
		k.Quotes += len(q)
	}
	k.Reports, err = b.Orders.Reports(bg, "")
	must(err)
	for _, name := range []string{"Gannet", "Skipper", "Six Sisters"} {
		r, err := b.Timings.Runs(bg, b.m[name])
		must(err)
		k.Runs = append(k.Runs, r...)
	}
	k.Plan, err = b.Plans.Last(bg)
	must(err)
	return k
}

// refused does what must be a Conflict with words about what changed, of which
// nothing is kept.
func (b *bench) refused(t *testing.T, what, words string, do func() error) {
	t.Helper()
	before := b.kept(t)
	err := do()
	if shop.CodeOf(err) != shop.Conflict || !strings.Contains(err.Error(), words) {
		t.Errorf("%s: %v; want a conflict about %q", what, err, words)
	}
	if diff := cmp.Diff(before, b.kept(t)); diff != "" {
		t.Errorf("%s was refused and left (-before +after):\n%s", what, diff)
	}
}

// between is a store in which something happens before an order is read for the n-th time.
type between struct {
	shop.Store
	reads, n int
	happens  func()
}

func (s *between) Order(ctx context.Context, id string) (*book.Order, error) {
	if s.reads++; s.reads == s.n {
		s.happens()
	}
	return s.Store.Order(ctx, id)
}

// An order that is changed while its quote is made is not quoted as it was, and nothing of the other one's is lost.
func TestAnOrderThatChangesWhileItIsQuotedIsNot(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-03-20", book.Requested)
	store := &between{Store: b.orders.(shop.Store), n: 2, happens: func() { // the first reading is the quote's own
		x, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		x.Lines[0].Quantity = 70
		if _, _, err := b.ChangeOrder(bg, *x, "Ann"); err != nil {
			t.Fatal(err)
		}
	}}
	_, err := act.New(store, act.Options{Now: func() time.Time { return b.at }}).KeepQuote(bg, ask.QuoteQuestion{Now: b.at, Order: o.ID}, nil, "Ben")
	quotes, err2 := b.Plans.Quotes(bg, o.ID)
	is, err3 := b.Orders.Get(bg, o.ID)
	if shop.CodeOf(err) != shop.Conflict || err2 != nil || err3 != nil || len(quotes) > 0 || is.Lines[0].Quantity != 70 || is.State != book.Requested {
		t.Fatalf("%v, %v, %v, %d quotes, %+v", err, err2, err3, len(quotes), is)
	}
}

// Two people look at the same price. One keeps it; the other is told that what
// it was made from has changed, whatever it was.
func TestAQuoteIsKeptOnlyAsItWasSeen(t *testing.T) {
	b := fresh(t)
	other := b.order(t, "ostrel-light.dst", 100, "2026-03-20", book.Agreed)
	b.plan(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-03-20", book.Requested)
	look := func() *ask.PricedOrder {
		t.Helper()
		a, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	keep := func(seen book.Seen) error {
		_, err := b.Shop.KeepQuote(bg, ask.QuoteQuestion{Now: b.at, Order: o.ID}, &seen, "Ben")
		return err
	}
	for _, c := range []struct {
		words  string
		change func() error
	}{
		{"the workshop", func() error { b.workshop(t, "quote_valid_days = 30", "quote_valid_days = 29"); return nil }},
		{"the machines", func() error {
			m, err := b.Machines.Get(bg, b.m["Gannet"])
			if err != nil {
				return err
			}
			m.Sheet.MaxSpeed -= 10
			_, err = b.Machines.ChangeSheet(bg, m.ID, m.Version, string(m.Sheet.TOML()), "", "")
			return err
		}},
		{"the plan", func() error { b.plan(t); return nil }},
		{"what the floor reported", func() error {
			_, err := b.Record(bg, book.Report{OrderID: other.ID, Line: 1, MachineID: b.m["Gannet"], Good: 1, Breaks: -1}, act.Recording{}, "")
			return err
		}},
		{"the orders in the plan", func() error {
			_, err := b.Orders.Move(bg, other.ID, 0, book.Withdrawn, "", "")
			return err
		}},
		{"the order", func() error {
			k, err := b.Orders.Get(bg, o.ID)
			if err == nil {
				k.Note = "mind the seam"
				_, _, err = b.ChangeOrder(bg, *k, "")
			}
			return err
		}},
	} {
		seen := look().Seen
		if err := c.change(); err != nil {
			t.Fatalf("%s: %v", c.words, err)
		}
		b.refused(t, "a quote after a change of "+c.words, c.words, func() error { return keep(seen) })
	}
	seen := look().Seen
	if err := keep(seen); err != nil {
		t.Fatalf("the first of two: %v", err)
	}
	b.refused(t, "the second of two", "the order", func() error { return keep(seen) })
	// What came back in a form is what went out.
	var back book.Seen
	if err := back.UnmarshalText([]byte(seen.String())); err != nil || back != seen {
		t.Errorf("%v came back as %v, %v", seen, back, err)
	}
	for _, bad := range []string{"x", "o1-p_-w1-m_-l1", "o1-p_-w1-m_-l1-rx"} {
		if err := back.UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("%q was read as %v", bad, back)
		}
	}
}

func TestOfTwoAtTheSameTimeOneIsTold(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-03-20", book.Agreed)
	p := b.order(t, "whale-line.dst", 40, "2026-03-20", book.Agreed)
	q := b.order(t, "chowder-patch.dst", 40, "2026-03-20", book.Requested)
	b.plan(t)
	for what, do := range map[string]func() error{
		"a plan":  func() error { _, err := b.MakePlan(bg, ask.PlanQuestion{Moves: 2000, NoBound: true}, ""); return err },
		"a quote": func() error { _, err := b.KeepOneQuote(q.ID, ""); return err },
	} {
		before := b.kept(t)
		errs := make([]error, 2)
		var wg sync.WaitGroup
		for i := range errs {
			wg.Go(func() { errs[i] = do() })
		}
		wg.Wait()
		after := b.kept(t)
		done := 0
		for _, err := range errs {
			switch shop.CodeOf(err) {
			case "":
				done++
			case shop.Conflict:
			default:
				t.Errorf("%s: %v", what, err)
			}
		}
		plans, quotes := after.Plan.Version-before.Plan.Version, after.Quotes-before.Quotes
		if done == 0 || plans+quotes != done {
			t.Errorf("%s twice: %v; kept %d plans and %d quotes", what, errs, plans, quotes)
		}
	}
	// One machine, two lines, at the same time.
	for range 5 {
		errs := make([]error, 2)
		var wg sync.WaitGroup
		for i, id := range []string{o.ID, p.ID} {
			wg.Go(func() { _, errs[i] = b.Start(bg, id, 1, b.m["Gannet"], 0, "", "") })
		}
		wg.Wait()
		on := 0
		for _, x := range b.kept(t).Orders {
			for _, h := range x.Lines[0].Holds {
				if h.Running && h.MachineID == b.m["Gannet"] {
					on++
				}
			}
		}
		if on != 1 || (errs[0] == nil) == (errs[1] == nil) {
			t.Fatalf("%d lines are on one machine; %v", on, errs)
		}
		for _, id := range []string{o.ID, p.ID} {
			if _, err := b.Orders.Release(bg, id, 1, ""); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func TestAMoveIsHeldOnlyAsItWasSeen(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 200, "2026-03-04", book.Agreed)
	b.order(t, "saltmere-oars.dst", 200, "2026-03-04", book.Agreed)
	b.plan(t)
	cost, err := b.MoveCost(bg, o.ID, 1, "", b.m["Skipper"], -1)
	if err != nil {
		t.Fatal(err)
	}
	hold := func() error {
		_, err := b.Shop.HoldLine(bg, act.HoldQuestion{
			Order: o.ID, Line: 1, Machine: b.m["Skipper"], At: cost.From, Saw: &cost.Seen,
		}, "Ben")
		return err
	}
	b.plan(t)
	b.refused(t, "a move of an older plan", "the plan", hold)
	if cost, err = b.MoveCost(bg, o.ID, 1, "", b.m["Skipper"], -1); err != nil {
		t.Fatal(err)
	}
	if err := hold(); err != nil {
		t.Fatal(err)
	}
	b.refused(t, "the same move again", "the orders in the plan", hold)
}

func TestAnAcceptedQuoteIsAgreedAsItWasMade(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-04-20", book.Requested)
	q, err := b.KeepOneQuote(o.ID, "Maud")
	if err != nil {
		t.Fatal(err)
	}
	accept := func(version int) error {
		_, err := b.Shop.AcceptQuote(bg, o.ID, q.ID, version, false, "Ada")
		return err
	}
	b.refused(t, "the order as it was before the quote", "the order", func() error { return accept(1) })
	if _, err := b.Shop.AcceptQuote(bg, o.ID, "nope", 0, false, ""); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("no such quote: %v", err)
	}
	now, err := b.Orders.Get(bg, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	now.Lines[0].Quantity = 41
	if _, _, err := b.ChangeOrder(bg, *now, ""); err != nil {
		t.Fatal(err)
	}
	b.refused(t, "a quote for another quantity", "asks for other goods", func() error { return accept(0) })
	now.Version, now.Lines[0].Quantity = now.Version+1, 40
	if _, _, err := b.ChangeOrder(bg, *now, ""); err != nil {
		t.Fatal(err)
	}
	at := b.at
	b.at = at.AddDate(0, 0, 31)
	if err := accept(0); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "was valid to "+q.Valid.String()) {
		t.Errorf("a quote that is no longer valid: %v", err)
	}
	b.at = at.AddDate(0, 0, 30)
	if err := accept(0); err != nil {
		t.Fatalf("on its last day: %v", err)
	}
	after, err := b.Orders.Get(bg, o.ID)
	if err != nil || after.State != book.Agreed || after.Promised != q.Promise {
		t.Errorf("%+v, %v; want it agreed for %s", after, err, q.Promise)
	}
}

func TestAPromiseIsThePlansDayAndStays(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 60, "2026-03-03", book.Agreed)
	p := b.plan(t).Plan
	seen, err := b.Asked().Seen(bg)
	if err != nil {
		t.Fatal(err)
	}
	b.plan(t)
	b.refused(t, "a promise of an older plan", "the plan", func() error {
		_, err := b.Shop.KeepPromise(bg, o.ID, &book.Seen{Plan: seen.Plan}, "")
		return err
	})
	got, err := b.Shop.KeepPromise(bg, o.ID, nil, "Ada")
	if err != nil || got.Promised != p.Ends[0].Day || !got.Promised.After(words.NewDay(2026, 3, 3)) {
		t.Errorf("promised %+v, %v; the plan has %+v", got, err, p.Ends)
	}
	if again, err := b.Shop.KeepPromise(bg, o.ID, nil, "Ada"); err != nil || again.Version != got.Version {
		t.Errorf("the same day again changed the order: %+v, %v", again, err)
	}
	// Where the wanted day can be kept it is promised, as a quote does, though the plan has it sewn before.
	early := b.order(t, "gull-cap.dst", 4, "2026-03-20", book.Agreed)
	b.plan(t)
	asked, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: early.ID})
	if err != nil {
		t.Fatal(err)
	}
	if got, err = b.Shop.KeepPromise(bg, early.ID, nil, ""); err != nil || got.Promised != early.Due || got.Promised != asked.Promise {
		t.Errorf("promised %s, %v; asked for it alone %s, wanted %s", got.Promised, err, asked.Promise, early.Due)
	}
	late := b.order(t, "gull-cap.dst", 4, "", book.Agreed)
	if _, err := b.Shop.KeepPromise(bg, late.ID, nil, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("a promise for what is in no plan: %v", err)
	}
}

// What pieces should take with the breaks that were counted: each break once.
func TestABreakOfAReportIsCountedOnce(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	record := func(breaks int) float64 {
		t.Helper()
		r, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Six Sisters"], Good: 60, Breaks: breaks}, act.Recording{}, "")
		if err != nil {
			t.Fatal(err)
		}
		return r.Report.Predicted
	}
	usual := record(-1)
	none, one, nine := record(0), record(1), record(9)
	each := one - none
	// The demo's WORKSHOP.toml and the defaults: a repair and some stitches sewn anew.
	if !(each > 30 && each < 300) {
		t.Fatalf("a break is said to hold the machine for %v s", each)
	}
	if d := nine - none - 9*each; d > 1e-6 || d < -1e-6 {
		t.Errorf("nine breaks take %v s more than none, nine times one %v s", nine-none, 9*each)
	}
	rates, err := b.FloorRates(bg)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rates {
		if r.Machine.Name != "Six Sisters" {
			continue
		}
		if r.Counted != 10 {
			t.Errorf("%d breaks counted, reported were 10", r.Counted)
		}
	}
	// The usual breaks are those that the machine was expected to have when nobody
	// had counted any: 0.006 a head and 1,000 stitches of all 60 pieces.
	d, err := b.Designs.Stitches(bg, b.designs["ostrel-light.dst"])
	if err != nil {
		t.Fatal(err)
	}
	want := .006 / 1000 * float64(d.Count().Stitches) * 60
	if got := (usual - none) / each; got < want*.98 || got > want*1.02 {
		t.Errorf("where nobody counted, %v breaks are reckoned with, want %v", got, want)
	}
}
