package sqlite

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
)

// Every table is of a part that the database itself counts by triggers, row by row, or is said to be uncounted: nobody
// can add a table that pages show and whose changes they do not see.
func TestEveryTableIsCountedOrSaidToBeUncounted(t *testing.T) {
	s, err := Open(bg, filepath.Join(t.TempDir(), "shop.db"))
	must(t, err)
	defer s.Close() //nolint:errcheck // only read
	all := func(query string, args ...any) (out []string) {
		rows, err := s.Write.QueryContext(bg, query, args...)
		must(t, err)
		defer rows.Close() //nolint:errcheck // Err tells
		for rows.Next() {
			var x string
			must(t, rows.Scan(&x))
			out = append(out, x)
		}
		must(t, rows.Err())
		return out
	}
	kinds := map[string]shop.Parts{"added": shop.AddedPart, "designs": shop.DesignsPart, "machines": shop.MachinesPart, "orders": shop.OrdersPart,
		"reports": shop.ReportsPart, "plans": shop.PlansPart, "setups": shop.SetupsPart, "told": shop.ToldPart, "rest": shop.RestPart, "visits": shop.VisitsPart}
	for _, kind := range all(`SELECT kind FROM revisions`) {
		if kinds[kind] == 0 {
			t.Errorf("the count %s is of no part", kind)
		}
	}
	// What follows from other tables, in the same change as they; and what machines tell, of which its own test is.
	follow := []string{"find_rows", "find_words", "thumbs", "told_events", "revisions"}
	counted := 0
	for _, table := range all(`SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'find_words_%' AND name <> 'goose_db_version'`) {
		p, known := dbstore.PartOf(table)
		if !known {
			t.Errorf("nobody has said which part the table %s is of", table)
		}
		if p == 0 || p == shop.Uncounted || strings.Contains(fmt.Sprint(follow), table) {
			continue
		}
		counted++
		for _, verb := range []string{"INSERT", "UPDATE", "DELETE"} {
			counts := all(`SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ? AND sql LIKE ?`, table,
				"%AFTER "+verb+" ON%UPDATE revisions SET n = n + 1 WHERE kind = %")
			if len(counts) != 1 || strings.Contains(counts[0], "WHEN") {
				t.Errorf("%s ON %s is counted by %q", verb, table, counts)
				continue
			}
			_, kind, _ := strings.Cut(counts[0], "WHERE kind = '")
			kind, _, _ = strings.Cut(kind, "'")
			if kinds[kind]&p == 0 {
				t.Errorf("%s ON %s counts as %s, and is read as %b", verb, table, kind, p)
			}
		}
	}
	if counted < 17 {
		t.Errorf("%d tables are counted", counted)
	}
}

func TestWhatAQueryReadsIsSeenInItsWords(t *testing.T) {
	const designs = shop.AddedPart | shop.DesignsPart
	for query, want := range map[string]shop.Parts{
		"SELECT 1": 0,
		"SELECT x FROM designs WHERE id IN (SELECT design_id FROM runs)":   designs | shop.RestPart,
		"SELECT x FROM orders o, plans p":                                  shop.OrdersPart | shop.PlansPart,
		"SELECT x FROM (SELECT y FROM setups) JOIN machines m ON m.id = y": shop.SetupsPart | shop.MachinesPart,
		"SELECT COALESCE((SELECT MAX(version) FROM plans), 0) + 1":         shop.PlansPart,
		"SELECT x FROM\n\tnew_table":                                       shop.Uncounted,
		"SELECT x FROM orders JOIN sessions ON 1 = 1":                      shop.OrdersPart | shop.Uncounted,
		"SELECT reordered, designs_x FROM run_times WHERE ordersx = ?":     0,
		"SELECT kind, n FROM revisions":                                    shop.AllParts,
	} {
		if got := dbstore.PartsOf(query); got != want {
			t.Errorf("%s reads %b, not %b", query, got, want)
		}
	}
}
