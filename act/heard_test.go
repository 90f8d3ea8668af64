package act_test

import (
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/shop"
	"needlepace/sound"
)

// clicks is the curve of a second with a few clicks.
func clicks(t *testing.T, every int) *sound.Curve {
	t.Helper()
	l, err := sound.NewListener(16_000)
	if err != nil {
		t.Fatal(err)
	}
	samples := make([]float64, 16_000)
	for i := 0; i < len(samples); i += every {
		samples[i] = 0.5
	}
	l.Hear(samples)
	return l.Curve()
}

// A recording's breaks count as a report's do, where they are for sure, and once: neither
// twice kept, nor in a report as well.
func TestBreaksThatAreHeardCountOnce(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	design, gannet := o.Lines[0].DesignID, b.m["Gannet"]
	q := ask.ListenQuestion{Design: design, Machine: gannet, Curve: clicks(t, 1000)}
	a := &ask.ListenAnswer{SetSpeed: 812, Heard: &sound.Heard{Strokes: make([]sound.Stroke, 9000)}, Events: []ask.HeardEvent{
		{Kind: "break", Again: 7, Within: 2}, {Kind: "break", Again: 3, Within: 3}, {Kind: "pause", Within: 2}, {Kind: "pause", Within: 9},
		{Kind: "trim"}}}
	if _, err := b.KeepHeard(bg, q, &ask.ListenAnswer{}, "Ida"); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("a recording that was refused is kept: %v", err)
	}
	says := func(what string, counted, heard, recordings, inReports, doubtful int, sewn float64) *ask.ReportedMachine {
		t.Helper()
		r, err := ask.Reported(bg, b.Asked(), gannet)
		if err != nil {
			t.Fatal(err)
		}
		m := &r.Machines[0]
		if m.Counted != counted || m.CountedHeard != heard || m.Recordings != recordings || m.InReports != inReports || m.Doubtful != doubtful ||
			m.Sewn != sewn {
			t.Errorf("%s: %+v", what, m)
		}
		return m
	}
	says("before", 0, 0, 0, 0, 0, 0)
	keep := func(q ask.ListenQuestion) error { _, err := b.KeepHeard(bg, q, a, "Ida"); return err }
	if err := keep(q); err != nil {
		t.Fatal(err)
	}
	sheet, err := b.Machines.Get(bg, gannet)
	if err != nil {
		t.Fatal(err)
	}
	sewn := 9000 * float64(sheet.Sheet.Heads)
	m := says("kept", 1, 1, 1, 0, 2, sewn)
	if !(m.Breaks > m.BreaksPrior) || m.Speed == nil || m.Speed.Known || m.Speed.From != 812 || len(m.Speed.Speeds) != 1 {
		t.Errorf("a break in %v stitches: %+v %+v", sewn, m, m.Speed)
	}
	if f, err := b.Reported(bg, "Gannet", m.BreaksPrior); err != nil || f.Breaks != m.Breaks {
		t.Errorf("the floor has %+v, %v; recordings say %v", f, err, m.Breaks)
	}
	if err := keep(q); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("kept twice: %v", err)
	}
	says("kept twice", 1, 1, 1, 0, 2, sewn)

	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: gannet, Good: 10, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	says("reported without its breaks", 1, 1, 1, 0, 2, sewn)
	r, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: gannet, Good: 10, Breaks: 4}, act.Recording{}, "")
	if err != nil {
		t.Fatal(err)
	}
	says("reported", 4, 0, 0, 1, 0, r.Report.Stitches)
	if _, err := b.TakeBack(bg, o.ID, r.Report.ID, r.Order.Version, "", ""); err != nil {
		t.Fatal(err)
	}
	m = says("the report taken back", 1, 1, 1, 0, 2, sewn)
	q.Curve = clicks(t, 900)
	if err := keep(q); err != nil {
		t.Fatal(err)
	}
	says("another recording", 2, 2, 2, 0, 4, 2*sewn)
	if err := b.Timings.DropHeard(bg, m.Heard[0].ID); err != nil {
		t.Fatal(err)
	}
	says("the first taken away", 1, 1, 1, 0, 2, sewn)
}

// The best set speed is told where breaks are known to grow with the speed, and lies
// where they were counted, within what the machine and the goods allow.
func TestTheBestSpeedIsToldOfCountsAtSeveralSpeeds(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	design, gannet := o.Lines[0].DesignID, b.m["Gannet"]
	m, err := b.Machines.Get(bg, gannet)
	if err != nil {
		t.Fatal(err)
	}
	rated := m.Sheet.MaxSpeed
	best := func(job clock.Job) *ask.BestSpeed {
		t.Helper()
		a, err := ask.BestSpeedOf(bg, b.Asked(), design, gannet, job)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	report := func(speed float64, good, breaks int) {
		t.Helper()
		if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: gannet, Good: good, Breaks: breaks, SetSpeed: speed},
			act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	if a := best(clock.Job{}); a.Known || a.Speed != 0 || len(a.Say) != 1 {
		t.Errorf("nothing was counted, and %+v", a)
	}
	slow, fast := .5*rated, .9*rated
	report(slow, 20, 0)
	report(fast, 20, 2)
	if a := best(clock.Job{}); a.Known || a.Speed != 0 || len(a.Say) != 1 || !strings.Contains(a.Say[0].Raw(), "2 breaks") {
		t.Errorf("of two breaks %+v", a)
	}
	report(slow, 400, 5)
	report(.7*rated, 400, 60)
	report(fast, 400, 500)
	a := best(clock.Job{})
	if !a.Known || !(a.Speed >= slow && a.Speed < a.Top && a.Top <= fast) || !(a.Sure > .9) {
		t.Errorf("breaks a hundred times as many: %+v", a)
	}
	for _, y := range a.Speeds {
		if y.Good > a.Speeds[0].Good && y.Speed != a.Speed && y.Good >= good(a) {
			t.Errorf("%v makes %v an hour, the best %v", y.Speed, y.Good, good(a))
		}
	}
	if capped := best(clock.Job{Cap: .6 * rated}); capped.Top > .6*rated || capped.Speed > .6*rated {
		t.Errorf("goods that allow %v: %+v", .6*rated, capped)
	}
	if below := best(clock.Job{Cap: .4 * rated}); below.Known || below.Speed != 0 {
		t.Errorf("slower than anything that was counted: %+v", below)
	}
	k, err := b.Clock(bg, design, gannet, ask.Job{})
	if err != nil || k.Best == nil || k.Best.Speed != a.Speed {
		t.Errorf("the design's answer has %+v, %v", k.Best, err)
	}
	shift, err := act.Answer(bg, b.Shop, ask.Shift, ask.ShiftQuestion{Name: "s", Shifts: 2, Best: b.ShiftBest, TOML: []byte("name = \"s\"\n[shift]\n" +
		"hours = 8\nfrom_reports = true\n[[machine]]\nname = \"Left\"\nsheet = \"Gannet\"\n[[machine]]\nsheet = \"multi-6\"\n[[operator]]\n" +
		"[[job]]\ndesign = \"ostrel-light.dst\"\n")})
	if err != nil || len(shift.Best) != 1 || shift.Best[0].Machine != "Left" || shift.Best[0].Speed != a.Speed {
		t.Errorf("the shift has %+v, %v", shift.Best, err)
	}
	r, err := b.MakeRunSheet(bg, o.ID, 1, gannet, 10)
	if err != nil {
		t.Fatal(err)
	}
	if r.BestSpeed != a.Speed || !strings.Contains(r.BestSay.Raw(), "most good pieces") {
		t.Errorf("the run sheet has %v: %v", r.BestSpeed, r.BestSay.Raw())
	}
	toml, err := b.Setups.Get(bg, shop.WorkshopID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Setups.SaveWorkshop(bg, "WORKSHOP.toml", "from_reports = false\n"+toml.TOML, -1); err != nil {
		t.Fatal(err)
	}
	if a := best(clock.Job{}); a.Known || a.Speed != 0 {
		t.Errorf("switched off, %+v", a)
	}
}

// Of recordings alone the design's page, the run sheet and the floor have one best set speed.
func TestTheBestSpeedOfRecordingsIsOneEverywhere(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	design, gannet := o.Lines[0].DesignID, b.m["Gannet"]
	m, err := b.Machines.Get(bg, gannet)
	if err != nil {
		t.Fatal(err)
	}
	rated := m.Sheet.MaxSpeed
	for i, h := range []struct {
		speed  float64
		breaks int
	}{{.5 * rated, 3}, {.7 * rated, 60}, {.9 * rated, 500}} {
		a := &ask.ListenAnswer{SetSpeed: h.speed, Heard: &sound.Heard{Strokes: make([]sound.Stroke, 2_000_000)}}
		for range h.breaks {
			a.Events = append(a.Events, ask.HeardEvent{Kind: "break", Again: 7, Within: 2})
		}
		if _, err := b.KeepHeard(bg, ask.ListenQuestion{Design: design, Machine: gannet, Curve: clicks(t, 800+50*i)}, a, "Ida"); err != nil {
			t.Fatal(err)
		}
	}
	page, err := b.Clock(bg, design, gannet, ask.Job{})
	if err != nil {
		t.Fatal(err)
	}
	if page.Best == nil || !page.Best.Known || !(page.Best.Speed >= .5*rated && page.Best.Speed < page.Best.Top && page.Best.Top <= .9*rated) {
		t.Fatalf("of breaks a hundred times as many the page has %+v", page.Best)
	}
	want := page.Best.Speed
	if r, err := b.MakeRunSheet(bg, o.ID, 1, gannet, 10); err != nil || r.BestSpeed != want {
		t.Errorf("the run sheet has %+v, %v, the design's page %v", r, err, want)
	}
	shift, err := act.Answer(bg, b.Shop, ask.Shift, ask.ShiftQuestion{Name: "s", Shifts: 2, Best: b.ShiftBest, TOML: []byte("name = \"s\"\n[shift]\n" +
		"hours = 8\nfrom_reports = true\n[[machine]]\nsheet = \"Gannet\"\n[[operator]]\n[[job]]\ndesign = \"ostrel-light.dst\"\n")})
	if err != nil || len(shift.Best) != 1 || shift.Best[0].Speed != want {
		t.Errorf("the floor has %+v, %v, the design's page %v", shift.Best, err, want)
	}
}

// good is what the best speed makes an hour.
func good(a *ask.BestSpeed) float64 {
	for _, y := range a.Speeds {
		if y.Speed == a.Speed {
			return y.Good
		}
	}
	return 0
}

// The whole run's time is used where it can tell of the run's start and end, and else said to be of no use.
func TestAWholeTimeThatTellsNothingIsRefused(t *testing.T) {
	a := &ask.ListenAnswer{Runs: []ask.HeardRun{{Start: 2, End: 50}, {Start: 60, End: 102}}, Heard: &sound.Heard{}}
	for whole, refused := range map[float64]string{99.9: "less than from the first stitch", 100: "", 112: "", 220: "", 221: "over two minutes more"} {
		b, err := a.WithWhole(whole)
		switch {
		case refused == "" && (err != nil || b.Whole != whole || a.Whole != 0):
			t.Errorf("%g s: %v, %+v", whole, err, b)
		case refused != "" && (err == nil || !strings.Contains(err.Error(), refused)):
			t.Errorf("%g s: %v, want %q", whole, err, refused)
		}
	}
	a.Heard.Events = []sound.Event{{Kind: sound.Break, Start: 50, End: 60}}
	if _, err := a.WithWhole(112); err == nil || !strings.Contains(err.Error(), "interrupted") || a.WholeTells() {
		t.Errorf("an interrupted run: %v", err)
	}
}

// What was heard in parts is kept in parts, and learned from so.
func TestPartsThatAreHeardAreLearnedFrom(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	id, gannet := o.Lines[0].DesignID, b.m["Gannet"]
	d, err := b.Designs.Stitches(bg, id)
	if err != nil {
		t.Fatal(err)
	}
	a := &ask.ListenAnswer{Of: ask.NewDesign(d, "ostrel-light.dst", ""), Whole: 300, Runs: []ask.HeardRun{{Start: 2, End: 294}}, Heard: &sound.Heard{Speed: 800, Strokes: make([]sound.Stroke, 9000),
		Sewn:   []sound.Stretch{{First: 0, Last: 39, Seconds: 4.12345, Error: 0.0021}, {First: 40, Last: 89, Seconds: 0.6, Error: 0.002}},
		Rested: []sound.Rested{{After: 99, Kind: sound.Trim, Seconds: 4}, {After: 199, Kind: sound.Trim, Seconds: 4.4}, {After: 299, Block: 1, Kind: sound.ColourStop, Seconds: 9, Error: 0.01}}}}
	kept, err := b.KeepHeard(bg, ask.ListenQuestion{Design: id, Machine: gannet, Curve: clicks(t, 1000)}, a, "Ida")
	if err != nil {
		t.Fatal(err)
	}
	var with []string
	for _, r := range kept {
		with = append(with, r.With)
	}
	if got := strings.Join(with, "; "); got != "only 1-40; only 41-90; only after 100 200; only after 300; " || kept[0].Seconds != 4.123 || kept[0].Error != 0.003 ||
		kept[4].Block != 0 || kept[4].Seconds != 300 || kept[2].Error < 0.5 {
		t.Errorf("kept %q, %+v", got, kept)
	}
	learned, err := b.Learn(bg, gannet, act.Learning{})
	if err != nil {
		t.Fatal(err)
	}
	if len(learned.Rows) != 5 || !strings.HasPrefix(learned.Rows[0].What, "stitches 1 to 40 ") || !strings.HasPrefix(learned.Rows[2].What, "2 rests after stitches 100 to 200 ") ||
		learned.Rows[0].Predicted <= 0 || learned.Rows[0].Predicted > 30 {
		t.Errorf("learned from %+v", learned.Rows)
	}
}
