package dbstore

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"needlepace/shop"
	"needlepace/telling"
)

const toldColumns = `boot, seq, kind, run, at, got, stitch, design, speed, cause`

func scanTold(scan scan) (telling.Event, error) {
	e := telling.Event{Form: telling.Form}
	var at int64
	err := scan(&e.Boot, &e.Seq, &e.Kind, &e.Run, &at, moment{&e.Got}, &e.Stitch, &e.Design, &e.Speed, &e.Cause)
	if at != 0 {
		e.At = time.UnixMicro(at).UTC()
	}
	return e, err
}

// KeepTold keeps an event of a machine.
func (db *DB) KeepTold(ctx context.Context, machineID string, e *telling.Event) (fresh, other bool, err error) {
	err = db.inOne(ctx, "event", func(x *tx) error {
		fresh, other = false, false
		at := int64(0)
		if !e.At.IsZero() {
			at = micros(e.At)
		}
		n, err := x.exec(`INSERT INTO told_events (machine_id, `+toldColumns+`) VALUES (`+marks(11)+`)
			ON CONFLICT (machine_id, boot, seq) DO NOTHING`, machineID, e.Boot, e.Seq, string(e.Kind), e.Run, at, micros(e.Got),
			e.Stitch, e.Design, e.Speed, string(e.Cause))
		if err != nil || n > 0 {
			fresh = err == nil
			return err
		}
		was, err := scanTold(x.row(`SELECT `+toldColumns+` FROM told_events WHERE machine_id = ? AND boot = ? AND seq = ?`,
			machineID, e.Boot, e.Seq).Scan)
		is := *e
		was.Got, is.Got = time.Time{}, time.Time{}
		other = was != is
		return err
	})
	return fresh, other, err
}

// ToldRun are all events of a run.
func (db *DB) ToldRun(ctx context.Context, machineID, boot, run string) ([]telling.Event, time.Duration, error) {
	all, err := list(ctx, db, "event", scanTold, `SELECT `+toldColumns+` FROM told_events
		WHERE machine_id = ? AND boot = ? AND run = ? ORDER BY n`, machineID, boot, run)
	if err != nil {
		return nil, 0, err
	}
	least, err := find(ctx, db, "event", func(scan scan) (n sql.NullInt64, err error) {
		err = scan(&n)
		return n, err
	}, `SELECT min(got - at) FROM told_events WHERE machine_id = ? AND boot = ? AND at <> 0`, machineID, boot)
	return all, time.Duration(least.Int64) * time.Microsecond, err
}

func scanToldAt(scan scan) (a shop.ToldAt, err error) {
	err = scan(&a.MachineID, &a.Boot, &a.Run, &a.N)
	return a, err
}

// ToldLast is each machine's latest run.
func (db *DB) ToldLast(ctx context.Context, since time.Time) ([]shop.ToldAt, error) {
	// A message that came late is not the latest of its boot: the boot is that of the
	// newest, the run that of the highest number in it.
	return list(ctx, db, "event", scanToldAt, `SELECT e.machine_id, e.boot, e.run, m.n FROM
		(SELECT machine_id, max(n) AS n FROM told_events WHERE got > ? GROUP BY machine_id) m
		JOIN told_events l ON l.n = m.n
		JOIN told_events e ON e.machine_id = l.machine_id AND e.boot = l.boot
			AND e.seq = (SELECT max(seq) FROM told_events x WHERE x.machine_id = l.machine_id AND x.boot = l.boot)
		ORDER BY e.machine_id`, micros(since))
}

// ToldEnds are the runs of a machine that ended.
func (db *DB) ToldEnds(ctx context.Context, machineID string, since time.Time) ([]shop.ToldAt, error) {
	return list(ctx, db, "event", scanToldAt, `SELECT machine_id, boot, run, n FROM told_events
		WHERE got > ? AND machine_id = ? AND kind = 'finished' ORDER BY n`, micros(since), machineID)
}

// apartBytes is how much of a message that cannot be used is kept.
const apartBytes = 16 << 10

// KeepApart keeps a message that cannot be used.
func (db *DB) KeepApart(ctx context.Context, a shop.ToldApart) error {
	id := shop.Digest([]byte(a.Topic + "\x00" + a.Why + "\x00" + string(a.Payload)))
	payload := a.Payload[:min(len(a.Payload), apartBytes)]
	if payload == nil {
		payload = []byte{}
	}
	return db.inOne(ctx, "message", func(x *tx) error {
		clean := func(s string) string {
			if db.Clean != nil {
				return db.Clean(s)
			}
			return s
		}
		if _, err := x.exec(`INSERT INTO told_apart (digest, topic, payload, why, got, times) VALUES (?, ?, ?, ?, ?, 1)
			ON CONFLICT (digest) DO UPDATE SET got = excluded.got, times = told_apart.times + 1`, id, clean(a.Topic), payload,
			clean(a.Why), micros(a.Got)); err != nil {
			return err
		}
		var oldest int64
		err := x.row(`SELECT got FROM told_apart ORDER BY got DESC LIMIT 1 OFFSET ?`, shop.KeptApart).Scan(&oldest)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err == nil {
			_, err = x.exec(`DELETE FROM told_apart WHERE got <= ?`, oldest)
		}
		return err
	})
}

// Apart are messages that cannot be used.
func (db *DB) Apart(ctx context.Context, limit int) ([]shop.ToldApart, int, error) {
	all, err := list(ctx, db, "message", func(scan scan) (a shop.ToldApart, err error) {
		err = scan(&a.Topic, &a.Payload, &a.Why, moment{&a.Got}, &a.Times)
		return a, err
	}, `SELECT topic, payload, why, got, times FROM told_apart ORDER BY got DESC, digest LIMIT ?`, limit)
	if err != nil {
		return nil, 0, err
	}
	total, err := find(ctx, db, "message", func(scan scan) (n int, err error) {
		err = scan(&n)
		return n, err
	}, `SELECT COALESCE(sum(times), 0) FROM told_apart`)
	return all, total, err
}

// DropTold forgets what is old.
func (db *DB) DropTold(ctx context.Context, counts, all time.Time) error {
	return db.inOne(ctx, "event", func(x *tx) error {
		if _, err := x.exec(`DELETE FROM told_events WHERE got < ? AND kind = 'count'`, micros(counts)); err != nil {
			return err
		}
		_, err := x.exec(`DELETE FROM told_events WHERE got < ?`, micros(all))
		return err
	})
}
