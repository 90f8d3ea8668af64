package pages

import (
	"fmt"
	"html/template"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/picture"
	"needlepace/shop"
)

// units writes numbers the way the reader wants them: it converts units and
// formats, nothing else.
type units struct{ Set shop.Settings }

// inch reports whether lengths are shown in inches.
func (u units) inch() bool { return u.Set.Length == "inch" }

const mmPerInch = 25.4 // exact: the international inch

// Len is a length given in mm.
func (u units) Len(mm float64) string {
	if u.inch() {
		return strconv.FormatFloat(mm/mmPerInch, 'f', 2, 64) + " in"
	}
	return strconv.FormatFloat(mm, 'f', 1, 64) + " mm"
}

// Size is width × height given in mm.
func (u units) Size(w, h float64) string {
	if u.inch() {
		return fmt.Sprintf("%.2f × %.2f in", w/mmPerInch, h/mmPerInch)
	}
	return fmt.Sprintf("%.1f × %.1f mm", w, h)
}

// Day is a date.
func (u units) Day(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return t.Local().Format("2 Jan 2006")
}

// When is a date with the time of day.
func (u units) When(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	if u.Set.Hours == "12" {
		return t.Local().Format("2 Jan 2006, 3:04 pm")
	}
	return t.Local().Format("2 Jan 2006, 15:04")
}

var unitWords = regexp.MustCompile(`([\d.,]+) (min|s|h)`)

// big is a time in large figures with small units.
func big(seconds float64) template.HTML {
	return template.HTML(unitWords.ReplaceAllString(template.HTMLEscapeString(picture.LongTime(seconds)), `$1<span class="unit"> $2</span> `))
}

// perMin is a speed in stitches/min.
func perMin(v float64) string { return picture.Thousands(v) + "/min" }

// share is a part of a whole in percent.
func share(v, whole float64) string {
	if whole <= 0 {
		return "–"
	}
	p := v / whole * 100
	if p < 10 {
		return fmt.Sprintf("%.1f %%", p)
	}
	return fmt.Sprintf("%.0f %%", p)
}

// sig is a number with about three figures, as a person would write it.
func sig(v float64) string {
	switch a := math.Abs(v); {
	case a == 0 || math.IsInf(v, 0) || math.IsNaN(v):
		return strconv.FormatFloat(v, 'g', -1, 64)
	case a >= 1000:
		return picture.Thousands(v)
	case a >= 100:
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	s := strconv.FormatFloat(v, 'g', 3, 64)
	if strings.Contains(s, "e") {
		return strconv.FormatFloat(v, 'f', 5, 64)
	}
	return s
}

// raw is a number for a file.
func raw(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// fixed is a number for a file, rounded to so many decimals.
func fixed(v float64, dec int) string { return strconv.FormatFloat(v, 'f', dec, 64) }

// rounded is a decimal in digits, rounded for reading, its thousands apart.
func rounded(decimalText string, places int32) string {
	d, err := decimal.NewFromString(decimalText)
	if err != nil {
		return decimalText
	}
	s := d.StringFixed(places)
	whole, rest, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if rest != "" {
		whole += "." + rest
	}
	if strings.HasPrefix(s, "-") {
		whole = "−" + whole
	}
	return whole
}

// cash is a sum to the cent.
func cash(s string) string { return rounded(s, 2) }
