package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/picture"
	"needlepace/sound"
	"needlepace/words"
)

// ListenCmd hears a recording of a run.
type ListenCmd struct {
	Recording string      `arg:"" help:"The recording of one whole run: WAV or FLAC."`
	Machine   string      `short:"m" required:"" help:"The machine: a sheet file (.toml) or a built-in class; with --for-shop the name of the shop's machine." placeholder:"SHEET"`
	Design    string      `required:"" help:"The design that was sewn: a stitch file; with --for-shop the shop's design, by its file or its name." placeholder:"FILE"`
	Speed     float64     `help:"The speed that was set, in stitches/min. Default: as heard." placeholder:"N"`
	JSON      bool        `name:"json" help:"One JSON object, for other programs."`
	Stitches  bool        `help:"With --json: when each stitch was sewn, and its number in the design."`
	Append    string      `help:"Put what was heard, stretch by stretch and rest by rest, and the speeds held on stitches of one length, at the end of this file of timed runs, for learn; it is made where there is none." placeholder:"RUNS.csv"`
	Whole     string      `help:"How long the run took from the start button to the machine standing, by the watch or the machine's display: no recording hears the button. It counts where the run was not interrupted." placeholder:"TIME"`
	ForShop   bool        `help:"Keep what was heard for the shop's machine: the rows among its timed runs, from which it learns, the breaks for its break rate. The same recording again is refused."`
	Picture   PictureFile `help:"Draw the speed heard over the speed predicted to an .svg or .png file." placeholder:"FILE"`
	ShopFlags
	WhoFlag
}

// Run hears the recording and says what it tells.
func (a *ListenCmd) Run(c *Ctx) error {
	if a.Stitches && !a.JSON {
		return usagef("--stitches goes with --json")
	}
	if a.ForShop && a.Append != "" {
		return usagef("give --for-shop, for a machine of the shop, or --append, for a sheet file: not both")
	}
	if a.ForShop {
		return a.use(c, func(d *desk) error { return a.keep(c, d) })
	}
	if a.Now+a.Who != "" {
		return usagef("--now and --who go with --for-shop")
	}
	s, err := loadSheet(a.Machine)
	if err != nil {
		return err
	}
	d, name, err := readOne(a.Design)
	if err != nil {
		return usageError{err}
	}
	q, err := a.question()
	if err != nil {
		return err
	}
	if a.Append != "" { // rows name the design as it is seen from their file
		if rel, err := filepath.Rel(filepath.Dir(a.Append), name); err == nil {
			name = filepath.ToSlash(rel)
		}
	}
	defer lean(q.Curve)()
	x, err := ask.Listen(c.Context, ask.Given{Stitches: ask.NewDesign(d, name, ""), On: s}, q)
	if err != nil {
		return a.refused(c, x, err)
	}
	if a.Append != "" {
		if err := appendRuns(a.Append, x.Rows()); err != nil {
			return err
		}
	}
	return a.tell(c, x)
}

// question is what the recording is asked.
func (a *ListenCmd) question() (q ask.ListenQuestion, err error) {
	if q.Whole, err = wholeTime(a.Whole); err != nil {
		return q, err
	}
	q.Speed, q.Each = a.Speed, a.Stitches
	q.Curve, q.Harm, err = heardFile(a.Recording)
	return q, err
}

// What hearing keeps at once, about; measured on half an hour.
const (
	hearingBytes       = 40 << 20
	hearingBytesMinute = 4 << 20
)

// lean keeps the memory of hearing a recording near what it keeps at once: left to itself, the heap grows to
// twice that. The limit is soft: what is needed is had. What it gives takes the limit away.
func lean(c *sound.Curve) (back func()) {
	was := debug.SetMemoryLimit(-1) // tells it
	debug.SetMemoryLimit(min(was, hearingBytes+int64(c.Seconds()/60*hearingBytesMinute)))
	return func() { debug.SetMemoryLimit(was) }
}

// keep hears the recording for a machine of the shop and keeps what was heard.
func (a *ListenCmd) keep(c *Ctx, d *desk) error {
	m, err := d.Machines.Find(c.Context, a.Machine)
	if err != nil {
		return err
	}
	design, err := d.Designs.Find(c.Context, a.Design)
	if err != nil {
		return err
	}
	q, err := a.question()
	if err != nil {
		return err
	}
	q.Machine, q.Design = m.ID, design.ID
	x, err := d.Listen(c.Context, q)
	if err != nil {
		return a.refused(c, x, err)
	}
	rows, err := d.KeepHeard(c.Context, q, x, a.Who)
	if err != nil {
		return err
	}
	if err := a.tell(c, x); err != nil || a.JSON {
		return err
	}
	fmt.Fprintln(c.Out)
	writeLine(c.Out, "", words.Say("hearing.keep-why", words.Args{"rows": words.Count(len(rows), "row"), "machine": words.Name(m.Name)}))
	writeSentences(c.Out, "  ", x.BreaksSay())
	return nil
}

// refused gives the answer of a recording that was refused, as JSON.
func (a *ListenCmd) refused(c *Ctx, x *ask.ListenAnswer, why error) error {
	if x != nil && a.JSON {
		if err := writeJSON(c.Out, x); err != nil {
			return err
		}
	}
	return why
}

// tell draws what was heard and says it.
func (a *ListenCmd) tell(c *Ctx, x *ask.ListenAnswer) error {
	if a.Picture != "" {
		if err := writePicture(a.Picture, picture.HeardOf(x, nil)); err != nil {
			return err
		}
	}
	if a.JSON {
		return writeJSON(c.Out, x)
	}
	a.print(c, x)
	return nil
}

// wholeTime reads --whole, s; 0 where it is empty.
func wholeTime(text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	seconds, _, err := learn.ParseTime(text)
	if err != nil {
		return 0, usagef("--whole: %w", err)
	}
	return seconds, nil
}

// heardFile is the curve of a recording, and what is wrong with its file.
func heardFile(path string) (*sound.Curve, sound.Damage, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, sound.Damage{}, usageError{err}
	}
	defer f.Close() //nolint:errcheck // only read
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, sound.Damage{}, usagef("%s is a folder; name the recording in it", path)
	}
	curve, harm, err := sound.Read(f)
	if err != nil {
		return nil, sound.Damage{}, usagef("%s: %w", path, err)
	}
	return curve, harm, nil
}

func (a *ListenCmd) print(c *Ctx, x *ask.ListenAnswer) {
	w := c.Out
	writeLine(w, "", words.Say("listen.title", words.Args{"design": words.Name(x.Design), "machine": words.Name(x.Machine)}))
	fmt.Fprintln(w)
	writeSentences(w, "  ", x.Verdict)
	writeSentences(w, "  ! ", x.Caveats)
	writeLine(w, "  ", words.Say("listen.caution"))
	fmt.Fprintln(w)
	writeTable(w, x.RunTable(), "  ")
	if t := x.RestTable(); len(t.Rows) > 0 {
		fmt.Fprintln(w)
		writeTable(w, t, "  ")
	}
	if a.Append != "" {
		fmt.Fprintf(w, "\n%s in %s.\n", words.Count(len(x.Rows()), "row").Text(nil), a.Append)
	}
}

// appendRuns puts rows at the end of a file of timed runs with the usual columns,
// or makes one.
func appendRuns(path string, rows []learn.Observation) error {
	var out bytes.Buffer
	if err := learn.WriteRuns(&out, rows, false); err != nil {
		return err
	}
	was, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return createWith(path, out.Bytes())
	case err != nil:
		return usageError{err}
	}
	head, body, _ := strings.Cut(out.String(), "\n")
	if first, _, _ := strings.Cut(strings.TrimPrefix(string(was), "\ufeff"), "\n"); strings.TrimRight(first, "\r") != head {
		return usagef("%s has other columns than %s: name a new file, and join the two in a spreadsheet", path, head)
	}
	if len(was) > 0 && was[len(was)-1] != '\n' {
		body = "\n" + body
	}
	return createWith(path, append(was, body...))
}
