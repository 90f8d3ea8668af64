package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A browser that trusts the file beside the database opens the page by HTTPS; one that
// does not is kept off.
func TestHTTPSWithACertificateMadeHere(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop.db")
	s := serve(t, data, "--tls")
	pem, err := os.ReadFile(data + ".authority.crt")
	if err != nil || strings.Contains(string(pem), "KEY") {
		t.Fatalf("what browsers are to trust: %v, %s", err, pem)
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(pem)
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
	defer client.CloseIdleConnections()
	res, err := client.Get(s.url + "/api/v1/status")
	if err != nil || res.StatusCode != 200 || res.Header.Get("Strict-Transport-Security") != "" {
		t.Fatalf("%s: %v, %+v", s.url, err, res)
	}
	res.Body.Close() //nolint:errcheck // only read
	if res, err := http.Get(s.url); err == nil {
		res.Body.Close() //nolint:errcheck // only read
		t.Error("a certificate is trusted that nobody trusts")
	}
	if _, _, errs := s.stop(); !strings.Contains(errs, "told to trust "+data+".authority.crt. Its SHA-256 is ") {
		t.Errorf("how to trust it is not said: %s", errs)
	}
}

func TestBehindAProxyPeopleSignIn(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop.db")
	for _, c := range []struct {
		words string
		args  []string
	}{
		{"needs accounts", []string{"--behind-proxy", "127.0.0.1"}},
		{`"proxy.lan" is no address`, []string{"--behind-proxy", "proxy.lan"}},
		{"choose one", []string{"--behind-proxy", "127.0.0.1", "--tls"}},
	} {
		_, errs, code := invoke(t, append([]string{"serve", "--new", "--data", data, "-a", "127.0.0.1:0"}, c.args...)...)
		if code != exitUsage || !strings.Contains(errs, c.words) {
			t.Errorf("%v: status %d, %s", c.args, code, errs)
		}
	}
	if code := run(context.Background(), strings.NewReader("a long password\n"), os.Stderr, os.Stderr, []string{"serve", "--data", data, "--add-account", "Ada"}); code != exitOK {
		t.Fatal("no account")
	}
	s := serve(t, data, "--behind-proxy", "127.0.0.1", "--proxy-says", "forwarded")
	req, err := http.NewRequest("GET", s.url+"/sign-in", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Forwarded", "for=192.0.2.60;proto=https;host=shop.example")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close() //nolint:errcheck // only read
	if res.StatusCode != 200 || res.Header.Get("Strict-Transport-Security") == "" {
		t.Errorf("status %d, Strict-Transport-Security %q", res.StatusCode, res.Header.Get("Strict-Transport-Security"))
	}
}
