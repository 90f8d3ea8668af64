package help

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	east "github.com/yuin/goldmark/extension/ast"
)

// The text is wrapped to a width between these.
const narrowest, widest = 40, 100

// Text is the topic for a terminal so many columns wide: wrapped, tables in columns,
// what programs print as it is.
func (t *Topic) Text(width int) string {
	p := &printer{source: t.source, width: max(narrowest, min(width, widest))}
	p.blocks(t.doc, "")
	return strings.TrimLeft(p.out.String(), "\n")
}

type printer struct {
	source []byte
	width  int
	out    strings.Builder
}

// line writes one line, without spaces at its end.
func (p *printer) line(s string) { p.out.WriteString(strings.TrimRight(s, " ") + "\n") }

func (p *printer) blocks(parent ast.Node, indent string) {
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		p.block(n, indent)
	}
}

func (p *printer) block(n ast.Node, indent string) {
	switch n := n.(type) {
	case *ast.Heading:
		title := p.inline(n)
		p.line("")
		p.line(indent + title)
		p.line(indent + strings.Repeat([]string{"=", "-"}[min(n.Level-1, 1)], utf8.RuneCountInString(title)))
	case *ast.FencedCodeBlock, *ast.CodeBlock:
		p.line("")
		for l := range strings.Lines(string(n.Lines().Value(p.source))) {
			p.line(indent + "    " + strings.TrimRight(l, "\n"))
		}
	case *ast.List:
		p.list(n, indent)
	case *ast.Blockquote:
		p.blocks(n, indent+"  ")
	case *east.Table:
		p.table(n, indent)
	case *ast.ThematicBreak:
		p.line("")
	default:
		if p.separate(n) {
			p.line("")
		}
		p.wrapped(p.inline(n), indent, indent)
	}
}

// separate reports whether a line is left free before a text: not where it is the
// first of an item of a list.
func (p *printer) separate(n ast.Node) bool {
	_, item := n.Parent().(*ast.ListItem)
	return !item || n.PreviousSibling() != nil
}

func (p *printer) list(l *ast.List, indent string) {
	if _, inner := l.Parent().(*ast.ListItem); !inner {
		p.line("")
	}
	i := max(l.Start, 1)
	for item := l.FirstChild(); item != nil; item = item.NextSibling() {
		mark := "- "
		if l.IsOrdered() {
			mark = strconv.Itoa(i) + ". "
			i++
		}
		within := indent + strings.Repeat(" ", len(mark))
		first := item.FirstChild()
		if first == nil {
			p.line(indent + mark)
			continue
		}
		p.wrapped(p.inline(first), indent+mark, within)
		for n := first.NextSibling(); n != nil; n = n.NextSibling() {
			p.block(n, within)
		}
	}
}

// wrapped writes a text over as many lines as it takes.
func (p *printer) wrapped(s, first, next string) {
	for i, l := range wrap(s, p.width-utf8.RuneCountInString(next)) {
		if i == 0 {
			p.line(first + l)
		} else {
			p.line(next + l)
		}
	}
}

// wrap cuts a text into lines of at most width signs, at spaces; a longer word stands
// alone on its line.
func wrap(s string, width int) (lines []string) {
	var b strings.Builder
	n := 0
	for _, w := range strings.Fields(s) {
		k := utf8.RuneCountInString(w)
		if n > 0 && n+1+k > width {
			lines, n = append(lines, b.String()), 0
			b.Reset()
		}
		if n > 0 {
			b.WriteByte(' ')
			n++
		}
		b.WriteString(w)
		n += k
	}
	return append(lines, b.String())
}

// inline is a text in one line. A link to another topic says its name.
func (p *printer) inline(n ast.Node) string {
	var b strings.Builder
	_ = ast.Walk(n, func(n ast.Node, in bool) (ast.WalkStatus, error) { // nothing fails
		switch n := n.(type) {
		case *ast.Text:
			if in {
				b.Write(n.Value(p.source))
				if n.SoftLineBreak() || n.HardLineBreak() {
					b.WriteByte(' ')
				}
			}
		case *ast.String:
			if in {
				b.Write(n.Value)
			}
		case *ast.CodeSpan:
			b.WriteByte('`')
		case *ast.Image:
			if in {
				b.WriteString("[" + plainText(n, p.source) + "]")
			}
			return ast.WalkSkipChildren, nil
		case *ast.Link:
			to, ok := Served(string(n.Destination))
			if topic, ours := strings.CutPrefix(to, Root); !in && ok && ours && !strings.HasPrefix(topic, "pictures/") {
				topic, _, _ = strings.Cut(topic, "#")
				b.WriteString(" (needlepace help " + topic + ")")
			}
		}
		return ast.WalkContinue, nil
	})
	return strings.Join(strings.Fields(b.String()), " ")
}

// Between two columns of a table, and the least that a column is narrowed to.
const (
	gutter   = "  "
	leastCol = 8
)

func (p *printer) table(t *east.Table, indent string) {
	var rows [][]string
	for r := t.FirstChild(); r != nil; r = r.NextSibling() {
		var row []string
		for c := r.FirstChild(); c != nil; c = c.NextSibling() {
			row = append(row, p.inline(c))
		}
		rows = append(rows, row)
	}
	wide := widths(rows, p.width-len(indent))
	p.line("")
	for i, row := range rows {
		cells, tall := make([][]string, len(row)), 0
		for k, c := range row {
			cells[k] = wrap(c, wide[k])
			tall = max(tall, len(cells[k]))
		}
		for l := range tall {
			var b strings.Builder
			b.WriteString(indent)
			for k := range cells {
				s := ""
				if l < len(cells[k]) {
					s = cells[k][l]
				}
				b.WriteString(s + strings.Repeat(" ", max(0, wide[k]-utf8.RuneCountInString(s))) + gutter)
			}
			p.line(b.String())
		}
		if i == 0 {
			rule := indent
			for _, w := range wide {
				rule += strings.Repeat("─", w) + gutter
			}
			p.line(rule)
		}
	}
}

// widths are those of a table's columns: what they hold, the widest narrowed until
// the table fits.
func widths(rows [][]string, most int) []int {
	wide := make([]int, len(rows[0]))
	for _, row := range rows {
		for k, c := range row {
			wide[k] = max(wide[k], utf8.RuneCountInString(c))
		}
	}
	sum := func() int {
		n := (len(wide) - 1) * len(gutter)
		for _, w := range wide {
			n += w
		}
		return n
	}
	for over := sum() - most; over > 0; over = sum() - most {
		k := 0
		for i := range wide {
			if wide[i] > wide[k] {
				k = i
			}
		}
		if wide[k] <= leastCol {
			break
		}
		wide[k]--
	}
	return wide
}
