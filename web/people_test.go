package web_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
)

// ofShops is one browser at several shops.
type ofShops struct {
	t  *testing.T
	at map[string]*webtest.App
}

// browser is a new one at all shops of the roof.
func (f *roof) browser(t *testing.T, apps map[string]*webtest.App) ofShops {
	t.Helper()
	b := ofShops{t, map[string]*webtest.App{}}
	first := f.at(t, "none.shops.test", nil, nil)
	for name, app := range apps {
		a := *first
		a.URL, a.Shop, a.Server = "http://"+name+".shops.test", app.Shop, app.Server
		b.at[name] = &a
	}
	return b
}

func (b ofShops) follow(address string) (status int, to, body string) {
	b.t.Helper()
	for _, a := range b.at {
		res, err := a.Client.Get(address)
		if err != nil {
			b.t.Fatal(err)
		}
		defer res.Body.Close() //nolint:errcheck // read
		text, err := io.ReadAll(res.Body)
		if err != nil {
			b.t.Fatal(err)
		}
		return res.StatusCode, res.Header.Get("Location"), string(text)
	}
	return 0, "", ""
}

// way follows the way from a shop to another until the ticket is there, which is not yet used.
func (b ofShops) way(from, to string) (ticket string) {
	b.t.Helper()
	status, next, body := b.follow("http://" + to + ".shops.test/shops/come?from=" + from)
	if status != 303 || !strings.HasPrefix(next, "http://"+from+".shops.test/shops/go?to="+to+"&with=") {
		b.t.Fatalf("the way from %s to %s begins with %d to %q, %.300s", from, to, status, next, body)
	}
	_, ticket, _ = b.follow(next)
	return ticket
}

// goes reports whether one gets from a shop to another.
func (b ofShops) goes(from, to string) bool {
	b.t.Helper()
	ticket := b.way(from, to)
	if !strings.HasPrefix(ticket, "http://"+to+".shops.test/shops/come?ticket=") {
		return false
	}
	status, next, body := b.follow(ticket)
	if status != 303 || next != "/" {
		b.t.Errorf("with a ticket from %s to %s: status %d to %q, %.300s", from, to, status, next, body)
	}
	return true
}

func (b ofShops) in(want map[string]bool) {
	b.t.Helper()
	for name, in := range want {
		if got := b.at[name].Send("GET", "/designs", nil).Status == 200; got != in {
			b.t.Errorf("signed in at %s: %t, want %t", name, got, in)
		}
	}
}

func (b ofShops) try(name, person, password string, want int) {
	b.t.Helper()
	if got := b.at[name].Send("POST", "/session", map[string]string{"name": person, "password": password}); got.Status != want {
		b.t.Errorf("%s signs in at %s by %q: status %d, want %d: %.200s", person, name, password, got.Status, want, got.Body)
	}
}

func (b ofShops) join(in, shop, name, password string, want int) {
	b.t.Helper()
	if status, body := b.at[in].Page("/shops", url.Values{"shop": {shop}, "name": {name}, "password": {password}}); status != want {
		b.t.Errorf("adding %s to %s as %s: status %d, want %d: %s", shop, in, name, status, want, ofMain(body))
	}
}

// ofMain is what a page says, after its head.
func ofMain(page string) string {
	_, main, _ := strings.Cut(page, "<main")
	return main
}

const (
	firstPassword = "nine paper lanterns drift"
	otherPassword = "brass kettle on the moor"
)

// threeShops are north, where Ada is the owner, and south and west, where she is an operator, by other names and passwords.
func threeShops(t *testing.T) (f *roof, apps map[string]*webtest.App, southFile string) {
	t.Helper()
	southFile = filepath.Join(t.TempDir(), "south.db")
	began, clock := time.Now(), new(atomic.Int64)
	opt := web.Options{Accounts: true, Now: func() time.Time { return began.Add(time.Duration(clock.Load()) * time.Second) }}
	apps = map[string]*webtest.App{"north": webtest.New(t, opt), "west": webtest.New(t, opt), "south": webtest.Open(t, southFile, opt)}
	apps["north"].Account("Ada", shop.Owner)
	for _, name := range []string{"south", "west"} {
		apps[name].Account("Zoe", shop.Owner)
		if _, err := apps[name].Shop.Accounts.Add(t.Context(), "Ada of "+name, firstPassword+" "+name, shop.Operator); err != nil {
			t.Fatal(err)
		}
	}
	f = underRoof(t, apps)
	f.clock = clock
	return f, apps, southFile
}

// Who works in several shops signs in once, goes from one to the other, and has in each the role that it gives. Wrong
// passwords join nothing; the other shop's own password holds no more, and whoever was signed in by it is out.
func TestWhoWorksInSeveralShopsSignsInOnce(t *testing.T) {
	f, apps, _ := threeShops(t)
	b, earlier := f.browser(t, apps), f.browser(t, apps)
	earlier.try("south", "Ada of south", firstPassword+" south", 200)
	b.try("north", "Ada", webtest.Password, 200)
	if b.goes("north", "south") {
		t.Error("there is a way to a shop that nobody has joined")
	}
	if status, _ := b.at["north"].Page("/shops", url.Values{"shop": {"south"}, "no_such_field": {"1"}}); status != 400 {
		t.Errorf("a field that the form has not: status %d", status)
	}
	b.join("north", "south", "Ada of south", "another password of hers", 422)
	b.join("north", "none", "Ada of south", firstPassword+" south", 422)
	b.join("north", "north", "Ada", webtest.Password, 422)
	if b.goes("north", "south") {
		t.Error("a wrong password has joined shops")
	}
	b.join("north", "south", "Ada of south", firstPassword+" south", 303)
	b.join("north", "south", "Ada of south", webtest.Password, 422) // already
	earlier.in(map[string]bool{"south": false})
	if page := pageOf(b.at["north"], "/shops"); !strings.Contains(page, `href="http://south.shops.test/shops/come?from=north"`) || strings.Contains(page, "west") || !strings.Contains(page, `<a href="/shops">Your shops · north</a>`) {
		t.Errorf("the page of her shops has no way to south, or one to another: %s", page)
	}
	if !b.goes("north", "south") {
		t.Fatal("there is no way to the joined shop")
	}
	b.in(map[string]bool{"north": true, "south": true, "west": false})
	south := b.at["south"]
	if got := south.Send("GET", "/session", nil); !strings.Contains(string(got.Body), `"operator"`) || !strings.Contains(string(got.Body), "Ada of south") {
		t.Errorf("at south she is %s", got.Body)
	}
	south.Send("GET", "/accounts", nil).Fails(403, shop.Forbidden, "")
	b.at["north"].Send("GET", "/accounts", nil).OK(200)
	if !b.goes("south", "north") {
		t.Error("there is no way back")
	}

	b.join("south", "west", "Ada of west", firstPassword+" west", 303)
	if !b.goes("north", "west") || !b.goes("west", "south") {
		t.Error("a shop that was added at another one is not reached from all")
	}
	other := f.browser(t, apps)
	other.try("south", "Ada of south", firstPassword+" south", 401)
	other.try("west", "Ada of west", firstPassword+" west", 401)
	other.try("west", "Ada of west", webtest.Password, 200)
	if !other.goes("west", "north") {
		t.Error("by the one password there is no way from a shop that was added")
	}

	sees := pageOf(b.at["north"], "/settings/sign-ins")
	if n := strings.Count(sees, `<p class="kname">west`); n != 2 {
		t.Errorf("at north she sees %d sign-ins at west, want hers of two browsers: %s", n, sees)
	}
	if status, _ := b.at["north"].Page("/settings/sign-ins/end", url.Values{}); status != 303 {
		t.Errorf("ending all: status %d", status)
	}
	b.in(map[string]bool{"north": true, "south": false, "west": false})
	other.in(map[string]bool{"north": false, "west": false})

	if !b.goes("north", "south") {
		t.Error("this sign-in stays, and leads on")
	}
	other.try("south", "Ada of south", webtest.Password, 200)
	if status, _ := b.at["south"].Page("/sign-out", url.Values{}); status != 303 {
		t.Errorf("signing out: status %d", status)
	}
	b.in(map[string]bool{"north": false, "south": false})
	other.in(map[string]bool{"south": true})
}

// A ticket is good once, at its shop, in the browser that asked for it, for half a minute, and not after what would have
// ended the sign-in.
func TestATicketIsOfOneBrowser(t *testing.T) {
	f, apps, _ := threeShops(t)
	b := f.browser(t, apps)
	b.try("north", "Ada", webtest.Password, 200)
	b.join("north", "south", "Ada of south", firstPassword+" south", 303)
	b.join("north", "west", "Ada of west", firstPassword+" west", 303)
	refused := func(what string, by ofShops, ticket string) {
		t.Helper()
		status, to, body := by.follow(ticket)
		if status == 303 || !strings.Contains(body, "this way in is over") && !strings.Contains(body, "This way in is over") {
			t.Errorf("%s: status %d to %q, %.900s", what, status, to, ofMain(body))
		}
		by.in(map[string]bool{"south": false, "west": false})
	}
	thief := f.browser(t, apps)
	refused("another browser", thief, b.way("north", "south"))
	stolen := b.way("north", "south")
	_ = thief.way("north", "south") // it asks for itself, and holds another secret
	refused("another browser that asked too", thief, stolen)
	refused("after that", b, stolen)
	refused("at another shop", b, strings.Replace(b.way("north", "south"), "south", "west", 1))

	late := b.way("north", "south")
	f.now.Add(31)
	refused("after half a minute", b, late)
	f.now.Add(-31)
	twice := b.way("north", "south")
	if status, _, _ := b.follow(twice); status != 303 {
		t.Fatalf("in time: status %d", status)
	}
	b.at["south"].Send("DELETE", "/session", nil) // ends it at north too
	refused("a second time", b, twice)

	b.try("north", "Ada", webtest.Password, 200)
	before := b.way("north", "south")
	if status, _ := b.at["north"].Page("/sign-out", url.Values{}); status != 303 {
		t.Fatal(status)
	}
	refused("after the sign-out", b, before)
	b.try("north", "Ada", webtest.Password, 200)
	before = b.way("north", "south")
	shutOut(t, apps["south"], "Ada of south", "")
	refused("shut out meanwhile", b, before)
	for address, want := range map[string]int{"http://south.shops.test/shops/come?from=elsewhere.test/x": 404, "http://south.shops.test/shops/come?from=none": 404,
		"http://south.shops.test/shops/come?from=south": 404, "http://south.shops.test/shops/come": 404, "http://north.shops.test/shops/go?to=x.test/&with=a": 404,
		"http://south.shops.test/shops/go?to=north&with=a": 303} {
		status, to, _ := b.follow(address)
		if status != want || to != "" && !strings.HasPrefix(to, "/sign-in?") {
			t.Errorf("%s: status %d to %q, want %d", address, status, to, want)
		}
	}
}

// shutOut shuts somebody out of a shop, or gives them another password there, as the shop's owner does.
func shutOut(t *testing.T, a *webtest.App, name, password string) {
	t.Helper()
	all, err := a.Shop.Accounts.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, who := range all {
		if who.Name == name {
			if _, err := a.Shop.Accounts.Change(t.Context(), who.ID, who.Role, password == "", password); err != nil {
				t.Fatal(err)
			}
			return
		}
	}
	t.Fatalf("there is no %s", name)
}

// The sign-in that a ticket begins is over when the one is that it came from: no going to and fro makes it longer. The
// cookies are as those of any sign-in.
func TestGoingToAndFroMakesNoSignInLonger(t *testing.T) {
	f, apps, _ := threeShops(t)
	b := f.browser(t, apps)
	b.try("north", "Ada", webtest.Password, 200)
	b.join("north", "south", "Ada of south", firstPassword+" south", 303)
	ends := func(name string) time.Time {
		t.Helper()
		all, err := apps[name].Shop.Accounts.SignIns(t.Context(), "", "")
		if err != nil || len(all) != 1 {
			t.Fatalf("%d sign-ins at %s, %v", len(all), name, err)
		}
		return all[0].Expires
	}
	first := ends("north")
	f.now.Add(600)
	f.clock.Add(600)
	for range 2 {
		if !b.goes("north", "south") {
			t.Fatal("there is no way")
		}
	}
	ends("south") // one: the first ended when this browser came anew
	all, err := apps["south"].Shop.Accounts.SignIns(t.Context(), "", "")
	if err != nil || apps["south"].Shop.Accounts.EndSignIn(t.Context(), "", all[0].ID) != nil {
		t.Fatal(err)
	}
	res := httptest.NewRecorder()
	ticket, err := url.Parse(b.way("north", "south"))
	if err != nil {
		t.Fatal(err)
	}
	req := httptest.NewRequest("GET", ticket.String(), nil)
	for _, c := range b.at["south"].Client.Jar.Cookies(ticket) {
		req.AddCookie(c)
	}
	f.ServeHTTP(res, req)
	if got := ends("south"); got.After(first.Add(time.Minute)) || got.Before(first.Add(-time.Minute)) {
		t.Errorf("the sign-in at south ends at %v, that at north at %v", got, first)
	}
	for _, c := range res.Result().Cookies() {
		if !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" {
			t.Errorf("the cookie %s is %+v", c.Name, c)
		}
	}
}

// A password is changed once for all shops: in each whoever was signed in by it is out, each tells its owner who changed
// it and from where, and the one before is good nowhere.
func TestAPasswordIsChangedOnceForAllShops(t *testing.T) {
	f, apps, _ := threeShops(t)
	b, other := f.browser(t, apps), f.browser(t, apps)
	b.try("north", "Ada", webtest.Password, 200)
	b.join("north", "south", "Ada of south", firstPassword+" south", 303)
	b.join("north", "west", "Ada of west", firstPassword+" west", 303)
	other.try("west", "Ada of west", webtest.Password, 200)
	if !b.goes("north", "south") || !other.goes("west", "north") {
		t.Fatal("there is no way")
	}
	shutOut(t, apps["west"], "Ada of west", "") // not even there, should she be let in again
	if status, body := b.at["south"].Page("/settings/sign-ins/password", url.Values{"before": {webtest.Password}, "password": {otherPassword}}); status != 303 {
		t.Fatalf("changing it: status %d, %.300s", status, body)
	}
	b.in(map[string]bool{"south": true, "north": false})
	other.in(map[string]bool{"north": false, "west": false})
	if !b.goes("south", "north") {
		t.Error("who changed it is not led on")
	}
	all, err := apps["west"].Shop.Accounts.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if a.Name == "Ada of west" {
			if _, err := apps["west"].Shop.Accounts.Change(t.Context(), a.ID, a.Role, false, ""); err != nil {
				t.Fatal(err)
			}
		}
	}
	for name, person := range map[string]string{"north": "Ada", "south": "Ada of south", "west": "Ada of west"} {
		other.try(name, person, webtest.Password, 401)
		other.try(name, person, otherPassword, 200)
	}
	for name, person := range map[string]string{"north": "Ada", "south": "Ada of south"} {
		page, _, err := apps[name].Shop.Changes.List(t.Context(), shop.Owner, shop.ChangeQuery{Limit: 1})
		if err != nil || len(page) == 0 {
			t.Fatal(err)
		}
		if ch := page[0]; ch.Thing != "account" || ch.What != "a new password" || ch.By != person || ch.Name != person || ch.From != "page 127.0.0.1" {
			t.Errorf("%s tells %+v", name, ch)
		}
	}
}

// Shut out of one shop, or given another password there by its owner, a person loses no other shop, and whoever has that
// password gets into no other. Nothing in a shop says where else its people are.
func TestAnOwnerHasPowerOverTheirOwnShopOnly(t *testing.T) {
	f, apps, southFile := threeShops(t)
	b, zoe := f.browser(t, apps), f.browser(t, apps)
	b.try("north", "Ada", webtest.Password, 200)
	b.join("north", "south", "Ada of south", firstPassword+" south", 303)
	b.join("north", "west", "Ada of west", firstPassword+" west", 303)
	if !b.goes("north", "south") || !b.goes("north", "west") {
		t.Fatal("there is no way")
	}
	zoe.try("south", "Zoe", webtest.Password, 200)
	for _, rt := range apps["south"].Server.Routes() {
		if rt.Method != "GET" || strings.Contains(rt.Path, "{") || rt.Path == "/events" || rt.Path == "/shops/come" {
			continue
		}
		status, to, body := zoe.follow("http://south.shops.test" + rt.Path)
		for _, secret := range []string{"north.", ">north<", `"north"`, "west.", ">west<", `"west"`, "Ada of west"} {
			if strings.Contains(body+to, secret) {
				t.Errorf("%s at south tells its owner %q: status %d", rt.Pattern(), secret, status)
			}
		}
	}
	for table, rows := range contents(t, southFile) {
		for _, secret := range []string{"north", "west"} {
			if strings.Contains(rows, secret) {
				t.Errorf("south's own table %s names %s: %.300s", table, secret, rows)
			}
		}
	}

	shutOut(t, apps["west"], "Ada of west", "")
	b.in(map[string]bool{"north": true, "south": true, "west": false})
	if page := pageOf(b.at["north"], "/shops"); strings.Contains(page, "west.shops.test") || !strings.Contains(page, "south.shops.test") {
		t.Errorf("her shops are %s", page)
	}
	if status, _, _ := b.follow(b.way("north", "west")); status == 303 {
		t.Error("shut out of west she comes in from north")
	}
	b.in(map[string]bool{"north": true, "south": true, "west": false})

	shutOut(t, apps["south"], "Ada of south", otherPassword)
	b.in(map[string]bool{"north": true, "south": false})
	if status, _, _ := b.follow(b.way("north", "south")); status == 303 {
		t.Error("an account that its owner gave another password is still led to from north")
	}
	b.in(map[string]bool{"south": false})
	zoe.try("south", "Ada of south", otherPassword, 200) // as whoever gave it can
	if zoe.goes("south", "north") {
		t.Fatal("with the password that an owner of south gave one gets into north")
	}
	zoe.try("north", "Ada", otherPassword, 401)
	zoe.try("north", "Ada", webtest.Password, 200)
	zoe.try("south", "Ada of south", webtest.Password, 401)
	b.join("north", "south", "Ada of south", otherPassword, 303) // with what she is told she adds it again
	if !b.goes("north", "south") {
		t.Error("added again there is no way")
	}
}

// Joining tries a password of another shop: it is slowed down as signing in there is.
func TestJoiningIsNoWayToGuess(t *testing.T) {
	f, apps, _ := threeShops(t)
	b := f.browser(t, apps)
	b.try("north", "Ada", webtest.Password, 200)
	for range 5 {
		b.join("north", "south", "Zoe", "another password of hers", 422)
	}
	if status, _ := b.at["north"].Page("/shops", url.Values{"shop": {"south"}, "name": {"Zoe"}, "password": {webtest.Password}}); status != 429 && status != 503 {
		t.Errorf("after five wrong ones the sixth is looked at: status %d", status)
	}
	b.try("south", "Zoe", "another password of hers", 429)
}
