package door

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"sync"
	"time"
)

// Options is what a door is made of.
type Options struct {
	File    string // where the authority is kept; made when it is first needed
	Address string // host and port to listen on, e.g. ":8238" for the whole network
	// Places are the names and addresses of this computer, the best first; nil
	// asks the system.
	Places func() []string
	// Extra are names by which the computer may be called besides.
	Extra []string
	Now   func() time.Time
	Log   *slog.Logger
	// Server makes the server of a handler, with its time limits; nil has none.
	Server func(http.Handler) *http.Server
}

// Door is the port for phones. It is closed until Open.
type Door struct {
	opt           Options
	secure, plain http.Handler

	mu      sync.Mutex
	certs   *certificates
	ln      net.Listener
	servers []*http.Server
}

// New makes a door; it opens nothing.
func New(opt Options) *Door {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Server == nil {
		opt.Server = func(h http.Handler) *http.Server {
			return &http.Server{Handler: h, ErrorLog: slog.NewLogLogger(opt.Log.Handler(), slog.LevelDebug)}
		}
	}
	if opt.Places == nil {
		opt.Places = Places
		if host, _, err := net.SplitHostPort(opt.Address); err == nil && host != "" {
			if ip := net.ParseIP(host); ip == nil || !ip.IsUnspecified() {
				opt.Places = func() []string { return []string{host} } // it listens nowhere else
			}
		}
	}
	return &Door{opt: opt}
}

// Handle says what is served behind the door: to whom comes by HTTPS, and to
// whom comes without. It is called once, before Open.
func (d *Door) Handle(secure, plain http.Handler) { d.secure, d.plain = secure, plain }

// Authority is the shop's authority, made now where there is none yet.
func (d *Door) Authority() (*Authority, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	c, err := d.certificates()
	if err != nil {
		return nil, err
	}
	return c.authority, nil
}

// certificates loads the authority once; d.mu is held.
func (d *Door) certificates() (*certificates, error) {
	if d.certs == nil {
		a, err := LoadAuthority(d.opt.File, append(names(), d.opt.Extra...), d.opt.Now())
		if err != nil {
			return nil, err
		}
		d.certs = &certificates{authority: a, now: d.opt.Now,
			places: func() []string { return distinct(append(d.opt.Places(), d.opt.Extra...)) }}
	}
	return d.certs, nil
}

// distinct are texts in their order, each once.
func distinct(all []string) (out []string) {
	for _, s := range all {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// Open opens the port; one that is open stays so.
func (d *Door) Open() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.ln != nil {
		return nil
	}
	certs, err := d.certificates()
	if err != nil {
		return err
	}
	if _, _, err := certs.current(); err != nil {
		return err
	}
	ln, err := net.Listen("tcp", d.opt.Address)
	if err != nil {
		return fmt.Errorf("cannot listen on %s: %w; another program may have the port", d.opt.Address, err)
	}
	secure, plain := split(ln)
	secure = tls.NewListener(secure, certs.tls())
	d.ln, d.servers = ln, nil
	for _, s := range []struct {
		ln net.Listener
		h  http.Handler
	}{{secure, d.secure}, {plain, d.plain}} {
		srv := d.opt.Server(s.h)
		d.servers = append(d.servers, srv)
		go func() {
			if err := srv.Serve(s.ln); err != nil && !errors.Is(err, http.ErrServerClosed) &&
				!errors.Is(err, net.ErrClosed) {
				d.opt.Log.Error("the phones' port failed", "error", err)
			}
		}()
	}
	return nil
}

// TLS is what a server needs to show certificates of the shop's authority at the
// door's address without its port being open.
func (d *Door) TLS() (*tls.Config, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	certs, err := d.certificates()
	if err == nil {
		_, _, err = certs.current()
	}
	if err != nil {
		return nil, err
	}
	return certs.tls(), nil
}

// Shut closes the port and lets requests under way finish while ctx lasts. That
// it is shut already is no error.
func (d *Door) Shut(ctx context.Context) error {
	d.mu.Lock()
	servers := d.servers
	ln := d.ln
	d.servers, d.ln = nil, nil
	d.mu.Unlock()
	if ln != nil {
		ln.Close() //nolint:errcheck // nothing new; the servers tell
	}
	var all []error
	for _, s := range servers {
		if err := s.Shutdown(ctx); err != nil && !errors.Is(err, net.ErrClosed) {
			all = append(all, err, s.Close())
		}
	}
	return errors.Join(all...)
}

// Port is the port that is open; empty where none is.
func (d *Door) Port() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.ln == nil {
		return ""
	}
	_, port, _ := net.SplitHostPort(d.ln.Addr().String())
	return port
}

// Hosts are the names and addresses that the certificate is good for now, the
// best first.
func (d *Door) Hosts() []string {
	d.mu.Lock()
	certs, err := d.certificates()
	d.mu.Unlock()
	if err != nil {
		return nil
	}
	_, hosts, err := certs.current()
	if err != nil {
		return nil
	}
	return hosts
}

// Reachable are those of Hosts that other computers can use; where there are
// none, all of them.
func (d *Door) Reachable() []string {
	all := d.Hosts()
	if out := slices.DeleteFunc(slices.Clone(all), func(h string) bool {
		ip := net.ParseIP(h)
		return h == "localhost" || ip != nil && ip.IsLoopback()
	}); len(out) > 0 {
		return out
	}
	return all
}

// Origin is the address of the app behind the door by one of Hosts, e.g.
// "https://192.168.1.7:8238"; empty where it is shut.
func (d *Door) Origin(scheme, host string) string {
	port := d.Port()
	if port == "" {
		return ""
	}
	return scheme + "://" + net.JoinHostPort(host, port)
}

// Leaf is the certificate that the door shows now.
func (d *Door) Leaf() (*x509.Certificate, error) {
	d.mu.Lock()
	certs, err := d.certificates()
	d.mu.Unlock()
	if err != nil {
		return nil, err
	}
	c, _, err := certs.current()
	if err != nil {
		return nil, err
	}
	return c.Leaf, nil
}
