package pages

import (
	"html/template"
	"regexp"
	"strconv"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

var unitWords = regexp.MustCompile(`([\d.,]+) (\pL+)`)

// big is a time in large figures with small units.
func big(seconds float64, w *words.Writer) template.HTML {
	text := template.HTMLEscapeString(words.Seconds(seconds).Text(w))
	return template.HTML(unitWords.ReplaceAllString(text, `$1<span class="unit"> $2</span> `))
}

// raw is a number for a file.
func raw(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// fixed is a number for a file, rounded to so many decimals.
func fixed(v float64, dec int) string { return strconv.FormatFloat(v, 'f', dec, 64) }

// cash is an amount of a quote without its currency's code.
func cash(q *book.Quote, d money.Dec) words.Value {
	m := q.Cash(d)
	m.Bare = true
	return m
}
