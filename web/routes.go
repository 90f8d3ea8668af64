package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"needlepace/shop"
	"needlepace/web/api"
	"needlepace/web/pages"
	"needlepace/web/serve"
	"needlepace/web/watch"
	"needlepace/words"
)

// Routes is every address of the app: the one table that requests are answered
// from, roles checked by and the tests go through.
func (s *Server) Routes() []serve.Route {
	own := []serve.Route{
		{Method: "GET", Path: "/assets/{name...}", Do: serveAsset},
		{Method: "GET", Path: "/favicon.ico", Do: func(c *serve.Call) error {
			http.Redirect(c.W, c.Request, "/assets/favicon.svg", http.StatusMovedPermanently)
			return nil
		}},
		{Method: "GET", Path: "/worker.js", Do: serveWorker},
		{Method: "GET", Path: "/events", Right: shop.Look, Do: s.events},
		{Method: "GET", Path: "/readyz", Do: s.readiness},
		{Method: "GET", Path: "/metrics", Right: shop.Look, Do: s.metrics},
		{Method: "GET", Path: "/debug/pprof/{name...}", Right: shop.KeepSettings, Do: s.profile},
		{Method: "POST", Path: "/sign-in", Do: formSignIn},
		{Method: "POST", Path: "/sign-out", Right: shop.Look, Do: formSignOut},
		{Method: "GET", Path: "/shops/go", Right: shop.Look, Do: s.goTo},
		{Method: "GET", Path: "/shops/come", Do: s.come},
		{Path: "/api/", Right: shop.Look, Do: s.noOperation},
	}
	for i := range own {
		own[i].Fail = pages.Fail
		if strings.HasPrefix(own[i].Path, "/api/") {
			own[i].Fail = api.Fail
		}
	}
	all := slices.Concat(own, pages.Routes(), api.Routes())
	for i, rt := range all {
		if rt.Path == "/" { // what no other route is for
			all[i].Do = func(c *serve.Call) error {
				if allow := s.methodsAt(c); len(allow) > 0 {
					c.W.Header().Set("Allow", strings.Join(allow, ", "))
					return shop.Saying(serve.WrongMethod, words.Say("refused.method", words.Args{"path": words.Name(c.URL.Path)}))
				}
				return rt.Do(c)
			}
		}
	}
	return all
}

// methodsAt are the methods by which an address does something.
func (s *Server) methodsAt(c *serve.Call) (allow []string) {
	for _, m := range []string{"GET", "POST", "PUT", "DELETE"} {
		probe := &http.Request{Method: m, URL: c.URL, Host: c.Host}
		if _, p := s.mux.Handler(probe); p != "/api/" && p != "" && p != "/" {
			allow = append(allow, m)
		}
	}
	return allow
}

// register puts all routes into the server's mux.
func (s *Server) register() {
	for _, rt := range s.Routes() {
		s.mux.HandleFunc(rt.Pattern(), func(w http.ResponseWriter, r *http.Request) { s.answer(&rt, w, r) })
	}
}

// answer lets a request through to its route: who asks must be signed in and
// have the role, and the answer must come in time.
func (s *Server) answer(rt *serve.Route, w http.ResponseWriter, r *http.Request) {
	watch.Of(r.Context()).Route = rt.Pattern()
	c := &serve.Call{Request: r, Site: &s.site, W: w, Ctx: r.Context()}
	if s.site.Accounts {
		a, err := s.sessions.who(r)
		switch {
		case err != nil:
			rt.Fail(c, err)
			return
		case a != nil:
			c.Request = serve.WithAccount(r, a)
		case rt.Right != "":
			s.askSignIn(c)
			return
		}
	}
	if rt.Right != "" {
		if err := c.Need(rt.Right); err != nil {
			rt.Fail(c, err)
			return
		}
	}
	ctx, cancel := context.WithTimeoutCause(c.Context(), s.opt.WorkTime, serve.ErrTooLong)
	defer cancel()
	if c.Method != http.MethodGet && c.Method != http.MethodHead && rt.Right != "" {
		c.Act = &shop.Act{By: c.By(), Right: rt.Right, From: wayOf(c), At: s.opt.Now().UTC()}
		ctx = shop.WithAct(ctx, c.Act)
		c.W = &changing{ResponseWriter: c.W, act: c.Act, site: c.Site}
	}
	c.Ctx = ctx
	if c.Method == http.MethodGet || c.Method == http.MethodHead {
		c.Ctx = shop.Reading(ctx)
	}
	if err := rt.Do(c); err != nil {
		rt.Fail(c, err)
	}
}

// wayOf is how and from where a request comes, for the history of changes.
func wayOf(c *serve.Call) string {
	way := shop.FromPage
	_, program := bearer(c.Request)
	switch {
	case c.Behind:
		way = shop.FromPhone
	case ofPrograms(c.URL.Path) && program:
		way = shop.FromToken
	case ofPrograms(c.URL.Path):
		way = shop.FromAPI
	}
	return way + " " + hostOf(c.Request)
}

// askSignIn sends who must sign in to do it, then back to the page: that of a
// form where one was sent.
func (s *Server) askSignIn(c *serve.Call) {
	next := c.URL.RequestURI()
	switch {
	case ofPrograms(c.URL.Path):
		api.Fail(c, shop.Errorf(shop.SignIn, "sign in first"))
		return
	case c.Method != http.MethodGet && c.Method != http.MethodHead:
		next = "/"
		if from, err := url.Parse(c.Referer()); err == nil && from.Host == c.Host {
			next = from.RequestURI()
		}
	}
	to := "/sign-in"
	if c.Behind {
		to = "/phone"
	}
	http.Redirect(c.W, c.Request, to+"?next="+url.QueryEscape(next), http.StatusSeeOther)
}

// noOperation answers, in the API's form, what begins with /api/ and is no
// route.
func (s *Server) noOperation(c *serve.Call) error {
	allow := s.methodsAt(c)
	if len(allow) == 0 {
		return shop.Errorf(shop.NotFound, "the API has nothing at %s; see /api/openapi.json", c.URL.Path)
	}
	c.W.Header().Set("Allow", strings.Join(allow, ", "))
	c.FailWith(c.W, c.Request, http.StatusMethodNotAllowed,
		shop.Invalidf("%s does nothing here; use %s", c.Method, strings.Join(allow, " or ")))
	return nil
}
