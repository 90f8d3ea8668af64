package act_test

import (
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/rough"
	"needlepace/shop"
	"needlepace/words"
)

func roughOf(t *testing.T, b *bench, q ask.RoughQuestion) *ask.RoughAnswer {
	t.Helper()
	a, err := ask.Rough(bg, b.Asked(), q)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Once the file has come, it is priced as a quote prices it, and is not among what
// it is foretold from.
func TestTheFileIsHeldAgainstWhatWasForetold(t *testing.T) {
	b := fresh(t)
	id := b.designs["wheel-badge.dst"]
	q := ask.RoughQuestion{Width: 89, Height: 94, Cover: "half", Colours: 2, Quantity: 144}
	before := roughOf(t, b, q)
	q.Design = id
	a := roughOf(t, b, q)
	if a.Own != before.Own-1 || a.File == nil || a.File.Stitches != 3215 {
		t.Fatalf("own %d, before %d; file %+v", a.Own, before.Own, a.File)
	}
	o := b.order(t, "wheel-badge.dst", 144, "", "requested")
	quote, err := b.MakeQuote(bg, ask.QuoteQuestion{Order: o.ID, Quantities: []int{144}})
	if err != nil {
		t.Fatal(err)
	}
	if !a.File.Price.Equal(quote.Lines[0].Price) || a.File.Run != quote.Lines[0].Mix[0].Run {
		t.Errorf("the file costs %s and runs %v s; quoted %s, %v s", a.File.Price, a.File.Run, quote.Lines[0].Price, quote.Lines[0].Mix[0].Run)
	}
	if s := a.Verdict.Text(nil); !strings.Contains(s, "3,215 stitches") {
		t.Errorf("said: %s", s)
	}
}

// The demo's designs count the less the more a shop has of its own: with half of enough,
// half.
func TestOwnDesignsOutweighTheInventedOnes(t *testing.T) {
	for own, want := range map[int]float64{0: 1, 6: .75, 12: .5, 24: 0, 40: 0} {
		if got := ask.SampleWeight(own); got != want {
			t.Errorf("with %d designs of its own an invented one counts %v, want %v", own, got, want)
		}
	}
}

// More of everything costs more, and each range holds its middle.
func TestWhatIsForetoldGrowsWithWhatIsAsked(t *testing.T) {
	b := fresh(t)
	last := 0.0
	for _, side := range []float64{40, 80, 160} {
		a := roughOf(t, b, ask.RoughQuestion{Width: side, Height: side})
		if !(a.Stitches.Low < a.Stitches.Mid && a.Stitches.Mid < a.Stitches.High) || a.Price.Low.GreaterThan(a.Price.Mid) || a.Price.Mid.GreaterThan(a.Price.High) {
			t.Errorf("%v mm: %+v, %+v", side, a.Stitches, a.Price)
		}
		if p := a.Price.Mid.InexactFloat64(); p <= last {
			t.Errorf("%v mm costs %v, the smaller one %v", side, p, last)
		} else {
			last = p
		}
	}
	light, full := roughOf(t, b, ask.RoughQuestion{Width: 80, Height: 80, Cover: string(rough.Light)}),
		roughOf(t, b, ask.RoughQuestion{Width: 80, Height: 80, Cover: string(rough.Full)})
	if light.Stitches.Mid >= full.Stitches.Mid {
		t.Errorf("light %v stitches, full %v", light.Stitches.Mid, full.Stitches.Mid)
	}
}

func TestWhatCannotBeForetoldIsRefusedAtItsField(t *testing.T) {
	b := fresh(t)
	for at, q := range map[string]ask.RoughQuestion{
		"width": {Height: 10}, "height": {Width: 10}, "kind": {Width: 9, Height: 9, Kind: "moon"}, "cover": {Width: 9, Height: 9, Cover: "none"},
		"colours": {Width: 9, Height: 9, Colours: 40}, "quantity": {Width: 9, Height: 9, Quantity: -1},
	} {
		_, err := ask.Rough(bg, b.Asked(), q)
		if e, ok := err.(*ask.Error); !ok || e.Key != at {
			t.Errorf("%+v: %v, want an error at %s", q, err, at)
		}
	}
}

// What is asked for before there is a file stands in an order, not in the plan and in no
// quote, until the file takes its place: then the difference to what was said is told.
func TestARequestWaitsForItsFile(t *testing.T) {
	b := fresh(t)
	q := act.RoughKeeping{RoughQuestion: ask.RoughQuestion{Width: 89, Height: 94, Colours: 2, Quantity: 144}, New: book.Order{Customer: "Cadets", Weight: 1},
		Placement: "left sleeve"}
	o, err := b.KeepRough(bg, q, "Tam")
	if err != nil || len(o.Lines) != 0 || len(o.Roughs) != 1 || o.State != book.Requested {
		t.Fatalf("%v, %+v", err, o)
	}
	q.Order = o.ID
	if o, err = b.KeepRough(bg, q, "Tam"); err != nil || len(o.Roughs) != 2 {
		t.Fatalf("%v, %+v", err, o)
	}
	for _, to := range []book.OrderState{book.Agreed, book.Quoted} {
		if _, err := b.Orders.Move(bg, o.ID, 0, to, "", ""); shop.CodeOf(err) != shop.Invalid {
			t.Errorf("it becomes %s without a file: %v", to, err)
		}
	}
	if _, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: o.ID}); err == nil || !strings.Contains(err.Error(), "no stitch file yet") {
		t.Errorf("quoted: %v", err)
	}
	said := o.Roughs[0]
	if _, err := b.RoughCame(bg, o.ID, o.Version-1, 1, "", ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("over another's change: %v", err)
	}
	if o, err = b.RoughCame(bg, o.ID, 0, 2, "", ""); err != nil || len(o.Roughs) != 1 {
		t.Fatalf("taken out: %v", err)
	}
	if _, err := b.RoughCame(bg, o.ID, 0, 1, "", ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("nothing is left of it: %v", err)
	}
	if o, err = b.RoughCame(bg, o.ID, 0, 1, b.designs["wheel-badge.dst"], ""); err != nil || len(o.Roughs) != 0 || len(o.Lines) != 1 {
		t.Fatalf("the file came: %v", err)
	}
	l := &o.Lines[0]
	if l.Quantity != 144 || l.Placement != "left sleeve" || l.Foretold == nil || l.Foretold.Stitches != said.Stitches {
		t.Errorf("line: %+v", l)
	}
	a, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	share := words.Share(a.Lines[0].Price.Div(said.Price.Mid).InexactFloat64()).Text(nil)
	if s := a.Caveats.Text(nil); !strings.Contains(s, "it has 3,215 stitches") || !strings.Contains(s, "it is "+share+" of that.") {
		t.Errorf("the difference: %s, wanted %s", s, share)
	}
	// What was said stays with the line, whatever of it is changed.
	o.Lines[0].Garment, o.Lines[0].Foretold = "badge", nil
	if o, _, err = b.ChangeOrder(bg, *o, ""); err != nil || o.Lines[0].Foretold == nil {
		t.Errorf("forgotten: %v", err)
	}
	if _, err := b.Orders.Move(bg, o.ID, 0, book.Agreed, "", ""); err != nil {
		t.Error(err)
	}
}
