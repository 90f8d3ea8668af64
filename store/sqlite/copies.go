package sqlite

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"needlepace/shop"
)

// Copies makes a copy of a shop by itself every so often, while it is in use,
// and takes away old ones.
type Copies struct {
	Path   string        // the shop
	Folder string        // where the copies are; made where it is not there
	Every  time.Duration // between two copies
	// Days, Weeks and Months say which copies are kept: of each of so many of the
	// last days, weeks and months that have one, the newest. The very newest always
	// is.
	Days, Weeks, Months int
	Now                 func() time.Time
	Log                 *slog.Logger

	mu   sync.Mutex
	last Copied
}

// Copied is how making copies goes.
type Copied struct {
	At    time.Time // of the newest copy; zero: none yet
	File  string
	Holds Summary
	Kept  int    // copies that are there
	Wrong string // why the last try made none; empty: it did
}

// copyName is what a copy is called, by its moment in UTC: so names sort as
// their times do, and a change to summer time repeats none.
const copyName = "needlepace-20060102-150405Z.db"

// all are the copies in the folder, the newest first. Other files are nobody's
// business.
func (c *Copies) all() (out []time.Time, err error) {
	entries, err := os.ReadDir(c.Folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("the folder of the backups: %w", err)
	}
	for _, e := range entries {
		if t, err := time.Parse(copyName, e.Name()); err == nil && e.Type().IsRegular() {
			out = append(out, t)
		}
	}
	slices.SortFunc(out, func(a, b time.Time) int { return b.Compare(a) })
	return out, nil
}

// keep are those of some copies (the newest first) that stay.
func (c *Copies) keep(all []time.Time) map[time.Time]bool {
	out := map[time.Time]bool{}
	for _, p := range []struct {
		most int
		of   func(time.Time) string
	}{
		{c.Days, func(t time.Time) string { return t.Format("2006-01-02") }},
		{c.Weeks, func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprint(y, w) }},
		{c.Months, func(t time.Time) string { return t.Format("2006-01") }},
	} {
		seen := map[string]bool{}
		for _, t := range all {
			if k := p.of(t); !seen[k] && len(seen) < p.most {
				seen[k], out[t] = true, true
			}
		}
	}
	if len(all) > 0 {
		out[all[0]] = true
	}
	return out
}

// wait is how long it is to the next copy. A copy from a time to come (the clock
// was set back) is no reason to wait.
func (c *Copies) wait(all []time.Time) time.Duration {
	now := c.Now()
	for _, t := range all {
		if !t.After(now.Add(time.Minute)) {
			return c.Every - now.Sub(t)
		}
	}
	return 0
}

// Once makes a copy and takes old ones away. Nothing is taken away where the copy
// was not made.
func (c *Copies) Once(ctx context.Context) error {
	err := c.once(ctx)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.last.Wrong = ""
	if err != nil {
		c.last.Wrong = err.Error()
	}
	return err
}

func (c *Copies) once(ctx context.Context) error {
	if err := os.MkdirAll(c.Folder, 0o700); err != nil {
		return fmt.Errorf("the folder of the backups: %w", err)
	}
	at := c.Now().UTC().Truncate(time.Second)
	file := filepath.Join(c.Folder, at.Format(copyName))
	sum, err := Backup(ctx, c.Path, file)
	if err != nil {
		return err
	}
	all, err := c.all()
	if err != nil {
		return err
	}
	stay := c.keep(all)
	stay[at] = true
	var wrong []error
	for _, t := range all {
		if !stay[t] {
			wrong = append(wrong, os.Remove(filepath.Join(c.Folder, t.Format(copyName))))
		}
	}
	c.mu.Lock()
	c.last = Copied{At: at, File: file, Holds: sum, Kept: len(stay)}
	c.mu.Unlock()
	return errors.Join(wrong...)
}

// Run makes copies until ctx ends: the first at once, where none is younger than
// Every. What goes wrong is logged and told by Last, and tried again after a
// tenth of Every.
func (c *Copies) Run(ctx context.Context) {
	all, err := c.all()
	if err == nil && len(all) > 0 {
		c.mu.Lock()
		c.last.At, c.last.Kept = all[0], len(all)
		c.last.File = filepath.Join(c.Folder, all[0].Format(copyName))
		c.mu.Unlock()
	}
	for wait := c.wait(all); ; {
		t := time.NewTimer(max(0, wait))
		select {
		case <-ctx.Done():
			t.Stop()
			return
		case <-t.C:
		}
		wait = c.Every
		switch err := c.Once(ctx); {
		case ctx.Err() != nil:
			return
		case err != nil:
			wait = max(c.Every/10, time.Second)
			c.Log.Error("no backup was made", "folder", c.Folder, "error", err, "cause", errors.Unwrap(shopCause(err)))
		default:
			c.Log.Info("a backup was made", "file", c.Last().File, "bytes", c.Last().Holds.Bytes)
		}
	}
}

// Last is how it went.
func (c *Copies) Last() Copied {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.last
}

func shopCause(err error) error {
	if e := shop.ErrorOf(err); e != nil {
		return e
	}
	return err
}

// ParseKeep reads how many copies of days, weeks and months are kept: 7,4,12.
func ParseKeep(s string) (days, weeks, months int, err error) {
	parts := strings.Split(s, ",")
	n := make([]int, 3)
	for i, p := range parts {
		if i >= len(n) {
			return 0, 0, 0, fmt.Errorf("%q has more than three numbers", s)
		}
		if _, err := fmt.Sscanf(strings.TrimSpace(p)+" ", "%d ", &n[i]); err != nil || n[i] < 0 || n[i] > 10_000 {
			return 0, 0, 0, fmt.Errorf("%q: give whole numbers of days, weeks and months, as 7,4,12", s)
		}
	}
	return n[0], n[1], n[2], nil
}
