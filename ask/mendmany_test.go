package ask

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"needlepace/book"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// drawer has designs by their names, one machine and a workshop.
type drawer struct {
	Given
	designs map[string]*stitch.Design
	shop    *book.Workshop
	slots   int
}

func (d *drawer) Design(_ context.Context, name string) (*Design, error) {
	if d.designs[name] == nil {
		return nil, Missing("there is no %s", name)
	}
	return NewDesign(d.designs[name], name, ""), nil
}

func (d *drawer) Workshop(context.Context) (*book.Workshop, bool, error) {
	return d.shop, d.shop != nil, nil
}

func (d *drawer) Slot(context.Context) (Room, error) {
	d.slots++
	return d, nil
}

func (d *drawer) Leave() { d.slots-- }

func (d *drawer) Return(context.Context) error { d.slots++; return nil }

func drawerOf(t *testing.T, shop string) *drawer {
	t.Helper()
	out := &drawer{Given: Given{On: sheetOf(t, "single-15-light")}, designs: map[string]*stitch.Design{
		"rows.dst": rows(7, 0, 500, 100, 400, 200, 300), "out.dst": drivenOut(0, 500, 100, 400, 20, 480, 40, 440), "one.dst": rows(7, 0),
	}}
	if shop != "" {
		w, err := book.ParseWorkshop("WORKSHOP.toml", []byte(book.AssumedHours+shop))
		if err != nil {
			t.Fatal(err)
		}
		out.shop = w
	}
	return out
}

// A file that something is wrong with is not taken unseen: its mend is as it is, and no longer says so.
func TestADoubtfulFileIsLookedAtFirst(t *testing.T) {
	from := drawerOf(t, "")
	whole, err := MendMany(context.Background(), from, MendManyQuestion{Designs: []string{"rows.dst"}, Machine: "m"})
	if err != nil {
		t.Fatal(err)
	}
	cut := *from.designs["rows.dst"]
	cut.Warnings = []stitch.Warning{{Code: "cut-short", Offset: 512, Text: "most likely it was cut short"}}
	from.designs["rows.dst"] = &cut
	a, err := MendMany(context.Background(), from, MendManyQuestion{Designs: []string{"rows.dst"}, Machine: "m"})
	if err != nil {
		t.Fatal(err)
	}
	if d := a.Designs[0]; !whole.Designs[0].Clear || d.Clear || a.Clear != 0 || !d.Equal || !strings.Contains(a.Table().Rows[0][11].Text(nil), "cut short (byte 512)") {
		t.Errorf("clear %v, then %v: %v", whole.Designs[0].Clear, d.Clear, a.Table().Rows[0])
	}
	one := *from.designs["one.dst"] // in which there is nothing to mend
	one.Warnings = cut.Warnings
	from.designs["one.dst"] = &one
	if a, err = MendMany(context.Background(), from, MendManyQuestion{Designs: []string{"one.dst"}, Machine: "m"}); err != nil {
		t.Fatal(err)
	}
	if d := a.Designs[0]; d.Changed || len(d.Risks) != 1 || !strings.Contains(d.Risks.Text(nil), "the file is doubtful: most likely it was cut short") {
		t.Errorf("nothing to mend: changed %v, it says: %s", d.Changed, d.Risks.Text(nil))
	}
}

// Of many mends each says on which machine the thread stays uncut where another one cuts.
func TestOfManyIsSaidWhereTheThreadStaysUncut(t *testing.T) {
	two := sheetOf(t, "multi-6").Clone()
	two.Name, two.Reading.TrimAfterJumps = "cuts after two", 2
	from := drawerOf(t, "")
	from.Others = []*machine.Sheet{two}
	d := from.designs["rows.dst"]
	d.Records = slices.Insert(d.Records, 7+6, stitch.Record{Op: stitch.Jump, DX: 20}, stitch.Record{Op: stitch.Jump, DX: 20})
	a, err := MendMany(context.Background(), from, MendManyQuestion{Designs: []string{"rows.dst"}, Machine: "m"})
	if err != nil {
		t.Fatal(err)
	}
	if r := a.Designs[0].Risks.Text(nil); !a.Designs[0].Changed || !strings.Contains(r, "leaves the thread at 1 way of jumps, as with the old file") || strings.Contains(r, "longer") {
		t.Errorf("changed %v, it says: %s", a.Designs[0].Changed, r)
	}
}

// TestManyAreMendedAndWhatFailsStopsNothing: each design's figures are those of
// its own mend; what is taken together holds no operator's stop.
func TestManyAreMendedAndWhatFailsStopsNothing(t *testing.T) {
	from := drawerOf(t, "")
	var put []string
	var told []string
	q := MendManyQuestion{Designs: []string{"rows.dst", "gone.dst", "out.dst", "one.dst"}, Machine: "m", Money: true,
		Done:     func(d *MendedDesign) error { put = append(put, d.ID); d.Kept = "new/" + d.Mend.NewFile; return nil },
		Progress: func(f float64, doing words.Message) { told = append(told, doing.Text(nil)) },
	}
	a, err := MendMany(context.Background(), from, q)
	if err != nil {
		t.Fatal(err)
	}
	if a.Mended != 2 || a.Same != 1 || a.Failed != 1 || a.Left != 0 || a.Held != 1 || a.Clear != 1 || a.Equal != 2 ||
		a.Best != 3 || from.slots != 0 {
		t.Errorf("%+v", *a)
	}
	sum := 0.0
	for i, name := range q.Designs {
		d := a.Designs[i]
		if d.ID != name {
			t.Fatalf("design %d is %s, want %s", i, d.ID, name)
		}
		if name == "gone.dst" {
			if !strings.Contains(d.Error, "there is no gone.dst") || d.Mend != nil || d.Clear {
				t.Errorf("%+v", d)
			}
			continue
		}
		alone := mend(t, from.designs[name], name, MendQuestion{}, from.On)
		if d.Saved != alone.Saved || d.Before != alone.Before.Seconds || d.Changed != alone.Changed ||
			!slices.Equal(d.Mend.Content, alone.Content) || d.Best != (name == "one.dst" || alone.Search.Optimal) {
			t.Errorf("%s: %+v; alone it saves %v s", name, d, alone.Saved)
		}
		sum += d.Saved
	}
	if a.Saved != sum || math.Abs(a.Before-a.After-a.Saved) > 1e-9 {
		t.Errorf("%v s saved, the designs' sum is %v; %v before and %v after", a.Saved, sum, a.Before, a.After)
	}
	if d := a.Designs[2]; d.Stops != 1 || d.Clear || !d.Equal || !strings.Contains(d.Risks.Text(nil), "operator’s stop") {
		t.Errorf("the frame is driven out in it: %+v", d)
	}
	if !slices.Equal(put, []string{"rows.dst", "out.dst"}) || a.Designs[0].Kept != "new/rows-mended.dst" {
		t.Errorf("put away: %v, %q", put, a.Designs[0].Kept)
	}
	if take := a.Take(); len(take) != 1 || take[0].ID != "rows.dst" {
		t.Errorf("taken together: %v", take)
	}
	verdict, caveats := a.Verdict.Text(nil), a.Caveats.Text(nil)
	for _, want := range []string{"2 of 4 designs", "Picture equal: proved", "2 of 2 new files", "Order the best possible: proved of 3 of 3",
		"1 of 2 new files can be taken together", "1 new file holds a stop"} {
		if !strings.Contains(verdict, want) {
			t.Errorf("the verdict does not say %q: %s", want, verdict)
		}
	}
	for _, want := range []string{"1 design could not be mended", "What the seconds are worth is missing"} {
		if !strings.Contains(caveats, want) {
			t.Errorf("the caveats do not say %q: %s", want, caveats)
		}
	}
	if !slices.Contains(told, "design 3 of 4: out.dst") {
		t.Errorf("it told %q", told)
	}
	table := a.Table()
	if got := table.CSV(); len(got) != 5 || got[1][6] != "yes" || got[1][7] != "yes" || got[2][13] != a.Designs[1].Error ||
		got[3][10] != "" || got[1][10] != "yes" || got[3][11] == "" {
		t.Errorf("the table: %q", got)
	}
	if b, err := json.Marshal(a); err != nil || strings.Contains(string(b), "null") {
		t.Errorf("as JSON: %v, %.300s", err, b)
	}
}

// TestWhatSecondsAreWorth: an hour of the machine by hand, and prices that lack.
func TestWhatSecondsAreWorth(t *testing.T) {
	// 2 operators at 1 machine: one of them is its own. 8 h × 250 shifts are
	// 2,000 h a year; (8,000 − 0) / 4 years without interest are 1 an hour.
	const rates = `
[money]
currency = "EUR"
labour_per_hour = 20
overhead_per_year = 1000
energy_per_kwh = 0.5
interest_percent = 0
shifts_per_year = 250
`
	own := "[money.machines.m]\nprice = 8000\nlife_years = 4\nsalvage = 0\nkilowatts = 1\n"
	a, err := MendMany(context.Background(), drawerOf(t, rates+own),
		MendManyQuestion{Designs: []string{"rows.dst", "out.dst"}, Machine: "m", Money: true})
	if err != nil {
		t.Fatal(err)
	}
	if a.HourCost != "22.0000" || a.Currency != "EUR" || !slices.Equal(a.Missing, []string{"money.machines.m.upkeep_per_year"}) {
		t.Errorf("an hour is %s %s, missing %q; want 1 + 0.5 + 20 + 0.5", a.HourCost, a.Currency, a.Missing)
	}
	if !strings.Contains(a.Caveats.Text(nil), "upkeep a year of single-15-light") || !strings.Contains(a.Verdict.Text(nil), "22.00 EUR") {
		t.Errorf("it says: %s %s", a.Verdict.Text(nil), a.Caveats.Text(nil))
	}
	want := words.Fixed(a.Saved*22/3600, 4).Text(nil)
	if a.SavedMoney != want || a.Designs[0].Money != words.Fixed(a.Designs[0].Saved*22/3600, 4).Text(nil) {
		t.Errorf("%s saved, want %s", a.SavedMoney, want)
	}
	for _, c := range []struct{ shop, missing, says string }{
		{"", "money", "hourly rates"},
		{rates, "money.machines.m", "put in what single-15-light costs"},
	} {
		a, err := MendMany(context.Background(), drawerOf(t, c.shop),
			MendManyQuestion{Designs: []string{"rows.dst"}, Machine: "m", Money: true})
		if err != nil || !slices.Equal(a.Missing, []string{c.missing}) || a.SavedMoney != "" ||
			!strings.Contains(a.Caveats.Text(nil), c.says) {
			t.Errorf("%q: missing %q, %s, %v", c.shop, a.Missing, a.Caveats.Text(nil), err)
		}
	}
	a, err = MendMany(context.Background(), drawerOf(t, rates+own), MendManyQuestion{Designs: []string{"rows.dst"}, Machine: "m"})
	if err != nil || a.Currency != "" || len(a.Missing) != 0 || strings.Contains(a.Caveats.Text(nil), "worth") {
		t.Errorf("nobody asked for money: %q, %s, %v", a.Currency, a.Caveats.Text(nil), err)
	}
}

// TestManyStoppedKeepsWhatIsDone: those not reached are named.
func TestManyStoppedKeepsWhatIsDone(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	a, err := MendMany(ctx, drawerOf(t, ""), MendManyQuestion{Designs: []string{"rows.dst", "out.dst", "one.dst"},
		Machine: "m", Done: func(*MendedDesign) error { stop(); return nil }})
	if err != nil || a.Mended != 1 || a.Left != 2 || a.Failed != 2 || !strings.Contains(a.Caveats.Text(nil), "2 designs were not reached") {
		t.Errorf("%+v, %v", a, err)
	}
	a, err = MendMany(context.Background(), drawerOf(t, ""), MendManyQuestion{Designs: []string{"rows.dst", "out.dst"},
		Machine: "m", Done: func(*MendedDesign) error { return errors.New("the stick is full") }})
	if err != nil || a.Failed != 2 || a.Mended != 0 || a.Saved != 0 || len(a.Take()) != 0 || a.Designs[0].Error != "the stick is full" {
		t.Errorf("%+v, %v", a, err)
	}
}

func TestManyRefusesWhatMakesNoSense(t *testing.T) {
	for _, q := range []MendManyQuestion{{}, {Designs: make([]string, MostMended+1)},
		{Designs: []string{"a"}, Job: Job{Needles: []int{1}}}, {Designs: []string{"a"}, Seconds: -1},
		{Designs: []string{"a"}, Job: Job{Speed: -3}}} {
		if MendManyCheck(q) == nil {
			t.Errorf("%d designs, %+v: taken", len(q.Designs), q.Job)
		}
		var e *Error
		if _, err := MendMany(context.Background(), &drawer{Given: Given{On: &machine.Sheet{}}}, q); !errors.As(err, &e) {
			t.Errorf("%v", err)
		}
	}
}

// Designs of one name are told apart by their folders.
func TestDesignsOfOneNameAreToldApart(t *testing.T) {
	from := drawerOf(t, "")
	d := from.designs["rows.dst"]
	from.designs = map[string]*stitch.Design{"autumn/crest.dst": d, "spring/crest.dst": d, "spring/oars.dst": d}
	a, err := MendMany(context.Background(), from, MendManyQuestion{Designs: []string{"autumn/crest.dst", "spring/crest.dst", "spring/oars.dst"}, Machine: "m"})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"crest (autumn)", "crest (spring)", "oars"} {
		if got := a.Designs[i].Design; got != want {
			t.Errorf("%s is called %q", a.Designs[i].ID, got)
		}
	}
}

// Names that several have, in a shop and in folders, are told apart; those of one thing asked twice, and others, stay as
// they are.
func TestNamesThatSeveralHaveAreToldApart(t *testing.T) {
	one, two, near := "0a94b41b2537de31a63d98847a9a5bec", "10341e090faa461f4ca5930c7fe95269", "0a94b41bffffffffffffffffffffffff"
	for _, c := range [][3][]string{
		{{"crest", "Crest", "oars"}, {one, two, near}, {"crest (0a94b41b)", "Crest (10341e09)", "oars"}},
		{{"crest", "crest"}, {one, near}, {"crest (" + one + ")", "crest (" + near + ")"}},
		{{"crest", "crest"}, {one, one}, {"crest", "crest"}},
		{{"crest", "crest"}, {"a/crest.dst", "a/crest.exp"}, {"crest (a/crest.dst)", "crest (a/crest.exp)"}},
		{{"crest", "crest"}, {"crest.dst", "crest.exp"}, {"crest (crest.dst)", "crest (crest.exp)"}},
		{{"crest", "crest"}, {"crest.dst", "a/crest.dst"}, {"crest", "crest (a)"}},
	} {
		if got := NamesApart(c[0], c[1]); !slices.Equal(got, c[2]) {
			t.Errorf("%v: %v, not %v", c[1], got, c[2])
		}
	}
}

// What is to stay stays in each of many, as in a mend of one: a red block, a blue and a
// red one again, of which two would be one.
func TestWhatIsToStayStaysInEachOfMany(t *testing.T) {
	from := drawerOf(t, "")
	d := &stitch.Design{Name: "crest", Format: "dst"}
	for k, y := range []int{0, 400, 100} {
		if k > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		d.Records = append(d.Records, rows(3, y, y+200, y+100).Records...)
		c := []stitch.Thread{{Name: "red", R: 255, Known: true}, {Name: "blue", B: 255, Known: true}}[k%2]
		d.Threads = append(d.Threads, c)
	}
	from.designs["crest.dst"] = d
	for _, c := range []struct {
		keepColours, keepStops bool
		blocks, kept           int
	}{{false, false, 2, 0}, {true, false, 3, 0}, {false, true, 3, 2}} {
		q := MendManyQuestion{Designs: []string{"crest.dst"}, Machine: "m", KeepColours: c.keepColours, KeepStops: c.keepStops}
		a, err := MendMany(context.Background(), from, q)
		if err != nil || a.Failed > 0 {
			t.Fatalf("%+v, %v", a, err)
		}
		if m := a.Designs[0].Mend; len(m.Blocks) != c.blocks || len(m.Kept) != c.kept {
			t.Errorf("colours stay %v, stops stay %v: %d blocks and %d stops kept, want %d and %d", c.keepColours, c.keepStops,
				len(m.Blocks), len(m.Kept), c.blocks, c.kept)
		}
	}
}
