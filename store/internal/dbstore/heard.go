package dbstore

import (
	"context"

	"needlepace/book"
	"needlepace/shop"
)

const heardColumns = `id, machine_id, design_id, recording, day, set_speed, stitches, breaks, doubtful, made_by, added`

// AddHeard keeps a recording and the runs that were heard in it. One that was dropped may come again: its runs
// take the place of those that were kept before.
func (db *DB) AddHeard(ctx context.Context, h *book.Heard, runs []shop.Run) error {
	return db.change(ctx, "recording", func(x *tx) error {
		n, err := x.exec(`INSERT INTO heard (`+heardColumns+`) VALUES (`+marks(11)+`)
			ON CONFLICT (machine_id, recording) DO UPDATE SET design_id = excluded.design_id, day = excluded.day,
				set_speed = excluded.set_speed, stitches = excluded.stitches, breaks = excluded.breaks, doubtful = excluded.doubtful,
				made_by = excluded.made_by, added = excluded.added, dropped = 0, turned = heard.turned + 1
			WHERE heard.dropped = 1`,
			h.ID, h.MachineID, h.DesignID, h.Recording, h.Day.String(), h.SetSpeed, h.Stitches, h.Breaks, h.Doubtful, h.By,
			micros(h.Added))
		if err != nil {
			return err
		}
		if n == 0 {
			return shop.KeptBefore()
		}
		// One that was dropped and comes again is what it was.
		if err := x.row(`SELECT id FROM heard WHERE machine_id = ? AND recording = ?`, h.MachineID, h.Recording).Scan(&h.ID); err != nil {
			return err
		}
		if _, err := x.exec(`DELETE FROM runs WHERE heard_id = ?`, h.ID); err != nil {
			return err
		}
		for i := range runs {
			runs[i].HeardID = h.ID
		}
		return addRuns(x, runs)
	})
}

// Heard lists the recordings that were kept, oldest first.
func (db *DB) Heard(ctx context.Context) ([]book.Heard, error) {
	return list(ctx, db, "recording", func(scan scan) (h book.Heard, err error) {
		err = scan(&h.ID, &h.MachineID, &h.DesignID, &h.Recording, day{&h.Day}, &h.SetSpeed, &h.Stitches, &h.Breaks, &h.Doubtful,
			&h.By, moment{&h.Added})
		return h, err
	}, `SELECT `+heardColumns+` FROM heard WHERE dropped = 0 ORDER BY added, id`)
}

// DeleteHeardRuns forgets the runs that were heard in a recording.
func (db *DB) DeleteHeardRuns(ctx context.Context, id string) error {
	return db.change(ctx, "recording", func(x *tx) error {
		n, err := x.exec(`DELETE FROM runs WHERE heard_id = ? AND heard_id <> ''`, id)
		if err == nil && n == 0 {
			err = errNone
		}
		return err
	})
}

// DropHeard forgets a recording; runs that were heard in it stay.
func (db *DB) DropHeard(ctx context.Context, id string) error {
	return db.change(ctx, "recording", func(x *tx) error {
		return x.one(`UPDATE heard SET dropped = 1, turned = turned + 1 WHERE id = ? AND dropped = 0`, id)
	})
}
