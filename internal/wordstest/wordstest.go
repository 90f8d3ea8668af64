// Package wordstest holds what people read to the one place where words are: it
// makes a language that nobody speaks, and finds what is not said in it.
package wordstest

import (
	"os"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/net/html"

	"needlepace/words"
)

// Foreign is English with every Latin letter of its texts taken to another
// alphabet: a Latin letter on a page in it was not said by words, or is data.
// catalogue is where en.toml stands, from the test's directory.
func Foreign(t testing.TB, catalogue string) *words.Language {
	t.Helper()
	b, err := os.ReadFile(catalogue)
	if err != nil {
		t.Fatal(err)
	}
	var tree map[string]any
	if err := toml.Unmarshal(b, &tree); err != nil {
		t.Fatal(err)
	}
	for group, v := range tree {
		if group != "language" {
			tree[group] = foreign("", v)
		}
	}
	tree["language"] = map[string]any{"tag": "qaa", "name": "Nobody’s"} // ISO 639: for private use
	if b, err = toml.Marshal(tree); err != nil {
		t.Fatal(err)
	}
	l, err := words.ParseLanguage("qaa.toml", b)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func foreign(key string, v any) any {
	switch v := v.(type) {
	case string:
		if key == "by" {
			return v
		}
		return letters(v)
	case []any:
		for i := range v {
			v[i] = foreign("", v[i])
		}
	case map[string]any:
		for k, e := range v {
			v[k] = foreign(k, e)
		}
	}
	return v
}

// letters are the letters of a text in another alphabet, and its {arguments} as
// they are.
func letters(s string) string {
	const lower, upper = "абвгдежзийклмнопрстуфхцчшщ", "АБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩ"
	inside := false
	return strings.Map(func(c rune) rune {
		switch {
		case c == '{':
			inside = true
		case c == '}':
			inside = false
		case inside:
		case c >= 'a' && c <= 'z':
			return []rune(lower)[c-'a']
		case c >= 'A' && c <= 'Z':
			return []rune(upper)[c-'A']
		}
		return c
	}, s)
}

// Unsaid are the pieces of a text in Latin letters that are no data: neither a
// name given in data nor a part of one. A piece is a row of Latin letters.
func Unsaid(text string, data ...string) []string {
	data = slices.Clone(data)
	slices.SortFunc(data, func(a, b string) int { return len(b) - len(a) })
	for _, d := range data {
		if d != "" {
			text = strings.ReplaceAll(text, d, " ")
		}
	}
	return strings.FieldsFunc(text, func(c rune) bool { return !unicode.Is(unicode.Latin, c) })
}

// Readable is every text of a page that people see or have read out.
func Readable(t testing.TB, page string) (out []string) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		switch n.Type {
		case html.TextNode:
			if p := n.Parent.Data; p != "script" && p != "style" {
				out = append(out, n.Data)
			}
		case html.ElementNode:
			for _, x := range n.Attr {
				if slices.Contains([]string{"aria-label", "placeholder", "title", "alt", "data-sure"}, x.Key) {
					out = append(out, x.Val)
				}
			}
		}
	}
	return out
}
