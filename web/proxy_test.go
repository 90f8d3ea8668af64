package web_test

import (
	"net/http"
	"net/netip"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// Behind a proxy cookies are for HTTPS, browsers keep to it by names, and who came
// without it is led there and sends nothing.
func TestBehindAProxyEverythingIsHTTPS(t *testing.T) {
	here := []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}
	a := webtest.New(t, web.Options{Accounts: true, Secure: true, Strict: true, Proxy: &web.Proxy{Trusted: here}})
	a.Account("Ada", shop.Owner)
	ask := func(method, path, body string, header ...string) *http.Response {
		t.Helper()
		req, err := http.NewRequest(method, a.URL+path, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for i := 0; i < len(header); i += 2 {
			req.Header.Set(header[i], header[i+1])
		}
		res, err := a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its head is read
		return res
	}
	for host, want := range map[string]string{"shop.example": "max-age=15552000", "shop.example:8443": "max-age=15552000",
		"192.0.2.1": "", "[2001:db8::1]:443": "", "localhost": "", "x.localhost:1": ""} {
		if got := ask("GET", "/sign-in", "", "X-Forwarded-Proto", "https", "X-Forwarded-Host", host).Header.Get("Strict-Transport-Security"); got != want {
			t.Errorf("%s: Strict-Transport-Security is %q, want %q", host, got, want)
		}
	}
	plain := []string{"X-Forwarded-Proto", "http", "X-Forwarded-Host", "shop.example"}
	res := ask("GET", "/orders?x=1", "", plain...)
	if res.StatusCode != http.StatusPermanentRedirect || res.Header.Get("Location") != "https://shop.example/orders?x=1" ||
		res.Header.Get("Strict-Transport-Security") != "" {
		t.Errorf("without HTTPS: status %d to %s", res.StatusCode, res.Header.Get("Location"))
	}
	form := "name=Ada&password=" + strings.ReplaceAll(webtest.Password, " ", "+") + "&next=/"
	if res := ask("POST", "/sign-in", form, plain...); res.StatusCode != http.StatusForbidden || len(res.Cookies()) > 0 {
		t.Errorf("a password without HTTPS: status %d, %v", res.StatusCode, res.Cookies())
	}
	res = ask("POST", "/sign-in", form, "X-Forwarded-Proto", "https", "X-Forwarded-Host", "shop.example", "X-Forwarded-For", "192.0.2.60")
	if res.StatusCode != http.StatusSeeOther || len(res.Cookies()) != 2 {
		t.Fatalf("signing in: status %d, %v", res.StatusCode, res.Cookies())
	}
	for _, k := range res.Cookies() {
		if !k.Secure || !k.HttpOnly || !strings.HasPrefix(k.Name, "__Host-") {
			t.Errorf("a cookie for HTTPS and this host is %v", k)
		}
	}
	all, err := a.Shop.Accounts.SignIns(t.Context(), "", "")
	if err != nil || len(all) != 1 || all[0].Address != "192.0.2.60" {
		t.Errorf("the sign-in is listed from %+v, %v", all, err)
	}
}

// While the door for phones is open browsers forget that the shop's names want HTTPS, since it shows how to trust it
// without; when it is shut they are told anew (RFC 6797 section 6.1.1: max-age=0 is to forget).
func TestBrowsersForgetHTTPSWhileTheDoorIsOpen(t *testing.T) {
	d := webtest.Door(t)
	a := webtest.New(t, web.Options{Accounts: true, Secure: true, Strict: true, Door: d, Proxy: &web.Proxy{Trusted: []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}}})
	want := func(want string) {
		t.Helper()
		res, _ := fetch(t, a, "/sign-in", "X-Forwarded-Proto", "https", "X-Forwarded-Host", "shop.example")
		if got := res.Header.Get("Strict-Transport-Security"); got != want {
			t.Errorf("Strict-Transport-Security is %q, want %q", got, want)
		}
	}
	want("max-age=15552000")
	if err := d.Open(); err != nil {
		t.Fatal(err)
	}
	want("max-age=0")
	if err := d.Shut(t.Context()); err != nil {
		t.Fatal(err)
	}
	want("max-age=15552000")
}
