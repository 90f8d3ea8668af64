package web

import (
	"context"
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
	phones  bool // phones come in too, with a code
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
	for _, by := range []struct {
		cookie string
		on     bool
		who    func(context.Context, string) (*shop.Account, error)
	}{{s.cookieName(), true, s.shop.Accounts.SignedIn}, {phoneCookie, s.phones, s.shop.Phones.SignedIn}} {
		c, err := r.Cookie(by.cookie)
		if !by.on || err != nil || c.Value == "" {
			continue
		}
		if a, err := by.who(r.Context(), c.Value); shop.CodeOf(err) != shop.SignIn {
			return a, err
		}
	}
	return nil, nil
}

const (
	// phoneCookie holds a phone's session; the door always has HTTPS.
	phoneCookie = "__Host-needlepace-phone"
	// phoneCookieDays is as long as browsers keep a cookie (RFC 6265bis: 400
	// days); when the session is over the shop says.
	phoneCookieDays = 400
)

func (s *sessions) setCookie(w http.ResponseWriter, name, value string, maxAge int) {
	http.SetCookie(w, &http.Cookie{
		Name: name, Value: value, Path: "/", MaxAge: maxAge,
		HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteLaxMode,
	})
}

// SignIn checks name and password, not too often, and sets the cookie. The
// sign-in page's form uses it too.
func (s *sessions) SignIn(c *serve.Call, name, password string) (*shop.Account, error) {
	if !c.Accounts {
		return nil, shop.Invalidf("nobody needs to sign in here")
	}
	var a *shop.Account
	err := s.notTooOften(c, []string{"name " + strings.ToLower(strings.TrimSpace(name))}, func() (err error) {
		var secret string
		if secret, a, err = s.shop.Accounts.SignIn(c.Ctx, name, password); err == nil {
			s.setCookie(c.W, s.cookieName(), secret, int(accounts.SessionTime().Seconds()))
		}
		return err
	})
	return a, err
}

// notTooOften tries what may be guessed at; keys count its failures beside the
// computer that asks.
func (s *sessions) notTooOften(c *serve.Call, keys []string, try func() error) error {
	host, _, err := net.SplitHostPort(c.RemoteAddr)
	if err != nil {
		host = c.RemoteAddr
	}
	keys = append(keys, "host "+host)
	if w := s.signIns.wait(keys...); w > 0 {
		c.W.Header().Set("Retry-After", strconv.Itoa(int(w.Seconds())+1))
		return shop.Errorf(shop.Busy, "too many wrong tries; wait %v and try again", w.Round(time.Second)+time.Second)
	}
	err = try()
	switch {
	case err == nil:
		s.signIns.passed(keys...)
	case shop.CodeOf(err) == shop.SignIn:
		s.signIns.failed(keys...)
		c.Log.Warn("a sign-in failed", "host", host)
	}
	return err
}

// LetIn uses a phone's code up, not too often, and sets the cookie. The session
// is always a new one; one that this browser had as another phone ends.
func (s *sessions) LetIn(c *serve.Call, code string) error {
	if !s.phones {
		return shop.Invalidf("phones come in by the door for phones")
	}
	return s.notTooOften(c, nil, func() error {
		secret, p, err := s.shop.Phones.LetIn(c.Ctx, code)
		if err != nil {
			return err
		}
		if k, err := c.Cookie(phoneCookie); err == nil && k.Value != "" {
			if err := s.shop.Phones.SignOut(c.Ctx, k.Value); err != nil {
				return err
			}
		}
		s.setCookie(c.W, phoneCookie, secret, phoneCookieDays*24*60*60)
		c.Log.Info("a phone was let in", "phone", p.ID)
		return nil
	})
}

// SignOut ends the session of whoever asks: a person's, else the phone's.
func (s *sessions) SignOut(c *serve.Call) error {
	if k, err := c.Cookie(s.cookieName()); err == nil && k.Value != "" {
		s.setCookie(c.W, s.cookieName(), "", -1)
		return s.shop.Accounts.SignOut(c.Ctx, k.Value)
	}
	if k, err := c.Cookie(phoneCookie); s.phones && err == nil && k.Value != "" {
		s.setCookie(c.W, phoneCookie, "", -1)
		return s.shop.Phones.SignOut(c.Ctx, k.Value)
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
	to := "/sign-in"
	if c.Behind {
		to = "/phone"
	}
	http.Redirect(c.W, c.Request, to, http.StatusSeeOther)
	return nil
}
