package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
)

// Check reads the whole database, every design's file too, and reports the first
// things unsound.
func (s *Store) Check(ctx context.Context) error { return check(ctx, s.Read, s.path) }

func check(ctx context.Context, db *sql.DB, path string) error {
	var problems []string
	rows, err := db.QueryContext(ctx, "PRAGMA integrity_check(10)")
	if err != nil {
		return told(path, err)
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return told(path, err)
		}
		if line != "ok" {
			problems = append(problems, line)
		}
	}
	if err := rows.Err(); err != nil {
		return told(path, err)
	}
	for _, c := range []struct{ query, what string }{
		{"SELECT count(*) FROM pragma_foreign_key_check", "%d rows refer to what is not there"},
		{"SELECT count(*) FROM designs WHERE id NOT IN (SELECT design_id FROM contents) " +
			"OR id NOT IN (SELECT design_id FROM thumbs)", "%d designs have no file"},
		{"SELECT count(*) FROM visit_files f WHERE NOT EXISTS (SELECT 1 FROM visit_contents c " +
			"WHERE c.visit_id = f.visit_id AND c.digest = f.digest)", "%d files of visits are not there"},
	} {
		var n int
		if err := db.QueryRowContext(ctx, c.query).Scan(&n); err != nil {
			return told(path, err)
		}
		if n > 0 {
			problems = append(problems, fmt.Sprintf(c.what, n))
		}
	}
	changed, err := dbstore.ChangedFiles(ctx, db)
	if err != nil {
		return told(path, err)
	}
	problems = append(problems, changed...)
	if len(problems) > 0 {
		return shop.Errorf(shop.Storage, "%s is not sound: %s", path, strings.Join(problems, "; "))
	}
	return nil
}

// Summary is what a backup holds.
type Summary struct {
	Designs, Machines, Runs int
	Bytes                   int64
}

// Backup writes a consistent copy of the shop at path to the file to, which
// must not exist; the shop may be in use meanwhile, by this or by another
// process. The copy is checked before it gets its name.
func Backup(ctx context.Context, path, to string) (Summary, error) {
	there, wal, err := look(path)
	if err != nil {
		return Summary{}, err
	}
	if !there {
		return Summary{}, shop.Errorf(shop.NotFound, "there is no shop to copy: nothing is at %s", path)
	}
	if err := mustNotExist(to); err != nil {
		return Summary{}, err
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return Summary{}, fmt.Errorf("the shop's database: %w", err)
	}
	how := ""
	if cannotWrite(abs) != "" && !wal {
		how = "mode=ro&immutable=1"
	}
	db, err := sql.Open("sqlite", dsn(abs, how, busy)) // VACUUM INTO is refused where query_only is set
	if err != nil {
		return Summary{}, told(path, err)
	}
	defer db.Close() //nolint:errcheck // only read
	db.SetMaxOpenConns(1)
	if err := isShop(ctx, db, path); err != nil {
		return Summary{}, err
	}
	if err := notNewer(ctx, db, path); err != nil {
		return Summary{}, err
	}
	return put(to, func(tmp string) (Summary, error) {
		f, err := os.OpenFile(filepath.Clean(tmp), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // for its owner only, as the shop
		if err != nil {
			return Summary{}, fmt.Errorf("the copy: %w", err)
		}
		if err := f.Close(); err != nil {
			return Summary{}, fmt.Errorf("the copy: %w", err)
		}
		// VACUUM INTO reads one state of the database, whatever is written
		// meanwhile, and leaves no free pages in the copy.
		if _, err := db.ExecContext(ctx, "VACUUM INTO ?", tmp); err != nil {
			return Summary{}, told(path, err)
		}
		return Inspect(ctx, tmp)
	})
}

// Inspect checks a copy, all of it, and says what it holds. It changes nothing.
func Inspect(ctx context.Context, path string) (Summary, error) {
	var sum Summary
	there, _, err := look(path)
	if err != nil {
		return sum, err
	}
	if !there {
		return sum, shop.Errorf(shop.NotFound, "there is no copy at %s", path)
	}
	info, err := os.Stat(path)
	if err != nil {
		return sum, fmt.Errorf("the copy: %w", err)
	}
	sum.Bytes = info.Size()
	abs, err := filepath.Abs(path)
	if err != nil {
		return sum, fmt.Errorf("the copy: %w", err)
	}
	db, err := sql.Open("sqlite", dsn(abs, "mode=ro", busy, "query_only(1)"))
	if err != nil {
		return sum, told(path, err)
	}
	defer db.Close() //nolint:errcheck // only read
	db.SetMaxOpenConns(1)
	if err := isShop(ctx, db, path); err != nil {
		return sum, err
	}
	if err := notNewer(ctx, db, path); err != nil {
		return sum, err
	}
	if err := check(ctx, db, path); err != nil {
		return sum, err
	}
	err = db.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM designs WHERE removed = 0), (SELECT count(*) FROM "+
		"machines WHERE removed = 0), (SELECT count(*) FROM runs)").
		Scan(&sum.Designs, &sum.Machines, &sum.Runs)
	return sum, told(path, err)
}

// Restore puts a copy in the place of a shop. The copy is checked first. A shop
// that is there is only replaced with overwrite, and is then kept beside it
// under the name that is returned. A shop in use is refused.
func Restore(ctx context.Context, from, path string, overwrite bool) (sum Summary, kept string, err error) {
	if sum, err = Inspect(ctx, from); err != nil {
		return sum, "", err
	}
	if !overwrite {
		if err := mustNotExist(path); err != nil {
			return sum, "", err
		}
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return sum, "", fmt.Errorf("the shop's database: %w", err)
	}
	if err := os.MkdirAll(filepath.Dir(abs), 0o700); err != nil {
		return sum, "", fmt.Errorf("the shop's database: %w", err)
	}
	lock, err := lockFile(abs + ".lock")
	if err != nil {
		return sum, "", err
	}
	defer lock.db.Close() //nolint:errcheck // a lock only
	if err := lock.alone(ctx); err != nil {
		return sum, "", err
	}
	if _, err := os.Stat(abs); err == nil {
		// A copy of what was there, with what its WAL still holds.
		kept = abs + ".before-restore"
		for n := 2; ; n++ {
			if _, err := os.Stat(kept); errors.Is(err, fs.ErrNotExist) {
				break
			}
			kept = fmt.Sprintf("%s.before-restore-%d", abs, n)
		}
		if err := keep(ctx, abs, kept); err != nil {
			return sum, "", err
		}
	}
	_, err = put(abs, func(tmp string) (Summary, error) {
		if err := copyFile(from, tmp); err != nil {
			return Summary{}, err
		}
		return Inspect(ctx, tmp)
	})
	return sum, kept, err
}

// keep sets a shop aside: as a clean copy, or, where it is too damaged for
// that, with its own files. Afterwards path has no WAL that could be taken for
// the new file's.
func keep(ctx context.Context, path, as string) error {
	if _, err := Backup(ctx, path, as); err != nil {
		for _, end := range []string{"", "-wal"} {
			if err := copyFile(path+end, as+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
	}
	for _, end := range []string{"-wal", "-shm"} {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("the shop's database: %w", err)
		}
	}
	return nil
}

func mustNotExist(path string) error {
	switch _, err := os.Lstat(path); {
	case err == nil:
		return shop.Errorf(shop.Conflict, "%s is there already and is not overwritten", path)
	case errors.Is(err, fs.ErrNotExist):
		return nil
	default:
		return fmt.Errorf("the shop's database: %w", err)
	}
}

// put makes a file under another name beside path, and gives it its name only
// when it is whole and on disk.
func put(path string, make func(tmp string) (Summary, error)) (sum Summary, err error) {
	tmp := path + ".part"
	beside := func() (err error) { // of those who had it open
		for _, end := range []string{".lock", ".lock-journal", "-wal", "-shm", ".new", ".new-wal", ".new-shm"} {
			if e := os.Remove(tmp + end); e != nil && !errors.Is(e, fs.ErrNotExist) {
				err = errors.Join(err, fmt.Errorf("the shop's database: %w", e))
			}
		}
		return err
	}
	if err := os.Remove(tmp); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return sum, fmt.Errorf("the shop's database: %w", err)
	}
	if err := beside(); err != nil { // one that was killed left it
		return sum, err
	}
	defer func() {
		if err != nil {
			os.Remove(tmp) //nolint:errcheck // it may not be there
		}
	}()
	sum, err = make(tmp)
	if is, e := os.Stat(tmp + "-wal"); err == nil && e == nil && is.Size() > 0 {
		err = fmt.Errorf("the shop's database: %s is not whole without its log", tmp)
	}
	if err = errors.Join(err, beside()); err != nil {
		return sum, err
	}
	if err = toDisk(tmp); err != nil {
		return sum, err
	}
	if err = os.Rename(tmp, path); err != nil {
		return sum, fmt.Errorf("the shop's database: %w", err)
	}
	return sum, toDisk(filepath.Dir(path))
}

// toDisk waits until a file, or a folder's names, are on disk.
func toDisk(path string) error {
	f, err := os.Open(filepath.Clean(path))
	if err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	err = f.Sync()
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	return nil
}

func copyFile(from, to string) error {
	src, err := os.Open(filepath.Clean(from))
	if err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	defer src.Close() //nolint:errcheck // only read
	dst, err := os.OpenFile(filepath.Clean(to), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	_, err = io.Copy(dst, src)
	if cerr := dst.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	return nil
}
