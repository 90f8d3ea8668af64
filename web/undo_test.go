package web_test

import (
	"database/sql"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/store/storetest"
	"needlepace/web"
	"needlepace/web/webtest"
)

// standing has all that stands in a shop: a row a line, without what only rises
// (versions, times of changes), what was taken away and histories. It is read
// from the file, past the program.
func standing(t *testing.T, file string) map[string][]string {
	t.Helper()
	db, err := sql.Open("sqlite", storetest.File(t, file))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close() //nolint:errcheck // only read
	out := map[string][]string{}
	for name, query := range map[string]string{
		"designs": "SELECT * FROM designs WHERE removed = 0",
		"thumbs":  "SELECT * FROM thumbs WHERE design_id IN (SELECT id FROM designs WHERE removed = 0)",
		"machines": "SELECT m.id, m.name, m.name_key, v.toml FROM machines m JOIN sheet_versions v ON v.machine_id = m.id " +
			"AND v.version = m.version WHERE m.removed = 0",
		"runs": "SELECT * FROM runs", "timings": "SELECT * FROM timings", "settings": "SELECT * FROM settings",
		"setups": "SELECT * FROM setups", "orders": "SELECT * FROM orders WHERE state <> 'withdrawn'",
		"lines":      "SELECT * FROM order_lines WHERE order_id IN (SELECT id FROM orders WHERE state <> 'withdrawn')",
		"reports":    "SELECT * FROM order_reports WHERE taken_back = 'null'",
		"deliveries": "SELECT * FROM order_deliveries WHERE taken_back = 'null'",
		"tables":     "SELECT * FROM order_tables", "keys": "SELECT * FROM order_keys",
		"plan": "SELECT json_remove(doc, '$.version') FROM plans ORDER BY version DESC LIMIT 1",
	} {
		rows, err := db.Query(query)
		if err != nil {
			t.Fatal(name, err)
		}
		columns, err := rows.Columns()
		if err != nil {
			t.Fatal(err)
		}
		for rows.Next() {
			row, at := make([]any, len(columns)), make([]any, len(columns))
			for i := range row {
				at[i] = &row[i]
			}
			if err := rows.Scan(at...); err != nil {
				t.Fatal(err)
			}
			line := ""
			for i, c := range columns {
				if !slices.Contains([]string{"version", "changed", "turned"}, c) {
					line += fmt.Sprintf("%s=%v;", c, row[i])
				}
			}
			out[name] = append(out[name], line)
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
		slices.Sort(out[name])
	}
	return out
}

// differs has what differs between two states: rows of a that b has not (-), and
// of b that a has not (+).
func differs(a, b map[string][]string) (out []string) {
	for _, way := range []struct {
		mark     string
		has, not map[string][]string
	}{{"-", a, b}, {"+", b, a}} {
		for _, table := range slices.Sorted(maps.Keys(way.has)) {
			for _, row := range way.has[table] {
				if !slices.Contains(way.not[table], row) {
					out = append(out, fmt.Sprintf("%s %s: %.300s", way.mark, table, row))
				}
			}
		}
	}
	return out
}

// notTakenBack are the routes that change what stands and are not taken back, with
// the reason.
var notTakenBack = map[string]string{
	"POST /begin":                  "it goes on as work; the sample is no change of the shop's own",
	"POST /demo":                   "the sample goes out by one press",
	"POST /demo/out":               "the sample is one press away again",
	"POST /settings/phones/door":   "the door is open or shut: pressing again is its undo",
	"PUT /api/v1/timings/{timing}": "presses of a watch are taken back on the watch",
}

// Whatever changes the shop can be taken back, and done again: what stands in the
// file is then as it was, and as it became. What reaches others or lets people in
// leaves what stands alone.
func TestEveryChangeIsTakenBackAndDoneAgain(t *testing.T) {
	s := fillShop(t)
	taken := 0
	short := map[string]bool{ // one of each kind of thing
		"POST /designs/{design}": true, "POST /machines/{machine}/sheet": true, "POST /machines/{machine}/remove": true,
		"POST /machines/{machine}/runs/{run}/remove": true, "POST /machines/{machine}/heard/{heard}/runs/remove": true, "POST /floor/{setup}/remove": true, "POST /orders": true,
		"POST /orders/{order}/state": true, "POST /orders/{order}/record": true, "POST /orders/{order}/record/{report}/undo": true,
		"POST /plan/hours": true, "POST /settings": true,
	}
	for _, rt := range webtest.New(t, web.Options{}).Server.Routes() {
		if rt.Method == "" || rt.Method == "GET" || rt.Right == "" || strings.HasPrefix(rt.Path, "/history") || strings.Contains(rt.Path, "/changes/") {
			continue
		}
		if testing.Short() && !short[rt.Pattern()] {
			continue
		}
		t.Run(rt.Pattern(), func(t *testing.T) {
			a, file := s.open(t, shop.Owner)
			work := s.workFor(a, rt, shop.Owner)
			if strings.Contains(rt.Path, "recording") {
				return // it holds no row until it is kept; see the tests of listening
			}
			before := standing(t, file)
			s.ask(a, rt, work)
			for i := 0; i < 100 && strings.HasSuffix(rt.Path, "/learn"); i++ { // work that keeps
				time.Sleep(20 * time.Millisecond)
			}
			after := standing(t, file)
			changed := differs(before, after)
			if notTakenBack[rt.Pattern()] != "" {
				return
			}
			last := func() *shop.Changed {
				all, _, err := a.Shop.Changes.List(t.Context(), shop.Owner, shop.ChangeQuery{Limit: 1})
				if err != nil || len(all) == 0 {
					t.Fatal(all, err)
				}
				return all[0]
			}
			c := last()
			if len(changed) == 0 {
				return
			}
			if !c.Undoable || time.Since(c.At) > time.Minute {
				t.Fatalf("changed and cannot be taken back: %q, %+v", changed, c)
			}
			undo := func() *shop.Changed {
				t.Helper()
				status, body := a.Page(fmt.Sprintf("/history/%d/undo", c.ID), url.Values{"to": {"/history"}})
				if status != 303 {
					t.Fatalf("status %d: %s", status, mainText(body))
				}
				return last()
			}
			was := c
			c = undo()
			if d := differs(before, standing(t, file)); len(d) > 0 {
				t.Fatalf("taken back, not as it was: %q", d)
			}
			if c.Undoes != was.ID || !strings.HasPrefix(c.Verb, shop.TakenBack) {
				t.Errorf("the change that took %+v back is %+v", was, c)
			}
			c = undo()
			if d := differs(after, standing(t, file)); len(d) > 0 {
				t.Fatalf("done again, not as it became: %q", d)
			}
			undo()
			if d := differs(before, standing(t, file)); len(d) > 0 {
				t.Errorf("taken back a second time, not as it was: %q", d)
			}
			if _, err := a.Shop.Changes.Undo(t.Context(), shop.Owner, was.ID); shop.CodeOf(err) != shop.Conflict {
				t.Errorf("what was taken back is taken back once more: %v", err)
			}
			if status, body := a.Page("/history", nil); status != 200 || strings.Contains(body, "change.") {
				t.Errorf("the history: status %d, %s", status, mainText(body))
			}
			taken++
		})
	}
	if taken < 25 && (!testing.Short() || taken < len(short)) {
		t.Errorf("only %d kinds of change were taken back", taken)
	}
}

// mainText is what stands in a page's main part.
func mainText(body string) string {
	_, body, _ = strings.Cut(body, "<main")
	body, _, _ = strings.Cut(body, "</main>")
	return body[:min(len(body), 600)]
}

// A change is taken back by who could make it, and by nobody else; who could not is not shown it.
func TestTakingBackNeedsTheRoleThatTheChangeNeeded(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.Account("Bo", shop.Planner)
	a.Account("Cy", shop.Operator)
	ada, bo, cy := another(a), another(a), another(a)
	ada.SignIn("Ada")
	bo.SignIn("Bo")
	cy.SignIn("Cy")
	change := func() string {
		t.Helper()
		made := webtest.Into[struct{ Changes []shop.Changed }](ada.Send("GET", "/changes?limit=1", nil).OK(200)).Changes
		return strconv.FormatInt(made[0].ID, 10)
	}
	ada.Send("PUT", "/settings", map[string]string{"shop_name": "Two Herons"}).OK(200)
	settings := change()
	bo.Machine("compact-8", "Wren")
	machine := change()
	for _, c := range []struct {
		by     *webtest.App
		change string
	}{{bo, settings}, {cy, settings}, {cy, machine}} {
		c.by.Send("POST", "/changes/"+c.change+"/undo", nil).Fails(403, shop.Forbidden, "")
		if status, _ := c.by.Page("/history/"+c.change+"/undo", url.Values{"to": {"/history"}}); status != 403 {
			t.Errorf("by the page: status %d", status)
		}
		if strings.Contains(string(c.by.Send("GET", "/changes", nil).OK(200).Body), `"id":`+c.change+",") {
			t.Errorf("change %s is shown to who may not take it back", c.change)
		}
	}
	if set, err := a.Shop.Settings.Get(t.Context()); err != nil || set.ShopName != "Two Herons" {
		t.Errorf("the shop is called %q, %v", set.ShopName, err)
	}
	ada.Send("POST", "/changes/"+machine+"/undo", nil).OK(200)
	ada.Send("POST", "/changes/"+settings+"/undo", nil).OK(200)
}
