package door

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

const (
	// leafTime is how long a certificate is good: well under the 397 days that
	// telephones accept, since it renews itself.
	leafTime = 90 * 24 * time.Hour
	// renewBefore is what must be left of it.
	renewBefore = leafTime / 3
	// lookAgain is how often this computer's names and addresses are looked up.
	lookAgain = 15 * time.Second
)

// leaf makes a certificate for names and addresses, good from before now on.
// Its key is made with it and never kept in a file.
func (a *Authority) leaf(hosts []string, now time.Time) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	form := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: a.Cert.Subject.CommonName + ", the page"},
		NotBefore: now.Add(-early), NotAfter: now.Add(leafTime),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
	}
	if form.NotBefore.Before(a.Cert.NotBefore) {
		form.NotBefore = a.Cert.NotBefore
	}
	if form.NotAfter.After(a.Cert.NotAfter) {
		form.NotAfter = a.Cert.NotAfter
	}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			form.IPAddresses = append(form.IPAddresses, ip)
		} else {
			form.DNSNames = append(form.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, form, a.Cert, key.Public(), a.key)
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: cert}, nil
}

// Places are the names and addresses by which phones of the same network reach
// this computer, the best first: the address that it uses itself, others, then
// names; last what only this computer can use.
func Places() []string {
	var out []string
	// No packet is sent: the system only says from which address it would go
	// (192.0.2.1 is for documentation, RFC 5737).
	if c, err := net.Dial("udp4", "192.0.2.1:9"); err == nil {
		if a, ok := c.LocalAddr().(*net.UDPAddr); ok && !a.IP.IsLoopback() {
			out = append(out, a.IP.String())
		}
		c.Close() //nolint:errcheck // nothing was sent
	}
	if all, err := net.InterfaceAddrs(); err == nil {
		for _, v4 := range []bool{true, false} {
			for _, a := range all {
				n, ok := a.(*net.IPNet)
				if !ok || n.IP.IsLoopback() || n.IP.IsLinkLocalUnicast() && !v4 || (n.IP.To4() != nil) != v4 {
					continue // a browser cannot be told the zone of a link-local IPv6 address
				}
				out = append(out, n.IP.String())
			}
		}
	}
	return append(append(out, names()...), "localhost", "127.0.0.1", "::1")
}

// names are what this computer is called in its network.
func names() []string {
	h, err := os.Hostname()
	h = strings.ToLower(strings.TrimSuffix(h, "."))
	if err != nil || h == "" || h == "localhost" || net.ParseIP(h) != nil || strings.Trim(h, nameLetters) != "" {
		return nil
	}
	short, _, _ := strings.Cut(h, ".")
	out := []string{short + ".local", h}
	if short != h {
		out = append(out, short)
	}
	slices.Sort(out[1:])
	return slices.Compact(out)
}

const nameLetters = "abcdefghijklmnopqrstuvwxyz0123456789-."

// certificates give the current certificate of an authority: renewed before it
// ends, and when the computer's names or addresses change.
type certificates struct {
	authority *Authority
	places    func() []string
	now       func() time.Time

	mu     sync.Mutex
	looked time.Time
	hosts  []string
	cert   *tls.Certificate
}

// current is the certificate and what it is good for.
func (c *certificates) current() (*tls.Certificate, []string, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := c.now()
	if since := now.Sub(c.looked); c.cert == nil || since < 0 || since >= lookAgain {
		c.looked = now
		hosts := slices.DeleteFunc(c.places(), func(h string) bool { return !c.authority.permits(h) })
		if c.cert == nil || !slices.Equal(hosts, c.hosts) || now.Add(renewBefore).After(c.cert.Leaf.NotAfter) ||
			now.Before(c.cert.Leaf.NotBefore) {
			cert, err := c.authority.leaf(hosts, now)
			if err != nil {
				return nil, nil, err
			}
			c.cert, c.hosts = cert, hosts
		}
	}
	return c.cert, slices.Clone(c.hosts), nil
}

// tls shows the current certificate.
func (c *certificates) tls() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
			cert, _, err := c.current()
			return cert, err
		}}
}
