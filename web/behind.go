package web

import (
	"net/http"
	"slices"
	"strings"

	"needlepace/web/door"
)

// behind makes the app that phones come to by the door: the same shop, work and
// pages, but everybody signs in, by a code or a password, whether or not people
// sign in on this computer.
func (s *Server) behind(d *door.Door) {
	opt := s.opt
	opt.Strict, opt.Proxy = false, nil // phones come by themselves
	b := &Server{opt: opt, mux: http.NewServeMux(), site: s.site, changes: s.changes}
	b.sessions = &sessions{shop: s.site.Shop, secure: true, phones: true, signIns: s.sessions.signIns, sends: s.sessions.sends, watch: s.opt.Watch}
	b.site.Accounts, b.site.Secure, b.site.Behind, b.site.Sessions = true, true, true, b.sessions
	b.known = func(host string) bool { return slices.Contains(d.Hosts(), host) }
	b.register()
	b.handler = b.guard(b.mux)
	d.Handle(b.handler, b.guard(untrusted(b.mux)))
}

// untrusted is what whoever comes without HTTPS gets: how to make a phone trust
// the shop, and nothing that holds a secret. Cookies for HTTPS do not come here,
// and nothing is asked that would be answered by one. That HTTPS is not made
// compulsory (HSTS) is on purpose: the same names serve this page, and where
// they are this computer's other programs without it.
func untrusted(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Del("Cross-Origin-Opener-Policy") // browsers take it by HTTPS only, and complain
		path := r.URL.Path
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			http.Error(w, "Nothing is sent without HTTPS.", http.StatusForbidden)
			return
		}
		if path == "/trust" || path == "/favicon.ico" || strings.HasPrefix(path, "/trust/") ||
			strings.HasPrefix(path, "/assets/") {
			r.Header.Del("Cookie") // whoever sends one does so by mistake
			next.ServeHTTP(w, r)
			return
		}
		http.Redirect(w, r, "/trust", http.StatusSeeOther)
	})
}
