package door

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
)

const (
	authorityYears = 10
	// early is how far before now a certificate begins, for telephones whose
	// clocks are behind.
	early = 48 * time.Hour
	// nearEnd is how long before its end an authority is made anew: leaf
	// certificates never outlive it.
	nearEnd = leafTime
)

// Authority vouches for this computer and for nothing else: its name
// constraints leave it only names within a workshop's network, so that even a
// stolen key is no use against a phone's other connections.
type Authority struct {
	Cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// permittedRanges are the addresses of networks that nobody reaches from
// outside: RFC 1918, 3927, 4193, 4291 and 6598, and this computer itself.
var permittedRanges = ranges("127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16",
	"100.64.0.0/10", "::1/128", "fc00::/7", "fe80::/10")

// permittedDomains are the names that no public register gives away: RFC 6761,
// 6762 and 8375, ICANN's resolution 2024.07.29.06.
var permittedDomains = []string{"localhost", "local", "home.arpa", "internal"}

func ranges(all ...string) (out []*net.IPNet) {
	for _, s := range all {
		_, n, err := net.ParseCIDR(s)
		if err != nil {
			panic(err) // a constant
		}
		out = append(out, n)
	}
	return out
}

// LoadAuthority reads the authority kept in a file, or makes one and keeps it
// there where there is none or it is near its end. Only the file's owner may
// read it. names are what this computer is called besides: they are permitted
// too.
func LoadAuthority(file string, names []string, now time.Time) (*Authority, error) {
	a, err := readAuthority(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, err
	case now.Before(a.Cert.NotAfter.Add(-nearEnd)):
		return a, nil
	}
	if a, err = makeAuthority(names, now); err != nil {
		return nil, err
	}
	return a, a.save(file)
}

func readAuthority(file string) (*Authority, error) {
	info, err := os.Stat(file)
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s holds the key of the shop's authority, and others than its owner may read it "+
			"(%v); remove it, and a new authority is made, which the phones must be told to trust", file,
			info.Mode().Perm())
	}
	b, err := os.ReadFile(filepath.Clean(file))
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	a := &Authority{}
	for {
		var block *pem.Block
		if block, b = pem.Decode(b); block == nil {
			break
		}
		switch block.Type {
		case "CERTIFICATE":
			a.Cert, err = x509.ParseCertificate(block.Bytes)
		case "EC PRIVATE KEY":
			a.key, err = x509.ParseECPrivateKey(block.Bytes)
		}
		if err != nil {
			break
		}
	}
	if err == nil && (a.Cert == nil || a.key == nil || !a.key.PublicKey.Equal(a.Cert.PublicKey)) {
		err = errors.New("certificate and key are not both there, or do not belong together")
	}
	if err != nil {
		return nil, fmt.Errorf("%s is no authority of this program: %w; put it away, and a new one is made, "+
			"which the phones must be told to trust", file, err)
	}
	return a, nil
}

func makeAuthority(names []string, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	domains := slices.Clone(permittedDomains)
	for _, n := range names {
		if net.ParseIP(n) == nil && !slices.Contains(domains, n) {
			domains = append(domains, n)
		}
	}
	of := "this shop"
	if len(names) > 0 {
		of = names[0]
	}
	form := &x509.Certificate{
		SerialNumber:                serial(),
		Subject:                     pkix.Name{CommonName: "needlepace at " + of, Organization: []string{"needlepace"}},
		NotBefore:                   now.Add(-early),
		NotAfter:                    now.AddDate(authorityYears, 0, 0),
		KeyUsage:                    x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		BasicConstraintsValid:       true,
		IsCA:                        true,
		MaxPathLenZero:              true,
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         domains,
		PermittedIPRanges:           permittedRanges,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, // not for mail or programs
	}
	der, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("the phones' door: %w", err)
	}
	return &Authority{cert, key}, nil
}

// serial is a random number of a certificate, 127 bits (RFC 5280 section 4.1.2.2).
func serial() *big.Int {
	n, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		panic(err) // crypto/rand never fails
	}
	return n.Add(n, big.NewInt(1))
}

// save puts the authority into a file in one step: it is there whole, or not
// at all.
func (a *Authority) save(file string) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("the shop's authority cannot be kept: %w", err)
		}
	}()
	key, err := x509.MarshalECPrivateKey(a.key)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	for _, block := range []*pem.Block{{Type: "CERTIFICATE", Bytes: a.Cert.Raw}, {Type: "EC PRIVATE KEY", Bytes: key}} {
		if err := pem.Encode(&b, block); err != nil {
			return err
		}
	}
	f, err := os.CreateTemp(filepath.Dir(file), filepath.Base(file)+"-*") // for its owner only
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) //nolint:errcheck // gone where it has its name
	_, err = f.Write(b.Bytes())
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), file)
}

// Fingerprint is the SHA-256 of the certificate as telephones show it: pairs of
// hexadecimal digits with a space between.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.Cert.Raw)
	s := strings.ToUpper(hex.EncodeToString(sum[:]))
	var out []string
	for i := 0; i < len(s); i += 2 {
		out = append(out, s[i:i+2])
	}
	return strings.Join(out, " ")
}

// permits reports whether the authority may vouch for a name or an address.
func (a *Authority) permits(host string) bool {
	if ip := net.ParseIP(host); ip != nil {
		return slices.ContainsFunc(a.Cert.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip) })
	}
	return slices.ContainsFunc(a.Cert.PermittedDNSDomains, func(d string) bool {
		return host == d || strings.HasSuffix(host, "."+d)
	})
}
