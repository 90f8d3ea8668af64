package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/audit"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/words"
)

// mended is one design with its mend.
type mended struct {
	of    *ask.Design
	sheet *machine.Sheet
	from  string // where the threads are known from
	m     *audit.Mended
	out   string
	bytes int // written; 0: nothing was
}

// mendRow is the written contract of mend --json (docs/reading-an-audit.md):
// changes only add keys.
type mendRow struct {
	Design      string       `json:"design"`
	File        string       `json:"file"`
	Out         string       `json:"out"`
	Written     bool         `json:"written"`
	Machine     string       `json:"machine"`
	Before      mendSide     `json:"before"`
	After       mendSide     `json:"after"`
	Saved       float64      `json:"saved_seconds"`
	ThreadsFrom string       `json:"threads_from"`
	Changes     []mendChange `json:"changes"`
	Colours     []mendColour `json:"colours"`
	Search      searchRow    `json:"search"`
	Proof       proofRow     `json:"proof"`
	Warnings    []string     `json:"warnings"`
}

type mendSide struct {
	Seconds     float64     `json:"seconds"`
	Stitches    int         `json:"stitches"`
	Trims       int         `json:"trims"`
	ColourStops int         `json:"colour_stops"`
	Parts       clock.Parts `json:"parts"`
}

type mendChange struct {
	Kind     string  `json:"kind"`
	Count    int     `json:"count"`
	Seconds  float64 `json:"seconds"`
	What     string  `json:"what"`
	Stitches []int   `json:"stitches"` // dropped, from 1
}

type mendColour struct {
	Block    int    `json:"block"`     // in the new file, from 1
	OldBlock int    `json:"old_block"` // whose thread it has, from 1
	Thread   string `json:"thread"`    // its name, if the file has one
}

type searchRow struct {
	Objects int     `json:"objects"`
	Optimal bool    `json:"optimal"`
	Gap     float64 `json:"gap"` // share of what an order can change
}

type proofRow struct {
	Points         int    `json:"points"`
	Layers         int    `json:"layers"`
	DigestBefore   string `json:"digest_before"`
	DigestAfter    string `json:"digest_after"`
	StitchesBefore int    `json:"stitches_before"`
	StitchesAfter  int    `json:"stitches_after"`
	Dropped        int    `json:"dropped"`
}

func sideOf(r *clock.Result) mendSide {
	return mendSide{r.Seconds, r.Stitches, r.Trims, r.ColourStops, r.Parts}
}

func (x *mended) colours() []mendColour {
	var out []mendColour
	for k, old := range x.m.Blocks {
		name := ""
		if old < len(x.of.Design.Threads) && x.of.Design.Threads[old].Known {
			name = x.of.Design.Threads[old].Name
		}
		out = append(out, mendColour{k + 1, old + 1, name})
	}
	return out
}

func (a *MendCmd) json(w io.Writer, x *mended) error {
	m := x.m
	p := m.Proof
	row := mendRow{Design: x.of.Title(), File: x.of.File, Out: x.out, Written: x.bytes > 0, Machine: x.sheet.Name,
		Before: sideOf(m.Before), After: sideOf(m.After), Saved: m.Saved(), ThreadsFrom: x.from,
		Changes: []mendChange{}, Colours: x.colours(), Search: searchRow{m.Objects, m.Objects > 0 && m.Search.Optimal, m.Search.Gap()},
		Proof:    proofRow{p.Before.Points, p.Before.Layers, p.Before.String(), p.After.String(), p.StitchesBefore, p.StitchesAfter, p.StitchesDropped},
		Warnings: []string{}}
	for _, ch := range m.Changes {
		dropped := []int{}
		for _, n := range ch.Stitches {
			dropped = append(dropped, n+1)
		}
		row.Changes = append(row.Changes, mendChange{ch.Kind, ch.Count, ch.Seconds, ch.What, dropped})
	}
	if m.Off != "" {
		row.Warnings = append(row.Warnings, m.Off)
	}
	for _, warn := range x.of.FileWarnings() {
		row.Warnings = append(row.Warnings, warn)
	}
	return json.NewEncoder(w).Encode(row)
}

func (a *MendCmd) text(c *Ctx, x *mended) error {
	w, m := c.Out, x.m
	fmt.Fprintf(w, "%s: %s, %s\n", x.of.File, plural(m.Before.Stitches, "stitch"), plural(len(m.Before.Blocks), "colour block"))
	for _, warn := range x.of.FileWarnings() {
		fmt.Fprintf(w, "  ! %s\n", warn)
	}
	fmt.Fprintf(w, "on %s, set to %.0f/min\n", ask.MachineName(x.sheet).Text(nil), m.Before.SetSpeed)
	switch {
	case x.from != "":
		fmt.Fprintf(w, "which blocks share a thread: from %s\n", x.from)
	case len(m.Before.Blocks) > 1:
		fmt.Fprintln(w, "which blocks share a thread is not known, so no two were taken to; --threads says it")
	}
	if !m.Changed() {
		fmt.Fprintf(w, "\n  %s a run: nothing to mend that leaves the picture as it is; %s was not written\n", words.Seconds(m.Before.Seconds).Text(nil), x.out)
		x.search(w)
		return nil
	}
	fmt.Fprintf(w, "\n  %s → %s a run: %s saved (%s)\n\n", words.Seconds(m.Before.Seconds).Text(nil), words.Seconds(m.After.Seconds).Text(nil),
		words.Seconds(m.Saved()).Text(nil), percent(m.Saved()/m.Before.Seconds))
	ts := picture.TextStrip{Width: min(c.OutWidth()-12, 64), Colour: c.OutTerminal(), Max: m.Before.Seconds}
	fmt.Fprintf(w, "  before  %s\n", ts.Bar(picture.PartsOf(m.Before.Parts), 0))
	fmt.Fprintf(w, "  after   %s\n", ts.Bar(picture.PartsOf(m.After.Parts), m.Saved()))
	fmt.Fprintf(w, "          %s\n\n", ts.Legend(picture.PartsOf(m.Before.Parts), false))
	t := table{indent: "  ", align: "rl"}
	for _, ch := range m.Changes {
		t.row(words.Seconds(ch.Seconds).Text(nil), ch.What)
	}
	t.write(w)
	x.search(w)
	fmt.Fprintf(w, "  trims %d → %d, colour stops %d → %d, stitches %s → %s\n", m.Before.Trims, m.After.Trims,
		m.Before.ColourStops, m.After.ColourStops, thousands(m.Before.Stitches), thousands(m.After.Stitches))
	for _, ch := range m.Changes {
		if len(ch.Stitches) > 0 {
			fmt.Fprintf(w, "  dropped: stitches %s\n", listed(ch.Stitches, 20))
		}
	}
	x.threading(w)
	p := m.Proof
	fmt.Fprintf(w, "\n  checked: at each of %s points, 0.1 mm apart, the same thread lies in the same order (up to %s deep)\n", thousands(p.Before.Points), plural(p.Before.Layers, "layer"))
	fmt.Fprintf(w, "    before %v\n    after  %v\n", p.Before, p.After)
	fmt.Fprintf(w, "  written: %s, %s bytes, read back the same\n", x.out, thousands(x.bytes))
	fmt.Fprintln(w, "\n  Sew it once on scrap before the order, and follow the machine's manual and local rules.")
	return nil
}

// strips is the run before and after, the saving left as an outline.
func (x *mended) strips() picture.Picture {
	return &picture.Strips{Name: x.of.Title() + " on " + x.sheet.Name, Rows: []picture.StripRow{
		{Label: "before", Parts: picture.PartsOf(x.m.Before.Parts)},
		{Label: "after the mend", Parts: picture.PartsOf(x.m.After.Parts), Saved: x.m.Saved()},
	}}
}

func (x *mended) search(w io.Writer) {
	switch m := x.m; {
	case m.Off != "":
		fmt.Fprintf(w, "  ! %s\n", m.Off)
	case m.Objects < 2:
	case m.Search.Optimal:
		fmt.Fprintf(w, "  order of %d objects: proven, none takes less\n", m.Objects)
	default:
		fmt.Fprintf(w, "  order of %d objects: at most %s from the best, of what an order can change\n", m.Objects, percent(m.Search.Gap()))
	}
}

// threading says what the operator must do otherwise than before.
func (x *mended) threading(w io.Writer) {
	blocks := x.m.Blocks
	if slices.IsSorted(blocks) && len(blocks) == len(x.m.Before.Blocks) {
		return
	}
	fmt.Fprintln(w, "\n  the colours now, in the order of sewing (set the machine's colour list to this):")
	t := table{indent: "  ", align: "rl"}
	for _, col := range x.colours() {
		t.row(fmt.Sprint(col.Block), strings.TrimSpace(fmt.Sprintf("thread of old block %d  %s", col.OldBlock, col.Thread)))
	}
	t.write(w)
	if x.m.After.ColourStops < x.m.Before.ColourStops {
		fmt.Fprintln(w, "  If one of the stops that went was there for you to do something (to lay on a cloth, to cut), give its blocks different names in --threads.")
	}
}

// listed is numbers from 1, the first few of them.
func listed(n []int, most int) string {
	var b strings.Builder
	for i, k := range n {
		if i == most {
			fmt.Fprintf(&b, " and %s more (--json lists all)", thousands(len(n)-most))
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(thousands(k + 1))
	}
	return b.String()
}
