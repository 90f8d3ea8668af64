package act_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// today is the shop at a moment.
func (b *bench) today(t testing.TB, heard ...ask.HeardAt) *ask.TodayAnswer {
	t.Helper()
	a, err := ask.Today(bg, b.Asked(), ask.TodayQuestion{Now: b.Now(), Heard: heard})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// on is what is on a machine.
func on(t testing.TB, a *ask.TodayAnswer, machine string) *ask.TodayOn {
	t.Helper()
	k := slices.IndexFunc(a.Machines, func(m ask.TodayMachine) bool { return m.Name == machine })
	if k < 0 || a.Machines[k].On == nil {
		t.Fatalf("nothing is on %s: %+v", machine, a.Machines)
	}
	return a.Machines[k].On
}

// watches are the kinds of what needs a person.
func watches(a *ask.TodayAnswer) (out []ask.WatchKind) {
	for _, w := range a.Watch {
		out = append(out, w.Kind)
	}
	return out
}

func seconds(d time.Duration) float64 { return d.Seconds() }

func near(a, b time.Time, most time.Duration) bool { return a.Sub(b).Abs() <= most }

// A job that nobody has reported is where the plan has it; from the moment that it is put
// on its machine its pieces are counted from then, and from a report on from that.
func TestTodayGoesByThePlanUntilTheFloorSpeaks(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 30, "2026-03-06", book.Agreed)
	if _, err := b.HoldLine(bg, o.ID, 1, b.m["Gannet"], time.Time{}, ""); err != nil {
		t.Fatal(err)
	}
	lot := b.plan(t).Plan.Lots[0]
	each := seconds(lot.To.Sub(lot.From)) / 30 // all of it before the first pause
	at := func(pieces float64) time.Time {
		return lot.From.Add(time.Duration(pieces * each * float64(time.Second)))
	}
	b.at = lot.SetupFrom.Add(time.Second)
	if x := on(t, b.today(t), "Gannet"); x.Phase != ask.SettingUp || x.Piece != 1 || !near(x.Ends, lot.To, 2*time.Second) {
		t.Errorf("while it is set up: %+v; the plan ends it at %v", x, lot.To)
	}
	for _, pieces := range []float64{0.01, 2.3, 7.5, 29.2} {
		b.at = at(pieces)
		x := on(t, b.today(t), "Gannet")
		if x.Basis != ask.ByPlan || x.Piece != int(pieces)+1 || x.PieceTo != x.Piece || x.Pieces != 30 || x.Phase != ask.Sewing {
			t.Errorf("after %v pieces: %+v", pieces, x)
		}
		// What stands there by the plan can be asked how long is left, as what was reported.
		if left, err := ask.Left(bg, b.Asked(), ask.LeftQuestion{Now: b.at, Machine: "Gannet", Stitch: 1000}); err != nil || left.Number != o.Number || left.Seconds <= 0 {
			t.Errorf("after %v pieces, at stitch 1,000: %+v, %v", pieces, left, err)
		}
		if !near(x.Ends, lot.To, time.Duration(each*float64(time.Second))) || math.Abs(x.Behind) > each || x.Late != 0 {
			t.Errorf("after %v pieces it ends %v, %v s behind; the plan has %v", pieces, x.Ends, x.Behind, lot.To)
		}
	}
	b.at = at(3)
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	b.at = b.at.Add(time.Duration(1.5 * each * float64(time.Second)))
	x := on(t, b.today(t), "Gannet")
	if x.Basis != ask.ByReport || x.Piece != 2 || x.Pieces != 30 || math.Abs(x.Behind-3*each) > each {
		t.Errorf("put on three pieces late, 1.5 pieces ago: %+v; a piece is %v s", x, each)
	}
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 10, Spoilt: 1},
		act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	a := b.today(t)
	if x = on(t, a, "Gannet"); x.Piece != 11 || x.Pieces != 30 || x.At != 0 {
		t.Errorf("when ten good pieces are recorded: %+v", x)
	}
	if got := watches(a); !slices.Equal(got, []ask.WatchKind{ask.WatchSpoilt}) {
		t.Errorf("a spoilt piece is to be seen and nothing else; there is %v", a.Watch)
	}
	b.at = b.at.Add(20 * time.Hour) // next morning, an hour open: at the most all of it
	if x = on(t, b.today(t), "Gannet"); x.Phase == ask.Closed || x.Piece < 15 {
		t.Errorf("next morning: %+v", x)
	}
	b.at = b.at.Add(5 * time.Hour)
	if a = b.today(t); on(t, a, "Gannet").Phase != ask.Overdue || !slices.Contains(watches(a), ask.WatchOverdue) {
		t.Errorf("long after its end: %+v, %v", on(t, a, "Gannet"), a.Watch)
	}
}

// TestACountdownMeetsEveryColourOfTheRun steps through a run: each colour change of the
// clock comes, once, in its order, at the clock's second stretched by the usual breaks.
func TestACountdownMeetsEveryColourOfTheRun(t *testing.T) {
	b := fresh(t)
	sheet, _ := machine.Class("home-1") // one needle: each colour needs a person
	home, err := b.Machines.Add(bg, string(sheet.TOML()), "", "")
	if err != nil {
		t.Fatal(err)
	}
	o := b.order(t, "ostrel-light.dst", 4, "", book.Agreed)
	tr := clock.New(sheet, clock.Job{}).Trace(decode(t, "ostrel-light.dst"))
	for _, mach := range []string{"home-1", "Gannet"} {
		id := home.ID
		if mach == "Gannet" {
			id = b.m[mach]
			if _, err := b.Orders.Release(bg, o.ID, 1, ""); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := b.Start(bg, o.ID, 1, id, 0, "", ""); err != nil {
			t.Fatal(err)
		}
		began := b.at
		x := on(t, b.today(t), mach)
		if x.Stitches != 3483 || x.Run != 1 || x.Runs != 4 || x.End == nil || !x.End.At.Equal(x.RunEnds) {
			t.Fatalf("begun on %s: %+v", mach, x)
		}
		stretch := x.RunEnds.Sub(began).Seconds() / x.Seconds
		if stretch < 1 || stretch > 1.5 {
			t.Errorf("a run of %v s is to take %v", x.Seconds, x.RunEnds.Sub(began))
		}
		var seen []int
		for b.at.Before(x.RunEnds.Add(-time.Second)) {
			a := b.today(t)
			y := on(t, a, mach)
			n := y.Change
			if n.Block != 2 || len(seen) == 0 { // of this run: 2 again is the next run's
				if len(seen) == 0 || seen[len(seen)-1] != n.Block {
					seen = append(seen, n.Block)
				}
			}
			if n.ByItself != (mach == "Gannet") || n.Thread == "" {
				t.Fatalf("on %s the colour %+v", mach, n)
			}
			asked := slices.ContainsFunc(a.Needs, func(m ask.TodayNeed) bool { return m.Kind == ask.NeedColour })
			if asked != (mach == "home-1") {
				t.Fatalf("on %s a person is asked for a colour: %v", mach, asked)
			}
			if y.Stitch > 0 && mach == "home-1" { // where the clock is then
				if want := tr.Starts; y.At > 5 && y.At < x.Seconds-5 {
					k, _ := slices.BinarySearch(want, y.At)
					if made := countTo(decode(t, "ostrel-light.dst"), k); math.Abs(float64(made-y.Stitch)) > 2 {
						t.Fatalf("after %v s stitch %d, the clock is at %d", y.At, y.Stitch, made)
					}
				}
			}
			b.at = b.at.Add(3 * time.Second)
		}
		if !slices.Equal(seen, []int{2, 3, 4, 5}) {
			t.Errorf("on %s the colours %v came, want 2 to 5", mach, seen)
		}
		// While it is loaded what comes is the end of the next of its four runs.
		for run, want := range map[int]string{1: "the next run ends: change the garments", 2: "the next run ends: change the garments", 3: "the last run ends"} {
			b.at = began.Add(time.Duration(float64(run-1)/4*x.Ends.Sub(began).Seconds()*float64(time.Second)) + x.RunEnds.Sub(began) + time.Second)
			y := on(t, b.today(t), mach)
			if y.Phase != ask.Loading || y.Run != run || y.End.At.Sub(b.at).Seconds() < y.Seconds || y.End.Say().Text(nil) != want {
				t.Errorf("on %s, loaded after run %d: %s, run %d, %q at %v, want %q", mach, run, y.Phase, y.Run, y.End.Say().Text(nil), y.End.At, want)
			}
		}
	}
}

// TestBobbinsAreChangedAfterTheRunsTheyLastFor counts runs between bobbins, as the run sheet says them.
func TestBobbinsAreChangedAfterTheRunsTheyLastFor(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 60, "", book.Agreed)
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	sheet, err := ask.RunSheet(bg, b.Asked(), ask.RunSheetQuestion{Now: b.at, Order: o.ID, Line: 1, Machine: b.m["Gannet"]})
	if err != nil {
		t.Fatal(err)
	}
	began := b.at
	x := on(t, b.today(t), "Gannet")
	cycle := sheet.Cycle
	want := began.Add(time.Duration((float64(sheet.BobbinRuns-1) * cycle) * float64(time.Second))).Add(x.RunEnds.Sub(began))
	if sheet.BobbinRuns < 3 || x.Bobbin == nil || !near(x.Bobbin.At, want, time.Minute) {
		t.Errorf("bobbins last %d runs of %v s; the change is said for %v, want %v", sheet.BobbinRuns, cycle, x.Bobbin, want)
	}
}

// TestWhatIsLeftOnAMachineIsTheClocks: one law whoever asks, and what makes no sense is refused.
func TestWhatIsLeftOnAMachineIsTheClocks(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 60, "", book.Agreed)
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	left := func(stitch int, machine string) (*ask.LeftAnswer, error) {
		return ask.Left(bg, b.Asked(), ask.LeftQuestion{Now: b.at, Machine: machine, Stitch: stitch})
	}
	run, err := ask.RunOfLine(bg, b.Asked(), o, 1, b.m["Gannet"])
	if err != nil {
		t.Fatal(err)
	}
	whole, err := left(0, "gannet")
	if err != nil || whole.Seconds != run.Seconds || whole.Block != 1 {
		t.Fatalf("at stitch 0 %+v, %v are left of a run of %+v", whole, err, run)
	}
	of, err := b.Clock(bg, b.designs["ostrel-light.dst"], b.m["Gannet"], ask.Job{Speed: run.SetSpeed})
	if err != nil || whole.Interval != of.Interval {
		t.Errorf("at stitch 0 %+v are left, of a run of %+v, %v", whole.Interval, of, err)
	}
	for _, n := range []int{1, 700, 2000, 3483} {
		a, err := left(n, b.m["Gannet"])
		if err != nil {
			t.Fatal(err)
		}
		k, err := b.ClockFrom(bg, b.designs["ostrel-light.dst"], b.m["Gannet"], ask.Job{Speed: a.SetSpeed}, n)
		if err != nil || k.Seconds != a.Seconds || k.Interval != a.Interval || a.Name == "" {
			t.Errorf("at stitch %d %v s on the machine and %v s by the clock, %v", n, a.Seconds, k.Seconds, err)
		}
		if want := b.at.Add(time.Duration(a.Seconds * float64(time.Second))); !near(a.Ends, want, time.Second) {
			t.Errorf("at stitch %d it ends %v, want %v", n, a.Ends, want)
		}
	}
	for _, bad := range []struct {
		stitch        int
		machine, says string
	}{
		{3484, "Gannet", "has 3,483 stitches: the machine cannot stand at stitch 3,484"},
		{-1, "Gannet", "stitches count from 1"},
		{5, "Skipper", "nothing is known to be on Skipper"},
		{5, "Nobody", "there is no machine"},
	} {
		if _, err := left(bad.stitch, bad.machine); err == nil || !strings.Contains(err.Error(), bad.says) {
			t.Errorf("stitch %d on %s: %v, want %q", bad.stitch, bad.machine, err, bad.says)
		}
	}
}

// A machine that is listened to is where it is heard.
func TestAHeardMachineIsWhereItIsHeard(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 60, "", book.Agreed)
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	b.at = b.at.Add(time.Minute)
	at := ask.HeardAt{Machine: b.m["Gannet"], Design: b.designs["ostrel-light.dst"], Stitch: 3000, At: b.at}
	x := on(t, b.today(t, at), "Gannet")
	left, err := ask.Left(bg, b.Asked(), ask.LeftQuestion{Now: b.at, Machine: "Gannet", Stitch: 3000})
	if err != nil {
		t.Fatal(err)
	}
	if got := x.Seconds - x.At; x.Basis != ask.ByEar || x.Stitch < 3000 || x.Stitch > 3001 || got > left.Seconds || got < left.Seconds-10 {
		t.Errorf("heard at 3,000: %+v; from there %v s are left", x, left.Seconds)
	}
	at.Design = b.designs["gull-cap.dst"] // something else is heard: the report stands
	if x = on(t, b.today(t, at), "Gannet"); x.Basis != ask.ByReport {
		t.Errorf("another design is heard: %+v", x)
	}
}

// What needs a person is told, each kind once it is so and not before.
func TestTodayTellsWhatNeedsAPerson(t *testing.T) {
	b := fresh(t)
	if a := b.today(t); len(a.Watch)+len(a.Needs) != 0 || len(a.Machines) != 3 {
		t.Fatalf("an idle shop: %+v", a)
	}
	o := b.order(t, "ostrel-light.dst", 30, "2026-03-03", book.Agreed)
	if got := watches(b.today(t)); !slices.Equal(got, []ask.WatchKind{ask.WatchNoPlan}) {
		t.Fatalf("orders without a plan: %v", got)
	}
	b.plan(t)
	if got := b.today(t).Watch; len(got) != 0 {
		t.Fatalf("just planned: %v", got)
	}
	day := func(s string) words.Day {
		d, err := words.ParseDay(s)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	late := *o
	late.Lines = slices.Clone(o.Lines)
	late.Lines[0].Deliveries = []book.Delivery{{Day: day("2026-03-02"), Pieces: 10}}
	late.Lines[0].Approval = book.Approval{Due: day("2026-03-02")}
	if _, _, err := b.ChangeOrder(bg, late, "Ada"); err != nil {
		t.Fatal(err)
	}
	b.at = b.at.Add(50 * time.Hour)
	got := watches(b.today(t))
	for _, want := range []ask.WatchKind{ask.WatchStale, ask.WatchGoods, ask.WatchApproval, ask.WatchOverdue} {
		if !slices.Contains(got, want) {
			t.Errorf("%s is not told: %v", want, got)
		}
	}
	b.plan(t) // from now: it is late
	if got := watches(b.today(t)); !slices.Contains(got, ask.WatchLate) || slices.Contains(got, ask.WatchStale) {
		t.Errorf("planned too late for its day: %v", got)
	}
}

// Outside the shop's hours a machine stands, and its countdowns pass over the night.
func TestCountdownsPassOverTheNight(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 20, "", book.Agreed)
	b.at = time.Date(2026, 3, 2, 20, 30, 0, 0, time.UTC)
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	open := on(t, b.today(t), "Gannet")
	b.at = time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC)
	a := b.today(t)
	x := on(t, a, "Gannet")
	m := a.Machines[slices.IndexFunc(a.Machines, func(m ask.TodayMachine) bool { return m.Name == "Gannet" })]
	if x.Phase != ask.Closed || m.Open.Before(b.at) || x.RunEnds.Before(m.Open) || x.Piece != 1 {
		t.Errorf("at night: %+v, open again %v", x, m.Open)
	}
	// The command says it as the page does, in text and as CSV.
	opens := a.Zone.At(words.NewDay(2026, 3, 3), words.TimeOfDay(7*time.Hour))
	if !near(m.Open, opens, 0) {
		t.Errorf("it may run again at %v, the shop's hours begin at %v", m.Open, opens)
	}
	table := a.MachineTable()
	k := slices.IndexFunc(table.Columns, func(c ask.Column) bool { return c.Key == "opens" })
	row := slices.IndexFunc(table.CSV(), func(r []string) bool { return r[0] == "Gannet" })
	if k < 0 || !strings.Contains(table.Rows[row-1][k].Text(nil), "07:00") || table.CSV()[row][k] == "" {
		t.Errorf("the table of the machines does not say when it may run again: %q", table.CSV()[row])
	}
	if !near(x.RunEnds, open.RunEnds, 2*time.Second) || !near(x.Ends, open.Ends, 2*time.Second) {
		t.Errorf("the night moved the ends: %v and %v, were %v and %v", x.RunEnds, x.Ends, open.RunEnds, open.Ends)
	}
}

// countTo is how many stitches stand before a record.
func countTo(d *stitch.Design, record int) (stitches int) {
	for _, r := range d.Records[:record] {
		if r.Op.Penetrates() {
			stitches++
		}
	}
	return stitches
}
