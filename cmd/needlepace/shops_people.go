package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"time"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/store"
)

// people lists who is one person in several shops, or says who is. The shops may be served meanwhile.
func (a *ShopsCmd) people(c *Ctx, i store.Installation) error {
	p := &act.People{Open: i.People, Now: time.Now, Log: slog.New(slog.NewTextHandler(c.Err, nil)),
		At: func(ctx context.Context, name string) (*act.Shop, func(), error) { return a.at(ctx, i, name) }}
	switch {
	case a.Part != "":
		return a.with(c, i, a.Part, func(one act.Own) error {
			if err := p.Part(c.Context, one); err != nil {
				return err
			}
			fmt.Fprintf(c.Out, "%s stands alone now.\n", a.Part)
			return nil
		})
	case len(a.Join) > 0:
		return a.with(c, i, a.Join[0], func(one act.Own) error {
			return a.with(c, i, a.Join[1], func(other act.Own) error {
				if err := p.Join(c.Context, one, other); err != nil {
					return err
				}
				fmt.Fprintf(c.Out, "%s and %s are one person's now, with the password of the first.\n", a.Join[0], a.Join[1])
				return nil
			})
		})
	}
	return a.listPeople(c, i)
}

// at is a shop of the installation, to be let go.
func (a *ShopsCmd) at(ctx context.Context, i store.Installation, name string) (*act.Shop, func(), error) {
	names, err := i.Names(ctx)
	if err != nil {
		return nil, nil, err
	}
	if !slices.Contains(names, name) {
		return nil, nil, shop.Errorf(shop.NotFound, "%s has no shop called %.40q", i.Shown(), name)
	}
	opened, err := store.Open(ctx, i.Place(name))
	if err != nil {
		return nil, nil, err
	}
	return act.New(opened, act.Options{Build: buildDigest()}), func() { opened.Close() }, nil //nolint:errcheck // what was changed is kept
}

// with does something with the account that NAME@SHOP names.
func (a *ShopsCmd) with(c *Ctx, i store.Installation, of string, do func(act.Own) error) error {
	at := strings.LastIndex(of, "@")
	if at <= 0 {
		return usagef("%q names no account: write NAME@SHOP", of)
	}
	s, done, err := a.at(c.Context, i, of[at+1:])
	if err != nil {
		return err
	}
	defer done()
	all, err := s.Accounts.List(c.Context)
	if err != nil {
		return err
	}
	for _, who := range all {
		if shop.Fold(who.Name) == shop.Fold(of[:at]) {
			return do(act.Own{Name: of[at+1:], Shop: s, Account: who})
		}
	}
	return shop.Errorf(shop.NotFound, "the shop %s has nobody called %s", of[at+1:], of[:at])
}

func (a *ShopsCmd) listPeople(c *Ctx, i store.Installation) error {
	kept, err := i.People(c.Context, false)
	if err != nil {
		return err
	}
	var all []*shop.Member
	if kept != nil {
		if all, err = kept.Members(c.Context, ""); err != nil {
			return err
		}
	}
	lines := map[string][]string{} // by person
	for _, m := range all {
		s, done, e := a.at(c.Context, i, m.Shop)
		if e == nil {
			var who *shop.Account
			if who, e = s.Accounts.Get(c.Context, m.Account); e == nil && who.Person == m.Person {
				says := who.Name + "@" + m.Shop + " (" + string(who.Role)
				if who.Disabled {
					says += ", shut out"
				}
				lines[m.Person] = append(lines[m.Person], says+")")
			}
			done()
		}
		if shop.CodeOf(e) != shop.NotFound {
			err = errors.Join(err, e)
		}
	}
	var out []string
	for _, l := range lines {
		if len(l) > 1 {
			out = append(out, strings.Join(l, ", "))
		}
	}
	slices.Sort(out)
	for _, l := range out {
		fmt.Fprintln(c.Out, l)
	}
	if len(out) == 0 && err == nil {
		fmt.Fprintln(c.Out, "Nobody signs in once for several shops. Whoever has accounts in two adds one to the other on the page Your shops.")
	}
	return err
}
