package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/picture"
	"needlepace/words"
)

// clockText prints for people: the answer first, the reason after it.
type clockText struct {
	c     *Ctx
	a     *ClockCmd
	many  bool
	parts map[picture.Key]bool // seen, for the legend

	begun   bool
	assumed bool // a sheet with nothing but assumed constants was shown
}

func (p *clockText) design(d clockedDesign) error {
	w := p.c.Out
	if p.begun {
		fmt.Fprintln(w)
	}
	p.begun = true
	n := d.of.Counts
	head := []string{plural(n.Stitches, "stitch"), plural(n.ColourStops+1, "colour block")}
	if r := d.on[0]; r.Trims > 0 {
		head = append(head, plural(r.Trims, "trim"))
	}
	if !n.Bounds.Empty {
		head = append(head, words.Size{W: n.Bounds.WidthMM(), H: n.Bounds.HeightMM()}.Text(nil))
	}
	if label := d.of.Label(); label != "" {
		head = append(head, fmt.Sprintf("labelled %q", label))
	}
	fmt.Fprintf(w, "%s: %s\n", printable(d.file), strings.Join(head, ", "))
	if len(d.on) == 1 && !p.many {
		p.one(d.on[0])
	} else {
		p.several(&d)
	}
	for _, a := range d.on {
		if a.Blocks != nil {
			p.blocks(a)
		}
		if a.Kinds != nil && len(d.on) == 1 {
			fmt.Fprintf(w, "\n%s\n", a.KindsTable().Caption.Text(nil))
			writeTable(w, a.KindsTable(), "  ")
		}
		if a.Swept != nil {
			fmt.Fprintln(w)
			fmt.Fprintln(w, a.Swept.Table().Caption.Text(nil))
			writeTable(w, a.Swept.Table(), "  ")
			writeSentences(w, "  ", a.Swept.Verdict)
		}
		if p.a.Why {
			p.why(a)
		}
	}
	if d.on[0].Kinds != nil && len(d.on) > 1 {
		t := ask.KindsOnTable(d.on)
		fmt.Fprintf(w, "\n%s\n", t.Caption.Text(nil))
		writeTable(w, t, "")
	}
	return nil
}

// one is a design on one machine: large.
func (p *clockText) one(a *ask.ClockAnswer) {
	w := p.c.Out
	fmt.Fprintf(w, "\n  %s   %s\n", long(a.Seconds), a.Verdict[0].Text(nil))
	writeSentences(w, "  ", a.Verdict[1:])
	writeSentences(w, "  ! ", a.Caveats)
	for _, warn := range a.Warnings {
		writeLine(w, "  ! ", words.Name(warn))
	}
	fmt.Fprintln(w)
	ts := p.strip(min(p.c.OutWidth()-4, 72))
	fmt.Fprintf(w, "  %s\n", ts.Bar(picture.PartsOf(a.Parts), 0))
	seconds := a.SecondsTable()
	t := layTable(seconds, "  ", nil)
	for i, row := range seconds.Rows {
		if k, ok := picture.KeyNamed(row[0].Raw()); ok {
			t.rows[i+2][0] = ts.Glyph(k) + " " + t.rows[i+2][0]
		}
	}
	t.rule()
	t.row("  "+words.Say("clock.run-time", nil).Text(nil), long(a.Seconds))
	t.write(w)
	fmt.Fprintf(w, "\n  %s\n", a.ThreadSentence().Text(nil))
}

// several is a design on machines side by side, strips on one time axis.
func (p *clockText) several(d *clockedDesign) {
	for _, warn := range d.of.FileWarnings() {
		writeLine(p.c.Out, "  ! ", words.Name(warn))
	}
	top := 0.0
	for _, a := range d.on {
		top = math.Max(top, a.Seconds)
	}
	strips := []string{words.Say("clock.where-column").Text(nil)}
	ts := p.strip(max(16, min(p.c.OutWidth()-80, 40)))
	ts.Max = top
	for _, a := range d.on {
		p.assumed = p.assumed || len(a.Caveats) > 0
		p.see(a.Parts)
		strips = append(strips, ts.Bar(picture.PartsOf(a.Parts), 0))
	}
	writeTable(p.c.Out, ask.ClockTable(d.on...), "", strips...)
	notes := map[string][]string{}
	var order []string
	for _, a := range d.on {
		for _, text := range a.RunWarnings() {
			if notes[text] == nil {
				order = append(order, text)
			}
			notes[text] = append(notes[text], a.Machine)
		}
	}
	for _, text := range order {
		who := strings.Join(notes[text], ", ")
		if len(notes[text]) == len(d.on) {
			who = "all"
		}
		writeLine(p.c.Out, "  ! ", words.Name(who+": "+text))
	}
	if !p.many {
		fmt.Fprintln(p.c.Out)
		parts := ask.PartsTable(d.on)
		fmt.Fprintln(p.c.Out, parts.Caption.Text(nil))
		writeTable(p.c.Out, parts, "")
	}
}

// see notes the parts that were shown, for the legend.
func (p *clockText) see(parts clock.Parts) {
	for _, part := range picture.PartsOf(parts) {
		p.parts[part.Key] = true
	}
}

func (p *clockText) blocks(a *ask.ClockAnswer) {
	blocks := a.BlocksTable()
	fmt.Fprintf(p.c.Out, "\n%s\n", blocks.Caption.Text(nil))
	strips := []string{words.Say("clock.where-column").Text(nil)}
	ts := p.strip(max(16, min(p.c.OutWidth()-60, 40)))
	for _, b := range a.Blocks {
		ts.Max = math.Max(ts.Max, b.Seconds)
	}
	for _, b := range a.Blocks {
		p.see(b.Parts)
		strips = append(strips, ts.Bar(picture.PartsOf(b.Parts), 0))
	}
	writeTable(p.c.Out, blocks, "  ", strips...)
	fmt.Fprintf(p.c.Out, "  %s\n", words.Say("clock.blocks-are").Text(nil))
}

func (p *clockText) why(a *ask.ClockAnswer) {
	why := a.WhyTable()
	fmt.Fprintln(p.c.Out)
	if len(why.Rows) == 0 {
		writeSentences(p.c.Out, "", []words.Message{words.Say("clock.why-not",
			words.Args{"machine": words.Name(a.Machine)})})
		return
	}
	fmt.Fprintln(p.c.Out, why.Caption.Text(nil))
	writeTable(p.c.Out, why, "  ")
	if a.Teaches != nil {
		fmt.Fprintln(p.c.Out)
		writeSentences(p.c.Out, "", a.Teaches.Verdict)
	}
}

func (p *clockText) end() error {
	if len(p.parts) > 0 {
		fmt.Fprintf(p.c.Out, "\n%s\n", legend(p.strip(0), p.parts))
		if p.assumed {
			fmt.Fprintln(p.c.Out,
				"built-in classes have assumed constants and wide intervals; needlepace learn fits your own machine")
		}
		fmt.Fprintln(p.c.Out,
			"speeds in stitches/min; the usual sum is stitches ÷ rated speed, which leaves out all but the first part")
	}
	if p.many {
		fmt.Fprintln(p.c.Out)
	}
	return nil
}

func (p *clockText) strip(width int) picture.TextStrip {
	return picture.TextStrip{Width: width, Colour: p.c.OutTerminal()}
}

// legend names the parts of time that were seen.
func legend(ts picture.TextStrip, seen map[picture.Key]bool) string {
	var parts []picture.Part
	for _, k := range picture.Keys {
		if seen[k] {
			parts = append(parts, picture.Part{Key: k, Seconds: 1})
		}
	}
	return ts.Legend(parts, false)
}

func thousands(n int) string { return words.Whole(n).Text(nil) }

func long(s float64) string { return words.Seconds(s).Text(nil) }

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
	if isTerminal(w) {
		t.fit(outWidth(w))
	}
	all, width := t.width()
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
