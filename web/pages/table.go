package pages

import (
	"cmp"
	"encoding/csv"
	"html/template"
	"io"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/paper"
	"needlepace/web/serve"
	"needlepace/words"
)

// table is one table of a page. The page shows it and ?csv=ID gives it as CSV:
// both from the same rows.
type table struct {
	ID      string
	Caption string
	Cols    []col
	Rows    [][]cell
	Foot    []cell
	Full    bool // as wide as the column
	Cards   bool // on a phone each row stands as a list of its values, see cards
	Blocks  bool // row k belongs to colour block k: pointing at it shows the block alone
}

// col is one column: Name on the page, CSV in the file (with the unit).
type col struct {
	Name, CSV string
	Num       bool         // numbers, set right
	To        template.URL // the page with the table sorted by the column; empty: it is not sorted
	Now       string       // "ascending" or "descending" where it is sorted by the column
	Strip     bool         // a strip: not in the file
	File      bool         // in the file only
	Card      bool         // on a phone its name stands beside each value
}

// cols are columns by their names, e.g. "#Set speed=set_speed": # in front says
// that they hold numbers, - that they are in the file only; after = stands the
// name in the file, where it is another.
func cols(names ...string) (all []col) {
	for _, s := range names {
		var c col
		s, c.Num = strings.CutPrefix(s, "#")
		s, c.File = strings.CutPrefix(s, "-")
		c.Name, c.CSV, _ = strings.Cut(s, "=")
		all = append(all, c)
	}
	return all
}

// cards makes each row a list of its values where the table would be wider than
// a phone.
func (t *table) cards() {
	t.Cards = true
	for i := range t.Cols {
		t.Cols[i].Card = true
	}
}

// cards are [table.cards] of those of a page's tables that it has.
func (p *page) cards(ids ...string) {
	for _, id := range ids {
		if t := p.Tables[id]; t != nil {
			t.cards()
		}
	}
}

// sorts are tables of things that are compared, which a reader sorts: those whose rows
// stand in an order of their own (a run's parts, colours in turn, days, steps) are none.
var sorts = []string{"after", "dear", "runs", "score", "reported", "members", "reports", "findings", "kinds", "machines", "designs",
	"operators", "jobs", "states", "thread-all", "lots", "lines", "moved", "since", "fleet", "rests", "cells", "ranks", "costs", "now",
	"needs", "known", "slow", "columns", "orders"}

// sort sorts the table by the column that the address asks for with sorted=ID.column (-ID.column:
// falling), and gives its heads the addresses of the others.
func (t *table) sort(at *url.URL) {
	if !slices.Contains(sorts, t.ID) || len(t.Rows) < 2 || t.Blocks {
		return
	}
	q := at.Query()
	by, falls := strings.CutPrefix(q.Get("sorted"), "-")
	for i := range t.Cols {
		c := &t.Cols[i]
		if c.File || c.Strip || c.Name == "" {
			continue
		}
		me := t.ID + "." + c.csvName()
		to := me
		if c.Num {
			to = "-" + me // the most first
		}
		if by == me {
			c.Now = map[bool]string{false: "ascending", true: "descending"}[falls]
			sortRows(t.Rows, func(row []cell) string {
				if i >= len(row) || row[i].Text == (words.None{}).Text(nil) {
					return ""
				}
				return cmp.Or(row[i].Raw, row[i].Text)
			}, falls)
			to = me
			if !falls {
				to = "-" + me
			}
		}
		q.Set("sorted", to)
		c.To = template.URL("?" + q.Encode() + "#t-" + t.ID)
	}
}

// row adds a row.
func (t *table) row(cells ...cell) { t.Rows = append(t.Rows, cells) }

// cell is one value: Text on the page (or HTML), Raw in the file (Text where
// it is empty).
type cell struct {
	Text, Raw string
	HTML      template.HTML
	Link      string
}

func text(s string) cell           { return cell{Text: s} }
func figure(text, raw string) cell { return cell{Text: text, Raw: raw} }
func whole(n int) cell             { return cell{Text: words.Whole(n).Text(nil), Raw: strconv.Itoa(n)} }
func markup(h template.HTML) cell  { return cell{HTML: h} }

func linked(text, to string) cell { return cell{Text: text, Link: to} }

func (c col) csvName() string {
	return cmp.Or(c.CSV, strings.ReplaceAll(strings.ToLower(c.Name), " ", "_"))
}

// say heads the column with words; the file has it by the name that it was made with.
func (c *col) say(heading words.Message, w *words.Writer) {
	c.CSV = c.csvName()
	c.Name = heading.Text(w)
}

// hideEmpty leaves columns in which no row has anything to the file.
func (t *table) hideEmpty() {
	for i := range t.Cols {
		used := len(t.Rows) == 0
		for _, row := range t.Rows {
			used = used || i < len(row) && (row[i].Text != "" || row[i].HTML != "")
		}
		t.Cols[i].File = t.Cols[i].File || !used
	}
}

// writeCSV writes the table; text that a spreadsheet would run as a formula
// gets an apostrophe in front.
func (t *table) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	line := func(cells func(i int) string) {
		var out []string
		for i := range t.Cols {
			if !t.Cols[i].Strip {
				out = append(out, cells(i))
			}
		}
		c.Write(out)
	}
	line(func(i int) string { return t.Cols[i].csvName() })
	for _, row := range t.Rows {
		line(func(i int) string {
			if i >= len(row) {
				return ""
			}
			if row[i].Raw == "" && row[i].Text == (words.None{}).Text(nil) {
				return "" // as the files of commands and API have it
			}
			return defused(cmp.Or(row[i].Raw, row[i].Text))
		})
	}
	c.Flush()
	return c.Error()
}

func defused(s string) string {
	if s == "" || !strings.ContainsAny(s[:1], "=+-@\t\r") {
		return s
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return "'" + s
}

// workbook gives a table as an .xlsx workbook of one sheet.
func (c *call) workbook(file, sheet string, t *ask.Table) error {
	c.W.Header().Set("Content-Type", serve.XLSXType)
	c.W.Header().Set("Content-Disposition", serve.SaveAs(file, ".xlsx"))
	return paper.XLSX(c.W, paper.TableSheet(sheet, t))
}
