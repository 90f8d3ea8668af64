package act_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	dz "needlepace/demo/digitize"
	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/words"
)

// letter takes in a stitch file for each name and gives the names as rows.
func (b *bench) letter(t testing.TB, names ...string) (rows []book.NameRow) {
	t.Helper()
	for _, n := range names {
		p := dz.New(n)
		p.Text(strings.ToUpper(n), dz.Lettering{Height: 12})
		p.Lock()
		var file bytes.Buffer
		if err := stitchfile.Encode(&file, p.Centred(), "dst"); err != nil {
			t.Fatal(err)
		}
		if b.designs[n+".dst"] == "" {
			added, err := b.AddFile(bg, n+".dst", file.Bytes())
			if err != nil || added[0].Design == nil {
				t.Fatal(err, added)
			}
			b.designs[n+".dst"] = added[0].Design.ID
		}
		rows = append(rows, book.NameRow{Name: n, DesignID: b.designs[n+".dst"]})
	}
	return rows
}

// named is an agreed order of pieces with names.
func (b *bench) named(t testing.TB, alone bool, rows []book.NameRow) *book.Order {
	t.Helper()
	o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Due: words.NewDay(2026, 3, 20), Weight: 1, State: book.Agreed,
		Lines: []book.OrderLine{{DesignID: b.designs["wheel-badge.dst"], Quantity: len(rows),
			LinePieces: book.LinePieces{LineNames: book.LineNames{Names: rows, NamesAlone: alone, NameThreads: []string{"lamp red"}}}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	return o
}

var crew = []string{"Jo", "Ada", "Maximiliane", "Bram", "Celia", "Wilhelmina", "Finn"}

// All heads sew the design once a run; each name is sewn on its own, clocked one by one.
func TestNamesTakeTheirOwnTimeOnEachHead(t *testing.T) {
	for _, alone := range []bool{false, true} {
		b := fresh(t)
		o := b.named(t, alone, b.letter(t, crew...))
		r, err := b.MakeRunSheet(bg, o.ID, 1, b.m["Six Sisters"], 0)
		if err != nil {
			t.Fatal(err)
		}
		m, err := b.Machines.Get(bg, b.m["Six Sisters"])
		if err != nil {
			t.Fatal(err)
		}
		want := 0.0 // of both runs
		for i, n := range r.Names {
			d, err := b.Designs.Stitches(bg, n.DesignID)
			if err != nil {
				t.Fatal(err)
			}
			s := clock.Run(d, m.Sheet, clock.Job{Speed: float64(r.Speed)}).Seconds
			if want += s; math.Abs(s-n.Seconds) > 1e-9 || n.Name != crew[i] || n.Run != i/6+1 || n.Head != i%6+1 {
				t.Errorf("%+v; by the clock it takes %v", n, s)
			}
		}
		if !alone {
			d, err := b.Designs.Stitches(bg, b.designs["wheel-badge.dst"])
			if err != nil {
				t.Fatal(err)
			}
			want += 2 * clock.Run(d, m.Sheet, clock.Job{Speed: float64(r.Speed), Needles: []int{0, 1}}).Seconds
		}
		if len(r.Names) != 7 || r.Runs != 2 || math.Abs(2*r.RunSeconds-want) > 1e-6 {
			t.Errorf("alone %v: %d names in %d runs of %v s; by the clock %v s", alone, len(r.Names), r.Runs, r.RunSeconds, want/2)
		}
		if r.Low >= r.RunSeconds || r.High <= r.RunSeconds || math.Abs(r.Parts.Sum()-r.RunSeconds) > 1e-6 {
			t.Errorf("%v s, between %v and %v, parts sum up to %v", r.RunSeconds, r.Low, r.High, r.Parts.Sum())
		}
		red := 0.0
		for _, c := range r.Colours {
			if c.Thread == "lamp red" {
				red = c.Metres
			}
		}
		if last := r.Blocks[len(r.Blocks)-1]; last.Thread != "lamp red" || red == 0 || len(r.Blocks) != map[bool]int{false: 3, true: 1}[alone] {
			t.Errorf("blocks %+v, %v m of the names' thread", r.Blocks, red)
		}
		// The plan takes the same time: both runs with what stands between.
		p := b.plan(t).Plan
		work := 0.0
		for _, l := range p.Lots {
			work += l.Work
		}
		if len(p.Ends) != 1 || work < want/3 {
			t.Errorf("the plan works %v s at it, %+v", work, p.Ends)
		}
	}
}

// Longer names take longer, cost more and are said; the price is of the line's quantity.
func TestLongerNamesCostMore(t *testing.T) {
	b := fresh(t)
	quote := func(names ...string) *ask.PricedOrder {
		t.Helper()
		rows := b.letter(t, names...)
		for len(rows) < 24 {
			rows = append(rows, rows[:min(len(names), 24-len(rows))]...)
		}
		q, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: b.named(t, false, rows).ID, Machine: b.m["Six Sisters"]})
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	short, long := quote("Jo", "Al"), quote("Wilhelmina", "Maximiliane")
	s, l := &short.Lines[0], &long.Lines[0]
	if !l.Price.GreaterThan(s.Price) || l.Piece <= s.Piece || l.Stitches <= s.Stitches {
		t.Errorf("long names %v, %v s, %d stitches; short ones %v, %v s, %d", l.Price, l.Piece, l.Stitches, s.Price, s.Piece, s.Stitches)
	}
	// A name sews for itself: a piece with it holds the machine longer by all of it.
	if d := l.Piece - s.Piece - (l.Names.Mean - s.Names.Mean); math.Abs(d) > .15*(l.Names.Mean-s.Names.Mean) {
		t.Errorf("a piece is longer by %v s, a name by %v s", l.Piece-s.Piece, l.Names.Mean-s.Names.Mean)
	}
	if say := ask.QuoteTimes(l).Text(nil); !strings.Contains(say, "The 24 names take") || !strings.Contains(say, "(Maximiliane)") {
		t.Errorf("the quote says %q", say)
	}
	// 24 and 25 pieces: one more run of the design, one more name, not five heads' names.
	at := func(n int) float64 {
		for _, st := range l.Steps {
			if st.Quantity == n {
				return st.Cost.InexactFloat64() * float64(n)
			}
		}
		t.Fatalf("no step of %d", n)
		return 0
	}
	q, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: long.OrderID, Machine: b.m["Six Sisters"], Quantities: []int{12, 18, 19, 23}})
	if err != nil {
		t.Fatal(err)
	}
	l = &q.Lines[0]
	if a, c := at(19)-at(18), at(24)-at(18); a > .62*c {
		t.Errorf("one piece more costs %v, six more %v: the empty heads' names are charged", a, c)
	}
}

// What is reported is counted from the top of the list; the rest is on the next sheet.
func TestNamesThatAreSewnLeaveTheList(t *testing.T) {
	b := fresh(t)
	rows := b.letter(t, crew...)
	for i := range rows {
		rows[i].Colour, rows[i].Size = []string{"navy", "white"}[i%2], "M"
	}
	o := b.named(t, false, rows)
	l := &o.Lines[0]
	if book.SizesText(l.Sizes) != "navy: M 4\nwhite: M 3" || l.Names[4].Name != "Ada" {
		t.Fatalf("sizes %q, names %+v", book.SizesText(l.Sizes), l.Names)
	}
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Six Sisters"], Good: 5, Breaks: -1}, act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	r, err := b.MakeRunSheet(bg, o.ID, 1, b.m["Six Sisters"], 0)
	if err != nil || len(r.Names) != 2 || r.Names[0].Name != "Bram" || r.Quantity != 2 {
		t.Errorf("left: %+v, %v", r.Names, err)
	}
	_, err = b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Six Sisters"], Good: 1, Breaks: -1, RunTimed: 60}, act.Recording{}, "")
	if shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), "has names") {
		t.Errorf("a timed run of names: %v", err)
	}
}

func TestAListOfNamesSaysWhichRowsAreBad(t *testing.T) {
	b := fresh(t)
	rows := b.letter(t, "Jo", "Ada")
	find := b.NameFinder(bg, nil)
	names, bad, err := book.ParseNames("Name;Size;Pieces\nJo;S;2\nUnknown;M;1\nAda;L;none\n;L;1\n", find)
	if err != nil || len(names) != 2 || names[1] != (book.NameRow{Name: "Jo", DesignID: rows[0].DesignID, Size: "S"}) {
		t.Errorf("%+v, %v", names, err)
	}
	say := book.BadNames(bad).Error()
	for _, want := range []string{"3 rows of the list", "row 3 (Unknown): the shop has no design", "row 4 (none): give 1 or more pieces", "row 5: the name is missing"} {
		if !strings.Contains(say, want) {
			t.Errorf("%q does not say %q", say, want)
		}
	}
	// Without headings: name and file; what is written is read again.
	names, bad, err = book.ParseNames("Our Jo,jo.dst\nada\n", find)
	if err != nil || len(bad) != 0 || len(names) != 2 || names[0].Name != "Our Jo" || names[1].DesignID != rows[1].DesignID {
		t.Errorf("%+v, %+v, %v", names, bad, err)
	}
	l := book.OrderLine{LinePieces: book.LinePieces{LineNames: book.LineNames{Names: names}}}
	again, _, err := book.ParseNames(b.NamesText(bg, &l), find)
	if err != nil || len(again) != 2 || again[0] != names[0] || again[1] != names[1] {
		t.Errorf("%+v, %v", again, err)
	}
	o := b.named(t, false, rows)
	o.Lines[0].Quantity = 3
	if _, _, err := b.ChangeOrder(bg, *o, ""); err == nil || !strings.Contains(err.Error(), "there are 2 names, the line has 3 pieces") {
		t.Errorf("2 names for 3 pieces: %v", err)
	}
	o.Lines[0].Quantity, o.Lines[0].Names[1].DesignID = 2, rows[0].DesignID // of the history
	if o, _, err = b.ChangeOrder(bg, *o, ""); err != nil || o.Version != 2 || o.Lines[0].Names[1].DesignID != rows[0].DesignID {
		t.Errorf("another file for a name: %+v, %v", o, err)
	}
}

// A stitch file that did not come whole is told with the order, of a name too, before anybody sews it: for a design
// whose end is missing still has a time and a price.
func TestFilesThatAreCutShortAreToldWithTheOrder(t *testing.T) {
	b := fresh(t)
	rows := b.letter(t, "Jo", "Ada")
	_, whole, err := b.Designs.File(bg, b.designs["Ada.dst"])
	if err != nil {
		t.Fatal(err)
	}
	added, err := b.AddFile(bg, "half.dst", whole[:len(whole)/6*3])
	if err != nil || added[0].Design == nil {
		t.Fatal(err, added)
	}
	half := added[0].Design.ID
	torn := slices.Clone(whole) // a stitch without the bits that every record has
	for at := 512 + 30; ; at += 3 {
		if torn[at+2] == 3 {
			torn[at+2] = 0
			break
		}
	}
	if added, err = b.AddFile(bg, "torn.dst", torn); err != nil || added[0].Design == nil {
		t.Fatal(err, added)
	}
	for _, c := range []struct {
		design string
		names  []book.NameRow
		want   string
	}{
		{b.designs["wheel-badge.dst"], rows, ""},
		{half, nil, "line 1: perhaps cut short or damaged: half.dst; look at the picture"},
		{added[0].Design.ID, nil, "line 1: perhaps cut short or damaged: torn.dst; look at the picture"},
		{b.designs["wheel-badge.dst"], append(rows, book.NameRow{Name: "Bram", DesignID: half}, book.NameRow{Name: "Cleo", DesignID: half}),
			"perhaps cut short or damaged: half.dst; look"},
	} {
		o, notes, err := b.AddOrder(bg, book.Order{Customer: "C", Due: words.NewDay(2026, 3, 20), Weight: 1, State: book.Agreed, Lines: []book.OrderLine{
			{DesignID: c.design, Quantity: max(len(c.names), 2), LinePieces: book.LinePieces{LineNames: book.LineNames{Names: c.names}}}}}, "")
		if err != nil {
			t.Fatal(err)
		}
		if said := strings.Join(notes, "\n"); c.want == "" && strings.Contains(said, "cut short") || !strings.Contains(said, c.want) {
			t.Errorf("order %d: %q, want %q", o.Number, said, c.want)
		}
		// Nor is it priced or sewn without a word.
		q, err := ask.Quote(bg, b.Asked(), ask.QuoteQuestion{Now: b.at, Order: o.ID})
		if err != nil {
			t.Fatal(err)
		}
		r, err := b.MakeRunSheet(bg, o.ID, 1, b.m["Six Sisters"], 0)
		if err != nil {
			t.Fatal(err)
		}
		var caveats []string
		for _, m := range q.Caveats {
			caveats = append(caveats, m.Raw())
		}
		for what, text := range map[string]string{"the quote": strings.Join(caveats, "\n"), "the first caution of the run sheet": r.Cautions[0].Raw()} {
			_, file, cut := strings.Cut(c.want, "cut short or damaged: ")
			file, _, _ = strings.Cut(file, ";")
			if strings.Contains(text, "cut short or damaged: "+file) != cut {
				t.Errorf("order %d: %s says %q, the file is %q", o.Number, what, text, file)
			}
		}
	}
}
