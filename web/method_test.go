package web_test

import (
	"io"
	"net/http"
	"strings"
	"testing"

	"needlepace/web"
	"needlepace/web/webtest"
)

// TestAnAddressSaysWhatItDoes where it is asked otherwise (RFC 9110 section 15.5.6), and that it is none where it is none.
func TestAnAddressSaysWhatItDoes(t *testing.T) {
	a := webtest.New(t, web.Options{})
	for _, c := range []struct {
		method, path string
		status       int
		allow, says  string
	}{
		{"PATCH", "/orders", 405, "GET, POST", "only takes what a form sends"},
		{"GET", "/demo/out", 405, "POST", "only takes what a form sends"},
		{"GET", "/nothing", 404, "", "There is no page at /nothing"},
		{"POST", "/nothing", 404, "", "There is no page at /nothing"},
		{"GET", "/designs", 200, "", "Designs"},
	} {
		req, err := http.NewRequestWithContext(t.Context(), c.method, a.URL+c.path, nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(res.Body)
		res.Body.Close() //nolint:errcheck // read
		if err != nil || res.StatusCode != c.status || res.Header.Get("Allow") != c.allow || !strings.Contains(string(b), c.says) {
			t.Errorf("%s %s: status %d, Allow %q, %v; want %d, %q, %q", c.method, c.path, res.StatusCode, res.Header.Get("Allow"), err, c.status, c.allow, c.says)
		}
	}
}
