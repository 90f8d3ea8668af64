package web_test

import (
	"bufio"
	"context"
	"net/http"
	"net/http/cookiejar"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/serve"
	"needlepace/web/webtest"
)

// reading are the events of a page that stands open.
type reading struct {
	t     *testing.T
	ended chan struct{}
	got   chan [2]string // id and kinds
}

// read opens the events by the app's cookies.
func read(t *testing.T, a *webtest.App, query string, header ...string) *reading {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	req, err := http.NewRequestWithContext(ctx, "GET", a.URL+"/events"+query, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	res, err := a.Client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != 200 || res.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("status %d, %s", res.StatusCode, res.Header.Get("Content-Type"))
	}
	r := &reading{t, make(chan struct{}), make(chan [2]string, 100)}
	go func() {
		defer close(r.ended)
		defer res.Body.Close() //nolint:errcheck // only read
		id := ""
		for lines := bufio.NewScanner(res.Body); lines.Scan(); {
			line := lines.Text()
			if v, ok := strings.CutPrefix(line, "id: "); ok {
				id = v
			}
			if v, ok := strings.CutPrefix(line, "data: "); ok {
				r.got <- [2]string{id, v}
			}
		}
	}()
	return r
}

// next is the next event.
func (r *reading) next() (id, kinds string) {
	r.t.Helper()
	select {
	case e := <-r.got:
		return e[0], e[1]
	case <-r.ended:
		r.t.Fatal("the events ended")
	case <-time.After(5 * time.Second):
		r.t.Fatal("no event within 5 s")
	}
	return "", ""
}

func (r *reading) none() {
	r.t.Helper()
	select {
	case e := <-r.got:
		r.t.Errorf("told of %v", e)
	case <-time.After(700 * time.Millisecond):
	}
}

// What is changed is told by kind, and to one who comes again what was missed.
func TestWhatChangesIsToldToOpenPages(t *testing.T) {
	a := webtest.New(t, web.Options{})
	d := a.DemoDesign("ostrel-light.dst")
	now, err := a.Shop.Revision(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	r := read(t, a, "")
	r.none()
	order := map[string]any{"customer": "Kiosk", "lines": []any{map[string]any{"design": d.ID, "quantity": 3}}}
	a.Send("POST", "/orders", order).OK(201)
	id, kinds := r.next()
	if kinds != "orders rest" {
		t.Errorf("an order was taken in: %q is told", kinds)
	}
	if got, err := serve.ParseRevision(id); err != nil || got.Orders <= now.Orders {
		t.Errorf("the id %q: %+v, %v", id, got, err)
	}
	a.Machine("compact-8", "Whelk")
	if _, kinds = r.next(); kinds != "machines" {
		t.Errorf("a machine was added: %q is told", kinds)
	}
	for _, missed := range []*reading{read(t, a, "?since="+id), read(t, a, "", "Last-Event-ID", id)} {
		if _, kinds := missed.next(); kinds != "machines" {
			t.Errorf("one who comes again is told of %q", kinds)
		}
	}
	is := serve.RevisionText(now)
	for _, bad := range []string{"x", "1-2-3", is + "-8", "-" + is, "١" + is[1:]} {
		res, err := a.Client.Get(a.URL + "/events?since=" + bad)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // not read
		if res.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("since %q: status %d", bad, res.StatusCode)
		}
	}
}

// An operator is told of orders and nothing of hours and prices; who is signed out
// or closed out is told nothing any more.
func TestNobodyIsToldWhatTheyMayNotSee(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	cleo := a.Account("Cleo", shop.Operator)
	a.SignIn("Ada")
	planner := read(t, a, "")
	d := a.DemoDesign("ostrel-light.dst")
	planner.next()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	b := *a
	b.Client = &http.Client{Jar: jar, CheckRedirect: a.Client.CheckRedirect}
	b.SignIn("Cleo")
	operator := read(t, &b, "")
	a.Machine("compact-8", "Whelk")
	planner.next()
	operator.next()
	a.Send("PUT", "/workshop", map[string]any{"toml": "[[shift]]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n"}).OK(200)
	if _, kinds := planner.next(); kinds != "setups" {
		t.Errorf("the owner is told of %q", kinds)
	}
	operator.none()
	order := map[string]any{"customer": "Kiosk", "lines": []any{map[string]any{"design": d.ID, "quantity": 3}}}
	a.Send("POST", "/orders", order).OK(201)
	if _, kinds := operator.next(); kinds != "orders rest" {
		t.Errorf("the operator is told of %q", kinds)
	}
	if _, err := a.Shop.Accounts.Change(t.Context(), cleo.ID, cleo.Role, true, ""); err != nil {
		t.Fatal(err)
	}
	a.Send("POST", "/orders", order).OK(201)
	select {
	case e, open := <-operator.got:
		if open {
			t.Errorf("who was closed out is told of %v", e)
		}
	case <-operator.ended:
	case <-time.After(5 * time.Second):
		t.Error("the events of one who was closed out go on")
	}
}
