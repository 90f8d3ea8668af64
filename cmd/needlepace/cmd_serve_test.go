package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/internal/pgtest"
)

// served is the serve command at work in this process.
type served struct {
	t    *testing.T
	url  string
	stop func() (code int, stdout, stderr string)
}

func serve(t *testing.T, data string, more ...string) *served {
	t.Helper()
	return serveAs(t, append([]string{"--new", "--data", data}, more...)...)
}

func serveAs(t *testing.T, args ...string) *served {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out, outW := io.Pipe()
	var stdout, stderr bytes.Buffer
	ended := make(chan int, 1)
	go func() {
		code := run(ctx, strings.NewReader(""), outW, &stderr, append([]string{"serve", "-a", "127.0.0.1:0"}, args...))
		outW.Close() //nolint:errcheck // a pipe
		ended <- code
	}()
	lines := bufio.NewReader(io.TeeReader(out, &stdout))
	first, err := lines.ReadString('\n')
	if err != nil {
		t.Fatalf("serve ended: %v, %s%s", err, first, stderr.String())
	}
	copied := make(chan struct{})
	go func() {
		io.Copy(io.Discard, lines) //nolint:errcheck // a pipe
		close(copied)
	}()
	s := &served{t: t, url: strings.TrimSpace(strings.TrimPrefix(first, "needlepace is at "))}
	var once sync.Once
	var code int
	s.stop = func() (int, string, string) {
		once.Do(func() {
			cancel()
			code = <-ended
			<-copied
		})
		return code, stdout.String(), stderr.String()
	}
	t.Cleanup(func() { s.stop() })
	return s
}

func (s *served) get(path string) map[string]any {
	s.t.Helper()
	res, err := http.Get(s.url + "/api/v1" + path)
	if err != nil {
		s.t.Fatal(err)
	}
	return s.read(res)
}

func (s *served) post(path, body string) map[string]any {
	s.t.Helper()
	res, err := http.Post(s.url+"/api/v1"+path, "application/json", strings.NewReader(body))
	if err != nil {
		s.t.Fatal(err)
	}
	return s.read(res)
}

func (s *served) read(res *http.Response) map[string]any {
	s.t.Helper()
	defer res.Body.Close()
	var v map[string]any
	if err := json.NewDecoder(res.Body).Decode(&v); err != nil || res.StatusCode >= 400 {
		s.t.Fatalf("%s: status %d, %v, %v", res.Request.URL, res.StatusCode, err, v)
	}
	return v
}

// result waits for work.
func (s *served) result(work map[string]any) map[string]any {
	s.t.Helper()
	for range 60 {
		if work["state"] != "waiting" && work["state"] != "running" {
			break
		}
		work = s.get("/work/" + work["id"].(string) + "?wait=5")
	}
	r, ok := work["result"].(map[string]any)
	if !ok && work["state"] != "done" {
		s.t.Fatalf("work: %v", work)
	}
	return r
}

func uploadTo(url string, files map[string][]byte) (*http.Response, error) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, content := range files {
		p, err := w.CreateFormFile("file", name)
		if err != nil {
			return nil, err
		}
		if _, err := p.Write(content); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return http.Post(url+"/api/v1/designs", w.FormDataContentType(), &b)
}

func commandJSON(t *testing.T, args ...string) map[string]any {
	t.Helper()
	out, errs, code := invoke(t, args...)
	var v map[string]any
	if err := json.Unmarshal([]byte(out), &v); err != nil || code != exitOK {
		t.Fatalf("%v: status %d, %v, %s", args, code, err, errs)
	}
	return v
}

// A request under way when the program is told to stop is finished.
func TestStoppingLetsRequestsUnderWayFinish(t *testing.T) {
	s := serve(t, filepath.Join(t.TempDir(), "shop.db"))
	r, w := io.Pipe()
	form := multipart.NewWriter(w)
	done := make(chan error, 1)
	go func() {
		res, err := http.Post(s.url+"/api/v1/designs", form.FormDataContentType(), r)
		if err == nil {
			res.Body.Close() //nolint:errcheck // only read
			if res.StatusCode != 201 {
				err = fmt.Errorf("status %d", res.StatusCode)
			}
		}
		done <- err
	}()
	b, err := os.ReadFile("../../demo/designs/whale-line.dst")
	if err != nil {
		t.Fatal(err)
	}
	p, err := form.CreateFormFile("file", "whale.dst")
	if err != nil {
		t.Fatal(err)
	}
	p.Write(b) //nolint:errcheck // a pipe
	second, err := os.ReadFile("../../demo/designs/gull-cap.dst")
	if err != nil {
		t.Fatal(err)
	}
	b = second
	if p, err = form.CreateFormFile("file", "gull.dst"); err != nil {
		t.Fatal(err)
	}
	p.Write(b[:600]) //nolint:errcheck // a pipe
	for range 200 {  // until the first file is kept: the request has begun
		if s.get("/designs")["total"] == 1.0 {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	go func() {
		time.Sleep(200 * time.Millisecond) // the program has begun to stop
		p.Write(b[600:])                   //nolint:errcheck // a pipe
		form.Close()                       //nolint:errcheck // a pipe
		w.Close()                          //nolint:errcheck // a pipe
	}()
	if code, out, errs := s.stop(); code != exitOK || !strings.Contains(out, "Stopped; everything is kept.") || errs != "" {
		t.Errorf("stopped with %d, %q, %q", code, out, errs)
	}
	if err := <-done; err != nil {
		t.Errorf("the upload under way: %v", err)
	}
}

func TestOtherAddressesNeedAccounts(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop.db")
	_, errs, code := invoke(t, "serve", "--new", "--data", data, "-a", "0.0.0.0:0")
	if code != exitUsage || !strings.Contains(errs, "needs accounts") || !strings.Contains(errs, "--add-account") {
		t.Errorf("status %d, %s", code, errs)
	}
	add := func(password string, args ...string) (string, int) {
		var out, errs bytes.Buffer
		code := run(context.Background(), strings.NewReader(password), &out, &errs, append([]string{"serve", "--data", data}, args...))
		return out.String() + errs.String(), code
	}
	for _, c := range []struct {
		password string
		args     []string
		words    string
		code     int
	}{
		{"short\n", []string{"--add-account", "Ada"}, "10 to 512", exitPartial},
		{"a long password\n", []string{"--add-account", "Ben", "--role", "operator"}, "first account must be an owner", exitPartial},
		{"a long password\n", []string{"--add-account", "Ada"}, "Ada may now sign in as owner", exitOK},
		{"a long password\n", []string{"--add-account", "ADA"}, "already", exitPartial},
		{"a long password", []string{"--add-account", "Ben", "--role", "operator"}, "as operator", exitOK},
	} {
		if text, code := add(c.password, c.args...); code != c.code || !strings.Contains(text, c.words) || strings.Contains(text, "long password\n") {
			t.Errorf("%v: status %d, %q; want %d with %q", c.args, code, text, c.code, c.words)
		}
	}
	s := serve(t, data, "--accounts")
	res, err := http.Get(s.url + "/api/v1/designs")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only read
	if res.StatusCode != http.StatusUnauthorized {
		t.Errorf("with accounts, without signing in: status %d", res.StatusCode)
	}
	for _, a := range []string{"nonsense", "localhost"} {
		if _, errs, code := invoke(t, "serve", "--data", data, "-a", a); code != exitUsage {
			t.Errorf("-a %s: status %d, %s", a, code, errs)
		}
	}
	if _, errs, code := invoke(t, "serve", "--data", data, "-a", "127.0.0.1:0"); code != exitPartial || !strings.Contains(errs, "in use by another needlepace") {
		t.Errorf("a second serve: status %d, %s", code, errs)
	}
}

// The page is open on the counter, and somebody takes an order in by the command
// line: both see what the other did, and two who change one order do not
// overwrite each other.
func TestCommandsWorkWhileThePageIsServed(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop.db")
	s := serve(t, data)
	s.result(s.post("/demo", ""))
	run := func(args ...string) string {
		t.Helper()
		out, errs, code := invoke(t, append(args, "--data", data)...)
		if code != exitOK {
			t.Fatalf("%v: status %d, %s", args, code, errs)
		}
		return out
	}
	out := run("order", "new", "--customer", "Counter", "--design", "gull-cap.dst", "-n", "12", "--agreed")
	number, _, _ := strings.Cut(out, " ")
	if got := fmt.Sprint(s.get("/orders/" + number)); !strings.Contains(got, "Counter") {
		t.Fatalf("the page knows order %q as %s", number, got)
	}
	var o book.Order
	if err := json.Unmarshal([]byte(run("order", "show", number, "--json")), &o); err != nil || o.ID == "" {
		t.Fatalf("%+v, %v", o, err)
	}
	s.result(s.post("/plan", "{}"))
	if out := run("plan", "--json"); !strings.Contains(out, o.ID) {
		t.Errorf("the plan that the page made is not the command's: %.300s", out)
	}
	// The page's plan is remembered; a report by the command is in the next one.
	run("record", number, "Gannet", "--good", "5")
	s.result(s.post("/plan", "{}"))
	if out := run("order", "show", number); !strings.Contains(out, "5 sewn") {
		t.Errorf("after the page planned anew: %s", out)
	}
}

// A slip in --data makes no shop, whichever command it is typed to.
func TestASlipInTheNameMakesNoShop(t *testing.T) {
	dir := t.TempDir()
	data := filepath.Join(dir, "shpo.db")
	for _, args := range [][]string{
		{"serve", "-a", "127.0.0.1:0"}, {"serve", "--add-account", "Ada"}, {"plan", "setup", "../../demo/orders/WORKSHOP.toml"},
		{"order", "add", "../../demo/orders/week.toml"}, {"order", "new", "--customer", "x", "--design", "gull-cap.dst", "-n", "1"},
		{"order", "table", "../../demo/orders/inquiries.csv"}, {"order"}, {"plan"}, {"backup", filepath.Join(dir, "copy.db")},
	} {
		_, errs, code := invoke(t, append(args, "--data", data)...)
		if code == exitOK || !strings.Contains(errs, "no shop") {
			t.Errorf("%v: status %d, %q", args, code, errs)
		}
		if left, _ := os.ReadDir(dir); len(left) > 0 {
			t.Fatalf("%v made %v", args, left)
		}
	}
	if _, errs, code := invoke(t, "plan", "setup", "../../demo/orders/WORKSHOP.toml", "--new", "--data", data); code != exitOK {
		t.Errorf("--new: status %d, %s", code, errs)
	}
	t.Setenv("NEEDLEPACE_DATA", filepath.Join(dir, "usual.db")) // not typed just now
	if _, errs, code := invoke(t, "plan", "setup", "../../demo/orders/WORKSHOP.toml"); code != exitOK {
		t.Errorf("NEEDLEPACE_DATA: status %d, %s", code, errs)
	}
}

func TestBackupWhileServingAndRestore(t *testing.T) {
	dir := t.TempDir()
	data, copied := filepath.Join(dir, "shop.db"), filepath.Join(dir, "copy.db")
	s := serve(t, data)
	s.result(s.post("/demo", ""))
	out, errs, code := invoke(t, "backup", "--data", data, copied)
	if code != exitOK || !strings.Contains(out, "10 designs, 3 machines") {
		t.Fatalf("backup: %d, %s%s", code, out, errs)
	}
	if _, errs, code := invoke(t, "backup", "--data", data, copied); code != exitPartial || !strings.Contains(errs, "not overwritten") {
		t.Errorf("a second backup over the first: %d, %s", code, errs)
	}
	if _, errs, code := invoke(t, "restore", "--data", data, "--overwrite", copied); code != exitPartial || !strings.Contains(errs, "in use") {
		t.Errorf("restoring under a served shop: %d, %s", code, errs)
	}
	s.stop()
	if _, errs, code := invoke(t, "restore", "--data", data, copied); code != exitPartial || !strings.Contains(errs, "not overwritten") {
		t.Errorf("restoring over a shop: %d, %s", code, errs)
	}
	if out, errs, code := invoke(t, "restore", "--data", data, "--overwrite", copied); code != exitOK || !strings.Contains(out, "is kept as") {
		t.Errorf("restore: %d, %s%s", code, out, errs)
	}
	if out, _, code := invoke(t, "restore", "--check", copied); code != exitOK || !strings.Contains(out, "is sound") {
		t.Errorf("restore --check: %d, %s", code, out)
	}
	if err := os.Truncate(copied, 5000); err != nil {
		t.Fatal(err)
	}
	if _, errs, code := invoke(t, "restore", "--data", filepath.Join(dir, "new.db"), copied); code != exitPartial || errs == "" {
		t.Errorf("restoring half a copy: %d, %s", code, errs)
	}
	if _, errs, code := invoke(t, "backup", "--data", filepath.Join(dir, "none.db"), filepath.Join(dir, "x.db")); code != exitPartial || !strings.Contains(errs, "no shop") {
		t.Errorf("a backup of nothing: %d, %s", code, errs)
	}
}

// The program is killed while uploads and saves go on: what was acknowledged is
// there when it starts again.
func TestKill9WhileServingLosesNothingAcknowledged(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop.db")
	base, err := os.ReadFile("../../demo/designs/whale-line.dst")
	if err != nil {
		t.Fatal(err)
	}
	variant := func(n int) []byte { // another design each: a stitch more at the front
		b := append([]byte(nil), base[:512]...)
		for range n + 1 {
			b = append(b, 0x01, 0x00, 0x03)
		}
		return append(b, base[512:]...)
	}
	var mu sync.Mutex
	kept := map[string]int{}    // variant by ID
	timings := map[string]int{} // acknowledged presses by timing
	next := 0
	for round := range 3 {
		cmd := exec.Command("needlepace", "serve", "--new", "--data", data, "-a", "127.0.0.1:0")
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		cmd.Stderr = os.Stderr
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		line, err := bufio.NewReader(out).ReadString('\n')
		if err != nil {
			t.Fatalf("serve: %v %s", err, line)
		}
		s := &served{t: t, url: strings.TrimSpace(strings.TrimPrefix(line, "needlepace is at "))}
		for id, n := range kept { // what the last rounds acknowledged
			res, err := http.Get(s.url + "/api/v1/designs/" + id + "/file")
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(res.Body)
			res.Body.Close() //nolint:errcheck // only read
			if err != nil || !bytes.Equal(b, variant(n)) {
				t.Fatalf("round %d: acknowledged design %s is lost or changed (status %d, %v)", round, id, res.StatusCode, err)
			}
		}
		for id, n := range timings {
			if tm := s.get("/timings/" + id); len(tm["marks"].([]any)) < n {
				t.Errorf("round %d: timing %s has %d presses, %d were acknowledged", round, id, len(tm["marks"].([]any)), n)
			}
		}
		if round == 2 {
			cmd.Process.Kill() //nolint:errcheck // Wait tells
			cmd.Wait()         //nolint:errcheck // it was killed
			break
		}
		machine := s.post("/machines", `{"class":"compact-8","name":"Bay"}`)["id"].(string)
		var wg sync.WaitGroup
		var first sync.Once
		acknowledged := make(chan struct{})
		begin := next
		next += 100_000
		for worker := range 3 {
			wg.Go(func() {
				for n := begin + worker; ; n += 3 {
					if n-begin > 2000 {
						return
					}
					res, err := uploadTo(s.url, map[string][]byte{"v.dst": variant(n - begin + round*2500)})
					if err != nil {
						return // killed
					}
					var a struct {
						Added []struct{ Design struct{ ID string } }
					}
					err = json.NewDecoder(res.Body).Decode(&a)
					res.Body.Close() //nolint:errcheck // only read
					if err != nil || res.StatusCode != 201 {
						return
					}
					mu.Lock()
					kept[a.Added[0].Design.ID] = n - begin + round*2500
					mu.Unlock()
					first.Do(func() { close(acknowledged) })
				}
			})
		}
		<-acknowledged
		mu.Lock()
		design := ""
		for id := range kept {
			design = id
		}
		mu.Unlock()
		wg.Go(func() { // and a run is timed meanwhile
			id := fmt.Sprintf("timing-%d", round)
			marks := `{"kind":"start","at_ms":0}`
			for rev := 1; rev < 900; rev++ {
				body := fmt.Sprintf(`{"machine":%q,"design":%q,"set_speed":800,"started":"2026-01-01T08:00:00Z","marks":[%s],"rev":%d}`, machine, design, marks, rev)
				req, err := http.NewRequest("PUT", s.url+"/api/v1/timings/"+id, strings.NewReader(body))
				if err != nil {
					return
				}
				req.Header.Set("Content-Type", "application/json")
				res, err := http.DefaultClient.Do(req)
				if err != nil {
					return // killed
				}
				io.Copy(io.Discard, res.Body) //nolint:errcheck // only read
				res.Body.Close()              //nolint:errcheck // only read
				if res.StatusCode != 200 {
					return
				}
				mu.Lock()
				timings[id] = rev
				mu.Unlock()
				marks += fmt.Sprintf(`,{"kind":"stop","at_ms":%d}`, rev*1000)
			}
		})
		time.Sleep(time.Duration(250+170*round) * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		wg.Wait()
		cmd.Wait() //nolint:errcheck // it was killed
	}
	if len(kept) == 0 || len(timings) == 0 {
		t.Fatal("nothing was acknowledged")
	}
	t.Logf("%d uploads and %v presses acknowledged over two kills, all there", len(kept), timings)
}

// All commands find a shop in a database by --store, and what is typed goes before
// what is set for all commands.
func TestAShopInADatabase(t *testing.T) {
	address, data := pgtest.Database(t), filepath.Join(t.TempDir(), "shop.db")
	said := func(want string, code int, args ...string) {
		t.Helper()
		out, errs, got := invoke(t, args...)
		if got != code || !strings.Contains(out+errs, want) {
			t.Errorf("%v: status %d, %s%s; want %d, %s", args, got, out, errs, code, want)
		}
	}
	said("there is no shop", exitUsage, "order", "list", "--store", address)
	said("--new", exitUsage, "plan", "setup", "../../demo/orders/WORKSHOP.toml", "--store", address)
	said("no address of a database", exitUsage, "order", "list", "--store", data)
	said("", exitOK, "plan", "setup", "../../demo/orders/WORKSHOP.toml", "--store", address, "--new")
	said("orders", exitOK, "move", address, data)
	said("", exitOK, "order", "list", "--data", data)
	t.Setenv("NEEDLEPACE_STORE", "postgres://nobody@127.0.0.1:1/none")
	said("", exitOK, "order", "list", "--data", data)
	said("no server answers", exitPartial, "order", "list")
	said("", exitOK, "backup", data+".copy", "--store", address)
	said("is not overwritten", exitPartial, "restore", data+".copy", "--store", address, "--overwrite")
	said("nothing was moved", exitPartial, "restore", data+".copy", "--store", address)
}
