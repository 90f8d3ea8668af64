package web

import (
	"context"
	"crypto/rand"
	"errors"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// neighbours are the other shops under one roof, as one of them knows them: those of whoever asks only.
type neighbours struct {
	roof   *Roof
	people *act.People
	name   string // of this shop
	in     *sessions
}

// under lets a shop's people go to other shops of theirs under a roof.
func (s *Server) under(f *Roof, name string) {
	if f.people == nil {
		return
	}
	s.neighbours = &neighbours{f, f.people, name, s.sessions}
	s.sessions.neighbours = s.neighbours
	s.site.Others = s.neighbours
	s.site.Shop.Accounts.Joined = f.people.Of(name)
}

// own is whoever asks, where they signed in here with a password or came by a ticket.
func (o *neighbours) own(c *serve.Call) (act.Own, error) {
	a := c.Account()
	if a == nil || o.in.Secret(c) == "" {
		return act.Own{}, shop.Saying(shop.Forbidden, words.Say("refused.no-person"))
	}
	return act.Own{Name: o.name, Shop: c.Shop, Account: a}, nil
}

// Name is this shop's.
func (o *neighbours) Name() string { return o.name }

// Mine are the names of the other shops that whoever asks may sign in to.
func (o *neighbours) Mine(c *serve.Call) ([]string, error) {
	own, err := o.own(c)
	if err != nil {
		return nil, err
	}
	return o.people.Shops(c.Context(), own)
}

// Address is where a shop's way in from this one begins.
func (o *neighbours) Address(c *serve.Call, to string) string {
	return o.at(c, to, "/shops/come", url.Values{"from": {o.name}})
}

// at is an address of a shop, by the name, port and scheme that this one is asked by.
func (o *neighbours) at(c *serve.Call, name, path string, q url.Values) string {
	host := name + "." + strings.ToLower(o.roof.opt.Name)
	if _, port, err := net.SplitHostPort(c.Host); err == nil {
		host = net.JoinHostPort(host, port)
	}
	scheme := "http"
	if c.Secure {
		scheme = "https"
	}
	return (&url.URL{Scheme: scheme, Host: host, Path: path, RawQuery: q.Encode()}).String()
}

// Join makes whoever asks and the account of a name and a password in another shop one person's. Tries are counted by
// that shop, as for who signs in there.
func (o *neighbours) Join(c *serve.Call, name, account, password string) error {
	own, err := o.own(c)
	if err != nil {
		return err
	}
	if name == o.name {
		return shop.At("shop", shop.Saying(shop.Conflict, words.Say("refused.same-shop")))
	}
	wrong := shop.Saying(shop.Invalid, words.Say("refused.join"))
	app, done, err := o.roof.take(c.Context(), name)
	if shop.CodeOf(err) == shop.NotFound {
		return wrong
	}
	if err != nil {
		return err
	}
	defer done()
	var a *shop.Account
	err = app.sessions.notTooOften(c, app.sessions.strangers(c, account), func() (err error) {
		a, err = app.site.Shop.Accounts.Check(c.Context(), account, password)
		return err
	})
	switch {
	case shop.CodeOf(err) == shop.SignIn: // who asks stays signed in
		return wrong
	case err != nil:
		return err
	}
	if err := o.people.Join(c.Ctx, own, act.Own{Name: name, Shop: app.site.Shop, Account: a}); err != nil {
		return err
	}
	return o.people.Enter(c.Ctx, own, o.in.Secret(c))
}

// SignIns are where whoever asks is signed in in other shops.
func (o *neighbours) SignIns(c *serve.Call) (all []serve.Elsewhere, err error) {
	own, err := o.own(c)
	if err != nil {
		return nil, err
	}
	err = o.people.Each(c.Context(), own, func(ctx context.Context, at act.Own) error {
		list, err := at.Shop.Accounts.SignIns(ctx, at.Account.ID, "")
		for _, in := range list {
			all = append(all, serve.Elsewhere{Shop: at.Name, SignIn: in})
		}
		return err
	})
	slices.SortStableFunc(all, func(a, b serve.Elsewhere) int { return b.Seen.Compare(a.Seen) })
	return all, err
}

// EndAll ends the sign-ins of whoever asks in other shops.
func (o *neighbours) EndAll(c *serve.Call) error {
	own, err := o.own(c)
	if err != nil {
		return err
	}
	return o.people.Each(c.Ctx, own, func(ctx context.Context, at act.Own) error {
		return at.Shop.Accounts.EndOthers(ctx, at.Account.ID, "")
	})
}

// wayCookie holds by what a browser is known that asked to come in from another shop.
func (s *sessions) wayCookie() string { return s.cookieName() + "-way" }

const waySeconds = 60

// come lets in who is signed in at another shop. First the browser is given a secret and sent there; from there it comes
// back with a ticket that is good for who holds the secret. So a ticket that somebody else sees, or sends, opens nothing.
func (s *Server) come(c *serve.Call) error {
	c.Spoken = c.Wished()
	if s.neighbours == nil {
		return noOthers(c)
	}
	q := c.URL.Query()
	ticket, from := q.Get("ticket"), q.Get("from")
	if ticket == "" {
		if from == s.neighbours.name || !shop.IsAddressName(from) {
			return noOthers(c)
		}
		if there, err := s.neighbours.roof.there(c.Context(), from); err != nil || !there {
			return errors.Join(err, noOthers(c))
		}
		secret := rand.Text() + rand.Text()
		s.sessions.setCookie(c.W, s.sessions.wayCookie(), secret, waySeconds)
		http.Redirect(c.W, c.Request, s.neighbours.at(c, from, "/shops/go", url.Values{"to": {s.neighbours.name}, "with": {shop.Digest([]byte(secret))}}),
			http.StatusSeeOther)
		return nil
	}
	before := s.sessions.Secret(c)
	asked := cookieValue(c.Request, s.sessions.wayCookie())
	s.sessions.setCookie(c.W, s.sessions.wayCookie(), "", -1)
	in, err := s.neighbours.people.Arrive(c.Context(), s.neighbours.name, c.Shop, ticket, asked, s.sessions.browser(c))
	if err != nil {
		return err
	}
	if before != "" { // the cookie holds another one from now on
		if err := c.Shop.Accounts.SignOut(c.Context(), before); err != nil {
			return err
		}
	}
	s.sessions.signedIn(c, in)
	http.Redirect(c.W, c.Request, "/", http.StatusSeeOther)
	return nil
}

// goTo sends who is signed in on to another shop of theirs, with a ticket.
func (s *Server) goTo(c *serve.Call) error {
	c.Spoken = c.Wished()
	if s.neighbours == nil {
		return noOthers(c)
	}
	own, err := s.neighbours.own(c)
	if err != nil {
		return err
	}
	q := c.URL.Query()
	to := q.Get("to")
	if !shop.IsAddressName(to) {
		return noOthers(c)
	}
	ticket, err := s.neighbours.people.Go(c.Context(), own, s.sessions.Secret(c), to, q.Get("with"))
	if shop.CodeOf(err) == shop.SignIn {
		s.askSignIn(c)
		return nil
	}
	if err != nil {
		return err
	}
	http.Redirect(c.W, c.Request, s.neighbours.at(c, to, "/shops/come", url.Values{"ticket": {ticket}}), http.StatusSeeOther)
	return nil
}

// noOthers is the error of an address that leads to other shops, where it leads to none.
func noOthers(c *serve.Call) error {
	return shop.Saying(shop.NotFound, words.Say("refused.no-page", words.Args{"path": words.Name(c.URL.Path)}))
}
