package act_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/shop/lists"
	"needlepace/shop/timings"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/store"
	"needlepace/store/storetest"
)

var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func newShop(t *testing.T) (*act.Shop, store.Store) {
	t.Helper()
	store := storetest.Open(t, filepath.Join(t.TempDir(), "shop.db"))
	t.Cleanup(func() {
		if err := store.Close(); err != nil {
			t.Error(err)
		}
	})
	return act.New(store, act.Options{Build: "b1", HashMemory: 1 << 10, Now: func() time.Time { return noon }}), store
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func demoBytes(t *testing.T, name string) []byte {
	t.Helper()
	d, _ := demo.Find(name)
	b, err := d.Read()
	must(t, err)
	return b
}

func add(t *testing.T, s *act.Shop, name string) *shop.Design {
	t.Helper()
	added, err := s.AddFile(t.Context(), name, demoBytes(t, name))
	must(t, err)
	return added[0].Design
}

func TestTheSameStitchesInAnotherFileAreRecognised(t *testing.T) {
	s, _ := newShop(t)
	d := add(t, s, "gull-cap.dst")
	relabelled := append([]byte(nil), demoBytes(t, "gull-cap.dst")...)
	copy(relabelled[3:], "OTHER LABEL     ")
	added, err := s.AddFile(t.Context(), "copy.dst", relabelled)
	must(t, err)
	if !added[0].New || len(added[0].Same) != 1 || added[0].Same[0] != d.ID {
		t.Errorf("another header over the same stitches: %+v", added[0])
	}
	same, err := s.Designs.Same(t.Context(), d)
	must(t, err)
	if len(same) != 1 || same[0] != added[0].Design.ID {
		t.Errorf("seen from the first: %v", same)
	}
}

func TestARunTimeIsTheSameOnEveryWay(t *testing.T) {
	s, store := newShop(t)
	d := add(t, s, "whale-line.dst")
	m, err := s.Machines.AddOfClass(t.Context(), "compact-8", "Bay 1", "Ada")
	must(t, err)
	direct, how := clock.How(decode(t, "whale-line.dst"), m.Sheet, clock.Job{}, clock.DefaultLevel)
	k, err := s.Clock(t.Context(), d.ID, m.ID, ask.Job{})
	must(t, err)
	times, err := s.Times(t.Context(), []string{d.ID}, []*shop.Machine{m})
	must(t, err)
	kept, err := store.RunTimes(t.Context(), "b1", []string{d.ID}, []string{m.Digest})
	must(t, err)
	for name, got := range map[string]float64{"Clock": k.Result.Seconds, "Times": times[0][0].Seconds, "store": kept[0].Seconds, "picture": picture.RunOf(k).Seconds} {
		if got != direct.Seconds {
			t.Errorf("%s says %v s, the clock %v", name, got, direct.Seconds)
		}
	}
	if times[0][0].Low != how.Low || kept[0].High != how.High || k.How.Low != how.Low {
		t.Error("intervals differ")
	}
	// Another sheet is another run: nothing old may be shown.
	slow := strings.Replace(string(m.Sheet.TOML()), "\nmax_speed = 800", "\nmax_speed = 400", 1)
	m2, err := s.Machines.ChangeSheet(t.Context(), m.ID, 1, slow, "", "Ada")
	must(t, err)
	again, err := s.Times(t.Context(), []string{d.ID}, []*shop.Machine{m2})
	must(t, err)
	if again[0][0].Seconds <= times[0][0].Seconds {
		t.Errorf("at half the speed it takes %v s, before %v", again[0][0].Seconds, times[0][0].Seconds)
	}
}

func decode(t *testing.T, name string) *stitch.Design {
	t.Helper()
	d, err := stitchfile.Decode(demoBytes(t, name), name)
	must(t, err)
	return d
}

func TestManyAskForTheSameRunAtOnce(t *testing.T) {
	s, _ := newShop(t)
	d := add(t, s, "whale-line.dst")
	var wg sync.WaitGroup
	results := make([]*ask.ClockAnswer, 16)
	for i := range results {
		wg.Go(func() {
			k, err := s.Clock(t.Context(), d.ID, "compact-8", ask.Job{Speed: 700})
			if err != nil {
				t.Error(err)
			}
			results[i] = k
		})
	}
	wg.Wait()
	for _, k := range results {
		if k != results[0] {
			t.Error("the run was computed more than once")
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.Clock(ctx, d.ID, "multi-12", ask.Job{}); shop.CodeOf(err) != shop.Stopped {
		t.Errorf("a cancelled request gave %v", err)
	}
	if _, err := s.Clock(t.Context(), d.ID, "multi-12", ask.Job{}); err != nil {
		t.Errorf("and the next one %v: a cancel must not be kept", err)
	}
}

// Presses become a whole run and the blocks that have both their ends.
func TestATimingBecomesRuns(t *testing.T) {
	s, _ := newShop(t)
	d := add(t, s, "ostrel-light.dst")
	m, err := s.Machines.AddOfClass(t.Context(), "single-15-light", "Bay 1", "")
	must(t, err)
	marks := []shop.Mark{{Kind: shop.MarkStart}}
	at := int64(0)
	for range d.ColourStops {
		marks = append(marks, shop.Mark{Kind: shop.MarkStop, AtMS: at + 60_000}, shop.Mark{Kind: shop.MarkRestart, AtMS: at + 68_000})
		at += 68_000
	}
	end := append(append([]shop.Mark(nil), marks...), shop.Mark{Kind: shop.MarkEnd, AtMS: at + 45_500})
	save := func(id string, marks []shop.Mark) {
		t.Helper()
		_, err := s.Timings.Save(t.Context(), &shop.Timing{ID: id, MachineID: m.ID, DesignID: d.ID, SetSpeed: 800, Started: noon, Marks: marks, Rev: 1})
		must(t, err)
	}
	save("timing-1", end)
	runs, err := s.Timings.Finish(t.Context(), "timing-1", timings.Finishing{})
	must(t, err)
	if len(runs) != d.ColourStops || runs[0].Block != 0 || runs[0].Seconds != float64(at+45_500)/1000 {
		t.Fatalf("%d runs of %d colour stops: %+v", len(runs), d.ColourStops, runs)
	}
	for i, r := range runs[1:] { // the second block to the last but one
		if r.Block != i+2 || r.Seconds != 60 {
			t.Errorf("run %d: block %d, %v s", i+1, r.Block, r.Seconds)
		}
	}
	// One press at each stop is the whole run only.
	var single []shop.Mark
	for _, k := range end {
		if k.Kind != shop.MarkRestart {
			single = append(single, k)
		}
	}
	save("timing-2", single)
	if runs, err = s.Timings.Finish(t.Context(), "timing-2", timings.Finishing{}); err != nil || len(runs) != 1 {
		t.Errorf("single presses: %+v, %v", runs, err)
	}
	// A press too few is told, and nothing becomes a run.
	save("timing-3", append(append([]shop.Mark(nil), marks[:3]...), shop.Mark{Kind: shop.MarkEnd, AtMS: 99_000}))
	if _, err = s.Timings.Finish(t.Context(), "timing-3", timings.Finishing{}); d.ColourStops != 1 && (shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "colour stops")) {
		t.Errorf("a press is missing: %v", err)
	}
	all, err := s.Timings.Runs(t.Context(), m.ID)
	must(t, err)
	if len(all) != d.ColourStops+1 {
		t.Errorf("%d runs are kept", len(all))
	}
}

func TestUndoGoesBackStepByStep(t *testing.T) {
	s, _ := newShop(t)
	m, err := s.Machines.AddOfClass(t.Context(), "compact-8", "Bay 1", "")
	must(t, err)
	speeds := []string{"800", "790", "780"}
	for i, v := range speeds[1:] {
		toml := strings.Replace(string(m.Sheet.TOML()), "\nmax_speed = "+speeds[i], "\nmax_speed = "+v, 1)
		m, err = s.Machines.ChangeSheet(t.Context(), m.ID, m.Version, toml, "", "")
		must(t, err)
	}
	for _, want := range []float64{790, 800} {
		m, err = s.Machines.Undo(t.Context(), m.ID, m.Version, 0, "")
		must(t, err)
		if m.Sheet.MaxSpeed != want {
			t.Errorf("undone to %v, want %v", m.Sheet.MaxSpeed, want)
		}
	}
	if _, err = s.Machines.Undo(t.Context(), m.ID, m.Version, 0, ""); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("undoing the first sheet: %v", err)
	}
	m, err = s.Machines.Undo(t.Context(), m.ID, m.Version, 3, "")
	must(t, err)
	h, err := s.Machines.History(t.Context(), m.ID)
	must(t, err)
	if m.Sheet.MaxSpeed != 780 || len(h) != 6 {
		t.Errorf("%v, %d versions", m.Sheet.MaxSpeed, len(h))
	}
}

func TestNamesFromOutsideAreCleaned(t *testing.T) {
	s, _ := newShop(t)
	for _, c := range []struct{ sent, want string }{
		{"../../etc/cron.d/x.dst", "x.dst"}, {`C:\Users\me\gull.dst`, "gull.dst"}, {"a\r\nSet-Cookie: x.dst", "aSet-Cookie: x.dst"},
		{"\u202etsd.exe.dst", "tsd.exe.dst"}, {"..", "design"}, {"", "design"}, {"\xff\xfe.dst", ".dst"},
		{"<img src=x onerror=alert(1)>.dst", "<img src=x onerror=alert(1)>.dst"}, // kept as text: pages and JSON escape it
	} {
		b := demoBytes(t, "whale-line.dst")
		copy(b[3:], c.want+"                ") // another file each
		added, err := s.AddFile(t.Context(), c.sent, b)
		if err != nil {
			t.Errorf("%q: %v", c.sent, err)
			continue
		}
		if added[0].Design == nil || added[0].Design.File != c.want {
			t.Errorf("%q is kept as %+v, want %q", c.sent, added[0].Design, c.want)
		}
	}
}

func TestAClassAnswersBeforeThereIsAMachine(t *testing.T) {
	s, _ := newShop(t)
	d := add(t, s, "whale-line.dst")
	for _, c := range machine.Classes() {
		if _, err := s.Clock(t.Context(), d.ID, c.Name, ask.Job{}); err != nil {
			t.Errorf("%s: %v", c.Name, err)
		}
	}
	if _, err := s.Clock(t.Context(), d.ID, "no such machine", ask.Job{}); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("%v", err)
	}
}

// Learning again starts from the sheet before learning, so that no run counts
// twice.
func TestLearningStartsFromWhatWasNotLearned(t *testing.T) {
	s, _ := newShop(t)
	d := add(t, s, "gull-cap.dst")
	m, err := s.Machines.AddOfClass(t.Context(), "single-15-light", "Bay 1", "")
	must(t, err)
	if _, err := s.Learn(t.Context(), m.ID, act.Learning{}); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("learning from nothing: %v", err)
	}
	_, err = s.Timings.AddRuns(t.Context(), m.ID, []shop.Run{{DesignID: d.ID, SetSpeed: 800, Seconds: 700, Step: 1, Sure: true}})
	must(t, err)
	first, err := s.Learn(t.Context(), m.ID, act.Learning{Keep: true, By: "Ada"})
	must(t, err)
	second, err := s.Learn(t.Context(), m.ID, act.Learning{Keep: true, By: "Ada"})
	must(t, err)
	if first.Machine.Version != 2 || second.Machine.Version != 3 || first.Machine.Digest != second.Machine.Digest {
		t.Errorf("learned twice from the same run: %+v and %+v", first.Machine, second.Machine)
	}
	if second.Before.Fit != nil || !first.OnlyPace {
		t.Errorf("the second fit began from a learned sheet, or one timing taught more than the pace")
	}
}

func TestANameThatSeveralHaveIsRefusedWithAllNamed(t *testing.T) {
	s, _ := newShop(t)
	ctx := t.Context()
	class := machine.Classes()[0].Name
	first, err := s.Machines.AddOfClass(ctx, class, "Bay 1", "")
	must(t, err)
	if m, err := s.Machines.Find(ctx, " bay 1"); err != nil || m.ID != first.ID {
		t.Fatalf("found %v, %v", m, err)
	}
	second, err := s.Machines.AddOfClass(ctx, class, "Bay 1", "")
	must(t, err)
	_, err = s.Machines.Find(ctx, "Bay 1")
	if shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), first.ID) || !strings.Contains(err.Error(), second.ID) {
		t.Errorf("two machines of one name: %v", err)
	}
	if m, err := s.Machines.Find(ctx, second.ID); err != nil || m.ID != second.ID {
		t.Errorf("by its ID: %v, %v", m, err)
	}
}

// A list is its keeper's own: another of the same role, the owner too, does not take back what was changed of it.
func TestAListIsTakenBackByItsKeeperOnly(t *testing.T) {
	s, _ := newShop(t)
	as := func(who string) context.Context {
		return shop.WithAct(t.Context(), &shop.Act{By: who, Right: shop.Look})
	}
	l, err := s.Lists.Keep(as("Ada"), "ada", shop.List{Of: shop.ListOfDesigns, Name: "Late", Query: "state=timed"})
	must(t, err)
	all, _, err := s.Changes.List(t.Context(), shop.Owner, shop.ChangeQuery{Limit: 1})
	must(t, err)
	id := all[0].ID
	if _, err := s.Changes.Undo(as("Cleo"), shop.Owner, id); shop.CodeOf(err) != shop.Forbidden {
		t.Errorf("another takes it back: %v", err)
	}
	if kept, err := s.Lists.All(t.Context(), "ada"); err != nil || len(kept) != 1 || kept[0].ID != l.ID {
		t.Errorf("%d lists are kept, %v", len(kept), err)
	}
	_, err = s.Changes.Undo(as("Ada"), shop.Owner, id)
	must(t, err)
	if kept, err := s.Lists.All(t.Context(), "ada"); err != nil || len(kept) != 0 {
		t.Errorf("taken back, %d lists are kept, %v", len(kept), err)
	}
}

func TestSoManyListsAreKeptAndNoMore(t *testing.T) {
	s, _ := newShop(t)
	keep := func(account string, n int) error {
		_, err := s.Lists.Keep(t.Context(), account, shop.List{Of: shop.ListOfOrders, Name: fmt.Sprint("No ", n)})
		return err
	}
	for n := range lists.Most {
		must(t, keep("ada", n))
	}
	if err := keep("ada", lists.Most); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("one more list: %v", err)
	}
	must(t, keep("cleo", 0)) // another's lists are not counted
}
