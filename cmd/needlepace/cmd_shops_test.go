package main

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"needlepace/internal/pgtest"
)

const shopPassword = "three blue awnings at noon\n"

// Shops are made by the command, each with its owner, and served under one name: in a
// folder and in a database alike.
func TestSeveralShopsAreServed(t *testing.T) {
	for kind, place := range map[string][]string{"folder": {"--data", t.TempDir()}, "database": {"--store", pgtest.Database(t)}} {
		t.Run(kind, func(t *testing.T) {
			ask := func(in string, args ...string) (string, string, int) {
				t.Helper()
				return invokeWith(t, in, append(append([]string{"shops"}, place...), args...)...)
			}
			if out, errs, code := ask(""); code != exitOK || !strings.Contains(out, "no shops yet") {
				t.Errorf("status %d, %s%s", code, out, errs)
			}
			for _, name := range []string{"south", "north"} {
				if out, errs, code := ask(shopPassword, "--make", name, "--owner", "Ada"); code != exitOK || !strings.Contains(out, "Made "+name) {
					t.Fatalf("status %d, %s%s", code, out, errs)
				}
			}
			for _, wrong := range [][]string{{"--make", "north", "--owner", "Ada"}, {"--make", "No", "--owner", "Ada"}, {"--make", "west"},
				{"--owner", "Ada"}, {"--make", "west", "--owner", "A\u0430"}} {
				if out, errs, code := ask(shopPassword, wrong...); code == exitOK || errs == "" {
					t.Errorf("%q: status %d, %s", wrong, code, out)
				}
			}
			if out, errs, code := ask("short\n", "--make", "west", "--owner", "Ada"); code == exitOK || !strings.Contains(errs, "password") {
				t.Errorf("a password that is refused: status %d, %s%s", code, out, errs)
			}
			if out, _, _ := ask(""); out != "north\nsouth\n" {
				t.Errorf("the shops are %q", out)
			}

			copies := t.TempDir()
			s := serveAs(t, append(place, "--under", "localhost", "--copies", copies)...)
			if !strings.HasPrefix(s.url, "http://SHOP.localhost:") {
				t.Fatalf("it is at %s", s.url)
			}
			jar, err := cookiejar.New(nil)
			if err != nil {
				t.Fatal(err)
			}
			client := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
			status := func(name, path string, form url.Values) (int, string) {
				t.Helper()
				// Whether SHOP.localhost is this computer is the system's business: the name goes with the request.
				at, err := url.Parse(s.url)
				if err != nil {
					t.Fatal(err)
				}
				req, err := http.NewRequest("GET", "http://127.0.0.1:"+at.Port()+path, nil)
				if form != nil {
					req, err = http.NewRequest("POST", "http://127.0.0.1:"+at.Port()+path, strings.NewReader(form.Encode()))
				}
				if err != nil {
					t.Fatal(err)
				}
				req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				req.Host = name + ".localhost:" + at.Port()
				res, err := client.Do(req)
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
			if got, body := status("east", "/designs", nil); got != 404 {
				t.Errorf("no shop: status %d, %s", got, body)
			}
			if got, body := status("north", "/sign-in", url.Values{"name": {"Ada"}, "password": {strings.TrimSpace(shopPassword)}}); got != 303 {
				t.Errorf("signing in: status %d, %s", got, body)
			}
			if got, body := status("north", "/designs", nil); got != 200 {
				t.Errorf("signed in: status %d, %s", got, body)
			}
			for until := time.Now().Add(20 * time.Second); ; time.Sleep(50 * time.Millisecond) {
				all, err := filepath.Glob(filepath.Join(copies, "*", "needlepace-*Z.db"))
				if err == nil && len(all) == 2 {
					break
				}
				if time.Now().After(until) {
					t.Fatalf("the copies are %q, %v", all, err)
				}
			}
			if _, body := status("north", "/settings/running", nil); !strings.Contains(body, "The latest copy of the shop is of") {
				t.Errorf("the page says nothing of copies: %s", body)
			}
			// The jar keeps by 127.0.0.1 here: north's cookie goes to south too, and is nobody's there.
			if got, body := status("south", "/designs", nil); got != 303 {
				t.Errorf("north's cookie at south: status %d, %s", got, body)
			}
			if out, errs, code := ask(shopPassword, "--make", "east", "--owner", "Bo"); code != exitOK {
				t.Fatalf("made while it serves: status %d, %s%s", code, out, errs)
			}
			for _, c := range []struct {
				args string
				code int
				want string
			}{
				{"--people", exitOK, "Nobody signs in once"},
				{"--join Ada@north", exitUsage, "--join twice"},
				{"--join Ada@north --join Ada@south --people", exitUsage, "give one of"},
				{"--join Ada@north --join Bo@south", exitPartial, "the shop south has nobody called Bo"},
				{"--join Ada@north --join Ada@west", exitPartial, "no shop called"},
				{"--join Ada@north --join ada@north", exitPartial, "this is the shop that you are in"},
				{"--join Ada@north --join ada@south", exitOK, "one person's now"},
				{"--people", exitOK, "Ada@north (owner), Ada@south (owner)\n"},
				{"--part Ada@south", exitOK, "stands alone"},
				{"--part Ada@south", exitPartial, "in no other shop"},
				{"--people", exitOK, "Nobody signs in once"},
				{"--join Ada@south --join Bo@east", exitOK, "one person's now"},
				{"", exitOK, "east\nnorth\nsouth\n"},
			} {
				if out, errs, code := ask("", strings.Fields(c.args)...); code != c.code || !strings.Contains(out+errs, c.want) {
					t.Errorf("shops %s, while they are served: status %d, %s%s; want %d, %q", c.args, code, out, errs, c.code, c.want)
				}
			}
			for until := time.Now().Add(90 * time.Second); ; time.Sleep(100 * time.Millisecond) {
				if got, _ := status("north", "/sign-in", nil); got != 200 {
					t.Fatalf("it serves no more: status %d", got)
				}
				all, err := filepath.Glob(filepath.Join(copies, "_people", "needlepace-*Z.db"))
				if err == nil && len(all) == 1 || testing.Short() {
					break
				}
				if time.Now().After(until) {
					t.Fatalf("who is one person is not copied: %q, %v", all, err)
				}
			}
			code, out, errs := s.stop()
			if code != exitOK || !strings.Contains(out, "2 shops") {
				t.Errorf("status %d, %s%s", code, out, errs)
			}
		})
	}
}

// What does not go with several shops is refused, and nothing is made.
func TestWhatSeveralShopsCannotHave(t *testing.T) {
	dir := t.TempDir()
	for _, args := range [][]string{{"--new"}, {"--copy-every", "1s"}, {"--copies", "x", "--copy-keep", "0"}, {"--add-account", "Ada"}, {"--mqtt", "mqtt://localhost"}, {"--phones"}, {"--pprof"}, {"--tls"}, {"--host", "x"}} {
		if out, errs, code := invoke(t, append([]string{"serve", "--data", dir, "--under", "localhost", "-a", "127.0.0.1:0"}, args...)...); code != exitUsage || !strings.Contains(errs, "--under") && !strings.Contains(errs, "--copy-every") {
			t.Errorf("%q: status %d, %s%s", args, code, out, errs)
		}
	}
	if all, err := os.ReadDir(dir); err != nil || len(all) > 0 {
		t.Errorf("%v was made, %v", all, err)
	}
	file := filepath.Join(dir, "shop.db")
	if out, errs, code := invoke(t, "serve", "--data", file, "--under", "localhost"); code == exitOK || !strings.Contains(errs, "make it first") {
		t.Errorf("status %d, %s%s", code, out, errs)
	}
}
