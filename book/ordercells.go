package book

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/internal/cells"
	"needlepace/words"
)

var (
	noDecimals = regexp.MustCompile(`^(.*\d)[.,]0{1,2}$`)
	thousandth = regexp.MustCompile(`^(\d{4,})[.,]0+$`)
	grouped    = regexp.MustCompile(`^\d{1,3}([ ,.'’]\d{3})+$`)
	errUnsure  = errors.New("unsure")
)

// unsure is a number that may be two.
type unsure struct{ text, more, less string }

func (u unsure) Error() string {
	return fmt.Sprintf("%s may be %s or %s: write it without the sign", u.text, u.more, u.less)
}
func (unsure) Is(err error) bool { return err == errUnsure }

// whole reads a whole number as people and spreadsheets write it: 1200, 1,200, 1.200, 1 200, 1200.0. What would be
// a thousand or one with three decimals (1.000) is a thousand where the table's own way of writing tells: a semicolon
// between cells goes with a decimal comma, all else with a decimal point.
func (r *tableReader) whole(s string) (int, error) {
	text := s
	if m := thousandth.FindStringSubmatch(s); m != nil {
		s = m[1]
	} else if m := noDecimals.FindStringSubmatch(s); m != nil {
		s = m[1]
	}
	if grouped.MatchString(s) {
		sign := strings.TrimLeft(s, "0123456789")
		sign = string([]rune(sign)[0])
		groups := strings.Split(s, sign)
		usual := ","
		if r.sheet.Comma == ';' {
			usual = "."
		}
		if strings.ContainsAny(sign, ".,") && sign != usual && len(groups) == 2 && groups[1] == "000" && s == text {
			return 0, unsure{text, groups[0] + groups[1], groups[0]}
		}
		s = strings.Join(groups, "")
	}
	return strconv.Atoi(s)
}

// broken are what spreadsheets show where they cannot say a value.
var broken = []string{"#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!", "#CALC!"}

// unreadable tells the cells of the row that have no value to read, and those that stand under no heading.
func (r *tableReader) unreadable(o *TableOrder) {
	clear(r.broken)
	bad := func(column, value, why string) {
		o.Bad = append(o.Bad, BadCell{r.at + 1, column, value, why})
		r.broken[column] = true
	}
	for i, heading := range r.head.Names {
		if heading == "" || slices.Contains(r.t.Unused, heading) {
			continue
		}
		switch s := r.text(i); {
		case slices.Contains(broken, s) || len(s) > 1 && strings.Trim(s, "#") == "":
			bad(heading, s, "the spreadsheet itself has no value here")
		case r.sheet.Unkept[cells.Cell{Row: r.at, Column: i}]:
			bad(heading, s, "it is a formula, and the file does not keep what it comes to: open it in a spreadsheet and save it")
		}
	}
	for i, s := range r.sheet.Rows[r.at] {
		switch {
		case s == "" || i < len(r.head.Names) && (r.head.Names[i] != "" || r.head.same[i]):
		case i >= len(r.head.Names) && r.sheet.Comma != 0:
			bad("column "+cells.ColumnName(i), s, fmt.Sprintf("it stands beyond the last heading: a %q within a cell needs quotation marks around the cell", r.sheet.Comma))
		default:
			r.nameless[i]++
		}
	}
}

// tellNameless tells what was passed over because its column has no heading.
func (r *tableReader) tellNameless() {
	for row := r.head.Row + 1; row < len(r.sheet.Rows) && len(r.nameless) > 0; row++ {
		for i, s := range r.sheet.Rows[row] {
			if n := r.nameless[i]; n > 0 && s != "" {
				r.t.Left = append(r.t.Left, BadCell{row + 1, "column " + cells.ColumnName(i), s, "the column has no heading and is not read: " + words.Count(n, "cell").Text(nil)})
				delete(r.nameless, i)
			}
		}
	}
}

// sumWords are what a row of totals is called.
var sumWords = []string{"total", "totals", "sum", "subtotal", "sub total", "grand total", "total pieces", "sums", "in all", "summe", "gesamt", "zwischensumme", "somme", "sous total", "totale", "totaal", "razem", "suma", "soma", "totais", "totales", "toplam", "genel toplam", "tổng", "tổng cộng"}

// passed reports whether a row is no order: the headings once more, or totals of the rows above. Totals that are others are told.
func (r *tableReader) passed() bool {
	row := r.sheet.Rows[r.at]
	if same := slices.EqualFunc(nonEmpty(row), nonEmpty(r.sheet.Rows[r.head.Row]), func(a, b string) bool { return foldHeading(a) == foldHeading(b) }); same {
		r.t.Left = append(r.t.Left, BadCell{r.at + 1, "", strings.Join(nonEmpty(row), " "), "it has the headings once more"})
		return true
	}
	if r.cell("design") != "" || len(r.t.Orders) == 0 {
		return false
	}
	columns := map[int]string{}
	if i, ok := r.index["quantity"]; ok && i >= 0 {
		columns[i] = r.t.Columns["quantity"]
	}
	for _, c := range r.sizes {
		columns[c.at] = c.size
	}
	named, others, totals := false, false, 0
	var wrong []BadCell
	for i, s := range row {
		heading, number := columns[i]
		switch {
		case s == "":
		case number:
			totals++
			if n, err := r.whole(r.text(i)); err != nil || n != r.sum[i] && n != r.part[i] {
				wrong = append(wrong, BadCell{r.at + 1, heading, s, fmt.Sprintf("as a total it is another: the rows above come to %d", r.sum[i])})
			}
		default:
			named, others = named || slices.Contains(sumWords, foldHeading(s)), true
		}
	}
	if totals == 0 || !named && (others || len(wrong) > 0) {
		return false
	}
	if len(wrong) > 0 && !slices.ContainsFunc(r.t.Orders, func(o TableOrder) bool { return len(o.Bad) > 0 }) {
		r.t.Bad = append(r.t.Bad, wrong...)
	} else {
		r.t.Left = append(r.t.Left, BadCell{r.at + 1, "", strings.Join(nonEmpty(row), " "), "it is a total and no order"})
	}
	clear(r.part)
	return true
}

// yesOf reads yes or no; empty is no.
func yesOf(s string) (yes, ok bool) {
	switch strings.ToLower(s) {
	case "", "no", "n", "false", "0", "-", "não", "nao", "hayır", "không":
		return false, true
	case "yes", "y", "x", "true", "1", "✓", "✔", "sí", "si", "sim", "evet", "có":
		return true, true
	}
	return false, false
}

var (
	isoDay    = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T].*)?$`)
	plainDay  = regexp.MustCompile(`^(20\d\d)(\d\d)(\d\d)$`)
	dotDay    = regexp.MustCompile(`^(\d{1,2})\. ?(\d{1,2})\. ?(\d{4}|\d{2})(?: \d{1,2}:.*)?$`)
	strokeDay = regexp.MustCompile(`^(\d{1,2})[-/](\d{1,2})[-/](\d{4}|\d{2})(?: \d{1,2}:.*)?$`)
	serialDay = regexp.MustCompile(`^[34]\d{4}(\.\d+)?$`)
	yearless  = regexp.MustCompile(`^\d{1,2}[-/. ]+\d{1,2}[-/. ]*$`)
)

// readDay reads a day: 2026-03-20, 20.3.2026, 20/3/2026 or 3/20/2026 by order,
// 20 Mar 2026, March 20, 2026.
func readDay(s, order string) (words.Day, error) {
	number := func(t string) int { n, _ := strconv.Atoi(t); return n } //nolint:errcheck // digits
	made := func(y, m, d string) (words.Day, error) {
		if len(y) == 2 {
			y = "20" + y
		}
		day, err := words.ParseDay(fmt.Sprintf("%s-%02d-%02d", y, number(m), number(d)))
		if err != nil {
			return day, fmt.Errorf("there is no such day")
		}
		return day, nil
	}
	for _, form := range []*regexp.Regexp{isoDay, plainDay} {
		if m := form.FindStringSubmatch(s); m != nil {
			return made(m[1], m[2], m[3])
		}
	}
	if m := dotDay.FindStringSubmatch(s); m != nil {
		return made(m[3], m[2], m[1])
	}
	if m := strokeDay.FindStringSubmatch(s); m != nil {
		switch {
		case order == DayFirst, order == "" && number(m[1]) > 12:
			return made(m[3], m[2], m[1])
		case order == MonthFirst, order == "" && number(m[2]) > 12:
			return made(m[3], m[1], m[2])
		case m[1] == m[2]:
			return made(m[3], m[1], m[2])
		}
		return words.Day{}, fmt.Errorf("day or month first? Nothing in the table tells: say %s or %s", DayFirst, MonthFirst)
	}
	for _, layout := range []string{"2 Jan 2006", "2 January 2006", "Jan 2, 2006", "January 2, 2006", "2-Jan-2006", "2-Jan-06",
		"Mon 2 Jan 2006", "Mon, 2 Jan 2006", "2 Jan 06"} {
		if at, err := time.Parse(layout, s); err == nil {
			return words.NewDay(at.Year(), at.Month(), at.Day()), nil
		}
	}
	switch {
	case serialDay.MatchString(s):
		return words.Day{}, fmt.Errorf("it is a spreadsheet's number of a day: let the column show days, or write it as 2026-03-20")
	case yearless.MatchString(s):
		return words.Day{}, fmt.Errorf("write the day with its year, as 2026-03-20")
	}
	return words.Day{}, fmt.Errorf("write the day as 2026-03-20")
}

// tellDays finds out from all days of a table whether day or month comes first:
// a number above 12 tells, where no other one says the opposite.
func (r *tableReader) tellDays() {
	first, second := false, false
	for r.at = r.head.Row + 1; r.at < len(r.sheet.Rows); r.at++ {
		for _, key := range []string{"due", "latest", "goods"} {
			if m := strokeDay.FindStringSubmatch(r.cell(key)); m != nil {
				a, errA := strconv.Atoi(m[1])
				b, errB := strconv.Atoi(m[2])
				first, second = first || errA == nil && a > 12, second || errB == nil && b > 12
			}
		}
	}
	switch {
	case first && !second:
		r.t.Days = DayFirst
	case second && !first:
		r.t.Days = MonthFirst
	}
}
