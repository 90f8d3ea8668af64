package web

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// What a proxy says is believed from its own addresses only, and only what it wrote
// itself. The forms of Forwarded are those of RFC 7239, sections 4 and 7.1.
func TestOnlyTheStatedProxySaysWhoAsks(t *testing.T) {
	trusted, err := ParseTrusted([]string{"10.0.0.2", "10.1.0.0/16", "2001:db8:ffff::/48"})
	if err != nil {
		t.Fatal(err)
	}
	const proxy, inner, stranger = "10.0.0.2:4000", "10.1.7.7:4000", "203.0.113.9:4000"
	x := func(from, proto, host string) http.Header {
		return http.Header{"X-Forwarded-For": {from}, "X-Forwarded-Proto": {proto}, "X-Forwarded-Host": {host}}
	}
	f := func(lines ...string) http.Header { return http.Header{"Forwarded": lines} }
	const std = true
	for _, c := range []struct {
		name     string
		standard bool
		peer     string
		header   http.Header
		from     string
		host     string
		plain    bool
		status   int
	}{
		{"one hop", false, proxy, x("192.0.2.60", "https", "shop.example"), "192.0.2.60", "shop.example", false, 200},
		{"without HTTPS", false, proxy, x("192.0.2.60", "http", "shop.example"), "192.0.2.60", "shop.example", true, 200},
		{"a stranger says so", false, stranger, x("192.0.2.60", "https", "evil.example"), "203.0.113.9", "app", false, 200},
		{"the client said one before", false, proxy, x("127.0.0.1, 192.0.2.60", "https", "shop.example"), "192.0.2.60", "shop.example", false, 200},
		{"the client passes for a trusted one", false, proxy, x("10.1.1.1, 192.0.2.60", "https", ""), "192.0.2.60", "app", false, 200},
		{"two proxies", false, inner, x("192.0.2.60, 10.0.0.2", "https, http", "shop.example"), "192.0.2.60", "shop.example", false, 200},
		{"two lines of one header", false, proxy, http.Header{"X-Forwarded-For": {"127.0.0.1", "192.0.2.60"}}, "192.0.2.60", "app", false, 200},
		{"IPv6", false, "[2001:db8:ffff::1]:9", x("2001:db8::17", "https", ""), "2001:db8::17", "app", false, 200},
		{"IPv4 in IPv6", false, "[::ffff:10.0.0.2]:9", x("::ffff:192.0.2.60", "https", ""), "192.0.2.60", "app", false, 200},
		{"no address", false, proxy, x("unknown", "https", "shop.example"), "10.0.0.2", "app", false, 200},
		{"Forwarded is the client's where X-Forwarded is the proxy's", false, proxy, f("for=127.0.0.1;host=evil.example"), "10.0.0.2", "app", false, 200},
		{"X-Forwarded is the client's where Forwarded is the proxy's", std, proxy, x("127.0.0.1", "http", "evil.example"), "10.0.0.2", "app", false, 200},
		{"RFC 7239 7.1, first", std, proxy, f("for=192.0.2.43, for=198.51.100.17;by=203.0.113.60;proto=http;host=example.com"), "198.51.100.17", "example.com", true, 200},
		{"RFC 7239 4, IPv6 with port, any case", std, proxy, f(`For="[2001:db8:cafe::17]:4711";Proto=HTTPS`), "2001:db8:cafe::17", "app", false, 200},
		{"RFC 7239 7.1, two lines", std, inner, f("for=192.0.2.43;proto=https", "for=10.0.0.2;proto=http"), "192.0.2.43", "app", false, 200},
		{"RFC 7239 6.3, hidden", std, proxy, f("for=_hidden, for=_SEVKISEK;host=evil.example"), "10.0.0.2", "app", false, 200},
		{"a comma and a quote in quotes", std, proxy, f(`for="_a, for=\"127.0.0.1", for=192.0.2.60`), "192.0.2.60", "app", false, 200},
		{"an unended quote", std, proxy, f(`for="192.0.2.60`), "", "", false, 400},
		{"no value", std, proxy, f(`for`), "", "", false, 400},
		{"unreadable, from a stranger", std, stranger, f(`for="`), "203.0.113.9", "app", false, 200},
	} {
		var seen *http.Request
		s := &Server{opt: Options{Proxy: &Proxy{trusted, c.standard}}}
		s.site.Log = slog.New(slog.DiscardHandler)
		h := s.proxied(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { seen = r }))
		r := httptest.NewRequest("GET", "http://app/api/v1/status", nil)
		r.RemoteAddr, r.Header = c.peer, c.header
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != c.status {
			t.Errorf("%s: status %d, want %d", c.name, w.Code, c.status)
		}
		if seen == nil {
			continue
		}
		plain, _ := seen.Context().Value(plainKey{}).(bool)
		if hostOf(seen) != c.from || seen.Host != c.host || plain != c.plain {
			t.Errorf("%s: from %s, host %s, plain %v; want %s, %s, %v", c.name, hostOf(seen), seen.Host, plain, c.from, c.host, c.plain)
		}
		for name := range seen.Header {
			if strings.Contains(name, "Forwarded") {
				t.Errorf("%s: %s goes on", c.name, name)
			}
		}
	}
	for _, bad := range []string{"proxy.lan", "10.0.0.0/33", "", "fe80::1%eth0"} {
		if _, err := ParseTrusted([]string{bad}); err == nil {
			t.Errorf("%q is taken for an address", bad)
		}
	}
}
