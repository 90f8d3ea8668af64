package web

import (
	"context"
	"net/http"

	"needlepace/shop"
)

// pages registers the pages and assets. A page handler reads its input, calls
// verbs of the shop and fills a page; errors go to failPage.
func (s *Server) pages(mux *http.ServeMux) {
	mux.HandleFunc("GET /assets/{name...}", serveAsset)
	mux.HandleFunc("GET /favicon.ico", func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "/assets/favicon.svg", http.StatusMovedPermanently)
	})
	on := func(pattern string, need shop.Role, do func(*call) error) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			if !s.may(r, need) {
				s.failPage(w, r, shop.Errorf(shop.Forbidden, "your account may not do this; it needs the role %s", need))
				return
			}
			ctx, cancel := context.WithTimeoutCause(r.Context(), s.opt.WorkTime, errTooLong)
			defer cancel()
			if err := do(&call{Request: r, s: s, w: w, ctx: ctx}); err != nil {
				s.failPage(w, r, err)
			}
		})
	}
	for _, p := range pageList() {
		on(p.pattern, p.need, p.do)
	}
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.failPage(w, r, shop.Errorf(shop.NotFound, "there is no page at %s", r.URL.Path))
	})
}

// pageEntry is one page, or one thing a page's form does.
type pageEntry struct {
	pattern string
	need    shop.Role
	do      func(*call) error
}

// pageList is all pages.
func pageList() []pageEntry {
	return []pageEntry{
		{"GET /{$}", shop.Operator, homePage},
		{"GET /designs", shop.Operator, designsPage},
		{"GET /designs/{design}", shop.Operator, designPage1},
		{"POST /designs/{design}", shop.Planner, describePage},
		{"POST /designs/{design}/remove", shop.Planner, removePage},
		{"POST /designs/{design}/restore", shop.Planner, restorePage},
	}
}

// show answers a call with a page.
func (c *call) show(name string, p *page) error {
	c.s.show(c.w, c.Request, name, p)
	return nil
}

// see sends the browser to another page of ours.
func (c *call) see(path string) error {
	http.Redirect(c.w, c.Request, path, http.StatusSeeOther)
	return nil
}
