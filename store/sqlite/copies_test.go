package sqlite

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func copiesOf(t *testing.T, now *time.Time) *Copies {
	path := filepath.Join(t.TempDir(), "shop.db")
	s := open(t, path)
	t.Cleanup(func() { s.Close() })
	fill(t, s, 0, 2)
	return &Copies{Path: path, Folder: filepath.Join(t.TempDir(), "new", "copies"), Every: 24 * time.Hour, Days: 7, Weeks: 4, Months: 12,
		Now: func() time.Time { return *now }, Log: slog.New(slog.DiscardHandler)}
}

// Of 400 days' copies stay the last seven days', one of each of the last four
// weeks and one of each of the last twelve months; nothing else is touched.
func TestOldCopiesAreTakenAway(t *testing.T) {
	now := time.Date(2026, 11, 26, 2, 0, 0, 0, time.UTC) // a Thursday
	c := copiesOf(t, &now)
	if err := os.MkdirAll(c.Folder, 0o700); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(c.Folder, "needlepace-by-hand.db")
	for n := 1; n < 400; n++ {
		if err := os.WriteFile(filepath.Join(c.Folder, now.AddDate(0, 0, -n).Format(copyName)), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(other, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := c.Once(t.Context()); err != nil {
		t.Fatal(err)
	}
	all, err := c.all()
	if err != nil {
		t.Fatal(err)
	}
	var days []string
	for _, at := range all {
		days = append(days, at.Format("01-02"))
	}
	want := "11-26 11-25 11-24 11-23 11-22 11-21 11-20 11-15 11-08 10-31 09-30 08-31 07-31 06-30 05-31 04-30 03-31 02-28 01-31 12-31"
	// 11-22 (Sunday) is its week's newest too, and 11-26 its month's.
	if got := strings.Join(days, " "); got != want {
		t.Errorf("kept are %s\nwant     %s", got, want)
	}
	if _, err := os.Stat(other); err != nil {
		t.Errorf("a file of the owner's: %v", err)
	}
	if l := c.Last(); l.Holds.Designs != 2 || l.Wrong != "" || l.Kept != len(all) {
		t.Errorf("it says %+v", l)
	}
	info, err := os.Stat(c.Last().File)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
}

// Where no copy can be made, none of the old ones goes.
func TestAFailedCopyTakesNothingAway(t *testing.T) {
	now := time.Date(2026, 11, 26, 2, 0, 0, 0, time.UTC)
	c := copiesOf(t, &now)
	c.Days, c.Weeks, c.Months = 1, 0, 0
	if err := c.Once(t.Context()); err != nil {
		t.Fatal(err)
	}
	c.Path += ".gone"
	now = now.AddDate(0, 0, 3)
	if err := c.Once(t.Context()); err == nil {
		t.Fatal("a copy of nothing was made")
	}
	if all, _ := c.all(); len(all) != 1 || c.Last().Wrong == "" {
		t.Errorf("%d copies, %+v", len(all), c.Last())
	}
}

func TestTheNextCopyIsDue(t *testing.T) {
	now := time.Date(2026, 11, 26, 2, 0, 0, 0, time.UTC)
	c := &Copies{Every: 24 * time.Hour, Now: func() time.Time { return now }}
	for _, x := range []struct {
		have []time.Time
		want time.Duration
	}{
		{nil, 0}, {[]time.Time{now.Add(-time.Hour)}, 23 * time.Hour}, {[]time.Time{now.Add(-48 * time.Hour)}, -24 * time.Hour},
		{[]time.Time{now.AddDate(1, 0, 0)}, 0}, // the clock was set back by a year
		{[]time.Time{now.AddDate(1, 0, 0), now.Add(-2 * time.Hour)}, 22 * time.Hour},
	} {
		if got := c.wait(x.have); got != x.want {
			t.Errorf("with copies of %v it waits %v, want %v", x.have, got, x.want)
		}
	}
}

func TestCopiesAreMadeUntilItEnds(t *testing.T) {
	var mu sync.Mutex
	now := time.Date(2026, 11, 26, 2, 0, 0, 0, time.UTC)
	c := copiesOf(t, &now)
	c.Every, c.Days = 20*time.Millisecond, 1000
	c.Now = func() time.Time { // a day each time it is asked
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(25 * time.Hour)
		return now
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { c.Run(ctx); close(done) }()
	for {
		if all, _ := c.all(); len(all) >= 3 {
			break
		}
		time.Sleep(5 * time.Millisecond)
	}
	cancel()
	<-done
	all, err := c.all()
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range all {
		if sum, err := Inspect(t.Context(), filepath.Join(c.Folder, at.Format(copyName))); err != nil || sum.Designs != 2 {
			t.Errorf("%v holds %+v, %v", at, sum, err)
		}
	}
}

func TestHowManyCopiesAreKeptIsRead(t *testing.T) {
	for s, want := range map[string]string{"7,4,12": "7 4 12", "30": "30 0 0", " 1, 2": "1 2 0", "x": "", "1,2,3,4": "", "-1": "", "7.5": "", "": ""} {
		d, w, m, err := ParseKeep(s)
		if got := fmt.Sprint(d, w, m); (err == nil) != (want != "") || err == nil && got != want {
			t.Errorf("%q is read as %s, %v", s, got, err)
		}
	}
}
