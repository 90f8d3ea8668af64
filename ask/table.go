package ask

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"needlepace/words"
)

// Table is figures in rows. A page, a terminal, a CSV file and a workbook lay
// out the same Table.
type Table struct {
	Key     string      // names it in an address or a sheet: "blocks"
	Caption words.Value // for people
	Columns []Column
	Rows    [][]words.Value // a nil cell is empty
	Foot    []words.Value   // the sum of the rows, for people; nil: none
}

// Column is what one column of a Table holds.
type Column struct {
	Key     string      // its name in CSV and JSON, with the unit: "width_mm"
	Heading words.Value // for people
	Number  bool        // figures: set right, numbers in a workbook
	File    bool        // in files only
}

// table is a Table without rows yet.
func table(key string, caption words.Value, columns ...Column) *Table {
	return &Table{Key: key, Caption: caption, Columns: columns}
}

// add adds a row.
func (t *Table) add(cells ...words.Value) { t.Rows = append(t.Rows, cells) }

// column is a column of text under a heading of the catalogue.
func column(key, heading string, args ...words.Args) Column {
	return Column{Key: key, Heading: words.Say(heading, args...)}
}

// number is a column of figures under a heading of the catalogue.
func number(key, heading string, args ...words.Args) Column {
	c := column(key, heading, args...)
	c.Number = true
	return c
}

// inFile is the column for files only.
func (c Column) inFile() Column {
	c.File = true
	return c
}

// CSV is the table for a file: the keys, then a row of raw figures each. Text
// that a spreadsheet would run as a formula gets an apostrophe in front.
func (t *Table) CSV() [][]string {
	out := make([][]string, 0, len(t.Rows)+1)
	keys := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		keys[i] = defused(c.Key) // some are names of machines
	}
	out = append(out, keys)
	for _, row := range t.Rows {
		line := make([]string, len(t.Columns))
		for i, v := range row[:min(len(row), len(line))] {
			if v != nil {
				line[i] = defused(v.Raw())
			}
		}
		out = append(out, line)
	}
	return out
}

// WriteCSV writes the table as comma-separated values (RFC 4180).
func (t *Table) WriteCSV(w io.Writer) error {
	return csv.NewWriter(w).WriteAll(t.CSV())
}

// Shown is the table for a person: the headings, then the rows, both without
// the columns that are for files only.
func (t *Table) Shown(w *words.Writer) (headings []string, rows [][]string) {
	for _, c := range t.Columns {
		if !c.File {
			headings = append(headings, c.Heading.Text(w))
		}
	}
	rows = make([][]string, len(t.Rows))
	for i, row := range t.Rows {
		rows[i] = t.line(row, w)
	}
	return headings, rows
}

// ShownFoot is the sum of the rows for a person, as Shown has rows; nil: none.
func (t *Table) ShownFoot(w *words.Writer) []string {
	if t.Foot == nil {
		return nil
	}
	return t.line(t.Foot, w)
}

func (t *Table) line(row []words.Value, w *words.Writer) []string {
	line := make([]string, 0, len(t.Columns))
	for j, c := range t.Columns {
		switch {
		case c.File:
		case j >= len(row) || row[j] == nil:
			line = append(line, "")
		default:
			line = append(line, row[j].Text(w))
		}
	}
	return line
}

// defused is text that no spreadsheet takes for a formula.
func defused(s string) string {
	if s == "" || !strings.ContainsRune("=+-@\t\r\n", rune(s[0])) {
		return s
	}
	if _, err := strconv.ParseFloat(s, 64); err == nil {
		return s
	}
	return "'" + s
}
