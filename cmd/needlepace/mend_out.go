package main

import (
	"fmt"
	"io"
	"strings"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/words"
)

// mendRow is the written contract of mend --json (docs/reading-an-audit.md):
// changes only add keys.
type mendRow struct {
	Design  string `json:"design"`
	File    string `json:"file"`
	Out     string `json:"out"`
	Written bool   `json:"written"`
	*ask.MendAnswer
}

func (a *MendCmd) text(c *Ctx, x *ask.MendAnswer) {
	w := c.Out
	auditHead(w, x.Of, x.Warnings)
	fmt.Fprintln(w)
	writeSentences(w, "  ", x.Verdict)
	if x.ThreadsFrom != "" {
		writeLine(w, "  ", words.Name("Which blocks share a thread: from "+x.ThreadsFrom+"."))
	}
	if x.Changed {
		ts := picture.TextStrip{Width: min(c.OutWidth()-12, 64), Colour: c.OutTerminal(), Max: x.Before.Seconds}
		fmt.Fprintf(w, "\n  before  %s\n", ts.Bar(picture.PartsOf(x.Before.Parts), 0))
		fmt.Fprintf(w, "  after   %s\n", ts.Bar(picture.PartsOf(x.After.Parts), x.Saved))
		fmt.Fprintf(w, "          %s\n\n", ts.Legend(picture.PartsOf(x.Before.Parts), false))
		writeTable(w, x.ChangesTable(), "  ")
		for _, ch := range x.Changes {
			if len(ch.Stitches) > 0 {
				fmt.Fprintf(w, "  dropped: stitches %s\n", listed(ch.Stitches, 20))
			}
		}
		if x.Rethreaded() {
			captioned(w, x.ColoursTable())
		}
		if len(x.Machines) > 1 {
			captioned(w, x.MachinesTable())
		}
		fmt.Fprintf(w, "\n  before %s\n  after  %s\n", x.Proof.DigestBefore, x.Proof.DigestAfter)
		fmt.Fprintf(w, "  written: %s, %s bytes, read back the same\n", a.Output, thousands(len(x.Content)))
	} else {
		fmt.Fprintf(w, "  %s was not written\n", a.Output)
	}
	if len(x.Kept) > 0 {
		captioned(w, x.KeptTable())
	}
	fmt.Fprintln(w)
	writeSentences(w, "  ! ", x.Caveats)
}

// captioned writes a table under its caption.
func captioned(w io.Writer, t *ask.Table) {
	fmt.Fprintf(w, "\n  %s\n", t.Caption.Text(nil))
	writeTable(w, t, "  ")
}

// listed is the first few of some numbers.
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
		b.WriteString(thousands(k))
	}
	return b.String()
}
