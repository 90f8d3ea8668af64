package main

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

// MachinesPoolCmd makes a class sheet of learned sheets.
type MachinesPoolCmd struct {
	Sheets    []string `arg:"" name:"sheet" help:"Learned sheets of machines of one class (.toml, or folders of them): the shop's own, and those that other shops exported."`
	Class     string   `help:"The class that they were learned from: a built-in class or a sheet. Default: the built-in class that the sheets name." placeholder:"SHEET"`
	Output    string   `short:"o" help:"Where the class sheet goes; - prints it instead of the report. Left out: report only." placeholder:"NEW.toml"`
	Overwrite bool     `help:"Replace the sheet if it is there."`
	JSON      bool     `name:"json" help:"The report as one JSON object."`
}

// sheetFiles finds machines by sheet file or class.
type sheetFiles struct{}

func (sheetFiles) Sheet(_ context.Context, name string) (*machine.Sheet, error) {
	return loadSheet(name)
}

// sheetsIn are the sheet files that arguments name, a folder's by name.
func sheetsIn(args []string) (all []string, err error) {
	for _, arg := range args {
		if info, err := os.Stat(arg); err != nil || !info.IsDir() {
			all = append(all, arg)
			continue
		}
		in, err := filepath.Glob(filepath.Join(arg, "*.toml"))
		if err != nil || len(in) == 0 {
			return nil, usagef("folder %q has no sheets (.toml)", arg)
		}
		all = append(all, in...)
	}
	return all, nil
}

// poolJSON is what machines pool --json prints. Keys are only ever added.
type poolJSON struct {
	Sheet string `json:"sheet"` // where it was written; empty where it was not
	*ask.PoolAnswer
}

// Run pools the sheets and lays the answer out.
func (a *MachinesPoolCmd) Run(c *Ctx) error {
	if _, err := os.Lstat(a.Output); err == nil && a.Output != "-" && !a.Overwrite {
		return usagef("%s is there already: name another file with -o, or replace it with --overwrite", a.Output)
	}
	sheets, err := sheetsIn(a.Sheets)
	if err != nil {
		return err
	}
	x, err := ask.Pool(c.Context, sheetFiles{}, ask.PoolQuestion{Sheets: sheets, Class: a.Class})
	if err != nil {
		return err
	}
	written := ""
	switch a.Output {
	case "":
	case "-":
		_, err := c.Out.Write(x.Sheet.TOML())
		return err
	default:
		written = a.Output
		if err := createWith(written, x.Sheet.TOML()); err != nil {
			return err
		}
	}
	if a.JSON {
		return writeJSON(c.Out, poolJSON{written, x})
	}
	writeSentences(c.Out, "", x.Verdict)
	writeSentences(c.Out, "! ", x.Caveats)
	for _, t := range []*ask.Table{x.ConstantsTable(), x.TermsTable(), x.MembersTable()} {
		if len(t.Rows) > 0 {
			fmt.Fprintln(c.Out)
			writeTable(c.Out, t, "  ")
		}
	}
	if written != "" {
		fmt.Fprintf(c.Out, "\nwritten: %s; learn from it: needlepace learn -m %s RUNS.csv\n", written, written)
	}
	return nil
}

// MachinesExportCmd makes files of learned sheets for other shops.
type MachinesExportCmd struct {
	Sheets     []string `arg:"" name:"sheet" help:"Learned sheets (.toml, or folders of them)."`
	Output     string   `short:"o" required:"" help:"Where the folder of files goes; it is made if it is not there." placeholder:"FOLDER"`
	ShopNumber string   `help:"The random number that your shop counts by: 32 hexadecimal digits. Left out: a new one, which is printed. Give the same one every time, so that your shop counts once." placeholder:"NUMBER"`
	OwnClass   bool     `help:"Let the text of class go along where it is your own and no built-in class's."`
	Overwrite  bool     `help:"Replace a file if it is there."`
}

// Run writes a file for each sheet, or none.
func (a *MachinesExportCmd) Run(c *Ctx) error {
	fresh := a.ShopNumber == ""
	if fresh {
		a.ShopNumber = newShopNumber()
	}
	var shared []*machine.Sheet
	var refused learn.RefusedError
	sheets, err := sheetsIn(a.Sheets)
	if err != nil {
		return err
	}
	for _, arg := range sheets {
		s, err := loadSheet(arg)
		if err != nil {
			return err
		}
		out, err := ask.Share(s, a.ShopNumber, a.OwnClass)
		if err != nil {
			refused = append(refused, learn.Refused{Name: arg, Why: err.Error()})
			continue
		}
		shared = append(shared, out)
	}
	if len(refused) > 0 {
		return usageError{refused}
	}
	if err := os.MkdirAll(a.Output, 0o750); err != nil {
		return err
	}
	for _, s := range shared {
		at := filepath.Join(a.Output, ask.SharedName(s))
		if _, err := os.Lstat(at); err == nil && !a.Overwrite {
			return usagef("%s is there already: name another folder with -o, or replace it with --overwrite", at)
		}
		if err := createWith(at, s.TOML()); err != nil {
			return err
		}
		writeLine(c.Out, at+": ", words.Say("pool.shared", words.Args{"class": words.Name(s.Class),
			"rows": words.Count(len(s.Fit.Evidence.Rows), "timed-run")}))
	}
	if fresh {
		sayNumber(c.Out, a.ShopNumber)
	}
	return nil
}

func sayNumber(w io.Writer, number string) {
	writeLine(w, "", words.Say("pool.number", words.Args{"number": words.Name(number)}))
}

// newShopNumber is a number that no other shop has.
func newShopNumber() string {
	b := make([]byte, 16)
	_, _ = rand.Read(b) // never fails
	return hex.EncodeToString(b)
}
