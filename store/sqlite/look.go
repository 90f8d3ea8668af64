package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
	"needlepace/store/sqlite/migrations"
)

// told puts an error of the engine into words: what happened to which file, and
// what to do. The engine's own text is the cause, for logs.
func told(path string, err error) error {
	if err == nil || shop.ErrorOf(err) != nil {
		return err
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return shop.Errorf(shop.Stopped, "stopped before the end: %w", err)
	}
	text := "%s cannot be read: the disk or the file failed; look after the disk, and restore a backup if it stays so"
	code := shop.Storage
	switch classify(err) {
	case dbstore.Full:
		text = "the disk of %s is full; make room and do it again"
	case dbstore.Damaged:
		text = "%s is damaged, or no shop's database; restore a backup: needlepace restore --overwrite COPY"
	case dbstore.Locked:
		code, text = shop.Busy, "%s is held by another program; try again when that one is done"
	case dbstore.ReadOnly:
		text = "%s cannot be written: it is on a medium for reading only, or another user's"
	}
	return &shop.Error{Code: code, Text: fmt.Sprintf(text, path), Err: err}
}

// unreadable is the error of a file that is not opened as a shop.
func unreadable(path, what string) error {
	return shop.Errorf(shop.Storage, "%s %s; it is not opened, and nothing in it was changed. Give the right file "+
		"with --data, or restore a backup: needlepace restore --overwrite COPY", path, what)
}

// sqliteHead is the length of the header of an SQLite file; its fields stand at
// fixed places (sqlite.org/fileformat2.html section 1.3).
const sqliteHead = 100

// look refuses what is there and no whole database: an empty file, another kind
// of file, one that is cut off. wal says that a log with changes stands beside
// it, from which an unfinished file is made whole.
func look(path string) (there, wal bool, err error) {
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		wal = true
	}
	f, err := os.Open(filepath.Clean(path))
	if errors.Is(err, fs.ErrNotExist) {
		if wal {
			return false, wal, unreadable(path, "is gone, though its log "+filepath.Base(path)+"-wal is there")
		}
		return false, false, nil
	}
	if err != nil {
		return false, wal, fmt.Errorf("the shop's database: %w", err)
	}
	defer f.Close() //nolint:errcheck // only read
	info, err := f.Stat()
	if err != nil {
		return true, wal, fmt.Errorf("the shop's database: %w", err)
	}
	switch {
	case info.IsDir():
		return true, wal, unreadable(path, "is a folder")
	case info.Size() == 0 && wal: // killed while it was made
		return true, wal, nil
	case info.Size() == 0:
		return true, wal, unreadable(path, "is empty: no shop is in it")
	}
	head := make([]byte, sqliteHead)
	if _, err := io.ReadFull(f, head); err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return true, wal, fmt.Errorf("the shop's database: %w", err)
	}
	if !bytes.HasPrefix(head, []byte("SQLite format 3\x00")) {
		return true, wal, unreadable(path, "is damaged at its beginning, or no shop's database")
	}
	page := int64(binary.BigEndian.Uint16(head[16:]))
	if page == 1 {
		page = 65536
	}
	pages := int64(binary.BigEndian.Uint32(head[28:]))
	counted := bytes.Equal(head[24:28], head[92:96]) // the count of pages is good
	if !wal && counted && info.Size() < page*pages {
		return true, wal, unreadable(path, fmt.Sprintf("is cut off: %d bytes of %d are there", info.Size(), page*pages))
	}
	return true, wal, nil
}

// isShop refuses a database that is no shop's.
func isShop(ctx context.Context, db *sql.DB, path string) error {
	var n int
	err := db.QueryRowContext(ctx,
		"SELECT count(*) FROM sqlite_master WHERE name IN ('goose_db_version', 'designs')").Scan(&n)
	if err != nil {
		return told(path, err)
	}
	if n != 2 {
		return unreadable(path, "is a database, but no shop's")
	}
	return nil
}

// form is the form that a database is in, and the one that this program knows.
func form(ctx context.Context, db *sql.DB, path string) (have, known int64, err error) {
	if err := db.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version").Scan(&have); err != nil {
		return 0, 0, told(path, err)
	}
	known, err = migrations.Newest()
	return have, known, err
}

// notNewer refuses a database that a newer program made.
func notNewer(ctx context.Context, db *sql.DB, path string) error {
	have, known, err := form(ctx, db, path)
	if err == nil && have > known {
		return shop.Errorf(shop.Unsupported,
			"%s was made by a newer needlepace (form %d, this program knows %d); use that one", path, have, known)
	}
	return err
}

// cannotWrite says why nothing can be written to a shop, where that is so: a
// medium for reading only, another user's file, a full disk. Empty: it can.
func cannotWrite(path string) string {
	for _, name := range []string{path, path + ".lock"} {
		flags := os.O_RDWR
		if name != path {
			flags |= os.O_CREATE
		}
		f, err := os.OpenFile(filepath.Clean(name), flags, 0o600)
		switch {
		case err == nil:
			f.Close() //nolint:errcheck // nothing was written
		case errors.Is(err, syscall.EROFS):
			return "it is on a medium for reading only"
		case errors.Is(err, fs.ErrPermission):
			return "this user may not write it"
		case errors.Is(err, syscall.ENOSPC):
			return "the disk is full"
		}
	}
	return ""
}

// openReading opens a shop that cannot be written, to be read only. alone keeps
// the file to this process, where its log must be read and nothing can be
// written beside it (sqlite.org/wal.html section 8).
func openReading(ctx context.Context, path, why string, wal, alone bool) (*Store, error) {
	s := &Store{path: path, readOnly: why}
	ways := [][2]string{{"mode=ro", ""}}
	if !wal {
		ways = append(ways, [2]string{"mode=ro&immutable=1", ""})
	}
	if alone {
		ways = [][2]string{{"", "locking_mode(EXCLUSIVE)"}}
	}
	var err error
	for _, way := range ways {
		pragmas := []string{busy}
		if way[1] != "" {
			pragmas = append(pragmas, way[1])
		}
		var db *sql.DB
		if db, err = sql.Open("sqlite", dsn(path, way[0], append(pragmas, "query_only(1)")...)); err != nil {
			return nil, told(path, err)
		}
		if alone {
			db.SetMaxOpenConns(1)
		}
		if err = isShop(ctx, db, path); err == nil {
			err = notNewer(ctx, db, path)
		}
		if err == nil {
			var have, known int64
			if have, known, err = form(ctx, db, path); err == nil && have < known {
				err = shop.Errorf(shop.Unsupported, "%s was made by an older needlepace and cannot be brought to this one's "+
					"form: %s; copy it to where it can be written", path, why)
			}
		}
		if err == nil {
			s.DB = &dbstore.DB{Write: db, Read: db, Engine: engine, Now: time.Now}
			return s, nil
		}
		db.Close() //nolint:errcheck // the first error counts
	}
	if wal && !alone && classify(errors.Unwrap(err)) == dbstore.Other && shop.CodeOf(err) == shop.Storage {
		return nil, shop.Errorf(shop.Storage, "%s has changes in its log (%s-wal) that can only be read where something can "+
			"be written: %s; copy both files to another disk", path, filepath.Base(path), why)
	}
	return nil, err
}
