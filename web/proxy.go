package web

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"

	"needlepace/shop"
)

// Proxy is the program before the app that people come by, by HTTPS. What it
// says of them is believed when it comes from its addresses, and from nowhere else.
type Proxy struct {
	Trusted []netip.Prefix // where it is, and proxies before it
	// Standard says that it writes Forwarded (RFC 7239); else it is X-Forwarded-For,
	// -Proto and -Host. Only the one is read: the other may be the client's own.
	Standard bool
}

// ParseTrusted reads addresses (10.0.0.2) and networks (10.0.0.0/24).
func ParseTrusted(all []string) (out []netip.Prefix, err error) {
	for _, s := range all {
		p, err := netip.ParsePrefix(s)
		if a, err2 := netip.ParseAddr(s); err2 == nil && a.Zone() == "" {
			p, err = netip.PrefixFrom(a, a.BitLen()), nil
		}
		if err != nil {
			return nil, fmt.Errorf("%q is no address such as 10.0.0.2 and no network such as 10.0.0.0/24", s)
		}
		out = append(out, p.Masked())
	}
	return out, nil
}

func (p *Proxy) trusts(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	return slices.ContainsFunc(p.Trusted, func(n netip.Prefix) bool { return n.Contains(a) })
}

// hop is what one proxy says of who came to it.
type hop struct{ from, proto, host string }

// plainKey marks a request that came to the proxy without HTTPS.
type plainKey struct{}

// proxied gives each request the address, and the host, that the proxy says it
// has.
func (s *Server) proxied(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r, err := s.opt.Proxy.known(r)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// known is a request as the proxy says it was. What anybody else says is thrown away
// before it can be read.
func (p *Proxy) known(r *http.Request) (*http.Request, error) {
	var said []hop
	err := error(nil)
	if p != nil {
		if at, bad := netip.ParseAddrPort(r.RemoteAddr); bad == nil && p.trusts(at.Addr()) {
			if p.Standard {
				said, err = forwarded(r.Header["Forwarded"])
			} else {
				said = xForwarded(r.Header)
			}
		}
	}
	for name := range r.Header {
		if name == "Forwarded" || strings.HasPrefix(name, "X-Forwarded-") {
			delete(r.Header, name)
		}
	}
	if err != nil {
		return r, shop.Errorf("bad_request", "the proxy's Forwarded header cannot be read: %v", err)
	}
	if len(said) > 0 {
		r = p.believe(said, r)
	}
	return r, nil
}

// believe takes what the outermost of the trusted proxies said: from the last on,
// while who came to a proxy is a trusted one too.
func (p *Proxy) believe(said []hop, r *http.Request) *http.Request {
	at := ""
	for i := len(said) - 1; i >= 0; i-- {
		a, ok := nodeAddr(said[i].from)
		if said[i].from != "" && !ok {
			break // a name that hides who it is: nearer than the next is not known
		}
		if ok {
			at = a.String()
		}
		if said[i].host != "" {
			r.Host = said[i].host
		}
		if said[i].proto != "" {
			plain := !strings.EqualFold(said[i].proto, "https")
			r = r.WithContext(context.WithValue(r.Context(), plainKey{}, plain))
		}
		if !ok || !p.trusts(a) {
			break
		}
	}
	if at != "" {
		r.RemoteAddr = net.JoinHostPort(at, "0")
	}
	return r
}

// nodeAddr is the address of a node of RFC 7239, section 6: with or without port,
// IPv6 in brackets; X-Forwarded-For writes IPv6 without them too.
func nodeAddr(node string) (netip.Addr, bool) {
	if a, err := netip.ParseAddr(strings.Trim(node, "[]")); err == nil {
		return a.Unmap().WithZone(""), true
	}
	if ap, err := netip.ParseAddrPort(node); err == nil {
		return ap.Addr().Unmap().WithZone(""), true
	}
	return netip.Addr{}, false
}

// xForwarded are the hops of X-Forwarded-For and what stands beside them: the last
// of -Proto and -Host belong to the last hop. One alone holds for all.
func xForwarded(h http.Header) []hop {
	list := func(name string) (out []string) {
		for _, line := range h.Values(name) {
			for part := range strings.SplitSeq(line, ",") {
				out = append(out, strings.TrimSpace(part))
			}
		}
		return out
	}
	from, proto, host := list("X-Forwarded-For"), list("X-Forwarded-Proto"), list("X-Forwarded-Host")
	out := make([]hop, max(len(from), min(1, len(proto)+len(host))))
	beside := func(all []string, i int) string {
		switch k := len(all) - len(out) + i; {
		case len(all) == 1:
			return all[0]
		case k >= 0 && len(all) > 0:
			return all[k]
		}
		return ""
	}
	for i := range out {
		out[i] = hop{"", beside(proto, i), beside(host, i)}
		if len(from) > 0 {
			out[i].from = from[i]
		}
	}
	return out
}

// forwarded reads Forwarded (RFC 7239, section 4): elements of token=value, where
// a value may be a quoted string (RFC 9110, section 5.6.4).
func forwarded(lines []string) (out []hop, err error) {
	text := strings.Join(lines, ",")
	var h hop
	for any := false; ; {
		text = strings.TrimLeft(text, " \t")
		if text == "" || text[0] == ',' {
			if any {
				out = append(out, h)
			}
			if text == "" {
				return out, nil
			}
			h, any, text = hop{}, false, text[1:]
			continue
		}
		if text[0] == ';' {
			text = text[1:]
			continue
		}
		name, rest, ok := strings.Cut(text, "=")
		if !ok || strings.ContainsAny(name, ",;\" \t") {
			return nil, fmt.Errorf("no name and value at %.40q", text)
		}
		var value string
		if strings.HasPrefix(rest, `"`) {
			var b strings.Builder
			i := 1
			for ; i < len(rest) && rest[i] != '"'; i++ {
				if rest[i] == '\\' && i+1 < len(rest) {
					i++
				}
				b.WriteByte(rest[i])
			}
			if i == len(rest) {
				return nil, fmt.Errorf("a quoted text without an end at %.40q", rest)
			}
			value, text = b.String(), strings.TrimLeft(rest[i+1:], " \t")
		} else {
			end := strings.IndexAny(rest, ",; \t")
			if end < 0 {
				end = len(rest)
			}
			value, text = rest[:end], strings.TrimLeft(rest[end:], " \t")
		}
		if text != "" && text[0] != ',' && text[0] != ';' {
			return nil, fmt.Errorf("neither , nor ; at %.40q", text)
		}
		any = true
		switch strings.ToLower(name) {
		case "for":
			h.from = value
		case "proto":
			h.proto = value
		case "host":
			h.host = value
		}
	}
}

// httpsOnly leads who came to the proxy without HTTPS to the same page with it,
// and takes nothing that they send.
func httpsOnly(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if plain, _ := r.Context().Value(plainKey{}).(bool); !plain {
			next.ServeHTTP(w, r)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			http.Error(w, "Nothing is sent without HTTPS.", http.StatusForbidden)
			return
		}
		http.Redirect(w, r, "https://"+r.Host+r.URL.RequestURI(), http.StatusPermanentRedirect)
	})
}

// strictTime is how long a browser keeps to HTTPS for a name (RFC 6797): half a year.
const strictTime = "max-age=15552000"

// strict is the Strict-Transport-Security that goes with an answer; empty for
// none. Only a name that people reach by a certificate of their own, or by a
// proxy's, has it: not addresses and localhost, which other programs of this
// computer use. The phones' door shows how to trust it under the same names without
// HTTPS, so while it is open browsers are to forget what they were told.
func (s *Server) strict(r *http.Request) string {
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	plain, _ := r.Context().Value(plainKey{}).(bool)
	if !s.opt.Strict || plain || net.ParseIP(host) != nil || host == "localhost" || strings.HasSuffix(host, ".localhost") {
		return ""
	}
	if s.opt.Door != nil && s.opt.Door.Port() != "" {
		return "max-age=0"
	}
	return strictTime
}
