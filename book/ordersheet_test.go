package book

import (
	"fmt"
	"strings"
	"testing"

	"needlepace/internal/cells"
)

// sheet is what a table comes to: its orders as customer, reference, pieces by line, and what is told.
func sheet(t *testing.T, s *cells.Sheet, said TableColumns) (orders, bad, left string) {
	t.Helper()
	h := HeadOf(s, said)
	columns, err := Columns(h.Names, said, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadOrders(s, h, columns, "")
	if err != nil {
		t.Fatal(err)
	}
	var o, b, l []string
	all := got.Bad
	for _, x := range got.Orders {
		n := x.Customer + " " + x.Reference
		for _, line := range x.Line {
			n += fmt.Sprintf(" %d", line.Quantity)
		}
		o, all = append(o, n), append(all, x.Bad...)
	}
	for _, x := range all {
		b = append(b, fmt.Sprintf("%d %s: %s", x.Row, x.Column, x.Why))
	}
	for _, x := range got.Left {
		l = append(l, fmt.Sprintf("%d %s: %s", x.Row, x.Column, x.Why))
	}
	return strings.Join(o, "; "), strings.Join(b, "; "), strings.Join(l, "; ")
}

func textSheet(text string, comma rune) *cells.Sheet {
	return &cells.Sheet{Rows: tableOf(text), Comma: comma}
}

func TestNothingOfATableIsDroppedWithoutAWord(t *testing.T) {
	for _, c := range []struct {
		what, text        string
		comma             rune
		orders, bad, left string
	}{
		{"titles, totals and headings once more", "Order sheet March\n\nCustomer|PO|Design|Qty\nAnn|1|a|10\nBob|2|b|5\n|||15\nCustomer|PO|Design|Qty\nCleo|3|c|7\nSub-total|||7\nTotal:|||22\n", ',',
			"Ann 1 10; Bob 2 5; Cleo 3 7", "",
			"1 : it stands above the headings; 6 : it is a total and no order; 7 : it has the headings once more; 9 : it is a total and no order; 10 : it is a total and no order"},
		{"a total that is another", "Customer|Design|Qty\nAnn|a|10\nTotal||11\n", ',', "Ann  10", "3 Qty: as a total it is another: the rows above come to 10", ""},
		{"pieces alone that are no total", "Customer|Design|Qty\nAnn|a|10\n||11\n", ',', "Ann  10 11", "3 Design: a line needs a design", ""},
		{"a customer called so", "Customer|Design|Qty\nTotal|a|10\n", ',', "Total  10", "", ""},
		{"totals of sizes", "Customer|Design|S|M\nAnn|a|1|2\nBob|a||3\nTotal||1|6\n", ',', "Ann  3; Bob  3", "4 M: as a total it is another: the rows above come to 5", ""},
		{"a comma too many", "Customer|Design|Qty|Note\nAnn|a|5|call|then come\n", ',', "Ann  5", "2 column E: it stands beyond the last heading: a ',' within a cell needs quotation marks around the cell", ""},
		{"beside a sheet", "Customer||Design|Qty|\nAnn|0|a|5|x|ask Jo\nBob|1|a|5||\n", 0, "Ann  5; Bob  5", "",
			"2 column B: the column has no heading and is not read: 2 cells; 2 column E: the column has no heading and is not read: 1 cell; 2 column F: the column has no heading and is not read: 1 cell"},
		{"no values", "Customer|Design|Qty|Due\n#N/A|#REF!|#VALUE!|########\nBob|a|1|#N/A\n", 0, "#N/A  0; Bob  1",
			"2 Customer: the spreadsheet itself has no value here; 2 Design: the spreadsheet itself has no value here; 2 Qty: the spreadsheet itself has no value here; 2 Due: the spreadsheet itself has no value here; 3 Due: the spreadsheet itself has no value here", ""},
	} {
		orders, bad, left := sheet(t, textSheet(c.text, c.comma), nil)
		if orders != c.orders || bad != c.bad || left != c.left {
			t.Errorf("%s: orders %q, bad %q, left %q; want %q, %q, %q", c.what, orders, bad, left, c.orders, c.bad, c.left)
		}
	}
}

// Of 1.000 nobody knows whether it is one or a thousand, unless the table's way of writing tells; of 1,200 and 12,00 all do.
func TestPiecesAreNeverGuessed(t *testing.T) {
	for text, want := range map[string][3]string{ // with commas, with semicolons, from a workbook
		"1200": {"1200", "1200", "1200"}, "1,200": {"1200", "1200", "1200"}, "1.200": {"1200", "1200", "1200"}, "1 200": {"1200", "1200", "1200"}, "1'200": {"1200", "1200", "1200"},
		"1,000": {"1000", "?", "1000"}, "1.000": {"?", "1000", "?"}, "12,00": {"12", "12", "12"}, "12.0": {"12", "12", "12"}, "1.200,00": {"1200", "1200", "1200"},
		"1,200.00": {"1200", "1200", "1200"}, "1200.000": {"1200", "1200", "1200"}, "1,000,000": {"1000000", "1000000", "1000000"}, "0012": {"12", "12", "12"},
		"12,5": {"?", "?", "?"}, "1,20": {"?", "?", "?"}, "1,200.5": {"?", "?", "?"}, "12 pcs": {"?", "?", "?"}, "-3": {"?", "?", "?"}, "0": {"?", "?", "?"}, "1.000.00": {"1000", "1000", "1000"},
	} {
		for i, comma := range []rune{',', ';', 0} {
			orders, bad, _ := sheet(t, textSheet("Customer|Design|Qty\nAnn|a|"+text+"\n", comma), nil)
			got := strings.TrimPrefix(orders, "Ann  ")
			if bad != "" {
				got = "?"
			}
			if got != want[i] {
				t.Errorf("%s with %q between: %s (%s), want %s", text, comma, got, bad, want[i])
			}
		}
	}
}

func TestColumnsOfOneNameAreAskedAbout(t *testing.T) {
	columns := func(text string, said TableColumns) (string, error) {
		s := textSheet(text, ',')
		h := HeadOf(s, said)
		c, err := Columns(h.Names, said, nil)
		return c["customer"] + " " + c["due"] + " " + c["size"], err
	}
	const twice = "Customer|Design|Qty|Customer|Due|Due.\nAnn|a|5|Zoe|1.2.2027|1.2.2027\nBob|a|5|Bob||\n"
	if _, err := columns(twice, nil); err == nil || !strings.Contains(err.Error(), `"Customer (column A)" and "Customer (column D)"`) {
		t.Errorf("two customers: %v", err)
	}
	if got, err := columns(twice, TableColumns{"customer": "customer (column d)"}); err != nil || got != "Customer (column D) Due " {
		t.Errorf("said: %q, %v", got, err)
	}
	if _, err := columns("Customer|Design|Qty|Due|Due\nAnn|a|5|1.2.2027|1.3.2027\n", nil); err == nil || !strings.Contains(err.Error(), "due=") {
		t.Errorf("two days: %v", err)
	}
	if got, err := columns("Customer|Design|Qty|Due|Due\nAnn|a|5|1.2.2027|1.3.2027\n", TableColumns{"due": ""}); err != nil || got != "Customer  " {
		t.Errorf("neither: %q, %v", got, err)
	}
	if _, err := columns("Customer|Design|S|M|S|M\nAnn|a|5|1|2|\n", nil); err == nil || !strings.Contains(err.Error(), "size") {
		t.Errorf("men's and women's sizes: %v", err)
	}
	if got, err := columns("Customer|Design|Qty|Customer\nAnn|a|5|\nBob|a|5|Bob\n", nil); err != nil || got != "Customer  " {
		t.Errorf("one that says nothing else: %q, %v", got, err)
	}
}

// Cells that are one over several rows say the same in each; but not pieces, of which each would have all.
func TestCellsOverSeveralRows(t *testing.T) {
	s := textSheet("Customer|PO|Design|Qty|Due\nAnn|7|a|10|1.2.2027\n|||4|\nBob||a|6|1.2.2027\n||b|2|\nCleo||a|9|\n||b||\n", 0)
	s.Below = map[cells.Cell]int{{Row: 2, Column: 0}: 1, {Row: 2, Column: 1}: 1, {Row: 2, Column: 2}: 1, {Row: 2, Column: 4}: 1,
		{Row: 4, Column: 0}: 3, {Row: 4, Column: 4}: 3, {Row: 6, Column: 0}: 5, {Row: 6, Column: 3}: 5}
	s.Kept = map[cells.Cell]string{{Row: 1, Column: 1}: "471100000007"}
	s.Unkept = map[cells.Cell]bool{{Row: 5, Column: 4}: true}
	orders, bad, _ := sheet(t, s, nil)
	const want = "Ann 471100000007 10 4; Bob  6 2; Cleo  9 0"
	if orders != want || bad != "6 Due: it is a formula, and the file does not keep what it comes to: open it in a spreadsheet and save it; 7 Qty: it is one cell for several rows: give each row its own pieces" {
		t.Errorf("%q, bad %q; want %q", orders, bad, want)
	}
}

func TestDaysThatNeedAYearOrAFormat(t *testing.T) {
	_, bad, _ := sheet(t, textSheet("Customer|Design|Qty|Due\nA|a|1|46500\nB|a|1|20.4.\nC|a|1|4/20\nD|a|1|20270403\nE|a|1|13/4/27 10:00\nF|a|1|13.4.2027 10:00\n", ','), nil)
	if strings.Count(bad, ";") != 2 || !strings.HasPrefix(bad, "2 Due: it is a spreadsheet's number") || strings.Count(bad, "with its year") != 2 {
		t.Error(bad)
	}
}
