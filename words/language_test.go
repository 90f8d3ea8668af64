package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/feature/plural"
)

// args are the names of the arguments that some form of a phrase shows, and of
// the one that decides between its forms.
func (p *phrase) args() []string {
	names := map[string]bool{}
	for _, parts := range append(p.forms[:], p.none) {
		for _, q := range parts {
			if q.arg != "" {
				names[q.arg] = true
			}
		}
	}
	if p.by != "" {
		names[p.by] = true
	}
	return slices.Sorted(maps.Keys(names))
}

// Where the pages' scripts and templates are.
const (
	scripts   = "../web/assets/js/*.js"
	templates = "../web/pages/templates/*.html"
)

// use is a call that says something.
type use struct {
	at   token.Position
	key  string
	more bool // any key that begins so
	args []string
}

// uses finds every words.Say, words.Count and words.Mean in the tree, and what
// is no literal where a key, a noun or the arguments stand.
func uses(t *testing.T) (said, nouns []use) {
	set := token.NewFileSet()
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		f, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		ast.Inspect(f, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			name, ok := speaks(call, f.Name.Name)
			if !ok {
				return true
			}
			u := use{at: set.Position(call.Pos())}
			literal := func(e ast.Expr) string {
				b, ok := e.(*ast.BasicLit)
				if !ok {
					t.Errorf("%s: write the key out, so that it can be looked for", u.at)
					return ""
				}
				s, _ := strconv.Unquote(b.Value)
				return s
			}
			switch name {
			case "Count", "Mean", "plural":
				u.key = strings.ReplaceAll(literal(call.Args[1]), " ", "-")
				nouns = append(nouns, u)
			case "Say", "column", "number":
				rest := call.Args
				if name != "Say" { // its heading stands behind the column's own key
					rest = rest[1:]
				}
				key := rest[0]
				if sum, ok := key.(*ast.BinaryExpr); ok && sum.Op == token.ADD {
					key, u.more = sum.X, true // "group." + what
				}
				u.key = literal(key)
				for _, a := range rest[1:] {
					switch a := a.(type) {
					case *ast.CompositeLit:
						for _, e := range a.Elts {
							u.args = append(u.args, literal(e.(*ast.KeyValueExpr).Key))
						}
					case *ast.Ident:
						if a.Name != "nil" {
							t.Errorf("%s: write the arguments out, so that they can be looked for", u.at)
						}
					}
				}
				slices.Sort(u.args)
				said = append(said, u)
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	js, jsNouns := scriptUses(t)
	html, htmlNouns := templateUses(t)
	return append(append(said, js...), html...), append(append(nouns, jsNouns...), htmlNouns...)
}

// speaks gives the name of what is called where it takes a key or a noun: a
// function of this package, Sentences.Say, or what makes a column in package ask.
// What passes its own arguments on does not.
func speaks(call *ast.CallExpr, in string) (name string, ok bool) {
	n := len(call.Args)
	if call.Ellipsis.IsValid() {
		return "", false
	}
	switch f := call.Fun.(type) {
	case *ast.Ident:
		return f.Name, in == "ask" && (f.Name == "column" || f.Name == "number") && n >= 2 || in == "main" && f.Name == "plural" && n == 2
	case *ast.SelectorExpr:
		if x, ok := f.X.(*ast.Ident); ok && x.Name == "words" {
			return f.Sel.Name, n == 2 || f.Sel.Name == "Say"
		}
		return "Say", f.Sel.Name == "Say" && n > 0
	}
	return "", false
}

// scriptSays finds say("key" and count(n, "noun") in a script.
var (
	scriptSays   = regexp.MustCompile(`\bsay\(("[^"]*")?(, \{)?`)
	scriptCounts = regexp.MustCompile(`\bcount\([^"()]*, "([^"]*)"\)`)
	scriptArg    = regexp.MustCompile(`^\s*(\w+)\s*(:|$)`)
)

// scriptUses finds what the page's scripts say.
func scriptUses(t *testing.T) (said, nouns []use) {
	scripts, err := filepath.Glob(scripts)
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	for _, path := range scripts {
		if filepath.Base(path) == "words.js" {
			continue
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		s := string(b)
		at := func(i int) token.Position {
			return token.Position{Filename: path, Line: 1 + strings.Count(s[:i], "\n")}
		}
		for _, m := range scriptSays.FindAllStringSubmatchIndex(s, -1) {
			u := use{at: at(m[0])}
			if m[2] < 0 {
				t.Errorf("%s: write the key out, so that it can be looked for", u.at)
				continue
			}
			u.key = s[m[2]+1 : m[3]-1]
			if m[4] >= 0 {
				u.args = objectKeys(s[m[5]:])
			}
			said = append(said, u)
		}
		for _, m := range scriptCounts.FindAllStringSubmatchIndex(s, -1) {
			nouns = append(nouns, use{at: at(m[0]), key: s[m[2]:m[3]]})
		}
	}
	return said, nouns
}

// templateSays finds Say "key" "name" value … and counted n "noun" in a template.
var (
	templateSays   = regexp.MustCompile(`\.Say(?:Linked)? "([^"]*)"((?: "[^"]*" (?:\((?:[^()]|\([^()]*\))*\)|"[^"]*"|[^ "{}()]+))*)`)
	templateArgs   = regexp.MustCompile(` "(\w+)" [($."]`)
	templateCounts = regexp.MustCompile(`counted \S+ "([^"]*)"`)
)

// templateUses finds what the pages' templates say.
func templateUses(t *testing.T) (said, nouns []use) {
	pages, err := filepath.Glob(templates)
	if err != nil || len(pages) == 0 {
		t.Fatalf("no templates: %v", err)
	}
	for _, path := range pages {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(b), "\n") {
			at := token.Position{Filename: path, Line: i + 1}
			for _, m := range templateSays.FindAllStringSubmatch(line, -1) {
				u := use{at: at, key: m[1]}
				for _, a := range templateArgs.FindAllStringSubmatch(m[2], -1) {
					u.args = append(u.args, a[1])
				}
				slices.Sort(u.args)
				said = append(said, u)
			}
			for _, m := range templateCounts.FindAllStringSubmatch(line, -1) {
				nouns = append(nouns, use{at: at, key: m[1]})
			}
		}
	}
	return said, nouns
}

// objectKeys are the keys of an object whose { has just been read.
func objectKeys(s string) (keys []string) {
	depth, from := 0, 0
	for i, c := range s {
		switch {
		case strings.ContainsRune("({[", c):
			depth++
		case depth > 0 && strings.ContainsRune(")}]", c):
			depth--
		case depth == 0 && (c == ',' || c == '}'):
			if m := scriptArg.FindStringSubmatch(s[from:i]); m != nil {
				keys = append(keys, m[1])
			}
			from = i + 1
			if c == '}' {
				slices.Sort(keys)
				return keys
			}
		}
	}
	return keys
}

// TestEveryKeyHasItsWords holds the code and the catalogue to each other: each
// key that is said stands in en.toml with the same arguments, and each sentence
// there is said somewhere.
func TestEveryKeyHasItsWords(t *testing.T) {
	said, nouns := uses(t)
	used := map[string]bool{}
	for _, u := range said {
		if u.more {
			for key, p := range English().phrases {
				if strings.HasPrefix(key, u.key) && slices.Equal(u.args, p.args()) {
					used[key] = true
				}
			}
			if !strings.HasSuffix(u.key, ".") {
				t.Errorf("%s: %q is no group of keys", u.at, u.key)
			}
			continue
		}
		used[u.key] = true
		if p := English().phrases[u.key]; p == nil {
			t.Errorf("%s: en.toml has no %s", u.at, u.key)
		} else if want := p.args(); !slices.Equal(u.args, want) {
			t.Errorf("%s: %s is given %v, en.toml has %v", u.at, u.key, u.args, want)
		}
	}
	for _, u := range nouns {
		if u.key != "" && English().phrases["count."+u.key] == nil {
			t.Errorf("%s: en.toml has no noun %q under [count]", u.at, u.key)
		}
	}
	own := []string{"percent", "time", "length", "speed", "money", "day", "list", "count"}
	for key := range English().phrases {
		if group, _, _ := strings.Cut(key, "."); !used[key] && !slices.Contains(own, group) {
			t.Errorf("en.toml: nobody says %s", key)
		}
	}
}

// TestAnotherLanguageIsOneFile makes a language of en.toml by changing every
// text in it, and finds that nothing is said as in English any more.
func TestAnotherLanguageIsOneFile(t *testing.T) {
	b, err := os.ReadFile("en.toml")
	if err != nil {
		t.Fatal(err)
	}
	var tree map[string]any
	if err := toml.Unmarshal(b, &tree); err != nil {
		t.Fatal(err)
	}
	b, err = toml.Marshal(foreign(tree))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "de.toml")
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	b, _ = os.ReadFile(file)
	l, err := ParseLanguage(file, b)
	if err != nil {
		t.Fatal(err)
	}
	here, there := &Writer{}, &Writer{Language: l}
	for key, p := range English().phrases {
		m := Message{Key: key, Args: Args{}}
		for _, a := range p.args() {
			m.Args[a] = Whole(1234)
		}
		en, other := m.Text(here), m.Text(there)
		if !strings.Contains(other, "‹") || !strings.Contains(en, "1,234") && strings.Contains(other, "1,234") {
			t.Errorf("%s: %q in English, %q in the other language", key, en, other)
		}
	}
	for _, c := range []struct {
		v    Value
		want string
	}{
		{NewDay(2026, 3, 20), "‹20 Mar~ 2026›"}, {NearDay{Day: NewDay(2026, 3, 20)}, "‹Fri~ 20 Mar~›"}, {FullDay{NewDay(2026, 3, 20)}, "‹Friday~ 20 March~ 2026›"}, {Fixed(-1234.5, 1), "‹−›1‹,›234‹.›5"},
		{Seconds(1125), "‹18 min 45 s›"}, {Chance(1), "‹over 99 %›"}, {Count(2, "piece"), "‹2 pieces›"},
		{List{Count(1, "trim"), Name("Left chest")}, "‹‹1 trim› and Left chest›"},
	} {
		if got := c.v.Text(there); got != c.want {
			t.Errorf("%#v is %q, want %q", c.v, got, c.want)
		}
	}
}

// foreign is a catalogue with every text marked.
func foreign(v any) any {
	switch v := v.(type) {
	case string:
		return "‹" + v + "›"
	case []any:
		var out []any
		for _, e := range v {
			out = append(out, e.(string)+"~")
		}
		return out
	case map[string]any:
		out := map[string]any{}
		for key, e := range v {
			switch key {
			case "language":
				out[key] = map[string]any{"tag": "de", "name": "Other"}
			case "by":
				out[key] = e
			default:
				out[key] = foreign(e)
			}
		}
		return out
	}
	return v
}

const small = `
[language]
tag = "pl"
name = "Polski"
[number]
decimal = ","
group = " "
minus = "−"
[day]
months = ["sty", "lut", "mar", "kwi", "maj", "cze", "lip", "sie", "wrz", "paź", "lis", "gru"]
weekdays = ["niedz.", "pon.", "wt.", "śr.", "czw.", "pt.", "sob."]
month-names = ["s", "l", "m", "k", "m", "c", "l", "s", "w", "p", "l", "g"]
weekday-names = ["n", "p", "w", "ś", "c", "p", "s"]
date = "{d} {mon} {yyyy}"
[count]
piece = { none = "żadnej sztuki", one = "{n} sztuka", few = "{n} sztuki", many = "{n} sztuk", other = "{n} sztuki" }
[test]
late = { by = "lines", one = "spóźnia się {lines}", few = "spóźniają się {lines}", other = "spóźnia się {lines}" }
`

// TestPluralsAreTheLanguagesOwn has a language with more plural forms than
// English. Source of the rules: Unicode CLDR, plural rules, Polish.
func TestPluralsAreTheLanguagesOwn(t *testing.T) {
	l, err := ParseLanguage("pl.toml", []byte(small))
	if err != nil {
		t.Fatal(err)
	}
	w := &Writer{Language: l}
	for _, c := range []struct {
		v    Value
		want string
	}{
		{Count(0, "piece"), "żadnej sztuki"}, {Count(1, "piece"), "1 sztuka"}, {Count(3, "piece"), "3 sztuki"}, {Count(5, "piece"), "5 sztuk"},
		{Count(12, "piece"), "12 sztuk"}, {Count(22, "piece"), "22 sztuki"}, {Count(25, "piece"), "25 sztuk"}, {Number{V: 1.5, Places: 1, Noun: "piece"}, "1,5 sztuki"},
		{Count(1000005, "piece"), "1 000 005 sztuk"}, {Count(100000022, "piece"), "100 000 022 sztuki"},
		{Say("test.late", Args{"lines": Count(3, "piece")}), "spóźniają się 3 sztuki"}, {Say("test.late", Args{"lines": Count(1, "piece")}), "spóźnia się 1 sztuka"},
		{Seconds(8.4), "8,4 s"}, // English has the words that are missing
	} {
		if got := c.v.Text(w); got != c.want {
			t.Errorf("%#v is %q, want %q", c.v, got, c.want)
		}
	}
	if f := English().category("1.0"); f != plural.Other {
		t.Errorf("1.0 is %v in English", f)
	}
}

func TestBadCataloguesAreRefused(t *testing.T) {
	for _, c := range []struct{ change, to, want string }{
		{`tag = "pl"`, `tag = "?"`, "language.tag"}, {`"sty", `, ``, "months"}, {`{d} {mon}`, `{d {mon}`, "day.date"}, {`{d} {mon}`, `{d} {}`, "{name}"},
		{`many =`, `lots =`, "lots"}, {`date = "{d} {mon} {yyyy}"`, `date = 3`, "day.date"}, {"[number]", "[number", "pl.toml"},
	} {
		_, err := ParseLanguage("pl.toml", []byte(strings.Replace(small, c.change, c.to, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.to, err)
		}
	}
}

func TestWhatIsMissingIsSeen(t *testing.T) {
	for _, c := range []struct {
		v    Value
		want string
	}{
		{Message{Key: "no.such"}, "[no.such]"}, {Count(2, "unicorn"), "2 [unicorn]"}, {Message{}, ""},
		{Message{Key: "length.mm"}, "{n} mm"},
	} {
		if got := c.v.Text(nil); got != c.want {
			t.Errorf("%#v is %q, want %q", c.v, got, c.want)
		}
	}
}

func TestMessageInJSON(t *testing.T) {
	m := Say("percent.over", Args{"n": Whole(99)})
	b, err := m.MarshalJSON()
	if want := `{"key":"percent.over","text":"over 99 %","args":{"n":99}}`; err != nil || string(b) != want {
		t.Errorf("%s, %v; want %s", b, err, want)
	}
}
