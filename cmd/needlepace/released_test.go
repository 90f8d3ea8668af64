package main

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A double click serves the page and opens it; a second one opens it only.
func TestADoubleClickOpensThePage(t *testing.T) {
	t.Setenv("NEEDLEPACE_DATA", filepath.Join(t.TempDir(), "shop.db"))
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	opened, ended := make(chan string, 2), make(chan int, 1)
	open := func(url string) error { opened <- url; return nil }
	var out, errs bytes.Buffer
	go func() { ended <- clicked(ctx, "127.0.0.1:0", &out, &errs, open) }()
	var at string
	select {
	case at = <-opened:
	case code := <-ended:
		t.Fatalf("ended with %d, %s", code, errs.String())
	case <-time.After(time.Minute):
		t.Fatal("nothing was opened")
	}
	if res, err := http.Get(at); err != nil {
		t.Errorf("%s: %v", at, err)
	} else {
		res.Body.Close() //nolint:errcheck // only that it came
	}
	if code := clicked(t.Context(), strings.TrimPrefix(at, "http://"), &bytes.Buffer{}, &bytes.Buffer{}, open); code != exitOK || <-opened != at {
		t.Errorf("the second time: status %d", code)
	}
	cancel()
	if code := <-ended; code != exitOK {
		t.Errorf("ended with %d, %s", code, errs.String())
	}
}

// Nothing is asked unless told to, and only the address that is given.
func TestUpdatesAreAskedForByHandOnly(t *testing.T) {
	asked := 0
	answer := ""
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked++
		fmt.Fprint(w, answer)
	}))
	defer srv.Close()
	for _, c := range []struct {
		answer string
		args   []string
		words  string
		code   int
		asks   int
	}{
		{"", nil, "by hand", exitUsage, 0},
		{"", []string{"--source", srv.URL}, "by hand", exitUsage, 0},
		{"", []string{"--check", "--source", "http://updates.example/latest.json"}, "https://", exitUsage, 0},
		{`{"version":"0.1.0"}`, []string{"--check", "--source", srv.URL}, "is the newest", exitOK, 1},
		{`{"version":"0.0.9"}`, []string{"--check", "--source", srv.URL}, "is the newest", exitOK, 1},
		{`{"version":"0.1.10","page":"https://x.example"}`, []string{"--check", "--source", srv.URL}, `Get it at "https://x.example"`, exitOK, 1},
		{`{"version":"new\u001b[2J"}`, []string{"--check", "--source", srv.URL}, "is no latest.json", exitPartial, 1},
		{`<html>`, []string{"--check", "--source", srv.URL}, "is no latest.json", exitPartial, 1},
	} {
		asked, answer = 0, c.answer
		out, errs, code := invoke(t, append([]string{"update"}, c.args...)...)
		if code != c.code || asked != c.asks || !strings.Contains(out+errs, c.words) {
			t.Errorf("%v, %s: status %d, asked %d times, %s%s", c.args, c.answer, code, asked, out, errs)
		}
	}
}

// Every command has its page, and the man program (man-db, mandoc) takes it without a warning.
func TestManualPages(t *testing.T) {
	dir := t.TempDir()
	if _, errs, code := invoke(t, "man", "--into", dir); code != exitOK {
		t.Fatal(errs)
	}
	all, err := filepath.Glob(filepath.Join(dir, "*.1"))
	if err != nil || len(all) < 40 {
		t.Fatalf("%d pages, %v", len(all), err)
	}
	b, err := os.ReadFile(filepath.Join(dir, "needlepace-plan-make.1"))
	if err != nil || !strings.Contains(string(b), ".TH NEEDLEPACE\\-PLAN\\-MAKE 1") || !strings.Contains(string(b), `\fB\-\-data\fR=\fIFILE\fR`) {
		t.Errorf("%v: %s", err, b)
	}
	if one, _, code := invoke(t, "man", "plan", "make"); code != exitOK || one != string(b) {
		t.Errorf("one page alone is another, status %d", code)
	}
	if _, _, code := invoke(t, "man", "nonsense"); code != exitUsage {
		t.Errorf("of no command: status %d", code)
	}
	if _, err := exec.LookPath("man"); err != nil {
		t.Skip("no man program here")
	}
	for _, file := range []string{"needlepace.1", "needlepace-serve.1", "needlepace-clock.1"} {
		cmd := exec.Command("man", "--warnings", "-E", "UTF-8", "-l", filepath.Join(dir, file))
		cmd.Env = append(os.Environ(), "MANWIDTH=80", "LC_ALL=C.UTF-8")
		var errs bytes.Buffer
		cmd.Stderr = &errs
		if out, err := cmd.Output(); err != nil || errs.Len() > 0 || !bytes.Contains(out, []byte("EXIT STATUS")) {
			t.Errorf("%s: %v, %s", file, err, errs.String())
		}
	}
}
