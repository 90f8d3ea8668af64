package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"time"

	"needlepace/shop"
	"needlepace/store/postgres"
)

// Copies are the latest copies of a shop, in a folder of their own.
type Copies struct {
	Folder string
	// Keep is how many stay, at least 1; the oldest go. Only files that were named here are
	// ever removed.
	Keep int
}

// copyName is a copy's name, by the moment it was begun, in UTC: by name is by time.
const copyName = "needlepace-20060102-150405Z.db"

// Copied is a copy.
type Copied struct {
	File  string
	At    time.Time
	Bytes int64
}

// All are the copies that are there, the latest last; a folder that is not there has none.
func (c Copies) All() (all []Copied, err error) {
	entries, err := os.ReadDir(c.Folder) // by name
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, shop.Errorf(shop.Storage, "%w", err)
	}
	for _, e := range entries {
		at, err := time.Parse(copyName, e.Name())
		if err != nil || !e.Type().IsRegular() {
			continue
		}
		is, err := e.Info()
		if err != nil {
			continue // gone meanwhile
		}
		all = append(all, Copied{filepath.Join(c.Folder, e.Name()), at, is.Size()})
	}
	return all, nil
}

// Make copies the shop at a place, which may be in use, reads the copy back, and only
// then removes the oldest of those that are too many; never the one just made.
func (c Copies) Make(ctx context.Context, place string, now time.Time) (made Copied, err error) {
	if c.Keep < 1 {
		return made, shop.Invalidf("%d copies cannot be kept: 1 at least", c.Keep)
	}
	if err := os.MkdirAll(c.Folder, 0o700); err != nil {
		return made, shop.Errorf(shop.Storage, "%w", err)
	}
	now = now.UTC().Truncate(time.Second)
	made = Copied{File: filepath.Join(c.Folder, now.Format(copyName)), At: now}
	sum, err := Backup(ctx, place, made.File)
	if err != nil {
		return Copied{}, err
	}
	made.Bytes = sum.Bytes
	all, err := c.All()
	if err != nil {
		return made, err
	}
	// What a wrong clock dated in time to come takes no true copy's place; the one just made is the last.
	all = slices.DeleteFunc(all, func(is Copied) bool { return is.At.After(made.At) })
	for _, old := range all[:max(0, len(all)-c.Keep)] {
		if err := os.Remove(old.File); err != nil && !errors.Is(err, os.ErrNotExist) {
			return made, shop.Errorf(shop.Storage, "the copy is made, but an old one stays: %w", err)
		}
	}
	return made, nil
}

// Due is when the next copy is to be made: every after the latest one; now where there is
// none, or the latest is of a day to come.
func (c Copies) Due(every time.Duration, now time.Time) (time.Time, error) {
	all, err := c.All()
	if err != nil || len(all) == 0 {
		return now, err
	}
	last := all[len(all)-1].At
	if last.After(now) {
		return now, nil
	}
	return last.Add(every), nil
}

// retryCopy is after how long a copy that failed is tried again.
const retryCopy = 10 * time.Minute

// Begin tells of the latest copy that is there, and when the next is due.
func (c Copies) Begin(every time.Duration, tell func(Copied, time.Time, error)) (due time.Time) {
	all, err := c.All()
	due, err2 := c.Due(every, time.Now())
	var last Copied
	if len(all) > 0 {
		last = all[len(all)-1]
	}
	tell(last, due, errors.Join(err, err2))
	return due
}

// Next makes a copy, or gives the one that another program, which serves the same shop with the same folder, made when it
// was due, and says when the next is due: of one that failed soon.
func (c Copies) Next(ctx context.Context, place string, every time.Duration) (made Copied, due time.Time, err error) {
	made, err = c.inTurn(ctx, place, every)
	if due = time.Now().Add(min(every, retryCopy)); err == nil {
		due = made.At.Add(every)
	}
	return made, due, err
}

func (c Copies) inTurn(ctx context.Context, place string, every time.Duration) (Copied, error) {
	if postgres.IsAddress(place) {
		end, err := postgres.Turn(ctx, place)
		if err != nil {
			return Copied{}, err
		}
		defer end()
		due, err := c.Due(every, time.Now())
		if err == nil && due.After(time.Now()) {
			all, err := c.All()
			if err == nil && len(all) > 0 {
				return all[len(all)-1], nil
			}
		}
	}
	return c.Make(ctx, place, time.Now())
}

// RegularlyAll makes copies of all shops of an installation until ctx ends, one after
// another, each in a folder of its own, and of those that are made meanwhile; tell is what
// is told of a shop's.
func (c Copies) RegularlyAll(ctx context.Context, i Installation, every time.Duration, tell func(name string) func(Copied, time.Time, error), failed func(error)) {
	due := map[string]time.Time{}
	for {
		names, err := i.Names(ctx)
		if err != nil && ctx.Err() == nil {
			failed(err)
		}
		if there, err := There(ctx, i.Place(PeoplesName)); err == nil && there {
			names = append(names, PeoplesName)
		}
		for _, name := range names {
			own := Copies{filepath.Join(c.Folder, name), c.Keep}
			if _, ok := due[name]; !ok {
				due[name] = own.Begin(every, tell(name))
			}
			if !due[name].After(time.Now()) && ctx.Err() == nil {
				made, next, err := own.Next(ctx, i.Place(name), every)
				if due[name] = next; ctx.Err() == nil {
					tell(name)(made, next, err)
				}
			}
		}
		select {
		case <-time.After(time.Minute):
		case <-ctx.Done():
			return
		}
	}
}
