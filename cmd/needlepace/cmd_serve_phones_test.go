package main

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// The port for phones is open only where somebody asked for it: with an option,
// or on the page, which is kept for the next start.
func TestThePortForPhonesIsOpenWhenAskedOnly(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop.db")
	start := func(wantOpen bool, options ...string) {
		t.Helper()
		s := serve(t, data, append(options, "--phones-at", "127.0.0.1:0")...)
		res, err := http.PostForm(s.url+"/settings", url.Values{}) // it serves
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only that it came
		if _, out, _ := s.stop(); strings.Contains(out, "Phones come in at https://127.0.0.1:") != wantOpen {
			t.Errorf("%v: open %v, want %v: %s", options, !wantOpen, wantOpen, out)
		}
	}
	start(false)
	if _, err := os.Stat(data + ".authority.pem"); !os.IsNotExist(err) {
		t.Errorf("an authority is made before anybody asked: %v", err)
	}
	start(true, "--phones")
	start(false) // the option holds for once
	info, err := os.Stat(data + ".authority.pem")
	if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("the authority is kept as %v, %v", info, err)
	}
	s := serve(t, data, "--phones-at", "127.0.0.1:0")
	res, err := http.PostForm(s.url+"/settings/phones/door", url.Values{"open": {"1"}})
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // what it did is seen below
	s.stop()
	start(true) // as the page left it
	start(false, "--no-phones")
}
