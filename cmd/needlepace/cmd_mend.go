package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"

	"needlepace/ask"
	"needlepace/audit"
	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/stitchfile"
)

// MendCmd writes a better file with the same sewn picture.
type MendCmd struct {
	File   string `arg:"" help:"A stitch file. It is never changed."`
	Output string `short:"o" required:"" help:"The file to write (${writable})." placeholder:"OUT"`
	AuditInput
	Seconds     float64 `help:"How long to search for a better order, at most. Ctrl-C ends the search with the best so far." default:"5" placeholder:"S"`
	Seed        uint64  `help:"Seed of the search." default:"1" placeholder:"N"`
	KeepColours bool    `help:"Leave the colour blocks in their order; only objects within them move."`
	Overwrite   bool    `help:"Replace OUT if it is there. The input is never overwritten."`
	JSON        bool    `name:"json" help:"One JSON object."`
	Picture     string  `help:"Draw the strips before and after, to an .svg or .png file." placeholder:"FILE"`
}

// Run mends a design, checks what it is about to write, writes it and reads it
// back.
func (a *MendCmd) Run(c *Ctx) error {
	if !(a.Seconds > 0 && a.Seconds <= 86_400) {
		return usagef("--seconds %v: a search takes more than 0 and up to 86,400 s", a.Seconds)
	}
	format, err := a.format()
	if err != nil {
		return err
	}
	if err := a.mayWrite(); err != nil {
		return err
	}
	in, err := a.load(a.File)
	if err != nil {
		return err
	}
	ctx, stop := context.WithTimeout(c.Context, time.Duration(a.Seconds*float64(time.Second)))
	progress, done := a.bar(c)
	m, err := audit.Mend(ctx, in.design, in.sheet, in.job, audit.MendOptions{Threads: in.threads, KeepColours: a.KeepColours, Seed: a.Seed, Progress: progress})
	done()
	stop()
	if err != nil {
		return fmt.Errorf("%s: %w", in.name, err)
	}
	x := &mended{ask.NewDesign(in.design, in.name, ""), in.sheet, in.from, m, a.Output, 0}
	if m.Changed() {
		b, err := a.encode(x, format, in.threads)
		if err != nil {
			return fmt.Errorf("%s: nothing was written: %w", in.name, err)
		}
		if err := a.write(b); err != nil {
			return err
		}
		x.bytes = len(b)
	}
	if a.Picture != "" {
		if err := writePicture(a.Picture, x.strips()); err != nil {
			return err
		}
	}
	if a.JSON {
		return a.json(c.Out, x)
	}
	return a.text(c, x)
}

func (a *MendCmd) format() (string, error) {
	format, err := stitchfile.WriterFor(a.Output)
	if err != nil {
		return "", usagef("--output %s: %w", a.Output, err)
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
		return usagef("--output: %v", err)
	case out.IsDir():
		return usagef("--output %s is a folder; name a file in it", a.Output)
	}
	if in, err := os.Stat(a.File); err == nil && os.SameFile(in, out) {
		return usagef("--output %s is the input; a mend never overwrites its input", a.Output)
	}
	if !a.Overwrite {
		return usagef("--output %s is there already; --overwrite replaces it", a.Output)
	}
	return nil
}

// bar shows the search on a terminal.
func (a *MendCmd) bar(c *Ctx) (func(sequence.Progress), func()) {
	if !c.ErrTerminal() {
		return nil, func() {}
	}
	bar := progressbar.NewOptions(int(a.Seconds*10),
		progressbar.OptionSetWriter(c.Err),
		progressbar.OptionSetDescription("searching"),
		progressbar.OptionSetPredictTime(false),
		progressbar.OptionClearOnFinish())
	tick := time.NewTicker(100 * time.Millisecond)
	end := make(chan struct{})
	news := make(chan sequence.Progress, 1)
	over := make(chan struct{})
	go func() {
		defer close(over)
		for {
			select {
			case <-tick.C:
				_ = bar.Add(1)
			case p := <-news:
				bar.Describe(fmt.Sprintf("searching, at most %.1f %% from the best order", 100*sequence.Result{Cost: p.Cost, Bound: p.Bound}.Gap()))
			case <-end:
				return
			}
		}
	}()
	progress := func(p sequence.Progress) {
		select {
		case news <- p:
		default: // the bar is behind; the next news will do
		}
	}
	return progress, func() {
		tick.Stop()
		close(end)
		<-over
		_ = bar.Finish()
	}
}

// encode makes the file's bytes and checks what a reader makes of them: the
// same sewing, the same picture as the input, and no slower.
func (a *MendCmd) encode(x *mended, format string, threads []int) ([]byte, error) {
	trimAfter := x.sheet.Reading.TrimAfterJumps
	var buf bytes.Buffer
	if err := stitchfile.Encode(&buf, x.m.Design, format); err != nil {
		return nil, err
	}
	back, err := stitchfile.Decode(buf.Bytes(), a.Output)
	if err != nil {
		return nil, fmt.Errorf("the new file cannot be read back: %w", err)
	}
	if err := audit.SameSewing(x.m.Design, back, trimAfter); err != nil {
		return nil, fmt.Errorf("the new file is not read back the same on this machine: %w", err)
	}
	if threads == nil {
		threads = make([]int, audit.Blocks(x.of.Design))
		for k := range threads {
			threads[k] = k
		}
	}
	moved := make([]int, len(x.m.Blocks))
	for k, old := range x.m.Blocks {
		moved[k] = threads[old]
	}
	proof, err := audit.Prove(x.of.Design, back, threads, moved, trimAfter)
	if err != nil {
		return nil, err
	}
	proof.SecondsBefore = x.m.Before.Seconds
	proof.SecondsAfter = clock.Run(back, x.sheet, x.m.Job).Seconds
	if err := proof.Err(); err != nil {
		return nil, err
	}
	x.m.Proof = proof
	return buf.Bytes(), nil
}

// write puts the file in place and compares what is on the disk.
func (a *MendCmd) write(b []byte) error {
	if err := create(a.Output, func(w io.Writer) error { _, err := w.Write(b); return err }); err != nil {
		return fmt.Errorf("--output: %w", err)
	}
	got, err := os.ReadFile(a.Output)
	if err == nil && !bytes.Equal(got, b) {
		err = errors.New("the disk gives back other bytes than were written")
	}
	if err != nil {
		return fmt.Errorf("--output %s: %w; do not sew this file", a.Output, err)
	}
	return nil
}
