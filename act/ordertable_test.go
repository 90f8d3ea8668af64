package act_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
)

func take(t *testing.T, b *bench, text string, more func(*act.TableQuestion)) *ask.OrderTableAnswer {
	t.Helper()
	q := act.TableQuestion{Name: "inquiries.csv", Data: []byte(text)}
	if more != nil {
		more(&q)
	}
	a, err := b.TakeTable(bg, q, "Maud")
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func inquiries(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../demo/orders/inquiries.csv")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func count(t *testing.T, b *bench) int {
	t.Helper()
	_, n, err := b.Orders.List(bg, shop.OrderQuery{})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// The same table makes nothing twice; one more row makes one more order; an order
// that says something else now is told and changes nothing.
func TestTheSameTableMakesNothingTwice(t *testing.T) {
	b := fresh(t)
	text := inquiries(t)
	if a := take(t, b, text, func(q *act.TableQuestion) { q.Try = true }); a.Kept || count(t, b) != 0 || len(a.Bad) > 0 {
		t.Fatalf("looked at: %+v, %d orders", a, count(t, b))
	}
	a := take(t, b, text, nil)
	if !a.Kept || count(t, b) != 3 || a.Rows != 4 {
		t.Fatalf("%+v, %d orders", a, count(t, b))
	}
	o, err := b.Orders.Get(bg, fmt.Sprint(a.Orders[0].Number))
	if err != nil || o.Customer != "Pellsand Bowls Club" || len(o.Lines) != 2 || o.Due.String() != "2026-04-20" || o.PurchaseOrder != "PB-11" || strings.Contains(o.Note, "PB-11") {
		t.Errorf("%+v, %v", o, err)
	}
	h, err := b.Orders.History(bg, o.ID)
	if err != nil || len(h) != 1 || h[0].By != "Maud" {
		t.Errorf("history %+v, %v", h, err)
	}
	a = take(t, b, text, nil)
	if fresh, already, bad := a.Count(); fresh != 0 || already != 3 || bad != 0 || count(t, b) != 3 || a.Orders[0].Number != o.Number {
		t.Errorf("the second time: %d new, %d here already, %d bad, %d orders", fresh, already, bad, count(t, b))
	}
	a = take(t, b, text+"Harbour Gym;;wheel-badge.dst;10;;;;\n", nil)
	if fresh, already, _ := a.Count(); fresh != 1 || already != 3 || count(t, b) != 4 {
		t.Errorf("with a row more: %d new, %d here already, %d orders", fresh, already, count(t, b))
	}
	a = take(t, b, strings.Replace(text, "PB-11;wheel-badge.dst;36", "PB-11;wheel-badge.dst;40", 1), nil)
	if len(a.Bad) != 1 || a.Bad[0].Column != "PO number" || !strings.Contains(a.Bad[0].Why, fmt.Sprint("order ", o.Number)) || count(t, b) != 4 {
		t.Errorf("a reference that says something else: %+v, %d orders", a.Bad, count(t, b))
	}
}

// One bad row keeps all out, unless the good ones are asked for; what the shop
// refuses is told at its row and column like what cannot be read.
func TestBadRowsKeepTheOthersOutUnlessAsked(t *testing.T) {
	b := fresh(t)
	text := inquiries(t) + "Late & Co;;gull-cap.dst;5;;;1.1.2026;\nLost & Co;;moon.dst;5;;;;\nNone & Co;;gull-cap.dst;none;;;;\n"
	a := take(t, b, text, nil)
	want := []string{"6 Wanted by", "7 Design", "8 Qty"}
	for i, w := range want {
		if i >= len(a.Bad) || fmt.Sprint(a.Bad[i].Row, " ", a.Bad[i].Column) != w {
			t.Fatalf("bad cells %+v, want %q", a.Bad, want)
		}
	}
	if a.Kept || count(t, b) != 0 {
		t.Errorf("%d orders were taken in", count(t, b))
	}
	a = take(t, b, text, func(q *act.TableQuestion) { q.GoodOnly = true })
	if !a.Kept || count(t, b) != 3 || len(a.Bad) != 3 {
		t.Errorf("the good ones alone: %d orders, %+v", count(t, b), a.Bad)
	}
	if s := a.Verdict.Text(nil) + a.Caveats.Text(nil); !strings.Contains(s, "3 orders, 1001 to 1003") || !strings.Contains(s, "Left out") {
		t.Errorf("said: %s", s)
	}
	a = take(t, b, text, func(q *act.TableQuestion) { q.GoodOnly = true })
	if s := a.Verdict.Text(nil); strings.Contains(s, "0 orders") || !strings.Contains(s, "3 cells in 3 orders cannot be read. No other order of the table is new") {
		t.Errorf("where the good ones are here already: %s", s)
	}
}

// What is said of columns is kept for the next table with the same headings.
func TestColumnsThatWereSaidAreRemembered(t *testing.T) {
	b := fresh(t)
	text := "who;what;how many\nCafe;gull-cap.dst;3\n"
	q := act.TableQuestion{Name: "t.csv", Data: []byte(text)}
	if _, err := b.TakeTable(bg, q, ""); shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "no column is the customer") {
		t.Errorf("nothing said: %v", err)
	}
	said := book.TableColumns{"customer": "who", "design": "what", "quantity": "how many"}
	take(t, b, text, func(q *act.TableQuestion) { q.Columns = said })
	a := take(t, b, strings.Replace(text, "Cafe", "Club", 1), nil)
	if !a.Kept || count(t, b) != 2 || a.Columns[0].Heading != "who" {
		t.Errorf("the next one: %+v, %d orders", a.Columns, count(t, b))
	}
}

// Fields are named as they are shown or by their keys, in any language; the sheet that is read is the first that is shown
// and not empty, unless one is named; totals that do not fit keep all out.
func TestATableSaysHowItWasRead(t *testing.T) {
	b := fresh(t)
	text := "who;what;how many;their no\nCafe;gull-cap.dst;3;0071\n"
	a := take(t, b, text, func(q *act.TableQuestion) {
		q.Columns = book.TableColumns{"Customer": "who", "design": "what", "pieces": "how many", "their reference": "their no"}
	})
	if !a.Kept || a.Orders[0].Reference != "0071" || a.Orders[0].Pieces != 3 {
		t.Errorf("fields as they are shown: %+v", a)
	}
	for field, says := range map[string]string{"moon": `an order has no "moon"; columns can be customer, design, pieces, their reference`, "quantity": "two columns are said to be the pieces"} {
		q := act.TableQuestion{Name: "t.csv", Data: []byte(text), Columns: book.TableColumns{field: "what", "pieces": "how many"}}
		if _, err := b.TakeTable(bg, q, ""); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", field, err)
		}
	}
	f := excelize.NewFile()
	for _, name := range []string{"Empty", "March", "April"} {
		if _, err := f.NewSheet(name); err != nil {
			t.Fatal(err)
		}
		for cell, v := range map[string]any{"A1": "Customer", "B1": "Design", "C1": "Qty", "A2": name, "B2": "gull-cap.dst", "C2": 2} {
			if name != "Empty" {
				if err := f.SetCellValue(name, cell, v); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	f.SetActiveSheet(2)
	if err := errors.Join(f.SetSheetVisible("Sheet1", false), f.SetRowVisible("March", 2, false), f.SetCellValue("Sheet1", "A1", "old")); err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := f.Write(&file); err != nil {
		t.Fatal(err)
	}
	for sheet, want := range map[string]string{"": "March", "April": "April"} {
		a := take(t, b, file.String(), func(q *act.TableQuestion) { q.Name, q.Sheet, q.Try = "t.xlsx", sheet, true })
		if a.Sheet != want || a.Orders[0].Customer != want || len(a.Sheets) != 3 || (len(a.Hidden) > 0) != (want == "March") {
			t.Errorf("sheet %q: %+v", sheet, a)
		}
	}
	if err := f.SetSheetVisible("Sheet1", true); err != nil {
		t.Fatal(err)
	}
	file.Reset()
	if err := f.Write(&file); err != nil {
		t.Fatal(err)
	}
	if _, err := b.TakeTable(bg, act.TableQuestion{Name: "t.xlsx", Data: file.Bytes()}, ""); err == nil || !strings.Contains(err.Error(), "that is the sheet Sheet1: the workbook has Empty, March, April too") {
		t.Errorf("a cover sheet: %v", err)
	}
	if _, err := b.TakeTable(bg, act.TableQuestion{Name: "t.xlsx", Data: file.Bytes(), Sheet: "May"}, ""); err == nil || !strings.Contains(err.Error(), "it has Sheet1, Empty, March, April") {
		t.Errorf("a sheet that is none: %v", err)
	}
	totals := "Customer,Design,Qty\nAnn,gull-cap.dst,3\nTotal,,4\n"
	if a := take(t, b, totals, nil); a.Kept || !strings.Contains(a.Verdict.Text(nil), "1 cell of totals") {
		t.Errorf("a total that does not fit: %+v", a)
	}
	if a := take(t, b, totals, func(q *act.TableQuestion) { q.GoodOnly = true }); !a.Kept || count(t, b) != 2 {
		t.Errorf("the good ones: %+v", a)
	}
	if a := take(t, b, "Customer,Design,Qty\nCaf\xe9,gull-cap.dst,3\n", func(q *act.TableQuestion) { q.Try = true }); a.Letters != "windows-1252" || a.Orders[0].Customer != "Café" || a.Foreign[0] != "Café" {
		t.Errorf("Windows' letters: %+v", a)
	}
	if a := take(t, b, "Customer,Design,Qty,Due\nA,gull-cap.dst,3,3/4/2099\nB,gull-cap.dst,3,25/4/2099\n", func(q *act.TableQuestion) { q.Try = true }); !strings.Contains(a.Caveats.Text(nil), "day first") {
		t.Errorf("days that others tell: %s", a.Caveats.Text(nil))
	}
}

// A workbook's dates are read as days, however it shows them (as excelize writes them).
func TestAWorkbookOfOrders(t *testing.T) {
	b := fresh(t)
	f := excelize.NewFile()
	style, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	if err != nil {
		t.Fatal(err)
	}
	for cell, v := range map[string]any{"A1": "Customer", "B1": "Design", "C1": "Qty", "D1": "Due", "A2": "Cafe", "B2": "gull-cap.dst",
		"C2": 24, "D2": time.Date(2026, 4, 3, 0, 0, 0, 0, time.UTC)} {
		if err := f.SetCellValue("Sheet1", cell, v); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.SetCellStyle("Sheet1", "D2", "D2", style); err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := f.Write(&file); err != nil {
		t.Fatal(err)
	}
	a := take(t, b, file.String(), func(q *act.TableQuestion) { q.Name = "t.xlsx" })
	if !a.Kept || a.Orders[0].Due.String() != "2026-04-03" || a.Orders[0].Pieces != 24 {
		t.Errorf("%+v", a.Orders)
	}
}

func BenchmarkTakeTable500(b *testing.B) {
	var text strings.Builder
	text.WriteString("customer,design,quantity,due\n")
	for i := range 500 {
		fmt.Fprintf(&text, "Customer %d,%s,%d,2026-04-%02d\n", i, []string{"gull-cap.dst", "wheel-badge.dst", "ostrel-light.dst"}[i%3], 10+i, 1+i%28)
	}
	for b.Loop() {
		b.StopTimer()
		s := fresh(b)
		b.StartTimer()
		a, err := s.TakeTable(bg, act.TableQuestion{Name: "t.csv", Data: []byte(text.String())}, "")
		if err != nil || !a.Kept || len(a.Orders) != 500 {
			b.Fatalf("%v, %+v", err, a.Bad)
		}
	}
}

// 500 orders of a file of orders, with what a planner should know of each.
func BenchmarkAddOrders500(b *testing.B) {
	for b.Loop() {
		b.StopTimer()
		s := fresh(b)
		var all []book.Order
		for i := range 500 {
			all = append(all, book.Order{Customer: fmt.Sprint("Customer ", i), Weight: 1, State: book.Agreed,
				Lines: []book.OrderLine{{DesignID: s.designs[[]string{"gull-cap.dst", "wheel-badge.dst", "ostrel-light.dst"}[i%3]], Quantity: 10 + i}}})
		}
		b.StartTimer()
		out, err := s.AddOrders(bg, all, nil, "")
		if err != nil || len(out) != 500 || out[499].Order == nil {
			b.Fatal(err)
		}
	}
}

// Several orders at once are as one after the other: numbers, notes, and what is wrong with
// one does not keep the others out.
func TestOrdersAddedTogetherAreAsOneByOne(t *testing.T) {
	b, c := fresh(t), fresh(t)
	var all []book.Order
	for i, file := range []string{"gull-cap.dst", "harbour-jacket-back.dst", "gull-cap.dst", "harbour-jacket-back.dst"} {
		o := book.Order{Customer: fmt.Sprint("C", i), Weight: 1, Lines: []book.OrderLine{{DesignID: b.designs[file], Quantity: 5 - 5*(i&2)/2*(i&1),
			LineGoods: book.LineGoods{CapFrame: true}, Threads: []string{"a", "b", "c", "d", "e", "f", "g", "h", "i"}[:4+5*(i&1)]}}}
		all = append(all, o)
	}
	one := make([]act.AddedOrder, len(all))
	for i, o := range all {
		o.Lines = slices.Clone(o.Lines)
		one[i].Order, one[i].Notes, one[i].Err = c.AddOrder(bg, o, "")
	}
	out, err := b.AddOrders(bg, all, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	bad := 0
	for i := range out {
		if fmt.Sprint(out[i].Err) != fmt.Sprint(one[i].Err) || fmt.Sprint(out[i].Notes) != fmt.Sprint(one[i].Notes) {
			t.Errorf("order %d: %v %q, alone %v %q", i, out[i].Err, out[i].Notes, one[i].Err, one[i].Notes)
		}
		if out[i].Err != nil {
			bad++
			continue
		}
		kept, err := b.Orders.Get(bg, fmt.Sprint(one[i].Order.Number))
		if err != nil || out[i].Order.Number != one[i].Order.Number || kept.Customer != all[i].Customer {
			t.Errorf("order %d is kept as %d, alone as %d, %v", i, out[i].Order.Number, one[i].Order.Number, err)
		}
	}
	if bad != 1 || len(out[1].Notes) == 0 {
		t.Errorf("%d are refused; the jacket back on caps: %q", bad, out[1].Notes)
	}
}
