package web

import (
	"context"
	"net/http"
	"strings"

	"needlepace/shop"
)

type accountKey struct{}

// nobody is who uses an app without accounts: the owner.
var nobody = &shop.Account{Role: shop.Owner}

// account is who asks: with accounts, whoever is signed in (nil for nobody);
// without, an owner without a name.
func (s *Server) account(r *http.Request) *shop.Account {
	if !s.opt.Accounts {
		return nobody
	}
	a, _ := r.Context().Value(accountKey{}).(*shop.Account)
	return a
}

// may reports whether who asks has the role or a higher one; pages use it to
// leave out what would be refused.
func (s *Server) may(r *http.Request, need shop.Role) bool {
	a := s.account(r)
	return a != nil && a.Role.May(need)
}

// open are the paths that need no sign-in: the sign-in itself, what its page
// is made of, the API's description, and the sign of life.
func open(path string) bool {
	return path == "/sign-in" || path == "/healthz" || path == "/api/openapi.json" || path == "/favicon.ico" ||
		path == "/manifest.webmanifest" || strings.HasPrefix(path, "/assets/") || path == "/api/v1/session"
}

// signedIn finds out who asks, and sends who must sign in to do it.
func (s *Server) signedIn(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.opt.Accounts {
			next.ServeHTTP(w, r)
			return
		}
		a, err := s.whoAsks(r)
		if err != nil && shop.CodeOf(err) != shop.SignIn {
			s.fail(w, r, err)
			return
		}
		if a == nil && !open(r.URL.Path) {
			if strings.HasPrefix(r.URL.Path, "/api/") || r.Method != http.MethodGet {
				s.fail(w, r, shop.Errorf(shop.SignIn, "sign in first"))
				return
			}
			http.Redirect(w, r, "/sign-in?next="+urlQuery(r.URL.RequestURI()), http.StatusSeeOther)
			return
		}
		if a != nil {
			r = r.WithContext(context.WithValue(r.Context(), accountKey{}, a))
		}
		next.ServeHTTP(w, r)
	})
}

// cookieName: __Host- keeps a cookie to this very host, but only goes with
// HTTPS.
func (s *Server) cookieName() string {
	if s.opt.Secure {
		return "__Host-needlepace"
	}
	return "needlepace"
}

func (s *Server) whoAsks(r *http.Request) (*shop.Account, error) {
	c, err := r.Cookie(s.cookieName())
	if err != nil || c.Value == "" {
		return nil, nil
	}
	return s.shop.SignedIn(r.Context(), c.Value)
}

func (s *Server) setCookie(w http.ResponseWriter, value string, maxAge int) {
	http.SetCookie(w, &http.Cookie{
		Name: s.cookieName(), Value: value, Path: "/", MaxAge: maxAge,
		HttpOnly: true, Secure: s.opt.Secure, SameSite: http.SameSiteLaxMode,
	})
}
