package act

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/cells"
	"needlepace/shop"
	"needlepace/words"
)

// TableQuestion asks for the orders of a table to be taken in.
type TableQuestion struct {
	Name     string            // of the file; .xlsx is a workbook, all else is text
	Data     []byte            // the file
	Sheet    string            // of a workbook; empty: the first that is shown and has anything in it
	Letters  string            // of a text that is not Unicode, one of cells.Letters; empty: as it looks
	Columns  book.TableColumns // what is said of its columns; the rest is found by what was kept, and by headings
	Days     string            // book.DayFirst or book.MonthFirst; empty: as the table shows
	GoodOnly bool              // take the good orders in where others have something wrong
	Try      bool              // keep nothing
	// DesignOf finds a design by what the table calls it; nil: a design of the shop by its
	// name or file. An ID of "" is one that is taken in with the orders: with Try alone.
	DesignOf func(name string) (id string, err error)
}

// TakeTable takes the orders of a table in, all that are new or, where one has
// something wrong, none (unless GoodOnly). An order that came before, from this
// table or an earlier one, is not taken in again. Which column is what is kept for
// tables with the same headings.
func (s *Shop) TakeTable(ctx context.Context, q TableQuestion, by string) (*ask.OrderTableAnswer, error) {
	sheet, a, err := OpenTable(q)
	if err != nil {
		return nil, shop.Invalidf("%w", err)
	}
	said, err := ask.OrderFields(q.Columns)
	if err != nil {
		return nil, shop.Invalidf("%w", err)
	}
	head := book.HeadOf(sheet, said)
	if head == nil {
		return nil, shop.Invalidf("the table is empty")
	}
	key := book.HeadingsKey(head.Names)
	kept, err := s.store.TableColumns(ctx, key)
	if err != nil {
		return nil, err
	}
	columns, err := book.Columns(head.Names, said, kept)
	if err != nil {
		return nil, shop.Invalidf("%w", err)
	}
	t, err := book.ReadOrders(sheet, head, columns, q.Days)
	switch {
	case err != nil && len(a.Sheets) > 0: // a cover sheet, most likely
		return nil, shop.Invalidf("%w; that is the sheet %s: the workbook has %s too, say which is to be read", err, a.Sheet, strings.Join(a.Sheets, ", "))
	case err != nil:
		return nil, shop.Invalidf("%w", err)
	}
	a.Unused, a.Days, a.DaysTold = append(a.Unused, t.Unused...), t.Days, q.Days == ""
	a.Bad, a.Left = append(a.Bad, t.Bad...), append(a.Left, t.Left...)
	for _, f := range book.TableFields {
		a.Columns = append(a.Columns, ask.OrderColumn{Field: f.Key, Heading: columns[f.Key], Needed: f.Needed})
	}
	fresh, of, err := s.ofTable(ctx, t, &q, a)
	if err != nil {
		return nil, err
	}
	errs, err := s.Orders.Begin(ctx, fresh, by)
	if err != nil {
		return nil, err
	}
	var good []shop.NewOrder
	for k := range fresh {
		i := of[k]
		if errs[k] == nil {
			good = append(good, fresh[k])
			continue
		}
		if code := shop.CodeOf(errs[k]); code != shop.Invalid && code != shop.NotFound {
			return nil, errs[k]
		}
		a.Orders[i].Bad = true
		a.Bad = append(a.Bad, badOf(sheet, head, t, &t.Orders[i], errs[k]))
	}
	if a.Notes, err = s.unmade(ctx, good); err != nil {
		return nil, err
	}
	slices.SortStableFunc(a.Bad, func(x, y book.BadCell) int { return x.Row - y.Row })
	if !q.Try && len(good) > 0 && (len(a.Bad) == 0 || q.GoodOnly) {
		if err := s.store.AddOrders(ctx, good); err != nil {
			return nil, err
		}
		a.Kept = true
		for k := range fresh {
			if errs[k] == nil {
				a.Orders[of[k]].Number = fresh[k].Order.Number
			}
		}
	}
	if !q.Try && (a.Kept || len(a.Bad) == 0) {
		a.Kept = true
		if err := s.store.KeepTableColumns(ctx, key, columns); err != nil {
			return nil, err
		}
	}
	a.Say()
	return a, nil
}

// OpenTable opens the table of a question, and says how it was read.
func OpenTable(q TableQuestion) (*cells.Sheet, *ask.OrderTableAnswer, error) {
	f, err := cells.Open(q.Name, q.Data, q.Letters)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	a := &ask.OrderTableAnswer{Unused: []string{}, Bad: []book.BadCell{}, Left: []book.BadCell{}, Sheets: []string{}}
	at, names := -1, []string{}
	var s *cells.Sheet
	for i, x := range f.Sheets {
		names = append(names, x.Name)
		if at >= 0 || q.Sheet == "" && x.Hidden || q.Sheet != "" && x.Name != q.Sheet {
			continue
		}
		got, err := f.Sheet(i)
		if err != nil {
			return nil, nil, err
		}
		if s = got; q.Sheet != "" || book.HeadOf(s, nil) != nil {
			at = i
		}
	}
	switch {
	case at < 0 && q.Sheet != "":
		return nil, nil, fmt.Errorf("the workbook has no sheet %q; it has %s", q.Sheet, strings.Join(names, ", "))
	case at < 0:
		return nil, nil, errors.New("the table is empty")
	}
	a.Letters, a.Sheet = s.Letters, s.Name
	for i, x := range f.Sheets {
		if i != at {
			a.Sheets = append(a.Sheets, x.Name)
		}
	}
	if s.Letters != "" {
		a.Foreign = foreign(s.Rows)
	}
	for _, row := range s.Hidden {
		if text := strings.TrimSpace(strings.Join(s.Rows[row], " ")); text != "" {
			a.Hidden = append(a.Hidden, row+1)
		}
	}
	return s, a, nil
}

// foreign are a few of the words that would be others, had they been read by other letters.
func foreign(rows [][]string) (out []string) {
	for _, row := range rows {
		for _, c := range row {
			for w := range strings.FieldsSeq(c) {
				if strings.ContainsFunc(w, func(r rune) bool { return r > 127 }) && !slices.Contains(out, w) {
					out = append(out, w)
				}
				if len(out) == mostForeign {
					return out
				}
			}
		}
	}
	return out
}

const mostForeign = 5

// ofTable are the orders of a table that are not in the shop yet and can be read;
// of says which of the table's each is.
func (s *Shop) ofTable(
	ctx context.Context, t *book.OrderTable, q *TableQuestion, a *ask.OrderTableAnswer,
) (fresh []shop.NewOrder, of []int, err error) {
	var keys []string
	for i := range t.Orders {
		keys = append(keys, t.Orders[i].Key)
	}
	there, err := s.store.KeyedOrders(ctx, keys)
	if err != nil {
		return nil, nil, err
	}
	type found struct {
		id  string
		err error
	}
	designs := map[string]found{}
	designOf := func(name string) (string, error) {
		d, known := designs[name]
		if !known {
			if q.DesignOf != nil {
				d.id, d.err = q.DesignOf(name)
			} else if x, err := s.Designs.Find(ctx, name); err != nil {
				d.err = err
			} else {
				d.id = x.ID
			}
			designs[name] = d
		}
		return d.id, d.err
	}
	for i := range t.Orders {
		o := &t.Orders[i]
		due, _ := words.ParseDay(o.Due) //nolint:errcheck // read before
		row := ask.OrderOfTable{Due: due, Rows: o.Rows, Customer: o.Customer, Reference: o.Reference, Lines: len(o.Line)}
		for _, l := range o.Line {
			row.Pieces += l.Quantity
		}
		a.Rows += len(o.Rows)
		bad := slices.Clone(o.Bad)
		was, already := there[o.Key]
		switch {
		case already && was.Digest == o.Digest:
			row.Number, row.Already, bad = was.Number, true, nil
		case already:
			row.Number = was.Number
			bad = append(bad, book.BadCell{Row: o.Rows[0], Column: t.Columns["reference"], Value: o.Reference, Why: fmt.Sprintf(
				"it is here as order %d and said something else then: change that order", was.Number)})
		}
		for k, l := range o.Line {
			if row.Already || l.Design == "" {
				continue
			}
			if _, err := designOf(l.Design); err != nil {
				bad = append(bad, book.BadCell{Row: o.LineRows[k], Column: t.Columns["design"], Value: l.Design, Why: err.Error()})
			}
		}
		keyed := o.OrderKeys
		keyed.Their = o.Reference
		if len(bad) == 0 && !row.Already {
			x, err := keyed.AsOrder(designOf)
			if err != nil {
				bad = append(bad, book.BadCell{Row: o.Rows[0], Why: err.Error()})
			} else if !slices.ContainsFunc(x.Lines, func(l book.OrderLine) bool { return l.DesignID == "" }) {
				fresh = append(fresh, shop.NewOrder{Order: &x, Key: o.Key, Digest: o.Digest})
				of = append(of, i)
			}
		}
		row.Bad = len(bad) > 0
		a.Bad = append(a.Bad, bad...)
		a.Orders = append(a.Orders, row)
	}
	return fresh, of, nil
}

// unmade says which designs of new orders no machine can make, once for all lines
// that are alike.
func (s *Shop) unmade(ctx context.Context, all []shop.NewOrder) ([]string, error) {
	n, err := s.noter(ctx)
	if err != nil {
		return nil, err
	}
	notes := []string{}
	for i := range all {
		for k := range all[i].Order.Lines {
			l := &all[i].Order.Lines[k]
			whys, err := n.unmade(ctx, l)
			if err != nil {
				return nil, err
			}
			if whys.IsZero() {
				continue
			}
			d, err := n.design(ctx, l.DesignID)
			if err != nil {
				return nil, err
			}
			say := noMachine(d, whys).Text(nil)
			if !slices.Contains(notes, say) {
				notes = append(notes, say)
			}
		}
	}
	return notes, nil
}

var lineKey = regexp.MustCompile(`^line\[(\d+)\]\.(\w+)$`)

// badOf is what is wrong with an order of a table, at its cell.
func badOf(s *cells.Sheet, h *book.TableHead, t *book.OrderTable, o *book.TableOrder, err error) book.BadCell {
	bad := book.BadCell{Row: o.Rows[0], Why: err.Error()}
	var e *shop.Error
	if !errors.As(err, &e) {
		return bad
	}
	field := map[string]string{"weight": "priority", "purchase_order": "reference"}[e.Key]
	if field == "" {
		field = e.Key
	}
	if m := lineKey.FindStringSubmatch(e.Key); m != nil {
		if n, err := strconv.Atoi(m[1]); err == nil && n >= 1 && n <= len(o.LineRows) {
			bad.Row, field = o.LineRows[n-1], m[2]
		}
	}
	bad.Column = t.Columns[field]
	if k := slices.Index(h.Names, bad.Column); k >= 0 && k < len(s.Rows[bad.Row-1]) {
		bad.Value = s.Rows[bad.Row-1][k]
	}
	return bad
}
