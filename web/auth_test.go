package web

import (
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
)

func TestHeadersOfEveryAnswer(t *testing.T) {
	a := newApp(t, Options{})
	for _, path := range []string{"/api/v1/status", "/api/v1/nothing", "/healthz", "/", "/nothing"} {
		res, err := a.client.Get(a.http.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only read
		for header, words := range map[string]string{
			"Content-Security-Policy": "default-src 'none'", "X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY",
			"Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin",
		} {
			if !strings.Contains(res.Header.Get(header), words) {
				t.Errorf("%s: %s is %q", path, header, res.Header.Get(header))
			}
		}
		if csp := res.Header.Get("Content-Security-Policy"); strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") || strings.Contains(csp, "*") {
			t.Errorf("%s: the policy lets too much in: %s", path, csp)
		}
	}
}

func TestOtherSitesCannotChangeAnything(t *testing.T) {
	a := newApp(t, Options{})
	for _, h := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "https://elsewhere.example"}, {"Origin", "null"}} {
		a.send("POST", "/demo", nil, h...).fails(403, shop.Forbidden, "another site")
		a.send("GET", "/status", nil, h...).ok(200)
	}
	a.send("PUT", "/settings", shop.DefaultSettings, "Sec-Fetch-Site", "same-origin").ok(200)
}

// A site that points a name of its own at this computer must not reach the app.
func TestOnlyKnownNamesAreAnswered(t *testing.T) {
	ask := func(a *app, host string) int {
		t.Helper()
		req, err := http.NewRequest("GET", a.http.URL+"/api/v1/status", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Host = host
		res, err := a.client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		if _, err := io.ReadAll(res.Body); err != nil {
			t.Fatal(err)
		}
		return res.StatusCode
	}
	local, named := newApp(t, Options{}), newApp(t, Options{Accounts: true, Hosts: []string{"shop.lan"}})
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
	a := newApp(t, Options{Accounts: true})
	a.account("Ada", shop.Owner)
	for _, rt := range routes() {
		path := strings.NewReplacer("{", "", "}", "").Replace(strings.TrimPrefix(rt.pattern(), rt.method+" "))
		var body any
		if rt.in != nil {
			body = "{}"
		}
		if rt.name == "signIn" {
			continue // it is refused for its own reasons
		}
		if !strings.HasPrefix(path, "/api/") {
			path = "/" + path
		}
		r := a.send(rt.method, path, body)
		if rt.open == (r.status == http.StatusUnauthorized) {
			t.Errorf("%s without signing in: status %d", rt.pattern(), r.status)
		}
	}
	res, err := a.client.Get(a.http.URL + "/designs?search=x")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only read
	if to := res.Header.Get("Location"); res.StatusCode != 303 || to != "/sign-in?next="+url.QueryEscape("/designs?search=x") {
		t.Errorf("a page without signing in: %d to %q", res.StatusCode, to)
	}
	for _, path := range []string{"/assets/../api/v1/designs", "/assets/%2e%2e/api/v1/designs", "//api/v1/designs"} {
		res, err := a.client.Get(a.http.URL + path)
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

func (a *app) signIn(name string) {
	a.t.Helper()
	a.send("POST", "/session", signInAsked{name, password}).ok(200)
}

func TestRolesMayWhatTheyMay(t *testing.T) {
	a := newApp(t, Options{Accounts: true})
	a.account("Ada", shop.Owner)
	a.account("Ben", shop.Planner)
	a.account("Cleo", shop.Operator)
	for name, role := range map[string]shop.Role{"ada": shop.Owner, "BEN": shop.Planner, "Cleo": shop.Operator} {
		a.signIn(name)
		if s := into[sessionAnswer](a.send("GET", "/session", nil).ok(200)); s.Role != string(role) || !s.SignedIn {
			t.Errorf("%s: %+v", name, s)
		}
		for _, rt := range routes() {
			if rt.open || rt.name == "loadDemo" {
				continue
			}
			path := strings.NewReplacer("{", "", "}", "").Replace(strings.TrimPrefix(rt.pattern(), rt.method+" "))
			var body any
			if rt.in != nil {
				body = "[]"
			}
			r := a.send(rt.method, path, body)
			if role.May(rt.need) == (r.status == http.StatusForbidden) || r.status == http.StatusUnauthorized {
				t.Errorf("%s by a %s: status %d, needs %s", rt.pattern(), role, r.status, rt.need)
			}
		}
	}
}

func TestSessionsAndTheirCookie(t *testing.T) {
	a := newApp(t, Options{Accounts: true})
	ada := a.account("Ada", shop.Owner)
	a.account("Eve", shop.Owner)
	r := a.send("POST", "/session", signInAsked{"Ada", password}).ok(200)
	cookie := r.header.Get("Set-Cookie")
	if !strings.Contains(cookie, "HttpOnly") || !strings.Contains(cookie, "SameSite=Lax") || strings.Contains(cookie, "Secure") {
		t.Errorf("cookie %s", cookie)
	}
	secret := strings.TrimPrefix(strings.Split(cookie, ";")[0], "needlepace=")
	if len(secret) < 40 || strings.Contains(a.log.String(), secret) || strings.Contains(a.log.String(), password) {
		t.Error("a secret is short, or in the log")
	}
	a.send("GET", "/accounts", nil).ok(200)
	if strings.Contains(string(a.send("GET", "/accounts", nil).body), "argon2") {
		t.Error("hashes of passwords are given away")
	}
	a.send("PUT", "/accounts/"+ada.ID, accountChange{Role: "owner", Password: "another password"}).ok(200)
	a.send("GET", "/designs", nil).fails(401, shop.SignIn, "sign in") // a new password ends the sessions
	a.signIn("Eve")
	a.send("DELETE", "/session", nil).ok(204)
	a.send("GET", "/designs", nil).fails(401, shop.SignIn, "sign in")
	secure := newApp(t, Options{Accounts: true, Secure: true})
	secure.account("Ada", shop.Owner)
	cookie = secure.send("POST", "/session", signInAsked{"Ada", password}).ok(200).header.Get("Set-Cookie")
	if !strings.HasPrefix(cookie, "__Host-needlepace=") || !strings.Contains(cookie, "Secure") || !strings.Contains(cookie, "Path=/") {
		t.Errorf("cookie over HTTPS: %s", cookie)
	}
}

func TestGuessingIsSlowedDown(t *testing.T) {
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	l := newLimiter(func() time.Time { return now })
	var waits []time.Duration
	for range 8 {
		l.failed("a")
		waits = append(waits, l.wait("a", "b"))
	}
	want := []time.Duration{0, 0, 0, 0, time.Second, 2 * time.Second, 4 * time.Second, 8 * time.Second}
	for i := range want {
		if waits[i] != want[i] {
			t.Errorf("waits %v, want %v", waits, want)
			break
		}
	}
	for range 30 {
		l.failed("a")
	}
	if w := l.wait("a"); w != longestWait {
		t.Errorf("after many failures: %v", w)
	}
	now = now.Add(2 * time.Hour)
	if l.failed("a"); l.wait("a") != 0 {
		t.Error("an hour without failures must forget")
	}
	for i := range limiterMost + 50 {
		l.failed(string(rune('A'+i%26)) + strings.Repeat("x", i%7) + time.Duration(i).String())
	}
	if len(l.seen) > limiterMost {
		t.Errorf("%d entries are held", len(l.seen))
	}

	a := newApp(t, Options{Accounts: true})
	a.account("Ada", shop.Owner)
	for range freeFailures {
		a.send("POST", "/session", signInAsked{"Ada", "wrong password"}).fails(401, shop.SignIn, "wrong")
	}
	r := a.send("POST", "/session", signInAsked{"Ada", password})
	r.fails(429, shop.Busy, "too many wrong tries")
	if r.header.Get("Retry-After") == "" {
		t.Error("no Retry-After")
	}
}

func TestTheSignInForm(t *testing.T) {
	a := newApp(t, Options{Accounts: true})
	a.account("Ada", shop.Owner)
	post := func(form url.Values) *http.Response {
		t.Helper()
		res, err := a.client.PostForm(a.http.URL+"/sign-in", form)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only read
		return res
	}
	for next, want := range map[string]string{
		"/designs?x=1": "/designs?x=1", "": "/", "https://evil.example/": "/", "//evil.example": "/", `/\evil.example`: "/", "javascript:alert(1)": "/",
	} {
		if res := post(url.Values{"name": {"Ada"}, "password": {password}, "next": {next}}); res.StatusCode != 303 || res.Header.Get("Location") != want {
			t.Errorf("next %q leads to %q (%d)", next, res.Header.Get("Location"), res.StatusCode)
		}
	}
	if res := post(url.Values{"name": {"Nobody"}, "password": {"wrong"}, "next": {"/x"}}); res.Header.Get("Location") != "/sign-in?wrong=1&next=%2Fx" {
		t.Errorf("a wrong password leads to %q", res.Header.Get("Location"))
	}
	res, err := a.client.PostForm(a.http.URL+"/sign-out", nil)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only read
	a.send("GET", "/designs", nil).fails(401, shop.SignIn, "")
}
