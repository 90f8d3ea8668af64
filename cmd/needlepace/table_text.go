package main

import (
	"encoding/csv"
	"fmt"
	"io"

	"needlepace/ask"
	"needlepace/words"
)

// writeTable lays a table of an answer out as text. more, if not nil, is one
// more cell for each row, its heading first.
func writeTable(w io.Writer, t *ask.Table, indent string, more []string) {
	headings, rows := t.Shown(nil)
	out := table{indent: indent}
	for _, c := range t.Columns {
		switch {
		case c.File:
		case c.Number:
			out.align += "r"
		default:
			out.align += "l"
		}
	}
	for i, row := range append([][]string{headings}, rows...) {
		if i < len(more) {
			row = append(row, more[i])
		}
		out.row(row...)
		if i == 0 {
			out.rule()
		}
	}
	out.write(w)
}

// writeTableCSV lays a table of an answer out as CSV.
func writeTableCSV(w io.Writer, t *ask.Table) error {
	c := csv.NewWriter(w)
	if err := c.WriteAll(t.CSV()); err != nil {
		return err
	}
	return c.Error()
}

// writeSentences writes each sentence on a line of its own, after a mark.
func writeSentences(w io.Writer, mark string, s words.Sentences) {
	for _, m := range s {
		fmt.Fprintf(w, "%s%s\n", mark, m.Text(nil))
	}
}
