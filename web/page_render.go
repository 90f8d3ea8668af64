package web

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"path"
	"strings"

	"needlepace/picture"
	"needlepace/shop"
)

//go:embed templates
var templateFiles embed.FS

// page is what a template shows. Tables and pictures go to files too: a page's
// address with ?csv=ID or ?picture=NAME.svg (.png) gives them.
type page struct {
	Title  string // of the window
	Nav    string // which entry of the navigation it belongs to
	Told   *told  // a message on top
	U      words
	Data   any
	Tables map[string]*table
	Pics   map[string]pic

	// filled in by show
	Path, Query string
	Account     *shop.Account
	Accounts    bool
	Planner     bool
	ShopName    string
	Demo        bool
	Version     string
	Bare        bool // without navigation
}

// pic is a picture in the width of a page and of a phone.
type pic struct{ Wide, Narrow picture.Picture }

// told is a message: what happened, and whether something is wrong.
type told struct {
	Bad   bool
	Lines []string
}

// show answers with a page, or with one of its tables or pictures.
func (s *Server) show(w http.ResponseWriter, r *http.Request, name string, p *page) {
	q := r.URL.Query()
	if id := q.Get("csv"); id != "" {
		t, ok := p.Tables[id]
		if !ok {
			s.failPage(w, r, shop.Errorf(shop.NotFound, "this page has no table %q", id))
			return
		}
		w.Header().Set("Content-Type", "text/csv; charset=utf-8")
		w.Header().Set("Content-Disposition", saveAs(p.Title+" "+id, ".csv"))
		t.writeCSV(w)
		return
	}
	if file := q.Get("picture"); file != "" {
		s.showPicture(w, r, p, file, q.Get("theme"))
		return
	}
	set, err := s.shop.Settings(r.Context())
	if err != nil {
		s.failPage(w, r, err)
		return
	}
	p.U = words{set}
	p.Path, p.Query = r.URL.Path, r.URL.RawQuery
	p.Account, p.Accounts, p.Planner = s.account(r), s.opt.Accounts, s.may(r, shop.Planner)
	p.ShopName, p.Demo, p.Version = set.ShopName, set.Demo, s.opt.Version
	s.render(w, r, http.StatusOK, name, p)
}

func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, name string, p *page) {
	t, err := templateNamed(name)
	if err == nil {
		var b bytes.Buffer
		if err = t.ExecuteTemplate(&b, "layout.html", p); err == nil {
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			w.Header().Set("Cache-Control", "no-store")
			w.WriteHeader(status)
			w.Write(b.Bytes())
			return
		}
	}
	s.log.Error("a page could not be written", "page", name, "err", err)
	http.Error(w, "This page could not be written; it was logged.", http.StatusInternalServerError)
}

func (s *Server) showPicture(w http.ResponseWriter, r *http.Request, p *page, file, theme string) {
	name, ext := strings.TrimSuffix(file, path.Ext(file)), path.Ext(file)
	one, ok := p.Pics[name]
	if !ok || ext != ".svg" && ext != ".png" {
		s.failPage(w, r, shop.Errorf(shop.NotFound, "this page has no picture %q; names end in .svg or .png", file))
		return
	}
	t, err := picture.ThemeNamed(theme)
	if err != nil {
		s.failPage(w, r, shop.Errorf(shop.Invalid, "there is no theme %q; use light, dark or print", theme))
		return
	}
	w.Header().Set("Content-Disposition", saveAs(p.Title+" "+name, ext))
	var b bytes.Buffer
	if ext == ".svg" {
		w.Header().Set("Content-Type", "image/svg+xml")
		err = picture.SVG(&b, one.Wide, t)
	} else {
		w.Header().Set("Content-Type", "image/png")
		err = picture.PNG(&b, one.Wide, t, 2)
	}
	if err != nil {
		s.failPage(w, r, err)
		return
	}
	w.Write(b.Bytes())
}

// failPage answers with a page that says what was wrong and what to do.
func (s *Server) failPage(w http.ResponseWriter, r *http.Request, err error) {
	status := statusOf(err)
	text := "Something went wrong in the program. It was logged; nothing of yours was lost."
	var e *shop.Error
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &e):
		text = sentence(e.Text)
	case errors.As(err, &tooLarge):
		text = "What was sent is larger than " + bytesText(tooLarge.Limit) + ". Send fewer files at once."
	}
	if status == http.StatusInternalServerError {
		s.log.Error("a page failed", "path", r.URL.Path, "err", err)
	}
	w.Header().Del("Content-Disposition")
	set, _ := s.shop.Settings(r.Context())
	p := &page{Title: "Not done", U: words{set}, Data: text, Path: r.URL.Path, Account: s.account(r), Accounts: s.opt.Accounts, Planner: s.may(r, shop.Planner), ShopName: set.ShopName, Version: s.opt.Version}
	s.render(w, r, status, "error.html", p)
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return s
	}
	if !strings.ContainsAny(s[len(s)-1:], ".!?") {
		s += "."
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// saveAs is a Content-Disposition with a name made of letters, digits and
// hyphens.
func saveAs(name, ext string) string {
	plain := strings.Trim(strings.Map(func(c rune) rune {
		if c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '.' || c == '_' {
			return c
		}
		return '-'
	}, name), "-.")
	for strings.Contains(plain, "--") {
		plain = strings.ReplaceAll(plain, "--", "-")
	}
	if plain == "" {
		plain = "needlepace"
	}
	return fmt.Sprintf(`attachment; filename="%s%s"; filename*=UTF-8''%s`, plain, ext, url.PathEscape(name+ext))
}
