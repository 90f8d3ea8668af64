package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"needlepace/act"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/store"
	"needlepace/web"
	"needlepace/web/watch"
)

// ShopsCmd lists the shops of a place of several, or makes one.
type ShopsCmd struct {
	DataFlag
	Make  string `help:"Make a shop with this name, which its page's address begins with." placeholder:"SHOP"`
	Owner string `help:"Name of its owner; the password is asked for, or read from standard input." placeholder:"NAME"`
	// Who works in several.
	People bool     `help:"List who works in several shops and signs in once."`
	Join   []string `help:"Make two accounts one person's: give it twice. The first one's password holds for both." placeholder:"NAME@SHOP" sep:"none"`
	Part   string   `help:"Let an account stand alone again, with the password that it has." placeholder:"NAME@SHOP"`
}

// Run does what it is asked for.
func (a *ShopsCmd) Run(c *Ctx) error {
	path, err := a.path()
	if err != nil {
		return err
	}
	if (a.Make == "") != (a.Owner == "") {
		return usagef("--make and --owner go together: a shop begins with its owner")
	}
	asked := 0
	for _, is := range []bool{a.Make != "", a.People, len(a.Join) > 0, a.Part != ""} {
		if is {
			asked++
		}
	}
	if asked > 1 || len(a.Join) != 0 && len(a.Join) != 2 {
		return usagef("give one of --make, --people, --part and --join, and --join twice: the two accounts that are one person's")
	}
	i, err := store.OpenInstallation(c.Context, path)
	if err != nil {
		return err
	}
	return errors.Join(a.run(c, i), i.Close())
}

func (a *ShopsCmd) run(c *Ctx, i store.Installation) error {
	if a.People || len(a.Join) > 0 || a.Part != "" {
		return a.people(c, i)
	}
	names, err := i.Names(c.Context)
	if err != nil {
		return err
	}
	if a.Make == "" {
		if len(names) == 0 {
			fmt.Fprintf(c.Out, "%s has no shops yet: make one with needlepace shops --make SHOP --owner NAME.\n", i.Shown())
		}
		for _, name := range names {
			fmt.Fprintln(c.Out, name)
		}
		return nil
	}
	if !shop.IsAddressName(a.Make) {
		return shop.NotAddressName(a.Make)
	}
	owner, err := shop.CheckName("owner's name", a.Owner)
	if err != nil {
		return err
	}
	password, err := askPassword(c) // before anything is made
	if err != nil {
		return err
	}
	if err := accounts.CheckPassword(owner, password); err != nil {
		return err
	}
	opened, err := i.Make(c.Context, a.Make)
	if err != nil {
		return err
	}
	s := act.New(opened, act.Options{Build: buildDigest()})
	_, err = s.Accounts.Add(c.Context, owner, password, shop.Owner)
	if err = errors.Join(err, opened.Close()); err != nil {
		return fmt.Errorf("the shop %s is made, but has no owner yet (`needlepace serve --add-account` makes one): %w", a.Make, err)
	}
	fmt.Fprintf(c.Out, "Made %s. %s may sign in as its owner, at %s.NAME where needlepace serve --under NAME serves it.\n", a.Make, owner, a.Make)
	return nil
}

// askPassword asks for a password twice at a terminal, or reads a line.
func askPassword(c *Ctx) (password string, err error) {
	f, ok := c.In.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		line, err := bufio.NewReader(io.LimitReader(c.In, 4096)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", fmt.Errorf("reading the password: %w", err)
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	for i, ask := range []string{"Password: ", "Once more: "} {
		fmt.Fprint(c.Err, ask)
		b, err := term.ReadPassword(int(f.Fd()))
		fmt.Fprintln(c.Err)
		if err != nil {
			return "", fmt.Errorf("reading the password: %w", err)
		}
		if i == 1 && string(b) != password {
			return "", usagef("the two passwords differ; nothing was made")
		}
		password = string(b)
	}
	return password, nil
}

// shutAfter is after how long a shop that nobody asks is closed.
const shutAfter = 30 * time.Minute

// serveUnder serves all shops of a place.
func (a *ServeCmd) serveUnder(c *Ctx, path string) error {
	switch {
	case a.AddAccount != "" || a.New:
		return usagef("--under serves what is there: a shop with its owner is made by needlepace shops --make SHOP --owner NAME")
	case a.MQTT != "" || a.Phones != nil && *a.Phones:
		return usagef("--under: machines tell, and phones come in, to one shop: serve that one by itself (of a database, beside this program)")
	case a.Pprof:
		return usagef("--under and --pprof: who looks into the program sees all shops")
	case a.TLS && a.TLSCert == "":
		return usagef("--under: give a certificate for *.%s with --tls-cert and --tls-key, or use a proxy with --behind-proxy", a.Under)
	case len(a.Host) > 0:
		return usagef("--under and --host: each shop answers under its own name, and no other")
	}
	i, err := store.OpenInstallation(c.Context, path)
	if err != nil {
		return err
	}
	return errors.Join(a.roof(c, i), i.Close())
}

func (a *ServeCmd) roof(c *Ctx, i store.Installation) error {
	log := a.logs(c)
	ln, err := a.listen()
	if err != nil {
		return err
	}
	build, slots, shared, safe := buildDigest(), jobs.NewSlots(), act.NewShared(), a.TLSCert != "" || a.proxy != nil
	var copies copiesOf
	if a.Copies != "" {
		defer inBackground(c.Context, func(ctx context.Context) {
			store.Copies{Folder: a.Copies, Keep: a.CopyKeep}.RegularlyAll(ctx, i, a.CopyEvery, func(name string) func(store.Copied, time.Time, error) {
				return told(copies.of(name), log, name)
			}, func(err error) { log.Error("which shops are to be copied is not known", "error", err) })
		})()
	}
	f := web.NewRoof(web.RoofOptions{Name: a.Under, Names: i.Names, People: i.People, Idle: shutAfter, Proxy: a.proxy, Log: log, Now: time.Now,
		Open: func(ctx context.Context, name string) (*web.Server, func() error, error) {
			opened, err := i.Open(ctx, name)
			if err != nil {
				return nil, nil, err
			}
			by, end := a.helpers(c, i.Place(name), build)
			s := act.New(opened, act.Options{Build: build, Shared: shared, Elsewhere: by})
			if err = s.Migrate(ctx); err == nil {
				err = s.DropOldTimes(ctx)
			}
			if err != nil {
				return nil, nil, errors.Join(err, opened.Close())
			}
			watched := watch.New(built(), a.Slow, time.Now)
			app := web.New(s, web.Options{Accounts: true, Secure: safe, Strict: safe, Hosts: []string{name + "." + a.Under}, MaxUpload: a.MaxUpload << 20,
				LongTime: a.LongTime, Slots: slots, Log: log.With("shop", name), Version: version, Watch: watched,
				Copies: a.copiesFor(&copies, name)})
			// A shop that is shut is looked over when it is opened the next time; see ServeCmd.doRounds for why not by River.
			noMore := jobs.Regularly(log, jobs.In(app.Jobs()), a.roundsOf(s, log.With("shop", name), watched)...)
			return app, func() error { noMore(); end(); return opened.Close() }, nil
		}})
	defer f.Close()
	server := serverOf(log)
	if err := a.watched(c, f.Beside(), server); err != nil {
		return errors.Join(err, ln.Close())
	}
	names, err := i.Names(c.Context)
	if err != nil {
		return errors.Join(err, ln.Close())
	}
	srv := server(f)
	srv.RegisterOnShutdown(f.EndEvents)
	scheme := "http"
	if safe {
		scheme = "https"
	} else {
		fmt.Fprintln(c.Err, unencrypted)
	}
	at := a.Under
	if _, port, err := net.SplitHostPort(ln.Addr().String()); err == nil && a.proxy == nil && port != "80" && port != "443" {
		at = net.JoinHostPort(a.Under, port)
	}
	fmt.Fprintf(c.Out, "needlepace is at %s://SHOP.%s\nSHOP is one of %s in %s; it listens on %s. Stop with Ctrl-C.\n", scheme, at, plural(len(names), "shop"), i.Shown(), ln.Addr())
	return a.untilStopped(c, srv, ln)
}

// copiesOf is how it goes with the copies of each shop.
type copiesOf struct{ all sync.Map }

func (c *copiesOf) of(name string) *watch.Copies {
	is, _ := c.all.LoadOrStore(name, watch.NewCopies())
	return is.(*watch.Copies)
}

func (a *ServeCmd) copiesFor(c *copiesOf, name string) *watch.Copies {
	if a.Copies == "" {
		return nil
	}
	return c.of(name)
}
