package web

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"needlepace/act"
	"needlepace/internal/memo"
	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/web/serve"
	"needlepace/web/watch"
	"needlepace/words"
)

// sessions lets people in and out, by a cookie.
type sessions struct {
	shop       *act.Shop
	secure     bool
	phones     bool // phones come in too, with a code
	signIns    *limiter
	sends      *sends                      // entries to open calls
	called     memo.Memo[string, struct{}] // networks and codes of open calls that were right
	watch      *watch.Watch
	neighbours *neighbours // shops under the same roof; nil for none
}

// cookieName: __Host- keeps a cookie to this very host, but only goes with
// HTTPS.
func (s *sessions) cookieName() string {
	if s.secure {
		return "__Host-needlepace"
	}
	return "needlepace"
}

// ofPrograms reports whether an address is for programs: they bring tokens, and are
// led to no page.
func ofPrograms(path string) bool { return strings.HasPrefix(path, "/api/") || path == "/metrics" }

// bearer is the token that comes with a request (RFC 6750; how the scheme is written matters not, RFC 9110 section 11.1).
func bearer(r *http.Request) (token string, ok bool) {
	scheme, token, ok := strings.Cut(r.Header.Get("Authorization"), " ")
	return strings.TrimSpace(token), ok && strings.EqualFold(scheme, "Bearer")
}

// who is whoever is signed in; nil for nobody. Programs bring a token to the API,
// and are nobody where it is not good, whatever cookies go with it.
func (s *sessions) who(r *http.Request) (*shop.Account, error) {
	if t, ok := bearer(r); ok && ofPrograms(r.URL.Path) {
		a, err := s.shop.Accounts.Program(r.Context(), t)
		if shop.CodeOf(err) == shop.SignIn {
			return nil, nil
		}
		return a, err
	}
	for _, by := range []struct {
		cookie string
		on     bool
		who    func(context.Context, string) (*shop.Account, error)
	}{{s.cookieName(), true, func(ctx context.Context, secret string) (*shop.Account, error) {
		return s.shop.Accounts.SignedIn(ctx, secret, hostOf(r))
	}}, {phoneCookie, s.phones, s.shop.Phones.SignedIn}} {
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

// hostOf is the address of who asks, without the port.
func hostOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// deviceCookieName holds by what a browser is known in which somebody signed in.
func (s *sessions) deviceCookieName() string { return s.cookieName() + "-known" }

func cookieValue(r *http.Request, name string) string {
	c, err := r.Cookie(name)
	if err != nil {
		return ""
	}
	return c.Value
}

// browser is what somebody signs in with.
func (s *sessions) browser(c *serve.Call) accounts.Browser {
	return accounts.Browser{Address: hostOf(c.Request), Agent: c.UserAgent(),
		Device: cookieValue(c.Request, s.deviceCookieName())}
}

// Secret is the secret that who asks is signed in by; empty for a phone or a
// program.
func (s *sessions) Secret(c *serve.Call) string { return cookieValue(c.Request, s.cookieName()) }

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

// SignIn checks name and password, not too often, and sets the cookies. The
// sign-in page's form uses it too. Tries are counted by name and address; those
// from a browser in which this person signed in before by that browser, so that
// no stranger's tries keep them out.
func (s *sessions) SignIn(c *serve.Call, name, password string) (*shop.Account, error) {
	if !c.Accounts {
		return nil, shop.Invalidf("nobody needs to sign in here")
	}
	b := s.browser(c)
	known, err := s.shop.Accounts.Knows(c.Ctx, name, b.Device)
	if err != nil {
		return nil, err
	}
	by := s.strangers(c, name)
	if known {
		by = []limited{{"name " + shop.Skeleton(name) + " with " + shop.Digest([]byte(b.Device)), freeFailures, true}}
	}
	var in *accounts.SignedIn
	err = s.notTooOften(c, by, func() (err error) {
		in, err = s.shop.Accounts.SignIn(c.Ctx, name, password, b)
		return err
	})
	if err != nil {
		return nil, err
	}
	s.signedIn(c, in)
	return in.Account, nil
}

// strangers is by what the tries of a name are counted in a browser that nobody knows.
func (s *sessions) strangers(c *serve.Call, name string) []limited {
	from := network(hostOf(c.Request))
	return []limited{{"name " + shop.Skeleton(name) + " from " + from, freeFailures, true}, {"any name from " + from, freeOfHost, false}}
}

func (s *sessions) signedIn(c *serve.Call, in *accounts.SignedIn) {
	s.setCookie(c.W, s.cookieName(), in.Secret, max(1, int(in.Lasts.Seconds())))
	s.setCookie(c.W, s.deviceCookieName(), in.Device, int(accounts.DeviceTime().Seconds()))
}

// ChangePassword gives whoever is signed in another password, not too often, and
// begins a session anew; all others of theirs end.
func (s *sessions) ChangePassword(c *serve.Call, before, password string) error {
	if !c.Accounts || c.Account() == nil {
		return shop.Invalidf("nobody needs to sign in here, so there is no password to change")
	}
	id := c.Account().ID
	err := s.notTooOften(c, []limited{{"password of " + id, freeFailures, true}}, func() error {
		in, err := s.shop.Accounts.ChangeOwn(c.Ctx, id, before, password, s.browser(c))
		if err == nil {
			s.signedIn(c, in)
		}
		return err
	})
	if e := shop.ErrorOf(err); e != nil && e.Code == shop.SignIn { // who asks stays signed in
		return &shop.Error{Code: shop.Invalid, Text: e.Text, Key: e.Key}
	}
	return err
}

// notTooOften tries what may be guessed at; by says by what its tries count.
func (s *sessions) notTooOften(c *serve.Call, by []limited, try func() error) error {
	done, w := s.signIns.begin(by...)
	if w > 0 {
		s.watch.SignIn("refused")
		c.W.Header().Set("Retry-After", strconv.Itoa(int(w.Seconds())+1))
		return shop.Saying(shop.Busy, words.Say("refused.too-often", words.Args{"time": words.Seconds((w.Round(time.Second) + time.Second).Seconds())}))
	}
	how := unknown
	defer func() { done(how) }()
	err := try()
	switch {
	case err == nil:
		how = right
		s.watch.SignIn("right")
	case shop.CodeOf(err) == shop.SignIn:
		how = wrong
		s.watch.SignIn("wrong")
		c.Log.WarnContext(c.Context(), "a sign-in failed", "host", hostOf(c.Request))
	}
	return err
}

// LetIn uses a phone's code up, not too often, and sets the cookie. The session
// is always a new one; one that this browser had as another phone ends.
func (s *sessions) LetIn(c *serve.Call, code string) error {
	if !s.phones {
		return shop.Invalidf("phones come in by the door for phones")
	}
	by := []limited{{"code from " + network(hostOf(c.Request)), freeFailures, true}}
	return s.notTooOften(c, by, func() error {
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

// SignOut ends the session of whoever asks: a person's, with those in other shops that the same password, typed once,
// began; else the phone's.
func (s *sessions) SignOut(c *serve.Call) error {
	if k, err := c.Cookie(s.cookieName()); err == nil && k.Value != "" {
		s.setCookie(c.W, s.cookieName(), "", -1)
		err := s.shop.Accounts.SignOut(c.Ctx, k.Value)
		if s.neighbours != nil {
			err = errors.Join(err, s.neighbours.people.SignOut(c.Ctx, k.Value))
		}
		return err
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
