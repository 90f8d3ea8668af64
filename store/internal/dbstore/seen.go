package dbstore

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"needlepace/book"
	"needlepace/shop"
)

// Revision counts what was changed.
func (db *DB) Revision(ctx context.Context) (shop.Revision, error) {
	return shop.RevisionOf(ctx, func(ctx context.Context) (r shop.Revision, err error) {
		counts := map[string]*int64{"added": &r.Added, "designs": &r.Designs, "machines": &r.Machines, "orders": &r.Orders,
			"reports": &r.Reports, "plans": &r.Plans, "setups": &r.Setups, "told": &r.Told, "rest": &r.Rest, "visits": &r.Visits}
		err = db.each(ctx, func(scan scan) error {
			var kind string
			var n int64
			err := scan(&kind, &n)
			if p := counts[kind]; p != nil {
				*p = n
			}
			return err
		}, `SELECT kind, n FROM revisions`)
		return r, db.tell(err, "state")
	})
}

// Seen is the state of what answers about orders are made from.
func (db *DB) Seen(ctx context.Context) (book.Seen, error) {
	return db.seen.Get(ctx, db, func(ctx context.Context) (book.Seen, error) {
		s, err := seenBy(ctx, db.read())
		return s, db.tell(err, "state")
	})
}

func seenBy(ctx context.Context, q asker) (s book.Seen, err error) {
	counts := ""
	if counts, err = listed(ctx, q, `SELECT
		COALESCE((SELECT version FROM setups WHERE id = ?), 0) + 1,
		COALESCE((SELECT MAX(version) FROM plans), 0) + 1,
		(SELECT count(*) + COALESCE(SUM(turned), 0) FROM order_reports) +
			(SELECT count(*) + COALESCE(SUM(turned), 0) FROM heard) + 1`, shop.WorkshopID); err != nil {
		return s, err
	}
	if _, err = fmt.Sscan(counts, &s.Workshop, &s.Plan, &s.Reports); err != nil {
		return s, err
	}
	orders, err := listed(ctx, q, `SELECT id, version, 0 FROM orders WHERE state IN (?, ?) ORDER BY id`,
		string(book.Agreed), string(book.Sewing))
	if err != nil {
		return s, err
	}
	machines, err := listed(ctx, q, `SELECT id, version, name FROM machines WHERE removed = 0 ORDER BY id`)
	s.Orders, s.Machines = digest(orders), digest(machines)
	return s, err
}

// listed is what a query of three columns gives, row by row.
func listed(ctx context.Context, q asker, query string, args ...any) (string, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return "", err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	var out []byte
	for rows.Next() {
		var a, b, c any
		if err := rows.Scan(&a, &b, &c); err != nil {
			return "", err
		}
		out = fmt.Appendln(out, a, b, c)
	}
	return string(out), rows.Err()
}

// digest is short enough for an address and long enough that two states never
// share one.
func digest(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:8])
}
