package book

import (
	"testing"

	"needlepace/floor"
	"needlepace/words"
)

// The plan works to the day that the customer was told; where none was, to the
// day that is wanted.
func TestAPromisedDayGoesBeforeTheDueOne(t *testing.T) {
	due, promised := words.NewDay(2026, 3, 20), words.NewDay(2026, 3, 25)
	for _, c := range []struct{ due, promised, want words.Day }{
		{due, promised, promised}, {due, words.Day{}, due}, {words.Day{}, promised, promised}, {},
	} {
		if got := (&Order{Due: c.due, Promised: c.promised}).Wanted(); got != c.want {
			t.Errorf("due %q, promised %q: the plan works to %q, want %q", c.due, c.promised, got, c.want)
		}
	}
}

func TestLinesAreFoundAndNamedByTheirOwnNumber(t *testing.T) {
	o := &Order{Number: 1003, Lines: []OrderLine{{Line: 1, Quantity: 12, Good: 5}, {Line: 4, Quantity: 30, Good: 31}}}
	if l := o.Line(4); l == nil || l.Quantity != 30 || o.Line(2) != nil {
		t.Errorf("line 4 is %+v, line 2 %+v", o.Line(4), o.Line(2))
	}
	if got := LineName(o, 4); got != "1003/4" {
		t.Errorf("a line of two is called %q", got)
	}
	if got := LineName(&Order{Number: 1003, Lines: o.Lines[:1]}, 1); got != "1003" {
		t.Errorf("an order's only line is called %q", got)
	}
	if o.Pieces() != 42 || o.Left() != 7 {
		t.Errorf("%d pieces, %d left; want 42 and 7: more than asked for takes nothing from other lines", o.Pieces(), o.Left())
	}
}

// A frame is changed on every head, unless the shop says what that takes in all.
func TestAFrameIsChangedHeadByHead(t *testing.T) {
	if got := (&WorkshopMachine{}).HoopSeconds(6); got != 270 {
		t.Errorf("six heads take %v s, want 6 × 45", got)
	}
	all := 100.0
	if got := (&WorkshopMachine{Hoop: &all}).HoopSeconds(6); got != 100 {
		t.Errorf("said to be 100 s, it takes %v s", got)
	}
}

func TestConesAndBobbinsAreAsTheShopSays(t *testing.T) {
	none, cone, bobbin := 0.0, 2500.0, 90.0
	for _, c := range []struct {
		cone, bobbin         *float64
		wantCone, wantBobbin float64
	}{{nil, nil, 5000, 130}, {&cone, nil, 2500, 130}, {nil, &bobbin, 5000, 90}, {&none, &none, 5000, 130}} {
		w := &Workshop{}
		w.Thread.Cone = c.cone
		if s := w.Supply(floor.Work{BobbinMetres: c.bobbin}); s.Cone != c.wantCone || s.Bobbin != c.wantBobbin {
			t.Errorf("%+v, want %v m on a cone and %v m on a bobbin", s, c.wantCone, c.wantBobbin)
		}
	}
}
