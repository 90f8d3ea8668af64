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

// What a plan tells of an order by hand: two machines that nothing delays, from eight in the morning. A waits for the
// order's first line and is late, B is in time all the same, C was late before and is as late.
func TestWhatAPlanTellsOfAnOrderByHand(t *testing.T) {
	const hour = 3600.0
	c, _ := byHand(2)
	p := c.p
	zone, err := words.LoadZone("UTC")
	if err != nil {
		t.Fatal(err)
	}
	p.w = &book.Workshop{Zone: zone, ReadyBy: "13:00", HandOver: 1, Shift: []book.ShiftHours{{From: "08:00", To: "16:00"}}}
	o := &book.Order{ID: "mine", Number: 7, Due: words.NewDay(2026, 3, 4), Lines: []book.OrderLine{{Line: 1, Quantity: 2}, {Line: 2, Quantity: 5}}}
	job := func(of jobOf, id string, due float64) {
		of.on = []*lineOn{{}, {}}
		of.order, of.line = o, &o.Lines[0]
		p.Jobs, p.jobs = append(p.Jobs, plan.Job{ID: id, Name: id, Quantity: 1, Due: due, Weight: 1, Fits: []plan.Fit{{Machine: 0, Run: hour, Pieces: 1}, {Machine: 1, Run: hour, Pieces: 1}}}), append(p.jobs, of)
	}
	p.Jobs, p.jobs = nil, nil
	due := p.Second(p.w.DueTime(o.Due)) // on the second day
	for _, x := range []struct {
		id  string
		due float64
	}{{"A", 3 * hour}, {"B", 8 * hour}, {"C", hour / 2}, {"mine/1", due}, {"mine/2", due}} {
		job(jobOf{}, x.id, x.due)
	}
	lot := func(job, machine int, from, setup, work float64) plan.Lot {
		return plan.Lot{Job: job, Machine: machine, Quantity: 1, SetupFrom: from, Setup: setup, From: from + setup, To: from + setup + work, Work: work}
	}
	sc := &plan.Schedule{Complete: true, Lots: []plan.Lot{
		lot(3, 0, 0, .25*hour, 2*hour), lot(0, 0, 2.25*hour, 0, 2.5*hour), lot(1, 0, 4.75*hour, 0, hour),
		lot(2, 1, 0, 0, hour), lot(4, 1, hour, .5*hour, 5*hour),
	}}
	in := &inPlan{problem: p, first: 3, before: []float64{2.5 * hour, 3.5 * hour, hour - 30}, order: o}
	a := &PromiseAnswer{Chance: .9, Due: o.Due}
	if err := a.tell(t.Context(), &plan.Drawn{}, .9, sc, in); err != nil {
		t.Fatal(err)
	}
	// Sewn at 14:30, too late to go out that day, and handed over the day after it does.
	day := words.NewDay(2026, 3, 4)
	if a.Earliest != day || a.Promise != day || a.OnTime != 1 || a.Hours != 7.75 {
		t.Errorf("earliest %s, promised %s, in time at %v, %v machine hours; want %s, %[1]s, 1, 7.75", a.Earliest, a.Promise, a.OnTime, a.Hours, day)
	}
	if len(a.others) != 1 {
		t.Fatalf("made late: %v", a.others)
	}
	if got := a.others[0].Raw(); !strings.Contains(got, "A ") || !strings.Contains(got, "1.8 h") && !strings.Contains(got, "1 h 45") && !strings.Contains(got, "105 min") {
		t.Errorf("made late: %q", got)
	}
	// A partner's day counts, in both.
	in.byPartner = words.NewDay(2026, 3, 9)
	if err := a.tell(t.Context(), &plan.Drawn{}, .9, sc, in); err != nil || a.Earliest != in.byPartner || a.Promise != in.byPartner || a.OnTime != 0 {
		t.Errorf("with a partner's day: %s, %s at %v, %v", a.Earliest, a.Promise, a.OnTime, err)
	}
	// One line of two is late: so is the order.
	in.byPartner, p.Jobs[4].Due = words.Day{}, 5*hour
	if err := a.tell(t.Context(), &plan.Drawn{}, .9, sc, in); err != nil || a.OnTime > .05 {
		t.Errorf("a line that is late: in time at %v, %v", a.OnTime, err)
	}
}
