package parts

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/internal/pgtest"
	"needlepace/machine"
	"needlepace/stitch"
)

// slowly is a worker's heavy part that echoes what it is asked, after a while; each beginning is counted.
func slowly(address string, takes time.Duration) Options {
	db, err := sql.Open("pgx", address)
	if err != nil {
		panic(err)
	}
	return Options{Build: "b", Slots: 2, Do: map[string]Do{Heavy: func(ctx context.Context, part json.RawMessage, tell func(done, of float64)) (any, error) {
		var of heavyPart
		if err := json.Unmarshal(part, &of); err != nil {
			return nil, err
		}
		if _, err := db.ExecContext(ctx, `INSERT INTO begun (part) VALUES ($1)`, of.Kind); err != nil {
			return nil, err
		}
		if of.Kind == "never" {
			return heavyOutput{Failed: "it cannot be"}, nil
		}
		for until := time.Now().Add(takes); time.Now().Before(until); {
			tell(7, 9)
			select {
			case <-time.After(10 * time.Millisecond):
			case <-ctx.Done():
				return nil, ctx.Err()
			}
		}
		return heavyOutput{Packed: of.Packed}, nil
	}}}
}

func begunTable(t *testing.T) (address string, db *sql.DB) {
	t.Helper()
	address = pgtest.Database(t)
	db, err := sql.Open("pgx", address)
	must(t, err)
	t.Cleanup(func() { db.Close() }) //nolint:errcheck // a test's
	_, err = db.Exec(`CREATE TABLE begun (n BIGSERIAL, part TEXT)`)
	must(t, err)
	return address, db
}

func count(t *testing.T, db *sql.DB, query string) (n int) {
	t.Helper()
	must(t, db.QueryRow(query).Scan(&n))
	return n
}

// bytesOf are parts that are told apart.
func bytesOf(n int) (all [][]byte) {
	for k := range n {
		all = append(all, []byte(fmt.Sprintf("part %d", k)))
	}
	return all
}

// Who asks where nobody works is told so at once; where somebody does, what comes is in the order of what was
// asked, however far each is, and nothing of it stays in the database.
func TestAskingThoseWhoWork(t *testing.T) {
	address, db := begunTable(t)
	a := &Asker{Address: address, Build: "b", Longest: time.Minute}
	defer a.Close()
	if _, there, err := a.Make(bg, "x", bytesOf(3), nil); there || err != nil {
		t.Errorf("nobody works, and it says %v, %v", there, err)
	}
	stranger, err := Open(bg, address, Options{Build: "other", Slots: 1})
	must(t, err)
	if _, there, err := a.Make(bg, "x", bytesOf(3), nil); there || err != nil {
		t.Errorf("another build works, and it says %v, %v", there, err)
	}
	closed(t, stranger)
	p, err := Open(bg, address, slowly(address, 5*time.Millisecond))
	must(t, err)
	var mu sync.Mutex
	var told [][2]float64
	tell := func(done, of float64) { mu.Lock(); defer mu.Unlock(); told = append(told, [2]float64{done, of}) }
	came, there, err := a.Make(bg, "x", bytesOf(40), tell)
	if err != nil || !there || len(came) != 40 || string(came[0]) != "part 0" || string(came[39]) != "part 39" {
		t.Errorf("%d came, %v, %v", len(came), there, err)
	}
	for i, x := range told {
		if x[1] != 40 || x[0] < 0 || x[0] > 40 || i > 0 && x[0] < told[i-1][0] {
			t.Errorf("it told %v", told)
		}
	}
	if _, _, err := a.Make(bg, "never", bytesOf(1), nil); err == nil || !strings.Contains(err.Error(), "it cannot be") {
		t.Errorf("what cannot be made: %v", err)
	}
	if n := count(t, db, `SELECT count(*) FROM begun WHERE part = 'never'`); n != 1 {
		t.Errorf("what cannot be made was tried %d times", n)
	}
	if n := count(t, db, `SELECT count(*) FROM river_job`); n != 0 {
		t.Errorf("%d parts stay in the database", n)
	}
	closed(t, p)

	// One that takes long tells how far it is; who does not wait any more stops it.
	p, err = Open(bg, address, slowly(address, time.Minute))
	must(t, err)
	defer closed(t, p)
	ctx, stop := context.WithCancel(bg)
	told = nil
	_, _, err = a.Make(ctx, "long", bytesOf(1), func(done, of float64) { tell(done, of); stop() })
	if !errors.Is(err, context.Canceled) || len(told) == 0 || told[0] != [2]float64{7, 9} {
		t.Errorf("stopped: %v; told %v", err, told)
	}
	if n := count(t, db, `SELECT count(*) FROM river_job`); n != 0 {
		t.Errorf("%d parts stay in the database", n)
	}

	// Where somebody stops it in the database it is not made anew here.
	go func() {
		for count(t, db, `SELECT count(*) FROM begun WHERE part = 'stopped'`) == 0 {
			time.Sleep(5 * time.Millisecond)
		}
		var id string
		if err := db.QueryRow(`SELECT metadata ->> 'work' FROM river_job`).Scan(&id); err == nil {
			p.Stop(bg, id) //nolint:errcheck // then the test waits for ever, and says so
		}
	}()
	if _, _, err := a.Make(bg, "stopped", bytesOf(1), nil); !errors.Is(err, ask.ErrStopped) {
		t.Errorf("stopped elsewhere: %v", err)
	}
}

// A worker that is killed while somebody waits is seen to be dead within seconds: another
// does what it had, once; where there is no other, who asked is told to do it.
func TestWhoDiesIsReplacedSoon(t *testing.T) {
	address, db := begunTable(t)
	a := &Asker{Address: address, Build: "b", Longest: time.Minute}
	defer a.Close()
	worker := func() *exec.Cmd {
		self, err := os.Executable()
		must(t, err)
		cmd := exec.Command(self)
		cmd.Env = append(os.Environ(), "NEEDLEPACE_TEST_HEAVY_AT="+address)
		must(t, cmd.Start())
		return cmd
	}
	asked := make(chan error, 1)
	ask := func(n int) (came [][]byte, there bool) {
		var err error
		came, there, err = a.Make(bg, "x", bytesOf(n), nil)
		asked <- err
		return came, there
	}
	begun := func(n int) {
		t.Helper()
		for until := time.Now().Add(30 * time.Second); count(t, db, `SELECT count(*) FROM begun`) < n; time.Sleep(5 * time.Millisecond) {
			if time.Now().After(until) {
				t.Fatal("nobody begins")
			}
		}
	}
	present := func() {
		t.Helper()
		p, err := a.parts(bg)
		must(t, err)
		for until := time.Now().Add(30 * time.Second); ; time.Sleep(10 * time.Millisecond) {
			if there, err := p.Present(bg); err != nil || there {
				must(t, err)
				return
			}
			if time.Now().After(until) {
				t.Fatal("the worker does not come")
			}
		}
	}
	first := worker()
	present()
	var there bool
	go func() { _, there = ask(1) }()
	begun(1)
	must(t, first.Process.Kill())
	_ = first.Wait() // killed
	if err := <-asked; err != nil || there {
		t.Errorf("nobody is left, and it says %v, %v", there, err)
	}
	if n := count(t, db, `SELECT count(*) FROM river_job`); n != 0 {
		t.Errorf("%d parts stay in the database", n)
	}
	first = worker()
	present()
	var came [][]byte
	go func() { came, there = ask(6) }()
	begun(3) // two more than before are under way
	other, err := Open(bg, address, slowly(address, 50*time.Millisecond))
	must(t, err)
	defer closed(t, other)
	killed := time.Now()
	must(t, first.Process.Kill())
	_ = first.Wait() // killed
	if err := <-asked; err != nil || !there || len(came) != 6 || string(came[0]) != "part 0" || string(came[5]) != "part 5" {
		t.Errorf("of 6 parts %q came, %v, %v", came, there, err)
	}
	if took := time.Since(killed); took > 20*time.Second {
		t.Errorf("the dead's parts were had after %v", took)
	}
}

// What cannot be made is told in place of an answer, since an error would have it tried again; what is stopped is an
// error, so that another does it.
func TestWhatCannotBeMadeIsTold(t *testing.T) {
	packed, err := pack([]byte("what"))
	must(t, err)
	part, err := json.Marshal(heavyPart{Kind: "no such work", Packed: packed})
	must(t, err)
	out, err := DoHeavy(nil)(bg, part, nil)
	if told, ok := out.(heavyOutput); err != nil || !ok || !strings.Contains(told.Failed, "no such work") {
		t.Errorf("%+v, %v", out, err)
	}
	over, stop := context.WithCancel(bg)
	stop()
	if _, err := DoHeavy(nil)(over, part, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}

// An audit that a worker was making when it was killed another makes: the answer is that of one program, to the last digit,
// and nothing of it stays in the database.
func TestAnAuditOutlivesItsWorker(t *testing.T) {
	if testing.Short() {
		t.Skip("a million stitches")
	}
	address := pgtest.Database(t)
	d := &stitch.Design{Name: "wide"}
	for n := range 1_000_000 {
		d.Records = append(d.Records, stitch.Record{Op: stitch.Sew, DX: int16(20 - 40*(n%2)), DY: int16(3 - 6*(n/300%2))})
	}
	sheet, _ := machine.Class("single-15-light")
	from := ask.Given{Stitches: ask.NewDesign(d, "wide.dst", "wide"), On: sheet}
	audit := func(ctx context.Context) []byte {
		t.Helper()
		a, err := ask.Audit(ctx, from, ask.AuditQuestion{Density: true})
		must(t, err)
		b, err := json.Marshal(a)
		must(t, err)
		return b
	}
	alone := audit(bg)
	self, err := os.Executable()
	must(t, err)
	begin := func() *exec.Cmd {
		c := exec.Command(self)
		c.Env = append(os.Environ(), "NEEDLEPACE_TEST_KINDS_AT="+address)
		must(t, c.Start())
		return c
	}
	first := begin()
	db, err := sql.Open("pgx", address)
	must(t, err)
	defer db.Close() //nolint:errcheck // a test's
	asker := &Asker{Address: address, Build: "b", Longest: time.Minute, Wait: true}
	defer asker.Close()
	until(t, 20*time.Second, "the worker's tables", func() bool {
		var there bool
		must(t, db.QueryRow(`SELECT to_regclass('river_job') IS NOT NULL`).Scan(&there))
		return there
	})
	killed := make(chan *exec.Cmd)
	go func() {
		for n := 0; n == 0; time.Sleep(time.Millisecond) {
			db.QueryRow(`SELECT count(*) FROM river_job WHERE state = 'running'`).Scan(&n) //nolint:errcheck // the next time
		}
		first.Process.Kill() //nolint:errcheck // Wait tells
		_ = first.Wait()
		killed <- begin()
	}()
	asked := make(chan []byte)
	go func() { asked <- audit(ask.WithElsewhere(bg, asker)) }()
	second := <-killed
	defer func() { second.Process.Kill(); _ = second.Wait() }() //nolint:errcheck // it is killed
	var most int
	for {
		select {
		case came := <-asked:
			if !bytes.Equal(came, alone) {
				t.Errorf("%d bytes, alone %d: another answer", len(came), len(alone))
			}
			if most < 2 {
				t.Errorf("it was tried %d times: nothing was shown", most)
			}
			if n := figure(t, db, `SELECT count(*) FROM river_job`); n != 0 {
				t.Errorf("%d parts stay", n)
			}
			return
		case <-time.After(5 * time.Millisecond):
			most = max(most, figure(t, db, `SELECT coalesce(max(attempt), 0) FROM river_job`))
		}
	}
}
