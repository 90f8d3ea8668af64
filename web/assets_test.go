package web_test

import (
	"compress/gzip"
	"errors"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"needlepace/web"
	"needlepace/web/webtest"
)

// A browser asks once for a script, a style or a font, and for a page that is as it was it
// gets a word; what is text comes packed (RFC 9110, sections 8.4 and 13.1.2; RFC 8246).
func TestNothingIsSentTwice(t *testing.T) {
	a := webtest.New(t, web.Options{})
	ask := func(path string, header ...string) *http.Response {
		t.Helper()
		r, err := http.NewRequest("GET", a.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept-Encoding", "identity")
		for i := 0; i < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		res, err := http.DefaultTransport.RoundTrip(r)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { res.Body.Close() }) //nolint:errcheck // only read
		return res
	}
	text := func(r io.Reader) string {
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	first := ask("/settings")
	page := text(first.Body)
	if again := ask("/settings", "If-None-Match", first.Header.Get("ETag")); again.StatusCode != http.StatusNotModified {
		t.Errorf("a page that is as it was: %s", again.Status)
	}
	set, err := a.Shop.Settings.Get(t.Context())
	set.ShopName = "Another name"
	if err = errors.Join(err, a.Shop.Settings.Save(t.Context(), set)); err != nil {
		t.Fatal(err)
	}
	if again := ask("/settings", "If-None-Match", first.Header.Get("ETag")); again.StatusCode != http.StatusOK {
		t.Errorf("a page that is another: %s", again.Status)
	}
	packed := ask("/settings", "Accept-Encoding", "gzip")
	z, err := gzip.NewReader(packed.Body)
	if err != nil {
		t.Fatalf("%v, %v", packed.Header, err)
	}
	if got := text(z); got != text(ask("/settings").Body) {
		t.Error("packed it is another page")
	}
	files := regexp.MustCompile(`"(/assets/[^"]+)"`).FindAllStringSubmatch(page, -1)
	if len(files) < 5 {
		t.Fatalf("the page asks for %d files", len(files))
	}
	for _, f := range files {
		res := ask(f[1])
		if res.StatusCode != http.StatusOK || !strings.Contains(res.Header.Get("Cache-Control"), "immutable") {
			t.Errorf("%s: %s, %s", f[1], res.Status, res.Header.Get("Cache-Control"))
		}
		old := "/assets/0123456789abcdef/" + f[1][len("/assets/0123456789abcdef/"):]
		if res := ask(old); res.StatusCode != http.StatusOK || res.Header.Get("Cache-Control") != "no-cache" {
			t.Errorf("of another version, %s: %s, %s", old, res.Status, res.Header.Get("Cache-Control"))
		}
	}
}

// Where people sign in, nothing of a page stays in the browser for who sits there next.
func TestPagesOfAccountsAreNotKept(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	res, err := a.Client.Get(a.URL + "/sign-in")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // only read
	if got := res.Header.Get("Cache-Control"); got != "no-store" {
		t.Errorf("Cache-Control %q", got)
	}
}
