package sqlite

// The contract of shop.Store as tests: every store runs it on the real engine.

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/shop"
	"needlepace/words"
)

// contract runs it; open gives an empty store that the suite closes.
func contract(t *testing.T, open func(t *testing.T) shop.Store) {
	for _, c := range append([]struct {
		name string
		test func(*testing.T, shop.Store)
	}{
		{"DesignsComeBackAsTheyWere", designRoundTrip},
		{"TheSameDesignIsKeptOnce", sameDesign},
		{"SearchPagesAndOrder", searchAndPages},
		{"ADescriptionIsSearched", describe},
		{"RemovedDesignsComeBack", removeDesign},
		{"RunTimesBelongToABuild", runTimes},
		{"SheetsHaveAHistory", history},
		{"OneOfTwoChangesOfASheetWins", sheetRace},
		{"RunsAllOrNone", runs},
		{"RecordingsCountOnce", heard},
		{"ATimingIsSavedOverAndOver", timings},
		{"Settings", settings},
		{"SetupsAreNotOverwrittenBlindly", setups},
		{"VisitsGoTheWholeWay", visitWay},
		{"WhatMachinesTellIsKeptOnce", toldWay},
		{"RoundsAreKept", roundsWay},
		{"Accounts", accounts},
		{"SessionsEnd", sessions},
		{"ABrowserIsKnownForItsAccount", devices},
		{"ASessionBeginsByTheHashThatHolds", sessionHashes},
		{"WhoIsOnePerson", people},
		{"ATicketIsGoodOnce", tickets},
		{"Phones", phones},
		{"WhoComesIn", whoComesIn},
		{"OneCodeLetsOnePhoneIn", oneCode},
		{"WhatIsNotThereIsNotFound", notFound},
		{"ManyAtOnce", concurrent},
		{"ACancelledChangeChangesNothing", cancelled},
	}, orderTests...) {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			t.Cleanup(func() {
				if err := s.Close(); err != nil {
					t.Error(err)
				}
			})
			c.test(t, s)
		})
	}
}

var (
	bg   = context.Background()
	when = time.Date(2026, 3, 4, 5, 6, 7, 891_000, time.UTC)
)

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func wantCode(t *testing.T, err error, code shop.Code) {
	t.Helper()
	if shop.CodeOf(err) != code {
		t.Errorf("error %v has code %q, want %q", err, shop.CodeOf(err), code)
	}
}

// exampleDesign is an example of a design, different for every n.
func exampleDesign(n int) *shop.Design {
	return &shop.Design{
		ID: fmt.Sprintf("%032x", n), Digest: fmt.Sprintf("%064x", n), SewnDigest: fmt.Sprintf("%064x", n/2),
		Name: fmt.Sprintf("Design %d", n), File: fmt.Sprintf("design-%d.dst", n), Label: "LABEL", Format: "dst",
		Bytes: int64(1000 + n), Stitches: 100 * n, Jumps: 3, ColourStops: 2, Stops: 1, WidthMM: float64(n) + 0.3,
		HeightMM: 20.1,
		Threads:  []book.Thread{{Name: "harbour navy", Colour: "#1a2a58"}, {}},
		Warnings: []string{"no end record (byte 7)"},
		Added:    when.Add(time.Duration(n) * time.Second),
	}
}

// designOf is an example design whose file is content.
func designOf(n int, content []byte) *shop.Design {
	d := exampleDesign(n)
	d.Digest = shop.Digest(content)
	return d
}

var thumbs = shop.Thumbs{Light: []byte("light"), Dark: []byte("dark")}

func add(t *testing.T, s shop.Store, d *shop.Design) {
	t.Helper()
	added, err := s.AddDesign(bg, d, []byte("content of "+d.ID), thumbs)
	must(t, err)
	if !added {
		t.Fatalf("design %s was there already", d.ID)
	}
}

func designRoundTrip(t *testing.T, s shop.Store) {
	d := exampleDesign(7)
	add(t, s, d)
	got, err := s.Design(bg, d.ID)
	must(t, err)
	if diff := cmp.Diff(d, got); diff != "" {
		t.Error(diff)
	}
	b, err := s.DesignContent(bg, d.ID)
	must(t, err)
	if string(b) != "content of "+d.ID {
		t.Errorf("content %q", b)
	}
	th, err := s.DesignThumbs(bg, d.ID)
	must(t, err)
	if diff := cmp.Diff(thumbs, th); diff != "" {
		t.Error(diff)
	}
}

func sameDesign(t *testing.T, s shop.Store) {
	d := exampleDesign(1)
	add(t, s, d)
	again := exampleDesign(1)
	again.Name, again.File = "another name", "other.dst"
	added, err := s.AddDesign(bg, again, []byte("x"), thumbs)
	must(t, err)
	got, err := s.Design(bg, d.ID)
	must(t, err)
	if added || got.Name != d.Name {
		t.Errorf("added %v, name %q: the kept design must stay as it was", added, got.Name)
	}
}

func names(page []*shop.Design) string {
	var out []string
	for _, d := range page {
		out = append(out, d.Name)
	}
	return strings.Join(out, ", ")
}

func searchAndPages(t *testing.T, s shop.Store) {
	for _, n := range []int{10, 2, 1, 3} {
		d := exampleDesign(n)
		if n == 3 {
			d.Name, d.Customer = "Möwe_50%", "Gull & Ladle"
		}
		add(t, s, d)
	}
	for _, c := range []struct {
		q     shop.DesignQuery
		want  string
		total int
	}{
		{shop.DesignQuery{}, "Design 10, Möwe_50%, Design 2, Design 1", 4},
		{shop.DesignQuery{Sort: "name"}, "Design 1, Design 2, Design 10, Möwe_50%", 4},
		{shop.DesignQuery{Sort: "name", Reverse: true}, "Möwe_50%, Design 10, Design 2, Design 1", 4},
		{shop.DesignQuery{Sort: "stitches"}, "Design 10, Möwe_50%, Design 2, Design 1", 4},
		{shop.DesignQuery{Sort: "size", Reverse: true}, "Design 1, Design 2, Möwe_50%, Design 10", 4},
		{shop.DesignQuery{Sort: "name", Offset: 1, Limit: 2}, "Design 2, Design 10", 4},
		{shop.DesignQuery{Offset: 9}, "", 4},
		{shop.DesignQuery{Search: "MÖWE gull"}, "Möwe_50%", 1},
		{shop.DesignQuery{Search: "gull lamp"}, "", 0},
		{shop.DesignQuery{Search: "%"}, "Möwe_50%", 1},
		{shop.DesignQuery{Search: "e_5"}, "Möwe_50%", 1},
		{shop.DesignQuery{Search: `\`}, "", 0},
		{shop.DesignQuery{Search: `'; DROP TABLE designs; --`}, "", 0},
		{shop.DesignQuery{Search: "design-10.DST"}, "Design 10", 1},
		{shop.DesignQuery{Customer: "Gull & Ladle"}, "Möwe_50%", 1},
		{shop.DesignQuery{Customer: "Gull"}, "", 0},
		{shop.DesignQuery{Sort: "customer", Reverse: true, Limit: 1}, "Möwe_50%", 4}, // the others are nobody's
		{shop.DesignQuery{State: shop.Warned}, "Design 10, Möwe_50%, Design 2, Design 1", 4},
		{shop.DesignQuery{State: shop.Timed}, "", 0},
		{shop.DesignQuery{State: shop.Untimed, Search: "design-10"}, "Design 10", 1},
		{shop.DesignQuery{State: shop.Ordered}, "", 0},
		{shop.DesignQuery{Sewn: fmt.Sprintf("%064x", 1)}, "Möwe_50%, Design 2", 2},
	} {
		if c.q.Limit == 0 {
			c.q.Limit = 50
		}
		page, total, err := s.Designs(bg, c.q)
		must(t, err)
		if names(page) != c.want || total != c.total {
			t.Errorf("%+v gave %q (%d), want %q (%d)", c.q, names(page), total, c.want, c.total)
		}
	}
}

func describe(t *testing.T, s shop.Store) {
	add(t, s, exampleDesign(1))
	id := exampleDesign(1).ID
	must(t, s.DescribeDesign(bg, id, shop.Description{Name: "Heron", Customer: "Pilots", Note: "on twill",
		Threads: []book.Thread{{Name: "tar"}}}, &shop.Thumbs{Light: []byte("l2"), Dark: []byte("d2")}))
	page, _, err := s.Designs(bg, shop.DesignQuery{Search: "heron PILOTS twill", Limit: 5})
	must(t, err)
	if len(page) != 1 || page[0].Name != "Heron" || page[0].Threads[0].Name != "tar" || page[0].Stitches != 100 {
		t.Errorf("%+v", page)
	}
	th, err := s.DesignThumbs(bg, id)
	must(t, err)
	if string(th.Light) != "l2" || string(th.Dark) != "d2" {
		t.Errorf("thumbs %q", th)
	}
	must(t, s.DescribeDesign(bg, id, shop.Description{Name: "Heron"}, nil))
	if th, err = s.DesignThumbs(bg, id); err != nil || string(th.Light) != "l2" {
		t.Errorf("thumbs %q, %v: nil must leave them", th, err)
	}
	// What one act adds and then describes is counted once.
	act := &shop.Act{By: "Ida", Right: shop.KeepDesigns, At: when}
	for n := 2; n <= 3; n++ {
		d := exampleDesign(n)
		added, err := s.AddDesign(shop.WithAct(bg, act), d, []byte("content of "+d.ID), thumbs)
		must(t, err)
		must(t, s.DescribeDesign(shop.WithAct(bg, act), d.ID, shop.Description{Name: "Gull"}, nil))
		if c, err := s.Change(bg, act.Change.Load()); err != nil || !added || c.Thing != "design" || c.Verb != "added" || c.Things != n-1 {
			t.Errorf("design %d added and described: %+v, %v", n, c, err)
		}
	}
}

func removeDesign(t *testing.T, s shop.Store) {
	add(t, s, exampleDesign(1))
	id := exampleDesign(1).ID
	must(t, s.RemoveDesign(bg, id, true))
	page, total, err := s.Designs(bg, shop.DesignQuery{Limit: 5})
	must(t, err)
	if len(page) != 0 || total != 0 {
		t.Errorf("a removed design is listed: %v", names(page))
	}
	page, _, err = s.Designs(bg, shop.DesignQuery{Limit: 5, Removed: true})
	must(t, err)
	if len(page) != 1 || !page[0].Removed {
		t.Errorf("removed designs: %v", names(page))
	}
	if b, err := s.DesignContent(bg, id); err != nil || len(b) == 0 {
		t.Errorf("a removed design lost its file: %v", err)
	}
	added, err := s.AddDesign(bg, exampleDesign(1), []byte("again"), thumbs)
	must(t, err)
	if d, err := s.Design(bg, id); err != nil || !added || d.Removed {
		t.Errorf("added again: %v, %+v, %v", added, d, err)
	}
}

func runTimes(t *testing.T, s shop.Store) {
	add(t, s, exampleDesign(1))
	add(t, s, exampleDesign(2))
	a, b := exampleDesign(1).ID, exampleDesign(2).ID
	one := shop.RunTime{DesignID: a, SheetDigest: "s1", Build: "b1", Seconds: 10, Low: 9, High: 11, SetSpeed: 800,
		HeldSpeed: 700, Parts: clock.Parts{AtSetSpeed: 8, Trims: 2}}
	two := one
	two.DesignID, two.SheetDigest = b, "s2"
	other := one
	other.Build, other.Seconds = "b2", 99
	must(t, s.KeepRunTimes(bg, []shop.RunTime{one, two, other}))
	one.Seconds = 12
	must(t, s.KeepRunTimes(bg, []shop.RunTime{one}))
	got, err := s.RunTimes(bg, "b1", []string{a, b, "x"}, []string{"s1"})
	must(t, err)
	if diff := cmp.Diff([]shop.RunTime{one}, got); diff != "" {
		t.Error(diff)
	}
	must(t, s.DropRunTimes(bg, "b2"))
	got, err = s.RunTimes(bg, "b1", []string{a, b}, []string{"s1", "s2"})
	must(t, err)
	if len(got) != 0 {
		t.Errorf("run times of another build stayed: %+v", got)
	}
	if got, err = s.RunTimes(bg, "b2", nil, []string{"s1"}); err != nil || len(got) != 0 {
		t.Errorf("no designs gave %v, %v", got, err)
	}
	wantCode(t, s.KeepRunTimes(bg, []shop.RunTime{{DesignID: "nope"}}), shop.NotFound)
}

func addMachine(t *testing.T, s shop.Store, id, name string) shop.SheetVersion {
	t.Helper()
	v := shop.SheetVersion{MachineID: id, Version: 1, Origin: shop.Made, Note: "n", By: "Ada", Made: when, Digest: "d1",
		TOML: "name = 1"}
	must(t, s.AddMachine(bg, &shop.Machine{ID: id, Name: name, Added: when}, v))
	return v
}

func history(t *testing.T, s shop.Store) {
	v1 := addMachine(t, s, "m1", "Bay 10")
	addMachine(t, s, "m2", "bay 2")
	v2 := shop.SheetVersion{MachineID: "m1", Version: 2, Origin: shop.Learned, Parent: 1, Made: when.Add(time.Hour),
		Digest: "d2", TOML: "name = 2"}
	must(t, s.AddVersion(bg, v2, "Bay 11"))
	m, v, err := s.Machine(bg, "m1")
	must(t, err)
	if diff := cmp.Diff(v2, v); diff != "" || m.Name != "Bay 11" || m.Version != 2 || m.Digest != "d2" ||
		!m.Added.Equal(when) || !m.Changed.Equal(v2.Made) {
		t.Errorf("machine %+v; %s", m, diff)
	}
	all, err := s.Versions(bg, "m1")
	must(t, err)
	if diff := cmp.Diff([]shop.SheetVersion{v2, v1}, all); diff != "" {
		t.Error(diff)
	}
	list, sheets, err := s.Machines(bg)
	must(t, err)
	if len(list) != 2 || len(sheets) != 2 || list[0].ID != "m2" || sheets[1].Version != 2 {
		t.Errorf("machines %+v, %+v", list, sheets)
	}
	must(t, s.RemoveMachine(bg, "m2", true))
	if list, _, err = s.Machines(bg); err != nil || len(list) != 1 {
		t.Errorf("%d machines listed, %v", len(list), err)
	}
	if m, _, err := s.Machine(bg, "m2"); err != nil || !m.Removed {
		t.Errorf("the removed machine: %+v, %v", m, err)
	}
	must(t, s.RemoveMachine(bg, "m2", false))
	wantCode(t, s.AddMachine(bg, &shop.Machine{ID: "m1"}, v1), shop.Conflict)
}

func sheetRace(t *testing.T, s shop.Store) {
	v := addMachine(t, s, "m", "M")
	v.Version = 2
	must(t, s.AddVersion(bg, v, "M"))
	wantCode(t, s.AddVersion(bg, v, "M"), shop.Conflict)
	v.Version = 5
	wantCode(t, s.AddVersion(bg, v, "M"), shop.Conflict)
}

func run(id, machine, design string) shop.Run {
	return shop.Run{ID: id, MachineID: machine, DesignID: design, Date: words.NewDay(2026, 3, 4), SetSpeed: 800,
		Block: 2, Seconds: 61.5, Step: 0.5, Error: 1, Note: "x", TimingID: "t", Added: when, Needles: "1 4", With: "after",
		Ignored: true, Predicted: &shop.Predicted{Seconds: 60, Low: 58.5, High: 63, Level: 0.9, Sheet: "d", Version: 2}}
}

func runs(t *testing.T, s shop.Store) {
	addMachine(t, s, "m", "M")
	add(t, s, exampleDesign(1))
	d := exampleDesign(1).ID
	a, b := run("a", "m", d), run("b", "m", "")
	a.Date = words.NewDay(2026, 3, 5)
	b.Shown, b.LengthMM, b.Zigzag, b.Seconds, b.Predicted = 640, 3.2, true, 0, nil
	must(t, s.AddRuns(bg, []shop.Run{a, b}))
	wantCode(t, s.AddRuns(bg, []shop.Run{run("c", "m", d), run("c2", "m", "no such design")}), shop.NotFound)
	wantCode(t, s.AddRuns(bg, []shop.Run{run("c", "nope", d)}), shop.NotFound)
	wantCode(t, s.AddRuns(bg, []shop.Run{run("c", "m", d), run("a", "m", d)}), shop.Conflict)
	got, err := s.Runs(bg, "m")
	must(t, err)
	if diff := cmp.Diff([]shop.Run{b, a}, got); diff != "" {
		t.Error(diff)
	}
	a.Seconds, a.Step, a.Note, a.Needles, a.With, a.Ignored, a.Block = 16.5, 0.1, "written: 61.5", "?", "", false, 1
	wantCode(t, s.ChangeRuns(bg, []shop.Run{b, run("z", "m", d)}), shop.NotFound)
	b.Note, a.Predicted = "cold", &shop.Predicted{Seconds: 15, Low: 14, High: 16, Level: 0.9, Sheet: "e", Version: 1}
	must(t, s.ChangeRuns(bg, []shop.Run{a, b}))
	got, err = s.Runs(bg, "m")
	must(t, err)
	if diff := cmp.Diff([]shop.Run{b, a}, got); diff != "" {
		t.Error(diff)
	}
	must(t, s.DeleteRun(bg, "a"))
	if got, err = s.Runs(bg, "m"); err != nil || len(got) != 1 {
		t.Errorf("%d runs after deleting one, %v", len(got), err)
	}
}

func heard(t *testing.T, s shop.Store) {
	addMachine(t, s, "m", "M")
	add(t, s, exampleDesign(1))
	d := exampleDesign(1).ID
	seen := func() int {
		now, err := s.Seen(bg)
		must(t, err)
		return now.Reports
	}
	h := &book.Heard{ID: "h", MachineID: "m", DesignID: d, Recording: "sound", Day: words.NewDay(2026, 3, 4), SetSpeed: 812.5,
		Stitches: 9000, Breaks: 2, Doubtful: 1, By: "Ida", Added: when}
	before := seen()
	must(t, s.AddHeard(bg, h, []shop.Run{run("a", "m", d)}))
	if seen() == before {
		t.Error("a plan does not see that breaks were heard")
	}
	again, other := *h, *h
	again.ID, other.ID, other.Recording = "again", "other", "other sound"
	wantCode(t, s.AddHeard(bg, &again, []shop.Run{run("b", "m", d)}), shop.Conflict)
	wantCode(t, s.AddHeard(bg, &other, []shop.Run{run("a", "m", d)}), shop.Conflict)
	is := func(want ...book.Heard) {
		t.Helper()
		got, err := s.Heard(bg)
		must(t, err)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	}
	is(*h)
	if all, err := s.Runs(bg, "m"); err != nil || len(all) != 1 || all[0].HeardID != "h" {
		t.Errorf("%+v are kept of one recording, %v", all, err)
	}
	before = seen()
	must(t, s.DropHeard(bg, "h"))
	wantCode(t, s.DropHeard(bg, "h"), shop.NotFound)
	is()
	if seen() == before {
		t.Error("a plan does not see that a recording was taken away")
	}
	// Taken away it may be kept anew, under the name of its row.
	act := &shop.Act{By: "Ida", Right: shop.TimeRuns, At: when}
	must(t, s.AddHeard(shop.WithAct(bg, act), &again, nil))
	is(*h)
	c, err := s.Change(bg, act.Change.Load())
	must(t, err)
	if c.Thing != "recording" || c.Ref != "m" || c.Name != "M" || c.Verb != "back" || !c.Undoable {
		t.Errorf("it is kept as %+v", c)
	}
	must(t, s.AddRuns(bg, []shop.Run{run("d", "m", d)}))
	runs := func(want ...string) {
		t.Helper()
		all, err := s.Runs(bg, "m")
		must(t, err)
		var got []string
		for _, r := range all {
			got = append(got, r.ID+" "+r.HeardID)
		}
		slices.Sort(got)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	}
	runs("d ")
	must(t, s.Undo(bg, act.Change.Load()))
	is()
	runs("a h", "d ")
	// Kept anew, its runs take the place of those that were kept before.
	must(t, s.AddHeard(bg, &again, []shop.Run{run("b", "m", d), run("c", "m", d)}))
	runs("b h", "c h", "d ")
	// The runs of a recording go together, and nothing else goes with them.
	act = &shop.Act{By: "Ida", Right: shop.KeepMachines, At: when}
	must(t, s.DeleteHeardRuns(shop.WithAct(bg, act), "h"))
	runs("d ")
	wantCode(t, s.DeleteHeardRuns(bg, "h"), shop.NotFound)
	wantCode(t, s.DeleteHeardRuns(bg, ""), shop.NotFound)
	must(t, s.Undo(bg, act.Change.Load()))
	runs("b h", "c h", "d ")
}

func timings(t *testing.T, s shop.Store) {
	addMachine(t, s, "m", "M")
	add(t, s, exampleDesign(1))
	d := exampleDesign(1).ID
	tm := shop.Timing{ID: "timing-1", MachineID: "m", DesignID: d, SetSpeed: 700, Started: when,
		Marks: []shop.Mark{{Kind: shop.MarkStart}}, Rev: 1, Changed: when}
	must(t, s.SaveTiming(bg, &tm))
	must(t, s.SaveTiming(bg, &tm)) // the phone sends it again
	older := tm
	tm.Marks, tm.Rev, tm.Changed = append(tm.Marks, shop.Mark{Kind: shop.MarkStop, AtMS: 61_000}), 2,
		when.Add(time.Minute)
	must(t, s.SaveTiming(bg, &tm))
	wantCode(t, s.SaveTiming(bg, &older), shop.Conflict)
	got, err := s.Timing(bg, "timing-1")
	must(t, err)
	if diff := cmp.Diff(&tm, got); diff != "" {
		t.Error(diff)
	}
	// From when a phone owns it, no other changes it, but who takes it over.
	tm.Owner, tm.Holder, tm.Rev = "phone-one", "Cleo", 3
	must(t, s.SaveTiming(bg, &tm))
	theirs := tm
	theirs.Owner, theirs.Rev = "phone-two", 4
	wantCode(t, s.SaveTiming(bg, &theirs), shop.Conflict)
	if err := shop.ErrorOf(s.SaveTiming(bg, &theirs)); err.Key != "owner" || !strings.Contains(err.Text, "Cleo") {
		t.Errorf("refused as %+v", err)
	}
	theirs.Take = true
	must(t, s.SaveTiming(bg, &theirs))
	tm.Rev = 5
	wantCode(t, s.SaveTiming(bg, &tm), shop.Conflict)
	tm.Take = true
	must(t, s.SaveTiming(bg, &tm))
	must(t, s.FinishTiming(bg, tm.ID, []shop.Run{run("r", "m", d)}, when.Add(time.Hour)))
	wantCode(t, s.FinishTiming(bg, tm.ID, []shop.Run{run("r2", "m", d)}, when), shop.Conflict)
	changed := tm
	changed.Rev, changed.Note = 6, "late"
	wantCode(t, s.SaveTiming(bg, &changed), shop.Conflict)
	if open, err := s.Timings(bg, "m", true, 9); err != nil || len(open) != 0 {
		t.Errorf("%d open timings, %v", len(open), err)
	}
	all, err := s.Timings(bg, "", false, 9)
	must(t, err)
	if len(all) != 1 || !all[0].Done {
		t.Errorf("timings %+v", all)
	}
	other := tm
	other.ID, other.DesignID = "timing-2", "no such design"
	wantCode(t, s.SaveTiming(bg, &other), shop.NotFound)
	other.DesignID = d
	must(t, s.SaveTiming(bg, &other))
	wantCode(t, s.FinishTiming(bg, other.ID, []shop.Run{run("q", "m", d), run("r", "m", d)}, when), shop.Conflict)
	if got, err = s.Timing(bg, other.ID); err != nil || got.Done {
		t.Errorf("a failed finish left done: %+v, %v", got, err)
	}
	must(t, s.DeleteTiming(bg, other.ID))
	if rs, err := s.Runs(bg, "m"); err != nil || len(rs) != 1 {
		t.Errorf("%d runs, %v", len(rs), err)
	}
}

func settings(t *testing.T, s shop.Store) {
	if b, err := s.Setting(bg, "x"); err != nil || b != nil {
		t.Errorf("a setting that is not there: %q, %v", b, err)
	}
	must(t, s.SetSetting(bg, "x", []byte(`{"a":1}`)))
	must(t, s.SetSetting(bg, "x", []byte(`{"a":2}`)))
	if b, err := s.Setting(bg, "x"); err != nil || string(b) != `{"a":2}` {
		t.Errorf("setting %q, %v", b, err)
	}
}

func setups(t *testing.T, s shop.Store) {
	one := &shop.Setup{ID: "s1", Kind: shop.FloorSetup, Name: "Late shift", TOML: "x = 1", Version: 1, Changed: when}
	must(t, s.SaveSetup(bg, one))
	wantCode(t, s.SaveSetup(bg, one), shop.Conflict)
	two := *one
	two.Version, two.Name = 2, "Early shift"
	must(t, s.SaveSetup(bg, &two))
	wantCode(t, s.SaveSetup(bg, &two), shop.Conflict)
	got, err := s.Setup(bg, "s1")
	must(t, err)
	if diff := cmp.Diff(&two, got); diff != "" {
		t.Error(diff)
	}
	if all, err := s.Setups(bg, shop.MixSetup); err != nil || len(all) != 0 {
		t.Errorf("%d mixes, %v", len(all), err)
	}
	if all, err := s.Setups(bg, shop.FloorSetup); err != nil || len(all) != 1 {
		t.Errorf("%d shifts, %v", len(all), err)
	}
	must(t, s.DeleteSetup(bg, "s1"))
}

func account(id, name string, r shop.Role) *shop.Account {
	return &shop.Account{ID: id, Name: name, Role: r, Hash: "hash of " + id, Made: when}
}

func accounts(t *testing.T, s shop.Store) {
	ada, ben := account("1", "Ada", shop.Owner), account("2", "ben", shop.Operator)
	must(t, s.AddAccount(bg, ben))
	must(t, s.AddAccount(bg, ada))
	wantCode(t, s.AddAccount(bg, account("3", "ADA", shop.Planner)), shop.Conflict)
	all, err := s.Accounts(bg)
	must(t, err)
	if diff := cmp.Diff([]*shop.Account{ada, ben}, all); diff != "" {
		t.Error(diff)
	}
	if a, err := s.AccountNamed(bg, "aDa"); err != nil || a.ID != "1" {
		t.Errorf("%+v, %v", a, err)
	}
	demoted := *ada
	demoted.Role = shop.Planner
	wantCode(t, s.ChangeAccount(bg, &demoted), shop.Conflict)
	ben.Role = shop.Owner
	must(t, s.ChangeAccount(bg, ben))
	must(t, s.ChangeAccount(bg, &demoted))
	if a, err := s.Account(bg, "1"); err != nil || a.Role != shop.Planner {
		t.Errorf("%+v, %v", a, err)
	}
	ben.Disabled = true
	wantCode(t, s.ChangeAccount(bg, ben), shop.Conflict)
}

func sessions(t *testing.T, s shop.Store) {
	ada, ben := account("1", "Ada", shop.Owner), account("2", "Ben", shop.Planner)
	must(t, s.AddAccount(bg, ada))
	must(t, s.AddAccount(bg, ben))
	for i, id := range []string{"1", "1", "2", "2"} {
		must(t, s.AddSession(bg, shop.Session{Digest: fmt.Sprint("d", i), AccountID: id, Made: when,
			Expires: when.Add(time.Duration(i+1) * time.Hour)}, "hash of "+id))
	}
	good := func(d string, now time.Time) bool {
		t.Helper()
		ses, a, err := s.Session(bg, d, now)
		if err != nil {
			wantCode(t, err, shop.NotFound)
			return false
		}
		return ses.AccountID == a.ID
	}
	if !good("d0", when) || good("d0", when.Add(time.Hour)) || !good("d3", when) {
		t.Error("sessions must hold until they expire")
	}
	must(t, s.EndSession(bg, "d3"))
	must(t, s.EndSession(bg, "d3"))
	must(t, s.DropSessions(bg, when.Add(time.Hour)))
	if good("d3", when) || good("d0", when) || !good("d1", when) {
		t.Error("ended and expired sessions must be gone, others not")
	}
	ben.Hash = "new"
	must(t, s.ChangeAccount(bg, ben))
	if good("d2", when) {
		t.Error("a new password must end the sessions")
	}
	wantCode(t, s.AddSession(bg, shop.Session{Digest: "x", AccountID: "nope"}, "hash of nope"), shop.NotFound)
}

// A browser is known for the account that signed in with it, after a moment; keeping another forgets those long unused.
func devices(t *testing.T, s shop.Store) {
	must(t, s.AddAccount(bg, account("1", "Ada", shop.Owner)))
	must(t, s.AddAccount(bg, account("2", "Ben", shop.Planner)))
	known := func(digest, id string, after time.Time, want bool) {
		t.Helper()
		if got, err := s.KnowsDevice(bg, digest, id, after); got != want || err != nil {
			t.Errorf("%s of %s after %v: %v, %v", digest, id, after, got, err)
		}
	}
	must(t, s.KeepDevice(bg, "d", "1", when, when.Add(-time.Hour)))
	known("d", "1", when.Add(-time.Second), true)
	known("d", "1", when, false)
	known("d", "2", when.Add(-time.Hour), false)
	known("e", "1", when.Add(-time.Hour), false)
	must(t, s.KeepDevice(bg, "d", "1", when.Add(time.Hour), when.Add(-time.Hour))) // again
	must(t, s.KeepDevice(bg, "d", "2", when.Add(time.Minute), when.Add(-time.Hour)))
	known("d", "1", when.Add(time.Minute), true)
	known("d", "2", when, true)
	must(t, s.KeepDevice(bg, "e", "2", when.Add(2*time.Hour), when.Add(time.Minute)))
	known("d", "2", when.Add(-time.Hour), false)
	known("d", "1", when, true)
	known("e", "2", when, true)
}

// Who may come in is told, to who keeps the accounts, without what they come in by; it is
// not taken back.
func whoComesIn(t *testing.T, s shop.Store) {
	own := shop.WithAct(bg, &shop.Act{By: "ben", Right: shop.Look})
	ben := account("2", "ben", shop.Operator)
	must(t, s.AddAccount(bg, account("1", "Ada", shop.Owner)))
	must(t, s.AddAccount(bg, ben))
	must(t, s.SetLanguage(own, "2", "tr"))
	ben.Hash = "another"
	must(t, s.ChangeAccount(own, ben))
	ben.Role = shop.Planner
	must(t, s.ChangeAccount(bg, ben))
	ben.Disabled = true
	must(t, s.ChangeAccount(bg, ben))
	ben.Disabled = false
	must(t, s.ChangeAccount(bg, ben))
	must(t, s.AddToken(bg, &shop.Token{ID: "k", Name: "till", Role: shop.Operator, By: "Ada", Made: when, Expires: when.Add(time.Hour)}, "secret"))
	must(t, s.SeeToken(bg, "k", when))
	_, err := s.TokenOf(bg, "secret", when.Add(time.Hour-time.Microsecond))
	must(t, err)
	_, err = s.TokenOf(bg, "secret", when.Add(time.Hour)) // the moment it is over
	wantCode(t, err, shop.NotFound)
	must(t, s.DropToken(bg, "k"))
	p := &shop.Phone{ID: "p", Name: "Bay", Role: shop.Operator, By: "Ada", Made: when, CodeMade: when, CodeUntil: when.Add(10 * time.Minute)}
	must(t, s.AddPhone(bg, p, "code"))
	must(t, s.ChangePhoneCode(bg, p, "another"))
	_, err = s.LetPhoneIn(bg, "another", "session", when, when)
	must(t, err)
	must(t, s.SeePhone(bg, "p", when.Add(time.Minute)))
	must(t, s.DropPhone(bg, "p"))
	told := func(rights ...shop.Right) (all []string) {
		page, _, err := s.Changes(bg, shop.ChangeQuery{Rights: rights, Limit: 100})
		must(t, err)
		for _, c := range slices.Backward(page) {
			all = append(all, strings.TrimSpace(strings.Join([]string{c.Thing, c.Verb, c.Name, c.What}, " ")))
			if c.Undoable {
				t.Errorf("%+v may be taken back", c)
			}
		}
		return all
	}
	want := []string{"account added Ada as owner", "account added ben as operator", "account changed ben a new password", "account changed ben as planner",
		"account changed ben shut out", "account changed ben let in again", "token added till as operator", "token gone till",
		"phone added Bay as operator", "phone changed Bay a new code", "phone changed Bay came in by its code", "phone gone Bay"}
	if diff := cmp.Diff(want, told(shop.KeepAccounts)); diff != "" {
		t.Error(diff)
	}
	if others := told(shop.Look, ""); others != nil {
		t.Errorf("others are told %v", others)
	}
}

func phones(t *testing.T, s shop.Store) {
	phone := func(id, name string) *shop.Phone {
		return &shop.Phone{ID: id, Name: name, Role: shop.Operator, By: "Ada", Made: when, CodeMade: when, CodeUntil: when.Add(10 * time.Minute)}
	}
	must(t, s.AddAccount(bg, account("1", "Ada", shop.Owner)))
	bay, bench := phone("b", "Bay"), phone("a", "bench")
	must(t, s.AddPhone(bg, bench, "code a"))
	must(t, s.AddPhone(bg, bay, "code b"))
	wantCode(t, s.AddPhone(bg, phone("c", "BAY"), "code c"), shop.Conflict)
	wantCode(t, s.AddPhone(bg, phone("c", "ada"), "code c"), shop.Conflict)
	wantCode(t, s.AddAccount(bg, account("2", "BENCH", shop.Owner)), shop.Conflict)
	all, err := s.Phones(bg)
	must(t, err)
	if diff := cmp.Diff([]*shop.Phone{bay, bench}, all); diff != "" {
		t.Error(diff)
	}
	in := func(code, session string, now time.Time) error {
		t.Helper()
		_, err := s.LetPhoneIn(bg, code, session, now, now.Add(time.Minute))
		return err
	}
	for what, err := range map[string]error{
		"no code": in("", "s", when), "wrong": in("code c", "s", when), "too old": in("code b", "s", when.Add(10*time.Minute)),
		"a clock put back": in("code b", "s", when.Add(-2*time.Minute)),
	} {
		if shop.CodeOf(err) != shop.NotFound {
			t.Errorf("%s: %v", what, err)
		}
	}
	must(t, in("code b", "session b", when.Add(time.Minute)))
	wantCode(t, in("code b", "another", when.Add(time.Minute)), shop.NotFound)
	p, err := s.PhoneOf(bg, "session b", when)
	if err != nil || p.ID != "b" || !p.LetIn.Equal(when.Add(time.Minute)) || !p.Seen.Equal(p.LetIn) || !p.CodeUntil.IsZero() {
		t.Errorf("%+v, %v", p, err)
	}
	for _, session := range []string{"", "another", "code a"} {
		if _, err := s.PhoneOf(bg, session, when); shop.CodeOf(err) != shop.NotFound {
			t.Errorf("session %q: %v", session, err)
		}
	}
	must(t, s.SeePhone(bg, "b", when.Add(time.Hour)))
	if _, err := s.PhoneOf(bg, "session b", when.Add(time.Hour)); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("not seen for too long: %v", err)
	}
	// Another code changes nothing until it is used, then it ends the session.
	bay.CodeMade, bay.CodeUntil = when.Add(time.Hour), when.Add(2*time.Hour)
	must(t, s.ChangePhoneCode(bg, bay, "code b2"))
	if _, err := s.PhoneOf(bg, "session b", when); err != nil {
		t.Error(err)
	}
	must(t, in("code b2", "session b2", when.Add(time.Hour)))
	if _, err := s.PhoneOf(bg, "session b", when); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("two sessions of one phone: %v", err)
	}
	must(t, s.DropPhones(bg, when.Add(10*time.Minute-1), when)) // nobody yet
	must(t, s.DropPhones(bg, when.Add(10*time.Minute), when))
	if all, err := s.Phones(bg); err != nil || len(all) != 1 || all[0].ID != "b" {
		t.Errorf("%v, %v", all, err)
	}
	must(t, s.DropPhones(bg, when, when.Add(time.Hour)))
	if all, err := s.Phones(bg); err != nil || len(all) != 0 {
		t.Errorf("%v, %v", all, err)
	}
}

// Of all who bring one code at the same time one comes in.
func oneCode(t *testing.T, s shop.Store) {
	must(t, s.AddPhone(bg, &shop.Phone{ID: "b", Name: "Bay", Role: shop.Operator, Made: when, CodeMade: when, CodeUntil: when.Add(time.Minute)}, "code"))
	var in atomic.Int32
	var all sync.WaitGroup
	for i := range 16 {
		all.Go(func() {
			_, err := s.LetPhoneIn(bg, "code", fmt.Sprint("session ", i), when, when)
			if err == nil {
				in.Add(1)
			} else if shop.CodeOf(err) != shop.NotFound {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if in.Load() != 1 {
		t.Errorf("%d were let in", in.Load())
	}
}

func notFound(t *testing.T, s shop.Store) {
	second := func(_ any, err error) error { return err }
	_, _, machineErr := s.Machine(bg, "x")
	for name, err := range map[string]error{
		"Design": second(s.Design(bg, "x")), "DesignContent": second(s.DesignContent(bg, "x")),
		"DesignThumbs":   second(s.DesignThumbs(bg, "x")),
		"DescribeDesign": s.DescribeDesign(bg, "x", shop.Description{}, nil),
		"RemoveDesign":   s.RemoveDesign(bg, "x", true),
		"Machine":        machineErr, "AddVersion": s.AddVersion(bg, shop.SheetVersion{MachineID: "x", Version: 2}, ""),
		"Versions":      second(s.Versions(bg, "x")),
		"RemoveMachine": s.RemoveMachine(bg, "x", true), "DeleteRun": s.DeleteRun(bg, "x"),
		"Timing": second(s.Timing(bg, "x")), "FinishTiming": s.FinishTiming(bg, "x", nil, when),
		"DeleteTiming": s.DeleteTiming(bg, "x"),
		"Setup":        second(s.Setup(bg, "x")), "SaveSetup": s.SaveSetup(bg, &shop.Setup{ID: "x", Version: 2}),
		"DeleteSetup": s.DeleteSetup(bg, "x"),
		"Phone":       second(s.Phone(bg, "x")), "PhoneOf": second(s.PhoneOf(bg, "x", when)), "DropPhone": s.DropPhone(bg, "x"),
		"SeePhone": s.SeePhone(bg, "x", when), "ChangePhoneCode": s.ChangePhoneCode(bg, &shop.Phone{ID: "x"}, "y"),
		"Account": second(s.Account(bg, "x")), "AccountNamed": second(s.AccountNamed(bg, "x")),
		"ChangeAccount": s.ChangeAccount(bg, account("x", "x", shop.Owner)),
	} {
		if shop.CodeOf(err) != shop.NotFound {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func concurrent(t *testing.T, s shop.Store) {
	v := addMachine(t, s, "m", "M")
	var wg sync.WaitGroup
	var won sync.Map
	for i := range 8 {
		wg.Go(func() {
			for k := range 10 {
				if _, err := s.AddDesign(bg, exampleDesign(k), []byte("c"), thumbs); err != nil {
					t.Error(err)
				}
				if _, _, err := s.Designs(bg, shop.DesignQuery{Limit: 20}); err != nil {
					t.Error(err)
				}
			}
			mine := v
			mine.Version = 2
			if err := s.AddVersion(bg, mine, "M"); err == nil {
				won.Store(i, true)
			} else if shop.CodeOf(err) != shop.Conflict {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	_, total, err := s.Designs(bg, shop.DesignQuery{Limit: 1})
	must(t, err)
	winners := 0
	won.Range(func(any, any) bool { winners++; return true })
	if total != 10 || winners != 1 {
		t.Errorf("%d designs and %d winners, want 10 and 1", total, winners)
	}
}

func cancelled(t *testing.T, s shop.Store) {
	ctx, cancel := context.WithCancel(bg)
	cancel()
	_, err := s.AddDesign(ctx, exampleDesign(1), []byte("c"), thumbs)
	wantCode(t, err, shop.Stopped)
	_, err = s.Design(bg, exampleDesign(1).ID)
	wantCode(t, err, shop.NotFound)
}
