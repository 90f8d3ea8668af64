package main

import (
	"fmt"
	"path/filepath"
	"time"

	"needlepace/store"
	"needlepace/store/postgres"
	"needlepace/store/sqlite"
)

// CopyFlags are of a folder of copies.
type CopyFlags struct {
	Copies   string `help:"A folder of copies of the shop: one more each time, and the oldest go." type:"path" placeholder:"FOLDER"`
	CopyKeep int    `name:"copy-keep" help:"How many copies stay in that folder." default:"14" placeholder:"N"`
}

// BackupCmd copies the shop.
type BackupCmd struct {
	DataFlag
	To string `arg:"" optional:"" help:"File to write; it must not exist. Default: needlepace-DATE-TIME.db in this folder." type:"path" placeholder:"FILE"`
	CopyFlags
}

// Run makes a copy, while the page is served or not, and checks it.
func (a *BackupCmd) Run(c *Ctx) error {
	path, err := a.path()
	if err != nil {
		return err
	}
	if a.Copies != "" {
		if a.To != "" {
			return usagef("give a file, or a folder with --copies")
		}
		made, err := store.Copies{Folder: a.Copies, Keep: a.CopyKeep}.Make(c.Context, path, time.Now())
		if made.File != "" {
			fmt.Fprintf(c.Out, "%s: %s bytes. The copy was read back and is sound.\n", made.File, thousands(int(made.Bytes)))
		}
		return err
	}
	to := a.To
	if to == "" {
		to = "needlepace-" + time.Now().Format("2006-01-02-150405") + ".db"
	}
	sum, err := store.Backup(c.Context, path, to)
	if err != nil {
		return err
	}
	fmt.Fprintf(c.Out, "%s: %s. The copy was read back and is sound.\n", filepath.Clean(to), holds(sum))
	return nil
}

func holds(s sqlite.Summary) string {
	return fmt.Sprintf("%s, %s, %s, %s bytes", plural(s.Designs, "design"), plural(s.Machines, "machine"),
		plural(s.Runs, "timed run"), thousands(int(s.Bytes)))
}

// RestoreCmd puts a copy in the shop's place.
type RestoreCmd struct {
	DataFlag
	From      string `arg:"" help:"The copy to restore." type:"existingfile" placeholder:"FILE"`
	Overwrite bool   `help:"Replace the shop if it is there; it is kept beside it."`
	Check     bool   `help:"Only check the copy and say what it holds."`
}

// Run checks the copy, then puts it in place.
func (a *RestoreCmd) Run(c *Ctx) error {
	if a.Check {
		sum, err := sqlite.Inspect(c.Context, a.From)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%s is sound: %s.\n", a.From, holds(sum))
		return nil
	}
	path, err := a.path()
	if err != nil {
		return err
	}
	sum, kept, err := store.Restore(c.Context, a.From, path, a.Overwrite)
	if err != nil {
		return err
	}
	fmt.Fprintf(c.Out, "Restored %s from %s: %s.\n", store.Shown(path), a.From, holds(sum))
	if kept != "" {
		fmt.Fprintf(c.Out, "What was there before is kept as %s.\n", kept)
	}
	return nil
}

// MoveCmd moves the shop.
type MoveCmd struct {
	From string `arg:"" help:"Where the shop is: a file, or postgres://USER@HOST:PORT/DATABASE." placeholder:"FROM"`
	To   string `arg:"" help:"Where it goes: a file that does not exist, or an empty database." placeholder:"TO"`
}

// Run copies all of the shop and compares the two.
func (a *MoveCmd) Run(c *Ctx) error {
	for _, place := range []*string{&a.From, &a.To} {
		if !postgres.IsAddress(*place) {
			abs, err := filepath.Abs(*place)
			if err != nil {
				return fmt.Errorf("%s: %w", *place, err)
			}
			*place = abs
		}
	}
	all, err := store.Move(c.Context, a.From, a.To)
	if err != nil {
		return err
	}
	rows := 0
	for _, t := range all {
		fmt.Fprintf(c.Out, "%12s  %s\n", thousands(t.Rows), t.Table)
		rows += t.Rows
	}
	fmt.Fprintf(c.Out, "%12s  rows in %s: read back from %s, each table's count and digest is that of %s.\n"+
		"The old shop stays as it was: serve the new one from now on, and put the old one away.\n",
		thousands(rows), plural(len(all), "table"), store.Shown(a.To), store.Shown(a.From))
	return nil
}
