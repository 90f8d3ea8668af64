package web_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"needlepace/shop"
)

// isoDay is a day as files have it.
var isoDay = regexp.MustCompile(`\b20\d\d-\d\d-\d\d\b`)

// Every page of a shop with one of everything writes days in one form, as people
// do: none as files have it.
func TestEveryPageHasOneFormOfDays(t *testing.T) {
	s := fillShop(t)
	a, _ := s.open(t, shop.Owner)
	read, days := 0, 0
	for _, rt := range a.Server.Routes() {
		if strings.HasPrefix(rt.Path, "/api/") || rt.Method != "GET" && rt.Method != "" || strings.HasPrefix(rt.Path, "/assets/") {
			continue
		}
		page := s.ask(a, rt, begin(a, peopleOf[shop.Owner]).ID)
		if !strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
			continue
		}
		read++
		text := shownText(t, page.Body)
		if m := isoDay.FindStringIndex(text); m != nil {
			t.Errorf("%s says %q", rt.Pattern(), text[max(0, m[0]-60):min(len(text), m[1]+20)])
		}
		if regexp.MustCompile(`\b\d{1,2} (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b`).MatchString(text) {
			days++
		}
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
