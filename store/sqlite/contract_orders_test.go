package sqlite

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/words"
)

// orderTests are the part of the contract that is about orders.
var orderTests = []struct {
	name string
	test func(*testing.T, shop.Store)
}{
	{"OrdersComeBackAsTheyWere", orderRoundTrip},
	{"OrdersAreFoundAndPaged", orderPages},
	{"AnOrderKeepsItsHistory", orderHistory},
	{"OneOfTwoChangesOfAnOrderWins", orderRace},
	{"AReportIsKeptWithAllThatBelongsToIt", reports},
	{"QuotesStay", quotes},
	{"PlansAreNumberedAndOldOnesGo", plans},
	{"WhatWasMadeFromAnotherStateIsNotKept", stale},
	{"OrdersThatAreNotThere", orderNotFound},
	{"NumbersAreGivenOnce", orderNumbers},
	{"EveryChangeCounts", revision},
}

// exampleOrder is an example of an order of design d, different for every n.
func exampleOrder(n int, d string) *book.Order {
	return &book.Order{
		ID: fmt.Sprintf("order-%d", n), Customer: fmt.Sprintf("Customer %d", n), CustomerAddress: []string{"Quay 1", "Pellsand"}, PurchaseOrder: "PO 7/4", Note: "careful", State: book.Requested,
		Due: words.NewDay(2026, 3, 10+n), Goods: words.NewDay(2026, 3, 5), Latest: words.NewDay(2026, 12, 24), Promised: words.NewDay(2026, 3, 20),
		Weight: 1.5, Together: n%2 == 1, Roughs: []book.RoughSaid{{Width: 80, Height: 60, Kind: "badge", Quantity: 9, Said: words.NewDay(2026, 3, 2),
			Stitches: book.RoughRange{Low: 1, Mid: 2, High: 3}, Price: &book.RoughPrice{Mid: decimal.New(22, -1)}}}, Made: when, Changed: when, Version: 1,
		Lines: []book.OrderLine{
			{Line: 1, DesignID: d, Placement: "left chest", Garment: "polo", Quantity: 10 + n,
				Threads: []string{"navy", "#aabbcc"}, Digitize: true, MostMachines: 2,
				LineGoods: book.LineGoods{Speed: 700, CapFrame: true, Metallic: true, Heavy: .7},
				Holds:     []book.Hold{{MachineID: "m", Quantity: 3, Running: true}, {MachineID: "k", At: when}},
				LinePieces: book.LinePieces{Partner: book.Partner{Name: "Netherby", Days: 4, Price: money.Amount{Dec: decimal.New(13, -1)}},
					Approval: book.Approval{Due: words.NewDay(2026, 3, 9), Sent: words.NewDay(2026, 3, 4)}, Deliveries: []book.Delivery{{Day: words.NewDay(2026, 3, 4), Pieces: 5,
						Came: words.NewDay(2026, 3, 5)}, {Day: words.NewDay(2026, 3, 6), Pieces: 5}}, Sizes: []book.SizeRow{{Colour: "navy", Size: "M", Pieces: 10 + n}},
					GarmentThreads: []book.GarmentThreads{{Colour: "navy", Threads: []string{"white"}}}},
				Good: 2, Spoilt: 1},
			{Line: 4, DesignID: d, Quantity: 1, Threads: []string{}, Holds: []book.Hold{}},
		},
	}
}

func addOrder(t *testing.T, s shop.Store, n int) *book.Order {
	t.Helper()
	if _, err := s.AddDesign(bg, exampleDesign(1), []byte("content"), thumbs); err != nil {
		t.Fatal(err)
	}
	o := exampleOrder(n, exampleDesign(1).ID)
	must(t, s.AddOrder(bg, o, book.Change{OrderID: o.ID, Version: 1, At: when, By: "Ada", What: "taken in"}))
	return o
}

func orderRoundTrip(t *testing.T, s shop.Store) {
	o := addOrder(t, s, 1)
	if o.Number < 1 {
		t.Errorf("number %d", o.Number)
	}
	got, err := s.Order(bg, o.ID)
	must(t, err)
	if diff := cmp.Diff(o, got); diff != "" {
		t.Error(diff)
	}
	byNumber, err := s.OrderNumbered(bg, o.Number)
	must(t, err)
	if diff := cmp.Diff(o, byNumber); diff != "" {
		t.Error(diff)
	}
	// A design taken off the list is still the order's.
	must(t, s.RemoveDesign(bg, exampleDesign(1).ID, true))
	if got, err = s.Order(bg, o.ID); err != nil || got.Lines[0].DesignID != exampleDesign(1).ID {
		t.Errorf("after its design went: %+v, %v", got, err)
	}
}

func orderPages(t *testing.T, s shop.Store) {
	for n := 1; n <= 4; n++ {
		addOrder(t, s, n)
	}
	three, err := s.Order(bg, "order-3")
	must(t, err)
	three.State, three.Due, three.Customer, three.Version = book.Agreed, words.Day{}, "Möwe_50% GmbH", 2
	must(t, s.ChangeOrder(bg, three, book.Change{OrderID: three.ID, Version: 2, At: when, What: "agreed"}))
	names := func(q shop.OrderQuery) (out []string, total int) {
		t.Helper()
		if q.Limit == 0 {
			q.Limit = 10
		}
		page, total, err := s.Orders(bg, q)
		must(t, err)
		for _, o := range page {
			out = append(out, o.ID)
			if len(o.Lines) != 2 || o.Lines[0].Quantity == 0 {
				t.Errorf("%s has no lines", o.ID)
			}
		}
		return out, total
	}
	for _, c := range []struct {
		q     shop.OrderQuery
		want  []string
		total int
	}{
		{shop.OrderQuery{}, []string{"order-1", "order-2", "order-4", "order-3"}, 4}, // no day stands last
		{shop.OrderQuery{Sort: "state", Reverse: true, Limit: 1}, []string{"order-3"}, 4},
		{shop.OrderQuery{Sort: "number"}, []string{"order-4", "order-3", "order-2", "order-1"}, 4},
		{shop.OrderQuery{Sort: "customer", Reverse: true, Limit: 2}, []string{"order-3", "order-4"}, 4},
		{shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Sewn}}, []string{"order-3"}, 1},
		{shop.OrderQuery{Search: "MÖWE polo"}, []string{"order-3"}, 1},
		{shop.OrderQuery{Search: "%"}, []string{"order-3"}, 1},
		{shop.OrderQuery{Search: "'; DROP TABLE orders; --"}, nil, 0},
		{shop.OrderQuery{Offset: 3, Limit: 5}, []string{"order-3"}, 4},
	} {
		if got, total := names(c.q); !cmp.Equal(got, c.want) || total != c.total {
			t.Errorf("%+v gave %v (%d), want %v (%d)", c.q, got, total, c.want, c.total)
		}
	}
}

func orderHistory(t *testing.T, s shop.Store) {
	o := addOrder(t, s, 1)
	o.Version, o.Lines = 2, o.Lines[1:]
	c2 := book.Change{OrderID: o.ID, Version: 2, At: when.Add(time.Hour), By: "Ben", What: "line 1 taken out"}
	must(t, s.ChangeOrder(bg, o, c2))
	h, err := s.OrderHistory(bg, o.ID)
	must(t, err)
	if len(h) != 2 || h[0].What != "taken in" || !cmp.Equal(h[1], c2) {
		t.Errorf("history %+v", h)
	}
	got, err := s.Order(bg, o.ID)
	must(t, err)
	if diff := cmp.Diff(o, got); diff != "" {
		t.Error(diff)
	}
	bad := *o
	bad.Version, bad.Lines = 3, []book.OrderLine{{Line: 1, DesignID: "no such design", Quantity: 1}}
	wantCode(t, s.ChangeOrder(bg, &bad, book.Change{OrderID: o.ID, Version: 3, At: when}), shop.NotFound)
	if got, err := s.Order(bg, o.ID); err != nil || got.Version != 2 || len(got.Lines) != 1 {
		t.Errorf("a failed change left %+v, %v", got, err)
	}
}

func orderRace(t *testing.T, s shop.Store) {
	o := addOrder(t, s, 1)
	o.Version = 2
	must(t, s.ChangeOrder(bg, o, book.Change{OrderID: o.ID, Version: 2, At: when}))
	wantCode(t, s.ChangeOrder(bg, o, book.Change{OrderID: o.ID, Version: 2, At: when}), shop.Conflict)
	o.Version = 9
	wantCode(t, s.ChangeOrder(bg, o, book.Change{OrderID: o.ID, Version: 9, At: when}), shop.Conflict)
	h, err := s.OrderHistory(bg, o.ID)
	must(t, err)
	if len(h) != 2 {
		t.Errorf("a refused change stands in the history: %+v", h)
	}
}

func reports(t *testing.T, s shop.Store) {
	o := addOrder(t, s, 1)
	addMachine(t, s, "m", "M")
	r := book.Report{ID: "r1", OrderID: o.ID, Colour: "navy", Line: 1, MachineID: "m", DesignID: exampleDesign(1).ID,
		Day: words.NewDay(2026, 3, 4), Good: 5, Spoilt: 1, Breaks: -1, Seconds: 600.5, Predicted: 590.25, Sheet: "d",
		Stitches: 6000, RunTimed: 61, SetSpeed: 700, Note: "n", By: "Tam", Added: when}
	o.Version, o.State = 2, book.Sewing
	o.Lines[0].Good += 5
	must(t, s.Keep(bg, book.Seen{}, shop.Keeping{Report: &r, Runs: []shop.Run{run("run-1", "m", exampleDesign(1).ID)},
		Order:  o,
		Change: book.Change{OrderID: o.ID, Version: 2, At: when, What: "5 good"}}))
	all, err := s.Reports(bg, o.ID)
	must(t, err)
	if diff := cmp.Diff([]book.Report{r}, all); diff != "" {
		t.Error(diff)
	}
	if all, err := s.Reports(bg, ""); err != nil || len(all) != 1 {
		t.Errorf("%d reports in all, %v", len(all), err)
	}
	if got, err := s.Order(bg, o.ID); err != nil || got.Lines[0].Good != 7 || got.State != book.Sewing {
		t.Errorf("the order after it: %+v, %v", got, err)
	}
	if rs, err := s.Runs(bg, "m"); err != nil || len(rs) != 1 {
		t.Errorf("%d timed runs, %v", len(rs), err)
	}
	// Another's change in between: nothing of the report may be kept.
	r.ID = "r2"
	wantCode(t, s.Keep(bg, book.Seen{}, shop.Keeping{Report: &r, Runs: []shop.Run{run("run-2", "m", exampleDesign(1).ID)},
		Order:  o,
		Change: book.Change{OrderID: o.ID, Version: 2, At: when}}), shop.Conflict)
	o.Version = 3
	r.MachineID = "nope"
	wantCode(t, s.Keep(bg, book.Seen{}, shop.Keeping{Report: &r, Order: o,
		Change: book.Change{OrderID: o.ID, Version: 3, At: when}}), shop.NotFound)
	all, err = s.Reports(bg, "")
	must(t, err)
	rs, err := s.Runs(bg, "m")
	must(t, err)
	if len(all) != 1 || len(rs) != 1 {
		t.Errorf("refused reports left %d reports and %d runs", len(all), len(rs))
	}
}

func quotes(t *testing.T, s shop.Store) {
	o := addOrder(t, s, 1)
	a := shop.KeptQuote{ID: "q1", OrderID: o.ID, Made: when, By: "Ada", Doc: `{"net":"1.10"}`}
	b := a
	b.ID, b.Made, b.Doc = "q2", when.Add(time.Hour), `{"net":"2.20"}`
	must(t, s.Keep(bg, book.Seen{}, shop.Keeping{Quote: &a}))
	must(t, s.Keep(bg, book.Seen{}, shop.Keeping{Quote: &b}))
	all, err := s.Quotes(bg, o.ID)
	must(t, err)
	if diff := cmp.Diff([]shop.KeptQuote{b, a}, all); diff != "" {
		t.Error(diff)
	}
	wantCode(t, s.Keep(bg, book.Seen{}, shop.Keeping{Quote: &a}), shop.Conflict)
	wantCode(t, s.Keep(bg, book.Seen{}, shop.Keeping{Quote: &shop.KeptQuote{ID: "q3", OrderID: "nope"}}), shop.NotFound)
}

func plans(t *testing.T, s shop.Store) {
	if p, err := s.LastPlan(bg); p != nil || err != nil {
		t.Errorf("no plan gave %+v, %v", p, err)
	}
	for v := 1; v <= shop.KeptPlans+3; v++ {
		must(t, s.Keep(bg, book.Seen{}, shop.Keeping{Plan: &shop.KeptPlan{Version: v, Made: when, By: "Ada",
			Doc: fmt.Sprint(v)}}))
	}
	wantCode(t, s.Keep(bg, book.Seen{}, shop.Keeping{Plan: &shop.KeptPlan{Version: shop.KeptPlans + 3, Made: when}}),
		shop.Conflict)
	wantCode(t, s.Keep(bg, book.Seen{}, shop.Keeping{Plan: &shop.KeptPlan{Version: 1, Made: when}}), shop.Conflict)
	last, err := s.LastPlan(bg)
	must(t, err)
	if want := (&shop.KeptPlan{Version: shop.KeptPlans + 3, Made: when, By: "Ada",
		Doc: fmt.Sprint(shop.KeptPlans + 3)}); !cmp.Equal(last, want) {
		t.Errorf("last plan %+v", last)
	}
	if p, err := s.PlanVersion(bg, 4); err != nil || p.Doc != "4" {
		t.Errorf("plan 4: %+v, %v", p, err)
	}
	_, err = s.PlanVersion(bg, 3)
	wantCode(t, err, shop.NotFound)
}

// stale changes one thing after another and tries to keep what was made from the
// state before: it is refused, with the thing's name, and nothing stays of it.
func stale(t *testing.T, s shop.Store) {
	o := addOrder(t, s, 1)
	o.State, o.Version = book.Agreed, 2
	must(t, s.ChangeOrder(bg, o, book.Change{OrderID: o.ID, Version: 2, At: when}))
	other := exampleOrder(2, exampleDesign(1).ID)
	must(t, s.AddOrder(bg, other, book.Change{OrderID: other.ID, Version: 1, At: when}))
	addMachine(t, s, "m", "M")
	setup := &shop.Setup{ID: shop.WorkshopID, Kind: shop.PlanSetup, Name: "w", TOML: "x", Version: 1, Changed: when}
	plan := 0
	for _, c := range []struct {
		what   string
		change func() error
	}{
		{"the workshop", func() error { return s.SaveSetup(bg, setup) }},
		{"the machines", func() error {
			return s.AddVersion(bg, shop.SheetVersion{MachineID: "m", Version: 2, Made: when, Digest: "e", TOML: "y"},
				"M")
		}},
		{"the plan", func() error {
			plan++
			return s.Keep(bg, book.Seen{}, shop.Keeping{Plan: &shop.KeptPlan{Version: plan, Made: when, Doc: "{}"}})
		}},
		{"what the floor reported", func() error {
			return s.Keep(bg, book.Seen{}, shop.Keeping{Report: &book.Report{ID: "r", OrderID: o.ID, Line: 1,
				MachineID: "m",
				DesignID:  exampleDesign(1).ID, Added: when}})
		}},
		{"the orders in the plan", func() error { // another one comes in
			other.State, other.Version = book.Agreed, 2
			return s.ChangeOrder(bg, other, book.Change{OrderID: other.ID, Version: 2, At: when})
		}},
		{"the order, the orders in the plan", func() error {
			k := *o
			k.Version++
			return s.ChangeOrder(bg, &k, book.Change{OrderID: o.ID, Version: k.Version, At: when})
		}},
		{"the machines", func() error { return s.RemoveMachine(bg, "m", true) }},
	} {
		seen, err := s.Seen(bg)
		must(t, err)
		now, err := s.Order(bg, o.ID)
		must(t, err)
		seen.Order, o.Version = now.Version, now.Version
		must(t, c.change())
		k := *now
		k.Version++
		keeping := shop.Keeping{Order: &k, Change: book.Change{OrderID: k.ID, Version: k.Version, At: when,
			What: "refused"},
			Quote: &shop.KeptQuote{ID: "refused", OrderID: k.ID}}
		err = s.Keep(bg, seen, keeping)
		if wantCode(t, err, shop.Conflict); !strings.Contains(fmt.Sprint(err), "changed "+c.what+
			", and nothing was kept") {
			t.Errorf("after a change of %s: %v", c.what, err)
		}
		quotes, err := s.Quotes(bg, o.ID)
		must(t, err)
		history, err := s.OrderHistory(bg, o.ID)
		must(t, err)
		if len(quotes) > 0 || history[len(history)-1].What == "refused" {
			t.Errorf("after a change of %s half of it was kept: %+v", c.what, history)
		}
	}
	// What was not looked at may change, and the same state is kept upon.
	seen, err := s.Seen(bg)
	must(t, err)
	k, err := s.Order(bg, o.ID)
	must(t, err)
	k.Version++
	must(t, s.Keep(bg, seen, shop.Keeping{Order: k, Change: book.Change{OrderID: k.ID, Version: k.Version, At: when}}))
	must(t, s.Keep(bg, book.Seen{Workshop: seen.Workshop}, shop.Keeping{Quote: &shop.KeptQuote{ID: "q",
		OrderID: o.ID}}))
	again, err := s.Seen(bg)
	must(t, err)
	if again == seen {
		t.Error("an order of the plan changed and the state is as it was")
	}
}

func orderNotFound(t *testing.T, s shop.Store) {
	second := func(_ any, err error) error { return err }
	for name, err := range map[string]error{
		"Order": second(s.Order(bg, "x")), "OrderNumbered": second(s.OrderNumbered(bg, 7)),
		"OrderHistory": second(s.OrderHistory(bg, "x")),
		"ChangeOrder":  s.ChangeOrder(bg, &book.Order{ID: "x", Version: 2}, book.Change{OrderID: "x", Version: 2}),
		"PlanVersion":  second(s.PlanVersion(bg, 1)),
		"AddOrder":     s.AddOrder(bg, exampleOrder(1, "no such design"), book.Change{OrderID: "order-1", Version: 1}),
	} {
		if shop.CodeOf(err) != shop.NotFound {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, total, err := s.Orders(bg, shop.OrderQuery{Limit: 5}); err != nil || total != 0 {
		t.Errorf("a refused order was kept: %d, %v", total, err)
	}
	addOrder(t, s, 1)
	ctx, cancel := context.WithCancel(bg)
	cancel()
	o := exampleOrder(2, exampleDesign(1).ID)
	wantCode(t, s.AddOrder(ctx, o, book.Change{OrderID: o.ID, Version: 1}), shop.Stopped)
}

func orderNumbers(t *testing.T, s shop.Store) {
	addOrder(t, s, 100)
	var wg sync.WaitGroup
	var mu sync.Mutex
	seen := map[int]bool{}
	for n := range 12 {
		wg.Go(func() {
			o := exampleOrder(n, exampleDesign(1).ID)
			if err := s.AddOrder(bg, o, book.Change{OrderID: o.ID, Version: 1, At: when}); err != nil {
				t.Error(err)
			}
			mu.Lock()
			defer mu.Unlock()
			if seen[o.Number] {
				t.Errorf("number %d was given twice", o.Number)
			}
			seen[o.Number] = true
		})
	}
	wg.Wait()
}
