package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"needlepace/internal/pgtest"
	"needlepace/shop"
	"needlepace/store/postgres"
)

func open(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// openPostgres opens an empty shop in a database of its own.
func openPostgres(t *testing.T) *postgres.Store {
	t.Helper()
	address := pgtest.Made(t, "shop", func(address string) {
		s, err := postgres.Open(bg, address)
		if err != nil {
			t.Fatal(err, errors.Unwrap(shop.ErrorOf(err))) // what the server said
		}
		must(t, s.Close())
	})
	s, err := postgres.Open(bg, address)
	must(t, err)
	return s
}

func TestContract(t *testing.T) {
	t.Run("SQLite", func(t *testing.T) {
		contract(t, func(t *testing.T) shop.Store {
			return open(t, filepath.Join(t.TempDir(), "it's a 100% shop?#&.db"))
		})
	})
	t.Run("PostgreSQL", func(t *testing.T) {
		contract(t, func(t *testing.T) shop.Store { return openPostgres(t) })
	})
}

func TestAShopIsStillThereAfterClosing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new folder", "shop.db")
	s := open(t, path)
	d := exampleDesign(1)
	if _, err := s.AddDesign(context.Background(), d, []byte("bytes"), shop.Thumbs{Light: []byte{1}, Dark: []byte{2}}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = open(t, path)
	defer s.Close()
	if b, err := s.DesignContent(context.Background(), d.ID); err != nil || string(b) != "bytes" {
		t.Errorf("%q, %v", b, err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v: only the shop's user may read it", info.Mode(), err)
	}
}

// The page is served while a command takes something in: what one changes the
// other sees, and neither keeps the other out. Only the page is served once.
func TestTwoProcessesShareAShop(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "shop.db")
	page := open(t, path)
	defer page.Close()
	if err := page.Serve(ctx); err != nil {
		t.Fatal(err)
	}
	command := open(t, path)
	var wg sync.WaitGroup
	for i, s := range []*Store{page, command} {
		wg.Go(func() { fill(t, s, 100*i, 100*i+40) })
	}
	wg.Wait()
	for name, s := range map[string]*Store{"page": page, "command": command} {
		if _, total, err := s.Designs(ctx, shop.DesignQuery{Limit: 1}); err != nil || total != 80 {
			t.Errorf("the %s sees %d designs of 80, %v", name, total, err)
		}
	}
	if err := command.Serve(ctx); shop.CodeOf(err) != shop.Busy {
		t.Errorf("the page was served twice: %v", err)
	}
	if _, _, err := Restore(ctx, path, path, true); shop.CodeOf(err) != shop.Busy {
		t.Errorf("restored over a shop in use: %v", err)
	}
	if err := command.Close(); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Restore(ctx, path, path, true); shop.CodeOf(err) != shop.Busy {
		t.Errorf("restored over a shop that the page still has: %v", err)
	}
}

// Two that begin at the same time: one makes the database, the other waits.
func TestTwoMayMakeAShopAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			s, err := Open(context.Background(), path)
			if err != nil {
				t.Error(err)
				return
			}
			s.Close()
		})
	}
	wg.Wait()
}

func TestPragmasHoldOnEveryConnection(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "shop.db"))
	defer s.Close()
	ctx := context.Background()
	for name, c := range map[string]struct {
		db   *sql.DB
		n    int
		want map[string]string
	}{
		"write": {s.Write, 1, map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "10000"}},
		"read":  {s.Read, 4, map[string]string{"journal_mode": "wal", "query_only": "1", "busy_timeout": "10000"}},
	} {
		for range c.n { // held open, so that each is another one
			conn, err := c.db.Conn(ctx)
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			for pragma, want := range c.want {
				var got string
				if err := conn.QueryRowContext(ctx, "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
					t.Errorf("%s connection: %s is %s, want %s (%v)", name, pragma, got, want, err)
				}
			}
		}
	}
}

// A full disk is told of, what was kept before stays, and the store goes on
// when there is room again. SQLite's own page limit stands for the disk.
func TestAFullDiskIsToldAndLosesNothing(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "shop.db"))
	defer s.Close()
	ctx := context.Background()
	var pages int
	if err := s.Write.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Write.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages+200)); err != nil {
		t.Fatal(err)
	}
	content := make([]byte, 100<<10)
	kept := 0
	var err error
	for n := 1; n < 100 && err == nil; n++ {
		if _, err = s.AddDesign(ctx, designOf(n, content), content, shop.Thumbs{Light: []byte{1}, Dark: []byte{2}}); err == nil {
			kept++
		}
	}
	if shop.CodeOf(err) != shop.Storage || !strings.Contains(err.Error(), "disk is full") {
		t.Fatalf("a full disk gave %v", err)
	}
	_, total, err := s.Designs(ctx, shop.DesignQuery{Limit: 1})
	if err != nil || total != kept || kept == 0 {
		t.Fatalf("%d of %d acknowledged designs are there, %v", total, kept, err)
	}
	if _, err := s.Write.Exec("PRAGMA max_page_count = 1000000"); err != nil {
		t.Fatal(err)
	}
	if added, err := s.AddDesign(ctx, designOf(kept+1, content), content, shop.Thumbs{Light: []byte{1}, Dark: []byte{2}}); err != nil || !added {
		t.Errorf("with room again: %v, %v", added, err)
	}
	if err := s.Check(ctx); err != nil {
		t.Error(err)
	}
}

func TestWhatIsNoShopIsRefused(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "shop.db")
	if err := os.WriteFile(path, []byte(strings.Repeat("this is a letter, not a shop. ", 200)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, path); err == nil {
		t.Error("a text file was opened as a shop")
	}
	if b, err := os.ReadFile(path); err != nil || !strings.HasPrefix(string(b), "this is a letter") {
		t.Errorf("the file was harmed: %v", err)
	}
	newer := filepath.Join(t.TempDir(), "newer.db")
	s := open(t, newer)
	if _, err := s.Write.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (999, 1)"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if _, err := Open(ctx, newer); shop.CodeOf(err) != shop.Unsupported || !strings.Contains(err.Error(), "newer") {
		t.Errorf("a newer program's shop gave %v", err)
	}
}

func BenchmarkListOf5000(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "shop.db"))
	defer s.Close()
	ctx := context.Background()
	for n := range 5000 {
		if _, err := s.AddDesign(ctx, exampleDesign(n), []byte("c"), shop.Thumbs{Light: []byte{1}, Dark: []byte{2}}); err != nil {
			b.Fatal(err)
		}
	}
	for _, q := range []shop.DesignQuery{{Limit: 50}, {Limit: 50, Sort: "name", Offset: 4900}, {Limit: 50, Search: "design 49"}} {
		b.Run(fmt.Sprintf("search=%q,offset=%d", q.Search, q.Offset), func(b *testing.B) {
			for b.Loop() {
				if _, _, err := s.Designs(ctx, q); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// What it takes to take a change back goes in the end; that it was made, by whom and
// from where, stays.
func TestTheHistoryOutlivesWhatIsTakenBack(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "shop.db"))
	defer s.Close() //nolint:errcheck // a test
	n := 0
	save := func() int64 {
		n++
		a := &shop.Act{By: "Ida", From: "page 192.0.2.7"}
		must(t, s.SetSetting(shop.WithAct(bg, a), "settings", fmt.Appendf(nil, `{"n":%d}`, n)))
		return a.Change.Load()
	}
	first := save()
	_, err := s.Write.Exec("UPDATE sqlite_sequence SET seq = ? WHERE name = 'changes'", 64*(shop.KeptChanges/64+3)-1)
	must(t, err)
	last := save()
	if c, err := s.Change(bg, last); err != nil || !c.Undoable {
		t.Errorf("the last change: %+v, %v", c, err)
	}
	if c, err := s.Change(bg, first); err != nil || c.Undoable || c.By != "Ida" || c.From != "page 192.0.2.7" {
		t.Errorf("a change long ago: %+v, %v", c, err)
	}
	if err := s.Undo(bg, first); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("it is taken back: %v", err)
	}
}
