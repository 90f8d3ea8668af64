package dbstore

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"needlepace/shop"
)

const runColumns = `id, machine_id, design_id, date, set_speed, block, seconds, shown, length_mm, zigzag,
		error, step, note, timing_id, added, needles, beside, ignored, predicted, job, heard_id`

func addRuns(x *tx, runs []shop.Run) error {
	for _, r := range runs {
		if _, err := x.exec(`INSERT INTO runs (`+runColumns+`) VALUES (`+marks(21)+`)`,
			r.ID, r.MachineID, sql.NullString{String: r.DesignID, Valid: r.DesignID != ""}, r.Date.String(), r.SetSpeed,
			r.Block, r.Seconds,
			r.Shown, r.LengthMM, flag(r.Zigzag), r.Error, r.Step, r.Note, r.TimingID, micros(r.Added),
			r.Needles, r.With, flag(r.Ignored), doc{r.Predicted}, r.Job, r.HeardID); err != nil {
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
func (db *DB) Runs(ctx context.Context, machineID string) ([]shop.Run, error) {
	return list(ctx, db, "run", func(scan scan) (r shop.Run, err error) {
		var design sql.NullString
		err = scan(&r.ID, &r.MachineID, &design, day{&r.Date}, &r.SetSpeed, &r.Block, &r.Seconds,
			&r.Shown, &r.LengthMM, &r.Zigzag, &r.Error, &r.Step, &r.Note, &r.TimingID, moment{&r.Added},
			&r.Needles, &r.With, &r.Ignored, doc{&r.Predicted}, &r.Job, &r.HeardID)
		r.DesignID = design.String
		return r, err
	}, `SELECT `+runColumns+` FROM runs WHERE machine_id = ? ORDER BY date, added, id`, machineID)
}

// ChangeRuns keeps runs as they are now, all or none.
func (db *DB) ChangeRuns(ctx context.Context, runs []shop.Run) error {
	return db.change(ctx, "run", func(x *tx) error {
		for _, r := range runs {
			if err := x.one(`UPDATE runs SET design_id = ?, date = ?, set_speed = ?, block = ?, seconds = ?, error = ?,
				step = ?, note = ?, needles = ?, beside = ?, ignored = ?, predicted = ?, job = ? WHERE id = ?`,
				sql.NullString{String: r.DesignID, Valid: r.DesignID != ""}, r.Date.String(), r.SetSpeed, r.Block,
				r.Seconds, r.Error, r.Step, r.Note, r.Needles, r.With, flag(r.Ignored), doc{r.Predicted}, r.Job, r.ID); err != nil {
				return err
			}
		}
		return nil
	})
}

// DeleteRun forgets a run.
func (db *DB) DeleteRun(ctx context.Context, id string) error {
	return db.change(ctx, "run", func(x *tx) error { return x.one(`DELETE FROM runs WHERE id = ?`, id) })
}

const timingColumns = `id, machine_id, design_id, set_speed, started, marks, note, done, rev, changed, job, owner, holder`

func scanTiming(scan scan) (*shop.Timing, error) {
	var t shop.Timing
	err := scan(&t.ID, &t.MachineID, &t.DesignID, &t.SetSpeed, moment{&t.Started}, doc{&t.Marks}, &t.Note, &t.Done,
		&t.Rev, moment{&t.Changed}, &t.Job, &t.Owner, &t.Holder)
	return &t, err
}

// SaveTiming keeps a timing as it is now. What is pressed on a watch is taken
// back on the watch.
func (db *DB) SaveTiming(ctx context.Context, t *shop.Timing) error {
	return db.note(ctx, "timing", func(x *tx) error {
		old, err := scanTiming(x.row(`SELECT `+timingColumns+` FROM timings WHERE id = ?`, t.ID).Scan)
		switch {
		case err == sql.ErrNoRows:
		case err != nil:
			return err
		default:
			same := slices.Equal(old.Marks, t.Marks) && old.SetSpeed == t.SetSpeed && old.Job == t.Job && old.Note == t.Note &&
				old.MachineID == t.MachineID && old.DesignID == t.DesignID
			switch {
			case old.Owner != "" && old.Owner != t.Owner && !t.Take && !old.Done:
				return shop.Held(old)
			case same && t.Rev <= old.Rev && !t.Take:
				return nil
			case old.Done:
				return shop.Errorf(shop.Conflict, "this timing is finished and is not changed any more")
			case t.Rev <= old.Rev:
				return shop.Errorf(shop.Conflict, "a newer state of this timing is kept (%d, this is %d)", old.Rev,
					t.Rev)
			}
		}
		_, err = x.exec(`INSERT INTO timings (`+timingColumns+`) VALUES (`+marks(13)+`) ON CONFLICT (id) DO UPDATE SET
			machine_id = excluded.machine_id, design_id = excluded.design_id, set_speed = excluded.set_speed,
		started = excluded.started,
			marks = excluded.marks, note = excluded.note, job = excluded.job, rev = excluded.rev, changed = excluded.changed,
			owner = excluded.owner, holder = excluded.holder`,
			t.ID, t.MachineID, t.DesignID, t.SetSpeed, micros(t.Started), doc{t.Marks}, t.Note, 0, t.Rev,
			micros(t.Changed), t.Job, t.Owner, t.Holder)
		return err
	})
}

// Timing finds a timing.
func (db *DB) Timing(ctx context.Context, id string) (*shop.Timing, error) {
	return find(ctx, db, "timing", scanTiming, `SELECT `+timingColumns+` FROM timings WHERE id = ?`, id)
}

// Timings lists timings, newest first.
func (db *DB) Timings(ctx context.Context, machineID string, open bool, limit int) ([]*shop.Timing, error) {
	where, args := ` WHERE 1 = 1`, []any{}
	if machineID != "" {
		where, args = where+` AND machine_id = ?`, append(args, machineID)
	}
	if open {
		where += ` AND done = 0`
	}
	return list(ctx, db, "timing", scanTiming,
		`SELECT `+timingColumns+` FROM timings`+where+` ORDER BY changed DESC, id LIMIT ?`, append(args, limit)...)
}

// FinishTiming turns a timing into runs.
func (db *DB) FinishTiming(ctx context.Context, id string, runs []shop.Run, at time.Time) error {
	return db.change(ctx, "timing", func(x *tx) error {
		var done bool
		if err := x.row(`SELECT done FROM timings WHERE id = ?`, id).Scan(&done); err != nil {
			return err
		}
		if done {
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
