// Package serve is what the pages and the API have in common: what a route is,
// the request that a route answers with all that its handler needs, how a
// query is read, and how failures and files are answered. It knows no route.
package serve

import (
	"context"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"time"

	"needlepace/act"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/recordings"
	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/telling/mqtt"
	"needlepace/web/door"
	"needlepace/web/watch"
	"needlepace/words"
)

// APIRoot is what the API's addresses begin with.
const APIRoot = "/api/v1"

// Site is what the handlers of one app share.
type Site struct {
	Shop *act.Shop
	Jobs jobs.Queue
	// Recordings are those under way.
	Recordings *recordings.Desk
	Sessions   Sessions
	Log        *slog.Logger
	Now        func() time.Time
	Version    string // of the program, shown
	Language   *words.Language
	// Accounts says that people sign in. Without it everybody is the owner.
	Accounts bool
	// Secure says that people reach the app by HTTPS.
	Secure bool
	// MaxUpload is the largest request body in bytes.
	MaxUpload int64
	// Door lets phones in; nil where the program was started without.
	Door *door.Door
	// Watch counts what is answered.
	Watch *watch.Watch
	// Copies are the shop's that are made regularly; nil where the program was started without.
	Copies *watch.Copies
	// Feed takes in what machines tell; nil where the program was started without.
	Feed *mqtt.Feed
	// Kept are pages as they were written; the site behind the door shares them.
	Kept *Kept
	// Assets is the address that scripts, styles and fonts stand under.
	Assets string
	// Others are the other shops under one roof; nil where one shop is served.
	Others Others
	// Behind says that people come by the door: phones, who sign in with a code.
	Behind bool
}

// Others are other shops, of those who work in several.
type Others interface {
	// Name is this shop's, as its address begins.
	Name() string
	// Mine are the names of those of whoever asks, by name.
	Mine(c *Call) ([]string, error)
	// Address is where the way in to one begins for whoever is signed in here.
	Address(c *Call, shop string) string
	// Join makes whoever asks and the account of a name and a password in another shop one person's.
	Join(c *Call, shop, name, password string) error
	// SignIns are where whoever asks is signed in there, the last seen first.
	SignIns(c *Call) ([]Elsewhere, error)
	// EndAll ends these.
	EndAll(c *Call) error
}

// Elsewhere is a sign-in in another shop.
type Elsewhere struct {
	Shop string
	accounts.SignIn
}

// Sessions lets people in and out.
type Sessions interface {
	// SignIn checks name and password, not too often, and sets the cookie.
	SignIn(c *Call, name, password string) (*shop.Account, error)
	// ChangePassword gives whoever is signed in another password, not too often;
	// their other sessions end.
	ChangePassword(c *Call, before, password string) error
	// Secret is the secret that who asks is signed in by; empty for a phone or a
	// program.
	Secret(c *Call) string
	// LetIn uses a phone's code up, not too often, and sets the cookie.
	LetIn(c *Call, code string) error
	// SignOut ends the session of whoever asks.
	SignOut(c *Call) error
	// Called finds the open call of a code, not too often by wrong ones.
	Called(c *Call, code string) (*shop.CallPage, error)
	// Sends counts an entry to an open call from the address of who asks, who may send
	// some a day: Busy says when those are over. back takes it back.
	Sends(c *Call) (back func(), err error)
}

// Route is one address of the app: a page, what a page's form does, or an
// operation of the API.
type Route struct {
	Method, Path string     // Path in the form of http.ServeMux
	Right        shop.Right // what it needs; empty: nobody need be signed in
	Do           func(*Call) error
	Fail         func(*Call, error) // tells whoever asks what was wrong
}

// Pattern is the route for a http.ServeMux.
func (r *Route) Pattern() string {
	if r.Method == "" {
		return r.Path
	}
	return r.Method + " " + r.Path
}

// Call is one request being answered.
type Call struct {
	*http.Request
	*Site
	W   http.ResponseWriter
	Ctx context.Context // ends with the request, or when it takes too long
	// Spoken is the language that who asks has chosen, where the answer is something
	// that operators read; nil: the site's.
	Spoken *words.Language
	Act    *shop.Act // what the request may change is noted under it; nil where it only asks
	worked int64     // the change that work made whose result is shown; 0: none
}

// Working is the context of work that goes on after the call: what it changes is
// noted as a change of its own, and what is heavy in it others do where there are some.
func (c *Call) Working(ctx context.Context) context.Context {
	ctx = c.Shop.Elsewhere(ctx)
	if c.Act == nil {
		return ctx
	}
	return shop.WithAct(ctx, &shop.Act{By: c.Act.By, Right: c.Act.Right, From: c.Act.From})
}

type accountKey struct{}

// WithAccount is the request of somebody who is signed in.
func WithAccount(r *http.Request, a *shop.Account) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), accountKey{}, a))
}

// nobody is who uses an app without accounts: the owner.
var nobody = &shop.Account{Role: shop.Owner}

// Account is who asks: with accounts, whoever is signed in (nil for nobody);
// without, an owner without a name.
func (c *Call) Account() *shop.Account {
	if !c.Accounts {
		return nobody
	}
	a, _ := c.Context().Value(accountKey{}).(*shop.Account)
	return a
}

// May reports whether who asks has a right; pages use it to leave out what
// would be refused.
func (c *Call) May(right shop.Right) bool {
	a := c.Account()
	return a != nil && a.Role.Has(right)
}

// Need is the error of who has not got a right.
func (c *Call) Need(right shop.Right) error {
	if c.May(right) {
		return nil
	}
	return right.Lacking()
}

// Order is the order that the address is about.
func (c *Call) Order() (*book.Order, error) { return c.Shop.Orders.Get(c.Ctx, c.PathValue("order")) }

// Machine is the machine that the address is about.
func (c *Call) Machine() (*shop.Machine, error) {
	return c.Shop.Machines.Get(c.Ctx, c.PathValue("machine"))
}

// Origin is the address of the app as others are to open it: the one that it was
// asked by, or where only this computer can use that, the door's.
func (c *Call) Origin() string {
	host := (&url.URL{Host: c.Host}).Hostname()
	if ip := net.ParseIP(host); c.Door != nil && (host == "localhost" || ip != nil && ip.IsLoopback()) {
		if all := c.Door.Reachable(); len(all) > 0 && c.Door.Port() != "" {
			return c.Door.Origin("https", all[0])
		}
	}
	scheme := "http"
	if c.Secure {
		scheme = "https"
	}
	return scheme + "://" + c.Host
}

// By is the name of who asks, for histories; empty where there are no accounts.
func (c *Call) By() string {
	if a := c.Account(); a != nil {
		return a.Name
	}
	return ""
}

// SignIns are where whoever asks is signed in, or, all, where everybody is.
func (c *Call) SignIns(all bool) ([]accounts.SignIn, error) {
	whose := c.Account().ID
	if all {
		if err := c.Need(shop.KeepAccounts); err != nil {
			return nil, err
		}
		whose = ""
	}
	return c.Shop.Accounts.SignIns(c.Ctx, whose, c.Sessions.Secret(c))
}

// EndSignIn ends a sign-in of whoever asks; with the right to, anybody's.
func (c *Call) EndSignIn(id string) error {
	whose := c.Account().ID
	if c.May(shop.KeepAccounts) {
		whose = ""
	}
	return c.Shop.Accounts.EndSignIn(c.Ctx, whose, id)
}

// EndOthers ends all sign-ins of whoever asks but this one, in all shops.
func (c *Call) EndOthers() error {
	err := c.Shop.Accounts.EndOthers(c.Ctx, c.Account().ID, c.Sessions.Secret(c))
	if c.Others != nil && err == nil {
		err = c.Others.EndAll(c)
	}
	return err
}

// Work is long work that whoever asks may see: their own, or with the right to
// it that of others; see jobs.Queue.Look.
func (c *Call) Work(id string, wait time.Duration) (jobs.Work, error) {
	w, err := c.Jobs.Look(c.Ctx, id, 0)
	if err != nil {
		return w, err
	}
	if w.By != c.By() {
		if err := c.Need(shop.StopWork); err != nil {
			return jobs.Work{}, err
		}
	}
	if wait > 0 {
		watch.Of(c.Context()).Waits = true
		return c.Jobs.Look(c.Ctx, id, wait)
	}
	return w, nil
}

// StopWork stops long work that whoever asks may see.
func (c *Call) StopWork(id string) error {
	if _, err := c.Work(id, 0); err != nil {
		return err
	}
	return c.Jobs.Stop(id)
}
