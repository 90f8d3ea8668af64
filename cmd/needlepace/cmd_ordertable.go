package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"needlepace/act"
	"needlepace/book"
	grid "needlepace/internal/cells"
	"needlepace/words"
)

// OrderTableCmd takes in the orders of a table.
type OrderTableCmd struct {
	ShopFlags
	File     string   `arg:"" help:"The table: .csv, .tsv or .xlsx; a row of it has the headings." type:"existingfile"`
	Columns  []string `help:"What a column is where its heading does not say it, e.g. customer=Buyer; may repeat. Nothing after the = : no column is it." sep:"none" placeholder:"FIELD=HEADING"`
	Sheet    string   `help:"Sheet of a workbook. Default: the first that is shown and has anything in it." placeholder:"NAME"`
	Letters  string   `help:"Letters of a text that is not Unicode, e.g. windows-1252, windows-1250 or macintosh. Default: as it looks, which is said." placeholder:"NAME"`
	Dates    string   `help:"How days as 3/4/2026 are written, dmy or mdy. Default: as the table shows." placeholder:"ORDER"`
	GoodOnly bool     `help:"Take the good ones in where others have something wrong. Default: then none is."`
	Try      bool     `help:"Keep nothing: only say what would be taken in."`
	WhoFlag
	MakeFlag
	JSON bool `name:"json" help:"One JSON object."`
	CSV  bool `name:"csv" help:"One CSV row for each order; with something wrong, for each bad cell."`
}

// Run takes them in, or says what is wrong.
func (a *OrderTableCmd) Run(c *Ctx) error {
	said := book.TableColumns{}
	for _, s := range a.Columns {
		field, heading, ok := strings.Cut(s, "=")
		if !ok {
			return usagef("--columns %q: write it as customer=Buyer", s)
		}
		said[strings.TrimSpace(field)] = strings.TrimSpace(heading)
	}
	b, err := readGiven("", a.File, "name the table in it", grid.MaxBytes)
	if err != nil {
		return err
	}
	do := a.use
	if !a.Try {
		do = func(c *Ctx, do func(*desk) error) error { return a.useOrMake(c, a.MakeFlag, do) }
	}
	return do(c, func(d *desk) error {
		x, err := d.TakeTable(c.Context, act.TableQuestion{Name: filepath.Base(a.File), Data: b, Columns: said, Days: a.Dates, Sheet: a.Sheet, Letters: a.Letters,
			GoodOnly: a.GoodOnly, Try: a.Try, DesignOf: func(name string) (string, error) {
				if a.Try { // no file is taken in either
					des, err := d.Designs.Find(c.Context, name)
					if err == nil {
						return des.ID, nil
					}
					if _, there := os.Stat(filepath.Join(filepath.Dir(a.File), filepath.FromSlash(name))); there != nil {
						return "", err
					}
					return "", nil
				}
				return d.designFor(name, filepath.Dir(a.File))
			}}, a.Who)
		if err != nil {
			return err
		}
		var bad error
		if len(x.Bad) > 0 {
			bad = errPartial
		}
		switch {
		case a.JSON:
			return errors.Join(writeJSON(c.Out, x), bad)
		case a.CSV && len(x.Bad) > 0:
			return errors.Join(x.BadTable().WriteCSV(c.Out), bad)
		case a.CSV:
			return x.OrderTable().WriteCSV(c.Out)
		}
		columns := x.ColumnTable()
		columns.Rows = slices.DeleteFunc(columns.Rows, func(r []words.Value) bool { return r[1] == nil })
		d.table(columns, "")
		fmt.Fprintln(c.Out)
		if len(x.Bad) > 0 {
			d.table(x.BadTable(), "")
			fmt.Fprintln(c.Out)
		}
		if len(x.Left) > 0 {
			d.table(x.LeftTable(), "")
			fmt.Fprintln(c.Out)
		}
		if len(x.Orders) > 0 {
			d.table(x.OrderTable(), "")
			fmt.Fprintln(c.Out)
		}
		d.say("", x.Verdict)
		writeSentences(c.Out, "! ", x.Caveats)
		for _, n := range x.Notes {
			fmt.Fprintln(c.Out, "note:", n)
		}
		return bad
	})
}
