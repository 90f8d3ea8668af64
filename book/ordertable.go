package book

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"needlepace/words"
)

// TableField is something of an order that a column of a table may hold.
type TableField struct {
	Key    string // as a mapping has it
	Needed bool
	names  []string // headings that mean it, folded
}

// TableFields are all of them, in the order in which they are shown.
var TableFields = []TableField{
	{"customer", true, []string{"customer", "customer name", "client", "client name", "name", "buyer", "account", "company"}},
	{"design", true, []string{"design", "design name", "design file", "file", "logo", "artwork", "motif", "stitch file"}},
	{"quantity", true, []string{"quantity", "qty", "pieces", "pcs", "number", "count", "number of pieces", "total"}},
	{"reference", false, []string{"reference", "ref", "order", "order no", "order number", "po", "po number",
		"purchase order", "purchase order number", "their reference", "job"}},
	{"due", false, []string{"due", "due date", "due day", "wanted", "wanted by", "needed by", "delivery date", "ship date",
		"deadline"}},
	{"latest", false, []string{"latest", "latest day", "not after", "cancel date"}},
	{"goods", false, []string{"goods", "goods come", "garments come", "garments in", "goods in"}},
	{"priority", false, []string{"priority", "weight"}},
	{"garment", false, []string{"garment", "goods sewn on", "item", "article", "product", "style"}},
	{"placement", false, []string{"placement", "position", "place", "location"}},
	{"threads", false, []string{"threads", "thread colours", "thread colors", "colours", "colors"}},
	{"speed", false, []string{"speed", "stitches/min", "set speed"}},
	{"cap_frame", false, []string{"cap frame", "cap", "caps"}},
	{"digitize", false, []string{"digitize", "digitizing", "to digitize"}},
	{"agreed", false, []string{"agreed", "confirmed"}},
	{"note", false, []string{"note", "notes", "comment", "comments", "remark", "remarks"}},
}

// TableColumns says which heading of a table is what: key of a field → heading.
type TableColumns map[string]string

// BadCell is a cell of a table that an order cannot be made of.
type BadCell struct {
	Row    int    `json:"row" doc:"of the file, from 1"`
	Column string `json:"column" doc:"its heading; empty: the whole row"`
	Value  string `json:"value"`
	Why    string `json:"why"`
}

// TableOrder is one order of a table.
type TableOrder struct {
	OrderKeys
	Reference string
	Rows      []int  // of the file, from 1: one for each line
	Key       string // of the order, the same however often it is read
	Digest    string // of all that it says
	Bad       []BadCell
}

// OrderTable is a table of orders that has been read.
type OrderTable struct {
	Columns TableColumns
	Unused  []string // headings that are nothing of an order
	Orders  []TableOrder
	Days    string // how its days are written, where that had to be told apart: dmy or mdy
	head    int    // row of the headings, from 0
}

// Headings are a table's first row that is not empty.
func Headings(rows [][]string) (head []string, at int) {
	for i, r := range rows {
		if slices.ContainsFunc(r, func(s string) bool { return s != "" }) {
			return r, i
		}
	}
	return nil, 0
}

// HeadingsKey names a table by its headings: tables that one sender makes have the
// same.
func HeadingsKey(head []string) string {
	var out []string
	for _, h := range head {
		if h != "" {
			out = append(out, foldHeading(h))
		}
	}
	sum := sha256.Sum256([]byte(strings.Join(out, "\x00")))
	return hex.EncodeToString(sum[:16])
}

func foldHeading(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return strings.ContainsRune(" _-.:#*\t", r) }), " ")
}

// Columns finds out which heading is what: as said, then as kept from a table with the same
// headings, then by their names. A heading is one thing at most. What is said and is
// no heading, or no field, is an error.
func Columns(head []string, said, kept TableColumns) (TableColumns, error) {
	out, taken := TableColumns{}, map[string]bool{}
	at := func(name string) (string, bool) {
		for _, h := range head {
			if h != "" && foldHeading(h) == foldHeading(name) {
				return h, true
			}
		}
		return "", false
	}
	for key, name := range said {
		if !slices.ContainsFunc(TableFields, func(f TableField) bool { return f.Key == key }) {
			return nil, fmt.Errorf("an order has no %q; columns can be %s", key, fieldList())
		}
		if name == "" { // none
			taken["\x00"+key] = true
			continue
		}
		h, ok := at(name)
		if !ok {
			return nil, fmt.Errorf("the table has no column %q for %s; it has %s", name, key, strings.Join(nonEmpty(head), ", "))
		}
		if taken[h] {
			return nil, fmt.Errorf("the column %q is said to be two things", h)
		}
		out[key], taken[h] = h, true
	}
	for key, name := range kept {
		if h, ok := at(name); ok && out[key] == "" && !taken[h] && !taken["\x00"+key] {
			out[key], taken[h] = h, true
		}
	}
	for _, f := range TableFields {
		if out[f.Key] != "" || taken["\x00"+f.Key] {
			continue
		}
		for _, name := range append([]string{strings.ReplaceAll(f.Key, "_", " ")}, f.names...) {
			if h, ok := at(name); ok && !taken[h] {
				out[f.Key], taken[h] = h, true
				break
			}
		}
	}
	return out, nil
}

func nonEmpty(all []string) []string {
	return slices.DeleteFunc(slices.Clone(all), func(s string) bool { return s == "" })
}

func fieldList() string {
	var out []string
	for _, f := range TableFields {
		out = append(out, f.Key)
	}
	return strings.Join(out, ", ")
}

// The ways in which days with strokes between are written.
const (
	DayFirst   = "dmy"
	MonthFirst = "mdy"
)

// ReadOrders reads the orders of a table. Rows with one reference of one customer
// are the lines of one order; without a reference, a row without a customer is
// another line of the order before. days is DayFirst or MonthFirst; empty: as the
// table itself shows. What is wrong in a cell is told in its order's Bad; a table that
// cannot be read at all is an error.
func ReadOrders(rows [][]string, columns TableColumns, days string) (*OrderTable, error) {
	head, at := Headings(rows)
	if head == nil {
		return nil, fmt.Errorf("the table is empty")
	}
	if !slices.Contains([]string{"", DayFirst, MonthFirst}, days) {
		return nil, fmt.Errorf("days are written %s or %s, not %q", DayFirst, MonthFirst, days)
	}
	t := &OrderTable{Columns: columns, head: at, Days: days}
	index := map[string]int{}
	for key, h := range columns {
		index[key] = slices.Index(head, h)
	}
	for _, f := range TableFields {
		if f.Needed && columns[f.Key] == "" {
			return nil, fmt.Errorf("no column is the %s: say which; the table has %s", f.Key,
				strings.Join(nonEmpty(head), ", "))
		}
	}
	for _, h := range head {
		used := false
		for _, c := range columns {
			used = used || c == h
		}
		if h != "" && !used {
			t.Unused = append(t.Unused, h)
		}
	}
	r := &tableReader{t: t, index: index}
	if days == "" {
		r.tellDays(rows[at+1:])
	}
	for i, row := range rows[at+1:] {
		if len(nonEmpty(row)) > 0 {
			r.row(at+i+2, row)
		}
	}
	if len(t.Orders) == 0 {
		return nil, fmt.Errorf("the table has headings and no orders under them")
	}
	seen := map[string]int{}
	for i := range t.Orders {
		o := &t.Orders[i]
		o.Digest = digestOf(o)
		if o.Key = o.Digest; o.Reference != "" {
			o.Key = digestOf([]string{"reference", foldHeading(o.Customer), o.Reference})
			continue
		}
		if seen[o.Digest]++; seen[o.Digest] > 1 { // the like of it stands in the table before
			o.Key = digestOf([]string{o.Digest, strconv.Itoa(seen[o.Digest])})
		}
	}
	return t, nil
}

func digestOf(v any) string {
	if o, ok := v.(*TableOrder); ok {
		v = []any{o.Reference, o.OrderKeys}
	}
	b, err := json.Marshal(v)
	if err != nil { // it is of texts and numbers
		b = []byte(fmt.Sprint(v))
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:16])
}

type tableReader struct {
	t     *OrderTable
	index map[string]int
	by    map[string]int // reference and customer → order
}

// cell is a row's cell of a field; "" where there is none.
func (r *tableReader) cell(row []string, key string) string {
	if i, ok := r.index[key]; ok && i >= 0 && i < len(row) {
		return row[i]
	}
	return ""
}

func (r *tableReader) row(n int, row []string) {
	customer, ref := r.cell(row, "customer"), r.cell(row, "reference")
	key := foldHeading(customer) + "\x00" + ref
	if r.by == nil {
		r.by = map[string]int{}
	}
	at, more := r.by[key]
	switch {
	case ref == "" && customer == "" && len(r.t.Orders) > 0:
		at, more = len(r.t.Orders)-1, true
	case ref == "":
		more = false
	case customer == "": // another line of the order with that reference
		for i := range r.t.Orders {
			if r.t.Orders[i].Reference == ref {
				at, more = i, true
			}
		}
	}
	if !more {
		at = len(r.t.Orders)
		r.t.Orders = append(r.t.Orders, TableOrder{OrderKeys: OrderKeys{Customer: customer}, Reference: ref})
		r.by[key] = at
	}
	o := &r.t.Orders[at]
	o.Rows = append(o.Rows, n)
	bad := func(key, value, why string) {
		o.Bad = append(o.Bad, BadCell{n, r.t.Columns[key], value, why})
	}
	if o.Customer == "" {
		bad("customer", "", "an order needs a customer")
	}
	r.order(o, row, !more, bad)
	l := LineKeys{Design: r.cell(row, "design"), Garment: r.cell(row, "garment"), Placement: r.cell(row, "placement")}
	if l.Design == "" {
		bad("design", "", "a line needs a design")
	}
	q := r.cell(row, "quantity")
	var err error
	if l.Quantity, err = wholeOf(q); err != nil || l.Quantity < 1 {
		bad("quantity", q, "give a whole number of pieces, 1 or more")
	}
	if s := r.cell(row, "speed"); s != "" {
		v, err := wholeOf(s)
		if err != nil {
			bad("speed", s, "give stitches a minute as a whole number")
		}
		l.Speed = float64(v)
	}
	for _, x := range strings.FieldsFunc(r.cell(row, "threads"), func(c rune) bool { return strings.ContainsRune(",;/\n", c) }) {
		l.Threads = append(l.Threads, strings.TrimSpace(x))
	}
	for _, b := range []struct {
		key string
		to  *bool
	}{{"cap_frame", &l.CapFrame}, {"digitize", &l.Digitize}} {
		s := r.cell(row, b.key)
		yes, ok := yesOf(s)
		if !ok {
			bad(b.key, s, "write yes or no")
		}
		*b.to = yes
	}
	o.Line = append(o.Line, l)
}

// order reads what a row says of the whole order; a later row may repeat it, and
// say nothing else.
func (r *tableReader) order(o *TableOrder, row []string, first bool, bad func(key, value, why string)) {
	for _, d := range []struct {
		key string
		to  *string
	}{{"due", &o.Due}, {"latest", &o.Latest}, {"goods", &o.Goods}} {
		s := r.cell(row, d.key)
		if s == "" {
			continue
		}
		day, err := readDay(s, r.t.Days)
		switch {
		case err != nil:
			bad(d.key, s, err.Error())
		case *d.to != "" && *d.to != day.String():
			bad(d.key, s, "it is another day than in the order's row before, "+*d.to)
		default:
			*d.to = day.String()
		}
	}
	if s := r.cell(row, "priority"); s != "" {
		v, err := words.ParseNumber(s)
		switch {
		case err != nil || !(v >= 0):
			bad("priority", s, "give a number, 1 for an ordinary order")
		case o.Priority != nil && *o.Priority != v:
			bad("priority", s, "it is another priority than in the order's row before")
		default:
			o.Priority = &v
		}
	}
	s := r.cell(row, "agreed")
	yes, ok := yesOf(s)
	switch {
	case !ok:
		bad("agreed", s, "write yes or no")
	case yes:
		o.State = Agreed
	}
	if s := r.cell(row, "note"); s != "" && !strings.Contains(o.Note, s) {
		o.Note = strings.TrimSpace(o.Note + "\n" + s)
	}
}

var zeros = regexp.MustCompile(`\.0+$`)

var grouped = regexp.MustCompile(`^\d{1,3}([ ,.'\x{00a0}\x{202f}]\d{3})+$`)

// wholeOf reads a whole number as people and spreadsheets write it: 1200, 1,200,
// 1 200, 1200.0.
func wholeOf(s string) (int, error) {
	s = zeros.ReplaceAllString(strings.TrimSpace(s), "")
	if grouped.MatchString(s) {
		s = strings.Map(func(r rune) rune {
			if r < '0' || r > '9' {
				return -1
			}
			return r
		}, s)
	}
	return strconv.Atoi(s)
}

// yesOf reads yes or no; empty is no.
func yesOf(s string) (yes, ok bool) {
	switch strings.ToLower(s) {
	case "", "no", "n", "false", "0", "-":
		return false, true
	case "yes", "y", "x", "true", "1":
		return true, true
	}
	return false, false
}

var (
	isoDay    = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[ T].*)?$`)
	dotDay    = regexp.MustCompile(`^(\d{1,2})\. ?(\d{1,2})\. ?(\d{4}|\d{2})$`)
	strokeDay = regexp.MustCompile(`^(\d{1,2})[-/](\d{1,2})[-/](\d{4}|\d{2})$`)
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
	if m := isoDay.FindStringSubmatch(s); m != nil {
		return made(m[1], m[2], m[3])
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
	return words.Day{}, fmt.Errorf("write the day as 2026-03-20")
}

// tellDays finds out from all days of a table whether day or month comes first:
// a number above 12 tells, where no other one says the opposite.
func (r *tableReader) tellDays(rows [][]string) {
	first, second := false, false
	for _, row := range rows {
		for _, key := range []string{"due", "latest", "goods"} {
			if m := strokeDay.FindStringSubmatch(r.cell(row, key)); m != nil {
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
