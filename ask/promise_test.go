package ask

import (
	"errors"
	"strings"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// The kept plan's days hold with the plan's own chance: with another one there is
// no such day, and the question is refused.
func TestThePlansDayHasThePlansChance(t *testing.T) {
	w, kept := &book.Workshop{Chance: 80}, &book.Plan{Chance: .9}
	for _, c := range []struct {
		q    PromiseQuestion
		kept *book.Plan
		want float64 // the chance that is asked with; 0: refused
	}{
		{PromiseQuestion{AsPlanned: true}, kept, .9},
		{PromiseQuestion{AsPlanned: true, Chance: .9}, kept, .9},
		{PromiseQuestion{AsPlanned: true, Chance: .95}, kept, 0},
		{PromiseQuestion{AsPlanned: true}, nil, .8},
		{PromiseQuestion{}, kept, .8},
		{PromiseQuestion{Chance: .95}, kept, .95},
		{PromiseQuestion{Chance: .499}, kept, 0},
		{PromiseQuestion{Chance: .996}, kept, 0},
	} {
		q := c.q
		q.Now = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
		err := q.check(w, c.kept)
		var refused *Error
		if c.want == 0 {
			if !errors.As(err, &refused) || refused.Key != "chance" {
				t.Errorf("%+v: %v, want the chance refused", c.q, err)
			}
			continue
		}
		if err != nil || q.Chance != c.want {
			t.Errorf("%+v is asked with %v, %v; want %v", c.q, q.Chance, err, c.want)
		}
	}
	if err := (&PromiseQuestion{}).check(w, kept); err == nil {
		t.Error("a question without the time of day was taken")
	}
}

// An order has a day as planned only where all its lines stand in the plan.
func TestAnOrderThatIsNotPlannedHasNoPlannedDay(t *testing.T) {
	zone, err := words.LoadZone("UTC")
	if err != nil {
		t.Fatal(err)
	}
	w := &book.Workshop{Zone: zone}
	end := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	o := &book.Order{ID: "a", Number: 1001, Lines: []book.OrderLine{{Line: 1, Quantity: 4}, {Line: 2, Quantity: 4}}}
	day, err := words.ParseDay("2026-03-04")
	if err != nil {
		t.Fatal(err)
	}
	kept := &book.Plan{Zone: zone, Ends: []book.LineEnd{{OrderID: "a", Line: 1, End: end, Day: day, OnTime: -1}}}
	if err := (&PromiseAnswer{}).asPlanned(kept, w, o); err == nil || !strings.Contains(err.Error(), "make the plan anew") {
		t.Errorf("one of two lines is planned: %v", err)
	}
	if err := (&PromiseAnswer{}).asPlanned(nil, w, o); err == nil {
		t.Error("a day was found without a plan")
	}
	kept.Ends = append(kept.Ends, book.LineEnd{OrderID: "a", Line: 2, End: end, Day: day.Add(1), OnTime: -1})
	a := &PromiseAnswer{OnTime: -1}
	if err := a.asPlanned(kept, w, o); err != nil || a.Promise != day.Add(1) || a.OnTime != -1 {
		t.Errorf("both lines are planned: %v, promised %s", err, a.Promise)
	}
}

// For a wanted day what is planned moves to where it is in time too, and not where it would be late.
func TestOthersMoveForAWantedDayAndAreInTime(t *testing.T) {
	for _, c := range []struct {
		due   float64 // of the other order, which takes 1,000 s where it is and 4,000 on the other machine
		moved bool
	}{{5000, true}, {3000, false}} {
		p := &plan.Problem{Machines: []plan.Machine{{ID: "A"}, {ID: "B"}}, Jobs: []plan.Job{
			{ID: "other", Quantity: 10, Due: c.due, Weight: .1, MaxLots: 1, Fits: []plan.Fit{{Machine: 0, Run: 100, Pieces: 1}, {Machine: 1, Run: 400, Pieces: 1}}},
			{ID: "asked", Quantity: 29, Due: 2950, Weight: 1, MaxLots: 1, Fits: []plan.Fit{{Machine: 0, Run: 100, Pieces: 1}}}}}
		desk, err := plan.NewDesk(p, &plan.Schedule{Complete: true, Lots: []plan.Lot{{Job: 0, Quantity: 10}, {Job: 1, Quantity: 29}}})
		if err != nil {
			t.Fatal(err)
		}
		sc := desk.Schedule()
		if end := sc.Ends(p)[1]; end != 3900 {
			t.Fatalf("behind the other it ends at %v", end)
		}
		in := &inPlan{problem: &problem{Problem: p}, first: 1, before: []float64{1000}}
		eased, err := in.ease(t.Context(), sc)
		if err != nil || (eased != nil) != c.moved {
			t.Fatalf("other due at %v: %+v, %v", c.due, eased, err)
		}
		if c.moved && (eased.Ends(p)[1] != 2900 || eased.Ends(p)[0] > c.due) {
			t.Errorf("moved: done at %v", eased.Ends(p))
		}
	}
}
