package web_test

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/web/webtest"
)

// keptPages are pages that are kept as they were written, of things in the filled shop.
var keptPages = []string{"/designs", "/designs/{design}", "/machines", "/machines/{machine}", "/orders", "/orders/{order}",
	"/orders/{order}/quote", "/orders/{order}/runsheet", "/orders/{order}/record", "/plan", "/today", "/today/wall"}

// A kept page is as if it were written for who asks, when they ask.
func TestKeptPages(t *testing.T) {
	s := fillShop(t)
	now := time.Now()
	s.now = func() time.Time { return now }
	t.Run("none is of an earlier state", s.noKeptPageIsOfAnEarlierState)
	t.Run("none is written anew for what it does not show", s.noKeptPageIsWrittenInVain)
	t.Run("nobody gets another's", s.nobodyGetsAnothersKeptPage)
}

// reader is somebody else at the app, in a browser of their own.
func (s *oneOfAll) reader(a *webtest.App, name string) *webtest.App {
	a.T.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		a.T.Fatal(err)
	}
	b := *a
	b.Client = &http.Client{Jar: jar, CheckRedirect: a.Client.CheckRedirect}
	if name != "" {
		b.SignIn(name)
	}
	return &b
}

// look reads a page of the filled shop; anew has it written anew, for a browser that says
// it has a part of pages that no page has.
func (s *oneOfAll) look(a *webtest.App, page string, anew string, header ...string) (status int, body []byte, got http.Header) {
	a.T.Helper()
	for k, v := range s.ids {
		page = strings.ReplaceAll(page, "{"+k+"}", v)
	}
	req, err := http.NewRequestWithContext(a.T.Context(), http.MethodGet, a.URL+page, nil)
	if err != nil {
		a.T.Fatal(err)
	}
	if anew != "" {
		req.Header.Set("Needlepace-Has", "none-"+anew)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	res, err := a.Client.Do(req)
	if err != nil {
		a.T.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // only read
	if body, err = io.ReadAll(res.Body); err != nil {
		a.T.Fatal(err)
	}
	return res.StatusCode, body, res.Header
}

// whoMayCome are changes of accounts and what lets people in, which are counted nowhere: the history has them when it is opened anew.
var whoMayCome = regexp.MustCompile(`/(accounts|tokens|sign-ins|phones)(/|$)`)

// Whatever one person changes, the next page that another asks for shows it: a kept page is
// never of an earlier state. Each change is made in a shop whose pages were all read before.
func (s *oneOfAll) noKeptPageIsOfAnEarlierState(t *testing.T) {
	short := map[string]bool{ // one of each kind of thing
		"POST /designs/{design}": true, "POST /machines/{machine}/sheet": true, "POST /machines/{machine}/runs": true,
		"POST /orders/{order}/record": true, "POST /orders/{order}/deliveries": true,
		"POST /orders/{order}/quote": true, "POST /plan/hours": true, "POST /settings": true, "POST /lists": true, "POST /api/v1/designs": true,
	}
	shown := 0
	standing := slices.Clone(keptPages)
	if !testing.Short() {
		standing = append(standing, "/history", "/plan/thread", "/plan/costs", "/compare", "/compare/{mix}", "/floor", "/floor/{floor}", "/visits", "/visits/{visit}")
	}
	a, _ := s.open(t, shop.Owner)
	routes := a.Server.Routes()
	for _, rt := range routes {
		if rt.Method == "" || rt.Method == "GET" || rt.Right == "" || strings.Contains(rt.Path, "recording") || rt.Path == "/sign-out" || rt.Path == "/shops" || // of several shops under one roof
			testing.Short() && !short[rt.Pattern()] {
			continue
		}
		t.Run(rt.Pattern(), func(t *testing.T) {
			a, _ := s.open(t, shop.Owner)
			reads := s.reader(a, "Ada")
			before := map[string][]byte{}
			for _, page := range standing {
				status, body, _ := s.look(reads, page, "")
				if status != http.StatusOK {
					t.Fatalf("%s: status %d, %.300s", page, status, body)
				}
				before[page] = body
			}
			if r := s.ask(a, rt, s.workFor(a, rt, shop.Owner)); r.Status >= 400 {
				t.Fatalf("status %d: %.300s", r.Status, r.Body)
			}
			changed := false
			for _, page := range standing {
				// Work that goes on changes more: until nothing does.
				for try := 0; ; try++ {
					status, got, _ := s.look(reads, page, "")
					statusAnew, anew, _ := s.look(reads, page, fmt.Sprint(try))
					full := got
					got, anew = shownBody(got), shownBody(anew)
					if status == statusAnew && bytes.Equal(got, anew) {
						if untold := untold(before[page], full); untold != "" && status == http.StatusOK && !(page == "/history" && whoMayCome.MatchString(rt.Path)) {
							t.Errorf("%s stands open and is not told: %s", page, untold)
						}
						changed = changed || status == http.StatusOK && !bytes.Equal(got, shownBody(before[page]))
						break
					}
					if try == 3 {
						t.Errorf("%s is kept as it was: %s", page, firstDifference(got, anew))
						break
					}
				}
			}
			if changed {
				shown++
			}
		})
	}
	if shown < len(short)-1 {
		t.Errorf("only %d changes were seen on a page", shown)
	}
}

// A design that is new makes those pages anew that list designs, and no other.
func (s *oneOfAll) noKeptPageIsWrittenInVain(t *testing.T) {
	a, _ := s.open(t, shop.Owner)
	lists := map[string]bool{"/designs": true, "/machines/{machine}": true, "/today": true, "/today/wall": true}
	reads := s.reader(a, "Ben")
	for _, page := range keptPages {
		s.look(reads, page, "")
	}
	came := a.Upload(map[string][]byte{"came.dst": slower(webtest.DemoFile(t, "gull-cap.dst"), 77)})
	if came.Status != http.StatusCreated {
		t.Fatalf("status %d: %.300s", came.Status, came.Body)
	}
	for _, page := range keptPages {
		made := a.Server.Kept().Made.Load()
		_, body, _ := s.look(reads, page, "")
		if anew := a.Server.Kept().Made.Load() > made; anew != lists[page] {
			t.Errorf("%s is written anew: %v", page, anew)
		}
		if page == "/designs" && !bytes.Contains(body, []byte("came.dst")) {
			t.Errorf("%s does not show the design that came", page)
		}
	}
}

// untold is how a page that stands open would differ from one asked for now, where nothing that changed is of the kinds
// that it renews by; else empty. What is outside its main part is of the next page.
func untold(was, is []byte) string {
	main := func(b []byte) []byte {
		_, b, _ = bytes.Cut(shownBody(b), []byte("<main"))
		b, _, _ = bytes.Cut(b, []byte("</main>"))
		return b
	}
	if bytes.Equal(main(was), main(is)) {
		return ""
	}
	attr := func(b []byte, name string) string {
		_, b, _ = bytes.Cut(b, []byte(" "+name+`="`))
		b, _, _ = bytes.Cut(b, []byte(`"`))
		return string(b)
	}
	kinds := strings.Fields("added designs machines orders reports plans setups told rest visits")
	at, now := strings.Split(attr(was, "data-at"), "-"), strings.Split(attr(is, "data-at"), "-")
	if len(at) != len(kinds) || len(now) != len(kinds) {
		return fmt.Sprintf("its state is %q, then %q", at, now)
	}
	var changed []string
	for i, k := range kinds {
		if at[i] != now[i] {
			changed = append(changed, k)
		}
	}
	if slices.Equal(changed, []string{"added"}) && !bytes.Contains(was, []byte(`data-fresh="added`)) {
		return "" // one more in a field to choose from; where there are many they are found as one types
	}
	for _, k := range changed {
		if slices.Contains(strings.Fields(attr(was, "data-fresh")), k) {
			return ""
		}
	}
	return fmt.Sprintf("of %v: %s", changed, firstDifference(main(was), main(is)))
}

// shownBody is a page without the mark of the state that it was made from.
func shownBody(b []byte) []byte {
	before, rest, ok := bytes.Cut(b, []byte(` data-at="`))
	if !ok {
		return b
	}
	_, rest, _ = bytes.Cut(rest, []byte(`"`))
	return append(bytes.Clone(before), rest...)
}

func firstDifference(a, b []byte) string {
	i := 0
	for i < min(len(a), len(b)) && a[i] == b[i] {
		i++
	}
	near := func(b []byte) []byte { return b[max(0, min(i, len(b))-60):min(len(b), i+60)] }
	return fmt.Sprintf("%q, and is now %q", near(a), near(b))
}

// A page is written once and given again to the same person only: nobody gets another's, whose role,
// name or language is another; nobody who is not signed in, or not any more, gets any.
func (s *oneOfAll) nobodyGetsAnothersKeptPage(t *testing.T) {
	a, _ := s.open(t, shop.Owner)
	people := map[string]*webtest.App{}
	for _, name := range peopleOf {
		people[name] = s.reader(a, name)
	}
	nobody := s.reader(a, "")
	kept := a.Server.Kept()
	for _, page := range keptPages { // who asks for the head only leaves no page behind
		req, err := http.NewRequest(http.MethodHead, a.URL+strings.NewReplacer("{order}", s.ids["order"], "{design}", s.ids["design"], "{machine}", s.ids["machine"]).Replace(page), nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := people["Ada"].Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // it has none
	}
	if kept.Weight() != 0 {
		t.Errorf("%d bytes are kept of pages that nobody read", kept.Weight())
	}
	for _, page := range keptPages {
		for role, name := range peopleOf {
			_, want, _ := s.look(people[name], page, string(role))
			status, first, h := s.look(people[name], page, "")
			made := kept.Made.Load()
			again, second, _ := s.look(people[name], page, "")
			if status != again || !bytes.Equal(first, second) || !bytes.Equal(first, want) {
				t.Errorf("%s for %s: status %d, then %d; not what is written for them: %s", page, name, status, again, firstDifference(first, want))
			}
			if status != http.StatusOK {
				if page != "/orders/{order}/quote" || role != shop.Operator {
					t.Errorf("%s for %s: status %d", page, name, status)
				}
				continue
			}
			if kept.Made.Load() != made || made == 0 {
				t.Errorf("%s is written again for %s", page, name)
			}
			if h.Get("Cache-Control") != "no-store" {
				t.Errorf("%s may stay in a browser: %q", page, h.Get("Cache-Control"))
			}
			if status, body, _ := s.look(people[name], page, "", "If-None-Match", h.Get("ETag")); status != http.StatusNotModified || len(body) > 0 {
				t.Errorf("%s by one who has it: status %d, %d bytes", page, status, len(body))
			}
			if _, plain, _ := s.look(people[name], page, "", "Accept-Encoding", "identity"); !bytes.Equal(plain, first) {
				t.Errorf("%s unpacked is another: %s", page, firstDifference(plain, first))
			}
			if !bytes.Contains(first, []byte(name)) && page != "/today/wall" && !strings.HasSuffix(page, "/record") { // those have no foot
				t.Errorf("%s is not signed for %s", page, name)
			}
			if role == shop.Operator {
				for _, secret := range s.secrets {
					if bytes.Contains(first, []byte(secret)) {
						t.Errorf("%s tells an operator %s", page, secret)
					}
				}
			}
		}
		if status, body, _ := s.look(nobody, page, ""); status != http.StatusSeeOther || bytes.Contains(body, []byte("<main")) {
			t.Errorf("%s for nobody: status %d, %.200s", page, status, body)
		}
	}
	// A language chosen in the browser.
	const page = "/orders/{order}/record"
	_, english, _ := s.look(people["Cleo"], page, "")
	_, spanish, _ := s.look(people["Cleo"], page, "", "Cookie", serve.LanguageCookie+"=es")
	if bytes.Equal(english, spanish) || !bytes.Contains(spanish, []byte(`lang="es"`)) {
		t.Error("who reads Spanish gets the English page")
	}
	// Another role, and none any more.
	who, err := a.Shop.Accounts.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range who {
		if w.Name == "Ben" {
			if _, err := a.Shop.Accounts.Change(t.Context(), w.ID, shop.Operator, false, ""); err != nil {
				t.Fatal(err)
			}
		}
	}
	if status, _, _ := s.look(people["Ben"], "/orders/{order}/quote", ""); status == http.StatusOK {
		t.Error("who may not see money any more gets the kept quote")
	}
	res, err := people["Ada"].Client.PostForm(a.URL+"/sign-out", nil)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // not read
	for _, page := range keptPages {
		if status, body, _ := s.look(people["Ada"], page, ""); status != http.StatusSeeOther || bytes.Contains(body, []byte("<main")) {
			t.Errorf("%s for one who signed out: status %d", page, status)
		}
	}
}
