package dbstore

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash"
	"math"
	"slices"
	"strings"

	"needlepace/shop"
)

// Whole is a shop of which all is read or written, row by row, whatever it means.
type Whole interface {
	// Tables are the shop's tables; one that refers to another stands after it.
	Tables(ctx context.Context) ([]Table, error)
	// Reading does something while all is as it was when it began.
	Reading(ctx context.Context, do func(*sql.Tx) error) error
	// Filling does something in one transaction, in which nothing is done by itself:
	// nothing is counted, no trail is kept.
	Filling(ctx context.Context, do func(*sql.Tx) error) error
	// Dialect is how the engine speaks.
	Dialect() *Engine
}

// Dialect is how the engine speaks.
func (db *DB) Dialect() *Engine { return &db.Engine }

// Copied is a table that was copied.
type Copied struct {
	Table  string
	Rows   int
	Digest string // SHA-256 of all its rows in the order of its key
}

// first has rows in a new shop.
const first = "revisions"

// Copy fills a new shop with all rows of another, in one transaction, and compares
// what is read back with what was read, by count and digest. A shop that holds
// anything is Conflict. Where an engine cannot keep a text as it is, it is replaced
// (see Engine.Clean), and compared so.
func Copy(ctx context.Context, from, to Whole) (all []Copied, err error) {
	tables, err := from.Tables(ctx)
	if err != nil {
		return nil, err
	}
	there, err := to.Tables(ctx)
	if err != nil {
		return nil, err
	}
	for _, t := range tables {
		i := slices.IndexFunc(there, func(o Table) bool { return o.Name == t.Name })
		if i < 0 || !slices.Equal(named(t), named(there[i])) {
			return nil, fmt.Errorf("the table %s is not the same in both shops", t.Name)
		}
	}
	clean := func(s string) string {
		for _, e := range []*Engine{from.Dialect(), to.Dialect()} {
			if e.Clean != nil {
				s = e.Clean(s)
			}
		}
		return s
	}
	err = from.Reading(ctx, func(src *sql.Tx) error {
		return to.Filling(ctx, func(dst *sql.Tx) error {
			in, out := asker{from.Dialect(), src}, asker{to.Dialect(), dst}
			for _, t := range tables {
				var n int
				if err := out.QueryRowContext(ctx, `SELECT count(*) FROM `+t.Name).Scan(&n); err != nil {
					return err
				}
				if n > 0 && t.Name != first {
					return shop.Errorf(shop.Conflict, "there is a shop already, with %d rows of %s: nothing was moved; "+
						"give one that holds nothing", n, t.Name)
				}
			}
			if _, err := out.ExecContext(ctx, `DELETE FROM `+first); err != nil {
				return err
			}
			for _, t := range tables {
				c, err := copyTable(ctx, in, out, t, clean)
				if err != nil {
					return fmt.Errorf("%s: %w", t.Name, err)
				}
				back, err := readTable(ctx, out, t, clean, func([]any) error { return nil })
				if err != nil {
					return fmt.Errorf("%s: %w", t.Name, err)
				}
				if back != c {
					return shop.Errorf(shop.Storage, "%s was read back otherwise than it was written (%d rows of %d): nothing was moved",
						t.Name, back.Rows, c.Rows)
				}
				all = append(all, c)
			}
			return nil
		})
	})
	return all, err
}

func named(t Table) (names []string) {
	for _, c := range t.Columns {
		names = append(names, c.Name+" "+string(c.Type))
	}
	slices.Sort(names)
	return names
}

// As many values and bytes go into one statement.
const (
	mostValues = 900
	mostBytes  = 1 << 20
)

func copyTable(ctx context.Context, in, out asker, t Table, clean func(string) string) (Copied, error) {
	var values []any
	size := 0
	var columns []string
	for _, c := range t.Columns {
		columns = append(columns, c.Name)
	}
	one := "(" + marks(len(columns)) + ")"
	flush := func() error {
		if len(values) == 0 {
			return nil
		}
		_, err := out.ExecContext(ctx, `INSERT INTO `+t.Name+` (`+strings.Join(columns, ", ")+`) VALUES `+
			strings.TrimSuffix(strings.Repeat(one+", ", len(values)/len(columns)), ", "), values...)
		values, size = values[:0], 0
		return err
	}
	c, err := readTable(ctx, in, t, clean, func(row []any) error {
		values = append(values, row...)
		for _, v := range row {
			switch v := v.(type) {
			case string:
				size += len(v)
			case []byte:
				size += len(v)
			}
		}
		if len(values)+len(columns) > mostValues || size > mostBytes {
			return flush()
		}
		return nil
	})
	if err != nil {
		return c, err
	}
	return c, flush()
}

// readTable reads all rows in the order of the key.
func readTable(ctx context.Context, in asker, t Table, clean func(string) string, do func(row []any) error) (Copied, error) {
	out := Copied{Table: t.Name}
	var columns, key []string
	keyed := slices.Clone(t.Columns)
	slices.SortFunc(keyed, func(a, b Column) int { return cmp.Compare(a.Key, b.Key) })
	for _, c := range keyed {
		if c.Key > 0 {
			key = append(key, c.Name)
		}
	}
	for _, c := range t.Columns {
		columns = append(columns, c.Name)
	}
	rows, err := in.QueryContext(ctx, `SELECT `+strings.Join(columns, ", ")+` FROM `+t.Name+` ORDER BY `+strings.Join(key, ", "))
	if err != nil {
		return out, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	sum := sha256.New()
	for rows.Next() {
		row, to := make([]any, len(columns)), make([]any, len(columns))
		for i := range row {
			to[i] = &row[i]
		}
		if err := rows.Scan(to...); err != nil {
			return out, err
		}
		for i, c := range t.Columns {
			if row[i], err = as(c, row[i], clean); err != nil {
				return out, err
			}
			add(sum, row[i])
		}
		out.Rows++
		if err := do(row); err != nil {
			return out, err
		}
	}
	out.Digest = hex.EncodeToString(sum.Sum(nil))
	return out, rows.Err()
}

// as is a value as its column keeps it.
func as(c Column, v any, clean func(string) string) (any, error) {
	switch x := v.(type) {
	case nil:
		if c.Null {
			return nil, nil
		}
	case int64:
		switch c.Type {
		case Integer:
			return x, nil
		case Real:
			return float64(x), nil
		}
	case float64:
		if c.Type == Real {
			return x, nil
		}
	case string:
		switch c.Type {
		case Text:
			return clean(x), nil
		case Blob:
			return []byte(x), nil
		}
	case []byte:
		switch c.Type {
		case Blob:
			if x == nil { // none of its bytes, as SQLite reads it; for PostgreSQL that would be no value
				x = []byte{}
			}
			return x, nil
		case Text:
			return clean(string(x)), nil
		}
	}
	return nil, shop.Errorf(shop.Storage, "the column %s (%s) holds a %T: nothing was moved; the shop is not sound", c.Name, c.Type, v)
}

// add writes a value to a digest so that no two rows look the same.
func add(sum hash.Hash, v any) {
	var b bytes.Buffer
	long := func(kind byte, n uint64) {
		b.WriteByte(kind)
		b.Write(binary.BigEndian.AppendUint64(nil, n))
	}
	switch v := v.(type) {
	case nil:
		long('n', 0)
	case int64:
		long('i', uint64(v)) //nolint:gosec // its bits
	case float64:
		long('r', math.Float64bits(v))
	case string:
		long('t', uint64(len(v)))
		b.WriteString(v)
	case []byte:
		long('b', uint64(len(v)))
		b.Write(v)
	}
	sum.Write(b.Bytes())
}
