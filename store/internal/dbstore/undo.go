package dbstore

import (
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/shop"
)

// noted is what a history says of what was done to a change, which may have said nothing of itself.
func noted(done, what string) string {
	if what == "" {
		return done
	}
	return done + ": " + what
}

// Undo takes a change back: step by step from its last, each row that is still
// as the change left it becomes what it was. Versions only rise and histories
// only grow, so that what was made from the undone state is refused as ever.
func (db *DB) Undo(ctx context.Context, id int64) error {
	c, err := db.Change(ctx, id)
	if err != nil {
		return err
	}
	act := shop.ActOf(ctx)
	u := undoing{of: id, at: micros(db.at(act)), by: act.By, orders: map[string]bool{}}
	verb, again := strings.CutPrefix(c.Verb, shop.TakenBack)
	if again {
		c.Verb, u.what = shop.DoneAgain+verb, noted("done again", c.What)
	} else {
		c.Verb, u.what = shop.TakenBack+strings.TrimPrefix(verb, shop.DoneAgain), noted("taken back", c.What)
	}
	return db.changeAs(ctx, "change", c, func(x *tx) error {
		var undoneBy int64
		if err := x.row(`SELECT undone_by FROM changes WHERE id = ?`, id).Scan(&undoneBy); err != nil {
			return err
		}
		switch {
		case undoneBy != 0:
			return shop.Errorf(shop.Conflict, "this was taken back already")
		case !c.Undoable:
			return shop.Invalidf("this cannot be taken back")
		}
		steps, err := x.steps(`change = ?`, id)
		if err != nil {
			return err
		}
		u.tx = x
		for i := len(steps) - 1; i >= 0; i-- {
			if err := u.back(&steps[i]); err != nil {
				return err
			}
		}
		for _, order := range slices.Sorted(maps.Keys(u.orders)) {
			if _, err := x.exec(`INSERT INTO order_changes (order_id, version, at, made_by, what)
				SELECT id, version, ?, ?, ? FROM orders WHERE id = ?`, u.at, u.by, u.what, order); err != nil {
				return err
			}
		}
		return nil
	})
}

// undoing is a change being taken back.
type undoing struct {
	*tx
	of       int64 // the change
	at       int64
	by, what string
	stand    map[int64]bool  // later changes that stand, see standing; nil: not looked at
	orders   map[string]bool // that get an entry of their history
}

// changedSince is the refusal of what is no longer as the change left it.
func changedSince() error {
	return shop.Errorf(shop.Conflict, "it was changed again since, and nothing was done: take the later change back "+
		"first, or change it by hand")
}

// rises are columns that only rise; changes the column of when a row was changed.
var rises = []string{"version", "turned"}

// back makes a row what it was before a step.
func (u *undoing) back(s *step) error {
	switch {
	case s.table.Table == "plans":
		return u.planBefore(s)
	case s.table.stays && s.op == "I":
		return nil
	}
	row := s.now()
	where, key := s.table.where(row)
	there, err := u.image(s.table.Table, where, key)
	if err != nil {
		return err
	}
	if (there == nil) != (s.op == "D") || there != nil && !there.holds(s.became, true) {
		// What was changed since may have been taken back since: then only the version tells.
		changed := (there == nil) != (s.op == "D") || !there.holds(s.became, false)
		if !changed {
			if changed, err = u.changed(s); err != nil {
				return err
			}
		}
		if changed {
			return changedSince()
		}
	}
	if s.table.Table == "orders" {
		u.orders[row.text("id")] = true
	}
	switch s.op {
	case "D":
		was := maps.Clone(s.was)
		for _, c := range rises {
			if _, ok := was[c]; ok {
				was[c] = json.Number(strconv.FormatInt(was.number(c)+1, 10))
			}
		}
		columns := slices.Sorted(maps.Keys(was))
		var args []any
		for _, c := range columns {
			args = append(args, plain(was[c]))
		}
		_, err := u.exec(`INSERT INTO `+s.table.Table+` (`+strings.Join(columns, ", ")+`) VALUES (`+marks(len(columns))+`)`,
			args...)
		return err
	case "I":
		if s.table.gone == "" {
			return u.one(`DELETE FROM `+s.table.Table+where, key...)
		}
		set, args := []string{s.table.gone}, []any{}
		if strings.Contains(s.table.gone, ":back") {
			set[0] = strings.Replace(set[0], ":back", "?", 1)
			args = append(args, doc{book.TakenBack{At: time.UnixMicro(u.at).UTC(), By: u.by}})
		}
		return u.set(s.table.Table, there, set, args, where, key)
	}
	if s.table.Table == "machines" && s.was.number("version") != s.became.number("version") {
		return u.sheetBefore(s)
	}
	var set []string
	var args []any
	for _, c := range slices.Sorted(maps.Keys(s.was)) {
		if !slices.Contains(rises, c) && c != "changed" && textIn(s.was[c]) != textIn(s.became[c]) {
			set = append(set, c+" = ?")
			args = append(args, plain(s.was[c]))
			if b, ok := there[c].([]byte); ok && b != nil { // a blob is kept in hexadecimal
				b, err := hex.DecodeString(s.was.text(c))
				if err != nil {
					return err
				}
				args[len(args)-1] = b
			}
		}
	}
	return u.set(s.table.Table, there, set, args, where, key)
}

// set changes a row, under its next version where it has one.
func (u *undoing) set(table string, there image, set []string, args []any, where string, key []any) error {
	for _, c := range rises {
		if _, ok := there[c]; ok && table != "machines" { // whose version is its sheet's
			set = append(set, c+" = "+c+" + 1")
		}
	}
	if _, ok := there["changed"]; ok && table != "timings" {
		set, args = append(set, "changed = ?"), append(args, u.at)
	}
	if len(set) == 0 {
		return nil
	}
	return u.one(`UPDATE `+table+` SET `+strings.Join(set, ", ")+where, append(args, key...)...)
}

// sheetBefore gives a machine the sheet that it had before, as the next version.
func (u *undoing) sheetBefore(s *step) error {
	id, version := s.was.text("id"), 0
	if err := u.row(`SELECT MAX(version) + 1 FROM sheet_versions WHERE machine_id = ?`, id).Scan(&version); err != nil {
		return err
	}
	if _, err := u.exec(`INSERT INTO sheet_versions (machine_id, version, origin, parent, note, made_by, made, digest, toml)
		SELECT machine_id, ?, ?, version, ?, ?, ?, digest, toml FROM sheet_versions WHERE machine_id = ? AND version = ?`,
		version, string(shop.Undone), u.what, u.by, u.at, id, s.was.number("version")); err != nil {
		return err
	}
	return u.one(`UPDATE machines SET version = ?, name = ?, name_key = ?, removed = ? WHERE id = ?`, version,
		s.was.text("name"), s.was.text("name_key"), s.was.number("removed"), id)
}

// changed reports whether a later change of a step's row stands. Plans are one row:
// of all of them only the newest counts.
func (u *undoing) changed(s *step) (bool, error) {
	if u.stand == nil {
		var err error
		if u.stand, err = u.standing(); err != nil {
			return false, err
		}
	}
	if len(u.stand) == 0 {
		return false, nil
	}
	later, err := u.steps(`tbl = ? AND change > ?`, s.table.Table, u.of)
	if err != nil {
		return false, err
	}
	where, key := s.table.where(s.now())
	return slices.ContainsFunc(later, func(l step) bool {
		if !u.stand[l.change] {
			return false
		}
		at, of := l.table.where(l.now())
		return s.table.Table == "plans" || at == where && slices.Equal(of, key)
	}), nil
}

// standing are the changes after the one that is taken back, without those that were
// taken back themselves, and their taking back.
func (u *undoing) standing() (map[int64]bool, error) {
	rows, err := u.t.QueryContext(u.ctx, `SELECT id, undoes FROM changes WHERE id > ? ORDER BY id DESC`, u.of)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	stand, gone := map[int64]bool{}, map[int64]bool{}
	for rows.Next() {
		var id, undoes int64
		if err := rows.Scan(&id, &undoes); err != nil {
			return nil, err
		}
		switch {
		case gone[id]:
		case undoes > u.of && !gone[undoes]:
			gone[undoes] = true
		default:
			stand[id] = true
		}
	}
	return stand, rows.Err()
}

// planBefore makes the plan before one the newest again.
func (u *undoing) planBefore(s *step) error {
	version := int(s.became.number("version"))
	var newest int
	if err := u.row(`SELECT COALESCE(MAX(version), 0) FROM plans`).Scan(&newest); err != nil {
		return err
	}
	if newest != version {
		changed, err := u.changed(s)
		if err != nil {
			return err
		}
		if changed {
			return changedSince()
		}
	}
	var kept string
	err := u.row(`SELECT doc FROM plans WHERE version = ?`, version-1).Scan(&kept)
	if errors.Is(err, sql.ErrNoRows) {
		return shop.Invalidf("there is no plan before it to go back to: make the plan anew instead")
	}
	if err != nil {
		return err
	}
	var p map[string]json.RawMessage
	if err := json.Unmarshal([]byte(kept), &p); err != nil {
		return err
	}
	p["version"] = json.RawMessage(strconv.Itoa(newest + 1))
	_, err = u.exec(`INSERT INTO plans (version, made, made_by, doc) SELECT ?, made, made_by, ? FROM plans WHERE version = ?`,
		newest+1, doc{p}, version-1)
	return err
}

// where finds a row of a table.
func (t *Trailed) where(row image) (where string, key []any) {
	for i, k := range t.Key {
		where += []string{" WHERE ", " AND "}[min(i, 1)] + k + " = ?"
		key = append(key, plain(row[k]))
	}
	return where, key
}

// image is a row as it is; nil for none. Blobs are bytes.
func (t *tx) image(table, where string, key []any) (image, error) {
	rows, err := t.t.QueryContext(t.ctx, `SELECT * FROM `+table+where, key...)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	if !rows.Next() {
		return nil, rows.Err()
	}
	columns, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	values, to := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		to[i] = &values[i]
	}
	if err := rows.Scan(to...); err != nil {
		return nil, err
	}
	out := image{}
	for i, c := range columns {
		out[c] = values[i]
	}
	return out, nil
}

// holds reports whether a row has all that a kept image has; with the version and the
// time of it, or apart from those.
func (m image) holds(kept image, version bool) bool {
	for c, v := range kept {
		if !version && (c == "changed" || slices.Contains(rises, c)) {
			continue
		}
		is, ok := m[c]
		if !ok {
			continue // a column that is no more
		}
		if f, isFloat := is.(float64); isFloat {
			n, _ := v.(json.Number)
			k, err := n.Float64()
			if err != nil || math.Abs(f-k) > 1e-12*math.Abs(f) {
				return false
			}
			continue
		}
		if textIn(is) != textIn(v) {
			return false
		}
	}
	return true
}

// textIn is a value of a row as it is compared.
func textIn(v any) string {
	switch v := v.(type) {
	case nil:
		return "\x00"
	case []byte:
		return strings.ToUpper(hex.EncodeToString(v))
	case float64:
		return strconv.FormatFloat(v, 'g', 15, 64)
	}
	return fmt.Sprint(v)
}

// plain is a value of an image as a database takes it.
func plain(v any) any {
	n, ok := v.(json.Number)
	if !ok {
		return v
	}
	if i, err := n.Int64(); err == nil {
		return i
	}
	f, _ := n.Float64()
	return f
}
