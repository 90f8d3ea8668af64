package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

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
