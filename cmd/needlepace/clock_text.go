package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/report"
	"needlepace/words"
)

// clockText prints for people: the answer first, the reason after it.
type clockText struct {
	clockTotals
	a     *ClockCmd
	parts map[picture.Key]bool // seen, for the legend

	assumed bool // a sheet with nothing but assumed constants was shown
}

func newClockText(c *Ctx, a *ClockCmd, many bool) *clockText {
	return &clockText{clockTotals: clockTotals{c: c, many: many}, a: a, parts: map[picture.Key]bool{}}
}

func (p *clockText) design(d clockedDesign) error {
	w := p.c.Out
	if p.runs > 0 {
		fmt.Fprintln(w)
	}
	p.count(&d)
	head := []string{plural(d.counts.Stitches, "stitch"), plural(d.counts.ColourStops+1, "colour block")}
	if r := d.on[0].result; r.Trims > 0 {
		head = append(head, plural(r.Trims, "trim"))
	}
	if !d.counts.Bounds.Empty {
		head = append(head, fmt.Sprintf("%.1f × %.1f mm", d.counts.Bounds.WidthMM(), d.counts.Bounds.HeightMM()))
	}
	fmt.Fprintf(w, "%s: %s\n", printable(d.file), strings.Join(head, ", "))
	for _, warn := range d.design.Warnings {
		fmt.Fprintf(w, "  ! %s\n", report.Warning(warn))
	}
	if len(d.on) == 1 && !p.many {
		p.one(&d, &d.on[0])
	} else {
		p.several(&d)
	}
	for i := range d.on {
		k := &d.on[i]
		if p.a.By == "block" {
			p.blocks(k)
		}
		if p.a.Sweep {
			p.sweep(k)
		}
		if p.a.Why {
			p.why(k)
		}
	}
	return nil
}

// one is a design on one machine: large.
func (p *clockText) one(d *clockedDesign, k *clocked) {
	w, r := p.c.Out, k.result
	fmt.Fprintf(w, "on %s, set to %s/min\n", machineName(k.sheet), picture.Thousands(r.SetSpeed))
	for _, warn := range r.Warnings {
		fmt.Fprintf(w, "  ! %s\n", report.Warning(warn))
	}
	fmt.Fprintf(w, "\n  %s   %s\n", picture.LongTime(r.Seconds), intervalText(k.how))
	if assumed(k.sheet) {
		fmt.Fprintln(w, "  wide because the constants are assumed for the class; needlepace learn fits your own machine")
	}
	fmt.Fprintln(w)
	ts := p.strip(min(p.c.OutWidth()-4, 72))
	fmt.Fprintf(w, "  %s\n", ts.Bar(report.Strip(r.Parts), 0))
	t := table{indent: "  ", align: "lrrl"}
	for _, part := range report.Strip(r.Parts) {
		note := ""
		if part.Key == picture.LongStitches {
			note = longNote(r.LongBy)
		}
		t.row(ts.Glyph(part.Key)+" "+part.Key.Name(), picture.LongTime(part.Seconds), percent(part.Seconds/r.Seconds), note)
	}
	t.rule()
	t.row("  run time", picture.LongTime(r.Seconds))
	t.write(w)
	fmt.Fprintf(w, "\n  held speed %s/min while sewing, overall speed %s/min over the whole run\n", picture.Thousands(r.HeldSpeed()), picture.Thousands(r.OverallSpeed()))
	fmt.Fprintf(w, "  %s\n", threadText(&k.thread))
	fmt.Fprintf(w, "  stitches ÷ rated speed (%s/min) would say %s%s\n", picture.Thousands(r.RatedSpeed), picture.LongTime(r.NaiveSeconds()), shortBy(r.Seconds-r.NaiveSeconds()))
}

// several is a design on machines side by side, strips on one time axis.
func (p *clockText) several(d *clockedDesign) {
	top := 0.0
	for i := range d.on {
		top = math.Max(top, d.on[i].result.Seconds)
	}
	t := table{align: "lrrrrrrl"}
	t.row("machine", "set", "run time", fmt.Sprintf("%.0f %% between", p.a.Level), "held", "overall", "÷ rated", "where the seconds go")
	t.rule()
	ts := p.strip(max(16, min(p.c.OutWidth()-80, 40)))
	ts.Max = top
	for i := range d.on {
		k := &d.on[i]
		r := k.result
		p.assumed = p.assumed || assumed(k.sheet)
		for _, part := range report.Strip(r.Parts) {
			p.parts[part.Key] = true
		}
		t.row(k.sheet.Name, fmt.Sprintf("%.0f", r.SetSpeed), picture.LongTime(r.Seconds),
			picture.ShortTime(k.how.Low)+" and "+picture.ShortTime(k.how.High),
			fmt.Sprintf("%.0f", r.HeldSpeed()), fmt.Sprintf("%.0f", r.OverallSpeed()),
			picture.LongTime(r.NaiveSeconds()), ts.Bar(report.Strip(r.Parts), 0))
	}
	t.write(p.c.Out)
	notes := map[string][]string{}
	var order []string
	for i := range d.on {
		for _, warn := range d.on[i].result.Warnings {
			text := report.Warning(warn)
			if notes[text] == nil {
				order = append(order, text)
			}
			notes[text] = append(notes[text], d.on[i].sheet.Name)
		}
	}
	for _, text := range order {
		who := strings.Join(notes[text], ", ")
		if len(notes[text]) == len(d.on) {
			who = "all"
		}
		fmt.Fprintf(p.c.Out, "  ! %s: %s\n", who, text)
	}
	if !p.many {
		p.partTable(d)
	}
}

// partTable is where the seconds go, in figures.
func (p *clockText) partTable(d *clockedDesign) {
	var keys []picture.Key
	t := table{align: "lrrrrrrrr"}
	head := []string{"\nseconds of"}
	for _, k := range picture.Keys {
		if p.parts[k] {
			keys = append(keys, k)
			head = append(head, k.Name())
		}
	}
	t.row(head...)
	t.rule()
	for i := range d.on {
		row := []string{d.on[i].sheet.Name}
		parts := map[picture.Key]float64{}
		for _, q := range report.Strip(d.on[i].result.Parts) {
			parts[q.Key] = q.Seconds
		}
		for _, k := range keys {
			row = append(row, fmt.Sprintf("%.1f", parts[k]))
		}
		t.row(row...)
	}
	t.write(p.c.Out)
}

func (p *clockText) blocks(k *clocked) {
	fmt.Fprintf(p.c.Out, "\ncolour blocks on %s\n", k.sheet.Name)
	t := table{indent: "  ", align: "rrrrrrrl"}
	t.row("block", "needle", "stitches", "trims", "top thread", "time", "held", "where the seconds go")
	t.rule()
	ts := p.strip(max(16, min(p.c.OutWidth()-60, 40)))
	for _, b := range k.result.Blocks {
		ts.Max = math.Max(ts.Max, b.Seconds)
	}
	for _, b := range k.result.Blocks {
		for _, part := range report.Strip(b.Parts) {
			p.parts[part.Key] = true
		}
		t.row(fmt.Sprint(b.Index+1), fmt.Sprint(b.Needle+1), thousands(b.Stitches), fmt.Sprint(b.Trims),
			fmt.Sprintf("%.1f m", k.thread.Blocks[b.Index].Top), picture.LongTime(b.Seconds), fmt.Sprintf("%.0f", b.HeldSpeed()), ts.Bar(report.Strip(b.Parts), 0))
	}
	t.write(p.c.Out)
	fmt.Fprintln(p.c.Out, "  A colour stop and the way to its first stitch count with the block they open.")
}

func (p *clockText) sweep(k *clocked) {
	knee := k.sweep[k.knee]
	fmt.Fprintf(p.c.Out, "\nrun time against set speed on %s\n", k.sheet.Name)
	t := table{indent: "  ", align: "rrrrl"}
	t.row("set", "run time", "held", "gained", "")
	t.rule()
	for i, s := range k.sweep {
		gain, mark := "", ""
		if i > 0 {
			gain = picture.LongTime(k.sweep[i-1].Seconds - s.Seconds)
		}
		if i == k.knee {
			mark = "← knee"
		}
		t.row(fmt.Sprintf("%.0f", s.SetSpeed), picture.LongTime(s.Seconds), fmt.Sprintf("%.0f", s.HeldSpeed), gain, mark)
	}
	t.write(p.c.Out)
	if k.knee == len(k.sweep)-1 {
		fmt.Fprintf(p.c.Out, "  No knee: every %d/min up to %.0f/min still buys %.0f %% or more.\n", clock.SweepStep, knee.SetSpeed, clock.KneeGain*100)
		return
	}
	fmt.Fprintf(p.c.Out, "  The knee is %.0f/min: past it each further %d/min buys less than %.0f %% of the run time.\n", knee.SetSpeed, clock.SweepStep, clock.KneeGain*100)
}

func (p *clockText) why(k *clocked) {
	fmt.Fprintf(p.c.Out, "\nwhat the interval on %s hangs on: measure these first\n", k.sheet.Name)
	if len(k.how.Shares) == 0 {
		fmt.Fprintln(p.c.Out, "  The sheet gives no spreads, so there is no interval.")
		return
	}
	t := table{indent: "  ", align: "lrrl"}
	for i, s := range k.how.Shares {
		if i == 3 {
			break
		}
		name, means, basis := s.Path, "", machine.Basis("")
		if c, ok := machine.ConstantAt(s.Path); ok {
			means, basis = c.Means, k.sheet.BasisOf[s.Path]
		} else {
			name, means = "the model itself", "speed steps, filters and the like that no constant describes"
		}
		if basis != "" {
			means += " (" + string(basis) + ")"
		}
		t.row(name, percent(s.Share), "± "+picture.LongTime(math.Abs(s.Seconds)), means)
	}
	t.write(p.c.Out)
}

func (p *clockText) end(done, failed int) error {
	if len(p.parts) > 0 {
		var parts []picture.Part
		for _, k := range picture.Keys {
			if p.parts[k] {
				parts = append(parts, picture.Part{Key: k, Seconds: 1})
			}
		}
		fmt.Fprintf(p.c.Out, "\n%s\n", p.strip(0).Legend(parts, false))
		if p.assumed {
			fmt.Fprintln(p.c.Out, "built-in classes have assumed constants and wide intervals; needlepace learn fits your own machine")
		}
		fmt.Fprintln(p.c.Out, "speeds in stitches/min; ÷ rated is stitches ÷ rated speed, the figure that leaves out all but the first part")
	}
	if p.many {
		fmt.Fprintln(p.c.Out)
		summary(p.c.Out, done, failed, p.stitches, p.runs)
	}
	return nil
}

func (p *clockText) strip(width int) picture.TextStrip {
	return picture.TextStrip{Width: width, Colour: p.c.OutTerminal()}
}

// assumed reports whether nobody measured anything on this machine.
func assumed(s *machine.Sheet) bool {
	if s.Fit != nil {
		return false
	}
	for _, b := range s.BasisOf {
		if b != machine.Assumed {
			return false
		}
	}
	return true
}

func machineName(s *machine.Sheet) string {
	if s.Class == "" || s.Class == s.Name {
		return s.Name
	}
	return fmt.Sprintf("%s (%s)", s.Name, s.Class)
}

func intervalText(u *clock.Uncertainty) string {
	if u.High <= u.Low {
		return "the sheet gives no spreads: no interval"
	}
	return fmt.Sprintf("%.0f %% between %s and %s", u.Level*100, picture.ShortTime(u.Low), picture.ShortTime(u.High))
}

func shortBy(s float64) string {
	if s < 0.5 {
		return ""
	}
	return ": " + picture.LongTime(s) + " short"
}

func longNote(l clock.LongBy) string {
	var out []string
	for _, q := range []struct {
		name string
		s    float64
	}{{"frame x", l.FrameX}, {"frame y", l.FrameY}, {"turns", l.Turn}, {"ladder", l.Ladder}} {
		if q.s >= 0.05 {
			out = append(out, q.name+" "+picture.LongTime(q.s))
		}
	}
	return strings.Join(out, ", ")
}

func percent(share float64) string { return words.Share(share).Text(nil) }

func thousands(n int) string { return words.Whole(n).Text(nil) }

// table aligns columns; widths are counted in characters.
type table struct {
	indent string
	align  string // "l" or "r" a column
	rows   [][]string
}

func (t *table) row(cells ...string) { t.rows = append(t.rows, cells) }

// rule draws a line over the whole table.
func (t *table) rule() { t.rows = append(t.rows, nil) }

func (t *table) write(w io.Writer) {
	var width []int
	for _, r := range t.rows {
		for i, c := range r {
			if i == len(width) {
				width = append(width, 0)
			}
			width[i] = max(width[i], cells(c))
		}
	}
	all := 2 * (len(width) - 1)
	for _, n := range width {
		all += n
	}
	for _, r := range t.rows {
		if r == nil {
			fmt.Fprintf(w, "%s%s\n", t.indent, strings.Repeat("─", all))
			continue
		}
		var b strings.Builder
		for i, c := range r {
			if i > 0 {
				b.WriteString("  ")
			}
			pad := strings.Repeat(" ", width[i]-cells(c))
			if i < len(t.align) && t.align[i] == 'r' {
				b.WriteString(pad + c)
			} else {
				b.WriteString(c + pad)
			}
		}
		fmt.Fprintf(w, "%s%s\n", t.indent, strings.TrimRight(b.String(), " "))
	}
}

// cells is how many columns a text takes on a terminal, colour codes and
// line breaks not counted.
func cells(s string) int {
	n, code := 0, false
	for _, r := range s {
		switch {
		case r == '\x1b':
			code = true
		case code:
			code = r != 'm'
		case r != '\n':
			n++
		}
	}
	return n
}
