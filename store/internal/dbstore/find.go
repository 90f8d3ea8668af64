package dbstore

import (
	"context"
	"strings"
	"unicode"

	"needlepace/shop"
)

// FindWords is how an engine finds the rows f of find_rows that are of a kind and
// have a word that begins with each of the words given, without case and accents.
type FindWords struct {
	From, Where string // SQL; From has one ? for the kind, Where one for what Words gives
	Words       func(kind string, words []string) string
}

func findWords(search string) []string {
	return strings.FieldsFunc(fold(search), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r)
	})
}

// Find finds things by the beginnings of their words, without case and accents: the
// newest first, at most limit of each kind. What was taken off its list is not found.
func (db *DB) Find(ctx context.Context, search string, limit int) (found []shop.Found, err error) {
	words := findWords(search)
	if len(words) == 0 {
		return nil, nil
	}
	for _, k := range []struct{ kind, name, join string }{
		{shop.FoundOrder, "o.customer", `JOIN orders o ON o.number = CAST(f.ref AS INTEGER) WHERE`},
		{shop.FoundDesign, "d.name", `JOIN designs d ON d.id = f.ref AND d.removed = 0 WHERE`},
		{shop.FoundCustomer, "f.ref", `WHERE (EXISTS (SELECT 1 FROM designs WHERE customer = f.ref AND removed = 0)
			OR EXISTS (SELECT 1 FROM orders WHERE customer = f.ref)) AND`},
		{shop.FoundMachine, "m.name", `JOIN machines m ON m.id = f.ref AND m.removed = 0 WHERE`},
	} {
		some, err := list(ctx, db, "thing", func(scan scan) (shop.Found, error) {
			f := shop.Found{Kind: k.kind}
			return f, scan(&f.Ref, &f.Name)
		}, `SELECT f.ref, `+k.name+` FROM `+db.Engine.Find.From+` `+k.join+` `+db.Engine.Find.Where+` LIMIT ?`,
			k.kind, db.Engine.Find.Words(k.kind, words), limit)
		if err != nil {
			return nil, err
		}
		found = append(found, some...)
	}
	return found, nil
}
