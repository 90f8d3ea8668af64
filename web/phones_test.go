package web_test

import (
	"crypto/x509"
	"encoding/pem"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/door"
	"needlepace/web/webtest"
)

var anOwner = &shop.Account{Role: shop.Owner}

// withDoor is an app with a door, with or without accounts, and a phone that
// trusts it and has not come in.
func withDoor(t *testing.T, opt web.Options) (*webtest.App, *webtest.App, *door.Door) {
	t.Helper()
	opt.Door = webtest.Door(t)
	a := webtest.New(t, opt)
	return a, a.Phone(opt.Door), opt.Door
}

// code makes a phone's code.
func code(a *webtest.App, name string, role shop.Role) (*shop.Phone, string) {
	a.T.Helper()
	p, err := a.Shop.Phones.Ask(a.T.Context(), anOwner, name, role)
	if err != nil {
		a.T.Fatal(err)
	}
	return p, a.Shop.Phones.Code(p)
}

// brings sends a code as the page's form does, and gives where it leads.
func brings(p *webtest.App, code string) *http.Response {
	p.T.Helper()
	res, err := p.Client.PostForm(p.URL+"/phone", url.Values{"code": {code}, "next": {"/time"}})
	if err != nil {
		p.T.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only its header
	return res
}

func wantTo(t *testing.T, res *http.Response, to string) {
	t.Helper()
	if res.StatusCode != 303 || res.Header.Get("Location") != to {
		t.Errorf("%s leads to %d %q, want %q", res.Request.URL.Path, res.StatusCode, res.Header.Get("Location"), to)
	}
}

// On this computer nobody signs in; by the door everybody does, and a phone is
// what its role is.
func TestAPhoneComesInByItsCodeAndIsWhatItsRoleIs(t *testing.T) {
	for _, accounts := range []bool{false, true} {
		a, phone, _ := withDoor(t, web.Options{Accounts: accounts})
		if status, _ := phone.Page("/designs", nil); status != 303 {
			t.Errorf("without a code: status %d", status)
		}
		phone.Send("GET", "/designs", nil).Fails(401, shop.SignIn, "sign in")
		p, secret := code(a, "Bay 2", shop.Operator)
		res := brings(phone, secret)
		wantTo(t, res, "/time")
		cookie := res.Header.Get("Set-Cookie")
		for _, has := range []string{"__Host-needlepace-phone=", "Path=/", "HttpOnly", "Secure", "SameSite=Lax"} {
			if !strings.Contains(cookie, has) {
				t.Errorf("the cookie %q has no %s", cookie, has)
			}
		}
		for path, want := range map[string]int{"/time": 200, "/orders": 200, "/floor": 403, "/settings/phones": 403, "/plan/hours": 403} {
			if status, _ := phone.Page(path, nil); status != want {
				t.Errorf("an operator's phone at %s: %d, want %d", path, status, want)
			}
		}
		if who := webtest.Into[struct{ Name, Role string }](phone.Send("GET", "/session", nil).OK(200)); who.Name != "Bay 2" || who.Role != "operator" {
			t.Errorf("it is %+v", who)
		}
		if status, _ := phone.Page("/settings/phones", url.Values{"name": {"Mine"}, "role": {"owner"}}); status != 403 {
			t.Errorf("an operator's phone lets another in: %d", status)
		}
		if status, _ := phone.Page("/lists", url.Values{"of": {"orders"}, "name": {"Sewing now"}, "query": {"state=sewing"}}); status != 303 {
			t.Errorf("it keeps a list: status %d", status)
		}
		if told, _, err := a.Shop.Changes.List(t.Context(), shop.Owner, shop.ChangeQuery{Limit: 1}); err != nil || told[0].Thing != "list" || told[0].By != "Bay 2" || told[0].From != "phone 127.0.0.1" {
			t.Errorf("the history tells of what it did %+v, %v", told[0], err)
		}
		if err := a.Shop.Phones.TakeOut(t.Context(), anOwner, p.ID); err != nil {
			t.Fatal(err)
		}
		if status, _ := phone.Page("/time", nil); status != 303 {
			t.Errorf("taken out, it is at work: %d", status)
		}
	}
}

func TestAPhonesCookieIsNoPersonsAndTheDoorsOnly(t *testing.T) {
	a, phone, d := withDoor(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	_, secret := code(a, "Bay 2", shop.Planner)
	res := brings(phone, secret)
	value, _, _ := strings.Cut(strings.TrimPrefix(res.Header.Get("Set-Cookie"), "__Host-needlepace-phone="), ";")
	at := func(base, cookie string) int {
		t.Helper()
		req, err := http.NewRequest("GET", base+"/designs", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Cookie", cookie)
		client := *phone.Client
		client.Jar = nil
		res, err := client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its status
		return res.StatusCode
	}
	door := d.Origin("https", "127.0.0.1")
	for what, got := range map[string][2]int{
		"the phone's by the door":       {at(door, "__Host-needlepace-phone="+value), 200},
		"the phone's as a person's":     {at(door, "__Host-needlepace="+value), 303},
		"the phone's without the door":  {at(a.URL, "__Host-needlepace-phone="+value), 303},
		"as a person's there":           {at(a.URL, "needlepace="+value), 303},
		"its name without the prefix":   {at(door, "needlepace-phone="+value), 303},
		"one of the guesser's choosing": {at(door, "__Host-needlepace-phone=chosen"), 303},
	} {
		if got[0] != got[1] {
			t.Errorf("%s: status %d, want %d", what, got[0], got[1])
		}
	}
	// A person signs in by the door too, and is then the person; signing out
	// leaves the phone.
	phone.SignIn("Ada")
	if status, _ := phone.Page("/settings/phones", nil); status != 200 {
		t.Errorf("an owner by the door: %d", status)
	}
	if res, err := phone.Client.PostForm(phone.URL+"/sign-out", nil); err != nil || res.Header.Get("Location") != "/phone" {
		t.Errorf("signing out: %v, %v", res, err)
	}
	if who := webtest.Into[struct{ Name string }](phone.Send("GET", "/session", nil).OK(200)); who.Name != "Bay 2" {
		t.Errorf("after that it is %q", who.Name)
	}
	if _, err := phone.Client.PostForm(phone.URL+"/sign-out", nil); err != nil {
		t.Fatal(err)
	}
	if all, err := a.Shop.Phones.List(t.Context()); err != nil || len(all) != 0 {
		t.Errorf("signed out, the phone is still there: %v, %v", all, err)
	}
}

// No session that was there before is taken over (fixation): the secret is a new
// one, and the browser's old session ends.
func TestComingInAlwaysBeginsANewSession(t *testing.T) {
	a, phone, _ := withDoor(t, web.Options{})
	_, first := code(a, "Bay 2", shop.Planner)
	before := brings(phone, first).Header.Get("Set-Cookie")
	_, second := code(a, "Bay 3", shop.Operator)
	after := brings(phone, second).Header.Get("Set-Cookie")
	if before == after || after == "" {
		t.Errorf("cookies %q and %q", before, after)
	}
	if all, err := a.Shop.Phones.List(t.Context()); err != nil || len(all) != 1 || all[0].Name != "Bay 3" {
		t.Errorf("%v, %v", all, err)
	}
	if status, _ := phone.Page("/floor", nil); status != 403 {
		t.Errorf("it has its old role: %d", status)
	}
}

func TestACodeIsUsedUpOnceAndNowhereWrittenDown(t *testing.T) {
	a, phone, d := withDoor(t, web.Options{})
	_, secret := code(a, "Bay 2", shop.Operator)
	// Two phones and one code.
	other := a.Phone(d)
	var in atomic.Int32
	var both sync.WaitGroup
	for _, p := range []*webtest.App{phone, other, phone, other} {
		both.Go(func() {
			if brings(p, secret).Header.Get("Location") == "/time" {
				in.Add(1)
			}
		})
	}
	both.Wait()
	if in.Load() != 1 {
		t.Errorf("%d came in with one code", in.Load())
	}
	wantTo(t, brings(other, secret), "/phone?wrong=1&next=%2Ftime")
	// Neither in a query, a log nor where a link would carry it.
	q, waiting := code(a, "Bay 3", shop.Operator)
	status, page := a.Page("/settings/phones/"+q.ID, nil)
	if status != 200 || !strings.Contains(page, waiting[:4]) || strings.Contains(page, waiting) {
		t.Errorf("the page with the code: %d; it stands in one piece: %v", status, strings.Contains(page, waiting))
	}
	brings(phone, waiting)
	for _, s := range []string{secret, waiting, "__Host-"} {
		if strings.Contains(a.Log.String(), s) {
			t.Errorf("the log holds %q", s)
		}
	}
	if !strings.Contains(a.Log.String(), "path=/phone") {
		t.Error("the log has nothing of it: the test looks at the wrong one")
	}
	if status, page := a.Page("/settings/phones/"+q.ID, nil); status != 200 || strings.Contains(page, "data-phone-code") {
		t.Errorf("a used code is shown: %d", status)
	}
}

func TestGuessingCodesIsSlowedDown(t *testing.T) {
	a, phone, _ := withDoor(t, web.Options{})
	_, secret := code(a, "Bay 2", shop.Operator)
	for range web.FreeFailures {
		wantTo(t, brings(phone, strings.Repeat("A", 16)), "/phone?wrong=1&next=%2Ftime")
	}
	res := brings(phone, secret)
	if to := res.Header.Get("Location"); !strings.HasPrefix(to, "/phone?wait=") || res.Header.Get("Retry-After") == "" {
		t.Errorf("after %d wrong ones a right one leads to %q", web.FreeFailures, to)
	}
	if status, page := phone.Page("/phone?wait=1", nil); status != 200 || !strings.Contains(page, "Too many tries") {
		t.Errorf("it says nothing of it: %d", status)
	}
}

func TestACodeEndsByTheShopsClock(t *testing.T) {
	var late atomic.Int64
	a, phone, _ := withDoor(t, web.Options{Now: func() time.Time { return time.Now().Add(time.Duration(late.Load())) }})
	p, secret := code(a, "Bay 2", shop.Operator)
	late.Store(int64(11 * time.Minute))
	wantTo(t, brings(phone, secret), "/phone?wrong=1&next=%2Ftime")
	if _, page := a.Page("/settings/phones/"+p.ID, nil); strings.Contains(page, "data-phone-code") {
		t.Error("an old code is shown")
	}
}

func TestTheDoorAnswersUnderItsOwnNamesOnly(t *testing.T) {
	_, phone, d := withDoor(t, web.Options{})
	plain := *phone
	plain.URL = d.Origin("http", "127.0.0.1")
	for _, p := range []*webtest.App{phone, &plain} {
		for host, want := range map[string]int{"127.0.0.1:8238": 200, "127.0.0.1": 200, "evil.example": 421, "192.0.2.9": 421, "127.0.0.1.evil.example": 421, "": 200} {
			req, err := http.NewRequest("GET", p.URL+"/trust", nil)
			if err != nil {
				t.Fatal(err)
			}
			req.Host = host
			res, err := p.Client.Do(req)
			if err != nil {
				t.Fatal(err)
			}
			res.Body.Close() //nolint:errcheck // only its header
			if res.StatusCode != want {
				t.Errorf("%s as %q: %d, want %d", p.URL, host, res.StatusCode, want)
			}
			if res.Header.Get("Strict-Transport-Security") != "" {
				t.Errorf("%s makes HTTPS compulsory for the name, which the shop may need without", p.URL)
			}
		}
	}
	for header, want := range map[[2]string]int{
		{"Sec-Fetch-Site", "same-origin"}: 303, {"Sec-Fetch-Site", "cross-site"}: 403, {"Sec-Fetch-Site", "same-site"}: 403,
		{"Origin", phone.URL}: 303, {"Origin", "https://elsewhere.example"}: 403, {"Origin", "http://127.0.0.1:1"}: 403, {"Origin", "null"}: 403,
	} {
		req, err := http.NewRequest("POST", phone.URL+"/phone", strings.NewReader("code=x"))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set(header[0], header[1])
		res, err := phone.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its status
		if res.StatusCode != want {
			t.Errorf("a form with %v: %d, want %d", header, res.StatusCode, want)
		}
	}
}

// Without HTTPS there is the way to trust the shop and nothing else, whoever
// asks.
func TestWithoutHTTPSThereIsOnlyHowToTrustTheShop(t *testing.T) {
	a, phone, d := withDoor(t, web.Options{})
	_, secret := code(a, "Bay 2", shop.Owner)
	wantTo(t, brings(phone, secret), "/time")
	plain := *phone
	plain.URL = d.Origin("http", "127.0.0.1")
	for _, rt := range a.Server.Routes() {
		path := strings.NewReplacer("{$}", "", "{file}", "authority.crt", "{name...}", "css/base.css").Replace(rt.Path)
		method := rt.Method
		if method == "" {
			method = "GET"
		}
		req, err := http.NewRequest(method, plain.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range phone.Client.Jar.Cookies(mustURL(t, phone.URL)) {
			req.AddCookie(c) // as a browser never would
		}
		res, err := plain.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its header
		open := strings.HasPrefix(path, "/trust") || strings.HasPrefix(path, "/assets/") || path == "/favicon.ico"
		switch {
		case method != "GET" && res.StatusCode == 403:
		case open && res.StatusCode < 400 && res.Header.Get("Location") != "/trust":
		case !open && res.StatusCode == 303 && res.Header.Get("Location") == "/trust":
		default:
			t.Errorf("%s %s without HTTPS: %d to %q", method, path, res.StatusCode, res.Header.Get("Location"))
		}
	}
}

func mustURL(t *testing.T, s string) *url.URL {
	t.Helper()
	u, err := url.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func TestTheAuthorityIsGivenInBothForms(t *testing.T) {
	a, _, d := withDoor(t, web.Options{})
	authority, err := d.Authority()
	if err != nil {
		t.Fatal(err)
	}
	for file, kind := range map[string]string{"authority.crt": "application/x-x509-ca-cert", "authority.mobileconfig": "application/x-apple-aspen-config"} {
		res, err := a.Client.Get(d.Origin("http", "127.0.0.1") + "/trust/" + file)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(res.Body)
		res.Body.Close() //nolint:errcheck // read
		if err != nil || res.StatusCode != 200 || res.Header.Get("Content-Type") != kind {
			t.Errorf("%s: %d %s, %v", file, res.StatusCode, res.Header.Get("Content-Type"), err)
		}
		if file == "authority.crt" {
			if c, err := x509.ParseCertificate(b); err != nil || !c.Equal(authority.Cert) {
				t.Errorf("%s: %v", file, err)
			}
		}
		if strings.Contains(string(b), "PRIVATE") {
			t.Errorf("%s holds a key", file)
		}
	}
	_, page := a.Page("/settings/phones", nil)
	if squeezed := strings.Join(strings.Fields(strings.NewReplacer("<span>", "", "</span>", "").Replace(page)), " "); !strings.Contains(squeezed, authority.Fingerprint()) {
		t.Error("the fingerprint to compare is not shown")
	}
}

// OpenSSL, which knows nothing of Go's rules, takes the chain for the shop's
// names and refuses others.
func TestAnotherLibraryTakesTheChain(t *testing.T) {
	tool, err := exec.LookPath("openssl")
	if err != nil {
		t.Skip("openssl is not installed")
	}
	_, _, d := withDoor(t, web.Options{})
	authority, err := d.Authority()
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := d.Leaf()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for name, c := range map[string]*x509.Certificate{"ca.pem": authority.Cert, "leaf.pem": leaf} {
		b := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw})
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for ip, good := range map[string]bool{"127.0.0.1": true, "192.0.2.1": false} {
		cmd := exec.Command(tool, "verify", "-x509_strict", "-purpose", "sslserver", "-CAfile", "ca.pem", "-verify_ip", ip, "leaf.pem")
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); (err == nil) != good {
			t.Errorf("%s: %v\n%s", ip, err, out)
		}
	}
}

func TestTheDoorIsOpenedAndShutOnThePage(t *testing.T) {
	d := webtest.Door(t)
	a := webtest.New(t, web.Options{Door: d})
	open := func(want bool) {
		t.Helper()
		for range 100 {
			if (d.Port() != "") == want {
				break
			}
			time.Sleep(20 * time.Millisecond)
		}
		kept, err := a.Shop.Settings.DoorOpen(t.Context())
		if err != nil || (d.Port() != "") != want || kept != want {
			t.Errorf("open %v, kept %v, want %v, %v", d.Port() != "", kept, want, err)
		}
	}
	open(false)
	if status, _ := a.Page("/trust", nil); status != 404 {
		t.Errorf("/trust of a shut door: %d", status)
	}
	if status, page := a.Page("/settings/phones", url.Values{"name": {"Bay 2"}, "role": {"operator"}}); status != 422 || !strings.Contains(page, "open it first") {
		t.Errorf("a phone for a shut door: %d", status)
	}
	a.Page("/settings/phones/door", url.Values{"open": {"1"}})
	open(true)
	if status, page := a.Page("/settings/phones", nil); status != 200 || !strings.Contains(page, d.Origin("https", "127.0.0.1")) {
		t.Errorf("the page of an open door: %d", status)
	}
	a.Page("/settings/phones/door", url.Values{"open": {"0"}})
	open(false)
	none := webtest.New(t, web.Options{})
	for _, path := range []string{"/settings/phones", "/settings"} {
		if status, _ := none.Page(path, nil); status != 200 {
			t.Errorf("%s of a program without a door: %d", path, status)
		}
	}
	if status, _ := none.Page("/settings/phones/door", url.Values{"open": {"1"}}); status < 400 {
		t.Errorf("a door that is not there is opened: %d", status)
	}
}

// A run sheet that is printed on this computer leads a phone to the door.
func TestARunSheetsCodeLeadsToTheDoor(t *testing.T) {
	d := door.New(door.Options{File: filepath.Join(t.TempDir(), "authority.pem"), Address: "127.0.0.1:0",
		Places: func() []string { return []string{"192.168.1.7", "127.0.0.1"} }})
	a := webtest.New(t, web.Options{Door: d})
	if err := d.Open(); err != nil {
		t.Fatal(err)
	}
	if err := a.Shop.LoadDemo(t.Context(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	machines, err := a.Shop.Machines.List(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	path := "/orders/1001/runsheet?machine=" + machines[0].ID
	if _, page := a.Page(path, nil); strings.Contains(page, "answers on this computer only") {
		t.Error("with an open door it says that no phone can open the code")
	}
	if err := d.Shut(t.Context()); err != nil {
		t.Log(err)
	}
	if _, page := a.Page(path, nil); !strings.Contains(page, "answers on this computer only") {
		t.Error("with a shut door it says nothing of it")
	}
}

// A phone that nobody has told a language reads its own, from the steps that make it trust the shop until it is in; by
// plain HTTP, where nothing is remembered, another is one press away.
func TestAPhoneReadsItsOwnLanguage(t *testing.T) {
	a, phone, d := withDoor(t, web.Options{})
	in := func(url, asked string) string {
		req, err := http.NewRequest("GET", url, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Language", asked)
		res, err := phone.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close() //nolint:errcheck // only read
		b, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != 200 {
			t.Fatalf("%s: %d, %v", url, res.StatusCode, err)
		}
		return string(b)
	}
	trust := d.Origin("http", "127.0.0.1") + "/trust"
	for asked, want := range map[string]string{"tr-TR,tr;q=0.9,en;q=0.5": "Bu telefon atölyeye güvensin", "fr, vi;q=0.3": "Làm cho điện thoại này tin xưởng", "fr": "Make this phone trust the shop"} {
		if body := in(trust, asked); !strings.Contains(body, "<h1>"+want+"</h1>") {
			t.Errorf("a phone that asks for %s is not told “%s”", asked, want)
		}
	}
	if body := in(trust, "tr"); !strings.Contains(body, `href="/trust?language=es"`) || strings.Contains(body, `href="/trust?language=tr"`) || strings.Contains(body, `/language?`) {
		t.Error("the steps do not lead to the other languages")
	}
	if body := in(trust+"?language=es", "tr"); !strings.Contains(body, "<h1>Que este teléfono confíe en el taller</h1>") {
		t.Error("the language of the address is not that of the page")
	}
	if body := in(phone.URL+"/phone", "pt-BR"); !strings.Contains(body, `<html lang="pt"`) {
		t.Error("where a phone brings its code it does not read its language")
	}
	_, secret := code(a, "Bay 2", shop.Operator)
	req, err := http.NewRequest("POST", phone.URL+"/phone", strings.NewReader(url.Values{"code": {secret}, "next": {"/time"}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Accept-Language", "tr")
	res, err := phone.Client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only its header
	wantTo(t, res, "/time")
	if body := in(phone.URL+"/time", "de"); !strings.Contains(body, `<html lang="tr"`) {
		t.Error("a phone that came in does not keep its language")
	}
}
