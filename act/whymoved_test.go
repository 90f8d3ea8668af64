package act_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// row is three orders that stand on one machine, one after the other, and their plan.
func (b *bench) row(t *testing.T) (first, second, third *book.Order, p *book.Plan) {
	t.Helper()
	first = b.order(t, "ostrel-light.dst", 60, "2026-03-03", book.Agreed)
	second = b.order(t, "larkess-ferry.dst", 240, "2026-03-06", book.Agreed)
	third = b.order(t, "wheel-badge.dst", 60, "2026-03-20", book.Agreed)
	for _, o := range []*book.Order{first, second, third} {
		if _, err := b.HoldLine(bg, o.ID, 1, b.m["Six Sisters"], time.Time{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	p = b.plan(t).Plan
	if len(p.Lots) != 3 || p.Lots[0].OrderID != first.ID || p.Lots[1].OrderID != second.ID || p.Lots[2].OrderID != third.ID {
		t.Fatalf("they stand otherwise: %+v", p.Lots)
	}
	return first, second, third, p
}

func whyMoved(a *ask.PlanAnswer, o *book.Order) string {
	var all []string
	for _, m := range a.Moved {
		if strings.HasPrefix(m.Name, words.Whole(o.Number).Raw()+" ") {
			all = append(all, m.Kind+": "+m.Why)
		}
	}
	return strings.Join(all, "; ")
}

func (b *bench) sewn(t *testing.T, o *book.Order, machine string, good int) {
	t.Helper()
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m[machine], Good: good, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
}

// What was sewn as it was planned is no reason why something is later, and what is no longer wanted is not sewn: it is the
// order that goes in front, is withdrawn or asks for fewer pieces.
func TestWhyAnOrderMovedWhileTheFloorGoesByThePlan(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(b *bench, second *book.Order) error
		third  string // why the third order moved; %2 is the second's name
		second string
	}{
		{"a new order in front", func(b *bench, _ *book.Order) error {
			o := b.order(t, "saltmere-oars.dst", 24, "2026-03-02", book.Agreed)
			_, err := b.HoldLine(bg, o.ID, 1, b.m["Six Sisters"], time.Time{}, "")
			return err
		}, "later: 1004 Customer of saltmere-oars.dst, which is new, comes before it on machine Six Sisters",
			"later: 1004 Customer of saltmere-oars.dst, which is new, comes before it on machine Six Sisters"},
		{"the one before it is withdrawn", func(b *bench, second *book.Order) error {
			_, err := b.Orders.Move(bg, second.ID, 0, book.Withdrawn, "", "")
			return err
		}, "earlier: %2 is no longer before it on machine Six Sisters", "removed: no longer among the orders"},
		{"the one before it is cut", func(b *bench, second *book.Order) error {
			second.Lines[0].Quantity = 60
			_, _, err := b.ChangeOrder(bg, *second, "")
			return err
		}, "earlier: %2 before it on machine Six Sisters takes", "earlier: its quantity changed from 240 to 60"},
		{"the one before it was sewn elsewhere", func(b *bench, second *book.Order) error {
			b.sewn(t, second, "Gannet", 240)
			return nil
		}, "earlier: %2 is no longer before it on machine Six Sisters", ""},
	} {
		b := fresh(t)
		first, second, third, p := b.row(t)
		b.at = p.Lots[0].SetupFrom
		if _, err := b.Start(bg, first.ID, 1, b.m["Six Sisters"], 0, "", ""); err != nil {
			t.Fatal(err)
		}
		b.at = p.Lots[0].To
		b.sewn(t, first, "Six Sisters", 60)
		if a, err := b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 3_000, NoBound: true}); err != nil || len(a.Moved) > 0 { // the kept plan stays
			t.Errorf("%s: all went by the plan, and yet %+v, %v", c.what, a.Moved, err)
		}
		b.at = b.at.Add(time.Minute)
		if err := c.change(b, orderNow(t, b, second.ID)); err != nil {
			t.Fatal(err)
		}
		a := b.plan(t)
		name := words.Whole(second.Number).Raw() + " " + second.Customer
		for o, want := range map[*book.Order]string{third: strings.ReplaceAll(c.third, "%2", name), second: c.second} {
			if why := whyMoved(a, o); !strings.HasPrefix(why, want) || want == "" && why != "" {
				t.Errorf("%s: %d moved, %q; want %q", c.what, o.Number, why, want)
			}
		}
	}
}

// A job that waits for its sample waits for no goods, and what the calendar did to it is told as what it is.
func TestWhyAnOrderMovedThatWaits(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 60, "2026-03-27", book.Agreed)
	on := func(day int) words.Day { return words.NewDay(2026, 3, day) }
	change := func(goods words.Day, a book.Approval) {
		t.Helper()
		now := orderNow(t, b, o.ID)
		now.Goods, now.Lines[0].Approval = goods, a
		if _, _, err := b.ChangeOrder(bg, *now, ""); err != nil {
			t.Fatal(err)
		}
	}
	change(words.Day{}, book.Approval{Due: on(11), Sent: on(2)})
	b.plan(t)
	for _, c := range []struct {
		goods    words.Day
		approval book.Approval
		at       int // day of March
		want     string
	}{
		{words.Day{}, book.Approval{Due: on(13), Sent: on(2)}, 2, "later: the day on which its sample is to be approved changed"},
		{words.Day{}, book.Approval{Due: on(12), Sent: on(2)}, 2, "earlier: the day on which its sample is to be approved changed"},
		{words.Day{}, book.Approval{Due: on(12), Sent: on(2)}, 16, "later: its sample was to be approved by now and is not"},
		{words.Day{}, book.Approval{Due: on(12), Sent: on(2), Given: on(16)}, 16, "earlier: its sample is approved"},
		{on(18), book.Approval{}, 16, "later: the day its goods come changed"},
		{on(19), book.Approval{}, 16, "later: the day its goods come changed"},
		{on(18), book.Approval{}, 16, "earlier: the day its goods come changed"},
		{words.Day{}, book.Approval{}, 16, "earlier: its garments are here"},
	} {
		if at := time.Date(2026, 3, c.at, 7, 0, 0, 0, time.UTC); at.After(b.at) {
			b.at = at
		}
		change(c.goods, c.approval)
		if why := whyMoved(b.plan(t), o); why != c.want {
			t.Errorf("on the %d, goods %s, approval %+v: %q; want %q", c.at, c.goods, c.approval, why, c.want)
		}
	}
	change(words.Day{}, book.Approval{Due: on(30)})
	if p := b.plan(t).Plan; !slices.ContainsFunc(p.Notes, func(n book.LeftOut) bool {
		return n.Why == "its sample is expected to be approved only after the due date"
	}) {
		t.Errorf("approved after the due day: %+v", p.Notes)
	}
}

// What is on a machine that is down from the next shift on is told before that shift begins.
func TestWhatIsOnAMachineThatWillBeDown(t *testing.T) {
	for _, c := range []struct {
		from string // of the down time, on Tuesday
		told bool
	}{{"07:00", true}, {"09:00", false}} {
		b := fresh(t)
		b.workshop(t, "2026-03-04 07:00", "2026-03-03 "+c.from)
		o := b.order(t, "ostrel-light.dst", 60, "2026-03-20", book.Agreed)
		if _, err := b.Start(bg, o.ID, 1, b.m["Skipper"], 0, "", ""); err != nil {
			t.Fatal(err)
		}
		b.at = time.Date(2026, 3, 2, 22, 0, 0, 0, time.UTC)
		told := slices.ContainsFunc(b.plan(t).Plan.Notes, func(n book.LeftOut) bool { return strings.Contains(n.Why, "which is down until") })
		if told != c.told {
			t.Errorf("down from %s on: told %v", c.from, told)
		}
	}
}
