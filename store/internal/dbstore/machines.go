package dbstore

import (
	"context"

	"needlepace/shop"
)

const versionColumns = `v.machine_id, v.version, v.origin, v.parent, v.note, v.made_by, v.made, v.digest, v.toml`

func scanVersion(scan scan, before ...any) (v shop.SheetVersion, err error) {
	err = scan(append(before, &v.MachineID, &v.Version, &v.Origin, &v.Parent, &v.Note, &v.By, moment{&v.Made},
		&v.Digest, &v.TOML)...)
	return v, err
}

func addVersion(x *tx, v shop.SheetVersion) error {
	_,
		err := x.exec(`INSERT INTO sheet_versions (machine_id, version, origin, parent, note, made_by, made,
		digest, toml) VALUES (`+marks(9)+`)`,
		v.MachineID, v.Version, string(v.Origin), v.Parent, v.Note, v.By, micros(v.Made), v.Digest, v.TOML)
	return err
}

// AddMachine keeps a new machine with its first sheet.
func (db *DB) AddMachine(ctx context.Context, m *shop.Machine, first shop.SheetVersion) error {
	return db.change(ctx, "machine", func(x *tx) error {
		if _,
			err := x.exec(`INSERT INTO machines (id, name, name_key, version, added, removed) VALUES (?, ?, ?,
		?, ?, 0)`,
			m.ID, m.Name, sortKey(m.Name), first.Version, micros(m.Added)); err != nil {
			return err
		}
		return addVersion(x, first)
	})
}

const machineColumns = `m.id, m.name, m.version, m.added, m.removed`

func scanMachine(scan scan) (*shop.Machine, shop.SheetVersion, error) {
	var m shop.Machine
	v, err := scanVersion(scan, &m.ID, &m.Name, &m.Version, moment{&m.Added}, &m.Removed)
	m.Digest, m.Changed = v.Digest, v.Made
	return &m, v, err
}

const presentSheets = `SELECT ` + machineColumns + `, ` + versionColumns + `
	FROM machines m JOIN sheet_versions v ON v.machine_id = m.id AND v.version = m.version`

// Machine finds a machine and its present sheet.
func (db *DB) Machine(ctx context.Context, id string) (*shop.Machine, shop.SheetVersion, error) {
	m, v, err := scanMachine(db.row(ctx, presentSheets+` WHERE m.id = ?`, id).Scan)
	if err != nil {
		return nil, v, db.tell(err, "machine")
	}
	return m, v, nil
}

// Machines lists the machines.
func (db *DB) Machines(ctx context.Context) (all []*shop.Machine, sheets []shop.SheetVersion, err error) {
	err = db.each(ctx, func(scan scan) error {
		m, v, err := scanMachine(scan)
		all, sheets = append(all, m), append(sheets, v)
		return err
	}, presentSheets+` WHERE m.removed = 0 ORDER BY m.name_key, m.id`)
	return all, sheets, db.tell(err, "machine")
}

// AddVersion puts a new sheet on a machine.
func (db *DB) AddVersion(ctx context.Context, v shop.SheetVersion, name string) error {
	return db.change(ctx, "machine", func(x *tx) error {
		n, err := x.exec(`UPDATE machines SET version = ?, name = ?, name_key = ? WHERE id = ? AND version = ?`,
			v.Version, name, sortKey(name), v.MachineID, v.Version-1)
		if err != nil {
			return err
		}
		if n == 0 {
			var there int
			if err := x.row(`SELECT version FROM machines WHERE id = ?`, v.MachineID).Scan(&there); err != nil {
				return err
			}
			return shop.Errorf(shop.Conflict,
				"the sheet was changed meanwhile: it is at version %d; look at it and do it again", there)
		}
		return addVersion(x, v)
	})
}

// Versions is a machine's history, newest first.
func (db *DB) Versions(ctx context.Context, machineID string) (all []shop.SheetVersion, err error) {
	err = db.each(ctx, func(scan scan) error {
		v, err := scanVersion(scan)
		all = append(all, v)
		return err
	}, `SELECT `+versionColumns+` FROM sheet_versions v WHERE v.machine_id = ? ORDER BY v.version DESC`, machineID)
	if err == nil && len(all) == 0 {
		err = errNone
	}
	return all, db.tell(err, "machine")
}

// RemoveMachine takes a machine off the list, or puts it back.
func (db *DB) RemoveMachine(ctx context.Context, id string, removed bool) error {
	return db.change(ctx, "machine", func(x *tx) error {
		return x.one(`UPDATE machines SET removed = ? WHERE id = ?`, flag(removed), id)
	})
}
