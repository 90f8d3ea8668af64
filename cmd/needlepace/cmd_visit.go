package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"needlepace/act"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/words"
)

// VisitCmd is an adviser's work for clients.
type VisitCmd struct {
	Begin  VisitBeginCmd  `cmd:"" help:"A new visit; from then on the shop's pages have visits."`
	List   VisitListCmd   `cmd:"" help:"The visits."`
	Show   VisitShowCmd   `cmd:"" help:"A visit and its files."`
	Put    VisitPutCmd    `cmd:"" help:"Put files into a visit."`
	Drop   VisitDropCmd   `cmd:"" help:"Take files out of a visit."`
	Plan   VisitPlanCmd   `cmd:"" help:"Put a trial into a visit, with the designs and sheets that it names."`
	Return VisitReturnCmd `cmd:"" help:"Take in what came back to a trial of a visit."`
	Trial  VisitTrialCmd  `cmd:"" help:"What a trial of a visit says, and its paper."`
	Call   VisitCallCmd   `cmd:"" help:"An open call: one design that anybody may sew, and send the time."`
	Unpack VisitUnpackCmd `cmd:"" help:"Write a visit's files into a folder, for needlepace trial and other programs."`
	Export VisitExportCmd `cmd:"" help:"Write a whole visit as one file, and read it back."`
	Import VisitImportCmd `cmd:"" help:"Take in a visit that is one file; what is torn or foreign is refused."`
	Away   VisitAwayCmd   `cmd:"" help:"Put a visit away, off the list."`
	Back   VisitBackCmd   `cmd:"" help:"Put a visit back on the list."`
	Erase  VisitEraseCmd  `cmd:"" help:"Take a visit that is put away out for good, with all that is in it."`
}

// VisitArg names a visit.
type VisitArg struct {
	ShopFlags
	Visit string `arg:"" help:"The visit: its name or ID."`
}

func (v VisitArg) with(c *Ctx, do func(*desk, *shop.Visit) error) error {
	return v.use(c, func(d *desk) error {
		x, err := d.Visits.Find(d.Context, v.Visit)
		if err != nil {
			return err
		}
		return do(d, x)
	})
}

// VisitBeginCmd begins a visit.
type VisitBeginCmd struct {
	ShopFlags
	MakeFlag
	Name   string `arg:"" help:"What it is called."`
	Client string `help:"Whom it is for." placeholder:"NAME"`
	Note   string `help:"Note." placeholder:"TEXT"`
}

// Run begins it.
func (a *VisitBeginCmd) Run(c *Ctx) error {
	return a.useOrMake(c, a.MakeFlag, func(d *desk) error {
		v, err := d.BeginVisit(d.Context, a.Name, a.Client, a.Note)
		if err == nil {
			fmt.Fprintf(c.Out, "%s is begun, as %s.\n", printable(v.Name), v.ID)
		}
		return err
	})
}

// VisitListCmd lists visits.
type VisitListCmd struct {
	ShopFlags
	Away bool `help:"Those that are put away."`
	JSON bool `name:"json" help:"One JSON object."`
}

// Run lists them.
func (a *VisitListCmd) Run(c *Ctx) error {
	return a.use(c, func(d *desk) error {
		all, err := d.Visits.List(d.Context, a.Away)
		if err != nil {
			return err
		}
		if a.JSON {
			return writeJSON(c.Out, map[string]any{"visits": append([]*shop.Visit{}, all...)})
		}
		w := tabwriter.NewWriter(c.Out, 0, 0, 2, ' ', 0)
		for _, v := range all {
			fmt.Fprintf(w, "%s\t%s\t%s\n", v.ID, printable(v.Name), printable(v.Client))
		}
		return w.Flush()
	})
}

// VisitShowCmd shows a visit.
type VisitShowCmd struct {
	VisitArg
	JSON bool `name:"json" help:"One JSON object."`
}

// Run shows it.
func (a *VisitShowCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error {
		files, err := d.Visits.Files(d.Context, v.ID)
		if err != nil {
			return err
		}
		if a.JSON {
			return writeJSON(c.Out, struct {
				*shop.Visit
				Files []shop.VisitFile `json:"files"`
			}{v, append([]shop.VisitFile{}, files...)})
		}
		fmt.Fprintf(c.Out, "%s\n", printable(v.Name))
		for _, s := range []string{v.Client, v.Note} {
			if s != "" {
				fmt.Fprintf(c.Out, "  %s\n", printable(s))
			}
		}
		w := tabwriter.NewWriter(c.Out, 0, 0, 2, ' ', 0)
		for _, f := range files {
			fmt.Fprintf(w, "  %s\t%s bytes\t%s\n", printable(f.Name), thousands(int(f.Bytes)), f.Digest[:8])
		}
		return w.Flush()
	})
}

// VisitPutCmd puts files into a visit.
type VisitPutCmd struct {
	VisitArg
	WhoFlag
	Folder string   `arg:"" help:"Where in the visit: machines, designs, timings, recordings, photographs, compares, notes, papers, or a folder below."`
	Files  []string `arg:"" help:"The files."`
}

// Run puts them in; one that is there under the name is taken the place of.
func (a *VisitPutCmd) Run(c *Ctx) error {
	var put []visits.File
	for _, name := range a.Files {
		b, err := readAtMost(name, visits.MostBytes)
		if err != nil {
			return usageError{err}
		}
		at := strings.Trim(filepath.ToSlash(a.Folder), "/") + "/" + filepath.Base(name)
		if strings.HasPrefix(at, "photographs/") && trial.IsPhotograph(name) {
			at = strings.TrimSuffix(at, filepath.Ext(at)) + ".jpg"
		}
		put = append(put, visits.File{Name: at, As: b})
	}
	return a.with(c, func(d *desk, v *shop.Visit) error { return d.Visits.Put(d.Context, v.ID, a.Who, put...) })
}

// VisitDropCmd takes files out of a visit.
type VisitDropCmd struct {
	VisitArg
	Files []string `arg:"" help:"The files, as needlepace visit show names them."`
}

// Run takes them out.
func (a *VisitDropCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error { return d.Visits.TakeOut(d.Context, v.ID, a.Files...) })
}

// TrialArg names a trial of a visit.
type TrialArg struct {
	VisitArg
	Trial string `arg:"" help:"The trial's short name."`
}

// VisitPlanCmd puts a trial into a visit.
type VisitPlanCmd struct {
	TrialArg
	WhoFlag
	File string `arg:"" help:"The trial's file, TRIAL.toml (docs/trials.md)."`
}

// Run puts it in, and says what it can tell.
func (a *VisitPlanCmd) Run(c *Ctx) error {
	b, err := readSettings(a.File)
	if err != nil {
		return err
	}
	return a.with(c, func(d *desk, v *shop.Visit) error {
		x, err := d.KeepTrial(d.Context, v.ID, a.Trial, a.Who, b, bringFrom(a.File))
		if err == nil {
			writePlanned(c, x)
		}
		return err
	})
}

// bringFrom finds the files that the file of a trial or a call names, from its folder.
func bringFrom(file string) act.Bring {
	return func(ref string) (string, []byte, error) {
		if _, ok := machine.Class(ref); ok {
			return "", nil, nil
		}
		if !filepath.IsAbs(ref) {
			ref = filepath.Join(filepath.Dir(file), filepath.FromSlash(ref))
		}
		b, err := readAtMost(ref, act.DefaultLimits.FileBytes)
		return filepath.Base(ref), b, err
	}
}

// writeRefused says what could not be read, and what could not be kept.
func writeRefused(w io.Writer, unread []words.Plain, said words.Sentences) {
	for _, x := range unread {
		fmt.Fprintf(w, "! %s\n", printable(x.Raw()))
	}
	for _, s := range said {
		fmt.Fprintf(w, "! %s\n", printable(s.Raw()))
	}
}

// VisitReturnCmd takes in what came back.
type VisitReturnCmd struct {
	TrialArg
	WhoFlag
	Returned
}

// Run takes it in, and says what could not be.
func (a *VisitReturnCmd) Run(c *Ctx) error {
	given, unread, err := a.read()
	if err != nil {
		return err
	}
	return a.with(c, func(d *desk, v *shop.Visit) error {
		said, err := d.TakeReturns(d.Context, v.ID, a.Trial, a.Who, given)
		if err != nil {
			return err
		}
		writeRefused(c.Out, unread, said)
		x, err := d.Shop.Trial(d.Context, v.ID, a.Trial)
		if err == nil {
			writeSentences(c.Out, "", x.Verdict)
		}
		return err
	})
}

// VisitTrialCmd is a trial of a visit.
type VisitTrialCmd struct {
	TrialArg
	JSON bool `name:"json" help:"One JSON object."`
	CSV  bool `name:"csv" help:"One CSV row for each design and machine."`
	TrialPaper
}

// Run says what it says.
func (a *VisitTrialCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error {
		x, err := d.Shop.Trial(d.Context, v.ID, a.TrialArg.Trial)
		if err != nil {
			return err
		}
		if a.PDF != "" || a.HTML != "" {
			if err := a.write(c, x, *d.writer); err != nil {
				return err
			}
		}
		switch {
		case a.JSON:
			return writeJSON(c.Out, x)
		case a.CSV:
			return x.CellTable().WriteCSV(c.Out)
		case len(x.Runs) == 0 && len(x.Said) == 0:
			writePlanned(c, x)
		default:
			writeTrial(c, x)
		}
		return nil
	})
}

// VisitUnpackCmd writes a visit's files into a folder.
type VisitUnpackCmd struct {
	VisitArg
	Into string `arg:"" help:"The folder; it must not be there." type:"path"`
}

// Run writes them.
func (a *VisitUnpackCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error {
		files, err := d.Visits.Files(d.Context, v.ID)
		if err != nil {
			return err
		}
		if err := os.Mkdir(a.Into, 0o755); err != nil {
			return usagef("the folder %s cannot be made, or is there already", a.Into)
		}
		for _, f := range files {
			b, err := d.Visits.Read(d.Context, v.ID, f.Name)
			if err != nil {
				return err
			}
			at := filepath.Join(a.Into, filepath.FromSlash(f.Name)) // every part was checked when it came in
			if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
				return err
			}
			if err := createWith(at, b); err != nil {
				return err
			}
		}
		return nil
	})
}

// VisitExportCmd writes a visit as one file.
type VisitExportCmd struct {
	VisitArg
	To string `arg:"" help:"The file to write; it must end in .zip." type:"path"`
}

// Run writes it and reads it back.
func (a *VisitExportCmd) Run(c *Ctx) error {
	if err := endsIn([3]string{"the file", a.To, ".zip"}); err != nil {
		return err
	}
	return a.with(c, func(d *desk, v *shop.Visit) error {
		var b bytes.Buffer
		if err := d.Visits.Export(d.Context, v.ID, &b); err != nil {
			return err
		}
		if err := createWith(a.To, b.Bytes()); err != nil {
			return err
		}
		back, err := os.ReadFile(a.To)
		if err != nil {
			return err
		}
		_, files, err := visits.Open(bytes.NewReader(back), int64(len(back)))
		if err != nil {
			return fmt.Errorf("%s was written and does not read back: %w", a.To, err)
		}
		fmt.Fprintf(c.Out, "%s: %s. It was read back and is sound.\n", a.To, plural(len(files), "file"))
		return nil
	})
}

// VisitImportCmd takes in a visit.
type VisitImportCmd struct {
	ShopFlags
	MakeFlag
	From string `arg:"" help:"The file that a visit was exported as." type:"existingfile"`
}

// Run takes it in.
func (a *VisitImportCmd) Run(c *Ctx) error {
	b, err := readAtMost(a.From, visits.MostAll+visits.MostBytes)
	if err != nil {
		return usageError{err}
	}
	return a.useOrMake(c, a.MakeFlag, func(d *desk) error {
		v, err := d.ImportVisit(d.Context, b)
		if err == nil {
			fmt.Fprintf(c.Out, "%s is here, as %s.\n", printable(v.Name), v.ID)
		}
		return err
	})
}

// VisitAwayCmd puts a visit away.
type VisitAwayCmd struct{ VisitArg }

// Run puts it away.
func (a *VisitAwayCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error { return d.Visits.PutAway(d.Context, v.ID, true) })
}

// VisitBackCmd puts a visit back.
type VisitBackCmd struct{ VisitArg }

// Run puts it back.
func (a *VisitBackCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error { return d.Visits.PutAway(d.Context, v.ID, false) })
}

// VisitEraseCmd erases a visit.
type VisitEraseCmd struct{ VisitArg }

// Run erases it.
func (a *VisitEraseCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error {
		if err := d.Visits.Erase(d.Context, v.ID); err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%s is erased at %s. Backups made before still have it.\n", printable(v.Name), d.Now().Format(time.DateTime))
		return nil
	})
}
