package ask

import (
	"context"
	"math"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/floor"
	"needlepace/plan"
	"needlepace/words"
)

// byHand is a book whose replay is known: 8 hours a day on machines alike; A (4 h),
// B (3 h), E (1 h) and C (4 h) are due at the end of the first day, D (3 h) after 5 h of
// the second; C comes after an hour.
func byHand(machines int) (*course, *hindsight) {
	const hour = 3600.0
	origin := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	p := &problem{Problem: &plan.Problem{Origin: origin}}
	var fits []plan.Fit
	for m := range machines {
		p.stations = append(p.stations, &station{Machine: Machine{ID: string(rune('p' + m))}, work: floor.Work{Setup: &floor.Spread{}}})
		p.Machines = append(p.Machines, plan.Machine{ID: p.stations[m].ID,
			Windows: []plan.Window{{From: 0, To: 8 * hour}, {From: 24 * hour, To: 32 * hour}}})
		fits = append(fits, plan.Fit{Machine: m, Run: hour, Pieces: 1})
	}
	h := &hindsight{a: &HindsightAnswer{Chance: .9}}
	for _, x := range []struct {
		id         string
		n          int
		after, due float64
	}{{"A", 4, 0, 8}, {"B", 3, 0, 8}, {"E", 1, 0, 8}, {"D", 3, 0, 29}, {"C", 4, 1, 8}} {
		o := &book.Order{ID: x.id, Made: origin.Add(time.Duration(x.after) * time.Hour), Lines: []book.OrderLine{{Line: 1, Quantity: x.n}}}
		on := make([]*lineOn, machines)
		for m := range on {
			on[m] = &lineOn{}
		}
		h.orders, p.orders = append(h.orders, o), append(p.orders, o)
		p.add(plan.Job{ID: x.id, Quantity: x.n, Due: x.due * hour, Release: x.after * hour, Weight: 1, Fits: fits, Design: x.id},
			jobOf{order: o, line: &o.Lines[0], on: on})
	}
	return &course{p: p}, h
}

func TestAReplayIsWhatItIsByHand(t *testing.T) {
	ctx := context.Background()
	for _, x := range []struct {
		machines, late  int
		hours, overtime float64
		refused         string
	}{
		// 15 h of work: A, B and E in time, C after 4 h of the second day (20 h late), D after
		// 7 h (2 h late). 4 h of overtime on the first day mend both. E would end with the shift, behind A and B,
		// who were told a day before: too unsure to promise. C is late anywhere.
		{1, 2, 22, 4, "EC"},
		{3, 0, 0, 0, ""},
	} {
		c, h := byHand(x.machines)
		var err error
		c.p.LotSeconds = -1
		if c.sc, err = plan.Solve(ctx, c.p.Problem, plan.Options{Seed: 1}); err != nil {
			t.Fatal(err)
		}
		c.measure()
		if c.late != x.late || math.Abs(c.hours-x.hours) > .001 {
			t.Errorf("%d machines: %d late by %v h, by hand %d by %v h", x.machines, c.late, c.hours, x.late, x.hours)
		}
		if got := overtime(c.p.Problem, c.sc) / 3600; math.Abs(got-x.overtime) > .001 {
			t.Errorf("%d machines: %v h overtime, by hand %v h", x.machines, got, x.overtime)
		}
		if err := c.draw(ctx); err != nil {
			t.Fatal(err)
		}
		for _, n := range c.draws {
			if n < x.late || n > x.late+3 {
				t.Fatalf("%d machines: %d late in a draw", x.machines, n)
			}
		}
		if err := c.refuse(ctx, h); err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, o := range c.refused {
			got += o.ID
		}
		if got != x.refused {
			t.Errorf("%d machines refuse %q, by hand %q", x.machines, got, x.refused)
		}
	}
}

// What has begun when an order comes stays on its machine: the order waits.
func TestWhatHasBegunStaysInTheReplay(t *testing.T) {
	c, _ := byHand(1)
	c.p.LotSeconds = -1
	sc, err := plan.Solve(context.Background(), c.p.Problem, plan.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	first, n := sc.Lots[0], len(sc.Lots)
	at := *c.p
	left := at.begun(sc, first.From+1800)
	if at.Machines[0].Free != first.To || len(left.Lots) != n-1 || len(at.Jobs) != n-1 || len(c.p.Jobs) != 5 {
		t.Errorf("half an hour after its begin the machine is free at %v, of %v lots %d are left of %d jobs", at.Machines[0].Free,
			n, len(left.Lots), len(at.Jobs))
	}
	for _, l := range left.Lots {
		if at.Jobs[l.Job].ID == c.p.Jobs[first.Job].ID || at.jobs[l.Job].order.ID != at.Jobs[l.Job].ID {
			t.Errorf("lot of %s, order %s", at.Jobs[l.Job].ID, at.jobs[l.Job].order.ID)
		}
	}
}

// A date that the plan meets is not promised where it is met too seldom: 8 h of
// work in 8 h.
func TestADateThatIsUnsureIsRefused(t *testing.T) {
	c, h := byHand(1)
	for i, n := range []int{8} {
		c.p.Jobs[i].Quantity, h.orders[i].Lines[0].Quantity = n, n
	}
	h.orders = h.orders[:1]
	if err := c.refuse(context.Background(), h); err != nil || len(c.refused) != 1 {
		t.Errorf("8 h in 8 h: %d refused, %v", len(c.refused), err)
	}
	c.p.Jobs[0].Quantity = 7
	if err := c.refuse(context.Background(), h); err != nil || len(c.refused) != 0 {
		t.Errorf("7 h in 8 h: %d refused, %v", len(c.refused), err)
	}
}

// An order is replayed as it came: nothing sewn, garments not before it, wanted on
// the customer's day.
func TestAnOrderIsReplayedAsItCame(t *testing.T) {
	day := func(d int) words.Day { return words.NewDay(2026, 3, d) }
	o := &book.Order{Made: time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC), State: book.Delivered, Due: day(9), Promised: day(12),
		Goods: day(2), Lines: []book.OrderLine{{Line: 1, Quantity: 9, Good: 9, Spoilt: 2, Again: 1, Delivered: 9,
			Holds:      []book.Hold{{}},
			LinePieces: book.LinePieces{Deliveries: []book.Delivery{{Day: day(6), Came: day(7), Pieces: 4}, {Day: day(3), Pieces: 1}}}}}}
	x := asItCame(&book.Workshop{}, o)
	l := &x.Lines[0]
	if x.State != book.Agreed || x.Wanted() != day(9) || x.Goods != day(4) || l.Left() != 9 || l.Rework() != 0 || l.Delivered != 0 ||
		len(l.Holds) != 0 || l.Deliveries[0].Day != day(7) || !l.Deliveries[0].Came.IsZero() || l.Deliveries[1].Day != day(4) {
		t.Errorf("%+v", x)
	}
	if o.Lines[0].Good != 9 || o.Lines[0].Deliveries[0].Came.IsZero() {
		t.Error("the order itself was changed")
	}
}

func TestAShiftIsRead(t *testing.T) {
	for text, want := range map[string]book.ShiftHours{
		"sat 08:00-12:00 2":   {Days: []string{"sat"}, From: "08:00", To: "12:00", Operators: 2},
		"mon,tue 18:00-02:00": {Days: []string{"mon", "tue"}, From: "18:00", To: "02:00", Operators: 1},
		" 18:00-22:00 1.5 ":   {From: "18:00", To: "22:00", Operators: 1.5},
	} {
		got, err := shiftOf(text)
		if err != nil || got.From != want.From || got.To != want.To || got.Operators != want.Operators || len(got.Days) != len(want.Days) {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for _, bad := range []string{"sat", "sat 08:00", "sat sun 08:00-12:00", "08:00-12:00 -1", "08:00-12:00 1 2", "sat 08:00-12:00 x"} {
		if got, err := shiftOf(bad); err == nil {
			t.Errorf("%q is read as %+v", bad, got)
		}
	}
}
