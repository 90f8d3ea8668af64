package main

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/audit"
	"needlepace/internal/pgtest"
	"needlepace/shop"
	"needlepace/store"
)

// demoInDatabase is the demo shop in a database of its own.
func demoInDatabase(t *testing.T) (address string, s store.Store, a *act.Shop) {
	t.Helper()
	address = pgtest.Database(t)
	s, err := store.Open(context.Background(), address)
	if err != nil {
		t.Fatal(err)
	}
	a = act.New(s, act.Options{})
	if err := a.LoadDemo(context.Background(), func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
	return address, s, a
}

// Many audits in parts give what one at a time gives, gravest first; the run times that
// are worked out in parts are kept.
func TestWorkInParts(t *testing.T) {
	address, s, a := demoInDatabase(t)
	ctx := context.Background()
	machines, err := a.Machines.List(ctx)
	if err != nil {
		t.Fatal(err)
	}
	on := machines[1]
	list, _, err := a.Designs.List(ctx, shop.DesignQuery{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]ask.AuditedDesign{}
	for _, d := range list {
		one, err := a.Audit(ctx, ask.AuditQuestion{Design: d.ID, Machine: on.ID})
		if err != nil {
			t.Fatal(err)
		}
		x := ask.AuditedDesign{Design: d.ID, Name: one.Design, Stitches: one.Stitches, Seconds: one.Seconds, Saves: one.TotalSeconds}
		for _, f := range one.Findings {
			x.Worst = max(x.Worst, f.Severity)
			switch f.Severity {
			case audit.Hurts:
				x.Hurts++
			case audit.Spoils:
				x.Spoils++
			case audit.Shows:
				x.Shows++
			default:
				x.OnlyTime++
			}
		}
		want[d.ID] = x
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	out, errs, code := invoke(t, "work", "--store", address, "--slots", "2", "--size", "3", "--audit", on.Name, "--json")
	var got ask.AuditManyAnswer
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitOK || got.Machine != on.Name {
		t.Fatalf("status %d, %v: %s%s", code, err, out, errs)
	}
	if len(got.Designs) != len(want) || len(want) < 8 {
		t.Errorf("%d designs were audited, want %d", len(got.Designs), len(want))
	}
	for i, x := range got.Designs {
		if want[x.Design] != x {
			t.Errorf("in parts %+v, alone %+v", x, want[x.Design])
		}
		if i > 0 && got.Designs[i-1].Worst < x.Worst {
			t.Errorf("%s comes before %s, which is graver", got.Designs[i-1].Name, x.Name)
		}
	}
	if out, errs, code := invoke(t, "work", "--store", address, "--audit", on.Name); code != exitOK || !strings.Contains(out, "a mend would win") {
		t.Errorf("status %d, %s%s", code, out, errs)
	}
	for _, wrong := range [][]string{{"--audit", "no such machine"}, {"--audit", on.Name, "--times"}, {"--csv"}, {"--times", "--json"}, {"--size", "0"}} {
		if out, errs, code := invoke(t, append([]string{"work", "--store", address, "--slots", "1"}, wrong...)...); code == exitOK || errs == "" {
			t.Errorf("%q: status %d, %s", wrong, code, out)
		}
	}
	if out, errs, code := invoke(t, "work", "--store", address, "--slots", "2", "--times"); code != exitOK || !strings.Contains(out, "Done in") {
		t.Errorf("status %d, %s%s", code, out, errs)
	}
	if s, err = store.Open(ctx, address); err != nil {
		t.Fatal(err)
	}
	defer s.Close() //nolint:errcheck // a test's
	var ids, sheets []string
	for _, d := range list {
		ids = append(ids, d.ID)
	}
	for _, m := range machines {
		sheets = append(sheets, m.Digest)
	}
	kept, err := s.RunTimes(ctx, buildDigest(), ids, sheets)
	if err != nil || len(kept) != len(ids)*len(sheets) {
		t.Errorf("%d run times are kept of %d, %v", len(kept), len(ids)*len(sheets), err)
	}
}

// A shift that several programs simulate is the shift that one simulates; one whose machine has
// changed meanwhile is no part of it.
func TestShiftInParts(t *testing.T) {
	address, _, a := demoInDatabase(t)
	ctx := context.Background()
	setups, err := a.Setups.List(ctx, shop.FloorSetup)
	if err != nil || len(setups) == 0 {
		t.Fatal(setups, err)
	}
	toml := setups[0].TOML
	question := ask.ShiftQuestion{Name: "the shift", TOML: []byte(toml), Simulation: ask.Simulation{Seed: 5, Level: 0.9}, Precision: 0.001}
	want, err := act.Answer(ctx, a, ask.Shift, question)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "shift.toml")
	if err := os.WriteFile(file, []byte(toml), 0o600); err != nil {
		t.Fatal(err)
	}
	flags := []string{"work", "--store", address, "--slots", "2", "--size", "4", "--floor", file, "--seed", "5", "--chance", "90", "--precision", "0.1"}
	out, errs, code := invoke(t, append(flags, "--json")...)
	var got ask.ShiftAnswer
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitOK {
		t.Fatalf("status %d, %v: %s%s", code, err, out, errs)
	}
	if got.Replications != want.Replications || got.Replications <= 320 || got.Pieces != want.Pieces || !reflect.DeepEqual(got.OEE, want.OEE) {
		t.Errorf("in parts %d shifts, %+v, %+v; alone %d, %+v, %+v", got.Replications, got.Pieces, got.OEE, want.Replications, want.Pieces, want.OEE)
	}
	if out, _, code := invoke(t, flags...); code != exitOK || !strings.Contains(out, want.Verdict[0].Text(nil)) {
		t.Errorf("status %d, without %q: %s", code, want.Verdict[0].Text(nil), out)
	}
}

// What a page asks for and is heavy is done by those who work for the shop: a plan, told how
// far it is, and stopped. The one who serves keeps what comes of it.
func TestWhatPagesAskForIsDoneByThoseWhoWork(t *testing.T) {
	address, s, a := demoInDatabase(t)
	floors, err := a.Setups.List(t.Context(), shop.FloorSetup)
	set := shop.DefaultSettings
	set.DriftAt, set.PlanEvery = "", 0 // what is done by itself is work too
	if err == nil {
		err = a.Settings.Save(t.Context(), set)
	}
	if err == nil {
		err = s.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("pgx", address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // a test's
	begin := func(args ...string) (line string) {
		t.Helper()
		cmd := exec.Command("needlepace", append(args, "--store", address)...)
		cmd.Stderr = os.Stderr
		out, err := cmd.StdoutPipe()
		if err == nil {
			err = cmd.Start()
		}
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			cmd.Process.Kill() //nolint:errcheck // Wait tells
			cmd.Wait()         //nolint:errcheck // it was killed
		})
		if line, err = bufio.NewReader(out).ReadString('\n'); err != nil {
			t.Fatalf("%v: %v %s", args, err, line)
		}
		return line
	}
	page := &served{t: t, url: strings.TrimSpace(strings.TrimPrefix(begin("serve", "-a", "127.0.0.1:0", "--no-phones"), "needlepace is at "))}
	parts := func() (n int) { // that were ever put up
		var there bool
		if err := db.QueryRow(`SELECT to_regclass('river_job') IS NOT NULL`).Scan(&there); err != nil {
			t.Fatal(err)
		}
		if there {
			if err := db.QueryRow(`SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM river_job_id_seq`).Scan(&n); err != nil {
				t.Fatal(err)
			}
		}
		return n
	}
	wait := func(id string, enough func(w map[string]any) bool) map[string]any {
		t.Helper()
		for until := time.Now().Add(time.Minute); ; time.Sleep(50 * time.Millisecond) {
			w := page.get("/work/" + id)
			if enough(w) {
				return w
			}
			if time.Now().After(until) {
				t.Fatalf("still %v", w)
			}
		}
	}
	ended := func(w map[string]any) bool { return w["state"] != "waiting" && w["state"] != "running" }
	plan := func(moves int) string {
		return page.post("/plan", fmt.Sprintf(`{"moves":%d,"fresh":true}`, moves))["id"].(string)
	}
	alone := wait(plan(2000), ended)
	if alone["state"] != "done" || parts() != 0 {
		t.Fatalf("with nobody who works: %v, %d parts", alone["state"], parts())
	}
	begin("work", "--slots", "1")
	lots := func(w map[string]any) any { return w["result"].(map[string]any)["plan"].(map[string]any)["lots"] }
	if w := wait(plan(2000), ended); w["state"] != "done" || parts() != 1 {
		t.Errorf("with one who works: %v, %d parts", w["state"], parts())
	} else if len(lots(w).([]any)) == 0 || len(lots(w).([]any)) != len(lots(alone).([]any)) {
		t.Errorf("its plan has %v lots, alone %v", lots(w), lots(alone))
	}
	id := plan(1_000_000_000)
	if w := wait(id, func(w map[string]any) bool { return w["progress"].(float64) > 0 }); !strings.Contains(w["text"].(string), "of 1,000,000,000 moves") {
		t.Errorf("it tells %v", w["text"])
	}
	stop, err := http.NewRequest("DELETE", page.url+"/api/v1/work/"+id, nil)
	if err != nil {
		t.Fatal(err)
	}
	if res, err := http.DefaultClient.Do(stop); err != nil || res.StatusCode != http.StatusNoContent {
		t.Fatalf("stopping: %v, %v", res, err)
	}
	if w := wait(id, ended); w["state"] != "cancelled" {
		t.Errorf("stopped: %v", w)
	}
	for until := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		var left int
		if err := db.QueryRow(`SELECT count(*) FROM river_job`).Scan(&left); err != nil {
			t.Fatal(err)
		}
		if left == 0 {
			break
		}
		if time.Now().After(until) {
			t.Fatalf("%d parts stay", left)
		}
	}
	if res, err := http.Get(page.url + "/floor/" + floors[0].ID); err != nil || res.StatusCode != http.StatusOK || parts() < 2+8 {
		t.Errorf("a shift's page: %v, %v, %d parts", res, err, parts())
	}
	before := parts()
	if w := wait(plan(2000), ended); w["state"] != "done" || parts() != before+1 { // who worked at the stopped one is free again
		t.Errorf("afterwards: %v, %d parts", w, parts())
	}
}

// 20,000 shifts that two programs simulate, of which one is killed in their midst, are those
// that one simulates alone, to the last digit.
func TestALargeShiftInPartsIsTheSame(t *testing.T) {
	if testing.Short() {
		t.Skip("40,000 shifts")
	}
	address, _, a := demoInDatabase(t)
	ctx := context.Background()
	setups, err := a.Setups.List(ctx, shop.FloorSetup)
	if err != nil || len(setups) == 0 {
		t.Fatal(setups, err)
	}
	// A short shift without pauses differs much from one to the next.
	toml := regexp.MustCompile(`(?s)\[\[pause\]\].*?\n\n`).ReplaceAllString(setups[0].TOML, "")
	toml = regexp.MustCompile(`(?m)^hours *= *\S+`).ReplaceAllString(toml, "hours = 0.5")
	file := filepath.Join(t.TempDir(), "shift.toml")
	if err := os.WriteFile(file, []byte(toml), 0o600); err != nil {
		t.Fatal(err)
	}
	alone, err := act.Answer(ctx, a, ask.Shift, ask.ShiftQuestion{Best: a.ShiftBest, Name: file, TOML: []byte(toml),
		Simulation: ask.Simulation{Seed: 5, Level: 0.9}, Precision: 0.0005, Shifts: 20_000})
	if err != nil {
		t.Fatal(err)
	}
	alone.File = file
	want, err := json.MarshalIndent(alone, "", "  ")
	if err != nil || alone.Replications != 20_000 {
		t.Fatalf("%d shifts, %v", alone.Replications, err)
	}
	db, err := sql.Open("pgx", address)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // a test's
	var all []*exec.Cmd
	for range 2 {
		w := exec.Command("needlepace", "work", "--store", address, "--slots", "1")
		if err := w.Start(); err != nil {
			t.Fatal(err)
		}
		all = append(all, w)
	}
	killed := make(chan error, 1)
	go func() {
		for done := 0; done < 5; time.Sleep(5 * time.Millisecond) {
			if err := db.QueryRow(`SELECT CASE WHEN count(*) > 20 THEN count(*) FILTER (WHERE state = 'completed') ELSE 0 END FROM river_job`).Scan(&done); err != nil {
				continue // there are no tables yet
			}
		}
		killed <- all[0].Process.Kill()
	}()
	out, errs, code := invoke(t, "work", "--store", address, "--slots", "0", "--floor", file, "--seed", "5", "--chance", "90", "--precision", "0.05", "--shifts", "20000", "--json")
	if err := <-killed; err != nil {
		t.Error(err)
	}
	all[1].Process.Kill() //nolint:errcheck // Wait tells
	for _, w := range all {
		w.Wait() //nolint:errcheck // it was killed
	}
	var got, told any
	if err := errors.Join(json.Unmarshal([]byte(out), &got), json.Unmarshal(want, &told)); err != nil || code != exitOK {
		t.Fatalf("status %d, %v: %s", code, err, errs)
	}
	if !reflect.DeepEqual(got, told) {
		t.Errorf("in parts\n%s\nalone\n%s", out, want)
	}
	if !regexp.MustCompile(`[1-9]\d* tried again`).MatchString(errs) {
		t.Errorf("of the killed one's parts it says %s", errs)
	}
}

// What the program does by itself is done once of several that serve and work for a shop in a database, also where those
// that did it were killed, and the page of each says how it went and what is next.
func TestServersTakeTurnsAtWhatIsDoneByItself(t *testing.T) {
	if testing.Short() {
		t.Skip("what is due is looked for every half minute; package jobs/parts has the short form")
	}
	address, s, _ := demoInDatabase(t)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(s.Close())
	copies := t.TempDir()
	begin := func(args ...string) (*exec.Cmd, string) {
		t.Helper()
		cmd := exec.Command("needlepace", append(args, "--store", address)...)
		cmd.Stderr = os.Stderr
		out, err := cmd.StdoutPipe()
		must(err)
		must(cmd.Start())
		t.Cleanup(func() {
			cmd.Process.Kill() //nolint:errcheck // Wait tells
			cmd.Wait()         //nolint:errcheck // it was killed
		})
		line, err := bufio.NewReader(out).ReadString('\n')
		must(err)
		return cmd, strings.TrimSpace(strings.TrimPrefix(line, "needlepace is at "))
	}
	db, err := sql.Open("pgx", address)
	must(err)
	defer db.Close() //nolint:errcheck // a test's
	row := func(name string) (began int64, came string) {
		t.Helper()
		if err := db.QueryRow(`SELECT began, came FROM rounds WHERE name = $1`, name).Scan(&began, &came); err != nil && !errors.Is(err, sql.ErrNoRows) {
			t.Fatal(err)
		}
		return began, came
	}
	done := func() bool {
		for _, name := range []string{shop.RoundDrift, shop.RoundPlan, shop.RoundCopies} {
			if began, _ := row(name); began == 0 {
				return false
			}
		}
		return true
	}
	wait := func(what string, is func() bool) {
		t.Helper()
		for end := time.Now().Add(40 * time.Second); !is(); time.Sleep(20 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("still not: %s", what)
			}
		}
	}
	serve := []string{"serve", "-a", "127.0.0.1:0", "--no-phones", "--copies", copies}
	first, _ := begin(serve...)
	wait("River's tables", func() bool {
		var there bool
		must(db.QueryRow(`SELECT to_regclass('river_job') IS NOT NULL`).Scan(&there))
		return there
	})
	must(first.Process.Kill()) // wherever it is
	_, at := begin(serve...)
	_, other := begin(serve...)
	begin("work", "--slots", "1")
	wait("all three are done", done)
	was := map[string]int64{}
	for _, name := range []string{shop.RoundDrift, shop.RoundPlan, shop.RoundCopies} {
		was[name], _ = row(name)
	}
	all, err := filepath.Glob(filepath.Join(copies, "*.db"))
	must(err)
	if len(all) != 1 && len(all) != 2 { // the killed one may have made one, and not lived to say so
		t.Errorf("the copies are %q", all)
	}
	for _, page := range []string{at, other} {
		res, err := http.Get(page + "/settings/running")
		must(err)
		b, err := io.ReadAll(res.Body)
		must(err)
		must(res.Body.Close())
		for _, want := range []string{"What it does by itself", "Looks at timed runs for machines that have changed", "Looks for what changed since the plan was made",
			"Copies the shop, to", filepath.Base(all[len(all)-1]), "No machine has timed runs."} {
			if !strings.Contains(string(b), want) {
				t.Errorf("%s does not say %q: %s", page, want, b)
			}
		}
		if strings.Contains(string(b), "There is no copy") {
			t.Errorf("%s says that there is no copy", page)
		}
	}
	// Due again: once, whoever does it.
	_, err = db.Exec(`UPDATE rounds SET began = began - 86400000000 WHERE name = 'plan'`)
	must(err)
	wait("the plan is looked at anew", func() bool { began, _ := row(shop.RoundPlan); return began > was[shop.RoundPlan] })
	var jobs int
	must(db.QueryRow(`SELECT count(*) FROM river_job WHERE args ->> 'what' = 'round plan' AND finalized_at > now() - interval '35 seconds' AND attempt = 1`).Scan(&jobs))
	if drift, _ := row(shop.RoundDrift); drift != was[shop.RoundDrift] || jobs < 1 || jobs > 2 {
		t.Errorf("the plan was looked at in %d pieces of work; the machines at %d, then %d", jobs, was[shop.RoundDrift], drift)
	}
}
