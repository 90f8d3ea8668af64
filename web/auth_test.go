package web_test

import (
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/store/sqlite"
	"needlepace/web"
	"needlepace/web/webtest"
)

// mustBeGuarded looks whether an answer says what its page may do (Content Security Policy Level 3, Fetch: nosniff).
func mustBeGuarded(t testing.TB, what string, h http.Header) {
	t.Helper()
	for header, words := range map[string]string{
		"Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; ", "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
		"Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
	} {
		if got := h.Values(header); len(got) != 1 || !strings.HasPrefix(got[0], words) {
			t.Errorf("%s: %s is %q", what, header, got)
		}
	}
	csp := h.Get("Content-Security-Policy")
	if strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") || strings.Contains(csp, "*") || !strings.Contains(csp, "; frame-ancestors 'none'; ") {
		t.Errorf("%s: the policy lets too much in: %s", what, csp)
	}
}

// Every answer has them: what a route answers is looked at in askWith, here are the others.
func TestHeadersOfEveryAnswer(t *testing.T) {
	a := webtest.New(t, web.Options{MaxUpload: 1000})
	here, err := web.ParseTrusted([]string{"127.0.0.1", "::1"})
	if err != nil {
		t.Fatal(err)
	}
	behind := webtest.New(t, web.Options{Accounts: true, Proxy: &web.Proxy{Trusted: here, Standard: true}})
	f := underRoof(t, map[string]*webtest.App{"north": behind, "broken": nil})
	asset := a.Send("GET", "//assets/favicon.svg", nil)
	for _, c := range []struct {
		a            *webtest.App
		method, path string
		status       int
		header       []string
	}{
		{a, "GET", "/api/v1/nothing", 404, nil}, {a, "GET", "/healthz", 200, nil}, {a, "GET", "/nothing", 404, nil}, {a, "HEAD", "/today", 200, nil},
		{a, "DELETE", "/today", 405, nil}, {a, "PATCH", "/api/v1/designs", 405, nil}, {a, "GET", "/", 421, []string{"Host", "evil.example"}},
		{a, "POST", "/demo", 403, []string{"Sec-Fetch-Site", "cross-site"}}, {a, "GET", "/assets/favicon.svg", 304, []string{"If-None-Match", asset.Header.Get("ETag")}},
		{a, "GET", "/today", 200, []string{"Accept-Encoding", "gzip"}}, {a, "PUT", "/api/v1/settings", 413, nil},
		{behind, "GET", "/sign-in", 400, []string{"Forwarded", "for"}},
		{f.at(t, "nowhere.shops.test", nil, nil), "GET", "/", 404, nil}, {f.at(t, "shops.test", nil, nil), "GET", "/", 421, nil},
		{f.at(t, "broken.shops.test", nil, nil), "GET", "/", 503, nil}, {f.at(t, "shops.test", nil, nil), "GET", "/readyz", 200, nil},
	} {
		var body io.Reader
		if c.status == 413 {
			body = strings.NewReader(`{"shop_name":"` + strings.Repeat("x", 2000) + `"}`)
		}
		req, err := http.NewRequest(c.method, c.a.URL+c.path, body)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/json")
		for i := 0; i < len(c.header); i += 2 {
			if req.Header.Set(c.header[i], c.header[i+1]); c.header[i] == "Host" {
				req.Host = c.header[i+1]
			}
		}
		res, err := c.a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its head is read
		if res.StatusCode != c.status {
			t.Errorf("%s %s: status %d, want %d", c.method, c.path, res.StatusCode, c.status)
		}
		mustBeGuarded(t, fmt.Sprint(c.method, " ", c.a.URL, c.path, " ", res.StatusCode), res.Header)
	}
}

func TestOtherSitesCannotChangeAnything(t *testing.T) {
	a := webtest.New(t, web.Options{})
	for _, h := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "https://elsewhere.example"}, {"Origin", "null"}} {
		a.Send("POST", "/demo", nil, h...).Fails(403, shop.Forbidden, "another site")
		a.Send("GET", "/status", nil, h...).OK(200)
		req, err := http.NewRequest("POST", a.URL+"/settings", strings.NewReader("length=inch"))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set(h[0], h[1])
		res, err := a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil || res.StatusCode != 403 || !strings.HasPrefix(res.Header.Get("Content-Type"), "text/html") ||
			!strings.Contains(string(body), "another site") {
			t.Errorf("%v: a page answers %d %s: %.300s, %v", h, res.StatusCode, res.Header.Get("Content-Type"), body, err)
		}
	}
	a.Send("PUT", "/settings", shop.DefaultSettings, "Sec-Fetch-Site", "same-origin").OK(200)
}

// A site that points a name of its own at this computer must not reach the app.
func TestOnlyKnownNamesAreAnswered(t *testing.T) {
	ask := func(a *webtest.App, host string) int {
		t.Helper()
		req, err := http.NewRequest("GET", a.URL+"/api/v1/status", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Host = host
		res, err := a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		if _, err := io.ReadAll(res.Body); err != nil {
			t.Fatal(err)
		}
		return res.StatusCode
	}
	local, named := webtest.New(t, web.Options{}), webtest.New(t, web.Options{Accounts: true, Hosts: []string{"shop.lan"}})
	for host, want := range map[string]int{"localhost:8237": 200, "127.0.0.1": 200, "[::1]:9": 200, "needlepace.localhost": 200, "evil.example": 421, "127.0.0.1.evil.example": 421, "192.168.1.7": 421} {
		if got := ask(local, host); got != want {
			t.Errorf("%s: status %d, want %d", host, got, want)
		}
	}
	for host, want := range map[string]int{"shop.lan:80": 401, "SHOP.LAN": 401, "evil.example": 421} {
		if got := ask(named, host); got != want {
			t.Errorf("with a name given, %s: status %d, want %d", host, got, want)
		}
	}
}

func TestWithAccountsNothingIsOpenButTheSignIn(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	res, err := a.Client.Get(a.URL + "/designs?search=x")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only read
	if to := res.Header.Get("Location"); res.StatusCode != 303 || to != "/sign-in?next="+url.QueryEscape("/designs?search=x") {
		t.Errorf("a page without signing in: %d to %q", res.StatusCode, to)
	}
	for from, next := range map[string]string{a.URL + "/orders/1001/change": "/orders/1001/change", "": "/", "http://elsewhere.example/x": "/"} {
		req, err := http.NewRequest("POST", a.URL+"/orders/1001", strings.NewReader("customer=x"))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Referer", from)
		res, err := a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its header
		if to := res.Header.Get("Location"); res.StatusCode != 303 || to != "/sign-in?next="+url.QueryEscape(next) {
			t.Errorf("a form of %q without signing in: %d to %q", from, res.StatusCode, to)
		}
	}
	for _, path := range []string{"/assets/../api/v1/designs", "/assets/%2e%2e/api/v1/designs", "//api/v1/designs"} {
		res, err := a.Client.Get(a.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := io.ReadAll(res.Body)
		res.Body.Close() //nolint:errcheck // only read
		if strings.Contains(string(b), `"designs"`) {
			t.Errorf("%s gave the designs away", path)
		}
	}
}

func TestSessionsAndTheirCookie(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	ada := a.Account("Ada", shop.Owner)
	a.Account("Eve", shop.Owner)
	r := a.Send("POST", "/session", map[string]string{"name": "Ada", "password": webtest.Password}).OK(200)
	// Two weeks for the sign-in, 400 days for the browser being known, as long as browsers keep one (RFC 6265bis, 5.5).
	if all := strings.Join(r.Header.Values("Set-Cookie"), "\n"); strings.Count(all, "Max-Age=1209600;") != 1 || strings.Count(all, "Max-Age=34560000;") != 1 {
		t.Errorf("the cookies last %s", all)
	}
	cookie := r.Header.Get("Set-Cookie")
	if !strings.Contains(cookie, "HttpOnly") || !strings.Contains(cookie, "SameSite=Lax") || strings.Contains(cookie, "Secure") {
		t.Errorf("cookie %s", cookie)
	}
	secret := strings.TrimPrefix(strings.Split(cookie, ";")[0], "needlepace=")
	if len(secret) < 40 || strings.Contains(a.Log.String(), secret) || strings.Contains(a.Log.String(), webtest.Password) {
		t.Error("a secret is short, or in the log")
	}
	a.Send("GET", "/accounts", nil).OK(200)
	if strings.Contains(string(a.Send("GET", "/accounts", nil).Body), "argon2") {
		t.Error("hashes of passwords are given away")
	}
	a.Send("PUT", "/accounts/"+ada.ID, map[string]string{"role": "owner", "password": "another password"}).OK(200)
	a.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "sign in") // a new webtest.Password ends the sessions
	a.SignIn("Eve")
	if out := a.Send("DELETE", "/session", nil).OK(204).Header.Get("Set-Cookie"); !strings.HasPrefix(out, "needlepace=;") || !strings.Contains(out, "Max-Age=0") {
		t.Errorf("signing out leaves the cookie: %q", out)
	}
	a.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "sign in")
	secure := webtest.New(t, web.Options{Accounts: true, Secure: true})
	secure.Account("Ada", shop.Owner)
	cookie = secure.Send("POST", "/session", map[string]string{"name": "Ada", "password": webtest.Password}).OK(200).Header.Get("Set-Cookie")
	if !strings.HasPrefix(cookie, "__Host-needlepace=") || !strings.Contains(cookie, "Secure") || !strings.Contains(cookie, "Path=/") {
		t.Errorf("cookie over HTTPS: %s", cookie)
	}
}

func TestGuessingIsSlowedDown(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	a := webtest.New(t, web.Options{Accounts: true, Now: func() time.Time { return now }})
	a.Account("Ada", shop.Owner)
	for range web.FreeFailures {
		a.Send("POST", "/session", map[string]string{"name": "Ada", "password": "wrong password"}).Fails(401, shop.SignIn, "wrong")
	}
	r := a.Send("POST", "/session", map[string]string{"name": "Ada", "password": webtest.Password})
	r.Fails(429, shop.Busy, "too many wrong tries")
	if r.Header.Get("Retry-After") != "2" { // a second, and what is begun of the next (RFC 9110, 10.2.3: whole seconds)
		t.Errorf("Retry-After %q", r.Header.Get("Retry-After"))
	}
	now = now.Add(600 * time.Millisecond)
	if r := a.Send("POST", "/session", map[string]string{"name": "Ada", "password": webtest.Password}); r.Header.Get("Retry-After") != "1" {
		t.Errorf("with 0.4 s left Retry-After is %q", r.Header.Get("Retry-After"))
	}
	now = now.Add(time.Second)
	a.Send("POST", "/session", map[string]string{"name": "Ada", "password": webtest.Password}).OK(200)
}

// Where nobody signs in the form leads on, and a phone's code is not used up where no phone comes in.
func TestWhatComesInElsewhereIsLeftAlone(t *testing.T) {
	open := webtest.New(t, web.Options{})
	res, err := open.Client.PostForm(open.URL+"/sign-in", url.Values{"name": {"Ada"}, "password": {"x"}, "next": {"/designs"}})
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only its head is read
	if res.StatusCode != 303 || res.Header.Get("Location") != "/designs" {
		t.Errorf("status %d to %q", res.StatusCode, res.Header.Get("Location"))
	}
	a := webtest.New(t, web.Options{Accounts: true})
	p, err := a.Shop.Phones.Ask(t.Context(), &shop.Account{Name: "Ada", Role: shop.Owner}, "Bay 2", shop.Operator)
	if err != nil {
		t.Fatal(err)
	}
	code := a.Shop.Phones.Code(p)
	a.Page("/phone", url.Values{"code": {code}})
	if _, _, err := a.Shop.Phones.LetIn(t.Context(), code); err != nil {
		t.Errorf("the code was used up where no phone comes in: %v", err)
	}
}

func TestTheSignInForm(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	post := func(form url.Values) *http.Response {
		t.Helper()
		res, err := a.Client.PostForm(a.URL+"/sign-in", form)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only read
		return res
	}
	for next, want := range map[string]string{
		"/designs?x=1": "/designs?x=1", "": "/", "https://evil.example/": "/", "//evil.example": "/", `/\evil.example`: "/", "javascript:alert(1)": "/",
	} {
		if res := post(url.Values{"name": {"Ada"}, "password": {webtest.Password}, "next": {next}}); res.StatusCode != 303 || res.Header.Get("Location") != want {
			t.Errorf("next %q leads to %q (%d)", next, res.Header.Get("Location"), res.StatusCode)
		}
	}
	if res := post(url.Values{"name": {"Nobody"}, "password": {"wrong"}, "next": {"/x"}}); res.Header.Get("Location") != "/sign-in?wrong=1&next=%2Fx" {
		t.Errorf("a wrong webtest.Password leads to %q", res.Header.Get("Location"))
	}
	res, err := a.Client.PostForm(a.URL+"/sign-out", nil)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only read
	a.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "")
}

// A shop that cannot be read says so. It does not send who is signed in to the
// sign-in page, nor take them for nobody.
func TestAShopThatCannotBeReadAsksNobodyToSignIn(t *testing.T) {
	store, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	s := act.New(store, act.Options{HashMemory: 1 << 10})
	if _, err := s.Accounts.Add(t.Context(), "Ada", webtest.Password, shop.Owner); err != nil {
		t.Fatal(err)
	}
	server := web.New(s, web.Options{Accounts: true, Log: slog.New(slog.DiscardHandler)})
	defer server.Close()
	ask := func(method, path, cookie, body string) *http.Response {
		r := httptest.NewRequest(method, "http://localhost"+path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Cookie", cookie)
		w := httptest.NewRecorder()
		server.Handler().ServeHTTP(w, r)
		return w.Result()
	}
	in := ask("POST", "/api/v1/session", "", `{"name":"Ada","password":"`+webtest.Password+`"}`)
	cookie, _, _ := strings.Cut(in.Header.Get("Set-Cookie"), ";")
	for _, path := range []string{"/designs", "/api/v1/designs"} {
		if res := ask("GET", path, cookie, ""); res.StatusCode != http.StatusOK {
			t.Fatalf("signed in, %s: %d", path, res.StatusCode)
		}
	}
	if err := store.Close(); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/designs", "/sign-in", "/api/v1/designs"} {
		if res := ask("GET", path, cookie, ""); res.StatusCode < 500 {
			t.Errorf("%s of a shop that cannot be read: %d", path, res.StatusCode)
		}
	}
}
