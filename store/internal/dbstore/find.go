package dbstore

import (
	"context"
	"strings"
	"unicode"

	"needlepace/shop"
)

// findQuery is a full-text query for things that have a word that begins with each
// of the words given; empty for no words.
func findQuery(search string) string {
	var all []string
	for _, w := range strings.FieldsFunc(fold(search), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r)
	}) {
		all = append(all, `"`+w+`"*`)
	}
	return strings.Join(all, " AND ")
}

// Find finds things by the beginnings of their words, without case and accents: the
// newest first, at most limit of each kind. What was taken off its list is not found.
func (db *DB) Find(ctx context.Context, search string, limit int) (found []shop.Found, err error) {
	q := findQuery(search)
	if q == "" {
		return nil, nil
	}
	for _, k := range []struct{ kind, name, join string }{
		{shop.FoundOrder, "o.customer", `JOIN orders o ON o.number = CAST(f.ref AS INTEGER)`},
		{shop.FoundDesign, "d.name", `JOIN designs d ON d.id = f.ref AND d.removed = 0`},
		{shop.FoundCustomer, "f.ref", `AND (EXISTS (SELECT 1 FROM designs WHERE customer = f.ref AND removed = 0)
			OR EXISTS (SELECT 1 FROM orders WHERE customer = f.ref))`},
		{shop.FoundMachine, "m.name", `JOIN machines m ON m.id = f.ref AND m.removed = 0`},
	} {
		some, err := list(ctx, db, "thing", func(scan scan) (shop.Found, error) {
			f := shop.Found{Kind: k.kind}
			return f, scan(&f.Ref, &f.Name)
		}, `SELECT f.ref, `+k.name+` FROM find_words w JOIN find_rows f ON f.id = w.rowid AND f.kind = ? `+k.join+`
			WHERE w.find_words MATCH ? ORDER BY w.rowid DESC LIMIT ?`, k.kind, "kind : "+k.kind+" AND words : ("+q+")", limit)
		if err != nil {
			return nil, err
		}
		found = append(found, some...)
	}
	return found, nil
}
