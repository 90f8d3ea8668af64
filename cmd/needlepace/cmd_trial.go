package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/paper"
	"needlepace/trial"
	"needlepace/words"
)

// TrialCmd is machines side by side: the same designs sewn on each.
type TrialCmd struct {
	Plan   TrialPlanCmd   `cmd:"" help:"What the trial can tell, who sews what in which order, and the pack for each place."`
	Read   TrialReadCmd   `cmd:"" help:"What came back: checked, what is kept apart and why, what is missing, who is first."`
	Report TrialReportCmd `cmd:"" help:"The paper to hand over: the answer, results, money, what it hangs on."`

	Evidence TrialEvidenceCmd `cmd:"" help:"What the runs tell of each machine, for class pools: nothing of the client, the places or the designs."`
}

// TrialFile is the file of a trial.
type TrialFile struct {
	Trial string `arg:"" help:"The trial's file, TRIAL.toml (docs/trials.md)."`
}

// Returned are the files that came back.
type Returned struct {
	Returns []string `arg:"" help:"What came back: sheets (CSV, XLSX), photographs, zips, or folders of them."`
}

func (f TrialFile) ask(c *Ctx, returned []trial.Given, unread []words.Plain) (*ask.TrialAnswer, error) {
	b, err := readSettings(f.Trial)
	if err != nil {
		return nil, err
	}
	a, err := ask.Trial(c.Context, ask.TrialQuestion{Name: f.Trial, TOML: b, Returned: returned, Last: trial.LastDay(time.Now())}, sources(f.Trial))
	if err != nil {
		return nil, err
	}
	a.Said = slices.Insert(a.Said, 0, unread...)
	return a, nil
}

// TrialPlanCmd plans a trial.
type TrialPlanCmd struct {
	TrialFile
	Output string `short:"o" help:"Where the folder of packs goes, a zip for each place." placeholder:"FOLDER"`
	Page   string `help:"Its page's address as others can open it, for the card." placeholder:"ADDRESS"`
	Paper  string `help:"Paper size: A4 or Letter. Default: the shop's." placeholder:"SIZE"`
	InLanguage
	JSON bool `name:"json" help:"One JSON object."`
	CSV  bool `name:"csv" help:"One CSV row for each run, in order."`
}

// Run plans the trial and writes its packs.
func (a *TrialPlanCmd) Run(c *Ctx) error {
	size, err := paper.SizeNamed(a.Paper)
	if err != nil {
		return usageError{err}
	}
	x, err := a.ask(c, nil, nil)
	if err != nil {
		return err
	}
	switch {
	case a.JSON:
		err = writeJSON(c.Out, x)
	case a.CSV:
		err = x.AllRuns().WriteCSV(c.Out)
	default:
		writePlanned(c, x)
	}
	if err != nil || a.Output == "" {
		return err
	}
	by := &words.Writer{Language: x.File.Speaks()}
	if err := a.speak(by); err != nil {
		return err
	}
	if err := os.MkdirAll(a.Output, 0o755); err != nil {
		return fmt.Errorf("--output %s: %w", a.Output, err)
	}
	for _, p := range x.Places {
		path := filepath.Join(a.Output, p.Name+".zip")
		if err := create(path, func(w io.Writer) error { return paper.TrialPack(w, x, p.Name, a.Page, size, time.Now(), by) }); err != nil {
			return err
		}
		if !a.JSON && !a.CSV {
			fmt.Fprintf(c.Out, "\n  written: %s\n", path)
		}
	}
	return nil
}

// writeDangers says what of a design may hurt somebody.
func writeDangers(c *Ctx, all []words.Plain) {
	for _, m := range all {
		fmt.Fprintf(c.Out, "  ! %s\n", printable(m.Raw()))
	}
}

// writePlanned lays a trial that is planned out as text.
func writePlanned(c *Ctx, x *ask.TrialAnswer) {
	fmt.Fprintf(c.Out, "%s\n\n", printable(x.Trial))
	writeSentences(c.Out, "  ", x.Verdict)
	writeDangers(c, x.Dangers)
	writeSentences(c.Out, "  ! ", x.Caveats)
	for i := range x.Places {
		t := x.RunTable(&x.Places[i])
		fmt.Fprintf(c.Out, "\n  %s\n", t.Caption.Text(nil))
		writeTable(c.Out, t, "  ")
	}
}

// TrialReadCmd reads what came back.
type TrialReadCmd struct {
	TrialFile
	Returned
	JSON bool `name:"json" help:"One JSON object."`
	CSV  bool `name:"csv" help:"One CSV row for each design and machine."`
}

// Run says what came back and what it says.
func (a *TrialReadCmd) Run(c *Ctx) error {
	given, unread, err := a.read()
	if err != nil {
		return err
	}
	x, err := a.ask(c, given, unread)
	switch {
	case err != nil:
		return err
	case a.JSON:
		return writeJSON(c.Out, x)
	case a.CSV:
		return x.CellTable().WriteCSV(c.Out)
	}
	writeTrial(c, x)
	return nil
}

// writeTrial lays what came back out as text.
func writeTrial(c *Ctx, x *ask.TrialAnswer) {
	fmt.Fprintf(c.Out, "%s\n\n", printable(x.Trial))
	writeSentences(c.Out, "  ", x.Verdict)
	writeDangers(c, x.Dangers)
	writeSentences(c.Out, "  ! ", x.Caveats)
	for _, s := range x.Said {
		fmt.Fprintf(c.Out, "  ! %s\n", printable(s.Raw()))
	}
	tables := []*ask.Table{x.ApartTable(), x.CellTable(), x.RankTable(), x.PartTable(), x.CostTable(), x.GradeTable()}
	for _, t := range tables {
		if t != nil && len(t.Rows) > 0 {
			fmt.Fprintf(c.Out, "\n  %s\n", t.Caption.Text(nil))
			writeTable(c.Out, t, "  ")
		}
	}
	if m := x.Agrees(); !m.IsZero() {
		fmt.Fprintf(c.Out, "\n  %s\n", m.Text(nil))
	}
}

// read reads the files; what cannot be unpacked is told and the rest is read.
func (r Returned) read() (given []trial.Given, unread []words.Plain, err error) {
	var names []string
	for _, arg := range r.Returns {
		info, err := os.Stat(arg)
		if err != nil {
			return nil, nil, usagef("there is no file or folder %s", arg)
		}
		if !info.IsDir() {
			names = append(names, arg)
			continue
		}
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() && !strings.HasPrefix(d.Name(), ".") {
				names = append(names, path)
			}
			return err
		})
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", arg, err)
		}
	}
	slices.Sort(names)
	for _, name := range slices.Compact(names) {
		b, err := readAtMost(name, trial.MaxReturn)
		if err == nil {
			some, broken := trial.Unpack(filepath.ToSlash(name), b)
			given = append(given, some...)
			for _, m := range broken {
				unread = append(unread, words.Plain(m))
			}
		}
		if err != nil {
			unread = append(unread, words.Plain(trial.Told(err)))
		}
	}
	if len(given) == 0 {
		why := ""
		for _, x := range unread {
			why += x.Raw() + "; "
		}
		return nil, nil, fmt.Errorf("nothing that came back can be read: %sthere are no files", why)
	}
	return given, unread, nil
}

// readAtMost reads a file that may have so many bytes.
func readAtMost(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be opened", path)
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err == nil && !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is no file", path)
	case err == nil && info.Size() > most:
		return nil, fmt.Errorf("%s has %d MB; a return has at most %d MB: send photographs smaller, or in several files", path, info.Size()>>20, most>>20)
	}
	return io.ReadAll(io.LimitReader(f, most+1))
}

// TrialReportCmd writes the paper.
type TrialReportCmd struct {
	TrialFile
	Returned
	TrialPaper
}

// TrialPaper is the paper of a trial.
type TrialPaper struct {
	PDF   string `name:"pdf" help:"Write the paper to a .pdf file." placeholder:"FILE"`
	HTML  string `name:"html" help:"Write the paper to one .html file." placeholder:"FILE"`
	Paper string `help:"Paper size: A4 or Letter. Default: the shop's." placeholder:"SIZE"`
	Logo  string `help:"The picture for the paper (PNG or JPEG). Default: the one kept in the shop's settings." placeholder:"FILE"`
	InLanguage
}

// InLanguage chooses the language of a paper.
type InLanguage struct {
	Language string `help:"The paper's language: en, es, pt, tr or vi. Default: what the trial's file says, or en." placeholder:"TAG"`
}

// speak gives a writer the language, where one was chosen.
func (l *InLanguage) speak(by *words.Writer) (err error) {
	if l.Language != "" {
		by.Language, err = languageNamed(l.Language)
	}
	return err
}

// Run writes the paper.
func (a *TrialReportCmd) Run(c *Ctx) error {
	if a.PDF == "" && a.HTML == "" {
		return usagef("name a file for the paper with --pdf, --html or both")
	}
	given, unread, err := a.read()
	if err != nil {
		return err
	}
	x, err := a.ask(c, given, unread)
	if err != nil {
		return err
	}
	if err := a.write(c, x, words.Writer{}); err != nil {
		return err
	}
	writeSentences(c.Out, "", x.Verdict)
	return nil
}

func (a *TrialPaper) write(c *Ctx, x *ask.TrialAnswer, by words.Writer) error {
	if err := endsIn([3]string{"--pdf", a.PDF, ".pdf"}, [3]string{"--html", a.HTML, ".html"}); err != nil {
		return err
	}
	size, err := paper.SizeNamed(a.Paper)
	if err != nil {
		return usageError{err}
	}
	by.Language = x.File.Speaks()
	if err := a.speak(&by); err != nil {
		return err
	}
	var logo []byte
	if a.Logo != "" {
		if logo, err = readGiven("--logo: ", a.Logo, "name a picture in it", mostLogo); err != nil {
			return err
		}
	}
	letters, err := x.Letters(c.Context)
	if err != nil {
		return err
	}
	crossings, err := x.Crossings(c.Context)
	if err != nil {
		return err
	}
	d := paper.TrialOf(x, letters, crossings, logo, version, time.Now(), &by)
	var pdf, html bytes.Buffer
	if a.PDF != "" {
		err = errors.Join(d.PDF(&pdf, size), createWith(a.PDF, pdf.Bytes()))
	}
	if err == nil && a.HTML != "" {
		err = errors.Join(d.HTML(&html), createWith(a.HTML, html.Bytes()))
	}
	return err
}

// TrialEvidenceCmd makes files for class pools of a trial's timings.
type TrialEvidenceCmd struct {
	TrialFile
	Returned
	Output     string `short:"o" required:"" help:"Where the folder of files goes; it is made if it is not there." placeholder:"FOLDER"`
	ShopNumber string `help:"The random number that your shop counts by: 32 hexadecimal digits. Left out: a new one, which is printed. Give the same one every time, so that your shop counts once." placeholder:"NUMBER"`
}

// Run writes a file for each machine that something can be told of.
func (a *TrialEvidenceCmd) Run(c *Ctx) error {
	given, unread, err := a.read()
	if err != nil {
		return err
	}
	x, err := a.ask(c, given, unread)
	if err != nil {
		return err
	}
	fresh := a.ShopNumber == ""
	if fresh {
		a.ShopNumber = newShopNumber()
	}
	all, err := x.Evidence(c.Context, a.ShopNumber)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(a.Output, 0o750); err != nil {
		return err
	}
	for _, e := range all {
		if e.Sheet == nil {
			fmt.Fprintf(c.Out, "! %s: %s\n", printable(e.Machine), printable(e.Why))
			continue
		}
		at := filepath.Join(a.Output, ask.SharedName(e.Sheet))
		if err := createWith(at, e.Sheet.TOML()); err != nil {
			return err
		}
		writeLine(c.Out, at+": ", words.Say("pool.shared", words.Args{"class": words.Name(e.Sheet.Class),
			"rows": words.Count(len(e.Sheet.Fit.Evidence.Rows), "timed-run")}))
	}
	if fresh {
		sayNumber(c.Out, a.ShopNumber)
	}
	return nil
}
