package main

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"needlepace/ask"
)

// clockJSON prints one object a line.
type clockJSON struct{ c *Ctx }

func (p clockJSON) design(d clockedDesign) error {
	for _, a := range d.on {
		if err := writeJSON(p.c.Out, a); err != nil {
			return err
		}
	}
	return nil
}

func (clockJSON) end() error { return nil }

// clockCSV prints a row for each answer, or for each of its colour blocks or
// kinds of stitches.
type clockCSV struct {
	rows func(*ask.ClockAnswer) *ask.Table // nil: the answer itself
	w    tableCSV
}

func (p *clockCSV) design(d clockedDesign) error {
	if p.rows == nil {
		return p.w.write(ask.ClockTable(d.on...))
	}
	for _, a := range d.on {
		if err := p.w.write(p.rows(a)); err != nil {
			return err
		}
	}
	return nil
}

func (p *clockCSV) end() error {
	p.w.w.Flush()
	return p.w.w.Error()
}

// tableCSV writes tables of the same columns one under the other.
type tableCSV struct {
	w      *csv.Writer
	headed bool
}

func (t *tableCSV) write(table *ask.Table) error {
	rows := table.CSV()
	if t.headed {
		rows = rows[1:]
	}
	t.headed = true
	for _, r := range rows {
		if err := t.w.Write(r); err != nil {
			return err
		}
	}
	return nil
}

func num(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func whole(n int) string { return strconv.Itoa(n) }

// cell is text from outside made safe for spreadsheets, which run cells that
// begin with = + - or @ as formulas.
func cell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// writeCSV is a whole table at once, for the commands that need no more.
func writeCSV(w io.Writer, header []string, rows [][]string) error {
	c := csv.NewWriter(w)
	if err := c.Write(header); err != nil {
		return err
	}
	if err := c.WriteAll(rows); err != nil {
		return err
	}
	return c.Error()
}
