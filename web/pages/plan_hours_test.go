package pages_test

import (
	"html"
	"regexp"
	"slices"
	"testing"

	"needlepace/book"
	"needlepace/web"
	"needlepace/web/webtest"
)

// The file that a new shop begins with has prices nobody in the shop gave: it
// says so, and so does everything made from them.
func TestTheFirstPricesAreMarkedAsPlaceholders(t *testing.T) {
	a := webtest.New(t, web.Options{})
	a.Machine("compact-8", "Whelk")
	status, body := a.Page("/plan/hours", nil)
	area := regexp.MustCompile(`(?s)<textarea[^>]*name="toml"[^>]*>(.*?)</textarea>`).FindStringSubmatch(body)
	if status != 200 || area == nil {
		t.Fatalf("status %d, no file to begin with in\n%s", status, body)
	}
	w, err := book.ParseWorkshop("the first hours", []byte(html.UnescapeString(area[1])))
	if err != nil {
		t.Fatal(err)
	}
	if !w.Priced() || !w.Money.Placeholder {
		t.Errorf("prices %v, marked as placeholders %v; want both", w.Priced(), w.Money.Placeholder)
	}
	for _, key := range []string{"money.overhead_per_year", "money.garment_each"} {
		if !slices.Contains(w.Money.Missing(), key) {
			t.Errorf("%s counts as given: missing are %q", key, w.Money.Missing())
		}
	}
}
