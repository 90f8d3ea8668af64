package web_test

import (
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/store/sqlite"
	"needlepace/web"
	"needlepace/web/webtest"
)

// another is a browser of its own at the same app.
func another(a *webtest.App) *webtest.App {
	jar, err := cookiejar.New(nil)
	if err != nil {
		a.T.Fatal(err)
	}
	b := *a
	b.Client = &http.Client{Jar: jar, CheckRedirect: a.Client.CheckRedirect}
	return &b
}

func tryIn(a *webtest.App, name, password string) *webtest.Answer {
	return a.Send("POST", "/session", map[string]string{"name": name, "password": password})
}

// 200 tries at once are counted before they are looked at. The clock stands: how long they take is the computer's, and the
// first wait is over after a second.
func TestTwoHundredSignInsAtOnceDoNotPassTheLimit(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	a := webtest.New(t, web.Options{Accounts: true, Now: func() time.Time { return now }})
	a.Account("Ada", shop.Owner)
	var wg sync.WaitGroup
	var looked, refused atomic.Int32
	for range 200 {
		wg.Go(func() {
			switch r := tryIn(a, "Ada", "wrong password"); r.Status {
			case 401:
				looked.Add(1)
			case 429:
				if r.Header.Get("Retry-After") == "" {
					t.Error("no Retry-After")
				}
				refused.Add(1)
			default:
				t.Errorf("status %d", r.Status)
			}
		})
	}
	wg.Wait()
	if looked.Load() != web.FreeFailures || looked.Load()+refused.Load() != 200 {
		t.Errorf("%d passwords were looked at, %d tries refused", looked.Load(), refused.Load())
	}
}

// A stranger, even one at the same address, does not keep the owner out: not by
// the owner's name, not by many names, not by filling the line of passwords.
func TestAStrangerCannotLockTheOwnerOut(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.SignIn("Ada")
	stranger := another(a)
	var wg sync.WaitGroup
	for i := range 300 {
		wg.Go(func() { tryIn(stranger, "Ada", "wrong password"+strings.Repeat("x", i%7)) })
	}
	wg.Wait()
	tryIn(stranger, "Ada", webtest.Password).Fails(429, shop.Busy, "too many wrong tries")
	a.Send("GET", "/designs", nil).OK(200) // the sign-in goes on
	a.Send("DELETE", "/session", nil).OK(204)
	tryIn(a, "Ada", webtest.Password).OK(200) // this browser is known
	// It is slowed down by its own tries only, however the name is written.
	for _, name := range []string{"Ada", "ADA", " ada ", "aDa", "adA"} {
		tryIn(a, name, "wrong password").Fails(401, shop.SignIn, "")
	}
	tryIn(a, "Ada", webtest.Password).Fails(429, shop.Busy, "")
}

// Thirty wrong tries with any names are free to one address, then each waits, whatever the name and
// whether there is such an account; and so do five with one name, however it is written. An hour later it is forgotten.
func TestTriesFromOneAddressAreCountedWhateverTheName(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	a := webtest.New(t, web.Options{Accounts: true, Now: func() time.Time { return now }})
	a.Account("Ada", shop.Owner)
	wrong := func(name string) *webtest.Answer { return tryIn(another(a), name, "wrong password") }
	for i := range 30 {
		wrong(fmt.Sprintf("guess %c%c", 'a'+i/6, 'g'+i%6)).Fails(401, shop.SignIn, "")
		if i == 15 { // one that is right makes the others no better
			tryIn(another(a), "Ada", webtest.Password).OK(200)
		}
	}
	wrong("yet another").Fails(429, shop.Busy, "")
	tryIn(another(a), "Ada", webtest.Password).Fails(429, shop.Busy, "")
	now = now.Add(61 * time.Minute)
	for _, name := range []string{"Ada", "ADA", " ada ", "Аdа", "аda"} { // two of them with letters of Cyrillic
		wrong(name).Fails(401, shop.SignIn, "")
	}
	wrong("aDA").Fails(429, shop.Busy, "")
	wrong("Ben").Fails(401, shop.SignIn, "")
	now = now.Add(61 * time.Minute)
	wrong("Ada").Fails(401, shop.SignIn, "")
	wrong("Ada").Fails(401, shop.SignIn, "")
}

// While strangers' passwords are hashed, who is signed in reads on.
func TestWrongSignInsDoNotStarveReaders(t *testing.T) {
	if testing.Short() {
		t.Skip("hashes at full cost")
	}
	a := webtest.New(t, web.Options{Accounts: true})
	full := accountsAtFullCost(t)
	stop := make(chan struct{})
	var wg sync.WaitGroup
	for range 300 {
		wg.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					full.SignIn(t.Context(), "Ada", "wrong password", accounts.Browser{}) //nolint:errcheck // wrong
					time.Sleep(50 * time.Millisecond)
				}
			}
		})
	}
	a.Account("Ada", shop.Owner)
	a.SignIn("Ada")
	var worst time.Duration
	for range 20 {
		began := time.Now()
		a.Send("GET", "/designs", nil).OK(200)
		worst = max(worst, time.Since(began))
	}
	close(stop)
	wg.Wait()
	t.Logf("the slowest of 20 answers beside 300 who try wrong passwords: %v", worst)
	if worst > 3*time.Second { // it was 29 s
		t.Errorf("a reader waited %v", worst)
	}
}

func TestChangingOnesOwnPassword(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.Account("Olu", shop.Operator)
	olu, elsewhere := another(a), another(a)
	olu.SignIn("Olu")
	elsewhere.SignIn("Olu")
	change := func(before, now string) *webtest.Answer {
		return olu.Send("PUT", "/session/password", map[string]string{"before": before, "password": now})
	}
	change("not it at all", "quite another one").Fails(422, shop.Invalid, "until now is another")
	change(webtest.Password, "password123").Fails(422, shop.Invalid, "first that are tried")
	change(webtest.Password, webtest.Password).Fails(422, shop.Invalid, "until now")
	change(webtest.Password, "quite another one").OK(204)
	olu.Send("GET", "/designs", nil).OK(200)
	elsewhere.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "")
	tryIn(elsewhere, "Olu", webtest.Password).Fails(401, shop.SignIn, "")
	tryIn(elsewhere, "Olu", "quite another one").OK(200)
	for range web.FreeFailures {
		change("not it at all", "quite another one here").Fails(422, shop.Invalid, "")
	}
	change("quite another one", "quite another one here").Fails(429, shop.Busy, "too many")
	local := webtest.New(t, web.Options{})
	local.Send("PUT", "/session/password", map[string]string{"before": "x", "password": "y"}).Fails(422, shop.Invalid, "nobody needs to sign in")
}

func TestTheFormOfOnesOwnPassword(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.SignIn("Ada")
	if _, page := a.Page("/settings/sign-ins", nil); !strings.Contains(page, `name="before"`) || !strings.Contains(page, `action="/settings/sign-ins/password"`) {
		t.Fatalf("the page has no such form: %.500s", page)
	}
	send := func(form url.Values) (int, string) { return a.Page("/settings/sign-ins/password", form) }
	if status, _ := send(url.Values{"before": {webtest.Password}, "password": {"quite another one"}, "no_such_field": {"1"}}); status != 400 {
		t.Errorf("an unknown field: %d", status)
	}
	if status, page := send(url.Values{"before": {"no, another"}, "password": {"quite another one"}}); status != 422 || !strings.Contains(page, "until now is another one") {
		t.Errorf("a wrong password: %d", status)
	}
	if status, page := send(url.Values{"before": {webtest.Password}, "password": {"password123"}}); status != 422 || !strings.Contains(page, "first that are tried") {
		t.Errorf("a common password: %d", status)
	}
	if status, _ := send(url.Values{"before": {webtest.Password}, "password": {"quite another one"}}); status != 303 {
		t.Errorf("the right one: %d", status)
	}
}

func TestSignInsAreListedAndEndedOneByOne(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.Account("Olu", shop.Operator)
	ada, olu, elsewhere := another(a), another(a), another(a)
	ada.SignIn("Ada")
	olu.SignIn("Olu")
	elsewhere.SignIn("Olu")
	list := func(a *webtest.App, query string) []accounts.SignIn {
		return webtest.Into[struct {
			SignIns []accounts.SignIn `json:"sign_ins"`
		}](a.Send("GET", "/sign-ins"+query, nil).OK(200)).SignIns
	}
	mine := list(olu, "")
	if len(mine) != 2 || mine[0].This == mine[1].This || mine[0].Name != "Olu" || mine[0].Address != "127.0.0.1" || mine[0].Agent == "" {
		t.Fatalf("an operator's own sign-ins: %+v", mine)
	}
	olu.Send("GET", "/sign-ins?all=true", nil).Fails(403, shop.Forbidden, "owner")
	if all := list(ada, "?all=true"); len(all) != 3 {
		t.Errorf("an owner sees %d sign-ins of 3", len(all))
	}
	adas := list(ada, "")[0].ID
	olu.Send("DELETE", "/sign-ins/"+adas, nil).Fails(404, shop.NotFound, "") // not one's own
	ada.Send("GET", "/designs", nil).OK(200)
	for _, s := range mine {
		if !s.This {
			olu.Send("DELETE", "/sign-ins/"+s.ID, nil).OK(204)
		}
	}
	elsewhere.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "")
	olu.Send("GET", "/designs", nil).OK(200)
	elsewhere.SignIn("Olu")
	olu.Send("DELETE", "/sign-ins", nil).OK(204) // all others of one's own, and nobody else's
	elsewhere.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "")
	olu.Send("GET", "/designs", nil).OK(200)
	ada.Send("GET", "/designs", nil).OK(200)
	ada.Send("DELETE", "/sign-ins/"+list(olu, "")[0].ID, nil).OK(204)
	olu.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "")
	status, page := ada.Page("/settings/sign-ins", nil)
	if status != 200 || !strings.Contains(page, "from 127.0.0.1") || !strings.Contains(page, "this browser") {
		t.Errorf("the page of sign-ins: %d %.500s", status, page)
	}
}

func TestTokensOfPrograms(t *testing.T) {
	now := time.Now()
	a := webtest.New(t, web.Options{Accounts: true, Now: func() time.Time { return now }})
	a.Account("Ada", shop.Owner)
	a.SignIn("Ada")
	made := webtest.Into[struct {
		Token  shop.Token
		Secret string
	}](a.Send("POST", "/tokens", map[string]any{"name": "web shop", "role": "planner", "expires": now.AddDate(0, 1, 0)}).OK(201))
	a.Send("POST", "/tokens", map[string]any{"name": "Ada", "role": "operator", "expires": now.AddDate(0, 1, 0)}).Fails(409, shop.Conflict, "a person is called")
	a.Send("POST", "/tokens", map[string]any{"name": "x", "role": "operator", "expires": now.AddDate(3, 0, 0)}).Fails(422, shop.Invalid, "two years")
	a.Send("POST", "/tokens", map[string]any{"name": "x", "role": "operator", "expires": now}).Fails(422, shop.Invalid, "over already")
	if strings.Contains(string(a.Send("GET", "/tokens", nil).OK(200).Body), made.Secret) || strings.Contains(a.Log.String(), made.Secret) {
		t.Error("a token's secret is given away")
	}
	program := another(a)
	as := func(secret string) []string { return []string{"Authorization", "Bearer " + secret} }
	program.Send("GET", "/designs", nil, as(made.Secret)...).OK(200)
	program.Send("GET", "/accounts", nil, as(made.Secret)...).Fails(403, shop.Forbidden, "owner")
	program.Send("GET", "/designs", nil, "Authorization", "bearer "+made.Secret).OK(200) // RFC 9110, 11.1: however it is written
	for _, scheme := range []string{"Basic ", "Token ", ""} {
		program.Send("GET", "/designs", nil, "Authorization", scheme+made.Secret).Fails(401, shop.SignIn, "")
	}
	program.Send("GET", "/designs", nil, as(made.Secret+"x")...).Fails(401, shop.SignIn, "")
	a.Send("GET", "/designs", nil, as("nonsense")...).Fails(401, shop.SignIn, "") // a cookie does not help a wrong token
	// The history says to the owner from where a change came, and to nobody else.
	type history struct{ Changes []shop.Changed }
	program.Send("POST", "/machines", map[string]string{"class": "compact-8", "name": "Wren"}, as(made.Secret)...).OK(201)
	a.Send("PUT", "/settings", map[string]string{"shop_name": "Two Herons"}).OK(200)
	a.Page("/settings", url.Values{"shop_name": {"Three Herons"}, "length": {"mm"}, "hours": {"24"}, "currency": {"EUR"}, "paper": {"A4"}})
	set, err := a.Shop.Settings.Get(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	set.ShopName = "Four Herons"
	if err := a.Shop.Settings.Save(t.Context(), set); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, c := range webtest.Into[history](a.Send("GET", "/changes?limit=20", nil).OK(200)).Changes {
		seen[c.From] = true
	}
	for _, from := range []string{"token 127.0.0.1", "API 127.0.0.1", "page 127.0.0.1", "command"} {
		if !seen[from] {
			t.Errorf("nothing came from %q: %v", from, seen)
		}
	}
	for _, c := range webtest.Into[history](program.Send("GET", "/changes?limit=20", nil, as(made.Secret)...).OK(200)).Changes {
		if c.From != "" || c.Thing == "token" || c.Thing == "account" {
			t.Errorf("a planner sees that %s %s came from %q", c.Thing, c.Name, c.From)
		}
	}
	for k := range 60 { // more than a page of the history
		set.ShopName = "Herons " + strconv.Itoa(k)
		if err := a.Shop.Settings.Save(t.Context(), set); err != nil {
			t.Fatal(err)
		}
	}
	if status, file := a.Page("/history?csv=history", nil); status != 200 || strings.Count(file, "\n") < 65 ||
		!strings.Contains(file, "Token web shop made: as planner,page 127.0.0.1") && !strings.Contains(file, "Token web shop made: as planner,API 127.0.0.1") {
		t.Errorf("the history as a file: status %d, %d lines: %.300s", status, strings.Count(file, "\n"), file)
	}
	if used := webtest.Into[struct{ Tokens []shop.Token }](a.Send("GET", "/tokens", nil).OK(200)).Tokens; len(used) != 1 || used[0].Seen.IsZero() {
		t.Errorf("last use: %+v", used)
	}
	req, err := http.NewRequest("GET", a.URL+"/designs", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Bearer "+made.Secret)
	res, err := program.Client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only its status
	if res.StatusCode != 303 {
		t.Errorf("a page by a token: status %d", res.StatusCode)
	}
	now = now.AddDate(0, 2, 0)
	program.Send("GET", "/designs", nil, as(made.Secret)...).Fails(401, shop.SignIn, "")
	now = now.AddDate(0, -2, 0)
	program.Send("GET", "/designs", nil, as(made.Secret)...).OK(200)
	a.Send("DELETE", "/tokens/"+made.Token.ID, nil).OK(204)
	program.Send("GET", "/designs", nil, as(made.Secret)...).Fails(401, shop.SignIn, "")
}

// TestATokenEndsWithItsMaker, and what a token of theirs made, but not what others made.
func TestATokenEndsWithItsMaker(t *testing.T) {
	now := time.Now()
	a := webtest.New(t, web.Options{Accounts: true, Now: func() time.Time { return now }})
	a.Account("Ada", shop.Owner)
	ben := a.Account("Ben", shop.Owner)
	a.SignIn("Ada")
	b := another(a)
	b.SignIn("Ben")
	program := another(a)
	token := func(by *webtest.App, name string, role shop.Role, with ...string) []string {
		t.Helper()
		made := webtest.Into[struct{ Secret string }](by.Send("POST", "/tokens", map[string]any{"name": name, "role": role, "expires": now.AddDate(0, 1, 0)}, with...).OK(201))
		return []string{"Authorization", "bearer " + made.Secret}
	}
	first := token(b, "till", shop.Owner)
	second := token(program, "scale", shop.Owner, first...)
	third := token(b, "wall", shop.Operator)
	kept := token(a, "door", shop.Owner)
	works := func(when string, want map[string]bool) {
		t.Helper()
		for name, with := range map[string][]string{"till": first, "scale": second, "wall": third, "door": kept} {
			if got := program.Send("GET", "/designs", nil, with...).Status == 200; got != want[name] {
				t.Errorf("%s: the token %s works: %v", when, name, got)
			}
		}
	}
	works("at first", map[string]bool{"till": true, "scale": true, "wall": true, "door": true})
	a.Send("PUT", "/accounts/"+ben.ID, map[string]any{"role": "planner"}).OK(200)
	works("as a planner", map[string]bool{"wall": true, "door": true})
	a.Send("PUT", "/accounts/"+ben.ID, map[string]any{"role": "planner", "disabled": true}).OK(200)
	works("shut out", map[string]bool{"door": true})

	// So do phones that may do more than an operator's, and what a phone or a token made that is gone.
	ctx := t.Context()
	owner := func(name string) *shop.Account { return &shop.Account{Name: name, Role: shop.Owner} }
	let := func(by, name string, role shop.Role) string {
		t.Helper()
		p, err := a.Shop.Phones.Ask(ctx, owner(by), name, role)
		if err != nil {
			t.Fatal(err)
		}
		return p.ID
	}
	left := func(when string, want ...string) {
		t.Helper()
		var got []string
		phones, err := a.Shop.Phones.List(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range phones {
			got = append(got, p.Name)
		}
		for _, k := range webtest.Into[struct{ Tokens []shop.Token }](a.Send("GET", "/tokens", nil).OK(200)).Tokens {
			got = append(got, k.Name)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: left are %q, want %q", when, got, want)
		}
	}
	a.Send("PUT", "/accounts/"+ben.ID, map[string]any{"role": "owner"}).OK(200)
	let("Ben", "bay", shop.Operator)
	let("Ben", "desk", shop.Planner)
	let("Ben", "pocket", shop.Owner)
	if _, _, err := a.Shop.Accounts.MakeToken(ctx, owner("pocket"), "of pocket", shop.Operator, now.AddDate(0, 1, 0)); err != nil {
		t.Fatal(err)
	}
	left("at first", "bay", "desk", "pocket", "door", "of pocket")
	a.Send("PUT", "/accounts/"+ben.ID, map[string]any{"role": "planner"}).OK(200)
	left("Ben is a planner", "bay", "desk", "door")
	a.Send("PUT", "/accounts/"+ben.ID, map[string]any{"role": "planner", "disabled": true}).OK(200)
	left("Ben is out", "bay", "door")
	gone := let("door", "shelf", shop.Owner)
	let("shelf", "shelf 2", shop.Planner)
	if err := a.Shop.Phones.TakeOut(ctx, owner("Ada"), gone); err != nil {
		t.Fatal(err)
	}
	left("the shelf's is out", "bay", "door")
	token(program, "of door", shop.Operator, kept...)
	for _, k := range webtest.Into[struct{ Tokens []shop.Token }](a.Send("GET", "/tokens", nil).OK(200)).Tokens {
		if k.Name == "door" {
			a.Send("DELETE", "/tokens/"+k.ID, nil).OK(204)
		}
	}
	left("the door's is taken back", "bay")
}

// Names by which one person is taken for another are refused, among people,
// phones and tokens.
func TestNamesThatDeceiveAreRefused(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Al", shop.Owner)
	a.SignIn("Al")
	add := func(name string) *webtest.Answer {
		return a.Send("POST", "/accounts", map[string]string{"name": name, "role": "operator", "password": "a long enough one"})
	}
	add("AI").Fails(409, shop.Conflict, "looks like")
	add("al").Fails(409, shop.Conflict, "already")
	add("Al\u202eb").Fails(422, shop.Invalid, "turn the text round")
	add("А"+"l").Fails(422, shop.Invalid, "several scripts")
	add("Ada").OK(201)
	a.Send("POST", "/accounts", map[string]string{"name": "Ben", "role": "operator", "password": "password123"}).Fails(422, shop.Invalid, "first that are tried")
}

// An operator does not stop the plan that an owner asked for.
func TestAnOperatorCannotStopAnOwnersPlan(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.Account("Olu", shop.Operator)
	olu := another(a)
	a.SignIn("Ada")
	olu.SignIn("Olu")
	a.Machine("compact-8", "Bay")
	id := webtest.Into[struct{ ID string }](a.Send("POST", "/plan", "{}").OK(202)).ID
	olu.Send("DELETE", "/work/"+id, nil).Fails(403, shop.Forbidden, "planner")
	olu.Send("GET", "/work/"+id, nil).Fails(403, shop.Forbidden, "planner")
}

// accountsAtFullCost are an app's accounts with passwords that cost what they
// cost in a shop, on a store of its own.
func accountsAtFullCost(t *testing.T) *accounts.Accounts {
	store, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() }) //nolint:errcheck // a test's
	return accounts.New(store, time.Now, 0, nil)
}

// TestWhoOpensTheDoorOrEndsASignInIsTold to whoever keeps the accounts, and it is not offered to be taken back.
func TestWhoOpensTheDoorOrEndsASignInIsTold(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.Account("Olu", shop.Operator)
	a.SignIn("Ada")
	olu := another(a)
	olu.SignIn("Olu")
	type history struct{ Changes []shop.Changed }
	before := len(webtest.Into[history](a.Send("GET", "/changes?limit=50", nil).OK(200)).Changes)
	for _, open := range []bool{true, true, false} { // the second changes nothing
		if err := a.Shop.Settings.KeepDoor(t.Context(), open); err != nil {
			t.Fatal(err)
		}
	}
	for _, s := range webtest.Into[struct {
		SignIns []accounts.SignIn `json:"sign_ins"`
	}](a.Send("GET", "/sign-ins?all=true", nil).OK(200)).SignIns {
		if s.Name == "Olu" {
			a.Send("DELETE", "/sign-ins/"+s.ID, nil).OK(204)
		}
	}
	all := webtest.Into[history](a.Send("GET", "/changes?limit=50", nil).OK(200)).Changes
	var got []string
	for _, c := range all[:len(all)-before] {
		got = append(got, c.Thing+" "+c.Verb+" "+c.Name)
		if c.Undoable {
			t.Errorf("%s can be taken back", c.Thing)
		}
	}
	if want := []string{"sign-in gone Olu", "door gone ", "door added "}; !slices.Equal(got, want) {
		t.Errorf("told: %q, want %q", got, want)
	}
}

// Who says that their browser is known, by a secret of their own making, is counted as a stranger: a new one each time is no
// fresh start.
func TestAnInventedBrowserIsNoFreshStart(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	for n := range 6 {
		r := a.Send("POST", "/session", map[string]string{"name": "Ada", "password": "wrong again and again"}, "Cookie", "needlepace-known=invented"+strconv.Itoa(n))
		if want := map[bool]int{true: 401, false: 429}[n < 5]; r.Status != want {
			t.Errorf("try %d: status %d, want %d", n+1, r.Status, want)
		}
	}
}
