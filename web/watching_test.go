package web_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/store/sqlite"
	"needlepace/web"
	"needlepace/web/watch"
	"needlepace/web/webtest"
	"needlepace/words"
)

func fetch(t *testing.T, a *webtest.App, path string, header ...string) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequest("GET", a.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	res, err := a.Client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // only read
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, string(b)
}

// The metrics are in Prometheus' text format (version 0.0.4, prometheus.io/docs, from
// memory): # HELP, # TYPE, then name{label="value"} number. Routes are their patterns, so a stranger's
// paths make no further lines.
func TestWhatIsAnsweredIsCounted(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	if res, _ := fetch(t, a, "/metrics"); res.StatusCode != 401 {
		t.Errorf("without signing in: status %d", res.StatusCode)
	}
	a.SignIn("Ada")
	fetch(t, a, "/designs/no-such-thing?secret=1")
	fetch(t, a, "/wp-admin/setup.php")
	_, text := fetch(t, a, "/metrics")
	for _, want := range []string{`needlepace_requests_total{route="GET /designs/{design}",status="404"} 1`,
		`needlepace_sign_ins_total{how="right"} 1`, `needlepace_request_seconds_count{route="GET /designs/{design}"} 1`,
		"needlepace_requests_open 1\n", "needlepace_build_info{", "# TYPE needlepace_request_seconds histogram", "go_goroutines "} {
		if !strings.Contains(text, want) {
			t.Errorf("the metrics lack %s", want)
		}
	}
	if strings.Contains(text, "secret") || strings.Contains(text, "wp-admin") {
		t.Error("what a client wrote stands in the metrics")
	}
	line := regexp.MustCompile(`^(# (HELP|TYPE) .+|[a-z_]+(\{[a-z_]+="([^"\\]|\\.)*"(,[a-z_]+="([^"\\]|\\.)*")*\})? [-+0-9.eInfNa]+)$`)
	for l := range strings.Lines(text) {
		if l = strings.TrimSuffix(l, "\n"); !line.MatchString(l) {
			t.Errorf("not the text format: %s", l)
		}
	}
	secret, _, err := a.Shop.Accounts.MakeToken(t.Context(), &shop.Account{Role: shop.Owner, Name: "Ada"}, "watcher", shop.Operator, time.Now().Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	a.Client.Jar = nil
	if res, _ := fetch(t, a, "/metrics", "Authorization", "Bearer "+secret); res.StatusCode != 200 {
		t.Errorf("by a token: status %d", res.StatusCode)
	}
	if res, _ := fetch(t, a, "/designs", "Authorization", "Bearer "+secret); res.StatusCode != 303 {
		t.Errorf("a page by a token: status %d", res.StatusCode)
	}
}

// Each answer has its number, and the log names it where something fails.
func TestTheLogNamesTheRequest(t *testing.T) {
	var log bytes.Buffer
	store, err := sqlite.Open(context.Background(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	app := web.New(act.New(store, act.Options{}), web.Options{Log: slog.New(slog.NewTextHandler(&log, nil)), Watch: watch.New("x", 0, time.Now)})
	ask := func(h http.Handler, path string) *httptest.ResponseRecorder {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", "http://localhost"+path, nil))
		return w
	}
	if w := ask(app.Handler(), "/readyz"); w.Code != 200 || w.Body.String() != "ready\n" {
		t.Errorf("ready: %d %s", w.Code, w.Body)
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	w := ask(app.Handler(), "/designs")
	id := w.Header().Get("X-Request-Id")
	if w.Code < 500 || len(id) < 10 || strings.Count(log.String(), "request="+id) < 2 {
		t.Errorf("status %d, number %q, logged:\n%s", w.Code, id, log.String())
	}
	if again := ask(app.Handler(), "/designs").Header().Get("X-Request-Id"); again == id {
		t.Error("two requests have one number")
	}
	for _, h := range []http.Handler{app.Handler(), app.Beside()} {
		if w := ask(h, "/readyz"); w.Code != 503 || w.Body.String() != "not ready\n" {
			t.Errorf("without its store: %d %s", w.Code, w.Body)
		}
		if w := ask(h, "/healthz"); w.Code != 200 {
			t.Errorf("alive: %d", w.Code)
		}
	}
	if w := ask(app.Beside(), "/designs"); w.Code != 404 {
		t.Errorf("the port for watching answers a page with %d", w.Code)
	}
	app.Close()
}

// What was asked for and sent, and by whom, stands nowhere in the log, though all levels of it are
// written: neither of what is right nor of what is refused.
func TestTheLogHoldsNothingThatWasSent(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Wilhelmina", shop.Owner)
	tryIn(a, "Wilhelmina", "wrong-in-the-log").Fails(401, shop.SignIn, "")
	fetch(t, a, "/designs?q=query-signed-out")
	a.SignIn("Wilhelmina")
	for _, path := range []string{"/designs?q=query-of-a-page", "/nothing-here?q=query-of-nothing", "/designs?no_such_key=query-refused",
		"/api/v1/designs?q=query-of-the-api", "/api/v1/designs?no_such_key=query-refused"} {
		fetch(t, a, path, "Referer", a.URL+"/designs?q=referred", "User-Agent", "agent-of-hers", "X-Forwarded-For", "192.0.2.77")
	}
	fetch(t, a, "/api/v1/designs", "Authorization", "Bearer needlepace_brought")
	fetch(t, a, "/call/CALLEDBYIT") // the code of an open call lets in whoever has it
	fetch(t, a, "/call/CALLEDBYIT/pack.zip")
	a.Page("/settings/sign-ins/password?q=query-of-a-form", url.Values{"before": {"field-before"}, "password": {"field-password"}})
	log := a.Log.String()
	for _, path := range []string{"path=/designs ", "path=/nothing-here ", "path=/api/v1/designs ", "path=/call/{code} ", "path=/settings/sign-ins/password "} {
		if !strings.Contains(log, path) {
			t.Errorf("the log lacks %s: the test shows nothing of it", path)
		}
	}
	at, err := url.Parse(a.URL)
	if err != nil {
		t.Fatal(err)
	}
	secrets := []string{"query-", "no_such_key", "referred", "agent-of-hers", "192.0.2.77", "needlepace_brought", "field-", "wrong-in-the-log", "CALLEDBYIT",
		"Wilhelmina", "wilhelmina", webtest.Password}
	for _, k := range a.Client.Jar.Cookies(at) {
		secrets = append(secrets, k.Value)
	}
	if len(secrets) != 14 {
		t.Errorf("%d cookies, want the sign-in's and the browser's", len(secrets)-12)
	}
	for line := range strings.Lines(log) {
		for _, secret := range secrets {
			if strings.Contains(line, secret) {
				t.Errorf("%q stands in the log: %s", secret, line)
			}
		}
	}
}

// The end is announced before it comes, so that nobody sends more there.
func TestTheEndIsNotReady(t *testing.T) {
	a := webtest.New(t, web.Options{})
	a.Server.EndEvents()
	if res, _ := fetch(t, a, "/readyz"); res.StatusCode != 503 {
		t.Errorf("status %d", res.StatusCode)
	}
}

func TestSlowRequestsAreListedForTheOwner(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	w := watch.New("9.9", time.Second, func() time.Time { return now })
	copies := watch.NewCopies()
	a := webtest.New(t, web.Options{Watch: w, Accounts: true, Pprof: true, Copies: copies})
	took := func(path string, d time.Duration, waits bool) {
		r, q := w.Begin(httptest.NewRequest("GET", path, nil))
		watch.Of(r.Context()).Waits = waits
		now = now.Add(d)
		w.End(q, "GET", r.URL.Path, 200)
	}
	took("/quick", 999*time.Millisecond, false)
	took("/slow?secret=1", 2500*time.Millisecond, false)
	took("/events", time.Hour, true)
	took("/back", -time.Hour, false) // the clock is set back
	a.Account("Ada", shop.Owner)
	a.Account("Ben", shop.Planner)
	a.SignIn("Ada")
	_, page := fetch(t, a, "/settings/running")
	for _, want := range []string{"GET /slow<", words.Firm("2.5 s"), "9.9"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %s: %.2000s", want, page)
		}
	}
	for _, not := range []string{"/quick", "secret", "/events<", "/back"} {
		if strings.Contains(page, not) {
			t.Errorf("the page has %s", not)
		}
	}
	at := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	for _, told := range []struct {
		file string
		err  error
		says []string
		not  string
	}{
		{"", nil, []string{"There is no copy of the shop yet", "2 Mar 2026, 08:00"}, "failed:"},
		{"", errors.New("the disk is full"), []string{"failed: the disk is full", "There is no copy of the shop yet"}, "The latest copy"},
		{"/copies/a.db", nil, []string{"The latest copy of the shop is of 2 Mar 2026, 07:00 (a.db, 1.5 MB)", "2 Mar 2026, 08:00"}, "failed:"},
		{"", errors.New("the disk is full"), []string{"failed: the disk is full", "The latest copy of the shop is of 2 Mar 2026, 07:00"}, "no copy"},
	} {
		copies.Tell(told.file, at, 1_500_000, at.Add(time.Hour), told.err)
		_, page := fetch(t, a, "/settings/running")
		page = strings.ReplaceAll(page, "\u00a0", " ")
		for _, want := range told.says {
			if !strings.Contains(page, want) {
				t.Errorf("after %q, %v the page lacks %q: %s", told.file, told.err, want, page)
			}
		}
		if strings.Contains(page, told.not) {
			t.Errorf("after %q, %v the page has %q", told.file, told.err, told.not)
		}
	}
	if _, body := fetch(t, a, "/metrics"); !strings.Contains(body, "needlepace_copies_failed_total 2") || !strings.Contains(body, "needlepace_copy_time_seconds 1.7724348e+09") {
		t.Errorf("the metrics lack copies: %s", body)
	}
	for range 2 * watch.KeptSlow {
		took("/more", 2*time.Second, false)
	}
	if n := len(w.State().Slow); n != watch.KeptSlow {
		t.Errorf("%d slow requests are kept", n)
	}
	if res, body := fetch(t, a, "/debug/pprof/goroutine?debug=1"); res.StatusCode != 200 || !strings.Contains(body, "goroutine profile") {
		t.Errorf("a profile: status %d, %.80s", res.StatusCode, body)
	}
	if res, _ := fetch(t, a, "/debug/pprof/cmdline"); res.StatusCode != 404 {
		t.Errorf("the command line, where secrets may stand: status %d", res.StatusCode)
	}
	a.SignIn("Ben")
	for _, path := range []string{"/settings/running", "/debug/pprof/goroutine"} {
		if res, _ := fetch(t, a, path); res.StatusCode != 403 {
			t.Errorf("a planner gets %s with status %d", path, res.StatusCode)
		}
	}
	off := webtest.New(t, web.Options{})
	if res, _ := fetch(t, off, "/debug/pprof/goroutine"); res.StatusCode != 404 {
		t.Errorf("without the flag: status %d", res.StatusCode)
	}
}
