package main

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"syscall"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/demo"
	"needlepace/internal/pgtest"
	"needlepace/shop"
	"needlepace/store"
)

// TestStudyWork measures designs a second with 1, 2 and 4 workers of one slot each.
// NEEDLEPACE_WORK_STUDY is the number of designs.
func TestStudyWork(t *testing.T) {
	n, err := strconv.Atoi(os.Getenv("NEEDLEPACE_WORK_STUDY"))
	if err != nil {
		t.Skip("a study: ./dev study work [DESIGNS]")
	}
	bin := filepath.Join(t.TempDir(), "needlepace")
	if out, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		t.Fatal(err, string(out))
	}
	address := pgtest.Durable(t).Database(t)
	ctx := t.Context()
	s, err := store.Open(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	a := act.New(s, act.Options{})
	if err := a.LoadDemo(ctx, func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	// The demo's designs over and over: each one's own stitches, under IDs of their own.
	list, _, err := s.Designs(ctx, shop.DesignQuery{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	for k := len(list); k < n; k++ {
		d := *list[k%len(list)]
		content, err := s.DesignContent(ctx, d.ID)
		if err != nil {
			t.Fatal(err)
		}
		d.ID, d.Name = fmt.Sprintf("%032x", k), fmt.Sprintf("%s %d", d.Name, k)
		if _, err := s.AddDesign(context.WithoutCancel(ctx), &d, content, shop.Thumbs{Light: []byte{1}, Dark: []byte{1}}); err != nil {
			t.Fatal(err)
		}
	}
	machines, err := a.Machines.List(ctx)
	if err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("pgx", address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // a study
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d designs (%d different ones), %d machines, parts of 10", n, len(demo.Designs()), len(machines))
	took := regexp.MustCompile(`Done in ([0-9.]+) s`)
	for _, workers := range []int{1, 2, 4} {
		if _, err := db.Exec(`DELETE FROM run_times`); err != nil {
			t.Fatal(err)
		}
		var all []*exec.Cmd
		for range workers {
			w := exec.Command(bin, "work", "--store", address, "--slots", "1")
			w.Env = append(os.Environ(), "GOMAXPROCS=1")
			if err := w.Start(); err != nil {
				t.Fatal(err)
			}
			all = append(all, w)
		}
		time.Sleep(3 * time.Second) // they are there before the clock starts
		out, err := exec.Command(bin, "work", "--store", address, "--slots", "0", "--times").CombinedOutput()
		m := took.FindSubmatch(out)
		if err != nil || m == nil {
			t.Fatalf("%v: %s", err, out)
		}
		seconds, _ := strconv.ParseFloat(string(m[1]), 64)
		t.Logf("| %d | %.1f | %.1f |", workers, seconds, float64(n)/seconds)
		for _, w := range all {
			w.Process.Signal(syscall.SIGINT) //nolint:errcheck // Wait tells
			if err := w.Wait(); err != nil {
				t.Error(err)
			}
		}
	}
}
