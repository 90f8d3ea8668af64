package dbstore

import (
	"context"
	"strings"

	"needlepace/shop"
)

// TakeSampleOut takes out what putting the sample in has added, as the trail has it:
// each thing that is still as it was put in and that nothing which stays is made
// from. What was changed since, and what that needs, stays and is told.
func (db *DB) TakeSampleOut(ctx context.Context) (gone shop.SampleGone, err error) {
	err = db.change(ctx, "sample", func(x *tx) error {
		steps, err := x.steps(`change IN (SELECT id FROM changes WHERE thing = 'demo' AND verb = 'added')`)
		if err != nil {
			return err
		}
		s := &sample{tx: x, own: map[string]bool{}}
		if err := s.read(steps); err != nil {
			return err
		}
		for again := true; again; {
			if again, err = s.keepNeeded(); err != nil {
				return err
			}
		}
		gone = s.told()
		return s.takeOut()
	})
	return gone, err
}

// sample is what the sample brought.
type sample struct {
	*tx
	things []*sampled
	own    map[string]bool // rows that it added, by table and key
}

// sampled is one thing of it: a row of designs, machines, orders or setups.
type sampled struct {
	table, id string
	row       image
	why       string // it stays; empty: it goes
}

// sampleNames are the columns that things are told by.
var sampleNames = map[string]string{"orders": "number", "designs": "name", "machines": "name", "setups": "name"}

func (s *sample) read(steps []step) error {
	last := map[string]*step{}
	var order []string
	for i := range steps {
		st := &steps[i]
		key := st.table.Table + " " + st.key()
		if st.op == "I" {
			s.own[key] = true
			if sampleNames[st.table.Table] != "" {
				order = append(order, key)
			}
		}
		last[key] = st
	}
	for _, key := range order {
		st := last[key]
		where, k := st.table.where(st.became)
		there, err := s.image(st.table.Table, where, k)
		if err != nil {
			return err
		}
		if there == nil {
			continue // gone already
		}
		t := &sampled{table: st.table.Table, id: st.key(), row: there}
		if !there.holds(st.became, true) {
			t.why = shop.SampleChanged
		}
		s.things = append(s.things, t)
	}
	return nil
}

// keepNeeded keeps what something that stays is made from, and reports whether there
// was any.
func (s *sample) keepNeeded() (more bool, err error) {
	var orders, setups []string
	for _, t := range s.things {
		if t.why != "" {
			continue
		}
		switch t.table {
		case "orders":
			orders = append(orders, t.id)
		case "setups":
			setups = append(setups, t.id)
		}
	}
	goingOrders, goingSetups := notAmong("order_id", orders), notAmong("id", setups)
	for _, t := range s.things {
		if t.why != "" {
			continue
		}
		needed := false
		ask := func(query string, args ...any) error {
			if needed {
				return nil
			}
			return s.row(`SELECT EXISTS (`+query+`)`, args...).Scan(&needed)
		}
		switch t.table {
		case "orders":
			needed, err = s.added(t.id)
		case "designs":
			for _, q := range []string{`SELECT 1 FROM runs WHERE design_id = ?`, `SELECT 1 FROM timings WHERE design_id = ?`,
				`SELECT 1 FROM order_lines WHERE design_id = ?` + goingOrders, `SELECT 1 FROM order_reports WHERE design_id = ?` + goingOrders,
			} {
				if err == nil {
					err = ask(q, t.id)
				}
			}
			if err == nil {
				err = ask(`SELECT 1 FROM setups WHERE replace(toml, ?, '') <> toml`+goingSetups, textIn(t.row["file"]))
			}
		case "machines":
			for _, q := range []string{`SELECT 1 FROM runs WHERE machine_id = ?`, `SELECT 1 FROM timings WHERE machine_id = ?`,
				`SELECT 1 FROM order_reports WHERE machine_id = ?` + goingOrders,
				`SELECT 1 FROM order_lines WHERE replace(holds, ?, '') <> holds` + goingOrders,
			} {
				if err == nil {
					err = ask(q, t.id)
				}
			}
			if err == nil {
				err = ask(`SELECT 1 FROM setups WHERE (replace(toml, ?, '') <> toml OR replace(toml, ?, '') <> toml)`+goingSetups, t.id, textIn(t.row["name"]))
			}
		}
		if err != nil {
			return false, err
		}
		if needed {
			t.why, more = shop.SampleNeeded, true
		}
	}
	return more, nil
}

// added reports whether an order has something that the sample did not bring.
func (s *sample) added(order string) (bool, error) {
	for _, table := range []string{"quotes", "order_reports", "order_deliveries"} {
		ids, err := s.ids(`SELECT id FROM `+table+` WHERE order_id = ?`, order)
		if err != nil {
			return false, err
		}
		for _, id := range ids {
			if !s.own[table+" "+id] {
				return true, nil
			}
		}
	}
	return false, nil
}

func (s *sample) ids(query string, args ...any) (all []string, err error) {
	rows, err := s.t.QueryContext(s.ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		var id string
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		all = append(all, id)
	}
	return all, rows.Err()
}

// notAmong is a condition that leaves out rows of some IDs, which are ours.
func notAmong(column string, ids []string) string {
	return ` AND ` + column + ` NOT IN ('` + strings.Join(ids, "', '") + `')`
}

func (s *sample) told() (gone shop.SampleGone) {
	for _, t := range s.things {
		if t.why == "" {
			gone.Things++
			continue
		}
		kind := strings.TrimSuffix(t.table, "s")
		if kind == "setup" {
			if kind = textIn(t.row["kind"]); t.id == shop.WorkshopID {
				kind = "hours"
			}
		}
		gone.Kept = append(gone.Kept, shop.SampleKept{Kind: kind, Name: textIn(t.row[sampleNames[t.table]]), Why: t.why})
	}
	return gone
}

// takeOut deletes what goes: what refers to others first. Plans of orders that go are
// of nothing any more.
func (s *sample) takeOut() error {
	of := map[string][]string{
		"orders": {`DELETE FROM plans WHERE replace(doc, ?, '') <> doc`, `DELETE FROM order_keys WHERE order_id = ?`,
			`DELETE FROM order_deliveries WHERE order_id = ?`, `DELETE FROM order_reports WHERE order_id = ?`,
			`DELETE FROM quotes WHERE order_id = ?`, `DELETE FROM orders WHERE id = ?`},
		"machines": {`DELETE FROM machines WHERE id = ?`},
		"designs":  {`DELETE FROM designs WHERE id = ?`},
		"setups":   {`DELETE FROM setups WHERE id = ?`},
	}
	for _, table := range []string{"orders", "machines", "designs", "setups"} {
		for _, t := range s.things {
			if t.table != table || t.why != "" {
				continue
			}
			for _, q := range of[table] {
				if _, err := s.exec(q, t.id); err != nil {
					return err
				}
			}
			ref := t.id // as a search has it
			if table == "orders" {
				ref = textIn(t.row["number"])
			}
			if _, err := s.exec(`DELETE FROM find_rows WHERE kind = ? AND ref = ?`, strings.TrimSuffix(table, "s"), ref); err != nil {
				return err
			}
		}
	}
	_, err := s.exec(`DELETE FROM find_rows WHERE kind = ? AND ref NOT IN (SELECT customer FROM designs UNION SELECT customer FROM orders)`,
		shop.FoundCustomer)
	return err
}
