package main

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"needlepace/clock"
	"needlepace/report"
)

// row is one design on one machine as JSON and CSV have it.
func (a *ClockCmd) row(d *clockedDesign, k *clocked) *report.Clock {
	row := report.ClockOf(k.sheet.Name, k.result, k.how)
	row.Design, row.File = d.title(), d.file
	row.WidthMM, row.HeightMM = d.counts.Bounds.WidthMM(), d.counts.Bounds.HeightMM()
	row.Thread = report.ThreadOf(&k.thread)
	row.Warnings = d.warnings(k)
	if a.By == "block" {
		row.AddBlocks(k.result)
	}
	if a.Sweep {
		row.AddSweep(k.sweep, k.knee)
	}
	if a.Why {
		row.AddWhy(k.how)
	}
	return row
}

// clockTotals counts what a summary line tells.
type clockTotals struct {
	c        *Ctx
	many     bool
	stitches int
	runs     int
}

func (t *clockTotals) count(d *clockedDesign) {
	t.stitches += d.counts.Stitches
	t.runs += len(d.on)
}

// clockJSON prints one object a line. The summary goes to stderr.
type clockJSON struct {
	clockTotals
	a   *ClockCmd
	enc *json.Encoder
}

func newClockJSON(c *Ctx, a *ClockCmd, many bool) *clockJSON {
	e := json.NewEncoder(c.Out)
	e.SetEscapeHTML(false)
	return &clockJSON{clockTotals{c: c, many: many}, a, e}
}

func (p *clockJSON) design(d clockedDesign) error {
	p.count(&d)
	for i := range d.on {
		if err := p.enc.Encode(p.a.row(&d, &d.on[i])); err != nil {
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

// clockCSV prints the JSON's keys as columns, nested keys joined by "_".
type clockCSV struct {
	clockTotals
	a      *ClockCmd
	w      *csv.Writer
	headed bool
}

func newClockCSV(c *Ctx, a *ClockCmd, many bool) *clockCSV {
	return &clockCSV{clockTotals{c: c, many: many}, a, csv.NewWriter(c.Out), false}
}

func partColumns(prefix string, p clock.Parts, l clock.LongBy) []column {
	return []column{
		{prefix + "at_set_speed", num(p.AtSetSpeed)}, {prefix + "long_stitches", num(p.LongStitches)},
		{prefix + "ramps", num(p.Ramps)}, {prefix + "trims", num(p.Trims)},
		{prefix + "colour_stops", num(p.ColourStops)}, {prefix + "travel", num(p.Travel)},
		{prefix + "stops", num(p.Stops)}, {prefix + "start_end", num(p.StartEnd)},
		{"long_stitches_by_frame_x", num(l.FrameX)}, {"long_stitches_by_frame_y", num(l.FrameY)},
		{"long_stitches_by_turn", num(l.Turn)}, {"long_stitches_by_ladder", num(l.Ladder)},
	}
}

func (p *clockCSV) design(d clockedDesign) error {
	p.count(&d)
	for i := range d.on {
		r := p.a.row(&d, &d.on[i])
		head := []column{{"design", cell(r.Design)}, {"file", cell(r.File)}, {"machine", cell(r.Machine)}, {"set_speed", num(r.SetSpeed)}}
		if p.a.By == "block" {
			for _, b := range r.Blocks {
				row := append(head[:len(head):len(head)],
					column{"block", whole(b.Block)}, column{"needle", whole(b.Needle)},
					column{"seconds", num(b.Seconds)}, column{"stitches", whole(b.Stitches)},
					column{"revolutions", whole(b.Revolutions)}, column{"trims", whole(b.Trims)},
					column{"jumps", whole(b.Jumps)}, column{"held_speed", num(b.HeldSpeed)},
					column{"overall_speed", num(b.OverallSpeed)})
				if err := p.write(append(row, partColumns("parts_", b.Parts, b.LongBy)...)); err != nil {
					return err
				}
			}
			continue
		}
		row := append(head,
			column{"seconds", num(r.Seconds)}, column{"interval_low", num(r.Interval.Low)},
			column{"interval_high", num(r.Interval.High)}, column{"interval_level", num(r.Interval.Level)},
			column{"stitches", whole(r.Stitches)}, column{"revolutions", whole(r.Revolutions)},
			column{"trims", whole(r.Trims)}, column{"colour_stops", whole(r.ColourStops)},
			column{"jumps", whole(r.Jumps)}, column{"width_mm", num(r.WidthMM)},
			column{"height_mm", num(r.HeightMM)}, column{"held_speed", num(r.HeldSpeed)},
			column{"overall_speed", num(r.OverallSpeed)}, column{"naive_seconds", num(r.NaiveSeconds)})
		row = append(row, partColumns("parts_", r.Parts, r.LongBy)...)
		row = append(row, column{"thread_top_m", num(r.Thread.Top)}, column{"thread_bobbin_m", num(r.Thread.Bobbin)}, column{"thread_top_g", num(r.Thread.Grams)})
		if p.a.Sweep {
			row = append(row, column{"knee_speed", num(r.KneeSpeed)})
		}
		if err := p.write(append(row, column{"warnings", cell(strings.Join(r.Warnings, "; "))})); err != nil {
			return err
		}
	}
	return nil
}

func (p *clockCSV) end(done, failed int) error {
	p.w.Flush()
	if p.many {
		summary(p.c.Err, done, failed, p.stitches, p.runs)
	}
	return p.w.Error()
}

func (p *clockCSV) write(row []column) error {
	if !p.headed {
		p.headed = true
		if err := p.w.Write(names(row)); err != nil {
			return err
		}
	}
	return p.w.Write(values(row))
}

// column is one cell of a CSV row with the name of its column.
type column struct{ name, value string }

func names(row []column) (out []string) {
	for _, c := range row {
		out = append(out, c.name)
	}
	return out
}

func values(row []column) (out []string) {
	for _, c := range row {
		out = append(out, c.value)
	}
	return out
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
