package act_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// ends is when an order is done, by all that says it: what is on the machine today, the kept plan as things are, a plan made
// now, the day that can be promised, and how a move by hand finds it.
type ends struct{ today, since, made, byHand time.Time }

func (b *bench) ends(t *testing.T, o *book.Order, other *book.Order, machine string) (e ends) {
	t.Helper()
	e.today = on(t, b.today(t), machine).Ends
	end := func(p *book.Plan) (at time.Time) {
		for _, x := range p.Ends {
			if x.OrderID == o.ID {
				at = x.End
			}
		}
		return at
	}
	kept, err := b.Plans.Last(bg)
	if err != nil {
		t.Fatal(err)
	}
	e.since = end(kept)
	for _, l := range b.since(t).Lines {
		if l.Order == o.Number {
			e.since = l.Is
		}
	}
	a, err := b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 1, NoBound: true})
	if err != nil {
		t.Fatal(err)
	}
	e.made = end(a.Plan)
	x, err := b.MoveCost(bg, other.ID, 1, "", b.m[machine], 1)
	if err != nil {
		t.Fatal(err)
	}
	e.byHand = x.Before.Done // the other order is behind it
	return e
}

// What is on a machine is counted on from the floor's last word, in every answer alike: an hour later it ends no later. So it
// was that a plan took all that was not reported as not begun, and a job ended an hour later with every hour that nobody reported.
func TestWhatIsOnAMachineIsCountedOnInEveryAnswer(t *testing.T) {
	for _, crew := range []string{"operators = 2", "operators = 1"} {
		b := fresh(t)
		b.workshop(t, "to = \"11:30\"\noperators = 2", "to = \"11:30\"\n"+crew)
		o := b.order(t, "ostrel-light.dst", 200, "2026-03-20", book.Agreed)
		other := b.order(t, "whale-line.dst", 60, "2026-03-30", book.Agreed)
		for _, x := range []*book.Order{o, other} {
			if _, err := b.HoldLine(bg, x.ID, 1, b.m["Six Sisters"], time.Time{}, ""); err != nil {
				t.Fatal(err)
			}
		}
		p := b.plan(t).Plan
		b.at = p.Lots[0].From // of whichever is first
		if _, err := b.Start(bg, o.ID, 1, b.m["Six Sisters"], 0, "", ""); err != nil {
			t.Fatal(err)
		}
		check := func(what string, want time.Time) time.Time {
			t.Helper()
			e := b.ends(t, o, other, "Six Sisters")
			const most = 3 * time.Minute
			for who, at := range map[string]time.Time{"the plan as things are": e.since, "a plan made now": e.made, "what was so before": want} {
				if !near(e.today, at, most) {
					t.Errorf("%s, %s: today says %v, %s %v", crew, what, e.today, who, at)
				}
			}
			if d := e.byHand.Sub(e.since); d < 0 || d > 40*time.Hour {
				t.Errorf("%s, %s: by hand the order behind it ends %v after it", crew, what, d)
			}
			return e.today
		}
		first := check("just begun", p.Lots[0].To)
		b.at = b.at.Add(110 * time.Minute)
		check("110 minutes later", first)
		b.plan(t) // a plan made meanwhile has what is left on the machine
		check("planned anew", first)
		b.at = b.at.Add(40 * time.Minute)
		check("and 40 minutes later", first)
		r, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Six Sisters"], Good: 18, Breaks: -1}, act.Recording{}, "")
		if err != nil {
			t.Fatal(err)
		}
		reported := b.ends(t, o, other, "Six Sisters").today
		check("reported", reported)
		b.at = b.at.Add(70 * time.Minute)
		check("70 minutes after the report", reported)
		x := r.Report
		x.Good = 24 // a run was forgotten: it ends a run sooner, and nothing is forgotten of what went on since
		if _, err := b.Correct(bg, o.ID, x.ID, x, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
		fewer := b.ends(t, o, other, "Six Sisters").today
		if d := reported.Sub(fewer); d < 5*time.Minute || d > 17*time.Hour { // a night may lie between
			t.Errorf("%s: a run more makes it end %v sooner", crew, d)
		}
		check("corrected", fewer)
		b.at = b.at.Add(100 * time.Hour) // by the reckoning all of it is sewn
		e := b.ends(t, o, other, "Six Sisters")
		if !near(e.today, b.at, time.Second) || !near(e.made, b.at, time.Second) {
			t.Errorf("%s: long after its end: %+v at %v", crew, e, b.at)
		}
	}
}

// A machine of which nobody spoke goes by the plan, whatever was reported from another.
func TestAReportFromOneMachineDoesNotHoldUpAnother(t *testing.T) {
	b := fresh(t)
	o, other := b.order(t, "ostrel-light.dst", 60, "2026-03-20", book.Agreed), b.order(t, "gull-cap.dst", 60, "2026-03-20", book.Agreed)
	for x, m := range map[*book.Order]string{o: "Six Sisters", other: "Gannet"} {
		if _, err := b.HoldLine(bg, x.ID, 1, b.m[m], time.Time{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	b.plan(t)
	b.at = b.at.Add(3 * time.Hour)
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Six Sisters"], Good: 6, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	late := false
	for _, l := range b.since(t).Lines {
		late = late || l.Order == o.Number
		if l.Order == other.Number {
			t.Errorf("a report from Six Sisters moves what is on Gannet from %v to %v", l.Was, l.Is)
		}
	}
	if !late {
		t.Error("what was reported to be behind is not later")
	}
	added := b.order(t, "wheel-badge.dst", 6, "2026-03-20", book.Agreed)
	told := false
	for _, l := range b.since(t).Lines {
		if l.Order == added.Number {
			if told = true; l.Is.Before(b.at) {
				t.Errorf("at %v a new order is done at %v by the plan as it is", b.at, l.Is)
			}
		}
	}
	if !told {
		t.Error("a new order is not told of")
	}
}

// A part of a line that is on a machine has as many pieces to go after a report was corrected or taken back as if it had
// been right at once.
func TestAPartOnAMachineGetsBackWhatWasNotSewn(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 150, "2026-03-20", book.Agreed)
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 90, "", ""); err != nil {
		t.Fatal(err)
	}
	held := func() int {
		now, err := b.Orders.Get(bg, o.ID)
		if err != nil || len(now.Lines[0].Holds) != 1 {
			t.Fatal(now, err)
		}
		return now.Lines[0].Holds[0].Quantity
	}
	b.at = b.at.Add(time.Hour)
	r, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 40, Breaks: -1}, act.Recording{}, "")
	if err != nil || held() != 50 {
		t.Fatal(held(), err)
	}
	x := r.Report
	x.Good = 20
	if r, err = b.Correct(bg, o.ID, x.ID, x, act.Recording{}, ""); err != nil || held() != 70 {
		t.Errorf("20 of 90 after a correction: %d to go, %v", held(), err)
	}
	if _, err := b.TakeBack(bg, o.ID, r.Report.ID, 0, "", ""); err != nil || held() != 90 {
		t.Errorf("taken back: %d of 90 to go, %v", held(), err)
	}
	// What was sewn before it was put on is no part of it.
	if r, err = b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 10, Breaks: -1}, act.Recording{Off: true}, ""); err != nil {
		t.Fatal(err)
	}
	b.at = b.at.Add(time.Hour)
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 30, "", ""); err != nil {
		t.Fatal(err)
	}
	if _, err := b.TakeBack(bg, o.ID, r.Report.ID, 0, "", ""); err != nil || held() != 30 {
		t.Errorf("a report from before it was put on, taken back: %d of 30 to go, %v", held(), err)
	}
}

// When a machine may run again is said of one that may not now, at any part of a second.
func TestAMachineThatMayRunDoesNotSayWhenItMayAgain(t *testing.T) {
	b := fresh(t)
	b.plan(t)
	at := b.at.Truncate(24 * time.Hour).Add(8 * time.Hour)
	for _, part := range []time.Duration{0, 400 * time.Millisecond, 900 * time.Millisecond} {
		for after, open := range map[time.Duration]bool{0: true, 3*time.Hour + 40*time.Minute: false} {
			b.at = at.Add(after + part)
			for _, m := range b.today(t).Machines {
				if m.Open.IsZero() != open {
					t.Errorf("at %v %s may run again at %v", b.at, m.Name, m.Open)
				}
			}
		}
	}
}

// What went off its machine with a report that was a slip is on it again with the report taken back, or corrected to less; not
// where something else has come on the machine meanwhile.
func TestASlipThatEndedALineDoesNotTakeItOffItsMachine(t *testing.T) {
	for _, c := range []struct {
		what    string
		part    int
		off     bool
		another bool
		correct int
		want    int // pieces of the part that is on the machine then; 0: all; -1: nothing is on it
	}{
		{"all of it, taken back", 0, false, false, 0, 0},
		{"all of it, corrected", 0, false, false, 30, 0},
		{"a part, taken back", 60, false, false, 0, 60},
		{"a part, corrected", 60, false, false, 30, 30},
		{"taken off, taken back", 0, true, false, 0, 0},
		{"another is on it now", 0, false, true, 0, -1},
	} {
		b := fresh(t)
		o, other := b.order(t, "gull-cap.dst", 150, "2026-03-20", book.Agreed), b.order(t, "whale-line.dst", 10, "2026-03-20", book.Agreed)
		if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], c.part, "", ""); err != nil {
			t.Fatal(err)
		}
		b.at = b.at.Add(time.Hour)
		r, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 200, Breaks: -1}, act.Recording{Over: true, Off: c.off}, "")
		if err != nil || len(r.Order.Lines[0].Holds) != 0 {
			t.Fatal(c.what, r, err)
		}
		if c.another {
			if _, err := b.Start(bg, other.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
				t.Fatal(err)
			}
		}
		if x := r.Report; c.correct > 0 {
			x.Good = c.correct
			_, err = b.Correct(bg, o.ID, x.ID, x, act.Recording{}, "")
		} else {
			_, err = b.TakeBack(bg, o.ID, r.Report.ID, 0, "", "")
		}
		now, err2 := b.Orders.Get(bg, o.ID)
		if err != nil || err2 != nil {
			t.Fatal(c.what, err, err2)
		}
		got := -1
		for _, h := range now.Lines[0].Holds {
			if h.Running && h.MachineID == b.m["Gannet"] {
				got = h.Quantity
			}
		}
		if got != c.want || (now.State == book.Sewing) != (c.want >= 0) {
			t.Errorf("%s: %d pieces are on the machine, want %d; the order is %s", c.what, got, c.want, now.State)
		}
	}
}

// Of a line that two machines sew, the run sheet of each has its own names and as many pieces as are left there, also when some are sewn.
func TestTheSheetsOfALineOnTwoMachinesHaveEachPieceOnce(t *testing.T) {
	b := fresh(t)
	rows := b.letter(t, "JO", "ADA", "BO", "CY", "DI", "EVE")
	o := b.named(t, false, rows)
	for _, m := range []string{"Gannet", "Skipper"} {
		if _, err := b.Start(bg, o.ID, 1, b.m[m], 3, "", ""); err != nil {
			t.Fatal(err)
		}
	}
	p := b.plan(t).Plan
	if p.Rest(nil).Lots[0].Quantity != p.Lots[0].Quantity {
		t.Fatal("what is left without reports")
	}
	names := func() (on [2][]string) {
		for k, m := range []string{"Gannet", "Skipper"} {
			r, err := b.MakeRunSheet(bg, o.ID, 1, b.m[m], 0)
			if err != nil {
				t.Fatal(err)
			}
			for _, n := range r.Names {
				on[k] = append(on[k], n.Name)
			}
			if r.Quantity != len(r.Names) {
				t.Errorf("%d pieces and %d names on %s", r.Quantity, len(r.Names), m)
			}
		}
		return on
	}
	if got := fmt.Sprint(names()); got != "[[JO ADA BO] [CY DI EVE]]" && got != "[[CY DI EVE] [JO ADA BO]]" {
		t.Errorf("before anything is sewn: %v", got)
	}
	b.at = b.at.Add(time.Hour)
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 2, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	got := names()
	all := slices.Concat(got[0], got[1])
	slices.Sort(all)
	if fmt.Sprint(all) != "[BO CY DI EVE]" || len(got[0]) != 1 || len(got[1]) != 3 {
		t.Errorf("when two are sewn on Gannet: %v", got)
	}
}

// What the plan says to buy, to promise and to set up next is of now: what is sewn is off it, and that it is stale is said.
func TestWhatIsTakenFromAKeptPlanIsOfNow(t *testing.T) {
	b := fresh(t)
	o, next := b.order(t, "ostrel-light.dst", 240, "2026-03-20", book.Agreed), b.order(t, "gull-cap.dst", 20, "2026-03-20", book.Agreed)
	last := b.order(t, "whale-line.dst", 20, "2026-03-20", book.Agreed)
	for k, x := range []*book.Order{o, next, last} {
		if _, err := b.HoldLine(bg, x.ID, 1, b.m["Six Sisters"], b.at.Add(time.Duration(k)*26*time.Hour), ""); err != nil {
			t.Fatal(err)
		}
	}
	p := b.plan(t).Plan
	lots := map[string]book.PlanLot{}
	for _, l := range p.Lots {
		lots[l.OrderID] = l
	}
	list := func(days int) *ask.ThreadListAnswer {
		t.Helper()
		a, err := ask.ThreadList(bg, b.Asked(), ask.ThreadQuestion{Now: b.Now(), Days: days})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	says := func(what string, s words.Sentences, want bool) {
		t.Helper()
		if got := strings.Contains(s.Text(nil), "changed since the plan was made"); got != want {
			t.Errorf("%s: the plan is stale: %v, said: %v", what, want, got)
		}
	}
	promise := func() words.Sentences {
		t.Helper()
		a, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.Now(), Order: last.ID, AsPlanned: true})
		if err != nil {
			t.Fatal(err)
		}
		return a.Caveats
	}
	all := list(0)
	says("at first", all.Caveats, false)
	says("at first", promise(), false)
	b.at = lots[o.ID].From
	if _, err := b.Start(bg, o.ID, 1, b.m["Six Sisters"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	b.at = lots[last.ID].SetupFrom.Add(time.Minute) // far behind: the first is on it still
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Six Sisters"], Good: 120, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	a := b.today(t)
	for _, m := range a.Machines {
		if m.Name == "Six Sisters" && (m.Next == nil || m.Next.OrderID != next.ID || m.Next.SetUpFrom.Before(m.On.Ends)) {
			t.Errorf("next on a machine that is behind: %+v", m.Next)
		}
	}
	left := list(0)
	if day := p.Zone.Day(b.at); left.Days[0].Day.Before(day) || list(1).Days[0].Day != day {
		t.Errorf("on %v thread is to be bought for %v", day, left.Days[0].Day)
	}
	want := map[string]float64{}
	for _, x := range all.Threads {
		want[x.Thread] = x.Metres
	}
	r, err := b.MakeRunSheet(bg, o.ID, 1, b.m["Six Sisters"], 120)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range r.Colours {
		want[c.Thread] -= c.Metres
	}
	for _, x := range left.Threads {
		if math.Abs(x.Metres-want[x.Thread]) > 1e-6*x.Metres {
			t.Errorf("%s: %v m to buy when 120 pieces are sewn, want %v", x.Thread, x.Metres, want[x.Thread])
		}
	}
	says("as usual", left.Caveats, false)
	b.workshop(t, "speed = 850\n", "speed = 700\n")
	says("another speed", list(0).Caveats, true)
	says("another speed", promise(), true)
}

// A second machine that begins a line which another has all of takes its part of it: plan, Today and run sheets have each piece on one
// machine, and no machine that sews is idle in the plan.
func TestASecondMachineOnALineTakesItsPart(t *testing.T) {
	for _, c := range []struct {
		what   string
		hold   bool // the first machine only holds it
		pieces int  // that the second one says
		want   map[string]int
	}{
		{"so many", false, 50, map[string]int{"Skipper": 100, "Gannet": 50}},
		{"as many as it is fast", false, 0, map[string]int{"Skipper": 76, "Gannet": 74}},
		{"all of it", false, 150, map[string]int{"Gannet": 150}},
		{"held elsewhere, so many", true, 50, map[string]int{"Skipper": 100, "Gannet": 50}},
		{"held elsewhere", true, 0, map[string]int{"Gannet": 150}},
	} {
		b := fresh(t)
		o := b.order(t, "gull-cap.dst", 150, "2026-03-20", book.Agreed)
		if _, err := b.HoldLine(bg, o.ID, 1, b.m["Skipper"], time.Time{}, ""); err != nil {
			t.Fatal(err)
		}
		b.plan(t)
		b.at = b.at.Add(10 * time.Minute)
		if !c.hold {
			if _, err := b.Start(bg, o.ID, 1, b.m["Skipper"], 0, "", ""); err != nil {
				t.Fatal(err)
			}
		}
		b.at = b.at.Add(10 * time.Minute)
		if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], c.pieces, "", ""); err != nil {
			t.Fatal(err)
		}
		near := func(who string, machine string, got int) {
			t.Helper()
			if want := c.want[machine]; got < want-4 || got > want+4 {
				t.Errorf("%s: %s has %d pieces on %s, want %d", c.what, who, got, machine, want)
			}
		}
		a, err := b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 1, NoBound: true})
		if err != nil {
			t.Fatal(err)
		}
		all := sharing(a.Plan, o.ID)
		if all[b.m["Gannet"]]+all[b.m["Skipper"]] != 150 {
			t.Errorf("%s: planned %v", c.what, all)
		}
		for m := range c.want {
			near("the plan", m, all[b.m[m]])
			r, err := b.MakeRunSheet(bg, o.ID, 1, b.m[m], 0)
			if err != nil {
				t.Fatal(err)
			}
			near("the run sheet", m, r.Quantity)
		}
		for _, m := range b.today(t).Machines {
			if m.On != nil && m.On.Basis == ask.ByReport {
				near("Today", m.Name, m.On.Pieces)
			}
		}
	}
}

// What is moved by hand begins no sooner than now, however long its new machine has stood idle; the next moment it is asked again.
func TestAMoveByHandDoesNotBeginInThePast(t *testing.T) {
	b := fresh(t)
	first, o := b.order(t, "ostrel-light.dst", 600, "2026-03-20", book.Agreed), b.order(t, "gull-cap.dst", 60, "2026-03-20", book.Agreed)
	for k, x := range []*book.Order{first, o} {
		if _, err := b.HoldLine(bg, x.ID, 1, b.m["Six Sisters"], b.at.Add(time.Duration(k)*50*time.Hour), ""); err != nil {
			t.Fatal(err)
		}
	}
	b.plan(t)
	if _, err := b.Orders.Release(bg, o.ID, 1, ""); err != nil {
		t.Fatal(err)
	}
	end := func() time.Time {
		t.Helper()
		mv, err := b.MoveCost(bg, o.ID, 1, "", b.m["Gannet"], 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range mv.Lines {
			if l.Name == "1002" {
				return l.After
			}
		}
		t.Fatalf("it moves nothing: %+v", mv.Lines)
		return time.Time{}
	}
	at := b.at
	for _, later := range []time.Duration{0, 25 * time.Hour, 26 * time.Hour} {
		b.at = at.Add(later)
		work := 2 * time.Hour // 60 pieces take longer than that
		if got := end(); got.Before(b.at.Add(work)) || got.After(b.at.Add(25*time.Hour)) {
			t.Errorf("moved at %v it is done at %v", b.at, got)
		}
	}
}
