package paper

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/words"
)

// widest is how wide, in characters, a column becomes by what stands in it.
const widest = 40

// TableSheet is a table of an answer for a workbook: all its columns by their
// keys, figures as numbers and instants as times of the shop.
func TableSheet(name string, t *ask.Table) Sheet {
	s := Sheet{Name: name}
	for _, c := range t.Columns {
		s.Columns = append(s.Columns, Column{Head: c.Key})
	}
	for _, row := range t.Rows {
		cells := make([]any, len(row))
		for i, v := range row {
			if v == nil {
				continue
			}
			c := &s.Columns[i]
			switch v := v.(type) {
			case interface{ Instant() time.Time }:
				cells[i], c.Width = v.Instant(), max(c.Width, 18)
			case words.Numeric:
				if v.Raw() != "" {
					cells[i], c.Format = v.Float(), format(v)
				}
			default:
				if x, err := strconv.ParseFloat(v.Raw(), 64); err == nil && t.Columns[i].Number && math.Abs(x) < math.MaxFloat64 { // no figure that is none
					cells[i] = x
					continue
				}
				cells[i] = v.Raw()
				c.Width = max(c.Width, min(float64(utf8.RuneCountInString(v.Raw()))+2, widest))
			}
		}
		s.Rows = append(s.Rows, cells)
	}
	for i := range s.Columns {
		if c := &s.Columns[i]; c.Width > 0 {
			c.Width = max(c.Width, float64(len(c.Head))+3)
		}
	}
	return s
}

// format is how a workbook writes a figure.
func format(v words.Numeric) string {
	switch v := v.(type) {
	case words.Share, words.Level, words.Chance:
		return "0%"
	case words.Hours:
		return "0.00"
	case words.Money:
		return decimal.Zero.StringFixed(int32(v.Decimals())) // 0.00: two decimals
	case words.Number:
		if v.Places > 0 {
			return "0." + strings.Repeat("0", v.Places)
		}
		return "0"
	}
	return ""
}
