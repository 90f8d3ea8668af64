package web_test

import (
	"maps"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"needlepace/internal/wordstest"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/web/webtest"
	"needlepace/words"
)

// leastSpoken is how many pages are answered in the language of who asks, by role, at least.
var leastSpoken = map[shop.Role]int{shop.Operator: 22, shop.Owner: 34}

// No page that is in the language of who asks says a sentence of en's catalogue in English,
// nor what the same page in English says in words of its own: each role's pages of a shop
// with one of everything, in each language.
func TestNoPageOfALanguageSpeaksEnglish(t *testing.T) {
	s := fillShop(t)
	english, others := catalogueOf(t, "en"), map[string]*catalogued{}
	for _, l := range words.Languages()[1:] {
		others[l.Tag.String()] = catalogueOf(t, l.Tag.String())
	}
	for _, role := range []shop.Role{shop.Operator, shop.Owner} {
		a, _ := s.open(t, role)
		data := append(a.Names(), slices.Collect(maps.Values(s.ids))...)
		for _, l := range words.Languages() {
			data = append(data, l.Name, words.Say("language-choice.unchecked").Text(&words.Writer{Language: l}))
		}
		data = append(data, "needlepace", "PDF", "HTML", "CSV", "XLSX", "SVG", "PNG", "FLAC", "WAV", "A4", "Letter", "mm", "Europe/Lisbon",
			"Anna", "Bay", "Gull", "Ours", "Offer", "Bo", "a client", "Harbour", "Quay", "Small ones") // what fillVisits has called so, and an example
		pages := map[string]int{}
		for _, rt := range a.Server.Routes() {
			if strings.HasPrefix(rt.Path, "/api/") || rt.Method != "GET" && rt.Method != "" || strings.HasPrefix(rt.Path, "/assets/") {
				continue
			}
			speak(t, a, "en")
			inEnglish := string(s.ask(a, rt, begin(a, peopleOf[role]).ID).Body)
			if !strings.Contains(inEnglish, `<html lang="en"`) {
				continue
			}
			same := wordstest.Readable(t, fileOrDigest.ReplaceAllString(inEnglish, ""))
			for _, l := range words.Languages()[1:] {
				tag := l.Tag.String()
				theirs := others[tag]
				speak(t, a, tag)
				page := s.ask(a, rt, begin(a, peopleOf[role]).ID)
				if !strings.Contains(string(page.Body), `<html lang="`+tag+`"`) || page.Status != http.StatusOK {
					continue
				}
				pages[tag]++
				for _, said := range wordstest.Readable(t, ownWords.ReplaceAllString(keptInEnglish.ReplaceAllString(string(page.Body), ""), "$1")) {
					said = fileOrDigest.ReplaceAllString(said, "")
					if key := english.said(said, theirs); key != "" {
						t.Errorf("%s in %s says %s in English: %q", rt.Pattern(), tag, key, said)
					} else if left := wordstest.Unsaid(said, data...); !theirs.knows(left) && slices.Contains(same, said) {
						t.Errorf("%s in %s says as in English %q: %q", rt.Pattern(), tag, left, said)
					}
				}
			}
		}
		for _, l := range words.Languages()[1:] {
			if n := pages[l.Tag.String()]; n < leastSpoken[role] {
				t.Errorf("%d pages of the %s are in %s, %d at least are meant", n, role, l.Tag, leastSpoken[role])
			}
		}
	}
}

// catalogued are the texts of a language's catalogue: of each sentence what stands between
// its arguments.
type catalogued struct {
	words  map[string]bool   // that stand in any of them
	pieces map[string]string // of at least three words, and their keys
	known  map[string]string // texts that were looked through, and what said answers, by language
	tag    string
}

var (
	argument = regexp.MustCompile(`\{[^{}]*\}`)
	// fileOrDigest is what is alike in all languages: a file's name, an extension, a digest.
	fileOrDigest = regexp.MustCompile(`[\w/-]*\.(dst|exp|jef|pes|vp3|toml|csv|txt|jpg|png|zip)\b|\b[0-9a-f]{9}\b|\b[0-9A-F]{2}\b`)
	// keptInEnglish is what a history has of earlier days, as it was written, and marked as English.
	keptInEnglish = regexp.MustCompile(`<small lang="en">[^<]*</small>`)
	// ownWords are what the shop itself wrote into a field of several lines.
	ownWords = regexp.MustCompile(`(<textarea[^>]*>)[^<]*`)
	aWord    = regexp.MustCompile(`\pL+`)
)

func catalogueOf(t *testing.T, tag string) *catalogued {
	t.Helper()
	b, err := os.ReadFile("../words/" + tag + ".toml")
	if err != nil {
		t.Fatal(err)
	}
	var tree map[string]any
	if err := toml.Unmarshal(b, &tree); err != nil {
		t.Fatal(err)
	}
	out := &catalogued{map[string]bool{}, map[string]string{}, map[string]string{}, tag}
	var walk func(string, any)
	walk = func(key string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for k, e := range v {
				walk(strings.TrimPrefix(key+"."+k, "."), e)
			}
		case string:
			for _, w := range aWord.FindAllString(argument.ReplaceAllString(plainly(v), " "), -1) {
				out.words[w] = true
			}
			for _, piece := range argument.Split(v, -1) {
				if piece = strings.Trim(plainly(piece), " .,:;()"); len(aWord.FindAllString(piece, -1)) >= 3 {
					out.pieces[piece] = key
				}
			}
		}
	}
	delete(tree, "language")
	walk("", tree)
	return out
}

// plainly is a text in small letters, its spaces alike.
func plainly(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// knows reports whether all words are the language's own too, as min and mm are in many.
func (c *catalogued) knows(all []string) bool {
	return !slices.ContainsFunc(all, func(w string) bool { return !c.words[plainly(w)] })
}

// said is the key of a sentence of which a part is said in a text, and that another language
// has otherwise.
func (c *catalogued) said(text string, theirs *catalogued) string {
	text = plainly(text)
	at := theirs.tag + text
	if key, ok := c.known[at]; ok { // the menu stands on each page
		return key
	}
	c.known[at] = ""
	for piece, key := range c.pieces {
		if theirs.pieces[piece] == "" && strings.Contains(text, piece) {
			c.known[at] = key
			break
		}
	}
	return c.known[at]
}

// speak has a browser's language chosen.
func speak(t *testing.T, a *webtest.App, tag string) {
	t.Helper()
	at, err := url.Parse(a.URL)
	if err != nil {
		t.Fatal(err)
	}
	a.Client.Jar.SetCookies(at, []*http.Cookie{{Name: serve.LanguageCookie, Value: tag, Path: "/"}})
}
