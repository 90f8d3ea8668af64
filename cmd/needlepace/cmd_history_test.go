package main

import (
	"encoding/csv"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/shop"
)

// The history says the same as text, CSV and JSON, and nothing that has no words.
func TestTheHistorySaysWhatWasChanged(t *testing.T) {
	data := filepath.Join(t.TempDir(), "shop.db")
	run := func(args ...string) string {
		t.Helper()
		out, errs, code := invoke(t, append(args, "--data", data)...)
		if code != exitOK {
			t.Fatalf("%v: status %d, %s", args, code, errs)
		}
		return out
	}
	run("order", "add", "../../demo/orders/week.toml", "--new", "--now", "2026-03-02T07:00")
	run("order", "move", "1001", "requested", "--who", "Ruth", "--now", "2026-03-02T07:01")
	text, file := run("history", "--last", "0"), run("history", "--csv", "--last", "0")
	rows, err := csv.NewReader(strings.NewReader(file)).ReadAll()
	if err != nil || len(rows) < 5 {
		t.Fatalf("%v, %d rows", err, len(rows))
	}
	lines := strings.Split(strings.TrimSpace(run("history", "--json", "--last", "0")), "\n")
	if len(lines) != len(rows)-1 {
		t.Errorf("%d changes as JSON, %d as CSV", len(lines), len(rows)-1)
	}
	for i, row := range rows[1:] {
		var c shop.Changed
		if err := json.Unmarshal([]byte(lines[i]), &c); err != nil {
			t.Fatal(err)
		}
		if row[0] == "" || strings.Contains(row[3], "[") || !strings.Contains(text, row[3]) || row[4] != c.From || c.From != shop.FromCommand {
			t.Errorf("%v, %+v", row, c)
		}
	}
	if !strings.HasPrefix(rows[1][3], "Order 1001: ") || rows[1][2] != "Ruth" || rows[2][2] != "" {
		t.Errorf("the newest are %v", rows[1:3])
	}
	if last := run("history", "--last", "2", "--csv"); strings.Count(last, "\n") != 3 {
		t.Errorf("the last two are %s", last)
	}
	if orders := run("history", "--of", "order", "--csv"); strings.Count(orders, "\n") != 3 || strings.Contains(orders, "Design") {
		t.Errorf("what was done to orders: %s", orders)
	}
}
