package dbstore

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"needlepace/shop"
)

// Trailed is a table whose rows are kept as they were and became, for every change.
// The engine writes them to the table trail, in the transaction, with change NULL.
type Trailed struct {
	Table string
	Key   []string // its primary key
	Only  []string // columns that are kept; none: all
	When  string   // a condition on a row (named row) for which it is kept; empty: always
	Added bool     // only rows that are added are kept
	Quiet []string // columns that may change without a trail

	gone string // what a row that was added becomes where that is taken back: SQL after SET; empty: it is deleted
	// stays says that a row that was added stays: it is history, or others have seen it.
	stays bool
}

// TrailedTables are all of them. Who may sign in is told, without what they sign in
// by, and stays: that is no mistake to be taken back unasked.
var TrailedTables = []Trailed{
	{Table: "designs", Key: []string{"id"}, gone: "removed = 1"},
	{Table: "thumbs", Key: []string{"design_id"}, stays: true},
	{Table: "machines", Key: []string{"id"}, gone: "removed = 1"},
	{Table: "sheet_versions", Key: []string{"machine_id", "version"}, Only: []string{"note"}, stays: true},
	{Table: "runs", Key: []string{"id"}},
	{Table: "timings", Key: []string{"id"}},
	{Table: "heard", Key: []string{"id"}, gone: "dropped = 1"},
	{Table: "settings", Key: []string{"key"}, When: "row.key IN ('settings', 'logo')"},
	{Table: "setups", Key: []string{"id"}},
	{Table: "orders", Key: []string{"id"}, gone: "state = 'withdrawn'"},
	{Table: "order_lines", Key: []string{"order_id", "line"}},
	{Table: "order_changes", Key: []string{"order_id", "version"}, Only: []string{"what"}, stays: true},
	{Table: "order_reports", Key: []string{"id"}, gone: "taken_back = :back"},
	{Table: "order_deliveries", Key: []string{"id"}, gone: "taken_back = :back"},
	{Table: "order_tables", Key: []string{"headings"}},
	{Table: "order_keys", Key: []string{"key"}},
	{Table: "quotes", Key: []string{"id"}, Only: []string{"order_id"}, stays: true},
	{Table: "visits", Key: []string{"id"}, gone: "removed = 1"},
	{Table: "visit_files", Key: []string{"visit_id", "name"}},
	{Table: "lists", Key: []string{"id"}},
	{Table: "call_pages", Key: []string{"visit_id", "name"}, gone: "is_open = 0"},
	{Table: "plans", Key: []string{"version"}, Only: []string{"made"}, Added: true, stays: true},
	{Table: "accounts", Key: []string{"id"}, Only: []string{"name", "role", "disabled"}, Quiet: []string{"language", "person"}, stays: true},
	{Table: "tokens", Key: []string{"id"}, Only: []string{"name", "role"}, Quiet: []string{"seen"}, stays: true},
	{Table: "phones", Key: []string{"id"}, Only: []string{"name", "role", "let_in"}, Quiet: []string{"seen"}, stays: true},
}

// image is a row: its columns with text, numbers and null; blobs are hexadecimal.
type image map[string]any

func (m image) text(column string) string { s, _ := m[column].(string); return s }

func (m image) number(column string) int64 {
	n, _ := m[column].(json.Number)
	v, _ := n.Int64()
	return v
}

// step is one row that a change added (I), changed (U) or deleted (D).
type step struct {
	change      int64 // it belongs to; 0: not yet to one
	table       *Trailed
	op          string
	was, became image
}

// now is the row as the step left it, or as it was before it went.
func (s *step) now() image {
	if s.op == "D" {
		return s.was
	}
	return s.became
}

func (x *tx) steps(where string, args ...any) (all []step, err error) {
	rows, err := x.t.QueryContext(x.ctx, `SELECT COALESCE(change, 0), tbl, op, was, became FROM trail WHERE `+where+` ORDER BY id`, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		var s step
		var table, was, became string
		if err := rows.Scan(&s.change, &table, &s.op, &was, &became); err != nil {
			return nil, err
		}
		i := slices.IndexFunc(TrailedTables, func(t Trailed) bool { return t.Table == table })
		if i < 0 {
			continue // of a newer form
		}
		s.table = &TrailedTables[i]
		for _, r := range []struct {
			text string
			to   *image
		}{{was, &s.was}, {became, &s.became}} {
			if r.text == "" {
				continue
			}
			d := json.NewDecoder(strings.NewReader(r.text))
			d.UseNumber()
			if err := d.Decode(r.to); err != nil {
				return nil, err
			}
		}
		all = append(all, s)
	}
	return all, rows.Err()
}

// keepTrail gives the rows that the transaction changed to a change: that of the
// act, or a new one; 0 where nothing was changed.
func (x *tx) keepTrail(act *shop.Act, at time.Time, as *shop.Changed) (id int64, err error) {
	steps, err := x.steps(`change IS NULL`)
	if err != nil || len(steps) == 0 && x.told == nil {
		return 0, err
	}
	c := x.told
	if len(steps) > 0 {
		if c, err = x.subject(steps); err != nil {
			return 0, err
		}
	}
	if as != nil {
		c.Thing, c.Ref, c.Name, c.Verb, c.What, c.Things, c.Undoes = as.Thing, as.Ref, as.Name, as.Verb, as.What, as.Things, as.ID
	}
	if act.Thing != "" {
		c.Thing, c.Ref, c.Name, c.Verb, c.What, c.Things = act.Thing, "", "", cmp.Or(act.Verb, "added"), "", 1
	}
	c.Undoable = c.Undoable && !act.Final
	needs := act.Right
	switch c.Thing {
	case "account", "token", "phone", "sign-in": // whatever it took, as one's own password
		needs = shop.KeepAccounts
	}
	if id = act.Change.Load(); id != 0 {
		// What an act changes after it has added some is what it added.
		err = x.one(`UPDATE changes SET undoable = undoable | ?,
			things = things + CASE WHEN thing <> ? OR verb = 'added' AND ? = 'changed' THEN 0 ELSE ? END
			WHERE id = ?`, flag(c.Undoable), c.Thing, c.Verb, c.Things, id)
	} else {
		id, err = x.put(`INSERT INTO changes (at, made_by, origin, needs, thing, ref, name, verb, what, things, undoable, undoes)
			VALUES (`+marks(12)+`)`, micros(at), act.By, act.From, string(needs), c.Thing, c.Ref, c.Name, c.Verb, c.What,
			c.Things, flag(c.Undoable), c.Undoes)
	}
	if err != nil {
		return 0, err
	}
	if _, err := x.exec(`UPDATE trail SET change = ? WHERE change IS NULL`, id); err != nil {
		return 0, err
	}
	if as != nil {
		if err := x.one(`UPDATE changes SET undone_by = ? WHERE id = ?`, id, as.ID); err != nil {
			return 0, err
		}
	}
	if id%64 == 0 { // now and then
		if _, err := x.exec(`DELETE FROM trail WHERE change <= ?`, id-shop.KeptChanges); err != nil {
			return 0, err
		}
		if _, err := x.exec(`UPDATE changes SET undoable = 0 WHERE id <= ? AND id > ?`, id-shop.KeptChanges, id-2*shop.KeptChanges); err != nil {
			return 0, err
		}
		if _, err := x.exec(`DELETE FROM changes WHERE id <= ?`, id-shop.KeptHistory); err != nil {
			return 0, err
		}
	}
	return id, nil
}

// put is exec that tells the number of the row it added.
func (t *tx) put(s string, args ...any) (id int64, err error) {
	err = t.row(s+" RETURNING id", args...).Scan(&id)
	return id, err
}

// subjects are the tables that a change is told by, the most telling first.
var subjects = []string{"orders", "plans", "machines", "setups", "settings", "designs", "heard", "runs", "timings", "order_tables", "visits", "visit_files", "call_pages", "lists",
	"accounts", "tokens", "phones"}

// subject says what steps are about.
func (x *tx) subject(steps []step) (*shop.Changed, error) {
	c := &shop.Changed{Verb: "changed", Things: 1}
	var first *step
	refs := map[string]bool{}
	rank := len(subjects)
	for i := range steps {
		s := &steps[i]
		c.Undoable = c.Undoable || !s.table.stays || s.table.Table == "plans" && s.became.number("version") > 1
		at := slices.Index(subjects, s.table.Table)
		if at < 0 || at > rank {
			continue
		}
		if at < rank {
			rank, first = at, s
			clear(refs)
		}
		refs[s.key()] = true
	}
	if first == nil {
		c.Thing = steps[0].table.Table
		return c, nil
	}
	c.Things = len(refs)
	row := first.now()
	c.Ref, c.Name = row.text(first.table.Key[0]), row.text("name")
	switch {
	case first.op == "I":
		c.Verb = "added"
	case first.op == "D", first.was.number("removed") < first.became.number("removed"):
		c.Verb = "gone"
	case first.was.number("removed") > first.became.number("removed"):
		c.Verb = "back"
	}
	switch first.table.Table {
	case "orders":
		c.Thing, c.Name = "order", row["number"].(json.Number).String()
		c.What = told(steps, "order_changes", "what")
	case "plans":
		c.Thing, c.Ref, c.Name = "plan", "", row["version"].(json.Number).String()
	case "machines":
		c.Thing = "machine"
		if first.op == "U" && first.was.number("version") != first.became.number("version") {
			c.Thing, c.What = "sheet", told(steps, "sheet_versions", "note")
		}
	case "setups":
		if c.Thing = row.text("kind"); c.Ref == shop.WorkshopID {
			c.Thing = "hours"
		}
	case "settings":
		c.Thing = c.Ref
	case "designs":
		c.Thing = "design"
	case "accounts", "tokens", "phones":
		c.Thing, c.What = strings.TrimSuffix(first.table.Table, "s"), comesIn(first)
	case "order_tables":
		c.Thing, c.Ref = "columns", ""
	case "visits":
		if c.Thing = "visit"; c.Verb == "changed" {
			c.What = shop.VisitDescribed
		}
	case "lists":
		c.Thing, c.What = "list", row.text("of_things")
	case "visit_files", "call_pages": // what is in it: the visit is changed
		c.Thing, c.Verb, c.Ref, c.What = "visit", "changed", row.text("visit_id"), inVisit(steps, first)
		if more := shop.DetailsOf(x.ctx); more != "" {
			c.What += "\n" + more
		}
		return c, x.row(`SELECT name FROM visits WHERE id = ?`, c.Ref).Scan(&c.Name)
	case "runs", "timings", "heard":
		if c.Thing = strings.TrimSuffix(first.table.Table, "s"); c.Thing == "heard" {
			c.Thing = "recording"
			if first.op == "U" {
				c.Verb = map[bool]string{true: "gone", false: "back"}[row.number("dropped") == 1]
			}
		}
		c.Ref = row.text("machine_id")
		return c, x.row(`SELECT name FROM machines WHERE id = ?`, c.Ref).Scan(&c.Name)
	}
	return c, nil
}

// inVisit is what was done to a file of a visit, or to the page of a call of it: of several files the one
// that says what is sewn, or the first.
func inVisit(steps []step, first *step) string {
	if first.table.Table == "call_pages" {
		if first.now().number("is_open") == 1 {
			return shop.VisitPageOpened + first.now().text("name")
		}
		return shop.VisitPageShut + first.now().text("name")
	}
	for i := range steps {
		if s := &steps[i]; s.table == first.table && strings.HasSuffix(s.now().text("name"), ".toml") &&
			(strings.HasPrefix(s.now().text("name"), "trials/") || strings.HasPrefix(s.now().text("name"), "calls/")) {
			first = s
			break
		}
	}
	return map[string]string{"I": shop.VisitFilePut, "U": shop.VisitReplaced, "D": shop.VisitTakenOut}[first.op] + first.now().text("name")
}

// comesIn is what a step did to one who may come in.
func comesIn(s *step) string {
	switch was, became := s.was, s.became; {
	case s.op == "D":
		return ""
	case s.op == "I", was.text("role") != became.text("role"):
		return "as " + became.text("role")
	case was.number("disabled") < became.number("disabled"):
		return "shut out"
	case was.number("disabled") > became.number("disabled"):
		return "let in again"
	case s.table.Table == "accounts":
		return "a new password"
	case was.number("let_in") != became.number("let_in"):
		return "came in by its code"
	}
	return "a new code"
}

// told is what the history of a thing says of the first step that it has.
func told(steps []step, table, column string) string {
	for i := range steps {
		if steps[i].table.Table == table {
			return steps[i].became.text(column)
		}
	}
	return ""
}

// key is the row's, in words.
func (s *step) key() string {
	var all []string
	row := s.now()
	for _, k := range s.table.Key {
		all = append(all, textIn(row[k]))
	}
	return strings.Join(all, " ")
}

const changeColumns = `id, at, made_by, origin, needs, thing, ref, name, verb, what, things, undoable, undoes, undone_by`

func scanChange(scan scan) (*shop.Changed, error) {
	var c shop.Changed
	err := scan(&c.ID, moment{&c.At}, &c.By, &c.From, &c.Right, &c.Thing, &c.Ref, &c.Name, &c.Verb, &c.What, &c.Things, &c.Undoable,
		&c.Undoes, &c.UndoneBy)
	return &c, err
}

// Change finds a change.
func (db *DB) Change(ctx context.Context, id int64) (*shop.Changed, error) {
	return find(ctx, db, "change", scanChange, `SELECT `+changeColumns+` FROM changes WHERE id = ?`, id)
}

// Changes is a page of what was changed, newest first.
func (db *DB) Changes(ctx context.Context, q shop.ChangeQuery) (page []*shop.Changed, total int, err error) {
	where, args := ` WHERE 1 = 1`, []any{}
	if len(q.Rights) > 0 {
		where += ` AND needs IN (` + marks(len(q.Rights)) + `)`
		for _, r := range q.Rights {
			args = append(args, string(r))
		}
	}
	if q.Thing != "" {
		where, args = where+` AND thing = ?`, append(args, q.Thing)
	}
	if q.Ref != "" {
		where, args = where+` AND ref = ?`, append(args, q.Ref)
	}
	if q.Before > 0 {
		where, args = where+` AND id < ?`, append(args, q.Before)
	}
	if err := db.row(ctx, `SELECT count(*) FROM changes`+where, args...).Scan(&total); err != nil {
		return nil, 0, db.tell(err, "change")
	}
	page, err = list(ctx, db, "change", scanChange, `SELECT `+changeColumns+` FROM changes`+where+
		` ORDER BY id DESC LIMIT ? OFFSET ?`, append(args, q.Limit, q.Offset)...)
	return page, total, err
}

// TrailTrigger writes what happens to rows of a table to the trail.
type TrailTrigger struct {
	Name, Verb, Table string // Verb: INSERT, UPDATE or DELETE
	When              string // condition for a row; empty: each
	Insert            string // what it does
}

// TrailTriggers are all of them, for the columns that tables have. image is the
// engine's text of a row with these columns, e.g. NEW; differs the engine's words
// for: is another than.
func TrailTriggers(
	columns func(table string) ([]Column, error), image func(row string, columns []Column) string, differs string,
) (out []TrailTrigger, err error) {
	for _, t := range TrailedTables {
		all, err := columns(t.Table)
		if err != nil {
			return nil, err
		}
		var differ []string
		for _, c := range all {
			if slices.Contains(t.Quiet, c.Name) {
				continue
			}
			differ = append(differ, "OLD."+c.Name+" "+differs+" NEW."+c.Name)
		}
		kept := slices.DeleteFunc(slices.Clone(all), func(c Column) bool {
			return len(t.Only) > 0 && !slices.Contains(t.Only, c.Name) && !slices.Contains(t.Key, c.Name)
		})
		was, became := image("OLD", kept), image("NEW", kept)
		for _, on := range []struct{ op, verb, row, was, became, when string }{
			{"I", "INSERT", "NEW", "''", became, ""},
			{"U", "UPDATE", "NEW", was, became, "(" + strings.Join(differ, " OR ") + ")"},
			{"D", "DELETE", "OLD", was, "''", ""},
		} {
			if t.Added && on.op != "I" {
				continue
			}
			var when []string
			if on.when != "" {
				when = append(when, on.when)
			}
			if t.When != "" {
				when = append(when, strings.ReplaceAll(t.When, "row.", on.row+"."))
			}
			out = append(out, TrailTrigger{Name: "trail_" + t.Table + "_" + strings.ToLower(on.op), Verb: on.verb, Table: t.Table,
				When: strings.Join(when, " AND "), Insert: "INSERT INTO trail (tbl, op, was, became) VALUES ('" + t.Table + "', '" +
					on.op + "', " + on.was + ", " + on.became + ")"})
		}
	}
	return out, nil
}
