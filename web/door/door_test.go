package door

import (
	"context"
	"crypto/ecdsa"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/xml"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

var when = time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)

func authority(t *testing.T, now time.Time) (*Authority, string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "shop.authority.pem")
	a, err := LoadAuthority(file, []string{"bench.local", "bench"}, now)
	if err != nil {
		t.Fatal(err)
	}
	return a, file
}

func (a *Authority) pool() *x509.CertPool {
	p := x509.NewCertPool()
	p.AddCert(a.Cert)
	return p
}

func TestTheAuthorityIsKeptForItsOwnerOnlyAndStaysTheSame(t *testing.T) {
	a, file := authority(t, when)
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("the key's file may be read by %v", info.Mode())
	}
	if k, ok := a.Cert.PublicKey.(*ecdsa.PublicKey); !ok || k.Curve.Params().Name != "P-256" {
		t.Errorf("the key is a %T", a.Cert.PublicKey)
	}
	if !a.Cert.IsCA || !a.Cert.MaxPathLenZero || a.Cert.MaxPathLen != 0 ||
		a.Cert.NotAfter != when.AddDate(10, 0, 0) || !a.Cert.PermittedDNSDomainsCritical {
		t.Errorf("the authority is CA %v, path %d, until %v", a.Cert.IsCA, a.Cert.MaxPathLen, a.Cert.NotAfter)
	}
	again, err := LoadAuthority(file, nil, when.AddDate(9, 0, 0))
	if err != nil || !again.Cert.Equal(a.Cert) || again.Fingerprint() != a.Fingerprint() {
		t.Errorf("read again it is another one: %v", err)
	}
	late, err := LoadAuthority(file, nil, when.AddDate(10, 0, 0).Add(-leafTime))
	if err != nil || late.Cert.Equal(a.Cert) {
		t.Errorf("near its end it is not made anew: %v", err)
	}
	left, err := filepath.Glob(filepath.Join(filepath.Dir(file), "*"))
	if err != nil || len(left) != 1 {
		t.Errorf("beside it lie %v, %v", left, err)
	}
}

func TestAnAuthorityThatCannotBeTrustedIsNotUsed(t *testing.T) {
	a, file := authority(t, when)
	good, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	_, other := authority(t, when)
	theirs, err := os.ReadFile(other)
	if err != nil {
		t.Fatal(err)
	}
	cut := strings.Index(string(good), "-----BEGIN EC")
	theirKey := theirs[strings.Index(string(theirs), "-----BEGIN EC"):]
	for what, b := range map[string][]byte{"empty": nil, "half": good[:cut], "another key": slices.Concat(good[:cut], theirKey),
		"torn": append(slices.Clone(good[:cut+80]), "\n-----END EC PRIVATE KEY-----\n"...)} {
		if err := os.WriteFile(file, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := LoadAuthority(file, nil, when); err == nil || !strings.Contains(err.Error(), "a new one is made") {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := os.WriteFile(file, good, 0o600); err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS != "windows" {
		if err := os.Chmod(file, 0o640); err != nil {
			t.Fatal(err)
		}
		if _, err := LoadAuthority(file, nil, when); err == nil || !strings.Contains(err.Error(), "may read it") {
			t.Errorf("a key that others may read: %v", err)
		}
	}
	if _, err := LoadAuthority(filepath.Join(filepath.Dir(file), "none", "x.pem"), nil, when); err == nil {
		t.Error("kept in a folder that is not there")
	}
	_ = a
}

// The check is the standard library's, which knows nothing of this package.
func TestLeavesAreGoodForThisWorkshopAndNothingElse(t *testing.T) {
	a, _ := authority(t, when)
	good := []string{"192.168.1.7", "10.0.0.3", "172.20.1.1", "fd00::7", "bench.local", "bench", "localhost", "127.0.0.1", "other.local", "x.home.arpa"}
	c, err := a.leaf(good, when)
	if err != nil {
		t.Fatal(err)
	}
	if life := c.Leaf.NotAfter.Sub(c.Leaf.NotBefore); life > 397*24*time.Hour {
		t.Errorf("a leaf lives %v", life)
	}
	for _, h := range good {
		for _, at := range []time.Time{when.Add(-47 * time.Hour), when, when.Add(leafTime - time.Hour)} {
			if _, err := c.Leaf.Verify(x509.VerifyOptions{DNSName: h, Roots: a.pool(), CurrentTime: at}); err != nil {
				t.Errorf("%s at %v: %v", h, at, err)
			}
		}
	}
	for _, at := range []time.Time{when.Add(-49 * time.Hour), when.Add(leafTime + time.Hour)} {
		if _, err := c.Leaf.Verify(x509.VerifyOptions{DNSName: good[0], Roots: a.pool(), CurrentTime: at}); err == nil {
			t.Errorf("it is good at %v", at)
		}
	}
	// Whoever steals the key can make a certificate for anything; no phone takes it.
	for _, h := range []string{"bank.example", "203.0.113.5", "2001:db8::1", "notlocal", "xbench"} {
		stolen, err := a.leaf([]string{h}, when)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := stolen.Leaf.Verify(x509.VerifyOptions{DNSName: h, Roots: a.pool(), CurrentTime: when}); err == nil {
			t.Errorf("the authority may vouch for %s", h)
		}
		if a.permits(h) {
			t.Errorf("%s is said to be permitted", h)
		}
	}
	// Nor can it make another authority.
	sub, err := x509.ParseCertificate(c.Certificate[0])
	if err != nil || sub.IsCA || sub.KeyUsage&x509.KeyUsageCertSign != 0 {
		t.Errorf("a leaf may sign: %v", err)
	}
}

func TestTheCertificateFollowsTheComputer(t *testing.T) {
	now := when
	places := []string{"192.168.1.7", "bench.local", "203.0.113.5"}
	a, _ := authority(t, now)
	c := &certificates{authority: a, now: func() time.Time { return now }, places: func() []string { return slices.Clone(places) }}
	look := func() (*tls.Certificate, []string) {
		t.Helper()
		cert, hosts, err := c.current()
		if err != nil {
			t.Fatal(err)
		}
		return cert, hosts
	}
	first, hosts := look()
	if !slices.Equal(hosts, []string{"192.168.1.7", "bench.local"}) {
		t.Errorf("it is good for %v", hosts)
	}
	now = now.Add(time.Hour)
	if again, _ := look(); again != first {
		t.Error("it is made anew without need")
	}
	places = []string{"192.168.1.9", "bench.local"}
	now = now.Add(lookAgain)
	moved, hosts := look()
	if moved == first || hosts[0] != "192.168.1.9" || moved.Leaf.VerifyHostname("192.168.1.9") != nil || moved.Leaf.VerifyHostname("192.168.1.7") == nil {
		t.Errorf("with another address it is good for %v", hosts)
	}
	now = moved.Leaf.NotAfter.Add(-renewBefore - time.Hour)
	if kept, _ := look(); kept != moved {
		t.Error("it is renewed too early")
	}
	now = moved.Leaf.NotAfter.Add(-renewBefore + time.Hour)
	renewed, _ := look()
	if renewed == moved || !renewed.Leaf.NotAfter.After(moved.Leaf.NotAfter) {
		t.Error("it is not renewed in time")
	}
	now = when.AddDate(0, -1, 0) // somebody put the clock right
	if back, _ := look(); back == renewed || back.Leaf.NotBefore.Before(a.Cert.NotBefore) {
		t.Error("a clock put back leaves a certificate of the future")
	}
	now = a.Cert.NotAfter.Add(-time.Hour)
	if last, _ := look(); last.Leaf.NotAfter.After(a.Cert.NotAfter) {
		t.Error("a leaf outlives its authority")
	}
}

func TestTheProfileIsXMLWithTheAuthorityInIt(t *testing.T) {
	a, _ := authority(t, when)
	p := a.Profile()
	var data string
	d := xml.NewDecoder(strings.NewReader(string(p)))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%v in %s", err, p)
		}
		if s, ok := tok.(xml.StartElement); ok && s.Name.Local == "data" {
			if err := d.DecodeElement(&data, &s); err != nil {
				t.Fatal(err)
			}
		}
	}
	der, err := base64.StdEncoding.DecodeString(data)
	if err != nil || string(der) != string(a.Cert.Raw) {
		t.Errorf("the profile holds %d bytes, %v", len(der), err)
	}
	if string(a.Profile()) != string(p) {
		t.Error("it is another one each time")
	}
}

// says answers with what came, and whether by HTTPS.
func says(what string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		secure := "plain"
		if r.TLS != nil {
			secure = "secure"
		}
		io.WriteString(w, what+" "+secure+" "+r.Proto) //nolint:errcheck // the test reads it
	})
}

func TestTheDoorIsShutUntilAskedAndSpeaksBothOnOnePort(t *testing.T) {
	d := New(Options{File: filepath.Join(t.TempDir(), "x.pem"), Address: "127.0.0.1:0"})
	d.Handle(says("app"), says("trust"))
	if d.Port() != "" || d.Origin("https", "127.0.0.1") != "" {
		t.Fatal("it is open unasked")
	}
	a, err := d.Authority()
	if err != nil {
		t.Fatal(err)
	}
	trusting := &http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{RootCAs: a.pool()}}}
	for range 2 { // it can be opened again
		if err := d.Open(); err != nil {
			t.Fatal(err)
		}
		if err := d.Open(); err != nil {
			t.Error(err)
		}
		get := func(c *http.Client, scheme string) string {
			res, err := c.Get(d.Origin(scheme, "127.0.0.1") + "/x")
			if err != nil {
				return err.Error()
			}
			defer res.Body.Close() //nolint:errcheck // only read
			b, err := io.ReadAll(res.Body)
			if err != nil {
				t.Fatal(err)
			}
			return string(b)
		}
		if got := get(trusting, "https"); got != "app secure HTTP/2.0" {
			t.Errorf("by HTTPS: %s", got)
		}
		if got := get(trusting, "http"); got != "trust plain HTTP/1.1" {
			t.Errorf("without: %s", got)
		}
		if got := get(&http.Client{Transport: &http.Transport{}}, "https"); !strings.Contains(got, "unknown authority") {
			t.Errorf("who does not trust the authority gets %s", got)
		}
		// Whoever connects and is silent keeps nobody out.
		silent, err := net.Dial("tcp", "127.0.0.1:"+d.Port())
		if err != nil {
			t.Fatal(err)
		}
		if got := get(trusting, "https"); got != "app secure HTTP/2.0" {
			t.Errorf("beside a silent one: %s", got)
		}
		old, err := tls.Dial("tcp", "127.0.0.1:"+d.Port(), &tls.Config{RootCAs: a.pool(), MaxVersion: tls.VersionTLS11})
		if err == nil {
			old.Close() //nolint:errcheck // it should not be
			t.Error("TLS 1.1 is spoken")
		}
		port := d.Port()
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		trusting.CloseIdleConnections()
		if err := d.Shut(ctx); err != nil {
			t.Errorf("shutting: %v", err)
		}
		cancel()
		if c, err := net.Dial("tcp", "127.0.0.1:"+port); err == nil {
			c.Close() //nolint:errcheck // it should not be
			t.Error("it is shut and yet open")
		}
		silent.Close() //nolint:errcheck // its work is done
	}
	if err := d.Shut(t.Context()); err != nil {
		t.Errorf("shutting twice: %v", err)
	}
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close() //nolint:errcheck // the test is over
	other := New(Options{File: filepath.Join(t.TempDir(), "x.pem"), Address: taken.Addr().String()})
	if err := other.Open(); err == nil || other.Port() != "" {
		t.Errorf("a port that is taken: %v", err)
	}
}

func TestPlacesAreOfThisComputer(t *testing.T) {
	for _, p := range Places() {
		if p == "" || strings.ContainsAny(p, "/%") || strings.ToLower(p) != p {
			t.Errorf("a place is %q", p)
		}
	}
	if all := Places(); !slices.Contains(all, "localhost") {
		t.Errorf("%v", all)
	}
}
