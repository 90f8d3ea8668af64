package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"needlepace/internal/pgtest"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/store/postgres"
)

// places are where an installation can be, empty.
func places(t *testing.T) map[string]string {
	return map[string]string{"folder": t.TempDir(), "database": pgtest.Database(t)}
}

func installation(t *testing.T, place string) store.Installation {
	t.Helper()
	i, err := store.OpenInstallation(bg, place)
	must(t, err)
	t.Cleanup(func() { must(t, i.Close()) })
	return i
}

// What is kept in one shop of an installation is in no other, and each is opened by
// its name only.
func TestShopsOfAnInstallationAreApart(t *testing.T) {
	for kind, place := range places(t) {
		t.Run(kind, func(t *testing.T) {
			i := installation(t, place)
			for _, name := range []string{"north", "south-2"} {
				s, err := i.Make(bg, name)
				must(t, err)
				must(t, s.SetSetting(bg, "where", []byte(name)))
				must(t, s.Close())
			}
			for name, code := range map[string]shop.Code{"north": shop.Conflict, "": shop.Invalid, "North": shop.Invalid, "a_b": shop.Invalid,
				"-a": shop.Invalid, "a-": shop.Invalid, "1a": shop.Invalid, "../a": shop.Invalid, `a"b`: shop.Invalid, "a.b": shop.Invalid,
				"a2345678901234567890123456789012345678901": shop.Invalid} {
				if _, err := i.Make(bg, name); shop.CodeOf(err) != code {
					t.Errorf("making %q: %v, want %s", name, err, code)
				}
			}
			names, err := i.Names(bg)
			must(t, err)
			if !slices.Equal(names, []string{"north", "south-2"}) {
				t.Errorf("the shops are %q", names)
			}
			for _, name := range []string{"", "west", "North", "../" + filepath.Base(place) + "/north", "public"} {
				if _, err := i.Open(bg, name); shop.CodeOf(err) != shop.NotFound {
					t.Errorf("opening %q: %v", name, err)
				}
			}
			for _, name := range names {
				s, err := i.Open(bg, name)
				must(t, err)
				defer func() { must(t, s.Close()) }()
				b, err := s.Setting(bg, "where")
				must(t, err)
				if string(b) != name {
					t.Errorf("%s has what was kept in %q", name, b)
				}
				if _, err := i.Open(bg, name); shop.CodeOf(err) != shop.Busy {
					t.Errorf("%s was opened twice: %v", name, err)
				}
			}
		})
	}
}

// What is no place of shops is told, and nothing is made there.
func TestWhatIsNoPlaceOfShops(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "shop.db")
	must(t, os.WriteFile(file, nil, 0o600))
	for place, code := range map[string]shop.Code{filepath.Join(dir, "none"): shop.NotFound, file: shop.Invalid,
		"postgres:///?host=" + dir: shop.Storage} {
		if _, err := store.OpenInstallation(bg, place); shop.CodeOf(err) != code {
			t.Errorf("%s: %v, want %s", place, err, code)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "none")); err == nil {
		t.Error("a folder was made that nobody asked for")
	}
}

// A schema that holds something else is no shop, and its name is taken.
func TestAnotherProgramsSchemaIsNoShop(t *testing.T) {
	place := pgtest.Database(t)
	db, err := sql.Open("pgx", place)
	must(t, err)
	defer db.Close() //nolint:errcheck // a test's
	_, err = db.Exec("CREATE SCHEMA books; CREATE TABLE books.designs (a int)")
	must(t, err)
	i := installation(t, place)
	names, err := i.Names(bg)
	must(t, err)
	if len(names) > 0 {
		t.Errorf("%q are no shops", names)
	}
	if _, err := i.Make(bg, "books"); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("a shop was made in it: %v", err)
	}
}

// More shops than connections: all are answered, and the server never sees more
// connections than the program may have.
func TestShopsShareConnections(t *testing.T) {
	place := pgtest.Database(t)
	i := installation(t, place)
	const many = postgres.Connections/2 + 2 // half are for reading, half for writing
	all := make([]store.Store, many)
	for n := range all {
		s, err := i.Make(bg, fmt.Sprintf("shop-%d", n))
		must(t, err)
		defer s.Close() //nolint:errcheck // a test's
		all[n] = s
	}
	look, err := sql.Open("pgx", place)
	must(t, err)
	defer look.Close() //nolint:errcheck // a test's
	most := 0
	ended, watched := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(watched)
		for {
			n := 0
			if err := look.QueryRow(`SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND application_name = 'needlepace'`).Scan(&n); err != nil {
				t.Error(err)
				return
			}
			most = max(most, n)
			select {
			case <-ended:
				return
			case <-time.After(time.Millisecond):
			}
		}
	}()
	ctx, cancel := context.WithTimeout(bg, time.Minute)
	defer cancel()
	var wg sync.WaitGroup
	for n, s := range all {
		for range 3 {
			wg.Go(func() {
				for round := range 5 {
					key, want := "where", fmt.Sprint(n, round)
					if err := s.SetSetting(ctx, key+want, []byte(want)); err != nil {
						t.Error(err)
					}
					b, err := s.Setting(ctx, key+want)
					if err != nil || string(b) != want {
						t.Errorf("shop %d has %q, %v; want %q", n, b, err, want)
					}
				}
			})
		}
	}
	wg.Wait()
	close(ended)
	<-watched
	if most > postgres.Connections+2 || most < postgres.Connections/2 {
		t.Errorf("%d connections at most, want up to %d", most, postgres.Connections+2)
	}
}

// When the server was away the shops that are open go on, another program is still
// kept from changing their form, and more can be opened.
func TestAnInstallationOutlivesItsServersRestart(t *testing.T) {
	server := pgtest.Durable(t)
	place := server.Database(t)
	i := installation(t, place)
	north, err := i.Make(bg, "north")
	must(t, err)
	server.Restart(t)
	var south store.Store
	for until := time.Now().Add(10 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		if south, err = i.Make(bg, "south"); err == nil || time.Now().After(until) {
			break
		}
	}
	must(t, err)
	must(t, north.SetSetting(bg, "a", []byte("b")))
	other, err := store.Open(bg, place+"&search_path=north")
	must(t, err)
	if err := other.Alone(bg); shop.CodeOf(err) != shop.Busy {
		t.Errorf("another program has a shop alone that is open here: %v", err)
	}
	must(t, other.Close())
	must(t, north.Close())
	must(t, south.Close())
	other, err = store.Open(bg, place+"&search_path=north")
	must(t, err)
	if err := other.Alone(bg); err != nil {
		t.Errorf("a shop that is closed is still held: %v", err)
	}
	must(t, other.Close())
}

// A connection goes from shop to shop, and is ended after a while: the server's process
// behind it remembers all that it saw.
func TestAConnectionIsRenewed(t *testing.T) {
	i := installation(t, pgtest.Database(t))
	var shops []*postgres.Store
	for _, name := range []string{"north", "south"} {
		s, err := i.Make(bg, name)
		must(t, err)
		defer func() { must(t, s.Close()) }()
		shops = append(shops, s.(*postgres.Store))
	}
	asked := map[int]int{} // by the server's process
	for n := range 500 {
		var pid int
		var schema string
		must(t, shops[n%2].Read.QueryRow("SELECT pg_backend_pid(), current_schema()").Scan(&pid, &schema))
		if want := []string{"north", "south"}[n%2]; schema != want {
			t.Fatalf("%s looks at %s", want, schema)
		}
		asked[pid]++
	}
	if len(asked) != 3 {
		t.Errorf("500 turns were by %d processes, want 3 of 200 at most: %v", len(asked), asked)
	}
	_, err := shops[0].Read.Exec("DELETE FROM designs")
	if err == nil {
		t.Error("what is for reading writes")
	}
}

// Who is one person in several shops is kept beside them, and is no shop: it can be copied and opened as one, and no
// shop can be called so.
func TestThePeopleOfAnInstallation(t *testing.T) {
	for kind, place := range places(t) {
		t.Run(kind, func(t *testing.T) {
			i := installation(t, place)
			if p, err := i.People(bg, false); err != nil || p != nil {
				t.Errorf("before anybody is: %v, %v", p, err)
			}
			p, err := i.People(bg, true)
			must(t, err)
			must(t, p.Join(bg, shop.Member{Shop: "north", Account: "a", Person: "p", Hash: "h"}, shop.Member{Shop: "south", Account: "b"}))
			if again, err := i.People(bg, false); err != nil || again != p {
				t.Errorf("asked again: %v, %v", again, err)
			}
			if names, err := i.Names(bg); err != nil || len(names) > 0 {
				t.Errorf("the shops are %q, %v", names, err)
			}
			if _, err := i.Open(bg, store.PeoplesName); shop.CodeOf(err) != shop.NotFound {
				t.Errorf("as a shop: %v", err)
			}
			if _, err := i.Make(bg, store.PeoplesName); shop.CodeOf(err) != shop.Invalid {
				t.Errorf("made as a shop: %v", err)
			}
			copied := filepath.Join(t.TempDir(), "people.db")
			_, err = store.Backup(bg, i.Place(store.PeoplesName), copied)
			must(t, err)
			c, err := store.Open(bg, copied)
			must(t, err)
			defer func() { must(t, c.Close()) }()
			if all, err := c.Members(bg, "p"); err != nil || len(all) != 2 || all[1].Hash != "h" {
				t.Errorf("the copy has %v, %v", all, err)
			}
		})
	}
}
