package parts

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/internal/pgtest"
	"needlepace/jobs"
	"needlepace/shop"
)

var bg = context.Background()

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err, errors.Unwrap(err))
	}
}

// TestMain lets the test program be the worker that is killed.
func TestMain(m *testing.M) {
	if address := os.Getenv("NEEDLEPACE_TEST_WORK_AT"); address != "" {
		if _, err := Open(bg, address, countingOptions(address)); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		select {}
	}
	if address := os.Getenv("NEEDLEPACE_TEST_HEAVY_AT"); address != "" {
		if _, err := Open(bg, address, slowly(address, time.Hour)); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		select {}
	}
	if address := os.Getenv("NEEDLEPACE_TEST_KINDS_AT"); address != "" {
		if _, err := Open(bg, address, Options{Build: "b", Slots: 1, Longest: time.Minute, Do: map[string]Do{Heavy: DoHeavy(nil)}}); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		select {}
	}
	if address := os.Getenv("NEEDLEPACE_TEST_ROUND_AT"); address != "" {
		db, err := sql.Open("pgx", address)
		if err == nil {
			_, err = Open(bg, address, Options{Build: "b", Rounds: []jobs.Round{newRound(db, time.Hour, time.Hour)}})
		}
		if err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		select {}
	}
	os.Exit(m.Run())
}

// countingOptions make a worker whose part n adds a row n, and takes a while.
func countingOptions(address string) Options {
	db, err := sql.Open("pgx", address)
	if err != nil {
		panic(err)
	}
	return Options{Build: "b", Slots: 2, Longest: time.Second, Do: map[string]Do{"count": func(ctx context.Context, part json.RawMessage, _ func(done, of float64)) (any, error) {
		time.Sleep(20 * time.Millisecond)
		_, err := db.ExecContext(ctx, `INSERT INTO counted (n) VALUES ($1) ON CONFLICT (n) DO UPDATE SET times = counted.times + 1`, string(part))
		return nil, err
	}}}
}

func closed(t *testing.T, p *Parts) {
	t.Helper()
	ctx, cancel := context.WithTimeout(bg, 10*time.Second)
	defer cancel()
	must(t, p.Close(ctx))
}

func wait(t *testing.T, p *Parts, id string, most time.Duration) jobs.Work {
	t.Helper()
	for until := time.Now().Add(most); ; time.Sleep(20 * time.Millisecond) {
		w, err := p.Look(bg, id)
		must(t, err)
		if w.State != jobs.Waiting && w.State != jobs.Running {
			return w
		}
		if time.Now().After(until) {
			t.Fatalf("not done: %+v", w)
		}
	}
}

// Two programs share the parts; each part is done, one that failed again; what is
// stopped is not done, and what fails for good is said.
func TestPartsAreShared(t *testing.T) {
	address := pgtest.Database(t)
	var mu sync.Mutex
	did := map[string]int{}
	by := [2]int{}
	var hold atomic.Bool
	both := make(chan struct{}) // both are there
	opt := func(who int) Options {
		return Options{Build: "b", Slots: 2, Do: map[string]Do{
			"flaky": func(_ context.Context, part json.RawMessage, _ func(done, of float64)) (any, error) {
				<-both
				time.Sleep(5 * time.Millisecond)
				mu.Lock()
				defer mu.Unlock()
				did[string(part)]++
				by[who]++
				if string(part) == "7" && did["7"] == 1 {
					return "nothing yet", errors.New("the first time it fails")
				}
				if string(part) == "8" {
					return nil, nil
				}
				return []string{"did " + string(part)}, nil
			},
			"slow": func(ctx context.Context, _ json.RawMessage, _ func(done, of float64)) (any, error) {
				hold.Store(true)
				<-ctx.Done()
				return nil, ctx.Err()
			},
		}}
	}
	asker, err := Open(bg, address, Options{Build: "b"})
	must(t, err)
	defer closed(t, asker)
	var all []int
	for n := range 60 {
		all = append(all, n)
	}
	id, err := Begin(bg, asker, "flaky", 0, all)
	must(t, err)
	if w, err := asker.Look(bg, id); err != nil || w.State != jobs.Waiting || w.Progress != 0 {
		t.Errorf("%+v, %v", w, err)
	}
	for who := range 2 {
		p, err := Open(bg, address, opt(who))
		must(t, err)
		defer closed(t, p)
	}
	time.AfterFunc(time.Second, func() { close(both) })
	stranger, err := Open(bg, address, Options{Build: "other", Slots: 2}) // another build takes no part
	must(t, err)
	defer closed(t, stranger)
	w := wait(t, asker, id, 30*time.Second)
	came, err := asker.Outputs(bg, id)
	must(t, err)
	if len(came) != len(all)-1 || string(came[7]) != `["did 7"]` || string(came[8]) != `["did 9"]` {
		t.Errorf("of the parts came %s", came)
	}
	mu.Lock()
	if w.State != jobs.Done || w.Progress != 1 || len(did) != len(all) || did["7"] != 2 || !strings.Contains(w.Text, "1 tried again") {
		t.Errorf("%+v; did %v", w, did)
	}
	for n, times := range did {
		if times != 1 && n != "7" {
			t.Errorf("part %s was done %d times", n, times)
		}
	}
	if by[0] == 0 || by[1] == 0 {
		t.Errorf("they did %v parts: not shared", by)
	}
	mu.Unlock()

	id, err = Begin(bg, asker, "slow", 0, all)
	must(t, err)
	for !hold.Load() {
		time.Sleep(5 * time.Millisecond)
	}
	must(t, asker.Stop(bg, id))
	if w := wait(t, asker, id, 20*time.Second); w.State != jobs.Cancel {
		t.Errorf("stopped: %+v", w)
	}
	id, err = Begin(bg, asker, "unknown", 0, all[:2])
	must(t, err)
	if w := wait(t, asker, id, 20*time.Second); w.State != jobs.Failed || !strings.Contains(w.Error.Text, "knows no work called unknown") {
		t.Errorf("an unknown kind: %+v", w)
	}
	if err := asker.Stop(bg, "nothing"); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("stopping what is not there: %v", err)
	}
}

// A worker killed at any time loses no part, and none is counted twice.
func TestAKilledWorkerLosesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("River looks for the parts of the dead every half minute")
	}
	address := pgtest.Database(t)
	db, err := sql.Open("pgx", address)
	must(t, err)
	defer db.Close() //nolint:errcheck // a test's
	_, err = db.Exec(`CREATE TABLE counted (n TEXT PRIMARY KEY, times INT NOT NULL DEFAULT 1)`)
	must(t, err)
	asker, err := Open(bg, address, Options{Build: "b"})
	must(t, err)
	defer closed(t, asker)
	const n = 150
	var all []int
	for k := range n {
		all = append(all, k)
	}
	id, err := Begin(bg, asker, "count", 0, all)
	must(t, err)
	self, err := os.Executable()
	must(t, err)
	for round := range 5 {
		cmd := exec.Command(self)
		cmd.Env = append(os.Environ(), "NEEDLEPACE_TEST_WORK_AT="+address)
		must(t, cmd.Start())
		for begun := false; !begun; time.Sleep(5 * time.Millisecond) {
			must(t, db.QueryRow(`SELECT count(*) > $1 FROM counted`, round*10).Scan(&begun))
		}
		time.Sleep(time.Duration(7*round) * time.Millisecond)
		must(t, cmd.Process.Kill())
		_ = cmd.Wait() // killed
	}
	var left, running int
	must(t, db.QueryRow(`SELECT count(*) FILTER (WHERE state <> 'completed'), count(*) FILTER (WHERE state = 'running') FROM river_job`).Scan(&left, &running))
	if left == 0 || running == 0 {
		t.Fatalf("%d parts left, %d of them under way: nothing was shown", left, running)
	}
	last, err := Open(bg, address, countingOptions(address))
	must(t, err)
	defer closed(t, last)
	w := wait(t, asker, id, 100*time.Second)
	var rows, done, twice int
	must(t, db.QueryRow(`SELECT count(*), count(*) FILTER (WHERE times > 1) FROM counted`).Scan(&rows, &twice))
	must(t, db.QueryRow(`SELECT count(*) FROM river_job WHERE state = 'completed'`).Scan(&done))
	if w.State != jobs.Done || rows != n || done != n {
		t.Errorf("%+v: %d rows, %d parts done of %d", w, rows, done, n)
	}
	t.Logf("5 kills, %d parts were under way at the last; %d of %d were done again after a kill, each is counted once", running, twice, n)
}
