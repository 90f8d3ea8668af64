package parts

import (
	"context"
	"database/sql"
	"os"
	"os/exec"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/internal/pgtest"
	"needlepace/jobs"
)

// roundIn is a round that notes in the database when it was begun and done; it is due again after a while.
type roundIn struct {
	db           *sql.DB
	every, takes atomic.Int64 // ns
}

func (r *roundIn) Name() string { return "test" }

func (r *roundIn) Due(ctx context.Context) (at, last time.Time, err error) {
	var us int64
	err = r.db.QueryRowContext(ctx, `SELECT coalesce(max(began), 0) FROM did`).Scan(&us)
	if us == 0 {
		return time.Now(), last, err
	}
	last = time.UnixMicro(us).UTC()
	return last.Add(time.Duration(r.every.Load())), last, err
}

func (r *roundIn) Do(ctx context.Context) error {
	at, last, err := r.Due(ctx)
	if err != nil || at.After(time.Now()) {
		return err
	}
	began := time.Now()
	if _, err := r.db.ExecContext(ctx, `INSERT INTO begun (pid) VALUES ($1)`, os.Getpid()); err != nil {
		return err
	}
	select {
	case <-time.After(time.Duration(r.takes.Load())):
	case <-ctx.Done():
		return ctx.Err()
	}
	_, err = r.db.ExecContext(ctx, `INSERT INTO did (began, last) VALUES ($1, $2)`, began.UnixMicro(), last.UnixMicro())
	return err
}

func newRound(db *sql.DB, every, takes time.Duration) *roundIn {
	r := &roundIn{db: db}
	r.every.Store(int64(every))
	r.takes.Store(int64(takes))
	return r
}

// rounding is a database in which rounds are noted, and what a program needs to do them.
func rounding(t testing.TB, address string, every, takes time.Duration) (*sql.DB, Options) {
	t.Helper()
	db, err := sql.Open("pgx", address)
	must(t, err)
	t.Cleanup(func() { db.Close() }) //nolint:errcheck // a test's
	_, err = db.Exec(`CREATE TABLE IF NOT EXISTS did (n SERIAL, began BIGINT, last BIGINT UNIQUE); CREATE TABLE IF NOT EXISTS begun (pid INT)`)
	must(t, err)
	return db, Options{Build: "b", Rounds: []jobs.Round{newRound(db, every, takes)}}
}

func figure(t testing.TB, db *sql.DB, query string) (n int) {
	t.Helper()
	must(t, db.QueryRow(query).Scan(&n))
	return n
}

func until(t testing.TB, most time.Duration, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(most); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("after %v: %s", most, what)
		}
	}
}

// Three programs of two builds have one round: each time it is done once, by one of them. Killed in its midst it is done by
// another, once; it is nobody's work but theirs, and who works at parts is not taken for one of them.
func TestARoundIsDoneOnceOfMany(t *testing.T) {
	address := pgtest.Database(t)
	db, opt := rounding(t, address, time.Hour, 30*time.Second)
	mine := opt.Rounds[0].(*roundIn)
	self, err := os.Executable()
	must(t, err)
	killed := exec.Command(self)
	killed.Env = append(os.Environ(), "NEEDLEPACE_TEST_ROUND_AT="+address)
	must(t, killed.Start())
	until(t, 20*time.Second, "the first does not begin", func() bool { return figure(t, db, `SELECT count(*) FROM begun`) == 1 })
	mine.takes.Store(int64(20 * time.Millisecond))
	var all []*Parts
	for _, build := range []string{"b", "b", "other"} {
		opt.Build = build
		p, err := Open(bg, address, opt)
		must(t, err)
		defer closed(t, p)
		all = append(all, p)
	}
	time.Sleep(200 * time.Millisecond)
	if n, did := figure(t, db, `SELECT count(*) FROM begun`), figure(t, db, `SELECT count(*) FROM did`); n != 1 || did != 0 {
		t.Fatalf("while one does it, it was begun %d times and done %d times", n, did)
	}
	if there, err := all[0].Present(bg); err != nil || there {
		t.Errorf("who does rounds is taken for who does parts: %v, %v", there, err)
	}
	must(t, killed.Process.Kill())
	_ = killed.Wait()
	r := opt.Rounds[0]
	until(t, 20*time.Second, "what the dead did is not done by another", func() bool {
		must(t, all[0].putUp(bg, r)) // as it is every half minute
		return figure(t, db, `SELECT count(*) FROM did`) == 1
	})
	if n := figure(t, db, `SELECT count(*) FROM begun`); n != 2 {
		t.Errorf("it was begun %d times", n)
	}
	// Due again and again, put up by all of them at once: each time names the one before, which no other does.
	mine.every.Store(int64(60 * time.Millisecond))
	for end := time.Now().Add(1500 * time.Millisecond); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		for _, p := range all {
			go p.putUp(bg, r) //nolint:errcheck // the next time
		}
	}
	mine.every.Store(int64(time.Hour))
	did, begun := figure(t, db, `SELECT count(*) FROM did`), figure(t, db, `SELECT count(*) FROM begun`)
	if did < 5 || begun-1 > did+1 {
		t.Errorf("done %d times, begun %d times", did, begun)
	}
}
