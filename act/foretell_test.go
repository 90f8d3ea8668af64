package act_test

import (
	"context"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/shop/timings"
	"needlepace/store/sqlite"
	"needlepace/words"
)

// laterShop is a shop whose time of day a test can move.
func laterShop(t *testing.T) (*act.Shop, *time.Time) {
	t.Helper()
	store, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "shop.db"))
	must(t, err)
	t.Cleanup(func() { must(t, store.Close()) })
	now := noon
	return act.New(store, act.Options{Build: "b1", HashMemory: 1 << 10, Now: func() time.Time { return now }}), &now
}

// What a whole run is held against is what the sheet said that the machine had
// before it, and never a sheet that was learned from it.
func TestARunKeepsWhatWasPredictedBeforeIt(t *testing.T) {
	s, now := laterShop(t)
	d := add(t, s, "ostrel-light.dst")
	m, err := s.Machines.AddOfClass(t.Context(), "single-15-light", "Bay 1", "")
	must(t, err)
	first := m.Digest
	timed := func(day words.Day, seconds float64, r shop.Run) *shop.Predicted {
		t.Helper()
		r.DesignID, r.Date, r.SetSpeed, r.Seconds, r.Step = d.ID, day, 800, seconds, 1
		runs, err := s.Timings.AddRuns(t.Context(), m.ID, []shop.Run{r})
		must(t, err)
		all, err := s.Timings.Runs(t.Context(), m.ID)
		must(t, err)
		for _, kept := range all {
			if kept.ID == runs[0].ID {
				return kept.Predicted
			}
		}
		t.Fatal("the run is lost")
		return nil
	}
	today := words.NewDay(2026, 3, 4)
	k, err := s.Clock(t.Context(), d.ID, m.ID, ask.Job{Speed: 800})
	must(t, err)
	p := timed(today, 300, shop.Run{})
	if p == nil || p.Sheet != first || p.Version != 1 || p.Seconds != k.Seconds || p.Low != k.Interval.Low ||
		p.High != k.Interval.High || p.Level != k.Interval.Level {
		t.Errorf("the class's sheet knows nothing of the run: %+v, clock %+v", p, k.Interval)
	}
	if p := timed(today, 60, shop.Run{Block: 1}); p != nil {
		t.Errorf("a block is no whole run: %+v", p)
	}
	if p := timed(words.NewDay(2026, 3, 3), 300, shop.Run{}); p != nil {
		t.Errorf("a run is older than every sheet: %+v", p)
	}
	if p := timed(today, 300, shop.Run{Needles: "1 9 3 12 1"}); p == nil || !(p.Seconds > k.Seconds) {
		t.Errorf("a farther needle takes longer: %+v, %v s", p, k.Seconds)
	}

	// Learned in the afternoon: what is timed by the day alone may be among what was
	// learned from; what was begun by a press after that is not.
	*now = noon.Add(2 * time.Hour)
	l, err := s.Learn(t.Context(), m.ID, act.Learning{Keep: true})
	must(t, err)
	if p := timed(today, 300, shop.Run{}); p == nil || p.Version != 1 {
		t.Errorf("of the day that was learned from: %+v", p)
	}
	press := func(id string, at time.Time) *shop.Predicted {
		t.Helper()
		_, err := s.Timings.Save(t.Context(), &shop.Timing{ID: id, MachineID: m.ID, DesignID: d.ID, SetSpeed: 800,
			Started: at, Rev: 1, Marks: []shop.Mark{{Kind: shop.MarkStart}, {Kind: shop.MarkEnd, AtMS: 300_000}}})
		must(t, err)
		runs, err := s.Timings.Finish(t.Context(), id, timings.Finishing{})
		must(t, err)
		return runs[0].Predicted
	}
	*now = noon.Add(4 * time.Hour)
	if p := press("before-it", noon.Add(time.Hour)); p == nil || p.Sheet != first {
		t.Errorf("begun before the learning: %+v", p)
	}
	if p := press("after-it", noon.Add(3*time.Hour)); p == nil || p.Version != 2 || p.Sheet != l.Machine.Digest ||
		math.Abs(p.Seconds/300-1) > 0.05 {
		t.Errorf("begun after the learning: %+v", p)
	}
	*now = noon.Add(24 * time.Hour)
	if p := timed(words.NewDay(2026, 3, 5), 300, shop.Run{}); p == nil || p.Version != 2 {
		t.Errorf("the day after: %+v", p)
	}
	if p := timed(today, 300, shop.Run{}); p == nil || p.Version != 1 {
		t.Errorf("written down the day after: %+v", p)
	}
}

// A machine that sews 4 % slower than its class: the score and Today say so, learning
// takes it in, and only what is timed after that scores the learned sheet. What
// the floor reports and runs that are left out are not among the runs.
func TestAMachinesScore(t *testing.T) {
	s, now := laterShop(t)
	m, err := s.Machines.AddOfClass(t.Context(), "single-15-light", "Bay 1", "")
	must(t, err)
	designs := []*shop.Design{add(t, s, "whale-line.dst"), add(t, s, "gull-cap.dst"), add(t, s, "ostrel-light.dst")}
	day := words.NewDay(2026, 3, 4)
	timed := func(n int, pace float64) {
		t.Helper()
		for k := range n {
			d := designs[k%3]
			a, err := s.Clock(t.Context(), d.ID, "single-15-light", ask.Job{Speed: 800})
			must(t, err)
			_, err = s.Timings.AddRuns(t.Context(), m.ID, []shop.Run{{DesignID: d.ID, SetSpeed: 800, Date: day,
				Seconds: math.Round(10*pace*a.Seconds) / 10, Step: 0.1}})
			must(t, err)
			day = day.Add(1)
			*now = now.Add(24 * time.Hour)
		}
	}
	timed(7, 1.04)
	runs, err := s.Timings.Runs(t.Context(), m.ID)
	must(t, err)
	runs[0].Ignored = true
	must(t, s.Timings.Change(t.Context(), runs[:1]))
	a, err := s.Score(t.Context(), m.ID)
	must(t, err)
	if a.Last.Runs != 6 || math.Abs(a.Last.Bias-0.04) > 0.005 || len(a.Verdict) == 0 || a.Verdict[0].Key != "score.short" {
		t.Errorf("%+v %s", a.Last, a.Verdict.Text(nil))
	}
	_, err = s.Machines.AddOfClass(t.Context(), "single-15-light", "Bay 2", "") // nothing is known of it
	must(t, err)
	watched := func(want string) {
		t.Helper()
		for what, ctx := range map[string]context.Context{"": t.Context(), "who reads: ": shop.Reading(t.Context())} {
			a, err := ask.Today(ctx, s.Asked(), ask.TodayQuestion{Now: *now})
			must(t, err)
			says := ""
			for _, w := range a.Watch {
				if w.Kind != ask.WatchMachine || w.MachineID != m.ID {
					t.Errorf("%sToday has %+v", what, w)
				}
				says += w.Say.Text(nil)
			}
			if strings.ReplaceAll(says, "\u00a0", " ") != want {
				t.Errorf("%sToday says %q, want %q", what, says, want)
			}
		}
	}
	watched("Bay 1: its last 6 runs took 4.0 % longer than its sheet says, more than by chance: learn from them.")
	_, err = s.Learn(t.Context(), m.ID, act.Learning{Keep: true})
	must(t, err)
	a, err = s.Score(t.Context(), m.ID)
	must(t, err)
	if a.Last.Runs != 0 || a.Version != 2 || len(a.Sheets) != 1 || a.Verdict[0].Key != "score.none-learned" {
		t.Errorf("the runs that it was learned from score it: %+v %s", a.Last, a.Verdict.Text(nil))
	}
	watched("")
	timed(6, 1.04)
	a, err = s.Score(t.Context(), m.ID)
	must(t, err)
	if a.Last.Runs != 6 || math.Abs(a.Last.Bias) > 0.01 || len(a.Sheets) != 2 || a.Sheets[0].Version != 2 ||
		a.Sheets[1].Version != 1 || a.Verdict[0].Key != "score.no-bias" && a.Verdict[0].Key != "score.minor" {
		t.Errorf("%+v %s", a.Last, a.Verdict.Text(nil))
	}
	watched("")
	timed(24, 0.96) // the last twenty count: it was put right since
	watched("Bay 1: its last 20 runs took 7.7 % less than its sheet says, more than by chance: learn from them.")
}
