package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
)

// JobFlag is what kinds of job a design is sewn in.
type JobFlag struct {
	Kinds machine.Jobs `name:"job" help:"Kinds of job with + between: ${jobs}. What each does to the machine is in its sheet, assumed or learned." placeholder:"KINDS"`
}

// JobFlags are what the operator and the goods ask of a machine; several
// commands share them.
type JobFlags struct {
	Speed    *float64 `help:"The operator's speed setting, in stitches/min. Default: the machine's maximum." placeholder:"N"`
	CapFrame bool     `help:"The goods are on a cap frame: at most ${capframe} stitches/min where the machine's sheet knows no better (--limit sets another)."`
	Metallic bool     `help:"Metallic thread: at most ${metallic} stitches/min where the machine's sheet knows no better (--limit sets another)."`
	JobFlag
	Limit   *float64 `help:"The most the goods allow, in stitches/min, instead of the machine's limits for its kinds of job." placeholder:"N"`
	Heavy   *float64 `help:"Factor on the frame's acceleration for a heavy garment, e.g. 0.7." placeholder:"F"`
	Needles []int    `help:"Needle of each colour block, from 1, e.g. 3,1,4. Default: block 1 on needle 1 and so on." placeholder:"N,…"`
}

// asked is the flags as questions take them.
func (f JobFlags) asked() (ask.Job, error) {
	j := ask.Job{CapFrame: f.CapFrame, Metallic: f.Metallic, Kinds: f.Kinds, Needles: f.Needles}
	for _, v := range []struct {
		flag string
		set  *float64
		to   *float64
	}{{"--speed", f.Speed, &j.Speed}, {"--limit", f.Limit, &j.Limit}, {"--heavy", f.Heavy, &j.Heavy}} {
		if v.set == nil {
			continue
		}
		if *v.set == 0 { // 0 means "not set" inside a Job
			return j, usagef("%s 0: leave it out to set none", v.flag)
		}
		*v.to = *v.set
	}
	return j, nil
}

// Job is the flags as the clock takes them.
func (f JobFlags) Job() (clock.Job, error) {
	j, err := f.asked()
	if err != nil {
		return clock.Job{}, err
	}
	return j.Clock()
}

// ClockCmd is the main job: how long, and where every second goes.
type ClockCmd struct {
	Files   []string `arg:"" name:"file" help:"Stitch files, or folders of them (also inside .zip and .gz)."`
	Machine []string `short:"m" help:"A machine sheet (.toml) or a built-in class; may repeat. Default: all built-in classes. See the machines command." placeholder:"SHEET"`
	JobFlags
	ThreadFlags
	By      []string    `help:"Also show the same for each colour block (block), or for each kind of stitches, e.g. satin (kind); block,kind shows both." enum:"block,kind,design" default:"design" placeholder:"block|kind"`
	Sweep   bool        `help:"Also show the run time against the set speed, and the knee."`
	Why     bool        `help:"Also name what the interval hangs on: what to measure first."`
	From    int         `name:"at-stitch" help:"The machine stands after this stitch: how long is left, and where that goes." placeholder:"N"`
	Chance  float64     `help:"Chance that the interval holds, in percent." default:"${level}"`
	JSON    bool        `name:"json" help:"One JSON object for each design and machine, one a line."`
	CSV     bool        `name:"csv" help:"One CSV row for each design and machine (with --by, for each colour block or kind)."`
	Picture PictureFile `help:"Draw the design by held speed with the shaft-speed trace and the strip, to an .svg or .png file. One design, one machine." placeholder:"FILE"`
}

// clockedDesign is one design on every machine, or why it could not be read.
type clockedDesign struct {
	file string
	of   *ask.Design
	on   []*ask.ClockAnswer
	err  error
}

// Run clocks every design on every machine.
func (a *ClockCmd) Run(c *Ctx) error {
	if a.CSV && a.Why {
		return usagef("--csv has no columns for --why; use --json")
	}
	if a.CSV && a.by("block") && a.by("kind") {
		return usagef("--csv has rows of one sort: --by block or --by kind; --json has both")
	}
	if a.Picture != "" && a.From > 0 {
		return usagef("--picture draws whole runs; leave out --at-stitch")
	}
	q, err := a.question()
	if err != nil {
		return err
	}
	sheets, err := loadSheets(a.Machine)
	if err != nil {
		return err
	}
	files := stitchFiles(a.Files)
	if a.Picture != "" {
		if len(files) != 1 || len(sheets) != 1 {
			return usagef("--picture draws one design on one machine; name one file and one --machine")
		}
	}
	out := a.printer(c, len(files) > 1)
	failed, done, stitches, runs := 0, 0, 0, 0
	each := func(d clockedDesign) error {
		if d.err != nil {
			failed++
			complain(c.Err, d.err)
			return nil
		}
		done, stitches, runs = done+1, stitches+d.of.Counts.Stitches, runs+len(d.on)
		if err := out.design(d); err != nil {
			return err
		}
		if a.Picture != "" {
			if done > 1 {
				return usagef("--picture draws one design; %s holds several", files[0].path)
			}
			return writePicture(a.Picture, picture.RunOf(d.on[0]))
		}
		return nil
	}
	if err := clockAll(c, files, sheets, q, each); err != nil {
		return err
	}
	if err := out.end(); err != nil {
		return err
	}
	if len(files) > 1 {
		to := c.Out
		if a.JSON || a.CSV {
			to = c.Err
		}
		summary(to, done, failed, stitches, runs)
	}
	if failed > 0 {
		return errPartial
	}
	return nil
}

// by reports whether the answer is asked for by what.
func (a *ClockCmd) by(what string) bool { return slices.Contains(a.By, what) }

// question is what is asked of every design on every machine.
func (a *ClockCmd) question() (q ask.ClockQuestion, err error) {
	if q.Job, err = a.asked(); err != nil {
		return q, err
	}
	law := a.law()
	q.Level, q.Thread, q.Sweep, q.Why = a.Chance/100, &law, a.Sweep, a.Why
	q.Blocks, q.Kinds, q.From = a.by("block"), a.by("kind"), a.From
	return q, ask.ClockCheck(q)
}

// clockAll works on all cores and hands the designs on in the order of the
// files, whoever finishes first.
func clockAll(
	c *Ctx, files []source, sheets []*machine.Sheet, q ask.ClockQuestion, each func(clockedDesign) error,
) error {
	type slot chan []clockedDesign
	work := make(chan func(), len(files))
	slots := make([]slot, len(files))
	// No more than a few files are held beyond the one being printed.
	hold := make(chan struct{}, 4*runtime.GOMAXPROCS(0))
	ctx, stop := context.WithCancel(c.Context)
	for i, f := range files {
		slots[i] = make(slot, 1)
		work <- func() { slots[i] <- clockFile(ctx, f, sheets, q) }
	}
	close(work)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer stop()
	for range min(runtime.GOMAXPROCS(0), len(files)) {
		wg.Go(func() {
			for w := range work {
				select {
				case hold <- struct{}{}:
				case <-ctx.Done():
				}
				if ctx.Err() != nil {
					return
				}
				w()
			}
		})
	}
	bar := c.bar("clocking", len(files))
	defer bar.Finish()
	for i := range files {
		select {
		case <-c.Done():
			return context.Cause(c.Context)
		case designs := <-slots[i]:
			<-hold
			bar.Add(1)
			for _, d := range designs {
				if err := each(d); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// largeFile is the size from which files are worked on one at a time: a
// decoded design takes up to three times its file, and its blocks more.
const largeFile = 16 << 20

// oneLarge lets one large file at a time through.
var oneLarge sync.Mutex

func clockFile(ctx context.Context, file source, sheets []*machine.Sheet, q ask.ClockQuestion) []clockedDesign {
	if info, err := os.Stat(file.path); err == nil && info.Size() >= largeFile {
		oneLarge.Lock()
		defer oneLarge.Unlock()
	}
	read, err := file.read()
	if err != nil {
		return []clockedDesign{{file: file.path, err: err}}
	}
	var all []clockedDesign
	for _, f := range read {
		d := clockedDesign{file: f.Name, err: f.Err}
		if d.err == nil {
			d.of = ask.OfFile(f)
			d.on, d.err = clockOn(ctx, d.of, sheets, q)
		}
		all = append(all, d)
	}
	return all
}

// clockOn clocks one design on every machine.
func clockOn(ctx context.Context, d *ask.Design, sheets []*machine.Sheet, q ask.ClockQuestion) (
	on []*ask.ClockAnswer, err error,
) {
	for _, s := range sheets {
		a, err := ask.Clock(ctx, ask.Given{Stitches: d, On: s}, q)
		if err != nil {
			return nil, err
		}
		on = append(on, a)
	}
	return on, nil
}

// clockPrinter is one of the forms of output.
type clockPrinter interface {
	design(clockedDesign) error
	end() error
}

func (a *ClockCmd) printer(c *Ctx, many bool) clockPrinter {
	switch {
	case a.JSON:
		return clockJSON{c}
	case a.CSV:
		p := &clockCSV{w: tableCSV{w: csv.NewWriter(c.Out)}}
		switch {
		case a.by("block"):
			p.rows = (*ask.ClockAnswer).BlocksTable
		case a.by("kind"):
			p.rows = (*ask.ClockAnswer).KindsTable
		}
		return p
	default:
		return &clockText{c: c, a: a, many: many, parts: map[picture.Key]bool{}}
	}
}

// summary is the line that closes a folder.
func summary(w io.Writer, done, failed, stitches, runs int) {
	s := fmt.Sprintf("%s clocked, %s stitches, %s", plural(done, "design"), thousands(stitches), plural(runs, "run"))
	if failed > 0 {
		s += fmt.Sprintf("; %s could not be read (see above)", plural(failed, "file"))
	}
	fmt.Fprintln(w, s)
}

// create opens a file for writing beside its final name and puts it in place
// only when all is written: a failure never leaves half a file or harms one
// that was there.
func create(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".needlepace-*")
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			err = fmt.Errorf("there is no folder %q", filepath.Dir(path))
		}
		var where *os.PathError // the name that was asked for, not the one beside it
		if errors.As(err, &where) {
			err = where.Err
		}
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	if err = write(f); err != nil {
		f.Close()
		return err
	}
	if err = f.Chmod(0o644); err == nil {
		err = f.Close()
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// createWith is create with all that is written.
func createWith(path string, b []byte) error {
	return create(path, func(w io.Writer) error { _, err := w.Write(b); return err })
}
