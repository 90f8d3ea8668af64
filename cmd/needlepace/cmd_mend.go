package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/stitchfile"
	"needlepace/words"
)

// MendCmd writes a better file with the same sewn picture.
type MendCmd struct {
	Files  []string `arg:"" name:"file" help:"A stitch file; or several, or folders of them (also inside .zip). They are never changed."`
	Output string   `short:"o" help:"The file to write (${writable}). Of several: the folder for the new files; without it none is written." placeholder:"OUT"`
	AuditInput
	Format      string      `help:"Of several: the format of the new files (${writable}); without it each is as its old one, or .dst where that cannot be written. Of one, the name of --output says it." placeholder:"FORMAT"`
	Seconds     float64     `help:"How long to search for a better order, at most. Ctrl-C ends the search with the best so far." default:"${mendseconds}" placeholder:"S"`
	Seed        uint64      `help:"Seed of the search." default:"${seed}" placeholder:"N"`
	Also        []string    `help:"Another machine that will sew the file (a sheet or a class; repeat for more). Every trim gets as many jumps as the machine that wants most." placeholder:"SHEET"`
	KeepStops   bool        `help:"Leave every stop at its place, with all that was sewn before it before it: for cloth to be laid or cut."`
	Release     []int       `help:"Numbers of stops that may go although nobody has changed the thread there. The answer lists them; a stop where the frame is driven out never goes." placeholder:"N"`
	KeepColours bool        `help:"Leave the colour blocks in their order; only objects within them move."`
	Overwrite   bool        `help:"Replace OUT if it is there. The input is never overwritten."`
	OnlyClear   bool        `help:"Of several: write only those whose picture is proved equal, that hold no operator's stop and whose file is in order."`
	Workshop    string      `help:"Of several: a WORKSHOP.toml with the rates, for what the seconds are worth." placeholder:"FILE"`
	JSON        bool        `name:"json" help:"One JSON object."`
	CSV         bool        `name:"csv" help:"Of several: one CSV row for each."`
	Picture     PictureFile `help:"Draw the strips before and after, to an .svg or .png file." placeholder:"FILE"`
}

// Run mends a design, writes the file and reads it back.
func (a *MendCmd) Run(c *Ctx) (err error) {
	if a.Seconds == 0 { // 0 means "not given" inside a question
		return usagef("--seconds 0: give the search some time")
	}
	a.Format = strings.ToLower(strings.TrimPrefix(a.Format, "."))
	if a.several() {
		return a.runMany(c)
	}
	switch {
	case a.Output == "":
		return usagef("--output is missing: name the file to write")
	case a.CSV, a.OnlyClear, a.Workshop != "":
		return usagef("--csv, --only-clear and --workshop are for many designs; name a folder or several files")
	}
	q := ask.MendQuestion{KeepColours: a.KeepColours, KeepStops: a.KeepStops, Release: a.Release, Seconds: a.Seconds, Seed: a.Seed}
	if q.Format, err = a.format(); err != nil {
		return err
	}
	if err := a.mayWrite(); err != nil {
		return err
	}
	if q.Job, err = a.asked(); err != nil {
		return err
	}
	if q.ThreadsAsked, err = a.threads(); err != nil {
		return err
	}
	if err := ask.MendCheck(q); err != nil {
		return err
	}
	from, err := a.load(a.Files[0])
	if err != nil {
		return err
	}
	if from.Others, err = a.others(); err != nil {
		return err
	}
	var done func()
	q.Progress, done = a.bar(c)
	x, err := ask.Mend(c.Context, from, q)
	done()
	if err != nil {
		return fmt.Errorf("%s: nothing was written: %w", from.Stitches.File, err)
	}
	if x.Changed {
		if err := a.write(x.Content); err != nil {
			return err
		}
	}
	if a.Picture != "" {
		if err := writePicture(a.Picture, picture.MendOf(x, nil)); err != nil {
			return err
		}
	}
	if a.JSON {
		return writeJSON(c.Out, mendRow{x.Of.Title(), x.Of.File, a.Output, x.Changed, x})
	}
	a.text(c, x)
	return nil
}

// others are the sheets of --also.
func (a *MendCmd) others() (all []*machine.Sheet, err error) {
	if len(a.Also) == 0 {
		return nil, nil
	}
	return loadSheets(a.Also)
}

func (a *MendCmd) format() (string, error) {
	format, err := stitchfile.WriterFor(a.Output)
	if err != nil {
		return "", usagef("--output %s: %w", a.Output, err)
	}
	if a.Format != "" && a.Format != format {
		return "", usagef("--output %s is a .%s file, and --format asks for .%s: let the name end in .%s, or leave "+
			"--format out", a.Output, format, a.Format, a.Format)
	}
	return format, nil
}

// mayWrite refuses to overwrite the input, by whatever name, and any other file
// unless forced.
func (a *MendCmd) mayWrite() error {
	out, err := os.Stat(a.Output)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return usagef("--output: %w", err)
	case out.IsDir():
		return usagef("--output %s is a folder; name a file in it", a.Output)
	}
	if in, err := os.Stat(a.Files[0]); err == nil && os.SameFile(in, out) {
		return usagef("--output %s is the input; a mend never overwrites its input", a.Output)
	}
	if !a.Overwrite {
		return usagef("--output %s is there already; --overwrite replaces it", a.Output)
	}
	return nil
}

// bar shows the search on a terminal.
func (a *MendCmd) bar(c *Ctx) (progress func(fraction, gap float64), done func()) {
	if !c.ErrTerminal() {
		return nil, func() {}
	}
	bar := c.bar("searching", int(a.Seconds*10))
	tick := time.NewTicker(100 * time.Millisecond)
	end := make(chan struct{})
	news := make(chan float64, 1)
	over := make(chan struct{})
	go func() {
		defer close(over)
		for {
			select {
			case <-tick.C:
				bar.Add(1)
			case gap := <-news:
				bar.Describe("searching, at most " + words.Share(gap).Text(nil) + " from the best order")
			case <-end:
				return
			}
		}
	}()
	progress = func(_, gap float64) {
		select {
		case news <- gap:
		default: // the bar is behind; the next news will do
		}
	}
	return progress, func() {
		tick.Stop()
		close(end)
		<-over
		bar.Finish()
	}
}

// write puts the file in place.
func (a *MendCmd) write(b []byte) error {
	if err := createWith(a.Output, b); err != nil {
		return fmt.Errorf("--output: %w", err)
	}
	return readsBack(a.Output, b)
}

// readsBack compares what is on the disk with what was written.
func readsBack(path string, b []byte) error {
	got, err := os.ReadFile(path)
	if err == nil && !bytes.Equal(got, b) {
		err = errors.New("the disk gives back other bytes than were written")
	}
	if err != nil {
		return fmt.Errorf("--output %s: %w; do not sew this file", path, err)
	}
	return nil
}
