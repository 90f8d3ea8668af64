package act_test

import (
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// What is set up and begins later by the plan is not sewing: nothing is counted down before
// its garments come, or before the time that it is held until.
func TestTodayCountsDownNothingBeforeItBegins(t *testing.T) {
	b := fresh(t)
	goods := b.order(t, "larkess-ferry.dst", 24, "2026-03-20", book.Agreed)
	goods.Goods = words.NewDay(2026, 3, 5)
	if _, _, err := b.ChangeOrder(bg, *goods, ""); err != nil {
		t.Fatal(err)
	}
	until := time.Date(2026, 3, 5, 11, 0, 0, 0, time.UTC)
	held := b.order(t, "wheel-badge.dst", 24, "2026-03-20", book.Agreed)
	for o, at := range map[string]struct {
		machine string
		at      time.Time
	}{goods.ID: {"Gannet", time.Time{}}, held.ID: {"Skipper", until}} {
		if _, err := b.HoldLine(bg, o, 1, b.m[at.machine], at.at, ""); err != nil {
			t.Fatal(err)
		}
	}
	p := b.plan(t).Plan
	begins := map[string]*book.PlanLot{}
	for i := range p.Lots {
		begins[p.Lots[i].Machine] = &p.Lots[i]
	}
	for machine, lot := range begins {
		if lot.From.Before(time.Date(2026, 3, 5, 0, 0, 0, 0, time.UTC)) || !lot.SetupFrom.Before(lot.From.Add(-24*time.Hour)) {
			t.Fatalf("%s: set up from %v, sewing from %v", machine, lot.SetupFrom, lot.From)
		}
		b.at = lot.SetupFrom.Add(time.Minute)
		if x := on(t, b.today(t), machine); x.Phase != ask.SettingUp {
			t.Errorf("%s a minute into its set-up: %s", machine, x.Phase)
		}
		for _, at := range []time.Time{lot.SetupFrom.Add(time.Minute), lot.SetupFrom.Add(2 * time.Hour), lot.SetupFrom.Add(26 * time.Hour), lot.From.Add(-time.Minute)} {
			b.at = at
			a := b.today(t)
			x := on(t, a, machine)
			if at.After(lot.SetupFrom.Add(time.Hour)) && x.Phase != ask.Waiting && x.Phase != ask.Closed {
				t.Errorf("%s at %v, begins %v: %s", machine, at, lot.From, x.Phase)
			}
			for _, n := range []*ask.TodayNeed{x.Change, x.Stop, x.Bobbin, x.End} {
				if n != nil && !n.At.After(lot.From) {
					t.Errorf("%s at %v begins at %v, and needs somebody at %v: %s", machine, at, lot.From, n.At, n.Say().Text(nil))
				}
			}
			if x.End == nil || !near(x.Ends, lot.To, time.Minute) || !near(x.End.At, x.RunEnds, time.Second) || x.At != 0 {
				t.Errorf("%s at %v: %+v; the plan ends it at %v", machine, at, x, lot.To)
			}
			for _, n := range a.Needs {
				if n.Machine == machine && n.Kind != ask.NeedSetUp && n.At.Before(lot.From) {
					t.Errorf("%s at %v begins at %v and is told to need somebody at %v", machine, at, lot.From, n.At)
				}
			}
		}
		b.at = lot.From.Add(time.Minute)
		if x := on(t, b.today(t), machine); x.Phase != ask.Sewing || x.Piece != 1 {
			t.Errorf("%s a minute after it began: %+v", machine, x)
		}
	}
}

// What begins soon stays where it is, a line on two machines as well as one on one machine.
func TestFreezingHoldsEachPartOfASharedLine(t *testing.T) {
	b := fresh(t)
	caps := func(pieces int, due string, weight float64) *book.Order {
		o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Due: day(t, due), Weight: weight, State: book.Agreed, Lines: []book.OrderLine{
			{DesignID: b.designs["gull-cap.dst"], Quantity: pieces, LineGoods: book.LineGoods{CapFrame: true}}}}, "")
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	o := caps(400, "2026-03-05", 1)
	lots := func(p *book.Plan) map[string]book.PlanLot {
		out := map[string]book.PlanLot{}
		for _, l := range p.Lots {
			if l.OrderID == o.ID {
				out[l.Machine] = l
			}
		}
		return out
	}
	was := lots(b.plan(t).Plan)
	if len(was) != 2 {
		t.Fatalf("it is on %d machines: %+v", len(was), was)
	}
	caps(60, "2026-03-02", 50)
	b.at = b.at.Add(5 * time.Minute)
	make := func(freeze time.Duration) *ask.PlanAnswer {
		t.Helper()
		a, err := b.MakePlan(bg, ask.PlanQuestion{Seed: 1, Moves: 3_000, NoBound: true, Freeze: freeze}, "")
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	stay := func(what string, p *book.Plan) (same bool) {
		now := lots(p)
		pieces := 0
		for machine, l := range was {
			n := now[machine]
			pieces += n.Quantity
			same = same || n.From.Sub(l.From) > time.Hour
			if what != "" && (n.Quantity != l.Quantity || n.From.Sub(l.From) > 15*time.Minute) {
				t.Errorf("%s: on %s it was %d from %v, is %d from %v", what, machine, l.Quantity, l.From, n.Quantity, n.From)
			}
		}
		if what != "" && pieces != 400 {
			t.Errorf("%s: %d pieces are planned", what, pieces)
		}
		return same
	}
	what, err := b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 3_000, NoBound: true})
	if err != nil {
		t.Fatal(err)
	}
	if !stay("", what.Plan) {
		t.Fatal("the rush moves nothing, frozen or not: this proves nothing")
	}
	stay("frozen", make(8*time.Hour).Plan)
	b.at = b.at.Add(5 * time.Minute)
	stay("frozen again", make(8*time.Hour).Plan)
	if a := make(0); len(lots(a.Plan)) == 0 {
		t.Error("not frozen any more it is in no plan")
	}
}

func day(t *testing.T, s string) words.Day {
	t.Helper()
	d, err := words.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// What is left of a line on a machine, and has no garments yet, is planned from when they come.
func TestWhatIsOnAMachineWaitsForItsGarments(t *testing.T) {
	b := fresh(t)
	o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Due: words.NewDay(2026, 3, 5), Weight: 1, State: book.Agreed, Lines: []book.OrderLine{
		{DesignID: b.designs["wheel-badge.dst"], Quantity: 100, LinePieces: book.LinePieces{Deliveries: []book.Delivery{{Day: words.NewDay(2026, 3, 11), Pieces: 30}}}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Start(bg, o.ID, 1, b.m["Six Sisters"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	b.at = b.at.Add(3 * time.Hour)
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Six Sisters"], Good: 70, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	b.at = b.at.Add(5 * time.Minute)
	p := b.plan(t).Plan
	comes := time.Date(2026, 3, 10, 22, 0, 0, 0, time.UTC)
	if len(p.Lots) != 1 || p.Lots[0].Quantity != 30 || p.Lots[0].Machine != "Six Sisters" || p.Lots[0].From.Before(comes) {
		t.Errorf("the 30 whose garments come on 11 Mar: %+v", p.Lots)
	}
	if len(p.Ends) != 1 || p.Ends[0].Late == 0 || p.Ends[0].OnTime > .01 || p.Ends[0].Day.Before(words.NewDay(2026, 3, 11)) {
		t.Errorf("they are done: %+v", p.Ends)
	}
	if len(p.Notes) == 0 || !strings.Contains(p.Notes[0].Why, "its goods come only on") {
		t.Errorf("notes %+v", p.Notes)
	}
	a, err := ask.Promise(bg, b.Asked(), ask.PromiseQuestion{Now: b.at, Order: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	if a.Promise.Before(words.NewDay(2026, 3, 11)) || a.Earliest.Before(words.NewDay(2026, 3, 11)) {
		t.Errorf("promised for %v, at the earliest %v", a.Promise, a.Earliest)
	}
}

// A line that is cut to what is sewn of it leaves its machine, which others may have.
func TestALineCutToWhatIsSewnLeavesItsMachine(t *testing.T) {
	b := fresh(t)
	o, other := b.order(t, "wheel-badge.dst", 100, "2026-03-20", book.Agreed), b.order(t, "gull-cap.dst", 10, "2026-03-20", book.Agreed)
	gannet := b.m["Gannet"]
	if _, err := b.Start(bg, o.ID, 1, gannet, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: gannet, Good: 80, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	cut := func(to int) *book.Order {
		t.Helper()
		k, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		k.Lines[0].Quantity = to
		if k, _, err = b.ChangeOrder(bg, *k, ""); err != nil {
			t.Fatal(err)
		}
		return k
	}
	if k := cut(90); len(k.Lines[0].Holds) != 1 {
		t.Errorf("with ten left it is on %+v", k.Lines[0].Holds)
	}
	if k := cut(80); len(k.Lines[0].Holds) != 0 {
		t.Errorf("with nothing left it is on %+v", k.Lines[0].Holds)
	}
	if _, err := b.Start(bg, other.ID, 1, gannet, 0, "", ""); err != nil {
		t.Errorf("the machine is not free: %v", err)
	}
}

// A design that is on several lines of an order is digitized once.
func TestADesignIsDigitizedOnceInAnOrder(t *testing.T) {
	b := fresh(t)
	line := func(file string, n int, digitize bool) book.OrderLine {
		return book.OrderLine{DesignID: b.designs[file], Quantity: n, Digitize: digitize}
	}
	o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Weight: 1, Lines: []book.OrderLine{line("wheel-badge.dst", 12, false),
		line("wheel-badge.dst", 24, true), line("gull-cap.dst", 12, true), line("wheel-badge.dst", 12, true)}}, "")
	if err != nil {
		t.Fatal(err)
	}
	q, err := b.KeepOneQuote(o.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	var fees []string
	net := q.Fees[0].Amount.Add(q.Fees[len(q.Fees)-1].Amount)
	for _, f := range q.Fees {
		fees = append(fees, f.Design)
	}
	for _, l := range q.Lines {
		net = net.Add(l.Sum)
	}
	if strings.Join(fees, " ") != "wheel-badge gull-cap" || !net.Equal(q.Net) {
		t.Errorf("fees for %v; it comes to %s, by hand %s", fees, q.Net, net)
	}
}

// Too late is by when all is done as planned: of one line, of several, in one delivery or not. What
// cannot be promised by that day, and is done by then as planned, is at risk and not too late.
func TestTooLateIsByThePlannedEnd(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 400, "2026-03-04", book.Agreed)
	p := b.plan(t).Plan
	e := p.Ends[0]
	if !e.Day.After(e.DoneDay) || e.DoneDay.Before(words.NewDay(2026, 3, 5)) {
		t.Fatalf("done %v, to promise %v: this proves nothing", e.DoneDay, e.Day)
	}
	two, _, err := b.AddOrder(bg, book.Order{Customer: "Two", Due: words.NewDay(2026, 3, 4), Weight: 1, State: book.Agreed, Together: true, Lines: []book.OrderLine{
		{DesignID: b.designs["harbour-jacket-back.dst"], Quantity: 200}, {DesignID: b.designs["gull-cap.dst"], Quantity: 6}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{o.ID, two.ID} {
		for _, with := range []int{0, -1} {
			var last, promise words.Day
			for _, e := range b.plan(t).Plan.Ends {
				if e.OrderID == id && e.DoneDay.After(last) {
					last, promise = e.DoneDay, e.Day
				}
			}
			if with == 0 && !promise.After(last) {
				t.Fatalf("done %v, to promise %v: this proves nothing", last, promise)
			}
			k, err := b.Orders.Get(bg, id)
			if err != nil {
				t.Fatal(err)
			}
			if k.Latest = last.Add(with); k.Latest.Before(k.Due) {
				k.Due = k.Latest
			}
			if _, _, err := b.ChangeOrder(bg, *k, ""); err != nil {
				t.Fatal(err)
			}
			a := b.plan(t)
			for _, e := range a.Plan.Ends {
				if e.OrderID == id && e.TooLate != e.DoneDay.After(k.Latest) {
					t.Errorf("%s: latest %v, done %v, to promise %v: too late %v", e.Name, k.Latest, e.DoneDay, e.Day, e.TooLate)
				}
				if e.OrderID == id && e.TooLate != (with < 0) {
					t.Errorf("%s: latest %v, %d days from where it was done: too late %v", e.Name, k.Latest, with, e.TooLate)
				}
			}
			if with < 0 {
				said := ""
				for _, w := range a.Watch {
					said += w.Say.Text(nil) + "\n"
				}
				if want := "is done " + (words.NearDay{Day: last, Today: words.NewDay(2026, 3, 2)}).Text(nil) + ", after its latest day"; !strings.Contains(said, want) {
					t.Errorf("it does not say %q:\n%s", want, said)
				}
			}
		}
	}
}
