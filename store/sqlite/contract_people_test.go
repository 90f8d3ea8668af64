package sqlite

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/shop"
)

// A session begins only by the hash that holds then, and for an account that may sign in: it may have been changed while
// the password was held against it. Another hash of an account's ends its sessions, unless only whose it is changes; a
// changed role leaves the hash that holds.
func sessionHashes(t *testing.T, s shop.Store) {
	ada, ben := account("1", "Ada", shop.Owner), account("2", "Ben", shop.Planner)
	must(t, s.AddAccount(bg, ada))
	must(t, s.AddAccount(bg, ben))
	begin := func(hash string) error {
		return s.AddSession(bg, shop.Session{Digest: "of " + hash, AccountID: "2", Made: when, Expires: when.Add(time.Hour)}, hash)
	}
	is := func(hash, person string, sessions int) {
		t.Helper()
		a, err := s.Account(bg, "2")
		must(t, err)
		all, err := s.Sessions(bg, "2", when)
		must(t, err)
		if a.Hash != hash || a.Person != person || len(all) != sessions {
			t.Errorf("%q of %q with %d sessions, want %q of %q with %d", a.Hash, a.Person, len(all), hash, person, sessions)
		}
	}
	must(t, begin("hash of 2"))
	must(t, s.SetHash(bg, "2", "hash of 2", "hash of 2", "p"))
	is("hash of 2", "p", 1)
	must(t, s.SetHash(bg, "2", "hash of 2", "new", "p"))
	is("new", "p", 0)
	wantCode(t, s.SetHash(bg, "2", "hash of 2", "older", "q"), shop.Conflict)
	wantCode(t, begin("hash of 2"), shop.NotFound)
	must(t, begin("new"))
	old := *ben
	old.Role, old.Hash = shop.Operator, ""
	must(t, s.ChangeAccount(bg, &old))
	is("new", "p", 1)
	old.Hash = "the owner's"
	must(t, s.ChangeAccount(bg, &old))
	is("the owner's", "", 0)
	old.Disabled = true
	must(t, s.ChangeAccount(bg, &old))
	wantCode(t, begin("the owner's"), shop.NotFound)
}

func people(t *testing.T, st shop.Store) {
	s := st.(shop.PeopleStore)
	in := func(name, account, person, hash string) shop.Member {
		return shop.Member{Shop: name, Account: account, Person: person, Hash: hash}
	}
	is := func(want ...string) {
		t.Helper()
		all, err := s.Members(bg, "")
		must(t, err)
		var got []string
		for _, m := range all {
			got = append(got, fmt.Sprintf("%s %s/%s %s", m.Person, m.Shop, m.Account, m.Hash))
		}
		if !slices.Equal(got, want) {
			t.Errorf("it is\n%s, want\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
	}
	entry := func(digest, name, account, person, hash, browser string) error {
		return s.AddEntry(bg, shop.Entry{Member: in(name, account, person, hash), Digest: digest, Browser: browser, Ends: when.Add(time.Hour)}, when)
	}
	there := func(digest string, want bool) {
		t.Helper()
		if _, err := s.Entry(bg, digest, when); (err == nil) != want || err != nil && shop.CodeOf(err) != shop.NotFound {
			t.Errorf("the entry %s: %v, want %t", digest, err, want)
		}
	}
	_, err := s.Member(bg, "north", "a")
	wantCode(t, err, shop.NotFound)
	must(t, s.Join(bg, in("north", "a", "p", "h1"), in("south", "b", "", "")))
	must(t, s.Join(bg, in("east", "c", "q", "h2"), in("west", "d", "", "")))
	is("p north/a h1", "p south/b h1", "q east/c h2", "q west/d h2")

	must(t, entry("1", "north", "a", "p", "h1", "x"))
	must(t, entry("2", "east", "c", "q", "h2", "y"))
	wantCode(t, entry("3", "east", "c", "q", "h1", "y"), shop.NotFound) // another password since
	wantCode(t, entry("3", "east", "c", "p", "h2", "y"), shop.NotFound)
	wantCode(t, s.Join(bg, in("north", "a", "p", "h1"), in("south", "z", "", "")), shop.Conflict) // two accounts in one shop
	is("p north/a h1", "p south/b h1", "q east/c h2", "q west/d h2")
	must(t, s.Join(bg, in("north", "a", "p", "h1"), in("east", "c", "q", "h2")))
	is("p east/c h1", "p north/a h1", "p south/b h1", "p west/d h1")
	there("1", true)
	there("2", false)

	must(t, entry("4", "west", "d", "p", "h1", "z"))
	must(t, s.SetPersonHash(bg, "p", "h3"))
	is("p east/c h3", "p north/a h3", "p south/b h3", "p west/d h3")
	there("1", false)
	there("4", false)
	wantCode(t, s.SetPersonHash(bg, "nobody", "h"), shop.NotFound)

	must(t, entry("5", "west", "d", "p", "h3", "z"))
	must(t, entry("6", "east", "c", "p", "h3", "z"))
	must(t, entry("7", "east", "c", "p", "h3", "other"))
	ended, err := s.EndBrowser(bg, "6")
	must(t, err)
	if len(ended) != 2 || ended[0].Digest == "7" || ended[1].Digest == "7" {
		t.Errorf("with one ended %d", len(ended))
	}
	there("5", false)
	there("7", true)
	if ended, err := s.EndBrowser(bg, "none"); err != nil || len(ended) != 0 {
		t.Errorf("%v, %v", ended, err)
	}
	if _, err := s.Entry(bg, "7", when.Add(time.Hour)); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("an entry that is over: %v", err)
	}
	must(t, s.Part(bg, "west", "d"))
	must(t, s.Part(bg, "east", "c"))
	there("7", false)
	is("p north/a h3", "p south/b h3")
	wantCode(t, s.Part(bg, "east", "c"), shop.NotFound)
	must(t, s.Part(bg, "south", "b"))
	is() // one alone is nobody's
}

func tickets(t *testing.T, st shop.Store) {
	s := st.(shop.PeopleStore)
	to := shop.Member{Shop: "south", Account: "b", Person: "p"}
	must(t, s.Join(bg, shop.Member{Shop: "north", Account: "a", Person: "p", Hash: "h"}, to))
	enter := func(digest string) {
		t.Helper()
		must(t, s.AddEntry(bg, shop.Entry{Member: shop.Member{Shop: "north", Account: "a", Person: "p", Hash: "h"}, Digest: digest, Browser: "x",
			Ends: when.Add(time.Hour)}, when))
	}
	add := func(digest, entry string) error {
		return s.AddTicket(bg, shop.Ticket{Member: to, Asked: "w", Until: when.Add(30 * time.Second)}, digest, entry, when)
	}
	use := func(digest, name, asked string, at time.Time) error {
		_, err := s.UseTicket(bg, digest, name, asked, at)
		return err
	}
	enter("e")
	wantCode(t, add("t", "none"), shop.NotFound)
	must(t, add("t", "e"))
	got, err := s.UseTicket(bg, "t", "south", "w", when.Add(29*time.Second))
	must(t, err)
	if *got != (shop.Ticket{Member: to, Browser: "x", Asked: "w", Until: when.Add(30 * time.Second), Ends: when.Add(time.Hour)}) {
		t.Errorf("the ticket is %+v", got)
	}
	wantCode(t, use("t", "south", "w", when), shop.NotFound)
	for i, c := range []struct {
		name, asked string
		at          time.Time
	}{{"west", "w", when}, {"south", "another", when}, {"south", "w", when.Add(30 * time.Second)}} {
		digest := fmt.Sprint("u", i)
		must(t, add(digest, "e"))
		wantCode(t, use(digest, c.name, c.asked, c.at), shop.NotFound)
		wantCode(t, use(digest, "south", "w", when), shop.NotFound) // tried in vain, it is used up
	}
	for what, end := range map[string]func() error{
		"the sign-out": func() error { _, err := s.EndBrowser(bg, "e"); return err },
		"a password":   func() error { return s.SetPersonHash(bg, "p", "h") },
		"being out":    func() error { return s.Part(bg, "south", "b") },
	} {
		must(t, s.Join(bg, shop.Member{Shop: "north", Account: "a", Person: "p", Hash: "h"}, to))
		if _, err := s.Entry(bg, "e", when); err != nil {
			enter("e")
		}
		must(t, add("v", "e"))
		must(t, end())
		if err := use("v", "south", "w", when); shop.CodeOf(err) != shop.NotFound {
			t.Errorf("a ticket from before %s: %v", what, err)
		}
	}
	must(t, s.Join(bg, shop.Member{Shop: "north", Account: "a", Person: "p", Hash: "h"}, to))
	enter("f")
	must(t, add("both", "f"))
	var wg sync.WaitGroup
	var in atomic.Int32
	for range 8 {
		wg.Go(func() {
			if use("both", "south", "w", when) == nil {
				in.Add(1)
			}
		})
	}
	wg.Wait()
	if in.Load() != 1 {
		t.Errorf("one ticket let %d in", in.Load())
	}
}
