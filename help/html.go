package help

import (
	"bytes"
	"fmt"
	"html"
	"html/template"
	"net/url"
	"path"
	"regexp"
	"strings"
	"sync"

	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	east "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/renderer"
	ghtml "github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/util"
)

// HTML is the topic below its title, with links into other topics as the page has
// them. What is wider than a screen slides in a box of its own.
func (t *Topic) HTML() (template.HTML, error) {
	htmlOnce.Lock()
	defer htmlOnce.Unlock()
	if s, ok := htmlOf[t]; ok {
		return s, nil
	}
	r := renderer.NewRenderer(renderer.WithNodeRenderers(util.Prioritized(ghtml.NewRenderer(), 1000),
		util.Prioritized(extension.NewTableHTMLRenderer(
			extension.WithTableCellAlignMethod(extension.TableCellAlignAttribute)), 500), util.Prioritized(&boxes{topic: t}, 100)))
	var b bytes.Buffer
	if err := r.Render(&b, t.source, t.doc); err != nil {
		return "", err
	}
	// An empty corner of a table heads nothing.
	htmlOf[t] = template.HTML(emptyHead.ReplaceAllString(b.String(), "<td$1></td>"))
	return htmlOf[t], nil
}

var emptyHead = regexp.MustCompile(`<th([^>]*)></th>`)

var (
	htmlOnce sync.Mutex
	htmlOf   = map[*Topic]template.HTML{}
)

// boxes writes what the page has otherwise than plain HTML: no title (the page has
// it), links and pictures as the page serves them, boxes around what may be wide.
type boxes struct {
	topic *Topic
	head  string // the last heading
	n     int    // of boxes
}

// RegisterFuncs is called by the renderer.
func (b *boxes) RegisterFuncs(reg renderer.NodeRendererFuncRegisterer) {
	reg.Register(ast.KindHeading, b.heading)
	reg.Register(ast.KindLink, b.link)
	reg.Register(ast.KindImage, b.image)
	reg.Register(ast.KindFencedCodeBlock, b.code)
	reg.Register(ast.KindCodeBlock, b.code)
	reg.Register(east.KindTable, b.table)
}

func (b *boxes) heading(w util.BufWriter, source []byte, n ast.Node, in bool) (ast.WalkStatus, error) {
	h := n.(*ast.Heading)
	if h.Level == 1 && n.PreviousSibling() == nil {
		b.head = plainText(n, source)
		return ast.WalkSkipChildren, nil
	}
	if !in {
		fmt.Fprintf(w, "</h%d>\n", h.Level)
		return ast.WalkContinue, nil
	}
	b.head = plainText(n, source)
	id, _ := h.AttributeString("id")
	fmt.Fprintf(w, `<h%d id="%s">`, h.Level, html.EscapeString(fmt.Sprintf("%s", id)))
	return ast.WalkContinue, nil
}

func (b *boxes) link(w util.BufWriter, _ []byte, n ast.Node, in bool) (ast.WalkStatus, error) {
	to, ok := Served(string(n.(*ast.Link).Destination))
	tag := "a"
	if !ok { // of the source: said, not led to
		tag = "em"
	}
	switch {
	case !in:
		fmt.Fprintf(w, "</%s>", tag)
	case ok:
		fmt.Fprintf(w, `<a href="%s">`, html.EscapeString(to))
	default:
		fmt.Fprintf(w, "<em>")
	}
	return ast.WalkContinue, nil
}

// Served is where the page has what a link in docs/ leads to; not ok for a file of
// the source, which is not in the program.
func Served(link string) (to string, ok bool) {
	u, err := url.Parse(link)
	if err != nil {
		return "", false
	}
	switch file := path.Clean(u.Path); {
	case u.Host != "":
		return link, true
	case u.Path == "":
		return "#" + u.Fragment, u.Fragment != ""
	case strings.HasPrefix(file, "pictures/"):
		return Root + file, true
	case path.Ext(file) == ".md" && path.Dir(file) == ".":
		return address(strings.TrimSuffix(file, ".md"), u.Fragment), true
	}
	return "", false
}

func (b *boxes) image(w util.BufWriter, source []byte, n ast.Node, in bool) (ast.WalkStatus, error) {
	if !in {
		return ast.WalkContinue, nil
	}
	to, _ := Served(string(n.(*ast.Image).Destination))
	fmt.Fprintf(w, `<img src="%s" alt="%s" loading="lazy">`, html.EscapeString(to), html.EscapeString(plainText(n, source)))
	return ast.WalkSkipChildren, nil
}

// box opens a box that slides; its name tells it from the others of the page.
func (b *boxes) box(w util.BufWriter, class string) {
	b.n++
	fmt.Fprintf(w, `<div class="%s" tabindex="0" role="region" aria-label="%s, %d">`, class, html.EscapeString(b.head), b.n)
}

func (b *boxes) code(w util.BufWriter, source []byte, n ast.Node, in bool) (ast.WalkStatus, error) {
	if in {
		b.box(w, "printed")
		fmt.Fprintf(w, "<pre><code>%s</code></pre></div>\n", html.EscapeString(string(n.Lines().Value(source))))
	}
	return ast.WalkSkipChildren, nil
}

func (b *boxes) table(w util.BufWriter, _ []byte, _ ast.Node, in bool) (ast.WalkStatus, error) {
	if in {
		b.box(w, "tablebox")
		_, _ = w.WriteString("<table>\n") // a buffer
	} else {
		_, _ = w.WriteString("</table></div>\n")
	}
	return ast.WalkContinue, nil
}
