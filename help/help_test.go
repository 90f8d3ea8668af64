package help

import (
	"flag"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	"golang.org/x/net/html"

	"needlepace/docs"
)

var update = flag.Bool("update", false, "write docs/glossary.md from package words")

// docs/glossary.md is made from the words: go test ./help -run Glossary -update
func TestTheGlossaryIsThatOfTheWords(t *testing.T) {
	for i, term := range Terms {
		word, says := term.Word().Text(nil), term.Says().Text(nil)
		if strings.HasPrefix(word, "[") || !strings.HasSuffix(says, ".") {
			t.Errorf("%s: %q means %q", term.Key, word, says)
		}
		if i > 0 && Terms[i-1].Word().Text(nil) > word {
			t.Errorf("%s stands after %s", word, Terms[i-1].Word().Text(nil))
		}
	}
	if *update {
		if err := os.WriteFile("../docs/glossary.md", []byte(glossaryDoc()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got, _ := docs.Files.ReadFile("glossary.md"); string(got) != glossaryDoc() {
		t.Error("docs/glossary.md is not what the words say: go test ./help -run Glossary -update")
	}
}

// Every link in docs/ and README leads to something: another page of the docs and a
// heading that it has, a picture, or a file of the source.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	links := 0
	for _, topic := range append(slices.Clone(Topics()), parse("../README", readme)) {
		folder := "../docs"
		if topic.Name == "../README" {
			folder = ".."
		}
		_ = ast.Walk(topic.doc, func(n ast.Node, in bool) (ast.WalkStatus, error) {
			var to string
			switch n := n.(type) {
			case *ast.Link:
				to = string(n.Destination)
			case *ast.Image:
				to = string(n.Destination)
			default:
				return ast.WalkContinue, nil
			}
			if u, err := url.Parse(to); in && err != nil {
				t.Errorf("%s: %s: %v", topic.Name, to, err)
			} else if in && u.Host == "" {
				links++
				at := topic
				if u.Path != "" {
					file := filepath.Join(folder, u.Path)
					if _, err := os.Stat(file); err != nil {
						t.Errorf("%s leads to %s: %v", topic.Name, to, err)
					}
					at, _ = Find(strings.TrimSuffix(filepath.Base(file), ".md"))
				}
				if u.Fragment != "" && (at == nil || !at.Has(u.Fragment)) {
					t.Errorf("%s leads to %s, which has no such heading", topic.Name, to)
				}
				if served, ok := Served(to); topic.Name != "../README" && filepath.Ext(u.Path) == ".md" && (!ok || !strings.HasPrefix(served, Root)) {
					t.Errorf("%s: the page does not lead to %s", topic.Name, to)
				}
			}
			return ast.WalkContinue, nil
		})
	}
	if links < 30 {
		t.Errorf("only %d links were found", links)
	}
	for _, term := range Terms {
		name, id, _ := strings.Cut(term.At, "#")
		if topic, ok := Find(name); !ok || !topic.Has(id) {
			t.Errorf("%s: there is no %s", term.Key, term.At)
		}
	}
}

// Each topic is HTML with every heading once and no second title, and every word of
// it is in its text for a terminal too.
func TestEveryTopicIsReadBothWays(t *testing.T) {
	letters := regexp.MustCompile(`\pL+`)
	for _, topic := range Topics() {
		body, err := topic.HTML()
		if err != nil {
			t.Fatal(err)
		}
		root, err := html.Parse(strings.NewReader(string(body)))
		if err != nil {
			t.Fatal(err)
		}
		ids, said := map[string]bool{}, []string{}
		for n := range root.Descendants() {
			if n.Type == html.TextNode {
				said = append(said, letters.FindAllString(n.Data, -1)...)
			}
			if n.Data == "h1" {
				t.Errorf("%s has a second title", topic.Name)
			}
			for _, a := range n.Attr {
				if a.Key == "id" && (a.Val == "" || ids[a.Val]) {
					t.Errorf("%s has %q twice or empty", topic.Name, a.Val)
				} else if a.Key == "id" {
					ids[a.Val] = true
				}
			}
		}
		if topic.Lead == "" || topic.Title == topic.Name {
			t.Errorf("%s has no title or no first paragraph", topic.Name)
		}
		for _, width := range []int{20, 72} {
			text := topic.Text(width)
			for l := range strings.Lines(text) {
				if n := utf8.RuneCountInString(strings.TrimRight(l, "\n")); n > max(width, narrowest) && strings.Contains(strings.TrimSpace(l), " ") &&
					!strings.HasPrefix(strings.TrimLeft(l, " "), "-") && width == 72 && !strings.HasPrefix(l, "    ") && !strings.Contains(l, "  ") {
					t.Errorf("%s: %d columns where %d are meant: %s", topic.Name, n, width, l)
				}
			}
			has := map[string]bool{}
			for _, w := range letters.FindAllString(text, -1) {
				has[w] = true
			}
			for _, w := range said {
				if !has[w] {
					t.Errorf("%s: the text of %d columns does not have %q", topic.Name, width, w)
				}
			}
		}
	}
}

func TestSearchFindsHeadingsFirst(t *testing.T) {
	hits := Search("réstore BACK", 10)
	if len(hits) == 0 || hits[0].To() != "/help/keeping-the-shop#backup-and-restore" {
		t.Errorf("found %v", hits)
	}
	if hits := Search("knee", 3); len(hits) != 3 || hits[0].To() != "/help/glossary#knee" {
		t.Errorf("found %v", hits)
	}
	for _, none := range []string{"", "  ", `"(`, "zzzzqq", "nee"} {
		if hits := Search(none, 10); len(hits) != 0 && none != "nee" {
			t.Errorf("%q found %v", none, hits)
		}
	}
	if hits := Search("nee", 99); slices.ContainsFunc(hits, func(h Hit) bool { return h.Section.Title == "knee" }) {
		t.Error("knee was found by what does not begin it")
	}
}
