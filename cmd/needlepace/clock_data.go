package main

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"needlepace/ask"
)

// clockTotals counts what a summary line tells.
type clockTotals struct {
	c        *Ctx
	many     bool
	stitches int
	runs     int
}

func (t *clockTotals) count(d *clockedDesign) {
	t.stitches += d.of.Counts.Stitches
	t.runs += len(d.on)
}

// clockJSON prints one object a line. The summary goes to stderr.
type clockJSON struct {
	clockTotals
	enc *json.Encoder
}

func newClockJSON(c *Ctx, many bool) *clockJSON {
	e := json.NewEncoder(c.Out)
	e.SetEscapeHTML(false)
	return &clockJSON{clockTotals{c: c, many: many}, e}
}

func (p *clockJSON) design(d clockedDesign) error {
	p.count(&d)
	for _, a := range d.on {
		if err := p.enc.Encode(a); err != nil {
			return err
		}
	}
	return nil
}

func (p *clockJSON) end(done, failed int) error {
	if p.many {
		summary(p.c.Err, done, failed, p.stitches, p.runs)
	}
	return nil
}

// clockCSV prints a row for each answer, or for each of its colour blocks.
type clockCSV struct {
	clockTotals
	byBlock bool
	w       tableCSV
}

func newClockCSV(c *Ctx, byBlock, many bool) *clockCSV {
	return &clockCSV{clockTotals{c: c, many: many}, byBlock, tableCSV{w: csv.NewWriter(c.Out)}}
}

func (p *clockCSV) design(d clockedDesign) error {
	p.count(&d)
	if !p.byBlock {
		return p.w.write(ask.ClockTable(d.on...))
	}
	for _, a := range d.on {
		if err := p.w.write(a.BlocksTable()); err != nil {
			return err
		}
	}
	return nil
}

func (p *clockCSV) end(done, failed int) error {
	p.w.w.Flush()
	if p.many {
		summary(p.c.Err, done, failed, p.stitches, p.runs)
	}
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
