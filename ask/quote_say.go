package ask

import (
	"strings"

	"needlepace/book"
	"needlepace/words"
)

// QuoteCaveats are what the shop is to know of its prices, and no customer:
// which stand for its own, which are missing, and heads that stay empty.
func QuoteCaveats(q *book.Quote) words.Sentences {
	out := append(words.Sentences{}, priceCaveats(q.Placeholder, q.Missing,
		func(table string) string { return strings.TrimPrefix(table, "money.machines.") })...)
	for i := range q.Lines {
		l := &q.Lines[i]
		for _, s := range l.Steps {
			if s.Quantity == l.Quantity && s.Idle > 0 {
				out = append(out, words.Say("quote.idle", words.Args{
					"design": words.Name(l.Design), "pieces": words.Count(l.Quantity, "piece"),
					"idle": words.Count(s.Idle, "head"), "heads": words.Whole(l.Heads),
				}))
			}
		}
	}
	return out
}
