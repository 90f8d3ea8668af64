// Package help is the documentation (docs/) for reading in the program: topics,
// as HTML for the page and as text for a terminal, and a search over them. The
// glossary among them is made from package words, which has each coined word once.
package help

import (
	"bytes"
	"cmp"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"
	"unicode"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"
	"golang.org/x/text/unicode/norm"

	"needlepace/docs"
)

// Root is where the page has the topics.
const Root = "/help/"

// Glossary is the topic that has each coined word.
const Glossary = "glossary"

// Topic is one page of the documentation.
type Topic struct {
	Name     string // as it is asked for: its file without .md
	Title    string // its first heading
	Lead     string // its first paragraph, plain
	Sections []Section

	source []byte
	doc    ast.Node
}

// Section is what stands under one heading of a topic; the first is under its title.
type Section struct {
	ID    string // of the heading, for #ID; empty for the first
	Title string
	Level int    // 1 for the title, 2 for a heading, …
	words string // what stands there, folded
}

// first are the topics in the order in which a newcomer meets what they are about;
// the others follow by their names.
var first = []string{"first-steps", "model", "machine-sheets", "how-to-time-a-machine", "listening", "reading-an-audit",
	"kinds-of-stitches", "stitch-files", "what-a-shift-yields", "comparing-machines", "trials", "orders-and-plan",
	"keeping-the-shop", Glossary, "json"}

var markdown = goldmark.New(goldmark.WithExtensions(extension.Table), goldmark.WithParserOptions(parser.WithAutoHeadingID()))

// Topics are all topics, those of daily use first.
func Topics() []*Topic { return topics() }

var topics = sync.OnceValue(func() []*Topic {
	files, err := fs.Glob(docs.Files, "*.md")
	if err != nil {
		panic(err) // the pattern is ours
	}
	var out []*Topic
	for _, file := range files {
		b, err := docs.Files.ReadFile(file)
		if err != nil {
			panic(err) // built in
		}
		out = append(out, parse(strings.TrimSuffix(file, ".md"), b))
	}
	place := func(t *Topic) int {
		if i := slices.Index(first, t.Name); i >= 0 {
			return i
		}
		return len(first)
	}
	slices.SortStableFunc(out, func(a, b *Topic) int { return cmp.Or(place(a)-place(b), strings.Compare(a.Name, b.Name)) })
	return out
})

func parse(name string, source []byte) *Topic {
	t := &Topic{Name: name, Title: name, source: source, doc: markdown.Parser().Parse(text.NewReader(source))}
	for n := t.doc.FirstChild(); n != nil; n = n.NextSibling() {
		if h, ok := n.(*ast.Heading); ok {
			s := Section{Title: plainText(h, source), Level: h.Level}
			if len(t.Sections) == 0 {
				t.Title = s.Title
			} else if id, ok := h.AttributeString("id"); ok {
				s.ID = fmt.Sprintf("%s", id)
			}
			t.Sections = append(t.Sections, s)
		} else if t.Lead == "" && n.Kind() == ast.KindParagraph {
			t.Lead = plainText(n, source)
		}
		if len(t.Sections) > 0 {
			s := &t.Sections[len(t.Sections)-1]
			s.words += " " + fold(plainText(n, source))
		}
	}
	return t
}

// Find is a topic by its name.
func Find(name string) (*Topic, bool) {
	i := slices.IndexFunc(Topics(), func(t *Topic) bool { return t.Name == name })
	if i < 0 {
		return nil, false
	}
	return Topics()[i], true
}

// Has reports whether the topic has a heading of an ID; "" is its title.
func (t *Topic) Has(id string) bool {
	return id == "" || slices.ContainsFunc(t.Sections, func(s Section) bool { return s.ID == id })
}

// Picture is a picture of the documentation, an SVG.
func Picture(name string) ([]byte, bool) {
	b, err := docs.Files.ReadFile("pictures/" + path.Base(name))
	return b, err == nil
}

// Beside is how many places of the help a search for things of the shop gives too.
const Beside = 5

// Hit is a section that a search found.
type Hit struct {
	Topic   *Topic
	Section Section
}

// To is where the page has it.
func (h Hit) To() string { return address(h.Topic.Name, h.Section.ID) }

// Name is its topic's title and its own.
func (h Hit) Name() string {
	if h.Section.ID == "" {
		return h.Topic.Title
	}
	return h.Topic.Title + ": " + h.Section.Title
}

func address(topic, id string) string {
	if id != "" {
		id = "#" + id
	}
	return Root + topic + id
}

// Search finds the sections that have, for each word that is asked for, a word that
// begins with it, without case and accents: those whose heading has them first. At
// most so many.
func Search(asked string, most int) (found []Hit) {
	want := strings.FieldsFunc(fold(asked), between)
	if len(want) == 0 {
		return nil
	}
	var later []Hit
	for _, t := range Topics() {
		for _, s := range t.Sections {
			if beginsAll(fold(s.Title), want) {
				found = append(found, Hit{t, s})
			} else if beginsAll(s.words, want) {
				later = append(later, Hit{t, s})
			}
		}
	}
	found = append(found, later...)
	return found[:min(len(found), most)]
}

// beginsAll reports whether each word is the beginning of one in a text.
func beginsAll(in string, want []string) bool {
	has := strings.FieldsFunc(in, between)
	for _, w := range want {
		if !slices.ContainsFunc(has, func(h string) bool { return strings.HasPrefix(h, w) }) {
			return false
		}
	}
	return true
}

func between(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }

// fold is a text without case and accents.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.M, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, norm.NFD.String(s))
}

// plainText is what a node says, without marks.
func plainText(n ast.Node, source []byte) string {
	var b bytes.Buffer
	_ = ast.Walk(n, func(n ast.Node, in bool) (ast.WalkStatus, error) { // nothing fails
		switch n := n.(type) {
		case *ast.Text:
			if in {
				b.Write(n.Value(source))
				if n.SoftLineBreak() || n.HardLineBreak() {
					b.WriteByte(' ')
				}
			}
		case *ast.String:
			if in {
				b.Write(n.Value)
			}
		case *ast.FencedCodeBlock, *ast.CodeBlock:
			if in {
				b.Write(n.Lines().Value(source))
			}
		default:
			if !in && n.Type() == ast.TypeBlock {
				b.WriteByte(' ')
			}
		}
		return ast.WalkContinue, nil
	})
	return strings.TrimSpace(b.String())
}
