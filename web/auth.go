package web

import (
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/web/serve"
)

// sessions lets people in and out, by a cookie.
type sessions struct {
	shop    *act.Shop
	secure  bool
	signIns *limiter
}

// cookieName: __Host- keeps a cookie to this very host, but only goes with
// HTTPS.
func (s *sessions) cookieName() string {
	if s.secure {
		return "__Host-needlepace"
	}
	return "needlepace"
}

// who is whoever is signed in; nil for nobody.
func (s *sessions) who(r *http.Request) (*shop.Account, error) {
	c, err := r.Cookie(s.cookieName())
	if err != nil || c.Value == "" {
		return nil, nil
	}
	a, err := s.shop.Accounts.SignedIn(r.Context(), c.Value)
	if err != nil && shop.CodeOf(err) == shop.SignIn {
		return nil, nil
	}
	return a, err
}

func (s *sessions) setCookie(w http.ResponseWriter, value string, maxAge int) {
	http.SetCookie(w, &http.Cookie{
		Name: s.cookieName(), Value: value, Path: "/", MaxAge: maxAge,
		HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteLaxMode,
	})
}

// SignIn checks name and password, not too often, and sets the cookie. The
// sign-in page's form uses it too.
func (s *sessions) SignIn(c *serve.Call, name, password string) (*shop.Account, error) {
	if !c.Accounts {
		return nil, shop.Invalidf("nobody needs to sign in here")
	}
	host, _, err := net.SplitHostPort(c.RemoteAddr)
	if err != nil {
		host = c.RemoteAddr
	}
	keys := []string{"host " + host, "name " + strings.ToLower(strings.TrimSpace(name))}
	if w := s.signIns.wait(keys...); w > 0 {
		c.W.Header().Set("Retry-After", strconv.Itoa(int(w.Seconds())+1))
		return nil, shop.Errorf(shop.Busy, "too many wrong tries; wait %v and try again",
			w.Round(time.Second)+time.Second)
	}
	secret, a, err := s.shop.Accounts.SignIn(c.Ctx, name, password)
	if err != nil {
		if shop.CodeOf(err) == shop.SignIn {
			s.signIns.failed(keys...)
			c.Log.Warn("a sign-in failed", "host", host)
		}
		return nil, err
	}
	s.signIns.passed(keys...)
	s.setCookie(c.W, secret, int(accounts.SessionTime().Seconds()))
	return a, nil
}

// SignOut ends the session of whoever asks.
func (s *sessions) SignOut(c *serve.Call) error {
	s.setCookie(c.W, "", -1)
	if k, err := c.Cookie(s.cookieName()); err == nil && k.Value != "" {
		return s.shop.Accounts.SignOut(c.Ctx, k.Value)
	}
	return nil
}

// formSignIn answers the sign-in page's form (fields name, password, next). A
// wrong password comes back to the page with ?wrong=1, too many tries with
// ?wait=SECONDS.
func formSignIn(c *serve.Call) error {
	c.Body = http.MaxBytesReader(c.W, c.Body, 16<<10)
	if err := c.ParseForm(); err != nil {
		return serve.BadRequest("the form cannot be read")
	}
	next := serve.LocalPath(c.PostForm.Get("next"))
	to := next
	_, err := c.Sessions.SignIn(c, c.PostForm.Get("name"), c.PostForm.Get("password"))
	switch code := shop.CodeOf(err); {
	case err == nil, code == shop.Invalid:
	case code == shop.SignIn:
		to = "/sign-in?wrong=1&next=" + url.QueryEscape(next)
	case code == shop.Busy:
		to = "/sign-in?wait=" + c.W.Header().Get("Retry-After") + "&next=" + url.QueryEscape(next)
	default:
		return err
	}
	http.Redirect(c.W, c.Request, to, http.StatusSeeOther)
	return nil
}

func formSignOut(c *serve.Call) error {
	if err := c.Sessions.SignOut(c); err != nil {
		return err
	}
	http.Redirect(c.W, c.Request, "/sign-in", http.StatusSeeOther)
	return nil
}
