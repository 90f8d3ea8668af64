package store_test

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"needlepace/act"
	"needlepace/internal/pgtest"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/store/sqlite"
	"needlepace/words"
)

func filesIn(t *testing.T, folder string) (names []string) {
	t.Helper()
	all, err := os.ReadDir(folder)
	must(t, err)
	for _, e := range all {
		names = append(names, e.Name())
	}
	return names
}

// The latest copies stay, whatever else is in the folder, and each is a shop.
func TestTheLatestCopiesStay(t *testing.T) {
	for kind, place := range map[string]string{"file": filepath.Join(t.TempDir(), "shop.db"), "database": pgtest.Database(t)} {
		t.Run(kind, func(t *testing.T) {
			s := open(t, place)
			must(t, s.SetSetting(bg, "where", []byte("here")))
			c := store.Copies{Folder: filepath.Join(t.TempDir(), "a", "copies"), Keep: 2}
			at := time.Date(2026, 3, 29, 1, 59, 59, 5, time.FixedZone("", 3600)) // an hour that is there twice is not there in UTC
			if due, err := c.Due(time.Hour, at); err != nil || !due.Equal(at) {
				t.Errorf("the first copy is due %v, %v", due, err)
			}
			for n := range 4 {
				made, err := c.Make(bg, place, at.Add(time.Duration(n)*24*time.Hour))
				must(t, err)
				if is, err := os.Stat(made.File); err != nil || is.Size() != made.Bytes || is.Mode().Perm() != 0o600 {
					t.Errorf("%v: %v, %v", made, is, err)
				}
				if n == 0 {
					must(t, os.WriteFile(filepath.Join(c.Folder, "needlepace-2020-01-01-000000.db"), nil, 0o600)) // by hand
					must(t, os.Mkdir(filepath.Join(c.Folder, "needlepace-20200101-000000Z.db"), 0o700))
				}
			}
			for _, folder := range []string{c.Folder, filepath.Dir(c.Folder)} { // for their owner only
				if is, err := os.Stat(folder); err != nil || is.Mode().Perm() != 0o700 {
					t.Errorf("%s: %v, %v", folder, is.Mode(), err)
				}
			}
			want := []string{"needlepace-2020-01-01-000000.db", "needlepace-20200101-000000Z.db", "needlepace-20260331-005959Z.db", "needlepace-20260401-005959Z.db"}
			if got := filesIn(t, c.Folder); !slices.Equal(got, want) {
				t.Errorf("there are %q, want %q", got, want)
			}
			copied := open(t, filepath.Join(c.Folder, want[3]))
			if b, err := copied.Setting(bg, "where"); err != nil || string(b) != "here" {
				t.Errorf("the copy has %q, %v", b, err)
			}
			if due, err := c.Due(time.Hour, at.Add(73*time.Hour)); err != nil || !due.Equal(time.Date(2026, 4, 1, 1, 59, 59, 0, time.UTC)) {
				t.Errorf("the next copy is due %v, %v", due, err)
			}
			// The clock was set back by a week: a copy is made all the same, and stays.
			back := at.Add(-7 * 24 * time.Hour)
			if due, err := c.Due(time.Hour, back); err != nil || !due.Equal(back) {
				t.Errorf("after the clock was set back the next copy is due %v, %v", due, err)
			}
			made, err := c.Make(bg, place, back)
			must(t, err)
			if _, err := os.Stat(made.File); err != nil {
				t.Error("the copy just made was removed as the oldest")
			}
			// Those of days to come take no place from those made since, and stay.
			for n := range 2 {
				_, err := c.Make(bg, place, back.Add(time.Duration(n+1)*24*time.Hour))
				must(t, err)
			}
			want = slices.Insert(want, 2, "needlepace-20260322-005959Z.db", "needlepace-20260323-005959Z.db", "needlepace-20260324-005959Z.db")
			want = slices.Delete(want, 2, 3)
			others := func(name string) bool { return filepath.Ext(name) != ".db" } // of the copy that is open
			if got := slices.DeleteFunc(filesIn(t, c.Folder), others); !slices.Equal(got, want) {
				t.Errorf("after the clock was set back there are %q, want %q", got, want)
			}
			// One that fails removes none.
			before := filesIn(t, c.Folder)
			if _, err := c.Make(bg, filepath.Join(t.TempDir(), "none.db"), at.Add(240*time.Hour)); shop.CodeOf(err) != shop.NotFound {
				t.Errorf("a copy of nothing: %v", err)
			}
			if _, err := (store.Copies{Folder: c.Folder}).Make(bg, place, at.Add(240*time.Hour)); shop.CodeOf(err) != shop.Invalid {
				t.Errorf("no copies kept: %v", err)
			}
			if got := filesIn(t, c.Folder); !slices.Equal(got, before) {
				t.Errorf("there are %q, before %q", got, before)
			}
		})
	}
}

// copying makes copies of a shop at a place as serve does, and tells of each, until end.
func copying(t *testing.T, s store.Store, c store.Copies, place string, every time.Duration, tell func(store.Copied, time.Time, error)) (end func()) {
	t.Helper()
	r := act.New(s, act.Options{}).CopyRound("here", func() (time.Time, error) { return c.Due(every, time.Now()) }, func(ctx context.Context) (words.Message, error) {
		made, next, err := c.Next(ctx, place, every)
		if ctx.Err() == nil {
			tell(made, next, err)
		}
		return words.Say("rounds.no-plan"), err
	})
	q := jobs.NewLocal(time.Minute, time.Now, nil)
	stop := jobs.Regularly(slog.New(slog.DiscardHandler), jobs.In(q), r)
	return func() { stop(); q.Close() }
}

// Copies are made when they are due, over restarts too; what fails is tried again soon.
func TestCopiesAreMadeRegularly(t *testing.T) {
	place, folder := filepath.Join(t.TempDir(), "shop.db"), t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		c := store.Copies{Folder: folder, Keep: 9}
		type told struct {
			at, next time.Duration // after the beginning
			failed   bool
		}
		began := time.Now()
		run := func(from string, long time.Duration) (all []told) {
			s, err := sqlite.Open(bg, place)
			must(t, err)
			end := copying(t, s, c, from, 24*time.Hour, func(_ store.Copied, next time.Time, err error) {
				all = append(all, told{time.Since(began).Round(time.Minute), next.Sub(began).Round(time.Minute), err != nil})
			})
			time.Sleep(long)
			end()
			must(t, s.Close())
			return all
		}
		const day = 24 * time.Hour
		if got, want := run(place, 30*time.Hour), []told{{0, day, false}, {day, 2 * day, false}}; !slices.Equal(got, want) {
			t.Errorf("two days: %v, want %v", got, want)
		}
		if got, want := run(place, 19*time.Hour), []told{{2 * day, 3 * day, false}}; !slices.Equal(got, want) {
			t.Errorf("begun again: %v, want %v", got, want)
		}
		time.Sleep(30 * time.Hour) // it is late then
		got := run(filepath.Join(folder, "none.db"), 15*time.Minute)
		late := 79 * time.Hour
		if want := []told{{late, late + 10*time.Minute, true}, {late + 10*time.Minute, late + 20*time.Minute, true}}; !slices.Equal(got, want) {
			t.Errorf("what fails: %v, want %v", got, want)
		}
	})
	if n := len(filesIn(t, folder)); n != 3 {
		t.Errorf("%d copies are there", n)
	}
}

// Where several programs that know nothing of each other serve a shop in a database with one folder for its copies (on
// computers of their own), one of them makes each.
func TestOneOfManyMakesTheCopy(t *testing.T) {
	place := pgtest.Database(t)
	s := open(t, place)
	must(t, s.SetSetting(bg, "where", []byte("here")))
	c := store.Copies{Folder: t.TempDir(), Keep: 9}
	_, err := c.Make(bg, place, time.Now().Add(-2*time.Hour))
	must(t, err)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			is, next, err := c.Next(bg, place, time.Hour)
			if err != nil || is.Bytes == 0 || time.Since(is.At) > time.Minute || !next.Equal(is.At.Add(time.Hour)) {
				t.Errorf("one is told of %+v, the next %v, %v", is, next, err)
			}
		})
	}
	wg.Wait()
	if all := filesIn(t, c.Folder); len(all) != 2 {
		t.Errorf("four made, beside one of before, %q", all)
	}
}

// All shops of an installation are copied, each into its own folder: also one that is made
// meanwhile, and whatever becomes of another.
func TestEveryShopIsCopied(t *testing.T) {
	place, folder := t.TempDir(), t.TempDir()
	i := installation(t, place)
	for _, name := range []string{"north", "south"} {
		s, err := i.Make(bg, name)
		must(t, err)
		must(t, s.Close())
	}
	must(t, os.WriteFile(filepath.Join(place, "broken.db"), []byte("not a shop"), 0o600))
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(bg)
		made, failed := map[string]int{}, map[string]int{}
		done := make(chan struct{})
		go func() {
			defer close(done)
			store.Copies{Folder: folder, Keep: 2}.RegularlyAll(ctx, i, time.Hour, func(name string) func(store.Copied, time.Time, error) {
				return func(c store.Copied, _ time.Time, err error) {
					if err != nil {
						failed[name]++
					} else if c.File != "" {
						made[name]++
					}
				}
			}, func(err error) { t.Error(err) })
		}()
		time.Sleep(90 * time.Minute)
		s, err := i.Make(bg, "west")
		must(t, err)
		must(t, s.Close())
		time.Sleep(2 * time.Minute)
		stop()
		<-done
		if made["north"] != 2 || made["south"] != 2 || made["west"] != 1 || made["broken"] != 0 || failed["broken"] < 8 || len(failed) != 1 {
			t.Errorf("made %v, failed %v", made, failed)
		}
	})
	for name, n := range map[string]int{"north": 2, "south": 2, "west": 1} {
		if got := filesIn(t, filepath.Join(folder, name)); len(got) != n {
			t.Errorf("%s has the copies %q", name, got)
		}
	}
}

// The place of a shop of an installation is what every other command takes.
func TestTheShopsOwnPlace(t *testing.T) {
	for kind, place := range places(t) {
		i := installation(t, place)
		s, err := i.Make(bg, "north-1")
		must(t, err)
		must(t, s.SetSetting(bg, "where", []byte("north")))
		must(t, s.Close())
		alone, err := store.Open(bg, i.Place("north-1"))
		must(t, err)
		if b, err := alone.Setting(bg, "where"); err != nil || string(b) != "north" {
			t.Errorf("%s: %q, %v", kind, b, err)
		}
		must(t, alone.Close())
	}
}
