package web_test

import (
	"database/sql"
	"fmt"
	"hash/maphash"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/store/storetest"
	"needlepace/web/serve"
	"needlepace/web/webtest"
)

// changesNothing are the routes by which no row of a shop changes as they are asked here, with the reason.
var changesNothing = map[string]string{
	"POST /language": "one's own language is no business of the shop's, as which list one looks at", "POST /sign-out": "one's own sign-in",
	"DELETE /api/v1/session": "one's own sign-in", "POST /sign-in": "nothing of the shop's is another", "POST /api/v1/session": "the same",
	"PUT /api/v1/timings/{timing}": "a press of a watch that runs: the run that it becomes has a line",
	"POST /settings/phones/door":   "it was not kept as open: see TestWhoOpensTheDoorOrEndsASignInIsTold",
	"POST /settings/sign-ins/end":  "there is no other sign-in: see TestWhoOpensTheDoorOrEndsASignInIsTold",
	"DELETE /api/v1/sign-ins":      "the same",
	"POST /shops":                  "of shops under one roof: see people_test.go",
	"POST /designs/mend":           "work", "POST /designs/{design}/mend": "work", "POST /machines/{machine}/testpiece": "work",
	"POST /plan/try": "work", "POST /plan/fleet": "work", "POST /work/{work}/stop": "work", "POST /api/v1/designs/{design}/audit": "work",
	"POST /api/v1/designs/{design}/mend": "work", "POST /api/v1/designs/mend": "work", "POST /machines/{machine}/learn": "work: what it tells is kept by learned",
	"POST /machines/{machine}/learned/{slip}": "it is what the runs tell already", "POST /phone": "a wrong code: see phones_test.go",
	"POST /visits/{visit}/trials/{trial}/evidence": "nothing came back to the trial", "POST /api/v1/plan/move": "it is there already",
	"POST /api/v1/machines/{machine}/testpiece": "work", "POST /api/v1/compare": "work", "POST /api/v1/floor": "work", "POST /api/v1/plan/try": "work",
	"POST /api/v1/plan/fleet": "work", "DELETE /api/v1/work/{work}": "work", "POST /api/v1/setups/check": "a question",
	"POST /recordings/{recording}/hear": "a recording under way", "POST /recordings/{recording}/drop": "a recording under way",
	"POST /api/v1/recordings": "a recording under way", "PUT /api/v1/recordings/{recording}/sound": "a recording under way",
	"POST /api/v1/recordings/{recording}/hear": "a recording under way", "DELETE /api/v1/recordings/{recording}": "a recording under way",
}

// ownOnly are those of them that change a row that is nobody else's business, or is no change yet.
var ownOnly = map[string]bool{"POST /language": true, "POST /sign-out": true, "DELETE /api/v1/session": true, "PUT /api/v1/timings/{timing}": true,
	"POST /settings/phones/door": true}

// goesOn are the routes that more changes than one follow on, each with its line.
var goesOn = map[string]int{"POST /begin": 2, "POST /plan/hold": 2}

// late are those whose work takes seconds before it changes anything: it is waited for in the long form.
var late = map[string]bool{"POST /plan": true, "POST /api/v1/machines/{machine}/learn": true}

// beforeIt is what is asked before a route, so that there is something that it changes.
var beforeIt = map[string]string{
	"POST /designs/{design}/restore": "POST /designs/{design}/remove", "POST /machines/{machine}/restore": "POST /machines/{machine}/remove",
	"POST /api/v1/designs/{design}/restore": "DELETE /api/v1/designs/{design}", "POST /api/v1/machines/{machine}/restore": "DELETE /api/v1/machines/{machine}",
	"POST /api/v1/orders/{order}/release": "POST /api/v1/orders/{order}/hold",
}

// mustLeaveOneLine looks what stands in a shop before a route that may change it is asked; what it gives looks after it:
// each change has one line, that says who, when, by which right and from where, and what changes nothing has none.
func (s *oneOfAll) mustLeaveOneLine(t *testing.T, a *webtest.App, file string, rt serve.Route, work, by string) func() {
	t.Helper()
	if first := beforeIt[rt.Pattern()]; first != "" {
		all := a.Server.Routes()
		i := slices.IndexFunc(all, func(r serve.Route) bool { return r.Pattern() == first })
		if r := s.ask(a, all[i], work); r.Status >= 400 {
			t.Fatalf("%s: status %d, %.300s", first, r.Status, r.Body)
		}
	}
	before, lines := map[string]uint64{}, linesOf(t, file)
	if !testing.Short() {
		before = rowsOf(t, file)
	}
	began := time.Now().Truncate(time.Microsecond)
	none, most := changesNothing[rt.Pattern()], max(1, goesOn[rt.Pattern()])
	return func() {
		t.Helper()
		if testing.Short() && late[rt.Pattern()] {
			return
		}
		is := linesOf(t, file)[len(lines):]
		for i := 0; i < 1000 && none == "" && a.Server.Jobs().Open() > 0 && (len(is) == 0 || !testing.Short()); i++ { // what goes on as work
			time.Sleep(10 * time.Millisecond)
			is = linesOf(t, file)[len(lines):]
		}
		var changed []string
		if !testing.Short() {
			after := rowsOf(t, file)
			for _, table := range slices.Sorted(maps.Keys(after)) {
				if after[table] != before[table] {
					changed = append(changed, table)
				}
			}
			if none == "" && len(changed) == 0 || none != "" && len(changed) > 0 && !ownOnly[rt.Pattern()] {
				t.Errorf("changed %q: %q stands in changesNothing", changed, none)
			}
		}
		if none != "" && len(is) == 0 {
			return
		}
		if none != "" || len(is) == 0 || len(is) > most {
			t.Errorf("changed %q and left the lines %+v", changed, is)
			return
		}
		way := shop.FromPage
		if strings.HasPrefix(rt.Path, "/api/") {
			way = shop.FromAPI
		}
		if rt.Pattern() == "POST /call/{code}" { // anybody: of who sends nothing is kept that is not asked for
			by, way = "the call’s page", ""
		} else {
			way += " 127.0.0.1"
		}
		for _, l := range is {
			right := l.right == string(rt.Right) || l.right == string(shop.KeepAccounts) || // who may come in is told to owners
				rt.Right == "" && l.right == string(shop.KeepVisits) || strings.Contains(rt.Path, "{change}") && l.right != "" // as what is taken back
			if l.by != by || l.from != way || !right || l.at.Before(began) || l.at.After(time.Now()) {
				t.Errorf("the line is %+v, want of %s by %s, right %s, after %v", l, by, way, rt.Right, began)
			}
		}
	}
}

// line is a line of what was changed.
type line struct {
	by, from, right string
	at              time.Time
}

var seed = maphash.MakeSeed()

// rowsOf is what stands in each table of a shop's file but in those that tell of changes or are made of the others.
func rowsOf(t *testing.T, file string) map[string]uint64 {
	t.Helper()
	db, err := sql.Open("sqlite", storetest.File(t, file))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // only read
	tables := map[string]uint64{}
	for _, name := range column(t, db, `SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'find_%'
		AND name NOT IN ('goose_db_version', 'changes', 'trail', 'revisions', 'rounds', 'run_times')`) {
		var sum maphash.Hash
		sum.SetSeed(seed)
		each(t, db, "SELECT * FROM "+name+" ORDER BY 1, 2", func(row []sql.RawBytes) {
			for _, v := range row {
				fmt.Fprint(&sum, len(v), ' ')
				sum.Write(v) //nolint:errcheck // never fails
			}
		})
		tables[name] = sum.Sum64()
	}
	return tables
}

// linesOf are all lines of what was changed in a shop's file, past the program.
func linesOf(t *testing.T, file string) (lines []line) {
	t.Helper()
	db, err := sql.Open("sqlite", storetest.File(t, file))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // only read
	each(t, db, "SELECT made_by, origin, needs, at FROM changes ORDER BY id", func(row []sql.RawBytes) {
		var us int64
		fmt.Sscan(string(row[3]), &us) //nolint:errcheck // a column of numbers
		lines = append(lines, line{string(row[0]), string(row[1]), string(row[2]), time.UnixMicro(us)})
	})
	return lines
}

func each(t *testing.T, db *sql.DB, query string, do func(row []sql.RawBytes)) {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close() //nolint:errcheck // Err tells
	cols, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		row, at := make([]sql.RawBytes, len(cols)), make([]any, len(cols))
		for i := range row {
			at[i] = &row[i]
		}
		if err := rows.Scan(at...); err != nil {
			t.Fatal(err)
		}
		do(row)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
}
