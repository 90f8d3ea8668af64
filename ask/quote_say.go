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

// QuoteDesign is a line's design by its file; of quotes kept without one, by its
// name.
func QuoteDesign(l *book.QuoteLine) words.Message {
	if l.File == "" {
		return DesignFile(l.Design, "")
	}
	return DesignFile(l.File, l.Label)
}

// DesignFile is a design's file by its name, with the label inside it beside.
func DesignFile(file, label string) words.Message {
	if label == "" {
		return words.Say("design.file", words.Args{"file": words.Name(file)})
	}
	return words.Say("design.file-labelled", words.Args{"file": words.Name(file), "label": words.Name(label)})
}
