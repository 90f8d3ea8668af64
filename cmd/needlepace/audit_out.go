package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"needlepace/ask"
	"needlepace/words"
)

// shown is how many findings of a kind are listed without --all.
const shown = 5

func (a *AuditCmd) text(w io.Writer, x *ask.AuditAnswer) {
	auditHead(w, x.Of, x.Warnings)
	fmt.Fprintln(w)
	writeSentences(w, "  ", x.Verdict)
	writeSentences(w, "  ! ", x.Caveats)
	for _, s := range x.NotLookedAt {
		writeLine(w, "  ! ", s)
	}
	if x.ThreadsFrom != "" {
		writeLine(w, "  ", words.Name("Which blocks share a thread: from "+x.ThreadsFrom+"."))
	}
	if x.Since != nil {
		fmt.Fprintln(w)
		writeLine(w, "  ", x.Since.Verdict)
		if len(x.Since.Points) > 0 {
			writeTable(w, x.Since.SinceTable(), "  ")
		}
	}
	if len(x.Findings) == 0 {
		return
	}
	fmt.Fprintln(w)
	writeTable(w, x.KindTable(), "  ")
	for _, k := range x.Kinds() {
		title := k.Title().Text(nil)
		fmt.Fprintf(w, "\n%s\n", strings.ToUpper(title[:1])+title[1:])
		t := table{indent: "  ", align: "rrlll"}
		for i := range k.Findings {
			f := &k.Findings[i]
			if i >= shown && !a.All {
				continue
			}
			t.row(fmt.Sprint(f.Number), f.Cost().Text(nil), f.Place().Text(nil),
				at(f.X, f.Y), f.What.Text(nil))
			for i := range f.Places {
				if p := &f.Places[i]; a.All {
					t.row("", p.Cost().Text(nil), p.Where().Text(nil), at(p.X, p.Y), p.What.Text(nil))
				}
			}
		}
		t.write(w)
		if more := len(k.Findings) - shown; more > 0 && !a.All {
			fmt.Fprintf(w, "  … and %s more (--all)\n", thousands(more))
		}
		writeLine(w, "  → ", k.Findings[0].Ask)
	}
	fmt.Fprintln(w,
		"\n  What can be mended without changing the picture: needlepace mend. The rest is for the digitizer.")
}

func at(x, y float64) string {
	return fmt.Sprintf("at (%d, %d) mm", int(math.Round(x)), int(math.Round(y)))
}

// auditHead is the first line of an audit or a mend, and what the file's reader
// noticed.
func auditHead(w io.Writer, d *ask.Design, warnings []string) {
	fmt.Fprintf(w, "%s: %s, %s\n", printable(d.File), plural(d.Counts.Stitches, "stitch"),
		plural(d.Counts.ColourStops+1, "colour block"))
	for _, warn := range warnings {
		writeLine(w, "  ! ", words.Name(warn))
	}
}
