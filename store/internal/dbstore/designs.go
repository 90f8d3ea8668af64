package dbstore

import (
	"context"
	"strings"

	"needlepace/book"
	"needlepace/shop"
)

const designColumns = `id, digest, sewn, name, file, label, format, bytes, stitches, jumps, colour_stops, stops,
	width_mm, height_mm, threads, warnings, customer, note, added, removed`

func scanDesign(scan scan) (*shop.Design, error) {
	var d shop.Design
	err := scan(&d.ID, &d.Digest, &d.SewnDigest, &d.Name, &d.File, &d.Label, &d.Format, &d.Bytes, &d.Stitches, &d.Jumps,
		&d.ColourStops, &d.Stops,
		&d.WidthMM, &d.HeightMM, doc{&d.Threads}, doc{&d.Warnings}, &d.Customer, &d.Note, moment{&d.Added}, &d.Removed)
	return &d, err
}

func searchText(d *shop.Design) string {
	return fold(strings.Join([]string{d.Name, d.File, d.Label, d.Customer, d.Note}, "\n"))
}

// AddDesign keeps a design, its file and its drawings in one transaction.
func (db *DB) AddDesign(ctx context.Context, d *shop.Design, content []byte, t shop.Thumbs) (added bool, err error) {
	err = db.change(ctx, "design", func(x *tx) error {
		n, err := x.exec(`INSERT INTO designs (`+designColumns+`, name_key, customer_key, search) VALUES (`+marks(23)+
			`) ON CONFLICT (id) DO NOTHING`,
			d.ID, d.Digest, d.SewnDigest, d.Name, d.File, d.Label, d.Format, d.Bytes, d.Stitches, d.Jumps,
			d.ColourStops, d.Stops,
			d.WidthMM, d.HeightMM, doc{d.Threads}, doc{d.Warnings}, d.Customer, d.Note, micros(d.Added), 0,
			sortKey(d.Name), sortKey(d.Customer), searchText(d))
		if err != nil {
			return err
		}
		if n == 0 {
			n, err = x.exec(`UPDATE designs SET removed = 0 WHERE id = ? AND removed = 1`, d.ID)
			added = n > 0
			return err
		}
		added = true
		if _, err := x.exec(`INSERT INTO contents (design_id, content) VALUES (?, ?)`, d.ID, content); err != nil {
			return err
		}
		_, err = x.exec(`INSERT INTO thumbs (design_id, light, dark) VALUES (?, ?, ?)`, d.ID, t.Light, t.Dark)
		return err
	})
	return added && err == nil, err
}

// Design finds a design.
func (db *DB) Design(ctx context.Context, id string) (*shop.Design, error) {
	// It is there whatever else is added; one that is not may be.
	d, err := find(shop.Without(ctx, shop.AddedPart), db, "design", scanDesign, `SELECT `+designColumns+` FROM designs WHERE id = ?`, id)
	if err != nil {
		shop.Note(ctx, shop.AddedPart)
	}
	return d, err
}

var likeEscaper = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// openStates are those of orders that are still to be done.
var openStates = func() (out []string) {
	for _, s := range book.OrderStates {
		if s.Open() {
			out = append(out, string(s))
		}
	}
	return out
}()

// Designs is a page of the list.
func (db *DB) Designs(ctx context.Context, q shop.DesignQuery) (page []*shop.Design, total int, err error) {
	where := ` WHERE removed = ?`
	args := []any{flag(q.Removed)}
	if q.Sewn != "" {
		where += ` AND sewn = ?`
		args = append(args, q.Sewn)
	}
	if q.Customer != "" {
		where += ` AND customer = ?`
		args = append(args, q.Customer)
	}
	switch q.State {
	case shop.Ordered:
		where += ` AND id IN (SELECT l.design_id FROM order_lines l JOIN orders o ON o.id = l.order_id WHERE o.state IN (` +
			marks(len(openStates)) + `))`
		args = append(args, anys(openStates)...)
	case shop.Timed:
		where += ` AND id IN (SELECT design_id FROM runs)`
	case shop.Untimed:
		where += ` AND id NOT IN (SELECT design_id FROM runs WHERE design_id IS NOT NULL)`
	case shop.Warned:
		where += ` AND warnings NOT IN ('[]', 'null')`
	}
	for _, word := range strings.Fields(fold(q.Search)) {
		where += ` AND search LIKE ? ESCAPE '\'`
		args = append(args, "%"+likeEscaper.Replace(word)+"%")
	}
	if err := db.row(ctx, `SELECT count(*) FROM designs`+where, args...).Scan(&total); err != nil {
		return nil, 0, db.tell(err, "design")
	}
	up, down := "ASC", "DESC"
	if q.Reverse {
		up, down = down, up
	}
	order := map[string]string{
		"name":     "name_key " + up + ", id " + up,
		"customer": "customer_key " + up + ", name_key " + up + ", id " + up,
		"stitches": "stitches " + down + ", id " + down,
		"size":     "width_mm * height_mm " + down + ", id " + down,
	}[q.Sort]
	if order == "" {
		order = "added " + down + ", id " + down
	}
	page, err = list(ctx, db, "design", scanDesign, `SELECT `+designColumns+` FROM designs`+where+
		` ORDER BY `+order+` LIMIT ? OFFSET ?`, append(args, q.Limit, q.Offset)...)
	return page, total, err
}

// DescribeDesign changes what people say about a design.
func (db *DB) DescribeDesign(ctx context.Context, id string, desc shop.Description, t *shop.Thumbs) error {
	return db.change(ctx, "design", func(x *tx) error {
		d, err := scanDesign(x.row(`SELECT `+designColumns+` FROM designs WHERE id = ?`, id).Scan)
		if err != nil {
			return err
		}
		d.Name, d.Customer, d.Note = desc.Name, desc.Customer, desc.Note
		if err := x.one(`UPDATE designs SET name = ?, customer = ?, note = ?, threads = ?, name_key = ?,
		customer_key = ?, search = ? WHERE id = ?`,
			d.Name, d.Customer, d.Note, doc{desc.Threads}, sortKey(d.Name), sortKey(d.Customer), searchText(d), id); err != nil || t == nil {
			return err
		}
		return x.one(`UPDATE thumbs SET light = ?, dark = ? WHERE design_id = ?`, t.Light, t.Dark, id)
	})
}

// RemoveDesign takes a design off the list, or puts it back.
func (db *DB) RemoveDesign(ctx context.Context, id string, removed bool) error {
	return db.change(ctx, "design", func(x *tx) error {
		return x.one(`UPDATE designs SET removed = ? WHERE id = ?`, flag(removed), id)
	})
}

// DesignContent is the file's bytes.
func (db *DB) DesignContent(ctx context.Context, id string) (content []byte, err error) {
	err = db.row(ctx, `SELECT content FROM contents WHERE design_id = ?`, id).Scan(&content)
	return content, db.tell(err, "design")
}

// DesignThumbs are a design's drawings.
func (db *DB) DesignThumbs(ctx context.Context, id string) (t shop.Thumbs, err error) {
	err = db.row(ctx, `SELECT light, dark FROM thumbs WHERE design_id = ?`, id).Scan(&t.Light, &t.Dark)
	return t, db.tell(err, "design")
}

// RunTimes finds what was kept.
func (db *DB) RunTimes(ctx context.Context, build string, designs, sheets []string) ([]shop.RunTime, error) {
	if len(designs) == 0 || len(sheets) == 0 {
		return nil, nil
	}
	args := append([]any{build}, anys(designs, sheets)...)
	return list(ctx, db, "run time", func(scan scan) (shop.RunTime, error) {
		t := shop.RunTime{Build: build}
		err := scan(&t.DesignID, &t.SheetDigest, &t.Seconds, &t.Low, &t.High, &t.SetSpeed, &t.HeldSpeed, doc{&t.Parts})
		return t, err
	},
		`SELECT design_id, sheet, seconds, low, high, set_speed, held_speed,
		parts FROM run_times WHERE build = ? AND design_id IN (`+
			marks(len(designs))+`) AND sheet IN (`+marks(len(sheets))+`)`, args...)
}

// KeepRunTimes keeps run times.
func (db *DB) KeepRunTimes(ctx context.Context, all []shop.RunTime) error {
	return db.note(ctx, "run time", func(x *tx) error {
		for _, t := range all {
			if _, err := x.exec(`INSERT INTO run_times (design_id, sheet, build, seconds, low, high, set_speed,
		held_speed, parts) VALUES (`+marks(9)+`)
				ON CONFLICT (design_id, sheet, build) DO UPDATE SET seconds = excluded.seconds,
		low = excluded.low, high = excluded.high,
				set_speed = excluded.set_speed, held_speed = excluded.held_speed, parts = excluded.parts`,
				t.DesignID, t.SheetDigest, t.Build, t.Seconds, t.Low, t.High, t.SetSpeed, t.HeldSpeed,
				doc{t.Parts}); err != nil {
				return err
			}
		}
		return nil
	})
}

// DropRunTimes forgets what other builds computed.
func (db *DB) DropRunTimes(ctx context.Context, build string) error {
	return db.note(ctx, "run time", func(x *tx) error {
		_, err := x.exec(`DELETE FROM run_times WHERE build <> ?`, build)
		return err
	})
}
