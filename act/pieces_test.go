package act_test

import (
	"slices"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// sized is an agreed order of one line in two garment colours with other threads
// on white.
func (b *bench) sized(t testing.TB) *book.Order {
	t.Helper()
	o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Due: words.NewDay(2026, 3, 20), Weight: 1, State: book.Agreed,
		Lines: []book.OrderLine{{
			DesignID: b.designs["wheel-badge.dst"], Quantity: 90, Threads: []string{"gold", "white"},
			LinePieces: book.LinePieces{
				Sizes: []book.SizeRow{{Colour: "navy", Size: "S", Pieces: 24}, {Colour: "navy", Size: "M", Pieces: 36},
					{Colour: "white", Size: "M", Pieces: 30}},
				GarmentThreads: []book.GarmentThreads{{Colour: "WHITE", Threads: []string{"gold", "navy"}}},
			},
		}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func TestGarmentColoursWithOtherThreadsAreLotsOfTheirOwn(t *testing.T) {
	b := fresh(t)
	o := b.sized(t)
	lots := func() map[string]int {
		n := map[string]int{}
		for _, l := range b.plan(t).Plan.Lots {
			n[l.Colour] += l.Quantity
		}
		return n
	}
	if n := lots(); n["navy"] != 60 || n["white"] != 30 || len(n) != 2 {
		t.Fatalf("lots by garment colour: %v", n)
	}
	p, err := b.Plans.Last(bg)
	if err != nil || len(p.Ends) != 1 || p.Ends[0].Quantity != 90 {
		t.Errorf("the line ends %+v, %v", p.Ends, err)
	}
	sheet := func(colour string) *book.RunSheet {
		t.Helper()
		r, err := ask.RunSheet(bg, b.Asked(), ask.RunSheetQuestion{Now: b.at, Order: o.ID, Line: 1, Colour: colour})
		if err != nil {
			t.Fatal(err)
		}
		if r.Quantity != book.InSizes(r.Sizes) {
			t.Errorf("a sheet of %d pieces lists %d", r.Quantity, book.InSizes(r.Sizes))
		}
		return r
	}
	if r := sheet("White"); r.Blocks[1].Thread != "navy" || book.SizesText(r.Sizes) != "white: M 30" {
		t.Errorf("on white %q is sewn on %s", r.Blocks[1].Thread, book.SizesText(r.Sizes))
	}
	if r := sheet(""); r.Blocks[1].Thread != "white" || r.Sizes[0].Colour != "navy" {
		t.Errorf("first %q is sewn on %v", r.Blocks[1].Thread, r.Sizes)
	}
	// What follows on the machine needs the one cone that differs.
	for _, l := range p.Lots {
		if l.Colour == "white" && p.Before(&l) == 0 && l.Cones > 2 {
			t.Errorf("%d cones before %s", l.Cones, l.Colour)
		}
	}
	// A machine has white, another navy; each report counts for its own.
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "white", ""); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Start(bg, o.ID, 1, b.m["Skipper"], 0, "navy", ""); err != nil {
		t.Fatal(err)
	}
	for _, l := range b.plan(t).Plan.Lots {
		if want := map[string]string{"white": "Gannet", "navy": "Skipper"}[l.Colour]; l.Machine != want || !l.Running {
			t.Errorf("%s is on %s, running: %v", l.Colour, l.Machine, l.Running)
		}
	}
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 30, Breaks: -1,
		Colour: "white"}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	if n := lots(); n["navy"] != 60 || n["white"] != 0 {
		t.Errorf("lots after white is sewn: %v", n)
	}
	if o, err = b.Orders.Get(bg, o.ID); err != nil || len(o.Lines[0].Holds) != 1 || o.Lines[0].Holds[0].Colour != "navy" {
		t.Errorf("held: %+v, %v", o.Lines[0].Holds, err)
	}
	_, err = b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Skipper"], Good: 1, Breaks: -1,
		Colour: "green"}, act.Recording{}, "")
	if shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "it has navy, white") {
		t.Errorf("pieces in a colour that is not ordered: %v", err)
	}
}

func TestGarmentColoursWithTheSameThreadsAreOneLot(t *testing.T) {
	b := fresh(t)
	o := b.sized(t)
	o.Lines[0].GarmentThreads = nil
	o, _, err := b.ChangeOrder(bg, *o, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range b.plan(t).Plan.Lots {
		if l.Colour != "" {
			t.Errorf("a lot of %s", l.Colour)
		}
	}
	// The whole quantity makes the price, whatever the sizes.
	q, err := b.MakeQuote(bg, ask.QuoteQuestion{Now: b.at, Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	plain := b.order(t, "wheel-badge.dst", 90, "2026-03-20", book.Requested)
	p, err := b.MakeQuote(bg, ask.QuoteQuestion{Now: b.at, Order: plain.ID, Machine: b.m[q.Lines[0].Machine]})
	if err != nil {
		t.Fatal(err)
	}
	if !q.Lines[0].Price.Equal(p.Lines[0].Price) {
		t.Errorf("in sizes a piece is %s, all alike %s", q.Lines[0].Price, p.Lines[0].Price)
	}
}

func TestSizesMustComeToTheQuantity(t *testing.T) {
	b := fresh(t)
	o := b.sized(t)
	for want, change := range map[string]func(*book.OrderLine){
		"the sizes come to 90 pieces, the line has 91": func(l *book.OrderLine) { l.Quantity = 91 },
		`threads for garments in "red", and no such`: func(l *book.OrderLine) {
			l.GarmentThreads = []book.GarmentThreads{{Colour: "red", Threads: []string{"x"}}}
		},
		"navy m stands there twice": func(l *book.OrderLine) {
			l.Sizes = []book.SizeRow{{Colour: "navy", Size: "M", Pieces: 45}, {Colour: "Navy", Size: "m", Pieces: 45}}
		},
	} {
		c, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		change(&c.Lines[0])
		if _, _, err := b.ChangeOrder(bg, *c, ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q, got %v", want, err)
		}
	}
}

func TestLotsAreReleasedByTheGarmentsThatCome(t *testing.T) {
	b := fresh(t)
	on := func(d int) words.Day { return words.NewDay(2026, 3, d) }
	o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Due: on(20), Weight: 1, State: book.Agreed,
		Lines: []book.OrderLine{{DesignID: b.designs["wheel-badge.dst"], Quantity: 100, LinePieces: book.LinePieces{
			Deliveries: []book.Delivery{{Day: on(9), Pieces: 30}, {Day: on(4), Pieces: 20}},
		}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	// The pieces that a plan has begun by the end of a day; sewing may begin on the
	// day on which garments come.
	begun := func(d int) (n int) {
		p, err := b.Plans.Last(bg)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range p.Lots {
			if p.Zone.Day(l.From).Before(on(d + 1)) {
				n += l.Quantity
			}
		}
		return n
	}
	b.plan(t)
	if a, c, e := begun(3), begun(8), begun(19); a > 50 || c > 70 || e != 100 {
		t.Errorf("begun with 50, 70 and 100 garments there: %d, %d, %d", a, c, e)
	}
	day := func(q act.GarmentsQuestion) []string {
		t.Helper()
		q.Order, q.Line = o.ID, 1
		kept, notes, err := b.GarmentsCame(bg, q, "")
		if err != nil {
			t.Fatal(err)
		}
		o = kept
		return notes
	}
	// The plan sews some from the day on which they come: said once more, there is nothing to tell.
	if notes := strings.Join(day(act.GarmentsQuestion{Due: on(4), Late: on(4)}), "; "); strings.Contains(notes, "anew") || begun(4) == begun(3) {
		t.Errorf("sewn from the day on which they come, %d pieces: %s", begun(4)-begun(3), notes)
	}
	// Later than said: the plan is told of, and moves.
	if notes := strings.Join(day(act.GarmentsQuestion{Due: on(4), Late: on(12)}), "; "); !strings.Contains(notes, "make the plan anew") {
		t.Errorf("notes: %s", notes)
	}
	moved := b.plan(t).Moved
	if c := begun(8); c > 50 {
		t.Errorf("begun though they come later: %d", c)
	}
	if !slices.ContainsFunc(moved, func(m ask.Moved) bool { return strings.Contains(m.Why, "goods") }) {
		t.Errorf("moved: %+v", moved)
	}
	if _, _, err := b.GarmentsCame(bg, act.GarmentsQuestion{Order: o.ID, Version: o.Version - 1, Line: 1, Due: on(12)}, ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("by somebody who saw the order before: %v", err)
	}
	if notes := strings.Join(day(act.GarmentsQuestion{Due: on(12)}), "; "); strings.Contains(notes, "anew") {
		t.Errorf("they are here: %s", notes)
	}
	b.plan(t)
	if c := begun(8); c < 70 {
		t.Errorf("they are here, and begun are %d", c)
	}
	// A day that passed without them: tomorrow at the earliest, and the plan says so.
	b.at = b.at.AddDate(0, 0, 8)
	p := b.plan(t).Plan
	if begun(10) > 70 || len(p.Notes) != 1 || !strings.Contains(p.Notes[0].Why, "30 of its garments were to come on 9 Mar") {
		t.Errorf("begun on the day %d; notes %+v", begun(10), p.Notes)
	}
	_, _, err = b.GarmentsCame(bg, act.GarmentsQuestion{Order: o.ID, Line: 1, Due: on(5)}, "")
	if shop.CodeOf(err) != shop.NotFound {
		t.Errorf("a delivery that is none: %v", err)
	}
	_, _, err = b.GarmentsCame(bg, act.GarmentsQuestion{Order: o.ID, Line: 1, Due: on(9), Late: on(5)}, "")
	if shop.CodeOf(err) != shop.Invalid {
		t.Errorf("later on a day that passed: %v", err)
	}
}
