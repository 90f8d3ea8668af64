package web_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"needlepace/help"
	"needlepace/shop"
)

// isoDay is a day as files have it.
var isoDay = regexp.MustCompile(`\b20\d\d-\d\d-\d\d\b`)

// helpLink is a page's link to its topic.
var helpLink = regexp.MustCompile(`href="/help(?:/([^"#]+)(?:#[^"]*)?)?"`)

// mostPacked is what a page may weigh as it comes over the wire to a browser that has
// nothing yet, pictures and the stitches of drawings aside.
const mostPacked = 150_000

// Every page of a shop with one of everything writes days in one form, as people
// do, none as files have it; and is light, with its styles, scripts and fonts.
func TestEveryPageHasOneFormOfDaysAndIsLight(t *testing.T) {
	s := fillShop(t)
	a, _ := s.open(t, shop.Owner)
	read, days, led, heaviest, which := 0, 0, 0, 0, ""
	weigh := scale{t: t, url: a.URL, known: map[string]int{}}
	for _, rt := range a.Server.Routes() {
		if strings.HasPrefix(rt.Path, "/api/") || rt.Method != "GET" && rt.Method != "" || strings.HasPrefix(rt.Path, "/assets/") {
			continue
		}
		page := s.ask(a, rt, begin(a, peopleOf[shop.Owner]).ID)
		if !strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
			continue
		}
		read++
		if to := helpLink.FindStringSubmatch(string(page.Body)); !bytes.HasPrefix(page.Body, []byte("<!doctype")) { // it leads on
		} else if to == nil {
			t.Errorf("%s has no link to the help", rt.Pattern())
		} else if to[1] != "" {
			topic, ok := help.Find(to[1])
			if _, id, _ := strings.Cut(to[0], "#"); !ok || !topic.Has(strings.TrimSuffix(id, `"`)) {
				t.Errorf("%s leads to %s, which is not in the help", rt.Pattern(), to[0])
			}
			led++
		}
		if w := packedSize(t, page.Body) + weigh.all(string(page.Body)); w > heaviest {
			heaviest, which = w, rt.Pattern()
			if w > mostPacked {
				t.Errorf("%s weighs %d bytes, of which itself %d; at most %d are meant", rt.Pattern(), w, packedSize(t, page.Body), mostPacked)
			}
		}
		text := shownText(t, page.Body)
		text = strings.ReplaceAll(text, "(2026-12-25, 2026-12-26)", "") // how to type days in a field
		if m := isoDay.FindStringIndex(text); m != nil {
			t.Errorf("%s says %q", rt.Pattern(), text[max(0, m[0]-60):min(len(text), m[1]+20)])
		}
		parted, twice := looks(t, page.Body)
		for _, text := range parted {
			t.Errorf("%s: a line may end between a number and its unit: %q", rt.Pattern(), text)
		}
		for _, text := range twice {
			t.Errorf("%s says %q twice, over a part and over its table", rt.Pattern(), text)
		}
		if regexp.MustCompile(`\b\d{1,2}\x{a0}(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b`).MatchString(text) {
			days++
		}
	}
	if led < 30 {
		t.Errorf("only %d pages lead to a topic of their own", led)
	}
	t.Logf("%d pages, the heaviest is %s with %d bytes", read, which, heaviest)
	if heaviest < 60_000 {
		t.Errorf("the heaviest page weighs %d bytes: its fonts and scripts were not weighed", heaviest)
	}
	if read < 30 || days < 10 {
		t.Errorf("%d pages were read, %d of them with days: too few", read, days)
	}
}

// shownText is what a page says, without what stands in fields of files.
func shownText(t *testing.T, page []byte) string {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			b.WriteString(n.Data + " ")
		case n.Type == html.ElementNode && (n.Data == "textarea" || n.Data == "script" || n.Data == "style"):
			return
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	return b.String()
}

// figureOf is a number and its unit with a space between them at which a line may end.
var figureOf = regexp.MustCompile(`\d (s|min|h|mm|m|%|mm²|MB|kB|EUR|stitches/min|days?|hours?|weeks?)([^\pL\d/-]|$)`)

// looks are texts of a page in which a figure may be broken, and headings that a table below
// them says once more.
func looks(t *testing.T, page []byte) (parted, twice []string) {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	head, titled := "", 0
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == "class" && strings.Contains(a.Val, "titled") }) {
			titled++ // captions in it are for those who hear the page
			defer func() { titled-- }()
		}
		first := ""
		if c := n.FirstChild; c != nil && c.Type == html.TextNode {
			first = strings.TrimSpace(c.Data)
		}
		switch {
		case n.Type == html.TextNode && figureOf.MatchString(n.Data):
			parted = append(parted, strings.TrimSpace(n.Data))
		case n.Type == html.ElementNode && slices.Contains([]string{"svg", "option", "textarea", "script", "style", "pre", "code", "title"}, n.Data):
			return
		case n.Type == html.ElementNode && n.Data == "section":
			head = ""
		case n.Type == html.ElementNode && n.Data == "h2":
			head = first
		case n.Type == html.ElementNode && n.Data == "caption" && titled == 0 && first != "" && first == head:
			twice = append(twice, first)
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	return parted, twice
}

// scale weighs what pages ask for besides themselves, packed, each file once a page.
type scale struct {
	t     *testing.T
	url   string
	known map[string]int
	text  map[string]string
}

var (
	pageAsks   = regexp.MustCompile(`(?:href|src)="(/assets/[^"]+\.(?:css|js|ttf|svg))"`)
	styleAsks  = regexp.MustCompile(`url\("(/assets/[^"]+)"\)`)
	scriptAsks = regexp.MustCompile(`(?:from|import) ?\(?"\./([^"]+)"`)
)

func (s *scale) all(page string) (sum int) {
	if s.text == nil {
		s.text = map[string]string{}
	}
	seen := map[string]bool{}
	var ask func(at string)
	ask = func(at string) {
		// Letters of other scripts, and slanted ones, are asked for where a page has some.
		if seen[at] || strings.Contains(at, "-other.ttf") || strings.Contains(at, "italic") {
			return
		}
		seen[at] = true
		if _, ok := s.known[at]; !ok {
			s.fetch(at)
		}
		sum += s.known[at]
		if strings.HasSuffix(at, ".css") {
			for _, m := range styleAsks.FindAllStringSubmatch(s.text[at], -1) {
				ask(m[1])
			}
		}
		if strings.HasSuffix(at, ".js") {
			english := strings.ReplaceAll(s.text[at], "`./language-${document.documentElement.lang || \"en\"}.js`", `"./language-en.js"`)
			for _, m := range scriptAsks.FindAllStringSubmatch(english, -1) {
				ask(at[:strings.LastIndexByte(at, '/')+1] + m[1])
			}
		}
	}
	for _, m := range pageAsks.FindAllStringSubmatch(page, -1) {
		ask(m[1])
	}
	return sum
}

func (s *scale) fetch(at string) {
	s.t.Helper()
	req, err := http.NewRequestWithContext(s.t.Context(), http.MethodGet, s.url+at, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	req.Header.Set("Accept-Encoding", "gzip")
	res, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		s.t.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // only read
	b, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		s.t.Fatalf("%s: %s %v", at, res.Status, err)
	}
	s.known[at] = len(b)
	if res.Header.Get("Content-Encoding") == "gzip" {
		z, err := gzip.NewReader(bytes.NewReader(b))
		if err != nil {
			s.t.Fatal(err)
		}
		if b, err = io.ReadAll(z); err != nil {
			s.t.Fatal(err)
		}
	}
	s.text[at] = string(b)
}

// packedSize is how long a text is once it is packed, as quickly as the server does.
func packedSize(t *testing.T, b []byte) int {
	t.Helper()
	var z bytes.Buffer
	w, err := gzip.NewWriterLevel(&z, gzip.BestSpeed)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return z.Len()
}
