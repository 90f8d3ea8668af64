package main

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/audit"
	"needlepace/internal/pgtest"
	"needlepace/shop"
	"needlepace/store"
)

// Many audits in parts give what one at a time gives, gravest first; the run times that
// are worked out in parts are kept.
func TestWorkInParts(t *testing.T) {
	address := pgtest.Database(t)
	ctx := context.Background()
	s, err := store.Open(ctx, address)
	if err != nil {
		t.Fatal(err)
	}
	a := act.New(s, act.Options{})
	if err := a.LoadDemo(ctx, func(float64, string) {}); err != nil {
		t.Fatal(err)
	}
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
