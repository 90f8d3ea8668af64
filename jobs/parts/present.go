package parts

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"needlepace/shop"
)

// A program that does parts holds a lock of its own for each queue in the database as long as it lives:
// the server lets go of it when the program's connection ends, however it ends. So others
// see who is there, without clocks.
const (
	// mine is the lock's first half, of all programs that do what is in a queue ($1) of a shop.
	mine  = `hashtext('needlepace work ' || coalesce(current_schema(), '') || $1)`
	holds = `EXISTS (SELECT FROM pg_locks WHERE locktype = 'advisory' AND objsubid = 2 AND database = (SELECT oid FROM pg_database WHERE datname = current_database())
		AND classid = (` + mine + `::bigint & 4294967295)::oid`
)

// showAgain is how often a program looks whether it still holds its lock.
const showAgain = time.Second

// show has this program seen by others until it is ended.
func (p *Parts) show(ctx context.Context, id string, queues []string) (end func(), err error) {
	hold := func(ctx context.Context) (*pgx.Conn, error) {
		c, err := pgx.ConnectConfig(ctx, p.pool.Config().ConnConfig)
		if err != nil {
			return nil, err
		}
		for _, q := range queues {
			if _, err := c.Exec(ctx, `SELECT pg_advisory_lock_shared(`+mine+`, hashtext($2))`, q, id); err != nil {
				c.Close(ctx) //nolint:errcheck // the error that counts is the lock's
				return nil, err
			}
		}
		return c, nil
	}
	c, err := hold(ctx)
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for {
			select {
			case <-ctx.Done():
				if c != nil {
					c.Close(context.WithoutCancel(ctx)) //nolint:errcheck // it ends anyway
				}
				return
			case <-time.After(showAgain):
			}
			if c != nil && c.Ping(ctx) != nil && ctx.Err() == nil {
				c.Close(ctx) //nolint:errcheck // it is gone
				c = nil
			}
			if c == nil {
				c, _ = hold(ctx) // else the next time
			}
		}
	}()
	return func() { stop(); <-ended }, nil
}

// Present reports whether somebody does parts of this build.
func (p *Parts) Present(ctx context.Context) (there bool, err error) {
	err = p.pool.QueryRow(ctx, `SELECT `+holds+`)`, queue(p.opt.Build)).Scan(&there)
	if err != nil {
		return false, &shop.Error{Code: shop.Storage, Text: "who works cannot be read; try again", Err: err}
	}
	return there, nil
}

// Recover gives parts of work whose program has died to others.
func (p *Parts) Recover(ctx context.Context, id string) error {
	return p.recover(ctx, queue(p.opt.Build), id)
}

// recover is Recover for work in a queue.
func (p *Parts) recover(ctx context.Context, queue, id string) error {
	_, err := p.pool.Exec(ctx, `UPDATE river_job SET state = CASE WHEN attempt < max_attempts THEN 'available'::river_job_state ELSE 'discarded' END,
		scheduled_at = now(), finalized_at = CASE WHEN attempt < max_attempts THEN NULL ELSE now() END
		WHERE metadata @> jsonb_build_object('work', $2::text) AND state = 'running'
		AND NOT `+holds+` AND objid = (hashtext(attempted_by[array_upper(attempted_by, 1)])::bigint & 4294967295)::oid)`, queue, id)
	if err != nil {
		return &shop.Error{Code: shop.Storage, Text: "what the dead left cannot be given to others; try again", Err: err}
	}
	return nil
}
