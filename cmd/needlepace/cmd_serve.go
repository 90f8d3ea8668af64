package main

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/jobs/parts"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/store/postgres"
	"needlepace/telling/mqtt"
	"needlepace/web"
	"needlepace/web/door"
	"needlepace/web/watch"
)

// DataFlag is where the shop is kept; several commands share it.
type DataFlag struct {
	Data  string `help:"The shop's database. Default: needlepace/shop.db in your configuration folder." type:"path" placeholder:"FILE" env:"NEEDLEPACE_DATA"`
	Store string `help:"The shop is in a PostgreSQL database: its address, postgres://USER@HOST:PORT/DATABASE. Goes before --data." placeholder:"ADDRESS" env:"NEEDLEPACE_STORE"`
}

// path is where the shop is kept: a file, or a database's address.
func (f DataFlag) path() (string, error) {
	// What is typed goes before what is set for all commands.
	fromEnv := f.Store == os.Getenv("NEEDLEPACE_STORE") && f.Data != "" && !isSet(f.Data, os.Getenv("NEEDLEPACE_DATA"))
	if f.Store != "" && !fromEnv {
		return address(f.Store)
	}
	return f.file()
}

func isSet(path, set string) bool {
	abs, err := filepath.Abs(set)
	return set != "" && err == nil && abs == path
}

func address(s string) (string, error) {
	if !postgres.IsAddress(s) {
		return "", usagef("--store %s is no address of a database: write postgres://USER@HOST:PORT/DATABASE; a file is named with --data", s)
	}
	return s, nil
}

// file is where a shop in a file is kept, and beside it what is kept in files anyway.
func (f DataFlag) file() (string, error) {
	if f.Data != "" {
		return f.Data, nil
	}
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", usagef("there is no configuration folder (%v); say where the shop is kept with --data", err)
	}
	return filepath.Join(dir, "needlepace", "shop.db"), nil
}

// MakeFlag lets a command make a shop where --data names none: a slip in the
// name makes none.
type MakeFlag struct {
	New bool `name:"new" help:"Make a new shop where --data names none yet; without it that is refused."`
}

// may is the error where a shop would be made that nobody asked for: --data was
// typed, and nothing is there. What is set for all commands (NEEDLEPACE_DATA, and
// the place of every shop) was not typed just now.
func (m MakeFlag) may(f DataFlag) error {
	path, there, err := f.place()
	if err != nil || there || m.New || f.Data == "" && f.Store == "" {
		return err
	}
	if postgres.IsAddress(path) {
		if os.Getenv("NEEDLEPACE_STORE") == f.Store {
			return nil
		}
		return usagef("there is no shop at %s; look at the address that --store gives, or make a new shop there with --new",
			store.Shown(path))
	}
	if isSet(path, os.Getenv("NEEDLEPACE_DATA")) {
		return nil
	}
	return usagef("there is no shop at %s; look at the name that --data gives, or make a new shop there with --new", path)
}

// usualAddress is where the page is served when nothing is said.
const usualAddress = "127.0.0.1:8237"

// ServeCmd is the page.
type ServeCmd struct {
	DataFlag
	MakeFlag
	Address    string        `short:"a" help:"Address and port to listen on. Other than a loopback address needs accounts." default:"${usualaddress}" placeholder:"HOST:PORT"`
	Host       []string      `help:"A name or address by which the page may be called; may repeat. Default: any with accounts, else loopback only." placeholder:"NAME"`
	TLS        bool          `name:"tls" help:"HTTPS: with --tls-cert and --tls-key, or else with a certificate made here, which browsers are told once to trust."`
	TLSCert    string        `name:"tls-cert" help:"Certificate for HTTPS (PEM)." type:"existingfile" placeholder:"FILE"`
	TLSKey     string        `name:"tls-key" help:"Its key (PEM)." type:"existingfile" placeholder:"FILE"`
	Behind     []string      `name:"behind-proxy" help:"Address or network of a proxy that people come by, by HTTPS: what it says of who asks is believed, from nowhere else. Needs accounts; may repeat." placeholder:"ADDRESS"`
	ProxySays  string        `name:"proxy-says" help:"Which headers the proxy sets: x-forwarded (-For, -Proto, -Host) or forwarded (RFC 7239). The other is not read." enum:"x-forwarded,forwarded" default:"x-forwarded"`
	Phones     *bool         `help:"Open (or with --no-phones keep shut) the port for phones: HTTPS, with a certificate made here. Default: as the page's settings left it; at first shut." negatable:""`
	PhonesAt   string        `name:"phones-at" help:"Where that port is." default:":8238" placeholder:"HOST:PORT"`
	Under      string        `help:"Serve several shops, each at SHOP.NAME with people of its own: all of the database that --store names, or of the folder that --data names. See needlepace shops." placeholder:"NAME"`
	Accounts   bool          `help:"Make people sign in on a loopback address too."`
	AddAccount string        `help:"Make an account with this name and stop; the password is asked for, or read from standard input. The first must be an owner." placeholder:"NAME"`
	Role       string        `help:"Role of the account that --add-account makes: owner, planner or operator." enum:"owner,planner,operator" default:"owner"`
	MaxUpload  int64         `help:"Largest upload, in MB." default:"64"`
	LongTime   time.Duration `help:"How long one piece of long work may take." default:"10m"`
	Log        string        `help:"How much to log to standard error: quiet, requests or debug." enum:"quiet,requests,debug" default:"quiet"`
	LogForm    string        `name:"log-form" help:"Form of the log's lines: text or json." enum:"text,json" default:"text"`
	CopyFlags
	CopyEvery time.Duration `name:"copy-every" help:"How long after one copy (see --copies) the next is made, while the shop is served." default:"24h"`
	Slow      time.Duration `help:"How long a request takes that Settings, How it runs, lists as slow." default:"1s"`
	WatchAt   string        `name:"watch-at" help:"A port of its own for /healthz, /readyz and /metrics, without signing in. Default: none; the page's address has them too, /metrics for who may look." placeholder:"HOST:PORT"`
	Pprof     bool          `help:"Let an owner profile the program at /debug/pprof/."`

	MQTT      string `name:"mqtt" help:"Take what machines tell of themselves from this MQTT broker (version 5). Off where it is left out. A password is better kept in NEEDLEPACE_MQTT than on the command line." env:"NEEDLEPACE_MQTT" placeholder:"mqtt://HOST"`
	MQTTTopic string `name:"mqtt-topic" help:"Where machines tell; its last level is the machine's name or ID." default:"needlepace/machines/+" placeholder:"TOPIC"`

	proxy *web.Proxy
	feed  *mqtt.Feed
}

// Run serves until it is interrupted, then lets requests under way finish.
func (a *ServeCmd) Run(c *Ctx) error {
	path, err := a.path()
	if err != nil {
		return err
	}
	if a.Under == "" {
		if err := a.may(a.DataFlag); err != nil {
			return err
		}
	}
	web.Lean()
	if (a.TLSCert == "") != (a.TLSKey == "") {
		return usagef("--tls-cert and --tls-key go together")
	}
	host, _, err := net.SplitHostPort(a.Address)
	if err != nil {
		return usagef("--address %s: give a host and a port, e.g. 127.0.0.1:8237", a.Address)
	}
	if len(a.Behind) > 0 && (a.TLS || a.TLSCert != "") {
		return usagef("--behind-proxy and --tls: the proxy is what people reach by HTTPS; choose one")
	}
	trusted, err := web.ParseTrusted(a.Behind)
	if err != nil {
		return usagef("--behind-proxy: %v", err)
	}
	if len(trusted) > 0 {
		a.proxy = &web.Proxy{Trusted: trusted, Standard: a.ProxySays == "forwarded"}
	}
	if a.CopyEvery < time.Minute || a.CopyKeep < 1 {
		return usagef("--copy-every is a minute at least, and --copy-keep 1")
	}
	if a.Under != "" {
		return a.serveUnder(c, path)
	}
	var broker *url.URL
	if a.MQTT != "" {
		if broker, err = mqtt.ParseBroker(a.MQTT); err != nil {
			return usagef("--mqtt: %v", err)
		}
		if a.MQTTTopic == "" || !strings.HasSuffix(a.MQTTTopic, "/+") {
			return usagef("--mqtt-topic %s: its last level stands for the machines and must be +", a.MQTTTopic)
		}
	}
	accounts := a.Accounts || !loopback(host) || a.proxy != nil
	opened, err := store.Open(c.Context, path)
	if err != nil {
		return err
	}
	build := buildDigest()
	by, end := a.helpers(c, path, build)
	defer end()
	s := act.New(opened, act.Options{Build: build, Elsewhere: by})
	err = func() error {
		if a.AddAccount != "" {
			return a.addAccount(c, s)
		}
		if err := opened.Serve(c.Context); err != nil {
			return err
		}
		if accounts {
			if err := needOwner(c.Context, s, a.Address); err != nil {
				return err
			}
		}
		if err := s.Migrate(c.Context); err != nil {
			return err
		}
		if err := s.DropOldTimes(c.Context); err != nil {
			return err
		}
		if broker != nil {
			sum := sha256.Sum256([]byte(path))
			a.feed = mqtt.New(mqtt.Options{Broker: broker, Topic: a.MQTTTopic, Client: "needlepace-" + hex.EncodeToString(sum[:6]), Take: s.Tell})
		}
		return a.serve(c, s, accounts, path)
	}()
	return errors.Join(err, opened.Close())
}

// helpers are those who do the heavy work of a shop in a database (needlepace work); end
// ends the asking.
func (a *ServeCmd) helpers(c *Ctx, place, build string) (by ask.Elsewhere, end func()) {
	if !postgres.IsAddress(place) {
		return nil, func() {}
	}
	asker := &parts.Asker{Address: place, Build: build, Longest: a.LongTime, Log: a.logs(c)}
	return asker, asker.Close
}

// loopback reports whether only this computer reaches a host.
func loopback(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

func needOwner(ctx context.Context, s *act.Shop, address string) error {
	all, err := s.Accounts.List(ctx)
	if err != nil {
		return err
	}
	for _, acc := range all {
		if acc.Role == shop.Owner && !acc.Disabled {
			return nil
		}
	}
	return usagef("serving at %s needs accounts, and there is none yet: make the owner's with `needlepace serve "+
		"--add-account NAME`", address)
}

func (a *ServeCmd) addAccount(c *Ctx, s *act.Shop) error {
	password, err := askPassword(c)
	if err != nil {
		return err
	}
	acc, err := s.Accounts.Add(c.Context, a.AddAccount, password, shop.Role(a.Role))
	if err != nil {
		return err
	}
	fmt.Fprintf(c.Out, "%s may now sign in as %s.\n", acc.Name, acc.Role)
	return nil
}

// Times that keep slow and broken clients from holding the server.
const (
	headerTime = 10 * time.Second
	readTime   = 5 * time.Minute // of a whole upload
	writeTime  = 5 * time.Minute
	idleTime   = 2 * time.Minute
	endTime    = 15 * time.Second // for requests under way at the end
)

// logs are what is logged, to standard error.
func (a *ServeCmd) logs(c *Ctx) *slog.Logger {
	level := map[string]slog.Level{"quiet": slog.LevelError, "requests": slog.LevelInfo,
		"debug": slog.LevelDebug}[a.Log]
	var lines slog.Handler = slog.NewTextHandler(c.Err, &slog.HandlerOptions{Level: level})
	if a.LogForm == "json" {
		lines = slog.NewJSONHandler(c.Err, &slog.HandlerOptions{Level: level})
	}
	return slog.New(lines)
}

// serverOf serves what answers.
func serverOf(log *slog.Logger) func(http.Handler) *http.Server {
	return func(h http.Handler) *http.Server {
		return &http.Server{
			Handler: h, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug),
			ReadHeaderTimeout: headerTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
			MaxHeaderBytes: 32 << 10,
		}
	}
}

func (a *ServeCmd) listen() (net.Listener, error) {
	ln, err := net.Listen("tcp", a.Address)
	if err != nil {
		return nil, fmt.Errorf("cannot listen on %s: %w; another program may have the port: choose one with --address",
			a.Address, err)
	}
	return ln, nil
}

func (a *ServeCmd) serve(c *Ctx, s *act.Shop, accounts bool, path string) error {
	log := a.logs(c)
	server := serverOf(log)
	ln, err := a.listen()
	if err != nil {
		return err
	}
	file, err := a.file() // of what stays in files wherever the shop is
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	var phones *door.Door
	if a.Phones == nil || *a.Phones {
		phones = door.New(door.Options{File: file + ".authority.pem", Address: a.PhonesAt, Extra: a.Host, Log: log,
			Server: server})
	}
	made, err := a.madeTLS(c, log, file)
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	watched := watch.New(built(), a.Slow, time.Now)
	rounds := a.roundsOf(s, log, watched)
	var copies *watch.Copies
	if a.Copies != "" {
		copies = watch.NewCopies()
		r, err := a.copyRound(s, log, path, copies, watched)
		if err != nil {
			return errors.Join(err, ln.Close())
		}
		rounds = append(rounds, r)
	}
	app := web.New(s, web.Options{
		Accounts: accounts, Secure: made != nil || a.TLSCert != "" || a.proxy != nil, Strict: a.TLSCert != "" || a.proxy != nil,
		Proxy: a.proxy, Hosts: a.Host, MaxUpload: a.MaxUpload << 20, LongTime: a.LongTime,
		Log: log, Version: version, Door: phones, Pprof: a.Pprof, Watch: watched, Copies: copies, Feed: a.feed,
	})
	defer app.Close()
	end, err := a.doRounds(c, app, log, path, rounds)
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	defer end()
	if a.feed != nil {
		defer inBackground(c.Context, a.feed.Run)()
	}
	if err := a.watched(c, app.Beside(), server); err != nil {
		return errors.Join(err, ln.Close())
	}
	srv := server(app.Handler())
	srv.RegisterOnShutdown(app.EndEvents)
	scheme := "http"
	if made != nil || a.TLSCert != "" {
		scheme = "https"
	}
	srv.TLSConfig = made
	fmt.Fprintf(c.Out, "needlepace is at %s://%s\nThe shop is kept in %s. Stop with Ctrl-C.\n", scheme, ln.Addr(), store.Shown(path))
	if err := a.openDoor(c, s, phones); err != nil {
		return err
	}
	if accounts && scheme == "http" && a.proxy == nil {
		fmt.Fprintln(c.Err, unencrypted)
	}
	return a.untilStopped(c, srv, ln)
}

const unencrypted = "needlepace: passwords and sessions cross this network unencrypted; use --tls, a proxy with " +
	"--behind-proxy, or only a network you trust."

// untilStopped serves until it is interrupted, then lets requests under way finish.
func (a *ServeCmd) untilStopped(c *Ctx, srv *http.Server, ln net.Listener) error {
	ended := make(chan error, 1)
	go func() {
		if srv.TLSConfig != nil || a.TLSCert != "" {
			ended <- srv.ServeTLS(ln, a.TLSCert, a.TLSKey)
		} else {
			ended <- srv.Serve(ln)
		}
	}()
	select {
	case err := <-ended:
		return err
	case <-c.Done():
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(c.Context), endTime)
	defer cancel()
	if err := srv.Shutdown(ctx); err != nil {
		srv.Close() //nolint:errcheck // they had their time
	}
	fmt.Fprintln(c.Out, "Stopped; everything is kept.")
	return nil
}

// told tells of a copy, on the page and in the log.
func told(copies *watch.Copies, log *slog.Logger, place string) func(store.Copied, time.Time, error) {
	return func(made store.Copied, next time.Time, err error) {
		copies.Tell(made.File, made.At, made.Bytes, next, err)
		if err != nil {
			log.Error("a copy of the shop failed", "shop", store.Shown(place), "error", err)
		}
	}
}

// inBackground does something until end is called, which waits for it.
func inBackground(ctx context.Context, do func(context.Context)) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() { defer close(ended); do(ctx) }()
	return func() { stop(); <-ended }
}

// watched opens the port for programs that watch this one, where it is asked for. It
// ends with the program.
func (a *ServeCmd) watched(c *Ctx, beside http.Handler, server func(http.Handler) *http.Server) error {
	if a.WatchAt == "" {
		return nil
	}
	ln, err := net.Listen("tcp", a.WatchAt)
	if err != nil {
		return fmt.Errorf("--watch-at: cannot listen on %s: %w", a.WatchAt, err)
	}
	srv := server(beside)
	go srv.Serve(ln)                                     //nolint:errcheck // ends with the program
	context.AfterFunc(c.Context, func() { srv.Close() }) //nolint:errcheck // at the end
	fmt.Fprintf(c.Out, "It can be watched at http://%s/metrics.\n", ln.Addr())
	return nil
}

// madeTLS is HTTPS with a certificate of the shop's own authority, the phones' too;
// nil where it is not asked for. Its certificate is put beside the database, for
// browsers to be told to trust.
func (a *ServeCmd) madeTLS(c *Ctx, log *slog.Logger, path string) (*tls.Config, error) {
	if !a.TLS || a.TLSCert != "" {
		return nil, nil
	}
	d := door.New(door.Options{File: path + ".authority.pem", Address: a.Address, Extra: a.Host, Log: log})
	made, err := d.TLS()
	if err != nil {
		return nil, err
	}
	authority, err := d.Authority()
	if err != nil {
		return nil, err
	}
	file := path + ".authority.crt"
	pemBytes := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: authority.Cert.Raw})
	if err := os.WriteFile(file, pemBytes, 0o644); err != nil { //nolint:gosec // it is for everybody
		return nil, fmt.Errorf("the certificate that browsers are to trust cannot be written: %w", err)
	}
	fmt.Fprintf(c.Err, "needlepace: browsers warn until they are told to trust %s. Its SHA-256 is %s.\n", file, authority.Fingerprint())
	return made, nil
}

// openDoor opens the port for phones where that is asked for, here or on the
// page before. Where the page asked, one that cannot be opened does not keep the
// shop from being served.
func (a *ServeCmd) openDoor(c *Ctx, s *act.Shop, phones *door.Door) error {
	if phones == nil {
		return nil
	}
	asked := a.Phones != nil
	open, err := s.Settings.DoorOpen(c.Context)
	if err != nil {
		return err
	}
	if !asked && !open {
		return nil
	}
	if err := phones.Open(); err != nil {
		if asked {
			return fmt.Errorf("the port for phones: %w; choose one with --phones-at", err)
		}
		fmt.Fprintf(c.Err, "needlepace: the port for phones stays shut: %v; choose one with --phones-at\n", err)
		return nil
	}
	var at []string
	for _, h := range phones.Reachable() {
		at = append(at, phones.Origin("https", h))
	}
	fmt.Fprintf(c.Out, "Phones come in at %s. Let one in under Settings, Phones.\n", strings.Join(at, " or "))
	return nil
}

// buildDigest names this very program: run times that another one computed
// are computed anew.
func buildDigest() string {
	self, err := os.Executable()
	if err != nil {
		return ""
	}
	f, err := os.Open(filepath.Clean(self))
	if err != nil {
		return ""
	}
	defer f.Close() //nolint:errcheck // only read
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return ""
	}
	return hex.EncodeToString(h.Sum(nil))
}
