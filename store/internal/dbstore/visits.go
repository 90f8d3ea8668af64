package dbstore

import (
	"context"

	"needlepace/shop"
)

const visitColumns = `id, name, client, note, version, made, changed, removed`

func scanVisit(scan scan) (*shop.Visit, error) {
	var v shop.Visit
	err := scan(&v.ID, &v.Name, &v.Client, &v.Note, &v.Version, moment{&v.Made}, moment{&v.Changed}, &v.Removed)
	return &v, err
}

// Visits lists visits by name.
func (db *DB) Visits(ctx context.Context, removed bool) ([]*shop.Visit, error) {
	return list(ctx, db, "visit", scanVisit, `SELECT `+visitColumns+` FROM visits WHERE removed = ? ORDER BY name_key, id`, flag(removed))
}

// Visit finds a visit.
func (db *DB) Visit(ctx context.Context, id string) (*shop.Visit, error) {
	return find(ctx, db, "visit", scanVisit, `SELECT `+visitColumns+` FROM visits WHERE id = ?`, id)
}

// SaveVisit keeps a visit.
func (db *DB) SaveVisit(ctx context.Context, v *shop.Visit, files []shop.VisitPut) error {
	return db.change(ctx, "visit", func(x *tx) error {
		if v.Version == 1 {
			if _, err := x.exec(`INSERT INTO visits (id, name, name_key, client, note, version, made, changed, removed)
				VALUES (`+marks(9)+`)`, v.ID, v.Name, sortKey(v.Name), v.Client, v.Note, v.Version, micros(v.Made),
				micros(v.Changed), flag(v.Removed)); err != nil {
				return err
			}
			return x.putVisitFiles(v.ID, files)
		}
		n, err := x.exec(`UPDATE visits SET name = ?, name_key = ?, client = ?, note = ?, version = ?, changed = ?, removed = ?
			WHERE id = ? AND version = ?`, v.Name, sortKey(v.Name), v.Client, v.Note, v.Version, micros(v.Changed),
			flag(v.Removed), v.ID, v.Version-1)
		if err != nil || n > 0 {
			return err
		}
		var there int
		if err := x.row(`SELECT version FROM visits WHERE id = ?`, v.ID).Scan(&there); err != nil {
			return err
		}
		return shop.Errorf(shop.Conflict, "this visit was changed meanwhile: it is at version %d; look at it and do it again", there)
	})
}

// VisitFiles lists a visit's files by name.
func (db *DB) VisitFiles(ctx context.Context, id string) ([]shop.VisitFile, error) {
	return list(ctx, db, "file", func(scan scan) (f shop.VisitFile, err error) {
		err = scan(&f.Name, &f.Digest, &f.Bytes, moment{&f.Added}, &f.By)
		return f, err
	}, `SELECT name, digest, bytes, added, made_by FROM visit_files WHERE visit_id = ? ORDER BY name`, id)
}

// VisitContent is a file's bytes.
func (db *DB) VisitContent(ctx context.Context, id, digest string) ([]byte, error) {
	return find(ctx, db, "file", func(scan scan) (b []byte, err error) {
		err = scan(&b)
		return b, err
	}, `SELECT content FROM visit_contents WHERE visit_id = ? AND digest = ?`, id, digest)
}

// KeepVisitFiles puts files in and takes others out.
func (db *DB) KeepVisitFiles(ctx context.Context, id string, put []shop.VisitPut, out []string) error {
	return db.change(ctx, "file", func(x *tx) error {
		for _, name := range out {
			if err := x.one(`DELETE FROM visit_files WHERE visit_id = ? AND name = ?`, id, name); err != nil {
				return err
			}
		}
		return x.putVisitFiles(id, put)
	})
}

func (x *tx) putVisitFiles(id string, files []shop.VisitPut) error {
	for _, f := range files {
		// Bytes that are taken out stay: taking out can be taken back.
		if _, err := x.exec(`INSERT INTO visit_contents (visit_id, digest, content) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`,
			id, f.Digest, f.Content); err != nil {
			return err
		}
		taken := `UPDATE SET digest = excluded.digest, bytes = excluded.bytes, added = excluded.added, made_by = excluded.made_by`
		if f.New {
			taken = `NOTHING`
		}
		n, err := x.exec(`INSERT INTO visit_files (visit_id, name, digest, bytes, added, made_by) VALUES (`+marks(6)+`)
			ON CONFLICT (visit_id, name) DO `+taken, id, f.Name, f.Digest, f.Bytes, micros(f.Added), f.By)
		if err == nil && n == 0 {
			err = shop.Errorf(shop.Conflict, "%s came into the visit meanwhile: look at it and do it again", f.Name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// EraseVisit takes a visit out for good.
func (db *DB) EraseVisit(ctx context.Context, id string) error {
	act, change := shop.ActOf(ctx), int64(0)
	err := db.inOne(ctx, "visit", func(x *tx) (err error) {
		var removed bool
		if err := x.row(`SELECT removed FROM visits WHERE id = ?`, id).Scan(&removed); err != nil {
			return err
		}
		if !removed {
			return shop.Errorf(shop.Conflict, "put the visit away first: what is erased cannot come back")
		}
		for _, s := range []string{
			`DELETE FROM call_pages WHERE visit_id = ?`, `DELETE FROM call_seen WHERE visit_id = ?`, `DELETE FROM visit_files WHERE visit_id = ?`, `DELETE FROM visit_contents WHERE visit_id = ?`, `DELETE FROM visits WHERE id = ?`,
			// Of its rows as they were nothing stays either, nor of those that these leave.
			`DELETE FROM trail WHERE tbl IN ('visits', 'visit_files', 'call_pages') AND was || became LIKE '%"' || ? || '"%'`,
			`UPDATE changes SET name = '', what = '', undoable = 0 WHERE thing = 'visit' AND ref = ?`,
		} {
			if _, err := x.exec(s, id); err != nil {
				return err
			}
		}
		change, err = x.put(`INSERT INTO changes (at, made_by, origin, needs, thing, ref, name, verb, what, things, undoable, undoes)
			VALUES (?, ?, ?, ?, 'visit', ?, '', 'erased', '', 1, 0, 0)`, micros(db.at(act)), act.By, act.From, string(act.Right), id)
		return err
	})
	if err == nil {
		act.Change.Store(change)
	}
	return err
}

const callPageColumns = `visit_id, name, code, most, is_open`

func scanCallPage(scan scan) (*shop.CallPage, error) {
	var p shop.CallPage
	err := scan(&p.Visit, &p.Name, &p.Code, &p.Most, &p.Open)
	return &p, err
}

// CallPage finds the page of a visit's open call.
func (db *DB) CallPage(ctx context.Context, visit, name string) (*shop.CallPage, error) {
	return find(ctx, db, "page of the call", scanCallPage, `SELECT `+callPageColumns+` FROM call_pages WHERE visit_id = ? AND name = ?`, visit, name)
}

// CallPageBy finds one by its code.
func (db *DB) CallPageBy(ctx context.Context, code string) (*shop.CallPage, error) {
	return find(ctx, db, "page of a call", scanCallPage, `SELECT `+callPageColumns+` FROM call_pages WHERE code = ?`, code)
}

// SaveCallPage keeps one in place of what was kept.
func (db *DB) SaveCallPage(ctx context.Context, p *shop.CallPage) error {
	return db.change(ctx, "page of the call", func(x *tx) error {
		_, err := x.exec(`INSERT INTO call_pages (`+callPageColumns+`) VALUES (`+marks(5)+`)
			ON CONFLICT (visit_id, name) DO UPDATE SET code = excluded.code, most = excluded.most, is_open = excluded.is_open`,
			p.Visit, p.Name, p.Code, p.Most, flag(p.Open))
		return err
	})
}

// CallSeen is what somebody has last seen of an open call.
func (db *DB) CallSeen(ctx context.Context, visit, name string) (*shop.CallSeen, error) {
	seen, err := find(ctx, db, "call as it was seen", func(scan scan) (*shop.CallSeen, error) {
		var s shop.CallSeen
		err := scan(&s.Of, &s.Classes)
		return &s, err
	}, `SELECT made_of, classes FROM call_seen WHERE visit_id = ? AND name = ?`, visit, name)
	if shop.CodeOf(err) == shop.NotFound {
		return nil, nil
	}
	return seen, err
}

// SeeCall keeps it.
func (db *DB) SeeCall(ctx context.Context, visit, name string, seen shop.CallSeen) error {
	return db.note(ctx, "call as it was seen", func(x *tx) error {
		_, err := x.exec(`INSERT INTO call_seen (visit_id, name, made_of, classes) VALUES (`+marks(4)+`)
			ON CONFLICT (visit_id, name) DO UPDATE SET made_of = excluded.made_of, classes = excluded.classes`,
			visit, name, seen.Of, seen.Classes)
		return err
	})
}
