package main

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"needlepace/clock"
)

// clockRow is the written contract of clock --json (docs/json.md): changes
// only add keys.
type clockRow struct {
	Design       string             `json:"design"`
	File         string             `json:"file"`
	Machine      string             `json:"machine"`
	SetSpeed     float64            `json:"set_speed"` // stitches/min
	Seconds      float64            `json:"seconds"`
	Interval     clock.Interval     `json:"interval"`
	Stitches     int                `json:"stitches"`
	Revolutions  int                `json:"revolutions"`
	Trims        int                `json:"trims"`
	ColourStops  int                `json:"colour_stops"`
	Jumps        int                `json:"jumps"`
	WidthMM      float64            `json:"width_mm"`
	HeightMM     float64            `json:"height_mm"`
	HeldSpeed    float64            `json:"held_speed"`
	OverallSpeed float64            `json:"overall_speed"`
	NaiveSeconds float64            `json:"naive_seconds"`
	Parts        clock.Parts        `json:"parts"`
	LongBy       clock.LongBy       `json:"long_stitches_by"`
	Thread       threadRow          `json:"thread"`
	Warnings     []string           `json:"warnings"`
	Blocks       []blockRow         `json:"blocks,omitempty"`
	Sweep        []clock.SweepPoint `json:"sweep,omitempty"`
	KneeSpeed    float64            `json:"knee_speed,omitempty"` // stitches/min
	Why          []whyRow           `json:"why,omitempty"`
}

type blockRow struct {
	Block        int          `json:"block"`  // from 1
	Needle       int          `json:"needle"` // from 1
	Seconds      float64      `json:"seconds"`
	Stitches     int          `json:"stitches"`
	Revolutions  int          `json:"revolutions"`
	Trims        int          `json:"trims"`
	Jumps        int          `json:"jumps"`
	HeldSpeed    float64      `json:"held_speed"`
	OverallSpeed float64      `json:"overall_speed"`
	Parts        clock.Parts  `json:"parts"`
	LongBy       clock.LongBy `json:"long_stitches_by"`
}

type whyRow struct {
	Constant string  `json:"constant"` // path in the sheet; "model" is the fit's own residual
	Share    float64 `json:"share"`    // of the variance
	Seconds  float64 `json:"seconds"`  // that one standard deviation of it moves the run time
}

func (a *ClockCmd) row(d *clockedDesign, k *clocked) clockRow {
	r := k.result
	row := clockRow{
		Design: d.title(), File: d.file, Machine: k.sheet.Name,
		SetSpeed: r.SetSpeed, Seconds: r.Seconds, Interval: k.how.Interval,
		Stitches: r.Stitches, Revolutions: r.Revolutions, Trims: r.Trims,
		ColourStops: r.ColourStops, Jumps: r.Jumps,
		WidthMM: d.counts.Bounds.WidthMM(), HeightMM: d.counts.Bounds.HeightMM(),
		HeldSpeed: r.HeldSpeed(), OverallSpeed: r.OverallSpeed(), NaiveSeconds: r.NaiveSeconds(),
		Parts: r.Parts, LongBy: r.LongBy, Thread: threadRowOf(&k.thread), Warnings: d.warnings(k),
	}
	if a.By == "block" {
		for _, b := range r.Blocks {
			row.Blocks = append(row.Blocks, blockRow{
				b.Index + 1, b.Needle + 1, b.Seconds, b.Stitches, b.Revolutions, b.Trims, b.Jumps,
				b.HeldSpeed(), b.OverallSpeed(), b.Parts, b.LongBy,
			})
		}
	}
	if a.Sweep {
		row.Sweep, row.KneeSpeed = k.sweep, k.sweep[k.knee].SetSpeed
	}
	if a.Why {
		for _, s := range k.how.Shares {
			path := s.Path
			if path == "" {
				path = "model"
			}
			row.Why = append(row.Why, whyRow{path, s.Share, s.Seconds})
		}
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
