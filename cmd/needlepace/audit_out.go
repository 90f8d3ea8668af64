package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/audit"
	"needlepace/picture"
	"needlepace/words"
)

// auditRow is the written contract of audit --json (docs/reading-an-audit.md):
// changes only add keys.
type auditRow struct {
	Design       string       `json:"design"`
	File         string       `json:"file"`
	Machine      string       `json:"machine"`
	Seconds      float64      `json:"seconds"`
	Stitches     int          `json:"stitches"`
	Pieces       int          `json:"pieces"`
	Runs         int          `json:"runs"`
	ThreadsFrom  string       `json:"threads_from"`
	TotalSeconds float64      `json:"total_seconds"`
	Findings     []findingRow `json:"findings"`
	NotLookedAt  []string     `json:"not_looked_at"`
	Warnings     []string     `json:"warnings"`
}

type findingRow struct {
	Kind         audit.Kind `json:"kind"`
	Block        int        `json:"block"` // from 1
	FromStitch   int        `json:"from_stitch"`
	ToStitch     int        `json:"to_stitch"`
	XMM          float64    `json:"x_mm"`
	YMM          float64    `json:"y_mm"`
	Count        int        `json:"count"`
	Seconds      float64    `json:"seconds"`
	OrderSeconds float64    `json:"order_seconds"`
	SplitSeconds float64    `json:"split_seconds"`
	Risk         audit.Risk `json:"risk"`
	What         string     `json:"what"`
	Ask          string     `json:"ask"`
}

// rowOf counts stitches from 1, both ends included; what lies between two
// stitches has the one before and the one after.
func rowOf(f audit.Finding) findingRow {
	from, to := f.From+1, f.To
	if f.From == f.To {
		from, to = f.From, f.From+1
	}
	return findingRow{f.Kind, f.Block + 1, from, to, f.X, f.Y, f.Count, f.Seconds, f.OrderSeconds, f.Split, f.Risk, f.What, f.Ask}
}

func (a *AuditCmd) json(w io.Writer, x *audited) error {
	r := x.report
	row := auditRow{Design: x.of.Title(), File: x.of.File, Machine: x.sheet.Name, Seconds: r.Seconds, Stitches: r.Stitches,
		Pieces: a.Pieces, Runs: r.Runs, ThreadsFrom: x.from, TotalSeconds: r.Total,
		Findings: []findingRow{}, NotLookedAt: append([]string{}, r.Off...), Warnings: []string{}}
	for _, f := range r.Findings {
		row.Findings = append(row.Findings, rowOf(f))
	}
	for _, warn := range x.of.FileWarnings() {
		row.Warnings = append(row.Warnings, warn)
	}
	return json.NewEncoder(w).Encode(row)
}

func (a *AuditCmd) csv(w io.Writer, x *audited) error {
	header := []string{"design", "file", "machine", "kind", "block", "from_stitch", "to_stitch", "x_mm", "y_mm", "count", "seconds", "order_seconds", "split_seconds", "risk", "what", "ask"}
	var rows [][]string
	for _, f := range x.report.Findings {
		r := rowOf(f)
		rows = append(rows, []string{cell(x.of.Title()), cell(x.of.File), cell(x.sheet.Name), string(r.Kind), whole(r.Block), whole(r.FromStitch), whole(r.ToStitch),
			num(r.XMM), num(r.YMM), whole(r.Count), num(r.Seconds), num(r.OrderSeconds), num(r.SplitSeconds), cell(string(r.Risk)), cell(r.What), cell(r.Ask)})
	}
	return writeCSV(w, header, rows)
}

// shown is how many findings of a kind are listed without --all, and marked on
// a picture in all.
const (
	shown  = 5
	marked = 25
)

func (a *AuditCmd) text(c *Ctx, x *audited) error {
	w, r := c.Out, x.report
	fmt.Fprintf(w, "%s: %s, %s\n", x.of.File, plural(r.Stitches, "stitch"), plural(audit.Blocks(x.of.Design), "colour block"))
	for _, warn := range x.of.FileWarnings() {
		fmt.Fprintf(w, "  ! %s\n", warn)
	}
	fmt.Fprintf(w, "on %s: %s a run", ask.MachineName(x.sheet).Text(nil), words.Seconds(r.Seconds).Text(nil))
	if a.Pieces > 1 {
		fmt.Fprintf(w, "; %s take %s", plural(a.Pieces, "piece"), plural(r.Runs, "run"))
	}
	fmt.Fprintln(w)
	switch {
	case x.from != "":
		fmt.Fprintf(w, "which blocks share a thread: from %s\n", x.from)
	case audit.Blocks(x.of.Design) > 1:
		fmt.Fprintln(w, "which blocks share a thread is not known, so no colour stop is called needless; --threads says it")
	}
	for _, s := range r.Off {
		fmt.Fprintf(w, "  ! %s\n", s)
	}
	if r.Stitches == 0 {
		fmt.Fprintln(w, "\n  nothing to audit: the design sews no stitch")
		return nil
	}
	if len(r.Findings) == 0 {
		fmt.Fprintln(w, "\n  nothing found: this design wastes no time that the audit can see")
		return nil
	}
	groups := byKind(r.Findings)
	t := table{indent: "  ", align: "lrrrl"}
	head := []string{"what", "how many", "a run"}
	if a.Pieces > 1 {
		head = append(head, "the order")
	} else {
		t.align = "lrrl"
	}
	fmt.Fprintln(w)
	t.row(append(head, "risk")...)
	t.rule()
	for _, g := range groups {
		row := []string{g.kind.Title(), thousands(len(g.findings)), secondsText(g.seconds)}
		if a.Pieces > 1 {
			row = append(row, secondsText(g.seconds*float64(r.Runs)))
		}
		t.row(append(row, string(g.findings[0].Risk))...)
	}
	t.write(w)
	fmt.Fprintln(w, "\n  Costs are of each by itself and may overlap; a dash is no time on this machine.")
	n := 0
	for _, g := range groups {
		fmt.Fprintf(w, "\n%s\n", sentence(g.kind.Title()))
		ask := ""
		t := table{indent: "  ", align: "rrlll"}
		for k, f := range g.findings {
			n++
			if k >= shown && !a.All {
				continue
			}
			t.row(strconv.Itoa(n), secondsText(f.Seconds), fmt.Sprintf("block %d, %s", f.Block+1, stitchesText(f.From, f.To)),
				fmt.Sprintf("at (%d, %d) mm", int(math.Round(f.X)), int(math.Round(f.Y))), f.What)
			if k == 0 {
				ask = f.Ask
			}
		}
		t.write(w)
		if more := len(g.findings) - shown; more > 0 && !a.All {
			fmt.Fprintf(w, "  … and %s more (--all)\n", thousands(more))
		}
		fmt.Fprintf(w, "  → %s\n", ask)
	}
	fmt.Fprintln(w, "\n  What can be mended without changing the picture: needlepace mend. The rest is for the digitizer.")
	return nil
}

// kindGroup is the findings of one kind, the dearest first.
type kindGroup struct {
	kind     audit.Kind
	seconds  float64
	findings []audit.Finding
}

// byKind gathers findings by kind, the kind that costs most first.
func byKind(all []audit.Finding) []kindGroup {
	var groups []kindGroup
	at := map[audit.Kind]int{}
	for _, f := range all {
		k, ok := at[f.Kind]
		if !ok {
			k = len(groups)
			at[f.Kind] = k
			groups = append(groups, kindGroup{kind: f.Kind})
		}
		groups[k].seconds += f.Seconds
		groups[k].findings = append(groups[k].findings, f)
	}
	for i := range groups { // stable: ties stay in the order of the findings
		for k := i; k > 0 && groups[k].seconds > groups[k-1].seconds; k-- {
			groups[k], groups[k-1] = groups[k-1], groups[k]
		}
	}
	return groups
}

func secondsText(s float64) string {
	switch {
	case s <= 0:
		return "–"
	case s < 0.05:
		return "under 0.1 s"
	}
	return words.Seconds(s).Text(nil)
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// markedPicture numbers the findings as the text does.
func markedPicture(x *audited) picture.Picture {
	revs := revolutions(x.of.Design, x.sheet.Reading.TrimAfterJumps)
	p := &picture.Marked{Name: x.of.Title() + " on " + x.sheet.Name, Segs: picture.Sewn(x.of.Design, x.sheet.Reading.TrimAfterJumps)}
	n := 0
	for _, g := range byKind(x.report.Findings) {
		for _, f := range g.findings {
			n++
			if len(p.Marks) == marked {
				continue
			}
			m := picture.Mark{Number: n, X: f.X, Y: f.Y, From: revs[f.From], To: revs[f.To], Text: f.What}
			if f.Seconds > 0 {
				m.Value = secondsText(f.Seconds)
			}
			if 2*(f.To-f.From) > x.report.Stitches {
				m.To = m.From // of the whole design: a place will do
			}
			p.Marks = append(p.Marks, m)
		}
	}
	if n > marked {
		p.Name += fmt.Sprintf(" (the %d dearest of %d findings)", marked, n)
	}
	return p
}

func heatPicture(x *audited) picture.Picture {
	h := x.report.Penetrations
	g := picture.Grid{X0: h.X0, Y0: h.Y0, Cell: 1, NX: h.NX, NY: h.NY, Values: make([]float32, len(h.Counts))}
	for i, n := range h.Counts {
		g.Values[i] = float32(n)
	}
	return &picture.HeatMap{Name: x.of.Title(), Segs: picture.Sewn(x.of.Design, x.sheet.Reading.TrimAfterJumps), Grid: g, Limit: x.limits.Density}
}
