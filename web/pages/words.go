package pages

import (
	"html/template"
	"regexp"
	"strconv"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

// What templates and tables call often, in short.

func long(s float64) string       { return words.Seconds(s).Text(nil) }
func perMin(v float64) string     { return words.PerMinute(v).Text(nil) }
func sig(v float64) string        { return words.Figure(v).Text(nil) }
func thousands(n int) string      { return words.Whole(n).Text(nil) }
func chanceText(p float64) string { return words.Chance(p).Text(nil) }
func hours(h float64) string      { return words.Span(h).Text(nil) }

// counted is a number of things with the right word: 1 trim, 2 trims.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return thousands(n) + " " + many
}

// share is a part of a whole in percent.
func share(v, whole float64) string {
	if whole <= 0 {
		return words.None{}.Text(nil)
	}
	return words.Share(v / whole).Text(nil)
}

var unitWords = regexp.MustCompile(`([\d.,]+) (min|s|h)`)

// big is a time in large figures with small units.
func big(seconds float64) template.HTML {
	return template.HTML(unitWords.ReplaceAllString(template.HTMLEscapeString(long(seconds)),
		`$1<span class="unit"> $2</span> `))
}

// raw is a number for a file.
func raw(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// fixed is a number for a file, rounded to so many decimals.
func fixed(v float64, dec int) string { return strconv.FormatFloat(v, 'f', dec, 64) }

// cash is an amount of a quote without its currency's code.
func cash(q *book.Quote, d money.Dec) string {
	m := q.Cash(d)
	m.Bare = true
	return m.Text(nil)
}
