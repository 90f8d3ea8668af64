package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/words"
)

// writeTable lays a table of an answer out as text. more is one more cell for
// each row, its heading first.
func writeTable(w io.Writer, t *ask.Table, indent string, more ...string) {
	out := layTable(t, indent, nil)
	for i, cell := range more {
		if i > 0 {
			i++ // the rule
		}
		out.rows[i] = append(out.rows[i], cell)
	}
	out.write(w)
}

// layTable is a table of an answer as text: the headings, a rule, the rows.
// Columns that stand empty in every row are left out.
func layTable(t *ask.Table, indent string, by *words.Writer) *table {
	headings, rows := t.Shown(by)
	used := make([]bool, len(headings))
	for _, r := range rows {
		for i, s := range r {
			used[i] = used[i] || s != "" && s != words.None{}.Text(nil)
		}
	}
	pick := func(all []string) (out []string) {
		for i, s := range all {
			if used[i] || len(rows) == 0 {
				out = append(out, s)
			}
		}
		return out
	}
	out := &table{indent: indent}
	n := 0
	for _, c := range t.Columns {
		if c.File {
			continue
		}
		if n++; !used[n-1] && len(rows) > 0 {
			continue
		}
		if c.Number {
			out.align += "r"
		} else {
			out.align += "l"
		}
	}
	out.row(pick(headings)...)
	out.rule()
	for _, r := range rows {
		out.row(pick(r)...)
	}
	if foot := t.ShownFoot(by); foot != nil {
		out.rule()
		out.row(pick(foot)...)
	} else if all, _ := out.width(); all > widest && len(rows) <= fewSide && !strings.Contains(out.align[1:], "l") {
		return out.turned()
	}
	return out
}

// A table of figures that is wider than this many columns and has no more rows than that is turned: its
// rows stand side by side.
const (
	widest  = 160
	fewSide = 4
)

// turned is a table, without a foot, with a row for each of its columns.
func (t *table) turned() *table {
	out := &table{indent: t.indent}
	for i := range t.rows[0] {
		var row []string
		for k, r := range t.rows {
			if k != 1 { // the rule
				row = append(row, r[i])
			}
		}
		out.row(row...)
		if i == 0 {
			out.rule()
			out.align = "l" + strings.Repeat("r", len(row)-1)
		}
	}
	return out
}

// width is how wide a table is without its indent, and each of its columns.
func (t *table) width() (all int, width []int) {
	for _, r := range t.rows {
		for i, c := range r {
			if i == len(width) {
				width = append(width, 0)
			}
			width[i] = max(width[i], cells(c))
		}
	}
	all = 2 * (len(width) - 1)
	for _, n := range width {
		all += n
	}
	return all, width
}

// leastWide is how narrow a column of text becomes at most.
const leastWide = 9

// fit breaks the cells of text columns, the widest first, until the table is no
// wider than most columns of a terminal.
func (t *table) fit(most int) {
	all, width := t.width()
	for all += len(t.indent); all > most; all-- {
		widest := -1
		for i := range min(len(width), len(t.align)) {
			if t.align[i] == 'l' && width[i] > leastWide && (widest < 0 || width[i] > width[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		width[widest]--
	}
	var rows [][]string
	for _, r := range t.rows {
		if r == nil {
			rows = append(rows, nil)
			continue
		}
		for more := true; more; {
			line, rest := slices.Clone(r), make([]string, len(r))
			more = false
			for i, c := range r {
				if cells(c) > width[i] {
					line[i], rest[i] = broken(c, width[i])
					more = more || rest[i] != ""
				}
			}
			rows, r = append(rows, line), rest
		}
	}
	t.rows = rows
}

// broken is as much of a text as fits a width, whole words where one does, and
// the rest.
func broken(s string, width int) (line, rest string) {
	all := []rune(s)
	at := width
	for i := range width + 1 {
		if all[i] == ' ' && i > 0 {
			at = i
		}
	}
	return string(all[:at]), strings.TrimLeft(string(all[at:]), " ")
}

// writeSentences writes each sentence on a line of its own, after a mark.
func writeSentences(w io.Writer, mark string, s words.Sentences) {
	for _, m := range s {
		writeLine(w, mark, m)
	}
}

// writeLine writes a text after a mark, broken where the output is narrower.
func writeLine(w io.Writer, mark string, text interface{ Text(*words.Writer) string }) {
	breakLine(w, mark, text.Text(nil))
}

// breakLine is writeLine of a text that is written out.
func breakLine(w io.Writer, mark, text string) {
	width, at := outWidth(w), cells(mark)
	fmt.Fprint(w, mark)
	var together []string // no line ends between a number and its % or its ±
	for i, word := range strings.Fields(text) {
		if k := len(together) - 1; i > 0 && (strings.HasPrefix(word, "%") || strings.HasSuffix(together[k], "±")) {
			together[k] += " " + word
		} else {
			together = append(together, word)
		}
	}
	for i, word := range together {
		switch n := cells(word); {
		case i == 0:
			fmt.Fprint(w, word)
			at += n
		case at+1+n > width:
			fmt.Fprintf(w, "\n%*s%s", cells(mark), "", word)
			at = cells(mark) + n
		default:
			fmt.Fprint(w, " ", word)
			at += 1 + n
		}
	}
	fmt.Fprintln(w)
}
