package book

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"needlepace/words"
)

// tableOf reads a table whose cells have a bar between.
func tableOf(text string) (rows [][]string) {
	for l := range strings.Lines(text) {
		var row []string
		for c := range strings.SplitSeq(strings.TrimSuffix(l, "\n"), "|") {
			row = append(row, strings.TrimSpace(c))
		}
		rows = append(rows, row)
	}
	return rows
}

func read(t *testing.T, text string, said TableColumns, days string) *OrderTable {
	t.Helper()
	rows := tableOf(text)
	head, _ := Headings(rows)
	columns, err := Columns(head, said, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadOrders(rows, columns, days)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func TestColumnsAreFoundBySayingByKeepingAndByHeading(t *testing.T) {
	head := []string{"Client", "Logo", "Qty.", "Buyer", "PO-Number", "Wanted_by", "Colour"}
	got, err := Columns(head, TableColumns{"customer": "buyer", "due": ""}, TableColumns{"garment": "colour", "quantity": "gone"})
	want := TableColumns{"customer": "Buyer", "design": "Logo", "quantity": "Qty.", "reference": "PO-Number", "garment": "Colour"}
	if err != nil || fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%v, %v; want %v", got, err, want)
	}
	for what, said := range map[string]TableColumns{
		"an order has no \"buyer\"": {"buyer": "Buyer"}, "no column \"Moon\"": {"due": "Moon"},
		"two things": {"customer": "Logo", "design": "logo"},
	} {
		if _, err := Columns(head, said, nil); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%v: %v", said, err)
		}
	}
}

func TestRowsAreLinesOfOrders(t *testing.T) {
	got := read(t, `
Customer | Ref | Design | Pieces | Due | Note | Cap | Threads | Priority
Club | 7 | a | 12 | 20.4.2026 | first | x | navy, lamp red | 2
Cafe | | b | 1 200 | 2026-05-01 | | | |
| | c | 1,200.0 | | | no | |
club | 7 | d | 3 | 20 Apr 2026 | then | | | 2
Cafe | | b | 5 | | | | |
`, nil, "")
	if len(got.Orders) != 3 {
		t.Fatalf("%d orders", len(got.Orders))
	}
	club, cafe := &got.Orders[0], &got.Orders[1]
	if club.Customer != "Club" || club.Reference != "7" || club.Due != "2026-04-20" || club.Note != "first\nthen" || *club.Priority != 2 ||
		!slices.Equal(club.Rows, []int{3, 6}) || len(club.Line) != 2 || !club.Line[0].CapFrame || !slices.Equal(club.Line[0].Threads, []string{"navy", "lamp red"}) {
		t.Errorf("%+v", club)
	}
	if cafe.Line[0].Quantity != 1200 || cafe.Line[1].Quantity != 1200 || cafe.Line[1].Design != "c" || len(cafe.Bad) > 0 {
		t.Errorf("%+v", cafe)
	}
}

func TestBadCellsAreNamedByRowAndColumn(t *testing.T) {
	got := read(t, `Customer | Order no | Design | Qty | Due | Cap
| | a | 3 | |
Club | 1 | | 0 | 31.4.2026 | maybe
Club | 1 | b | 1.5 | 1.5.2026 |
Club | 1 | b | 15 | 2.5.2026 |
`, nil, "")
	var all []string
	for _, o := range got.Orders {
		for _, b := range o.Bad {
			all = append(all, fmt.Sprint(b.Row, b.Column))
		}
	}
	want := []string{"2 Customer", "3 Due", "3 Design", "3 Qty", "3 Cap", "4 Qty", "5 Due"}
	for i := range want {
		want[i] = strings.Replace(want[i], " ", "", 1)
	}
	slices.Sort(all)
	slices.Sort(want)
	for i := range all {
		all[i] = strings.Replace(all[i], " ", "", 1)
	}
	if !slices.Equal(all, want) {
		t.Errorf("bad cells %q, want %q", all, want)
	}
	for _, c := range []struct{ text, says string }{
		{"Customer | Design\nx | y\n", "no column is the quantity"}, {"", "empty"}, {"Customer|Design|Qty\n", "no orders"},
	} {
		rows := tableOf(c.text)
		head, _ := Headings(rows)
		columns, err := Columns(head, nil, nil)
		if err == nil {
			_, err = ReadOrders(rows, columns, "")
		}
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %v, want %q", c.text, err, c.says)
		}
	}
}

func TestDaysAreReadAsTheTableWritesThem(t *testing.T) {
	due := func(days string, cells ...string) (out []string) {
		text := "Customer|Design|Qty|Due\n"
		for _, c := range cells {
			text += "x|a|1|" + c + "\n"
		}
		for _, o := range read(t, text, nil, days).Orders {
			if len(o.Bad) > 0 {
				out = append(out, "?")
			} else {
				out = append(out, o.Due)
			}
		}
		return out
	}
	for _, c := range []struct {
		days        string
		cells, want []string
	}{
		{"", []string{"3/4/2026", "25/4/2026"}, []string{"2026-04-03", "2026-04-25"}},
		{"", []string{"3/4/26", "4/25/26"}, []string{"2026-03-04", "2026-04-25"}},
		{"", []string{"3/4/2026", "5-5-2026"}, []string{"?", "2026-05-05"}},
		{"", []string{"13/4/2026", "4/13/2026", "3/4/2026"}, []string{"2026-04-13", "2026-04-13", "?"}},
		{"dmy", []string{"3/4/2026"}, []string{"2026-04-03"}},
		{"mdy", []string{"3/4/2026", "13/1/2026"}, []string{"2026-03-04", "?"}},
		{"", []string{"2026-4-3", "2026-04-03 00:00:00", "3. 4. 2026", "3 April 2026", "Apr 3, 2026", "soon", "30.2.2026"},
			[]string{"2026-04-03", "2026-04-03", "2026-04-03", "2026-04-03", "2026-04-03", "?", "?"}},
	} {
		if got := due(c.days, c.cells...); !slices.Equal(got, c.want) {
			t.Errorf("%q as %q: %q, want %q", c.cells, c.days, got, c.want)
		}
	}
	if _, err := words.ParseDay("2026-04-03"); err != nil {
		t.Fatal(err)
	}
}

// The key of an order is its reference, else all that it says; like orders of one
// table are told apart by their number.
func TestAnOrdersKeyIsTheSameEveryTime(t *testing.T) {
	text := "Customer|Ref|Design|Qty\nClub|7|a|3\nCafe||b|5\nCafe||b|5\n"
	a, b := read(t, text, nil, ""), read(t, text, nil, "")
	keys := map[string]bool{}
	for i := range a.Orders {
		if a.Orders[i].Key != b.Orders[i].Key || a.Orders[i].Digest != b.Orders[i].Digest {
			t.Errorf("order %d has another key the second time", i)
		}
		keys[a.Orders[i].Key] = true
	}
	if len(keys) != 3 {
		t.Errorf("%d keys of three orders", len(keys))
	}
	c := read(t, strings.Replace(text, "Club|7|a|3", "Club|7|a|4", 1), nil, "")
	if c.Orders[0].Key != a.Orders[0].Key || c.Orders[0].Digest == a.Orders[0].Digest {
		t.Error("an order with the same reference and more pieces: another key, or the same digest")
	}
}

func FuzzReadOrders(f *testing.F) {
	f.Add("Customer|Design|Qty|Due\nx|a|1|3/4/2026\n")
	f.Fuzz(func(_ *testing.T, text string) {
		rows := tableOf(text)
		head, _ := Headings(rows)
		columns, err := Columns(head, nil, nil)
		if err != nil {
			return
		}
		if got, err := ReadOrders(rows, columns, ""); err == nil && len(got.Orders) == 0 {
			panic("no orders and no error")
		}
	})
}
