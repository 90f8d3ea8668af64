package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// LearnCmd fits a machine sheet to timed runs.
type LearnCmd struct {
	Runs      string    `arg:"" help:"Timed runs (CSV; docs/how-to-time-a-machine.md), whose designs are found relative to this file; or with --design a recording of one run (WAV or FLAC)."`
	Design    string    `help:"A stitch file: what is given is a recording of one run of it." placeholder:"FILE"`
	Whole     string    `help:"How long the run took from the start button to the machine standing, by the watch or the machine's display: no recording hears the button. It counts where the run was not interrupted." placeholder:"TIME"`
	Machine   string    `short:"m" required:"" help:"The machine's sheet to start from: a file (.toml) or a built-in class." placeholder:"SHEET"`
	Output    string    `short:"o" help:"Where the learned sheet goes; - prints it instead of the report. Default: SHEET-learned.toml beside the runs." placeholder:"NEW.toml"`
	Name      string    `help:"The shop's own name for the machine, to stand in the sheet." placeholder:"NAME"`
	Overwrite bool      `help:"Replace the sheet if it is there."`
	Try       bool      `help:"Keep nothing: report only, write no sheet."`
	All       bool      `help:"List every row, not only the first and the odd ones."`
	Sample    bool      `help:"Draw machines on whole designs even where that takes long."`
	Meant     []string  `help:"The answer yes to what learn asked: read the rows as they were meant (laps, unit, needles, or row-5 for row 5); may repeat." placeholder:"KEY"`
	Since     words.Day `help:"Leave out what was timed before this day, and what has no date: the machine changed then." placeholder:"DAY"`
	JSON      bool      `name:"json" help:"The report as one JSON object."`
}

// rowsShown is how many rows the report lists without --all.
const rowsShown = 40

// Run learns, writes the sheet and reports.
func (a *LearnCmd) Run(c *Ctx) error {
	s, err := loadNamed(a.Machine, a.Name)
	if err != nil {
		return err
	}
	if a.Output == "" {
		base := strings.TrimSuffix(filepath.Base(a.Machine), filepath.Ext(a.Machine))
		a.Output = filepath.Join(filepath.Dir(a.Runs), strings.TrimSuffix(base, "-learned")+"-learned.toml")
	}
	if _, err := os.Lstat(a.Output); err == nil && a.Output != "-" && !a.Overwrite && !a.Try {
		return usagef("%s is there already: name another file with -o, or replace it with --overwrite", a.Output)
	}
	x, err := ask.Learn(c.Context, timed{a, s}, ask.LearnQuestion{Machine: s.Name, Sample: a.Sample, Meant: a.Meant,
		Since: a.Since})
	if err != nil {
		if x != nil {
			a.warn(c.Err, "needlepace: "+a.Runs+": ", x.Odd)
			a.asks(c.Err, "needlepace: "+a.Runs+": ", x)
		}
		return err
	}
	if a.Output == "-" && !x.Doubtful {
		a.warn(c.Err, "needlepace: "+a.Runs+": ", x.Odd)
		_, err := c.Out.Write(x.Result.Sheet.TOML())
		return err
	}
	written := ""
	if !a.Try && !x.Doubtful {
		written = a.Output
		if err := createWith(written, x.Result.Sheet.TOML()); err != nil {
			return err
		}
	}
	if a.JSON {
		if err := writeJSON(c.Out, learnJSON{a.Runs, written, x}); err != nil {
			return err
		}
	} else {
		a.print(c, x, written)
	}
	if x.Doubtful {
		return fmt.Errorf("no sheet was written: %s", x.Verdict[0].Text(nil))
	}
	return nil
}

// learnJSON is what learn --json prints. Keys are only ever added.
type learnJSON struct {
	Runs  string `json:"runs"`
	Sheet string `json:"sheet"` // where it was written; empty with --try
	*ask.LearnAnswer
}

// timed is the file of runs and the sheet to start from.
type timed struct {
	a     *LearnCmd
	sheet *machine.Sheet
}

// Timings reads the file of runs.
func (t timed) Timings(ctx context.Context, _ string) (*machine.Sheet, []learn.Observation, []learn.Problem, error) {
	read := t.a.read
	if t.a.Design != "" {
		read = func() ([]learn.Observation, []learn.Problem, error) { return t.a.hear(ctx, t.sheet) }
	}
	seen, odd, err := read()
	return t.sheet, seen, odd, err
}

// mostWarnings are shown without --all.
const mostWarnings = 20

// warn prints warnings one a line, the first of them only where there are
// many.
func (a *LearnCmd) warn(w io.Writer, before string, all []learn.Problem) {
	for i, p := range all {
		if i == mostWarnings && !a.All {
			fmt.Fprintf(w, "%s… and %s (--all)\n", before, thousands(len(all)-i)+" more")
			return
		}
		fmt.Fprintf(w, "%s%v\n", before, p)
	}
}

// asks says how to answer yes to the slips that are asked about.
func (a *LearnCmd) asks(w io.Writer, before string, x *ask.LearnAnswer) {
	var how words.List
	for _, s := range x.Slips {
		how = append(how, words.Name("--meant "+s.Key))
	}
	if len(how) > 0 {
		writeLine(w, before, words.Say("learn.accept", words.Args{"how": how}))
	}
}

// read reads the runs and their designs.
func (a *LearnCmd) read() ([]learn.Observation, []learn.Problem, error) {
	if a.Whole != "" {
		return nil, nil, usagef("--whole goes with a recording, and that with --design")
	}
	f, err := os.Open(a.Runs)
	if err != nil {
		return nil, nil, usageError{err}
	}
	defer f.Close() //nolint:errcheck // only read
	r := bufio.NewReader(f)
	if head, _ := r.Peek(4); string(head) == "RIFF" || string(head) == "fLaC" {
		return nil, nil, usagef("%s is a recording: name the design that was sewn with --design", a.Runs)
	}
	obs, warnings, err := learn.ReadRuns(r, a.Runs, func(path string) (*stitch.Design, error) {
		at := filepath.FromSlash(path)
		if !filepath.IsAbs(at) {
			at = filepath.Join(filepath.Dir(a.Runs), at)
		}
		d, _, err := readOne(at)
		if errors.Is(err, fs.ErrNotExist) {
			err = fmt.Errorf("there is no file %s; the path is seen from the folder of the file of runs", at)
		}
		return d, err
	})
	if err != nil {
		return nil, nil, usageError{err}
	}
	return obs, warnings, nil
}

// hear gives the rows of a recording, as listen --append writes them.
func (a *LearnCmd) hear(ctx context.Context, on *machine.Sheet) ([]learn.Observation, []learn.Problem, error) {
	d, name, err := readOne(a.Design)
	if err != nil {
		return nil, nil, usageError{err}
	}
	whole, err := wholeTime(a.Whole)
	if err != nil {
		return nil, nil, err
	}
	curve, harm, err := heardFile(a.Runs)
	if err != nil {
		return nil, nil, err
	}
	x, err := ask.Listen(ctx, ask.Given{Stitches: ask.NewDesign(d, name, ""), On: on}, ask.ListenQuestion{Curve: curve, Harm: harm, Whole: whole})
	if err != nil {
		return nil, nil, err
	}
	rows := x.Rows()
	if len(rows) == 0 {
		return nil, nil, usagef("%s: %s", a.Runs, words.Say("hearing.nothing-whole").Text(nil))
	}
	var odd []learn.Problem
	for _, s := range x.Caveats {
		odd = append(odd, learn.Problem{Text: s.Text(nil)})
	}
	return rows, odd, nil
}

func (a *LearnCmd) print(c *Ctx, x *ask.LearnAnswer, written string) {
	w := c.Out
	machine, rows := words.Name(x.Machine), words.Count(x.Used, "row")
	title := words.Say("learn.title", words.Args{"machine": machine, "rows": rows, "file": words.Name(a.Runs)})
	if x.SetAside > 0 {
		title = words.Say("learn.title-aside", words.Args{"machine": machine, "rows": rows, "file": words.Name(a.Runs),
			"aside": words.Whole(x.SetAside)})
	}
	writeLine(w, "", title)
	fmt.Fprintln(w)
	writeSentences(w, "  ", x.Verdict)
	writeSentences(w, "  ! ", x.Caveats)
	a.warn(w, "  ! ", x.Odd)
	a.asks(w, "  ", x)
	writeSentences(w, "  as meant: ", x.AsMeantSay())
	if x.Drift != nil {
		writeSentences(w, "  ! ", x.Drift.Says)
		writeLine(w, "    ", words.Say("learn.since-then", words.Args{"how": words.Name("--since " + x.Drift.Since.String())}))
	}
	fmt.Fprintln(w)
	writeTable(w, x.ConstantsTable(), "  ")
	for _, h := range x.Held {
		fmt.Fprintf(w, "  held: %s\n", h)
	}
	fmt.Fprintln(w)
	timed := x.RowsTable()
	all := timed.Rows
	timed.Rows = nil
	for i, r := range all {
		if i < rowsShown || a.All || x.Rows[i].Suspect != "" {
			timed.Rows = append(timed.Rows, r)
		}
	}
	writeTable(w, timed, "  ")
	if left := len(all) - len(timed.Rows); left > 0 {
		fmt.Fprintf(w, "  and %s more (--all)\n", plural(left, "row"))
	}
	writeLine(w, "  ", x.Checked())
	if next := x.ToTime(); len(next) > 0 {
		fmt.Fprintf(w, "\n  %s:\n", words.Say("learn.next").Text(nil))
		writeSentences(w, "  - ", next)
	}
	if written != "" {
		fmt.Fprintf(w, "\n  written: %s; clock with it: needlepace clock -m %s FILE\n", written, written)
	}
}
