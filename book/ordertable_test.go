package book

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"needlepace/internal/cells"
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
	s := &cells.Sheet{Rows: tableOf(text), Comma: '|'}
	head := HeadOf(s, said)
	columns, err := Columns(head.Names, said, nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadOrders(s, head, columns, days)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// tried is what is wrong with a table as a whole.
func tried(text string) error {
	s := &cells.Sheet{Rows: tableOf(text), Comma: '|'}
	head := HeadOf(s, nil)
	if head == nil {
		head = &TableHead{}
		if _, err := ReadOrders(s, nil, nil, ""); err != nil {
			return err
		}
	}
	columns, err := Columns(head.Names, nil, nil)
	if err != nil {
		return err
	}
	got, err := ReadOrders(s, head, columns, "")
	if err == nil && len(got.Orders) == 0 {
		panic("no orders and no error")
	}
	return err
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
		err := tried(c.text)
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
		_ = tried(text)
	})
}

// Rows of one order that differ by size and colour are one line, priced by its whole quantity; sizes may have a column each.
func TestSizesAndColoursOfATableAreOneLine(t *testing.T) {
	const listed = `
Customer | Order | Design | Garment | Colour | Size | Qty | Threads
Club | 7 | a | polo | navy | S | 10 | white
Club | 7 | a | polo | Navy | M | 1,020 | white
Club | 7 | a | polo | white | M | 3 | navy
Club | 7 | a | polo | navy | S | 2 | white
Club | 7 | b | polo | navy | S | 4 | white
Club | 7 | b | polo | white | S | 4 | white
Club | 7 | a | polo | navy | L | 5 | red
Cafe | | a | apron | | | 6 | white
`
	got := read(t, listed, nil, "")
	if len(got.Orders) != 2 || len(got.Orders[0].Bad)+len(got.Orders[1].Bad) > 0 || len(got.Unused) > 0 {
		t.Fatalf("%+v", got)
	}
	club := got.Orders[0]
	if fmt.Sprint(club.LineRows) != "[3 7 9]" || fmt.Sprint(club.Rows) != "[3 4 5 6 7 8 9]" {
		t.Errorf("lines begin at rows %v of %v", club.LineRows, club.Rows)
	}
	for i, want := range []string{
		"1035 [{navy S 12} {Navy M 1020} {white M 3}] [] [{navy [white]} {white [navy]}]",
		"8 [{navy S 4} {white S 4}] [white] []", // all have the same threads
		"5 [{navy L 5}] [red] []",               // navy garments have others above
	} {
		l := club.Line[i]
		if s := fmt.Sprint(l.Quantity, l.Sizes, l.Threads, l.Colours); s != want {
			t.Errorf("line %d: %s, want %s", i+1, s, want)
		}
	}
	if l := got.Orders[1].Line[0]; l.Sizes != nil || l.Quantity != 6 || !slices.Equal(l.Threads, []string{"white"}) {
		t.Errorf("without size and colour: %+v", l)
	}

	// Another place, garment, speed or frame is another line.
	apart := read(t, `
Customer | Order | Design | Garment | Position | Size | Qty | Speed | Cap
Club | 7 | a | polo | chest | S | 1 | 700 | no
Club | 7 | a | polo | back | S | 1 | 700 | no
Club | 7 | a | cap | chest | S | 1 | 700 | no
Club | 7 | a | polo | chest | S | 1 | 600 | no
Club | 7 | a | polo | chest | S | 1 | 700 | yes
Club | 7 | a | polo | chest | S | 1 | 700 | no
`, nil, "").Orders[0]
	if fmt.Sprint(apart.LineRows) != "[3 4 5 6 7]" || apart.Line[0].Quantity != 2 {
		t.Errorf("lines begin at rows %v, the first has %d pieces", apart.LineRows, apart.Line[0].Quantity)
	}

	across := "Customer | Design | Colour | Size S | M | 2XL | Total\nClub | a | navy | 10 | | 4 | 14\n| a | white | | 3 | 0 |\n| b | white | | 3 | x | 4\n"
	got = read(t, across, nil, "")
	o := got.Orders[0]
	if got.Columns["size"] != "Size S, M, 2XL" || len(got.Unused) > 0 || len(o.Line) != 2 {
		t.Fatalf("%v, unused %v, %+v", got.Columns, got.Unused, o.Line)
	}
	if l := o.Line[0]; fmt.Sprint(l.Quantity, l.Sizes) != "17 [{navy S 10} {navy 2XL 4} {white M 3}]" {
		t.Errorf("sizes across: %d, %v", l.Quantity, l.Sizes)
	}
	if s := fmt.Sprint(o.Bad); s != "[{4 2XL x give a whole number of pieces, or nothing} {4 Total 4 the sizes come to 3}]" {
		t.Errorf("bad: %s", s)
	}
	// What is found is kept, and what is said is done.
	rows := tableOf(across)
	if again, err := Columns(rows[0], nil, got.Columns); err != nil || again["size"] != got.Columns["size"] {
		t.Errorf("kept: %v, %v", again, err)
	}
	if none, err := Columns(rows[0], TableColumns{"size": ""}, got.Columns); err != nil || none["size"] != "" {
		t.Errorf("no sizes: %v, %v", none, err)
	}
	kids := read(t, "Customer|Design|104|110|116\nClub|a|1||2\n", TableColumns{"size": "104, 116"}, "")
	if s := fmt.Sprint(kids.Orders[0].Line[0].Sizes, kids.Unused); s != "[{ 104 1} { 116 2}] [110]" {
		t.Errorf("sizes that are said: %s", s)
	}
	if _, err := Columns(rows[0], TableColumns{"size": "M, Moon"}, nil); err == nil || !strings.Contains(err.Error(), "M, Moon") {
		t.Errorf("a size that is no column: %v", err)
	}
	if _, err := Columns(rows[0], TableColumns{"size": "M, 2XL", "quantity": "M"}, nil); err == nil || !strings.Contains(err.Error(), "two things") {
		t.Errorf("a column that is two things: %v", err)
	}
}

// A row that names a reference alone is of the order with it, whatever stands between; one reference of two customers is two
// orders, and each is known again as its own.
func TestAReferenceIsOfItsCustomer(t *testing.T) {
	got := read(t, "Customer|Ref|Design|Qty\nClub|7|a|3\nCafe|7|a|3\nKiosk|8|c|1\n|8|d|2\nClub|9|b|5\n|8|e|4\n", nil, "")
	if len(got.Orders) != 4 {
		t.Fatalf("%d orders: %+v", len(got.Orders), got.Orders)
	}
	kiosk := &got.Orders[2]
	if kiosk.Customer != "Kiosk" || len(kiosk.Line) != 3 || kiosk.Line[2].Design != "e" || len(kiosk.Bad) > 0 {
		t.Errorf("rows with a reference alone: %+v", kiosk)
	}
	if a, b := &got.Orders[0], &got.Orders[1]; a.Key == b.Key || a.Customer != "Club" || b.Customer != "Cafe" {
		t.Errorf("one reference of two customers: %+v, %+v", a, b)
	}
}

// Headings in the languages of the page are known as those in English are, in capitals too. Words from memory, no published source.
func TestHeadingsInTheLanguagesOfThePage(t *testing.T) {
	fields := []string{"customer", "design", "quantity", "due", "garment", "size", "garment_colour", "placement", "threads", "note"}
	for _, line := range []string{
		"Cliente|Diseño|Cant.|Fecha de entrega|Prenda|Talla|Color|Ubicación|Hilos|Observaciones",
		"CLIENTE|DESENHO|QTD.|DATA DE ENTREGA|PEÇA|TAMANHO|COR|POSIÇÃO|CORES DE LINHA|OBS",
		"MÜŞTERİ|DESEN|ADET|TESLİM TARİHİ|ÜRÜN|BEDEN|RENK|KONUM|İPLİK|NOT",
		"Khách hàng|Mẫu thêu|Số lượng|Ngày giao|Sản phẩm|Cỡ|Màu|Vị trí|Chỉ|Ghi chú",
	} {
		head := strings.Split(line, "|")
		got, err := Columns(head, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i, key := range fields {
			if got[key] != head[i] {
				t.Errorf("%s: the column %q is %q", key, head[i], got[key])
			}
		}
	}
}

// Sizes with a column each are known by their Portuguese and Spanish letters too. Common practice of clothes' labels, no published source.
func TestSizesAcrossInPortugueseAndSpanish(t *testing.T) {
	for _, line := range []string{"Cliente|Matriz|PP|P|M|G|GG|XGG", "Cliente|Diseño|CH|M|G|XG"} {
		head := strings.Split(line, "|")
		got, err := Columns(head, nil, nil)
		if want := strings.Join(head[2:], ", "); err != nil || got["size"] != want {
			t.Errorf("%q, %v, want %q", got["size"], err, want)
		}
	}
}

// Pieces without a size, beside those with one, are called so, and read back.
func TestPiecesWithoutASizeAreCalledSo(t *testing.T) {
	rows := []SizeRow{{"navy", "M", 1}, {"navy", "XL", 1}, {"navy", "", 2}, {"white", "", 3}}
	text := SizesText(rows)
	if text != "navy: M 1, XL 1, without size 2\nwhite: 3" {
		t.Errorf("%q", text)
	}
	if got, err := ParseSizes(text); err != nil || !slices.Equal(rows, got) {
		t.Errorf("read back: %v, %v", got, err)
	}
}
