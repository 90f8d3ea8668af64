package machine

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"needlepace/internal/tomlfile"
)

// TOML writes the sheet as a file in the order of MODEL section 6, each
// constant with its unit and meaning in a comment. Parse reads a valid sheet
// back exactly.
func (s *Sheet) TOML() []byte {
	w := &sheetWriter{}
	w.comment("A machine sheet: how fast this machine can sew. See docs/machine-sheets.md.")
	w.comment("Follow the machine's manual and local rules wherever they ask for less speed.")
	if s.Pool != nil && s.Fit == nil {
		w.comment("A class of machines: " + s.Pool.Words().Raw() + ".")
	}
	w.line("name = "+quote(s.Name), "the shop's own name")
	w.line("class = "+quote(s.Class), "what kind of machine it is")
	table := ""
	for i, c := range Constants {
		if c.Absent(s) && !c.neededBy(s) {
			continue
		}
		t, leaf := tomlfile.Split(c.Path)
		if t == "ladder" {
			continue // written with its table
		}
		if t != table {
			if table == "frame" {
				w.ladder(s.Ladder)
				w.correction(s.Correction)
			}
			table = t
			w.table(t)
			if t == "travel" {
				w.line("mode = "+quote(s.Travel.Mode),
					`"frame": the frame moves while the shaft stands; "shaft": every jump takes a revolution`)
			}
		}
		w.line(leaf+" = "+number(c.Get(s)), c.comment())
		if t == "travel" && (i+1 == len(Constants) || !strings.HasPrefix(Constants[i+1].Path, "travel.")) {
			w.line(fmt.Sprint("return_to_start = ", s.Travel.ReturnToStart),
				"true if the frame goes back to (0, 0) at the end")
		}
	}
	w.spreads(s)
	w.bases(s)
	if s.Fit != nil {
		w.fit(s.Fit)
		if s.Fit.Evidence != nil {
			w.evidence(s.Fit.Evidence)
		}
	}
	if s.Pool != nil {
		w.pool(s.Pool)
	}
	w.flush()
	return w.out.Bytes()
}

// comment is the unit, the meaning and the default of a constant.
func (c Constant) comment() string {
	text := c.Means().Raw()
	if c.Unit != "" {
		text = c.Unit + ": " + text
	}
	return text
}

// sheetWriter aligns the comments of each table.
type sheetWriter struct {
	out   bytes.Buffer
	lines [][2]string // of the table being written: text, comment
}

func (w *sheetWriter) line(text, comment string) {
	w.lines = append(w.lines, [2]string{text, comment})
}

func (w *sheetWriter) comment(text string) {
	w.flush()
	w.out.WriteString("# " + text + "\n")
}

func (w *sheetWriter) table(name string) {
	w.flush()
	w.out.WriteString("\n[" + name + "]\n")
}

func (w *sheetWriter) flush() {
	const widest = 40 // columns; a longer line does not push the comments out
	width := 0
	for _, l := range w.lines {
		if n := utf8.RuneCountInString(l[0]); n <= widest {
			width = max(width, n)
		}
	}
	for _, l := range w.lines {
		w.out.WriteString(l[0])
		if l[1] != "" {
			pad := max(width-utf8.RuneCountInString(l[0]), 0)
			w.out.WriteString(strings.Repeat(" ", pad) + "  # " + l[1])
		}
		w.out.WriteByte('\n')
	}
	w.lines = w.lines[:0]
}

func (w *sheetWriter) ladder(l Ladder) {
	w.table("ladder")
	w.line("length = "+numberList(l.Length), "mm, ascending: up to this stitch length …")
	w.line("speed = "+numberList(l.Speed), "stitches/min: … the controller allows this speed; empty is no limit")
	if c, _ := ConstantAt("ladder.by_axis"); l.ByAxis != 0 {
		w.line(fmt.Sprint("by_axis = ", l.ByAxis), c.comment())
	}
}

// correction writes the tables that are there.
func (w *sheetWriter) correction(c Correction) {
	if len(c.Length)+len(c.Factor)+len(c.TurnAngle)+len(c.TurnFactor) == 0 {
		return
	}
	w.table("correction")
	w.line("length = "+numberList(c.Length), "mm, ascending: at this stitch length …")
	w.line("factor = "+numberList(c.Factor), "… the frame takes this much of the law's time, 1 is none of it changed")
	w.line("turn_angle = "+numberList(c.TurnAngle), "degrees, ascending: at this turn …")
	w.line("turn_factor = "+numberList(c.TurnFactor), "… the frame takes this much of the law's time")
}

// spreads writes [sd] in the order of AllConstants.
func (w *sheetWriter) spreads(s *Sheet) {
	if len(s.SD) == 0 {
		return
	}
	w.flush()
	w.out.WriteByte('\n')
	w.comment("How sure the constants are: relative standard deviation (log-normal), 0.25 is")
	w.comment("about 25 % either way. A constant that is not here counts as exact.")
	w.parallel("sd", func(c Constant) (string, bool) {
		v, ok := s.SD[c.Path]
		return number(v), ok
	})
}

// bases writes [basis] in the order of AllConstants.
func (w *sheetWriter) bases(s *Sheet) {
	if len(s.BasisOf) == 0 {
		return
	}
	w.flush()
	w.out.WriteByte('\n')
	w.comment(`Where the constants are from: "assumed", "pooled" (learned on other machines of the`)
	w.comment(`class), "spec" (the manual or data plate), "measured" or "fitted" (learned from timed runs).`)
	w.parallel("basis", func(c Constant) (string, bool) {
		v, ok := s.BasisOf[c.Path]
		return quote(string(v)), ok
	})
}

// parallel writes the tables that say something of each constant.
func (w *sheetWriter) parallel(name string, value func(Constant) (string, bool)) {
	last := "\x00" // no table
	for _, c := range AllConstants {
		v, ok := value(c)
		if !ok {
			continue
		}
		t, leaf := tomlfile.Split(c.Path)
		switch {
		case t == last:
		case last == "\x00":
			w.flush()
			w.out.WriteString("[" + strings.TrimSuffix(name+"."+t, ".") + "]\n")
		default:
			w.table(strings.TrimSuffix(name+"."+t, "."))
		}
		last = t
		w.line(leaf+" = "+v, "")
	}
}

func (w *sheetWriter) fit(f *Fit) {
	w.flush()
	w.out.WriteByte('\n')
	w.comment("What learning left behind. Do not edit: change a constant and remove this table instead.")
	w.out.WriteString("[fit]\n")
	w.line(fmt.Sprint("runs = ", f.Runs), "timed observations used")
	w.line("date = "+quote(f.Date.String()), "of the newest observation")
	w.line(fmt.Sprint("model_version = ", f.ModelVersion), "another version of the model means: fit again")
	w.line("digest = "+quote(f.Digest), "SHA-256 of the observations")
	w.line("residual = "+number(f.Residual), "relative: how far whole runs lie from the model beyond what the "+
		"spreads explain")
	if f.Changes > 0 {
		w.line("changes = "+number(f.Changes), "relative: how far one colour change or stop lies from the next")
	}
	if f.Weight > 0 {
		w.line("terms = "+quotedList(f.Terms), "of the law, that the runs speak for")
		w.line("weight = "+number(f.Weight), "chance of this kind of machine")
	}
	if len(f.Also) > 0 {
		w.line("also = [", "other kinds of machine that the runs may have been timed on")
		for i := range f.Also {
			w.line("  "+quote(f.Also[i].String())+",", "")
		}
		w.line("]", "")
	}
	if len(f.Jobs) > 0 {
		jobs := make([]string, len(f.Jobs))
		for i, j := range f.Jobs {
			jobs[i] = j.String()
		}
		w.line("jobs = "+quotedList(jobs), "how many of the runs were of which kinds of job")
	}
	w.line("constants = "+quotedList(f.Constants), "")
	w.line("correlation = [", "of the logarithms of the constants")
	for _, row := range f.Correlation {
		w.line("  "+numberList(row)+",", "")
	}
	w.line("]", "")
}

func numberList(fs []float64) string {
	texts := make([]string, len(fs))
	for i, f := range fs {
		texts[i] = number(f)
	}
	return "[" + strings.Join(texts, ", ") + "]"
}

// quote is a TOML basic string. Bytes that are not UTF-8, which no valid
// sheet has, become the replacement character.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range s {
		switch {
		case c == '"' || c == '\\':
			b.WriteByte('\\')
			b.WriteRune(c)
		case c == '\n':
			b.WriteString(`\n`)
		case c == '\t':
			b.WriteString(`\t`)
		case c < ' ' || c == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, c)
		default:
			b.WriteRune(c)
		}
	}
	b.WriteByte('"')
	return b.String()
}
