package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/shop"
)

// sqlText are words of the engine, which nobody should have to read.
var sqlText = []string{"SQL", "sqlite", "table", "goose", "pragma", "SELECT", "(1)", "(26)", "(11)"}

func plain(t *testing.T, err error) {
	t.Helper()
	for _, w := range sqlText {
		if strings.Contains(err.Error(), w) {
			t.Errorf("%q tells of the engine (%s)", err, w)
		}
	}
}

// What is there and no whole shop is never opened as an empty one, and nothing
// of it is changed.
func TestAnEmptyOrDamagedDatabaseIsNotOpenedAsAnEmptyShop(t *testing.T) {
	ctx := context.Background()
	whole := filepath.Join(t.TempDir(), "shop.db")
	s := open(t, whole)
	fill(t, s, 0, 60)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	zeroed := append(make([]byte, 4096), b[4096:]...)
	otherFile := filepath.Join(t.TempDir(), "other.db")
	db, err := sql.Open("sqlite", otherFile)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE customers (id INTEGER); INSERT INTO customers VALUES (1)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	other, err := os.ReadFile(otherFile)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		content []byte
		words   string
	}{
		"empty": {[]byte{}, "is empty"}, "cut off in a page": {b[:len(b)-700], "is cut off"}, "half": {b[:len(b)/2/4096*4096], "is cut off"},
		"beginning lost": {zeroed, "damaged at its beginning"}, "text": {[]byte(strings.Repeat("a letter, no shop. ", 300)), "no shop's database"},
		"one byte": {[]byte("S"), "no shop's database"}, "of another program": {other, "but no shop's"},
	} {
		path := filepath.Join(t.TempDir(), "shop.db")
		if err := os.WriteFile(path, c.content, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := Open(ctx, path)
		if err == nil {
			_, n, _ := s.Designs(ctx, shop.DesignQuery{Limit: 1})
			s.Close()
			t.Errorf("%s: opened, with %d designs", name, n)
			continue
		}
		if !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: %v, want %q", name, err, c.words)
		}
		plain(t, err)
		if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, c.content) {
			t.Errorf("%s: the file was changed, %v", name, err)
		}
		if _, err := Backup(ctx, path, path+".copy"); err == nil {
			t.Errorf("%s: a backup was made of it", name)
		} else {
			plain(t, err)
		}
		if _, err := Inspect(ctx, path); err == nil {
			t.Errorf("%s: it is said to be sound", name)
		} else {
			plain(t, err)
		}
	}
	gone := filepath.Join(t.TempDir(), "shop.db")
	if err := os.WriteFile(gone+"-wal", []byte("what was changed last"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, gone); err == nil || !strings.Contains(err.Error(), "is gone") {
		t.Errorf("a log without its shop: %v", err)
	}
}

// A shop that was killed before its log was first written into its file is whole.
func TestALogWithoutPagesYetIsAShop(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	db, err := openWriting(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := migrate(context.Background(), db, true, path); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "shop.db")
	for _, end := range []string{"", "-wal"} { // as the kill leaves it
		if err := copyFile(path+end, to+end); err != nil {
			t.Fatal(err)
		}
	}
	db.Close()
	open(t, to).Close()
}

func TestACopyIsForItsOwnerOnlyAndOfNoNewerShop(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.db")
	s := open(t, path)
	fill(t, s, 0, 3)
	to := filepath.Join(dir, "copy.db")
	if _, err := Backup(ctx, path, to); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(to); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the copy's mode is %v, %v", info.Mode(), err)
	}
	if _, err := s.Write.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (999, 1)"); err != nil {
		t.Fatal(err)
	}
	if _, err := Backup(ctx, path, filepath.Join(dir, "newer.db")); shop.CodeOf(err) != shop.Unsupported || !strings.Contains(err.Error(), "newer needlepace") {
		t.Errorf("a backup of a newer shop: %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "newer.db")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("it left %v", err)
	}
	s.Close()
	if err := os.Rename(path, filepath.Join(dir, "moved.db")); err != nil {
		t.Fatal(err)
	}
	for _, do := range []func() error{
		func() error { _, err := Inspect(ctx, filepath.Join(dir, "moved.db")); return err },
		func() error { _, _, err := Restore(ctx, filepath.Join(dir, "moved.db"), path, false); return err },
	} {
		if err := do(); shop.CodeOf(err) != shop.Unsupported {
			t.Errorf("a newer shop's copy: %v", err)
		}
	}
}

// One bit of a design's file that fell over is found, though the database is
// sound as such.
func TestCheckReadsEveryDesignsFile(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "shop.db")
	s := open(t, path)
	fill(t, s, 0, 3)
	if err := s.Check(ctx); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Write.Exec("UPDATE contents SET content = replace(content, 'xxxx', 'xxyx') WHERE design_id = ?", exampleDesign(1).ID); err != nil {
		t.Fatal(err)
	}
	if err := s.Check(ctx); err == nil || !strings.Contains(err.Error(), "not what came in, e.g. Design 1") {
		t.Errorf("a changed file: %v", err)
	}
	s.Close()
	if _, err := Inspect(ctx, path); err == nil {
		t.Error("a copy with a changed file is said to be sound")
	}
}

// A database whose pages can all be read and whose files are whole, but whose index lacks a row (here since it was made
// for some rows and is said to be for all), is found unsound too: by Check, and as a copy.
func TestCheckAsksTheEngineToo(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	s := open(t, path)
	must(t, s.SetSetting(bg, "a", []byte("x")))
	must(t, s.Check(bg))
	for _, q := range []string{`CREATE INDEX part ON settings (value) WHERE key > 'b'`, `PRAGMA writable_schema = 1`,
		`UPDATE sqlite_master SET sql = 'CREATE INDEX part ON settings (value)' WHERE name = 'part'`, `PRAGMA writable_schema = 0`} {
		if _, err := s.Write.Exec(q); err != nil {
			t.Fatalf("%s: %v", q, err)
		}
	}
	must(t, s.Close())
	s = open(t, path)
	err := s.Check(bg)
	wantCode(t, err, shop.Storage)
	if err != nil && !strings.Contains(err.Error(), "index part") {
		t.Errorf("it is said to be %v", err)
	}
	must(t, s.Close())
	_, err = Inspect(bg, path)
	wantCode(t, err, shop.Storage)
	_, _, err = Restore(bg, path, filepath.Join(t.TempDir(), "back.db"), false)
	wantCode(t, err, shop.Storage)
}

// disk mounts a small disk for a test, and says how to make it read-only. Where
// this user may not mount, the test is left out.
func disk(t *testing.T, size string) (dir string, readOnly func()) {
	t.Helper()
	dir = t.TempDir()
	mount := func(args ...string) error { return exec.Command("mount", append(args, dir)...).Run() }
	if err := mount("-t", "tmpfs", "-o", "size="+size, "none"); err != nil {
		t.Skipf("no disk can be mounted here: %v", err)
	}
	t.Cleanup(func() { exec.Command("umount", dir).Run() }) //nolint:errcheck // the folder goes then
	return dir, func() {
		t.Helper()
		if err := mount("-o", "remount,ro"); err != nil {
			t.Fatal(err)
		}
	}
}

func fillDisk(t *testing.T, dir string) {
	t.Helper()
	for size := 1 << 20; size >= 1; size /= 2 {
		for n := 0; ; n++ {
			f, err := os.CreateTemp(dir, "filler")
			if err != nil {
				return
			}
			_, err = f.Write(make([]byte, size))
			f.Close()
			if err != nil {
				break
			}
		}
	}
}

func reads(t *testing.T, s *Store, designs int) {
	t.Helper()
	all, n, err := s.Designs(bg, shop.DesignQuery{Limit: 10})
	if err != nil || n != designs {
		t.Fatalf("%d designs of %d, %v", n, designs, err)
	}
	if b, err := s.DesignContent(bg, all[0].ID); err != nil || len(b) != 5000 {
		t.Errorf("%d bytes of a file, %v", len(b), err)
	}
}

func TestReadingWorksOnAFullDisk(t *testing.T) {
	for _, killed := range []bool{false, true} {
		dir, _ := disk(t, "8m")
		path := filepath.Join(dir, "shop.db")
		s := open(t, path)
		fill(t, s, 0, 20)
		if killed { // what a kill leaves: changes in the log
			for _, end := range []string{"", "-wal"} {
				if err := copyFile(path+end, filepath.Join(dir, "killed.db")+end); err != nil {
					t.Fatal(err)
				}
			}
			path = filepath.Join(dir, "killed.db")
		}
		fillDisk(t, dir)
		reads(t, s, 20) // of the shop that is open
		content := make([]byte, 200_000)
		if _, err := s.AddDesign(bg, designOf(99, content), content, thumbs); shop.CodeOf(err) != shop.Storage || !strings.Contains(err.Error(), "disk is full") {
			t.Errorf("a change: %v", err)
		}
		reads(t, s, 20)
		if err := s.Close(); err != nil && shop.CodeOf(err) != shop.Storage {
			t.Logf("closing: %v", err)
		}
		fillDisk(t, dir)
		s, err := Open(bg, path)
		if err != nil {
			t.Fatalf("killed %v: opening on a full disk: %v", killed, err)
		}
		reads(t, s, 20)
		if _, err := s.AddDesign(bg, designOf(99, content), content, thumbs); shop.CodeOf(err) != shop.Storage {
			t.Errorf("killed %v: a change: %v", killed, err)
		}
		t.Logf("killed %v: %q", killed, s.ReadOnly())
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestReadingWorksOnAReadOnlyMedium(t *testing.T) {
	dir, readOnly := disk(t, "8m")
	path := filepath.Join(dir, "shop.db")
	s := open(t, path)
	fill(t, s, 0, 20)
	for _, end := range []string{"", "-wal"} {
		if err := copyFile(path+end, filepath.Join(dir, "killed.db")+end); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	readOnly()
	s, err := Open(bg, path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	reads(t, s, 20)
	if s.ReadOnly() == "" {
		t.Error("it does not say that it is read only")
	}
	if err := s.Serve(bg); err != nil {
		t.Errorf("serving it: %v", err)
	}
	err = s.RemoveDesign(bg, exampleDesign(1).ID, true)
	if shop.CodeOf(err) != shop.Storage || !strings.Contains(err.Error(), "only be read") {
		t.Errorf("a change: %v", err)
	}
	if _, err := Backup(bg, path, filepath.Join(t.TempDir(), "copy.db")); err != nil {
		t.Errorf("a backup from it: %v", err)
	}
	if s, err := Open(bg, filepath.Join(dir, "killed.db")); err == nil {
		reads(t, s, 20)
		s.Close()
	} else if !strings.Contains(err.Error(), "copy both files") {
		t.Errorf("with a log: %v", err)
	}
}
