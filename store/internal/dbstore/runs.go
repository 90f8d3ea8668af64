package dbstore

import (
	"bytes"
	"context"
	"database/sql"
	"time"

	"needlepace/shop"
)

const runColumns = `id, machine_id, design_id, date, set_speed, block, seconds, shown, length_mm, zigzag, error, step, note, timing_id, added`

func addRuns(x *tx, runs []shop.Run) error {
	for _, r := range runs {
		if _, err := x.exec(`INSERT INTO runs (`+runColumns+`) VALUES (`+marks(15)+`)`,
			r.ID, r.MachineID, sql.NullString{String: r.DesignID, Valid: r.DesignID != ""}, r.Date.String(), r.SetSpeed, r.Block, r.Seconds,
			r.Shown, r.LengthMM, flag(r.Zigzag), r.Error, r.Step, r.Note, r.TimingID, micros(r.Added)); err != nil {
			return err
		}
	}
	return nil
}

// AddRuns keeps runs, all or none.
func (db *DB) AddRuns(ctx context.Context, runs []shop.Run) error {
	return db.change(ctx, "run", func(x *tx) error { return addRuns(x, runs) })
}

// Runs lists a machine's runs, oldest first.
func (db *DB) Runs(ctx context.Context, machineID string) (all []shop.Run, err error) {
	err = db.each(ctx, func(scan func(...any) error) error {
		var r shop.Run
		var design sql.NullString
		var added int64
		var zigzag int
		if err := scan(&r.ID, &r.MachineID, &design, day{&r.Date}, &r.SetSpeed, &r.Block, &r.Seconds,
			&r.Shown, &r.LengthMM, &zigzag, &r.Error, &r.Step, &r.Note, &r.TimingID, &added); err != nil {
			return err
		}
		r.DesignID, r.Added, r.Zigzag = design.String, fromMicros(added), zigzag != 0
		all = append(all, r)
		return nil
	}, `SELECT `+runColumns+` FROM runs WHERE machine_id = ? ORDER BY date, added, id`, machineID)
	return all, db.tell(err, "run")
}

// DeleteRun forgets a run.
func (db *DB) DeleteRun(ctx context.Context, id string) error {
	return db.change(ctx, "run", func(x *tx) error { return x.one(`DELETE FROM runs WHERE id = ?`, id) })
}

const timingColumns = `id, machine_id, design_id, set_speed, started, marks, note, done, rev, changed`

func scanTiming(scan func(...any) error) (*shop.Timing, error) {
	var t shop.Timing
	var started, changed int64
	var done int
	var presses string
	if err := scan(&t.ID, &t.MachineID, &t.DesignID, &t.SetSpeed, &started, &presses, &t.Note, &done, &t.Rev, &changed); err != nil {
		return nil, err
	}
	t.Started, t.Changed, t.Done = fromMicros(started), fromMicros(changed), done != 0
	return &t, fromJSON(presses, "timing", &t.Marks)
}

// SaveTiming keeps a timing as it is now.
func (db *DB) SaveTiming(ctx context.Context, t *shop.Timing) error {
	presses, err := toJSON(t.Marks)
	if err != nil {
		return err
	}
	return db.change(ctx, "timing", func(x *tx) error {
		old, err := scanTiming(x.row(`SELECT `+timingColumns+` FROM timings WHERE id = ?`, t.ID).Scan)
		switch {
		case err == sql.ErrNoRows:
		case err != nil:
			return err
		default:
			was, err := toJSON(old.Marks)
			if err != nil {
				return err
			}
			same := bytes.Equal([]byte(was), []byte(presses)) && old.SetSpeed == t.SetSpeed && old.Note == t.Note &&
				old.MachineID == t.MachineID && old.DesignID == t.DesignID
			switch {
			case same && t.Rev <= old.Rev:
				return nil
			case old.Done:
				return shop.Errorf(shop.Conflict, "this timing is finished and is not changed any more")
			case t.Rev <= old.Rev:
				return shop.Errorf(shop.Conflict, "a newer state of this timing is kept (%d, this is %d)", old.Rev, t.Rev)
			}
		}
		_, err = x.exec(`INSERT INTO timings (`+timingColumns+`) VALUES (`+marks(10)+`) ON CONFLICT (id) DO UPDATE SET
			machine_id = excluded.machine_id, design_id = excluded.design_id, set_speed = excluded.set_speed, started = excluded.started,
			marks = excluded.marks, note = excluded.note, rev = excluded.rev, changed = excluded.changed`,
			t.ID, t.MachineID, t.DesignID, t.SetSpeed, micros(t.Started), presses, t.Note, 0, t.Rev, micros(t.Changed))
		return err
	})
}

// Timing finds a timing.
func (db *DB) Timing(ctx context.Context, id string) (*shop.Timing, error) {
	t, err := scanTiming(db.row(ctx, `SELECT `+timingColumns+` FROM timings WHERE id = ?`, id).Scan)
	return t, db.tell(err, "timing")
}

// Timings lists timings, newest first.
func (db *DB) Timings(ctx context.Context, machineID string, open bool, limit int) (all []*shop.Timing, err error) {
	where, args := ` WHERE 1 = 1`, []any{}
	if machineID != "" {
		where, args = where+` AND machine_id = ?`, append(args, machineID)
	}
	if open {
		where += ` AND done = 0`
	}
	err = db.each(ctx, func(scan func(...any) error) error {
		t, err := scanTiming(scan)
		all = append(all, t)
		return err
	}, `SELECT `+timingColumns+` FROM timings`+where+` ORDER BY changed DESC, id LIMIT ?`, append(args, limit)...)
	return all, db.tell(err, "timing")
}

// FinishTiming turns a timing into runs.
func (db *DB) FinishTiming(ctx context.Context, id string, runs []shop.Run, at time.Time) error {
	return db.change(ctx, "timing", func(x *tx) error {
		var done int
		if err := x.row(`SELECT done FROM timings WHERE id = ?`, id).Scan(&done); err != nil {
			return err
		}
		if done != 0 {
			return shop.Errorf(shop.Conflict, "this timing is finished already")
		}
		if err := x.one(`UPDATE timings SET done = 1, changed = ? WHERE id = ?`, micros(at), id); err != nil {
			return err
		}
		return addRuns(x, runs)
	})
}

// DeleteTiming forgets a timing; runs it became stay.
func (db *DB) DeleteTiming(ctx context.Context, id string) error {
	return db.change(ctx, "timing", func(x *tx) error { return x.one(`DELETE FROM timings WHERE id = ?`, id) })
}
