package dbstore

import (
	"context"
	"encoding/json"
	"time"

	"needlepace/shop"
)

// Rounds are all that were ever done.
func (db *DB) Rounds(ctx context.Context) ([]shop.Round, error) {
	return list(ctx, db, "round", func(scan scan) (r shop.Round, err error) {
		var name, place, came string
		var began, ended time.Time
		if err = scan(&name, &place, moment{&began}, moment{&ended}, &came); err != nil {
			return r, err
		}
		if json.Unmarshal([]byte(came), &r) != nil { // of a program that is no more: it is done anew
			r = shop.Round{}
		}
		r.Name, r.Place, r.Began, r.Ended = name, place, began, ended
		return r, nil
	}, `SELECT name, place, began, ended, came FROM rounds ORDER BY name, place`)
}

// KeepRound keeps how one went.
func (db *DB) KeepRound(ctx context.Context, r *shop.Round, before time.Time) error {
	b, err := json.Marshal(r)
	if err != nil {
		return err
	}
	came := string(b)
	if db.Clean != nil {
		came = db.Clean(came)
	}
	return db.inOne(ctx, "round", func(x *tx) error {
		var n int64
		var err error
		if before.IsZero() {
			n, err = x.exec(`INSERT INTO rounds (name, place, began, ended, came) VALUES (?, ?, ?, ?, ?) ON CONFLICT (name, place) DO NOTHING`,
				r.Name, r.Place, micros(r.Began), micros(r.Ended), came)
		} else {
			n, err = x.exec(`UPDATE rounds SET began = ?, ended = ?, came = ? WHERE name = ? AND place = ? AND began = ?`,
				micros(r.Began), micros(r.Ended), came, r.Name, r.Place, micros(before))
		}
		if err == nil && n == 0 {
			err = shop.Errorf(shop.Conflict, "another program did this meanwhile")
		}
		return err
	})
}

// DropRounds forgets the rounds of a name that began before a time.
func (db *DB) DropRounds(ctx context.Context, name string, before time.Time) error {
	return db.inOne(ctx, "round", func(x *tx) error {
		_, err := x.exec(`DELETE FROM rounds WHERE name = ? AND began < ?`, name, micros(before))
		return err
	})
}
