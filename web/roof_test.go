package web_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/store/storetest"
	"needlepace/web"
	"needlepace/web/webtest"
)

// roof is shops served under one name, on loopback.
type roof struct {
	*web.Roof
	served *httptest.Server
	opened atomic.Int32
	let    atomic.Int32
	now    atomic.Int64  // seconds after the beginning
	clock  *atomic.Int64 // of the shops; nil: the true one
}

// underRoof serves the apps of shops that tests have open already.
func underRoof(t *testing.T, apps map[string]*webtest.App) *roof {
	t.Helper()
	return underRoofBehind(t, nil, apps)
}

func underRoofBehind(t *testing.T, proxy *web.Proxy, apps map[string]*webtest.App) *roof {
	t.Helper()
	f, began := &roof{}, time.Now()
	people := sync.OnceValue(func() store.Store {
		s := storetest.Open(t, filepath.Join(t.TempDir(), "people.db"))
		t.Cleanup(func() { s.Close() }) //nolint:errcheck // a test's
		return s
	})
	f.Roof = web.NewRoof(web.RoofOptions{Name: "Shops.test", Idle: time.Hour, Proxy: proxy, Log: slog.New(slog.DiscardHandler),
		Now: func() time.Time { return began.Add(time.Duration(f.now.Load()) * time.Second) },
		Names: func(context.Context) (names []string, err error) {
			for name := range apps {
				names = append(names, name)
			}
			return names, nil
		},
		People: func(context.Context, bool) (shop.PeopleStore, error) { return people(), nil },
		Open: func(_ context.Context, name string) (*web.Server, func() error, error) {
			f.opened.Add(1)
			if apps[name] == nil {
				return nil, nil, errors.New("it is broken")
			}
			return apps[name].Server, func() error { f.let.Add(1); return nil }, nil
		}})
	f.served = httptest.NewServer(f)
	t.Cleanup(func() {
		f.EndEvents()
		f.served.Close()
		f.Close()
	})
	return f
}

// with are headers that go with every request.
type with struct {
	http.RoundTripper
	header http.Header
}

func (w with) RoundTrip(r *http.Request) (*http.Response, error) {
	for k, v := range w.header {
		r.Header[k] = v
	}
	return w.RoundTripper.RoundTrip(r)
}

// at is a new browser at a host of the roof, which asks for what is right for a shop.
func (f *roof) at(t *testing.T, host string, right *webtest.App, header http.Header) *webtest.App {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	to := f.served.Listener.Addr().String()
	transport := &http.Transport{DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, network, to)
	}}
	t.Cleanup(transport.CloseIdleConnections)
	a := &webtest.App{T: t, URL: "http://" + host, Log: &webtest.Log{}}
	if right != nil {
		a.Shop, a.Server = right.Shop, right.Server
	}
	a.Client = &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: with{transport, header}}
	return a
}

func (f *roof) get(t *testing.T, host, path string) (int, string) {
	t.Helper()
	res, err := f.at(t, host, nil, nil).Client.Get("http://" + host + path)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // read
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(b)
}

// Every route is tried across shops: by whoever is signed in at another one nothing is
// read or changed, and at one's own shop nothing of another is to be had, though it is
// named by the right IDs.
func TestEveryRouteKeepsToItsShop(t *testing.T) {
	s := fillShop(t)
	north, file := s.open(t, shop.Owner)
	south := webtest.New(t, web.Options{Accounts: true})
	south.Account("Zoe", shop.Owner)
	secret, _, err := south.Shop.Accounts.MakeToken(t.Context(), &shop.Account{Name: "Zoe", Role: shop.Owner}, "till", shop.Owner, time.Now().AddDate(1, 0, 0))
	if err != nil {
		t.Fatal(err)
	}
	west := webtest.New(t, web.Options{Accounts: true})
	west.Account("Zoe", shop.Owner)
	f := underRoof(t, map[string]*webtest.App{"north": north, "south": south, "west": west})

	atSouth := f.at(t, "south.shops.test", north, nil)
	atSouth.SignIn("Zoe") // who works in a third shop too
	if status, body := atSouth.Page("/shops", url.Values{"shop": {"west"}, "name": {"Zoe"}, "password": {webtest.Password}}); status != 303 {
		t.Fatalf("Zoe adds west: status %d, %.300s", status, body)
	}
	address, err := url.Parse(atSouth.URL)
	if err != nil {
		t.Fatal(err)
	}
	var cookies []string
	for _, c := range atSouth.Client.Jar.Cookies(address) {
		cookies = append(cookies, c.String())
	}
	if len(cookies) < 2 {
		t.Fatalf("Zoe has the cookies %q", cookies)
	}
	strange := http.Header{"Cookie": {strings.Join(cookies, "; ")}, "Authorization": {"Bearer " + secret}}
	atNorth := f.at(t, "north.shops.test", north, strange)
	if me := f.at(t, "south.shops.test", south, strange).Send("GET", "/orders", nil); me.Status != 200 {
		t.Fatalf("what is tried at the other shop is good at no shop: %d %.200s", me.Status, me.Body)
	}

	work := begin(north, peopleOf[shop.Owner]).ID
	names := s.secrets
	page, _, err := north.Shop.Orders.List(t.Context(), shop.OrderQuery{Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range page {
		names = append(names, o.Customer)
	}
	names = slices.DeleteFunc(names, func(n string) bool { return len(n) < 5 || n == "Quay" || n == "Somebody" })
	if !strings.Contains(pageOf(north, "/orders"), page[0].Customer) {
		t.Fatalf("north has no order of %q on its page", page[0].Customer)
	}
	before := contents(t, file)
	tried := 0
	for _, rt := range north.Server.Routes() {
		if rt.Pattern() == "GET /events" && rt.Method != "GET" {
			continue
		}
		tried++
		free := func() { // there is room for few recordings
			if s.ids["listening"] != "" {
				if err := north.Server.Recordings().Drop(s.ids["listening"], peopleOf[shop.Owner]); err != nil {
					t.Fatal(err)
				}
				s.ids["listening"] = ""
			}
		}
		free()
		if rt.Right != "" {
			r := s.ask(atNorth, rt, work)
			want := http.StatusSeeOther
			if strings.HasPrefix(rt.Path, "/api/") || rt.Path == "/metrics" {
				want = http.StatusUnauthorized
			}
			if r.Status != want || want == http.StatusSeeOther && !strings.HasPrefix(r.Header.Get("Location"), "/sign-in?") {
				t.Errorf("%s at north by Zoe of south: status %d to %q, want %d", rt.Pattern(), r.Status, r.Header.Get("Location"), want)
			}
		}
		if strings.HasSuffix(rt.Path, "/sign-out") || rt.Pattern() == "DELETE /api/v1/session" || strings.HasSuffix(rt.Path, "/password") {
			continue // Zoe stays
		}
		free()
		r := s.ask(atSouth, rt, work)
		text := string(r.Body)
		if !strings.HasPrefix(text, "%PDF") && !strings.HasPrefix(text, "PK") {
			for _, n := range names {
				if strings.Contains(text, n) {
					t.Errorf("%s at south shows %q of north: status %d", rt.Pattern(), n, r.Status)
				}
			}
		}
		for _, id := range regexp.MustCompile(`{(.+?)}`).FindAllStringSubmatch(rt.Path, -1) {
			every := []string{"$", "class", "topic", "picture", "name...", "file", "slip"} // of no shop
			if rt.Method == "GET" && !slices.Contains(every, id[1]) && r.Status < 300 {
				t.Errorf("%s at south with north's %s: status %d, %.200s", rt.Pattern(), id[1], r.Status, text)
			}
		}
	}
	for table, is := range contents(t, file) {
		if is != before[table] {
			t.Errorf("what was asked of south, or by Zoe, changed %s of north: %s, before %s", table, is, before[table])
		}
	}
	if tried < 150 {
		t.Errorf("%d routes were tried", tried)
	}
}

// A shop is opened when it is asked for, once for all who ask; it is closed when nobody
// has asked for a while and nothing is done in it, and opened again.
func TestShopsAreOpenWhileTheyAreUsed(t *testing.T) {
	north := webtest.New(t, web.Options{Accounts: true})
	f := underRoof(t, map[string]*webtest.App{"north": north, "broken": nil})
	for path, want := range map[string]int{"/healthz": 200, "/readyz": 200, "/": 421} {
		if status, _ := f.get(t, "127.0.0.1", path); status != want {
			t.Errorf("%s at no shop: status %d, want %d", path, status, want)
		}
	}
	for _, host := range []string{"shops.test", "a.north.shops.test", "north.other.test", "northshops.test", "north", "..shops.test"} {
		if status, _ := f.get(t, host, "/designs"); status != 421 {
			t.Errorf("%s: status %d", host, status)
		}
	}
	if status, text := f.get(t, "west.shops.test", "/designs"); status != 404 || !strings.Contains(text, "no shop at this address") {
		t.Errorf("no shop: status %d, %s", status, text)
	}
	for range 2 { // it is tried again
		if status, text := f.get(t, "broken.shops.test", "/designs"); status != 503 || strings.Contains(text, "it is broken") {
			t.Errorf("a shop that cannot be opened: status %d, %s", status, text)
		}
	}
	if n := f.opened.Swap(0); n != 2 {
		t.Errorf("%d shops were opened", n)
	}
	var all sync.WaitGroup
	for range 20 {
		all.Go(func() {
			if status, _ := f.get(t, "NORTH.shops.test:8237", "/sign-in"); status != 200 {
				t.Errorf("the sign-in page: status %d", status)
			}
		})
	}
	all.Wait()
	if n := f.opened.Load(); n != 1 {
		t.Errorf("20 people opened the shop %d times", n)
	}
	f.now.Store(3599)
	f.Sweep()
	hold := make(chan struct{})
	w, err := north.Server.Jobs().Begin("audit", "", func(context.Context, jobs.Step) (any, error) { <-hold; return nil, nil })
	if err != nil {
		t.Fatal(err)
	}
	f.now.Store(3600 * 3)
	f.Sweep()
	if f.let.Load() != 0 {
		t.Error("a shop was closed that was just used, or that has work under way")
	}
	close(hold)
	if _, err := north.Server.Jobs().Look(t.Context(), w.ID, time.Minute); err != nil {
		t.Fatal(err)
	}
	f.Sweep()
	if f.let.Load() != 1 {
		t.Error("a shop that nobody uses stays open")
	}
	if status, _ := f.get(t, "north.shops.test", "/sign-in"); status != 200 || f.opened.Load() != 2 {
		t.Errorf("asked again: status %d, opened %d times", status, f.opened.Load())
	}
	if res := httptest.NewRecorder(); true {
		f.Beside().ServeHTTP(res, httptest.NewRequest("GET", "/metrics", nil))
		if !strings.Contains(res.Body.String(), `needlepace_shop_requests_total{shop="north",status="200"} 21`) ||
			!strings.Contains(res.Body.String(), "needlepace_shops_open 1") {
			t.Errorf("it counts %s", res.Body)
		}
	}
}

// A stated proxy says which shop is meant, and who asks; anybody else is not believed.
func TestAProxySaysWhichShop(t *testing.T) {
	apps := map[string]*webtest.App{"north": webtest.New(t, web.Options{Accounts: true})}
	said := http.Header{"X-Forwarded-Host": {"north.shops.test"}, "X-Forwarded-For": {"192.0.2.7"}, "X-Forwarded-Proto": {"https"}}
	trusted, err := web.ParseTrusted([]string{"127.0.0.1", "::1"})
	if err != nil {
		t.Fatal(err)
	}
	for proxy, want := range map[*web.Proxy]int{nil: 421, {Trusted: trusted}: 200} {
		f := underRoofBehind(t, proxy, apps)
		res, err := f.at(t, "inside.example", nil, said).Client.Get("http://inside.example/sign-in")
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its status
		if res.StatusCode != want {
			t.Errorf("with the proxy %v: status %d, want %d", proxy, res.StatusCode, want)
		}
	}
}

// Each shop has a zone, a currency and hours of its own.
func TestShopsHaveSettingsOfTheirOwn(t *testing.T) {
	apps := map[string]*webtest.App{}
	begun := map[string]string{"north": "class=compact-8&currency=EUR&time_zone=Europe%2FRome", "south": "class=compact-8&currency=JPY&time_zone=Asia%2FTokyo"}
	for name := range begun {
		apps[name] = webtest.New(t, web.Options{Accounts: true})
		apps[name].Account("Ada", shop.Owner)
	}
	f := underRoof(t, apps)
	for name, form := range begun {
		a := f.at(t, name+".shops.test", apps[name], nil)
		a.SignIn("Ada")
		values, err := url.ParseQuery(form)
		if err != nil {
			t.Fatal(err)
		}
		if status, body := a.Page("/begin", values); status >= 400 {
			t.Fatalf("%s begins: status %d, %.300s", name, status, body)
		}
	}
	own := map[string][]string{"north": {"EUR", "Europe/Rome"}, "south": {"JPY", "Asia/Tokyo"}}
	for name := range own {
		a := f.at(t, name+".shops.test", apps[name], nil)
		a.SignIn("Ada")
		got := fmt.Sprintf("%s %s", a.Send("GET", "/workshop", nil).Body, a.Send("GET", "/settings", nil).Body)
		for other, words := range own {
			for _, w := range words {
				if strings.Contains(got, w) != (name == other) {
					t.Errorf("%s has %s: %t", name, w, name != other)
				}
			}
		}
	}
}

func pageOf(a *webtest.App, path string) string {
	_, body := a.Page(path, nil)
	return body
}
