package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/words"
)

// LearnCmd fits a machine sheet to timed runs.
type LearnCmd struct {
	Runs      string `arg:"" help:"Timed runs (CSV; docs/how-to-time-a-machine.md). Designs are found relative to this file."`
	Machine   string `short:"m" required:"" help:"The sheet to start from: a file (.toml) or a built-in class." placeholder:"SHEET"`
	Output    string `short:"o" help:"Where the learned sheet goes; - prints it instead of the report. Default: SHEET-learned.toml beside the runs." placeholder:"NEW.toml"`
	Name      string `help:"The shop's own name for the machine, to stand in the sheet." placeholder:"NAME"`
	Overwrite bool   `help:"Replace a sheet that is there."`
	Try       bool   `help:"Report only: write no sheet."`
	All       bool   `help:"List every row, not only the first and the odd ones."`
	Sample    bool   `help:"Draw machines on whole designs even where that takes long."`
	JSON      bool   `name:"json" help:"The report as one JSON object."`
}

// rowsShown is how many rows the report lists without --all.
const rowsShown = 40

// Run learns, writes the sheet and reports.
func (a *LearnCmd) Run(c *Ctx) error {
	s, err := loadSheet(a.Machine)
	if err != nil {
		return err
	}
	if a.Name != "" {
		s.Name = a.Name
		if err := machine.Validate(s); err != nil {
			return usageError{err}
		}
	}
	if a.Output == "" {
		base := strings.TrimSuffix(filepath.Base(a.Machine), filepath.Ext(a.Machine))
		a.Output = filepath.Join(filepath.Dir(a.Runs), strings.TrimSuffix(base, "-learned")+"-learned.toml")
	}
	if _, err := os.Lstat(a.Output); err == nil && a.Output != "-" && !a.Overwrite && !a.Try {
		return usagef("%s is there already: name another file with -o, or replace it with --overwrite", a.Output)
	}
	obs, warnings, err := a.read()
	if err != nil {
		return err
	}
	opt := learn.Options{}
	if a.Sample {
		opt.Budget = math.MaxInt
	}
	res, err := learn.Fit(c.Context, s, obs, opt)
	if res != nil {
		res.Warnings = append(warnings, res.Warnings...)
	}
	if err != nil {
		if res != nil {
			a.warn(c.Err, "needlepace: "+a.Runs+": ", res.Warnings)
		}
		return err
	}
	if a.Output == "-" && !doubtful(res) {
		a.warn(c.Err, "needlepace: "+a.Runs+": ", res.Warnings)
		_, err := c.Out.Write(res.Sheet.TOML())
		return err
	}
	if !a.Try && !doubtful(res) {
		if err := create(a.Output, func(w io.Writer) error { _, err := w.Write(res.Sheet.TOML()); return err }); err != nil {
			return err
		}
	}
	if a.JSON {
		if err := a.writeJSON(c.Out, res); err != nil {
			return err
		}
	} else {
		a.print(c, s, res)
	}
	if doubtful(res) {
		return fmt.Errorf("no sheet was written: %d of %d rows of %s were set aside", res.Set, res.Set+res.Used, a.Runs)
	}
	return nil
}

// doubtful reports whether more rows were set aside than used: a sheet from
// the smaller part of the rows is no sheet of this machine.
func doubtful(res *learn.Result) bool { return res.Set >= res.Used }

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

// read reads the runs and their designs.
func (a *LearnCmd) read() ([]learn.Observation, []learn.Problem, error) {
	f, err := os.Open(a.Runs)
	if err != nil {
		return nil, nil, usageError{err}
	}
	defer f.Close() //nolint:errcheck // only read
	obs, warnings, err := learn.ReadRuns(f, a.Runs, func(path string) (*stitch.Design, error) {
		at := filepath.FromSlash(path)
		if !filepath.IsAbs(at) {
			at = filepath.Join(filepath.Dir(a.Runs), at)
		}
		return oneDesign(at)
	})
	if err != nil {
		return nil, nil, usageError{err}
	}
	return obs, warnings, nil
}

// oneDesign reads a file that holds one design.
func oneDesign(path string) (*stitch.Design, error) {
	files, err := stitchfile.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("there is no file %s; the path is seen from the folder of the file of runs", path)
	case err != nil:
		return nil, err
	case len(files) != 1:
		return nil, fmt.Errorf("%s holds %d designs: name one that holds one", path, len(files))
	}
	return files[0].Design, files[0].Err
}

func (a *LearnCmd) print(c *Ctx, s *machine.Sheet, res *learn.Result) {
	w := c.Out
	fmt.Fprintf(w, "%s, learned from %s of %s", s.Name, plural(res.Used, "row"), a.Runs)
	if res.Set > 0 {
		fmt.Fprintf(w, " (%d set aside)", res.Set)
	}
	fmt.Fprint(w, "\n")
	a.warn(w, "  ! ", res.Warnings)
	if res.Drift != nil {
		fmt.Fprintf(w, "  ! %s\n", res.Drift.Sentence())
	}
	fmt.Fprintln(w)
	if res.OnlyPace {
		fmt.Fprintf(w, "  One timing tells the overall pace and nothing else: this machine takes %s of the time the\n  sheet said. Why it does stays open; the constants below share the change by their spreads.\n\n", percentOf(res.Pace))
	} else {
		fmt.Fprintf(w, "  The rows determine about %.0f independent things of %d constants.\n\n", math.Max(res.Learned, 1), len(res.Constants))
	}
	t := table{indent: "  ", align: "lrrrrll"}
	t.row("constant", "before", "", "now", "", "", "")
	t.rule()
	for _, k := range res.Constants {
		t.row(k.Path, significant(k.Prior), plusMinus(k.PriorSD), significant(k.Value), plusMinus(k.SD), k.Unit, k.Reach.String())
	}
	t.write(w)
	for _, h := range res.Held {
		fmt.Fprintf(w, "  held: %s\n", h)
	}
	fmt.Fprintln(w)
	a.rows(w, res)
	if l := res.LeaveOut; l.Runs > 1 {
		fmt.Fprintf(w, "\n  Each row predicted by the others alone: typically %s off, root mean square %s; %d of %d inside their\n  90 %% interval.\n",
			percentOf(l.Median), percentOf(l.RMS), l.Held, l.Runs)
	}
	if text := checkText(&res.Check); text != "" {
		fmt.Fprintf(w, "  %s\n", text)
	}
	if len(res.Next) > 0 {
		fmt.Fprint(w, "\n  What to time next, the most telling first:\n")
		for _, n := range res.Next {
			fmt.Fprintf(w, "  - %s: %s from %s to %s\n", n.What, n.Sharpens, plusMinus(n.Before), plusMinus(n.After))
		}
	}
	if !a.Try && !doubtful(res) {
		fmt.Fprintf(w, "\n  written: %s; clock with it: needlepace clock -m %s FILE\n", a.Output, a.Output)
	}
}

// rows lists what was read against what the learned sheet predicts.
func (a *LearnCmd) rows(w io.Writer, res *learn.Result) {
	t := table{indent: "  ", align: "rlrrrl"}
	t.row("row", "what", "read", "predicted", "off", "")
	t.rule()
	left := 0
	for i := range res.Runs {
		r := &res.Runs[i]
		if i >= rowsShown && !a.All && r.Suspect == "" {
			left++
			continue
		}
		read, predicted := stopwatchTime(r.Seconds), stopwatchTime(r.Predicted)
		if r.Kind == learn.DisplayReading {
			read, predicted = words.Fixed(r.Shown, 0).Text(nil)+"/min", words.Fixed(r.Predicted, 0).Text(nil)+"/min"
		}
		mark := ""
		switch {
		case r.Aside:
			mark = "set aside"
		case r.Suspect != "":
			mark = "suspicious"
		case pausedPart(res, r):
			mark = "has a suspicious block in it"
		}
		t.row(strconv.Itoa(r.Row), r.What(), read, predicted, signedPercent(r.Relative()), mark)
	}
	t.write(w)
	if left > 0 {
		fmt.Fprintf(w, "  and %s more (--all)\n", plural(left, "row"))
	}
}

// stopwatchTime is a time off a stopwatch: tenths where they matter.
func stopwatchTime(s float64) string {
	if s < 100 {
		return strconv.FormatFloat(s, 'f', 1, 64) + " s"
	}
	return words.Seconds(s).Text(nil)
}

func pausedPart(res *learn.Result, r *learn.Run) bool {
	for _, i := range r.Parts {
		if res.Runs[i].Suspect != "" {
			return true
		}
	}
	return false
}

func checkText(k *learn.Check) string {
	switch {
	case k.Draws == 0:
		return "The spreads are a normal approximation, not checked by drawing machines: " + k.Note + "."
	case k.Thinned:
		return fmt.Sprintf("Spreads and correlations are those of %d drawn machines, clocked on a share of the stitches (--sample: on all, with more machines).", k.Draws)
	case k.Replaced:
		return "Drawing machines showed that the normal approximation was too rough; spreads and correlations are those of the draws."
	}
	return fmt.Sprintf("The normal approximation stood up to %d drawn machines.", k.Draws)
}

// percentOf is a share in percent.
func percentOf(v float64) string { return words.Share(v).Text(nil) }

func signedPercent(v float64) string { return words.Signed{Numeric: words.Share(v)}.Text(nil) }

// significant is a constant with the figures that matter.
func significant(v float64) string { return words.Figure(v).Text(nil) }

// learnJSON is what learn --json prints. Keys are only ever added.
type learnJSON struct {
	Machine   string              `json:"machine"`
	Runs      string              `json:"runs"`
	Sheet     string              `json:"sheet"` // where it was written; empty with --try
	Used      int                 `json:"used"`
	SetAside  int                 `json:"set_aside"`
	Learned   float64             `json:"learned"` // independent things determined
	OnlyPace  bool                `json:"only_pace"`
	Pace      float64             `json:"pace"` // only_pace: new time over old
	Misfit    float64             `json:"misfit"`
	Constants []learnConstantJSON `json:"constants"`
	Held      []string            `json:"held"`
	Rows      []learnRowJSON      `json:"rows"`
	LeaveOut  learnLeaveOutJSON   `json:"leave_one_out"`
	Check     learnCheckJSON      `json:"check"`
	Drift     *learnDriftJSON     `json:"drift"`
	Next      []learnNextJSON     `json:"next"`
	Warnings  []string            `json:"warnings"`
}

type learnConstantJSON struct {
	Path   string  `json:"path"`
	Unit   string  `json:"unit"`
	Before float64 `json:"before"`
	SDOld  float64 `json:"sd_before"` // relative
	Value  float64 `json:"value"`
	SD     float64 `json:"sd"` // relative
	Reach  string  `json:"reach"`
}

type learnRowJSON struct {
	Row       int     `json:"row"`
	Kind      string  `json:"kind"`
	Design    string  `json:"design"`
	Block     int     `json:"block"` // 0: the whole
	SetSpeed  float64 `json:"set_speed"`
	Read      float64 `json:"read"`      // s, or stitches/min
	Predicted float64 `json:"predicted"` // same unit
	SD        float64 `json:"sd"`        // same unit
	LeftOut   float64 `json:"left_out"`  // predicted by the others alone
	Paused    float64 `json:"paused"`    // chance of an unnoticed interruption
	Slip      float64 `json:"slip"`
	SetAside  bool    `json:"set_aside"`
	Suspect   string  `json:"suspect"`
}

type learnLeaveOutJSON struct {
	Rows   int     `json:"rows"`
	Median float64 `json:"median"`
	RMS    float64 `json:"rms"`
	Inside int     `json:"inside_90"`
}

type learnCheckJSON struct {
	Draws     int     `json:"draws"`
	Effective float64 `json:"effective"`
	Replaced  bool    `json:"replaced"`
	Thinned   bool    `json:"thinned"`
	Note      string  `json:"note"`
}

type learnDriftJSON struct {
	Since    string  `json:"since"`
	Change   float64 `json:"change"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Sentence string  `json:"sentence"`
}

type learnNextJSON struct {
	What     string  `json:"what"`
	Gain     float64 `json:"gain"`
	Sharpens string  `json:"sharpens"`
	Before   float64 `json:"sd_before"`
	After    float64 `json:"sd_after"`
}

func (a *LearnCmd) writeJSON(w io.Writer, res *learn.Result) error {
	j := learnJSON{Machine: res.Sheet.Name, Runs: a.Runs, Used: res.Used, SetAside: res.Set, Learned: res.Learned, OnlyPace: res.OnlyPace, Pace: res.Pace, Misfit: res.Misfit,
		Constants: []learnConstantJSON{}, Held: append([]string{}, res.Held...), Rows: []learnRowJSON{}, Next: []learnNextJSON{}, Warnings: []string{},
		LeaveOut: learnLeaveOutJSON{res.LeaveOut.Runs, res.LeaveOut.Median, res.LeaveOut.RMS, res.LeaveOut.Held},
		Check:    learnCheckJSON{res.Check.Draws, res.Check.Effective, res.Check.Replaced, res.Check.Thinned, res.Check.Note}}
	if !a.Try && !doubtful(res) {
		j.Sheet = a.Output
	}
	for _, k := range res.Constants {
		j.Constants = append(j.Constants, learnConstantJSON{k.Path, k.Unit, k.Prior, k.PriorSD, k.Value, k.SD, k.Reach.String()})
	}
	for i := range res.Runs {
		r := &res.Runs[i]
		read := r.Seconds
		if r.Kind == learn.DisplayReading {
			read = r.Shown
		}
		j.Rows = append(j.Rows, learnRowJSON{r.Row, r.Kind.String(), r.Name, r.Block, r.SetSpeed, read, r.Predicted, r.SD, r.LeftOut, r.Paused, r.Slip, r.Aside, r.Suspect})
	}
	if d := res.Drift; d != nil {
		j.Drift = &learnDriftJSON{d.Since, d.Change, d.Low, d.High, d.Sentence()}
	}
	for _, n := range res.Next {
		j.Next = append(j.Next, learnNextJSON{n.What, n.Gain, n.Sharpens, n.Before, n.After})
	}
	for _, p := range res.Warnings {
		j.Warnings = append(j.Warnings, p.String())
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(j)
}
