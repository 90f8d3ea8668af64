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
	"needlepace/shop"
	"needlepace/telling"
)

// teller is a machine that tells.
type teller struct {
	b     *bench
	t     *testing.T
	boot  string
	seq   int
	clock time.Duration // its clock is ahead by this
}

// say tells after a time; the message is what it sent.
func (m *teller) say(after time.Duration, rest string) string {
	m.b.at = m.b.at.Add(after)
	m.seq++
	s := fmt.Sprintf(`{"form":1,"boot":%q,"seq":%d,"at":%q,%s}`, m.boot, m.seq, m.b.at.Add(m.clock).Format(time.RFC3339Nano), rest)
	m.send("Gannet", s)
	return s
}

func (m *teller) send(machine, s string) {
	m.t.Helper()
	if err := m.b.Tell(bg, "needlepace/machines/"+machine, []byte(s)); err != nil {
		m.t.Error(err)
	}
}

// A machine's messages say where it is, fill in the floor's report, and time its runs, once
// however often they come, whatever its clock says.
func TestWhatAMachineTellsIsTodayTheReportAndATimedRun(t *testing.T) {
	b := fresh(t)
	gannet := b.m["Gannet"]
	o := b.order(t, "ostrel-light.dst", 30, "2026-03-06", book.Agreed)
	if _, err := b.Start(bg, o.ID, 1, gannet, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	o, _ = b.Orders.Get(bg, o.ID)
	d, err := b.Designs.Get(bg, o.Lines[0].DesignID)
	if err != nil {
		t.Fatal(err)
	}
	run, err := ask.Expect(bg, b.Asked(), &o.Lines[0], gannet)
	if err != nil {
		t.Fatal(err)
	}
	takes := time.Duration(run.Usual(1).Sewing * float64(time.Second))
	today := func() *ask.TodayOn {
		told, err := b.Told(bg)
		if err != nil {
			t.Fatal(err)
		}
		return on(t, b.today(t, told...), "Gannet")
	}
	m := &teller{b: b, t: t, boot: "monday", clock: -3 * time.Hour}
	start := func(n int) {
		m.say(time.Minute, fmt.Sprintf(`"event":"started","run":"r%d","design":%q,"speed":%v`, n, d.File, run.SetSpeed))
	}
	runs := func() []shop.Run { r, err := b.Timings.Runs(bg, gannet); must(t, err); return r }

	start(1)
	m.say(takes/2, fmt.Sprintf(`"event":"count","run":"r1","stitch":%d`, d.Stitches/2))
	b.at = b.at.Add(5 * time.Second)
	if x := today(); x.Basis != ask.ByItself || x.Phase != ask.Sewing || x.Stitch < d.Stitches/2 || x.Stitch > d.Stitches/2+300 {
		t.Errorf("in the middle of a run: %s, %s, stitch %d of %d", x.Basis, x.Phase, x.Stitch, d.Stitches)
	}
	end := m.say(takes/2-5*time.Second, fmt.Sprintf(`"event":"finished","run":"r1","stitch":%d`, d.Stitches))
	if x := today(); x.Phase != ask.Loading || x.Run != 1 {
		t.Errorf("after a run: %s, run %d", x.Phase, x.Run)
	}
	if r := runs(); len(r) != 1 || r[0].DesignID != d.ID || r[0].SetSpeed != run.SetSpeed || math.Abs(r[0].Seconds-takes.Seconds()) > .01 {
		t.Errorf("the runs are %+v, want one of %v", r, takes)
	}
	lines := func() (all []string) {
		page, _, err := b.Changes.List(bg, shop.Owner, shop.ChangeQuery{Limit: 100})
		must(t, err)
		for _, c := range page {
			if c.From == shop.FromMachine {
				all = append(all, fmt.Sprint(c.By, " ", c.Thing, " ", c.Verb, " ", c.Right, " ", c.At.Sub(b.at).Abs() < time.Second))
			}
		}
		return all
	}
	once := lines()
	if want := []string{"Gannet run added time_runs true"}; !slices.Equal(once, want) {
		t.Errorf("what the machine changed is told as %q, want %q", once, want)
	}
	m.send("Gannet", end) // twice
	if n := len(runs()); n != 1 {
		t.Errorf("told twice, it is %d runs", n)
	}
	if is := lines(); !slices.Equal(is, once) {
		t.Errorf("told twice, what it changed is told as %q", is)
	}
	if all, n, err := b.Apart(bg, 1); n != 0 || err != nil {
		t.Errorf("told twice, %d messages are kept apart: %+v, %v", n, all, err)
	}

	start(2)
	m.say(takes/4, fmt.Sprintf(`"event":"stopped","run":"r2","stitch":%d,"cause":"thread_break"`, d.Stitches/4))
	b.at = b.at.Add(3 * time.Minute)
	x := today()
	if x.Phase != ask.Standing || x.Stands == nil || x.Stands.Cause != telling.ThreadBreak || x.Stitch > d.Stitches/4+1 || x.Run != 2 {
		t.Errorf("as it stands: %s, %+v, stitch %d, run %d", x.Phase, x.Stands, x.Stitch, x.Run)
	}
	m.say(0, fmt.Sprintf(`"event":"resumed","run":"r2","stitch":%d`, d.Stitches/4))
	m.say(takes*3/4, fmt.Sprintf(`"event":"finished","run":"r2","stitch":%d`, d.Stitches))
	start(3)
	late := m.seq + 1
	b.at = b.at.Add(takes / 2)
	lost := fmt.Sprintf(`{"form":1,"boot":"monday","seq":%d,"at":%q,"event":"count","run":"r3","stitch":%d}`, late,
		b.at.Add(m.clock).Format(time.RFC3339), d.Stitches/2)
	m.seq++
	m.say(takes/2, fmt.Sprintf(`"event":"finished","run":"r3","stitch":%d`, d.Stitches))
	if n := len(runs()); n != 1 {
		t.Errorf("an interrupted run, and one with a gap, are %d runs", n)
	}
	m.send("Gannet", lost) // what was missing comes late
	if n := len(runs()); n != 2 {
		t.Errorf("the gap is filled, and there are %d runs", n)
	}

	told, err := b.ToldOf(bg, o, &o.Lines[0], gannet)
	must(t, err)
	if told.Runs != 3 || told.Breaks != 1 {
		t.Errorf("the report is filled in with %+v", told)
	}
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: gannet, Good: 3, Breaks: 1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	if told, err = b.ToldOf(bg, o, &o.Lines[0], gannet); err != nil || told.Runs != 0 {
		t.Errorf("what was reported is filled in again: %+v, %v", told, err)
	}
	c, _, err := b.Changes.List(bg, shop.Owner, shop.ChangeQuery{Thing: "run"})
	must(t, err)
	if len(c) != 2 || c[0].By != "Gannet" {
		t.Errorf("the history says %+v", c)
	}
}

// What cannot be used is kept apart with why, once for each message, and stops nothing.
func TestWhatCannotBeUsedIsKeptApart(t *testing.T) {
	b := fresh(t)
	m := &teller{b: b, t: t, boot: "b"}
	m.send("Gannet", "{")
	m.send("Gannet", "{")
	m.send("Shrike-of-nowhere", `{"form":1,"boot":"b","seq":1,"event":"count","run":"r","stitch":5}`)
	first := m.say(0, `"event":"started","run":"r","design":"no such file","speed":700`)
	m.send("Gannet", strings.Replace(first, "700", "800", 1)) // the same number, and something else
	m.say(time.Minute, `"event":"finished","run":"r","stitch":5000`)
	all, n, err := b.Apart(bg, 100)
	must(t, err)
	var why []string
	for _, a := range all {
		why = append(why, a.Why)
	}
	said := strings.Join(why, "\n")
	for _, w := range []string{"JSON", "Shrike-of-nowhere", "something else", "no such file"} {
		if !strings.Contains(said, w) {
			t.Errorf("nothing is kept apart for %q:\n%s", w, said)
		}
	}
	if n != 5 || len(all) != 4 {
		t.Errorf("%d messages, %d of them different, want 5 and 4:\n%s", n, len(all), said)
	}
}

// What machines told goes again: where a run is after three days, the rest after 400; a
// machine that goes on telling is enough for it.
func TestWhatMachinesToldGoesAgain(t *testing.T) {
	b := fresh(t)
	m := &teller{b: b, t: t, boot: "b"}
	kept := func(want ...string) {
		t.Helper()
		b.at = b.at.Add(2 * time.Hour)
		m.send("Shrike-of-nowhere", "{") // of another, and of no use
		events, _, err := b.orders.(shop.Store).ToldRun(bg, b.m["Gannet"], "b", "r")
		must(t, err)
		var got []string
		for _, e := range events {
			got = append(got, string(e.Kind))
		}
		if !slices.Equal(got, want) {
			t.Errorf("kept are %q, want %q", got, want)
		}
	}
	m.say(0, `"event":"started","run":"r","speed":700`)
	m.say(time.Minute, `"event":"count","run":"r","stitch":500`)
	kept("started", "count")
	b.at = b.at.Add(2*24*time.Hour + 20*time.Hour)
	kept("started", "count")
	b.at = b.at.Add(4 * time.Hour)
	kept("started")
	b.at = b.at.Add(396 * 24 * time.Hour)
	kept("started")
	b.at = b.at.Add(2 * 24 * time.Hour)
	kept()
}

// The program may have ended between the keeping of a run's last message and the run's timing: that message comes again, for it
// was not acknowledged, and the run is timed then, once.
func TestARunIsTimedWhenItsEndComesAgain(t *testing.T) {
	b := fresh(t)
	m := &teller{b: b, t: t, boot: "b"}
	gannet := b.m["Gannet"]
	m.say(0, `"event":"started","run":"r","design":"ostrel-light.dst","speed":700`)
	b.at = b.at.Add(6 * time.Minute)
	last := fmt.Sprintf(`{"form":1,"boot":"b","seq":2,"event":"finished","run":"r","stitch":3483,"at":%q}`, b.at.Format(time.RFC3339Nano))
	e, err := telling.Parse([]byte(last), b.at)
	must(t, err)
	_, _, err = b.orders.(shop.Store).KeepTold(bg, gannet, e)
	must(t, err)
	runs := func() int {
		t.Helper()
		all, err := b.Timings.Runs(bg, gannet)
		must(t, err)
		return len(all)
	}
	if n := runs(); n != 0 {
		t.Fatalf("%d runs before it comes again", n)
	}
	for range 3 {
		m.send("Gannet", last)
	}
	if n := runs(); n != 1 {
		t.Errorf("%d runs are timed after it came again", n)
	}
}
