package act_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

func (b *bench) round(t *testing.T, name string) *act.Round {
	t.Helper()
	for _, r := range b.Rounds() {
		if r.Name() == name {
			return r
		}
	}
	t.Fatalf("there is no round %s", name)
	return nil
}

// doneAt lets a round be looked at every so often from one time to another, and gives when it was done.
func (b *bench) doneAt(t *testing.T, r *act.Round, from, to time.Time, every time.Duration) (done []string) {
	t.Helper()
	r.Told = func(is *shop.Round) {
		done = append(done, is.Began.Format("01-02 15:04"))
		if is.Failed != "" {
			t.Errorf("it failed: %s", is.Failed)
		}
	}
	for b.at = from; !b.at.After(to); b.at = b.at.Add(every) {
		if err := r.Do(bg); err != nil {
			t.Fatal(err)
		}
	}
	return done
}

// A daily round is done once a day by the shop's clocks, whatever they do; one that was missed is done once.
func TestARoundIsDoneOnceADayAndOnceWhenItWasMissed(t *testing.T) {
	b := fresh(t)
	b.workshop(t, `time_zone = "UTC"`, `time_zone = "Europe/Berlin"`)
	set, err := b.Settings.Get(bg)
	if err != nil {
		t.Fatal(err)
	}
	set.DriftAt = "02:30"
	if err := b.Settings.Save(bg, set); err != nil {
		t.Fatal(err)
	}
	r := b.round(t, shop.RoundDrift)
	at := func(month time.Month, day, hour, minute int) time.Time {
		return time.Date(2026, month, day, hour, minute, 0, 0, time.UTC)
	}
	quarter := 15 * time.Minute
	// It was never done: now. Berlin's clocks go from 2:00 to 3:00 on 29 March (1:00 UTC) and back on 25 October.
	if got, want := b.doneAt(t, r, at(3, 27, 12, 0), at(3, 30, 12, 0), quarter), []string{"03-27 12:00", "03-28 01:30", "03-29 01:30", "03-30 00:30"}; !slices.Equal(got, want) {
		t.Errorf("over the spring change it was done %v, want %v", got, want)
	}
	// Five days asleep.
	if got, want := b.doneAt(t, r, at(4, 4, 9, 0), at(4, 5, 9, 0), quarter), []string{"04-04 09:00", "04-05 00:30"}; !slices.Equal(got, want) {
		t.Errorf("after five days asleep it was done %v, want %v", got, want)
	}
	// The autumn change has 2:30 twice (0:30 and 1:30 UTC): it is done once.
	if got, want := b.doneAt(t, r, at(10, 24, 12, 0), at(10, 26, 12, 0), quarter), []string{"10-24 12:00", "10-25 01:30", "10-26 01:30"}; !slices.Equal(got, want) {
		t.Errorf("over the autumn change it was done %v, want %v", got, want)
	}
	// The clock was weeks ahead: it does not wait for them to pass.
	if got, want := b.doneAt(t, r, at(10, 1, 12, 0), at(10, 2, 12, 0), quarter), []string{"10-01 12:00", "10-02 00:30"}; !slices.Equal(got, want) {
		t.Errorf("after the clock was set back it was done %v, want %v", got, want)
	}
	set.DriftAt = "" // turned off
	if err := b.Settings.Save(bg, set); err != nil {
		t.Fatal(err)
	}
	if got := b.doneAt(t, r, at(11, 1, 0, 0), at(11, 4, 0, 0), quarter); len(got) != 0 {
		t.Errorf("turned off it was done %v", got)
	}
	for in, says := range map[string]string{"26:00": "time of day", "noon": "time of day", "2 pm": "time of day"} {
		set.DriftAt = in
		if err := b.Settings.Save(bg, set); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("at %q: %v", in, err)
		}
	}
	set.DriftAt, set.PlanEvery = "7:05", 4
	if err := b.Settings.Save(bg, set); err == nil || !strings.Contains(err.Error(), "5 to 1440") {
		t.Errorf("every 4 minutes: %v", err)
	}
	set.PlanEvery = 0
	if err := b.Settings.Save(bg, set); err != nil {
		t.Fatal(err)
	}
	if set, err = b.Settings.Get(bg); err != nil || set.DriftAt != "07:05" {
		t.Errorf("kept as %q, %v", set.DriftAt, err)
	}
	if at, _, err := b.round(t, shop.RoundPlan).Due(bg); err != nil || !at.IsZero() {
		t.Errorf("the plan's round is turned off, and due %v, %v", at, err)
	}
}

// What changed since the plan was made is found without anyone who opens a page, and from when it was so stays.
func TestAStalePlanIsFound(t *testing.T) {
	b := fresh(t)
	r := b.round(t, shop.RoundPlan)
	look := func(after time.Duration) *act.RoundState {
		t.Helper()
		b.at = b.at.Add(after)
		if err := r.Do(bg); err != nil {
			t.Fatal(err)
		}
		all, err := b.RoundStates(bg)
		if err != nil {
			t.Fatal(err)
		}
		k := slices.IndexFunc(all, func(s act.RoundState) bool { return s.Name == shop.RoundPlan })
		if !all[k].Began.Equal(b.at) || !all[k].Next.Equal(b.at.Add(15*time.Minute)) {
			t.Errorf("at %v: %+v", b.at, all[k])
		}
		return &all[k]
	}
	if s := look(0); s.Said.Text(nil) != "There was no plan." || len(s.Found) != 0 {
		t.Errorf("without a plan: %+v", s)
	}
	b.order(t, "ostrel-light.dst", 30, "2026-03-06", book.Agreed)
	b.plan(t)
	if s := look(15 * time.Minute); len(s.Found) != 0 || s.Said.Text(nil) != "Nothing changed since the plan was made." {
		t.Errorf("just planned: %q, %+v", s.Said.Text(nil), s.Found)
	}
	b.order(t, "gull-cap.dst", 20, "2026-03-06", book.Agreed)
	s := look(15 * time.Minute)
	if len(s.Found) != 1 || !strings.HasPrefix(s.Said.Text(nil), "1 thing changed since the plan was made. ") {
		t.Fatalf("with another order: %q, %+v", s.Said.Text(nil), s.Found)
	}
	first := b.at
	b.order(t, "gull-cap.dst", 10, "2026-03-06", book.Agreed)
	if s = look(time.Hour); len(s.Found) != 1 || !s.Found[0].First.Equal(first) || !strings.HasPrefix(s.Said.Text(nil), "2 things") {
		t.Errorf("with a third: %q, first found %v, want %v", s.Said.Text(nil), s.Found[0].First, first)
	}
	b.plan(t)
	if s = look(time.Hour); len(s.Found) != 0 {
		t.Errorf("planned anew: %+v", s.Found)
	}
	// Not due: nothing is done. Several programs that do it at once keep it once.
	b.at = b.at.Add(14 * time.Minute)
	told := 0
	r.Told = func(*shop.Round) { told++ }
	if err := r.Do(bg); err != nil || told != 0 {
		t.Errorf("a minute too early it was done %d times, %v", told, err)
	}
	b.at = b.at.Add(time.Minute)
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range 6 {
		other := b.round(t, shop.RoundPlan)
		other.Told = func(*shop.Round) { mu.Lock(); defer mu.Unlock(); told++ }
		wg.Go(func() {
			if err := other.Do(bg); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if told != 1 {
		t.Errorf("of six at once %d kept it", told)
	}
}

// What fails is told, tried again in ten minutes, and takes nothing of what was found before.
func TestARoundThatFailsIsTriedAgain(t *testing.T) {
	b := fresh(t)
	fails := true
	day := 24 * time.Hour
	last := b.at
	r := b.CopyRound("here:/copies", func() (time.Time, error) { return last.Add(day), nil }, func(context.Context) (words.Message, error) {
		if fails {
			return words.Message{}, errors.New("no room")
		}
		last = b.at
		return words.Say("rounds.no-plan"), nil
	})
	state := func() shop.Round {
		t.Helper()
		all, err := b.RoundStates(bg)
		if err != nil {
			t.Fatal(err)
		}
		return all[len(all)-1].Round
	}
	if all, err := b.RoundStates(bg); err != nil || len(all) != 3 || all[2].Other || !all[2].Ended.IsZero() || !all[2].Next.Equal(last.Add(day)) {
		t.Errorf("before the first: %+v, %v", all, err)
	}
	b.at = b.at.Add(day)
	began := b.at
	if err := r.Do(bg); err != nil {
		t.Fatal(err)
	}
	if is := state(); is.Failed != "no room" || is.Place != "here:/copies" || !is.Began.Equal(began) {
		t.Errorf("failed: %+v", is)
	}
	if at, last, err := r.Due(bg); err != nil || !at.Equal(began.Add(10*time.Minute)) || !last.Equal(began) {
		t.Errorf("it is due %v after %v, %v", at, last, err)
	}
	fails = false
	b.at = b.at.Add(10 * time.Minute)
	if err := r.Do(bg); err != nil {
		t.Fatal(err)
	}
	if is := state(); is.Failed != "" || is.Said.Text(nil) != "There was no plan." {
		t.Errorf("done: %+v", is)
	}
	if at, _, err := r.Due(bg); err != nil || !at.Equal(b.at.Add(day)) {
		t.Errorf("it is due %v, %v", at, err)
	}
	// One that no computer makes any more is forgotten in time; it is kept while it is not.
	other := b.CopyRound("there:/copies", func() (time.Time, error) { return b.at, nil }, func(context.Context) (words.Message, error) {
		return words.Say("rounds.no-plan"), nil
	})
	for _, after := range []time.Duration{13 * day, 2 * day} {
		b.at = b.at.Add(after)
		if err := other.Do(bg); err != nil {
			t.Fatal(err)
		}
		all, err := b.RoundStates(bg)
		if err != nil {
			t.Fatal(err)
		}
		if want := map[time.Duration]int{13 * day: 4, 2 * day: 3}[after]; len(all) != want {
			t.Errorf("%v later there are %d rounds, want %d", after, len(all), want)
		}
	}
}

// A machine that has changed since its sheet was made is found at night, and Today says it until the sheet is made anew.
func TestAMachineThatHasChangedIsFound(t *testing.T) {
	b := fresh(t)
	class, _ := machine.Class("home-1")
	m, err := b.Machines.Add(bg, string(class.TOML()), "", "")
	if err != nil {
		t.Fatal(err)
	}
	id := m.ID
	var runs []shop.Run
	k := 0
	for day := 10; day <= 21; day++ { // after the sheet was made
		for _, name := range []string{"gull-cap.dst"} {
			c, err := b.Clock(bg, b.designs[name], id, ask.Job{})
			if err != nil {
				t.Fatal(err)
			}
			k++
			seconds := c.Seconds * (1 + 0.002*float64(k%5-2))
			if day >= 16 {
				seconds *= 1.12
			}
			runs = append(runs, shop.Run{DesignID: b.designs[name], SetSpeed: c.SetSpeed, Date: words.NewDay(2026, 3, day), Seconds: seconds, Step: 1, Sure: true})
		}
	}
	b.at = time.Date(2026, 3, 15, 18, 0, 0, 0, time.UTC)
	before := slices.IndexFunc(runs, func(r shop.Run) bool { return r.Date.After(words.NewDay(2026, 3, 15)) })
	r := b.round(t, shop.RoundDrift)
	look := func() act.RoundState {
		t.Helper()
		if err := r.Do(bg); err != nil {
			t.Fatal(err)
		}
		all, err := b.RoundStates(bg)
		if err != nil {
			t.Fatal(err)
		}
		if !all[0].Began.Equal(b.at) {
			t.Fatalf("at %v it was not done: %+v", b.at, all[0])
		}
		return all[0]
	}
	if s := look(); s.Said.Text(nil) != "No machine has timed runs." {
		t.Errorf("nothing timed: %q", s.Said.Text(nil))
	}
	add := func(runs []shop.Run) {
		t.Helper()
		if _, err := b.Timings.AddRuns(bg, id, runs); err != nil {
			t.Fatal(err)
		}
	}
	add(runs[:before])
	b.at = b.at.Add(24 * time.Hour)
	if s := look(); len(s.Found) != 0 || s.Said.Text(nil) != "Of 1 machine with timed runs none has changed since its sheet was made." {
		t.Errorf("nothing changed: %q, %+v", s.Said.Text(nil), s.Found)
	}
	b.at = time.Date(2026, 3, 28, 3, 0, 0, 0, time.UTC)
	add(runs[before:])
	s := look()
	if len(s.Found) != 1 || s.Found[0].MachineID != id || s.Found[0].Change < 0.09 || s.Found[0].Change > 0.15 {
		t.Fatalf("12 %% slower since the 16th: %q, %+v", s.Said.Text(nil), s.Found)
	}
	if d := s.Found[0].Day; d.Before(words.NewDay(2026, 3, 15)) || d.After(words.NewDay(2026, 3, 17)) {
		t.Errorf("since %v, it was the 16th", d)
	}
	said := func() string {
		t.Helper()
		for _, w := range b.today(t).Watch {
			if w.Kind == ask.WatchMachine {
				return w.Say.Text(nil)
			}
		}
		return ""
	}
	if got := said(); !strings.HasPrefix(got, m.Name+" has changed since ") || !strings.Contains(got, "longer than before") {
		t.Errorf("Today says %q", got)
	}
	// Nothing new: it is not reckoned anew, and stays found as it was written, since when it was.
	b.at = b.at.Add(24 * time.Hour)
	written := s.Round
	written.Found = slices.Clone(written.Found)
	written.Found[0].Change = 0.125
	if err := b.orders.(shop.RoundStore).KeepRound(bg, &written, written.Began); err != nil {
		t.Fatal(err)
	}
	if again := look(); len(again.Found) != 1 || again.Found[0].Change != 0.125 || !again.Found[0].First.Equal(s.Found[0].First) || again.Looked[id] != s.Looked[id] {
		t.Errorf("the next night: %+v", again.Found)
	}
	sheet := m.Sheet.Clone()
	sheet.Rest.Trim *= 1.01
	if _, err := b.Machines.KeepLearned(bg, m, sheet, "by hand", ""); err != nil {
		t.Fatal(err)
	}
	if got := said(); strings.Contains(got, "has changed since") {
		t.Errorf("with a new sheet Today still says %q", got)
	}
	b.at = b.at.Add(24 * time.Hour)
	if s := look(); len(s.Found) != 0 {
		t.Errorf("with a sheet made since: %+v", s.Found)
	}
}
