package dbstore

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"needlepace/book"
	"needlepace/shop"
)

const orderColumns = `id, number, customer, note, state, due, goods, promised, weight, made, changed, version, latest,
		customer_address, purchase_order, together, roughs`

func scanOrder(scan scan) (*book.Order, error) {
	var o book.Order
	err := scan(&o.ID, &o.Number, &o.Customer, &o.Note, &o.State, day{&o.Due}, day{&o.Goods}, day{&o.Promised},
		&o.Weight,
		moment{&o.Made}, moment{&o.Changed}, &o.Version, day{&o.Latest}, doc{&o.CustomerAddress}, &o.PurchaseOrder, &o.Together, doc{&o.Roughs})
	o.Lines = []book.OrderLine{}
	return &o, err
}

const lineColumns = `order_id, line, design_id, placement, garment, quantity, threads, digitize, most_machines,
		goods, holds, good, spoilt, again, delivered, pieces`

func scanLine(scan scan) (order string, l book.OrderLine, err error) {
	err = scan(&order, &l.Line, &l.DesignID, &l.Placement, &l.Garment, &l.Quantity, doc{&l.Threads}, &l.Digitize,
		&l.MostMachines, doc{&l.LineGoods}, doc{&l.Holds}, &l.Good, &l.Spoilt, &l.Again, &l.Delivered, doc{&l.LinePieces})
	return order, l, err
}

func orderSearch(o *book.Order) string {
	words := []string{fmt.Sprint(o.Number), o.Customer, o.Note, o.PurchaseOrder}
	for _, l := range o.Lines {
		words = append(words, l.Garment, l.Placement)
		words = append(words, l.GarmentColours()...)
	}
	return fold(strings.Join(words, "\n"))
}

// AddOrder keeps a new order under the next number.
func (db *DB) AddOrder(ctx context.Context, o *book.Order, c book.Change) error {
	return db.change(ctx, "order or design", func(x *tx) error { return putOrder(x, o, c) })
}

func putOrder(x *tx, o *book.Order, c book.Change) error {
	const first = 1001
	if err := x.row(`SELECT COALESCE(MAX(number) + 1, ?) FROM orders`, first).Scan(&o.Number); err != nil {
		return err
	}
	if _, err := x.exec(`INSERT INTO orders (`+orderColumns+`, customer_key, search) VALUES (`+marks(19)+`)`,
		o.ID, o.Number, o.Customer, o.Note, string(o.State), o.Due.String(), o.Goods.String(), o.Promised.String(),
		o.Weight, micros(o.Made), micros(o.Changed), o.Version, o.Latest.String(),
		doc{o.CustomerAddress}, o.PurchaseOrder, flag(o.Together), doc{o.Roughs}, sortKey(o.Customer), orderSearch(o)); err != nil {
		return err
	}
	if err := putLines(x, o); err != nil {
		return err
	}
	return addChange(x, c)
}

// AddOrders keeps new orders under the next numbers, all or none.
func (db *DB) AddOrders(ctx context.Context, all []shop.NewOrder) error {
	return db.change(ctx, "order or design", func(x *tx) error {
		for i := range all {
			n := &all[i]
			if err := putOrder(x, n.Order, n.Change); err != nil {
				return err
			}
			if n.Key == "" {
				continue
			}
			var there int
			if err := x.row(`SELECT COUNT(*) FROM order_keys WHERE key = ?`, n.Key).Scan(&there); err != nil {
				return err
			}
			if there > 0 {
				return shop.Errorf(shop.Conflict, "an order of the table was taken in meanwhile; read the table again")
			}
			if _, err := x.exec(`INSERT INTO order_keys (key, digest, order_id) VALUES (?, ?, ?)`, n.Key, n.Digest,
				n.Order.ID); err != nil {
				return err
			}
		}
		return nil
	})
}

// KeyedOrders are the orders that were kept with keys.
func (db *DB) KeyedOrders(ctx context.Context, keys []string) (map[string]shop.KeyedOrder, error) {
	out := map[string]shop.KeyedOrder{}
	for some := range slices.Chunk(keys, 500) {
		err := db.each(ctx, func(scan scan) error {
			var key string
			var k shop.KeyedOrder
			err := scan(&key, &k.Digest, &k.Number)
			out[key] = k
			return err
		}, `SELECT k.key, k.digest, o.number FROM order_keys k JOIN orders o ON o.id = k.order_id WHERE k.key IN (`+
			marks(len(some))+`)`, anys(some)...)
		if err != nil {
			return nil, db.tell(err, "order")
		}
	}
	return out, nil
}

// TableColumns says which column is what of tables with such headings.
func (db *DB) TableColumns(ctx context.Context, headings string) (columns map[string]string, err error) {
	err = db.each(ctx, func(scan scan) error { return scan(doc{&columns}) },
		`SELECT columns FROM order_tables WHERE headings = ?`, headings)
	return columns, db.tell(err, "table")
}

// KeepTableColumns keeps it for the next table.
func (db *DB) KeepTableColumns(ctx context.Context, headings string, columns map[string]string) error {
	return db.change(ctx, "table", func(x *tx) error {
		if _, err := x.exec(`DELETE FROM order_tables WHERE headings = ?`, headings); err != nil {
			return err
		}
		_, err := x.exec(`INSERT INTO order_tables (headings, columns) VALUES (?, ?)`, headings, doc{columns})
		return err
	})
}

func putLines(x *tx, o *book.Order) error {
	if _, err := x.exec(`DELETE FROM order_lines WHERE order_id = ?`, o.ID); err != nil {
		return err
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		if _, err := x.exec(`INSERT INTO order_lines (`+lineColumns+`, place) VALUES (`+marks(17)+`)`,
			o.ID, l.Line, l.DesignID, l.Placement, l.Garment, l.Quantity,
			doc{l.Threads}, flag(l.Digitize), l.MostMachines, doc{l.LineGoods}, doc{l.Holds}, l.Good, l.Spoilt,
			l.Again, l.Delivered, doc{l.LinePieces}, i); err != nil {
			return err
		}
	}
	return nil
}

func addChange(x *tx, c book.Change) error {
	_, err := x.exec(`INSERT INTO order_changes (order_id, version, at, made_by, what) VALUES (`+marks(5)+`)`,
		c.OrderID, c.Version, micros(c.At), c.By, c.What)
	return err
}

// Order finds an order.
func (db *DB) Order(ctx context.Context, id string) (*book.Order, error) {
	return db.orderWhere(ctx, `id = ?`, id)
}

// OrderNumbered finds an order by its number.
func (db *DB) OrderNumbered(ctx context.Context, number int) (*book.Order, error) {
	return db.orderWhere(ctx, `number = ?`, number)
}

func (db *DB) orderWhere(ctx context.Context, where string, arg any) (*book.Order, error) {
	o, err := find(ctx, db, "order", scanOrder, `SELECT `+orderColumns+` FROM orders WHERE `+where, arg)
	if err != nil {
		return nil, err
	}
	return o, db.withLines(ctx, []*book.Order{o})
}

// withLines reads the lines of orders, some hundred orders at a time.
func (db *DB) withLines(ctx context.Context, all []*book.Order) error {
	const atOnce = 500
	for len(all) > 0 {
		some := all[:min(len(all), atOnce)]
		all = all[len(some):]
		byID := map[string]*book.Order{}
		var ids []string
		for _, o := range some {
			byID[o.ID] = o
			ids = append(ids, o.ID)
		}
		err := db.each(ctx, func(scan scan) error {
			id, l, err := scanLine(scan)
			if err == nil {
				byID[id].Lines = append(byID[id].Lines, l)
			}
			return err
		}, `SELECT `+lineColumns+` FROM order_lines WHERE order_id IN (`+marks(len(ids))+`) ORDER BY order_id, place`,
			anys(ids)...)
		if err != nil {
			return db.tell(err, "order")
		}
	}
	return nil
}

// howFar is an order's state as a number that rises on the way.
var howFar = func() string {
	var b strings.Builder
	for i, s := range book.OrderStates {
		fmt.Fprintf(&b, " WHEN '%s' THEN %d", s, i)
	}
	return "CASE state" + b.String() + " ELSE 99 END"
}()

// Orders is a page of the list.
func (db *DB) Orders(ctx context.Context, q shop.OrderQuery) (page []*book.Order, total int, err error) {
	where, args := ` WHERE 1 = 1`, []any{}
	if len(q.States) > 0 {
		where += ` AND state IN (` + marks(len(q.States)) + `)`
		for _, s := range q.States {
			args = append(args, string(s))
		}
	}
	for _, word := range strings.Fields(fold(q.Search)) {
		where += ` AND search LIKE ? ESCAPE '\'`
		args = append(args, "%"+likeEscaper.Replace(word)+"%")
	}
	if err := db.row(ctx, `SELECT count(*) FROM orders`+where, args...).Scan(&total); err != nil {
		return nil, 0, db.tell(err, "order")
	}
	up, down := "ASC", "DESC"
	if q.Reverse {
		up, down = down, up
	}
	order := map[string]string{
		"number":   "number " + down,
		"customer": "customer_key " + up + ", number " + up,
		"promised": "CASE WHEN promised = '' THEN 1 ELSE 0 END " + up + ", promised " + up + ", number " + up,
		"state":    howFar + " " + up + ", number " + up,
	}[q.Sort]
	if order == "" { // those without a day stand last
		order = "CASE WHEN due = '' THEN 1 ELSE 0 END " + up + ", due " + up + ", number " + up
	}
	page, err = list(ctx, db, "order", scanOrder, `SELECT `+orderColumns+` FROM orders`+where+
		` ORDER BY `+order+` LIMIT ? OFFSET ?`, append(args, q.Limit, q.Offset)...)
	if err != nil {
		return nil, 0, err
	}
	return page, total, db.withLines(ctx, page)
}

func changeOrder(x *tx, o *book.Order, c book.Change) error {
	n, err := x.exec(`UPDATE orders SET customer = ?, customer_key = ?, note = ?, state = ?, due = ?,
		goods = ?, promised = ?, latest = ?, customer_address = ?, purchase_order = ?, together = ?, roughs = ?, weight = ?, changed = ?, version = ?,
		search = ?
		WHERE id = ? AND version = ?`,
		o.Customer, sortKey(o.Customer), o.Note, string(o.State), o.Due.String(), o.Goods.String(),
		o.Promised.String(), o.Latest.String(), doc{o.CustomerAddress}, o.PurchaseOrder, flag(o.Together), doc{o.Roughs}, o.Weight,
		micros(o.Changed), o.Version, orderSearch(o), o.ID, o.Version-1)
	if err != nil {
		return err
	}
	if n == 0 {
		var there int
		if err := x.row(`SELECT version FROM orders WHERE id = ?`, o.ID).Scan(&there); err != nil {
			return err
		}
		return shop.Errorf(shop.Conflict,
			"the order was changed meanwhile: it is at version %d; look at it and do it again", there)
	}
	if err := putLines(x, o); err != nil {
		return err
	}
	return addChange(x, c)
}

// ChangeOrder keeps an order as it is now.
func (db *DB) ChangeOrder(ctx context.Context, o *book.Order, c book.Change) error {
	return db.change(ctx, "order or design", func(x *tx) error { return changeOrder(x, o, c) })
}

// OrderHistory lists an order's changes, oldest first.
func (db *DB) OrderHistory(ctx context.Context, id string) (all []book.Change, err error) {
	all, err = list(ctx, db, "order", func(scan scan) (book.Change, error) {
		c := book.Change{OrderID: id}
		err := scan(&c.Version, moment{&c.At}, &c.By, &c.What)
		return c, err
	}, `SELECT version, at, made_by, what FROM order_changes WHERE order_id = ? ORDER BY version`, id)
	if err == nil && len(all) == 0 {
		err = db.tell(errNone, "order")
	}
	return all, err
}

const reportColumns = `id, order_id, line, machine_id, design_id, day, good, spoilt, breaks, seconds,
		predicted, sheet, stitches, run_timed, set_speed, note, made_by, added, number, again, usual, corrects,
		taken_back, garment`

// Keep keeps what an act made.
func (db *DB) Keep(ctx context.Context, seen book.Seen, k shop.Keeping) error {
	return db.change(ctx, "order, machine, design, quote or plan", func(x *tx) error {
		if err := x.unchanged(seen, &k); err != nil {
			return err
		}
		if k.Back != nil {
			if err := takeBack(x, "order_reports", k.Back); err != nil {
				return err
			}
			if _, err := x.exec(`UPDATE runs SET ignored = 1 WHERE id = ?`, k.Back.ID); err != nil {
				return err
			}
		}
		if k.BackDelivery != nil {
			if err := takeBack(x, "order_deliveries", k.BackDelivery); err != nil {
				return err
			}
		}
		if k.Report != nil {
			if err := addReport(x, k.Report); err != nil {
				return err
			}
		}
		if k.Delivery != nil {
			if err := addDelivery(x, k.Delivery); err != nil {
				return err
			}
		}
		if err := addRuns(x, k.Runs); err != nil {
			return err
		}
		if q := k.Quote; q != nil {
			if _, err := x.exec(`INSERT INTO quotes (id, order_id, made, made_by, doc) VALUES (`+marks(5)+`)`,
				q.ID, q.OrderID, micros(q.Made), q.By, q.Doc); err != nil {
				return err
			}
		}
		if k.Order != nil {
			if err := changeOrder(x, k.Order, k.Change); err != nil {
				return err
			}
		}
		if k.Plan != nil {
			return addPlan(x, k.Plan)
		}
		return nil
	})
}

// unchanged refuses what was made from something that is another by now.
func (x *tx) unchanged(seen book.Seen, k *shop.Keeping) error {
	if seen == (book.Seen{}) {
		return nil
	}
	now, err := seenBy(x.ctx, x.t)
	if err != nil {
		return err
	}
	id := ""
	switch {
	case k.Order != nil:
		id = k.Order.ID
	case k.Quote != nil:
		id = k.Quote.OrderID
	}
	if seen.Order != 0 {
		if err := x.row(`SELECT version FROM orders WHERE id = ?`, id).Scan(&now.Order); err != nil {
			return err
		}
	}
	if what := seen.Changed(now); what != "" {
		return shop.Stale(what)
	}
	return nil
}

// numbered gives the next number of an order's reports or deliveries.
func numbered(x *tx, table, orderID string) (n int, err error) {
	err = x.row(`SELECT COALESCE(MAX(number), 0) + 1 FROM `+table+` WHERE order_id = ?`, orderID).Scan(&n)
	return n, err
}

// takeBack marks a row of a table; one that is marked is somebody else's work.
func takeBack(x *tx, table string, b *shop.Back) error {
	n, err := x.exec(`UPDATE `+table+` SET taken_back = ?, turned = turned + 1
		WHERE id = ? AND taken_back = 'null'`, doc{b.TakenBack}, b.ID)
	if err != nil || n > 0 {
		return err
	}
	var there int
	if err := x.row(`SELECT count(*) FROM `+table+` WHERE id = ?`, b.ID).Scan(&there); err != nil {
		return err
	}
	if there == 0 {
		return errNone
	}
	return shop.Errorf(shop.Conflict, "it was taken back or corrected meanwhile; look at it and do it again")
}

func addReport(x *tx, r *book.Report) (err error) {
	if r.Number, err = numbered(x, "order_reports", r.OrderID); err != nil {
		return err
	}
	_, err = x.exec(`INSERT INTO order_reports (`+reportColumns+`) VALUES (`+marks(24)+`)`,
		r.ID, r.OrderID, r.Line, r.MachineID, r.DesignID, r.Day.String(), r.Good, r.Spoilt, r.Breaks, r.Seconds,
		r.Predicted, r.Sheet, r.Stitches, r.RunTimed, r.SetSpeed, r.Note, r.By, micros(r.Added), r.Number, r.Again,
		doc{reported{r.Usual, r.Ended}}, r.Corrects, doc{r.TakenBack}, r.Colour)
	return err
}

const deliveryColumns = `id, order_id, number, line, day, pieces, note, made_by, added, taken_back`

func addDelivery(x *tx, d *book.HandOver) (err error) {
	if d.Number, err = numbered(x, "order_deliveries", d.OrderID); err != nil {
		return err
	}
	_, err = x.exec(`INSERT INTO order_deliveries (`+deliveryColumns+`) VALUES (`+marks(10)+`)`,
		d.ID, d.OrderID, d.Number, d.Line, d.Day.String(), d.Pieces, d.Note, d.By, micros(d.Added), doc{d.TakenBack})
	return err
}

// Deliveries lists an order's deliveries, oldest first.
func (db *DB) Deliveries(ctx context.Context, orderID string) ([]book.HandOver, error) {
	return list(ctx, db, "delivery", func(scan scan) (d book.HandOver, err error) {
		err = scan(&d.ID, &d.OrderID, &d.Number, &d.Line, day{&d.Day}, &d.Pieces, &d.Note, &d.By, moment{&d.Added},
			doc{&d.TakenBack})
		return d, err
	}, `SELECT `+deliveryColumns+` FROM order_deliveries WHERE order_id = ? ORDER BY number`, orderID)
}

func addPlan(x *tx, p *shop.KeptPlan) error {
	var there int
	if err := x.row(`SELECT COALESCE(MAX(version), 0) FROM plans`).Scan(&there); err != nil {
		return err
	}
	if p.Version != there+1 {
		return shop.Stale("the plan")
	}
	if _, err := x.exec(`INSERT INTO plans (version, made, made_by, doc) VALUES (`+marks(4)+`)`,
		p.Version, micros(p.Made), p.By, p.Doc); err != nil {
		return err
	}
	_, err := x.exec(`DELETE FROM plans WHERE version <= ?`, p.Version-shop.KeptPlans)
	return err
}

// reported is what is kept of a report as one document.
type reported struct {
	*book.Held
	Ended []book.Hold `json:"ended,omitempty"`
}

// Reports lists reports, oldest first, those of an order by their numbers: one that corrects another stands behind what was
// reported before it, though it is of the other's time.
func (db *DB) Reports(ctx context.Context, orderID string) ([]book.Report, error) {
	where, args := ` ORDER BY added, order_id, number`, []any{}
	if orderID != "" {
		where, args = ` WHERE order_id = ? ORDER BY number`, []any{orderID}
	}
	return list(ctx, db, "report", func(scan scan) (r book.Report, err error) {
		var said reported
		err = scan(&r.ID, &r.OrderID, &r.Line, &r.MachineID, &r.DesignID, day{&r.Day}, &r.Good, &r.Spoilt, &r.Breaks,
			&r.Seconds, &r.Predicted, &r.Sheet, &r.Stitches, &r.RunTimed, &r.SetSpeed, &r.Note, &r.By, moment{&r.Added}, &r.Number, &r.Again,
			doc{&said}, &r.Corrects, doc{&r.TakenBack}, &r.Colour)
		r.Usual, r.Ended = said.Held, said.Ended
		return r, err
	}, `SELECT `+reportColumns+` FROM order_reports`+where, args...)
}

// Quotes lists an order's quotes, newest first.
func (db *DB) Quotes(ctx context.Context, orderID string) ([]shop.KeptQuote, error) {
	return list(ctx, db, "quote", func(scan scan) (shop.KeptQuote, error) {
		q := shop.KeptQuote{OrderID: orderID}
		err := scan(&q.ID, moment{&q.Made}, &q.By, &q.Doc)
		return q, err
	}, `SELECT id, made, made_by, doc FROM quotes WHERE order_id = ? ORDER BY made DESC, id`, orderID)
}

const planColumns = `version, made, made_by, doc`

func scanPlan(scan scan) (*shop.KeptPlan, error) {
	var p shop.KeptPlan
	err := scan(&p.Version, moment{&p.Made}, &p.By, &p.Doc)
	return &p, err
}

// LastPlan is the newest plan.
func (db *DB) LastPlan(ctx context.Context) (*shop.KeptPlan, error) {
	p, err := scanPlan(db.row(ctx, `SELECT `+planColumns+` FROM plans ORDER BY version DESC LIMIT 1`).Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, db.tell(err, "plan")
	}
	return p, nil
}

// PlanVersion is a kept plan.
func (db *DB) PlanVersion(ctx context.Context, version int) (*shop.KeptPlan, error) {
	return find(ctx, db, "plan", scanPlan, `SELECT `+planColumns+` FROM plans WHERE version = ?`, version)
}
