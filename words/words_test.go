package words

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"
)

// TestCases runs the table that the page's scripts run too.
func TestCases(t *testing.T) {
	b, err := os.ReadFile("testdata/cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		As   string
		Of   *float64
		Inch bool
		In   string // the language; English where left out
		Is   string
	}
	if err := json.Unmarshal(b, &cases); err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		v := math.NaN()
		if c.Of != nil {
			v = *c.Of
		}
		kind, noun, _ := strings.Cut(c.As, " ")
		w := &Writer{Inch: c.Inch, Hours12: noun == "12"}
		w.Language, _ = LanguageOf(cmp.Or(c.In, "en"))
		values := map[string]Value{
			"seconds": Seconds(v), "clock": Clock(v), "hours": Hours(v), "whole": Fixed(v, 0), "figure": Figure(v),
			"span": Span(v), "share": Share(v), "level": Level(v), "chance": Chance(v), "odds": Odds(v), "mm": MM(v),
			"stitch": StitchMM(v), "metres": Metres(v), "per-minute": PerMinute(v),
			"daytime": TimeOfDay(v * 1e9),
			"count":   Number{V: v, Noun: noun}, "mean": Mean(v, noun),
		}
		if kind == "near" { // at a moment, by the clocks of a zone
			name, hours, _ := strings.Cut(noun, " ")
			var err error
			if w.Zone, err = LoadZone(name); err != nil {
				t.Fatal(err)
			}
			w.Hours12 = hours == "12"
			at := time.Unix(int64(v), 0)
			values[kind] = w.Zone.Near(at, at)
		}
		if got := strings.ReplaceAll(values[kind].Text(w), noBreak, " "); got != c.Is {
			t.Errorf("%s of %v is %q in %s, want %q", c.As, v, got, w.Tag(), c.Is)
		}
	}
}

func TestMoneyHasItsCurrencysDecimals(t *testing.T) {
	for _, c := range []struct{ amount, code, want string }{
		{"1234.505", "EUR", "1,234.51 EUR"}, {"1249.5", "JPY", "1,250 JPY"}, {"1.23456", "KWD", "1.235 KWD"},
		{"-0.004", "EUR", "0.00 EUR"}, {"-12.5", "USD", "−12.50 USD"}, {"7.5", "", "7.50"},
	} {
		if got := (Money{Amount: decimal.RequireFromString(c.amount), Code: c.code}).Text(nil); got != c.want {
			t.Errorf("%s %s is %q, want %q", c.amount, c.code, got, c.want)
		}
	}
	for _, c := range []struct{ amount, code, want string }{
		{"1234.505", "EUR", "€1,234.51"}, {"1249.5", "JPY", "¥1,250"}, {"-12.5", "USD", "−$12.50"}, {"7.5", "CAD", "CA$7.50"},
		{"7.5", "CHF", "7.50 CHF"}, {"7", "XX", "7.00 XX"},
	} {
		if got := (Money{Amount: decimal.RequireFromString(c.amount), Code: c.code, Sign: true}).Text(nil); got != c.want {
			t.Errorf("%s %s with its sign is %q, want %q", c.amount, c.code, got, c.want)
		}
	}
	m := Money{Amount: decimal.RequireFromString("12399.5"), Code: "EUR", Round: true}
	if got := m.Text(nil); got != "12,400 EUR" {
		t.Errorf("to the whole unit it is %q", got)
	}
	if got := (Money{Amount: m.Amount, Code: "JPY", Bare: true}).Text(nil); got != "12,400" {
		t.Errorf("without its code it is %q", got)
	}
	if m.Raw() != "12399.5" {
		t.Errorf("a file gets %q", m.Raw())
	}
}

func TestRawHasTheDigitsOfJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		var back float64
		if err := json.Unmarshal([]byte(Seconds(v).Raw()), &back); err != nil || back != v {
			t.Fatalf("%v is written %q", v, Seconds(v).Raw())
		}
	})
	if got := Share(math.NaN()).Raw(); got != "" {
		t.Errorf("an unknown figure is written %q", got)
	}
}

func TestATimeWhoseTenthsTell(t *testing.T) {
	for v, want := range map[float64]string{8.44: "8.4 s", 33.84: "33.8 s", 34.16: "34.2 s", 59.94: "59.9 s", 59.96: "1 min 00 s", 75.2: "1 min 15 s", math.NaN(): "–"} {
		if got := FineSeconds(v).Text(nil); got != want {
			t.Errorf("%v s is %q, want %q", v, got, want)
		}
	}
}

func TestSpreadsAndSizes(t *testing.T) {
	for v, want := range map[float64]string{
		0: "exact", .035: "± 3.5 %", .0994: "± 9.9 %", .0995: "± 10 %", .25: "± 25 %", math.NaN(): "–",
	} {
		if got := GiveOrTake(v).Text(nil); got != want {
			t.Errorf("a spread of %v is %q, want %q", v, got, want)
		}
	}
	size := Size{W: 48.26, H: 30.48}
	if got := size.Text(nil); got != "48.3 × 30.5 mm" {
		t.Errorf("a size is %q", got)
	}
	if got := size.Text(&Writer{Inch: true}); got != "1.90 × 1.20 in" { // of 25.4 mm each
		t.Errorf("a size in inches is %q", got)
	}
}

func TestSignedShowsGrowth(t *testing.T) {
	for _, c := range []struct {
		v    Numeric
		want string
	}{{Share(0.032), "+3.2 %"}, {Share(-0.032), "−3.2 %"}, {Fixed(0.04, 1), "0.0"}, {Seconds(90), "+1 min 30 s"},
		{Share(0.0004), "under 0.1 %"}} {
		if got := (Signed{c.v}).Text(nil); got != c.want {
			t.Errorf("%v is %q, want %q", c.v, got, c.want)
		}
	}
}

func TestDay(t *testing.T) {
	d := NewDay(2026, time.March, 20)
	for _, c := range []struct{ got, want string }{
		{d.Text(nil), "20 Mar 2026"}, {d.Raw(), "2026-03-20"}, {NearDay{Day: d}.Text(nil), "Fri 20 Mar"}, {NearDay{d, NewDay(2026, 12, 31)}.Text(nil), "Fri 20 Mar"},
		{NearDay{d, NewDay(2025, 12, 31)}.Text(nil), "Fri 20 Mar 2026"}, {NearDay{d, NewDay(2025, 12, 31)}.Raw(), "2026-03-20"},
		{FullDay{d}.Text(nil), "Friday 20 March 2026"}, {FullDay{d}.Raw(), "2026-03-20"},
		{d.Add(12).String(), "2026-04-01"}, {d.Add(-365).String(), "2025-03-20"}, {Day{}.Text(nil), "–"}, {Day{}.String(), ""},
		{Day{}.Add(3).String(), ""}, {NewDay(1970, 1, 1).String(), "1970-01-01"}, {NewDay(1969, 12, 31).Add(1).String(), "1970-01-01"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	if d.Weekday() != time.Friday || d.Add(40).Sub(d) != 40 || d.Sub(d.Add(3)) != -3 || !d.Before(d.Add(1)) || d.Add(1).Compare(d) != 1 {
		t.Errorf("%v reckons wrongly", d)
	}
	var kept struct {
		A, B Day
		C    Day `json:",omitzero"`
	}
	if err := json.Unmarshal([]byte(`{"A":"2026-03-20","B":""}`), &kept); err != nil || kept.A != d || !kept.B.IsZero() {
		t.Errorf("JSON reads %v, %v", kept, err)
	}
	if b, _ := json.Marshal(kept); string(b) != `{"A":"2026-03-20","B":""}` {
		t.Errorf("JSON writes %s", b)
	}
	for _, text := range []string{"A = '2026-03-20'", "A = \"2026-03-20\""} {
		kept.A = Day{}
		if err := toml.Unmarshal([]byte(text), &kept); err != nil || kept.A != d {
			t.Errorf("TOML reads %q as %v, %v", text, kept.A, err)
		}
	}
	for _, bad := range []string{"2026-02-30", "20.3.2026", "2026-3-20", "x"} {
		if _, err := ParseDay(bad); err == nil || !strings.Contains(err.Error(), "2026-03-20") {
			t.Errorf("%q is read: %v", bad, err)
		}
	}
}

func TestDaysRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := NewDay(1900, 1, 1).Add(rapid.IntRange(0, 150000).Draw(t, "days"))
		if back, err := ParseDay(d.String()); err != nil || back != d {
			t.Fatalf("%v comes back as %v: %v", d, back, err)
		}
		y, m, n := d.Date()
		if NewDay(y, m, n) != d {
			t.Fatalf("%v is not %d-%d-%d", d, y, m, n)
		}
	})
}

// TestTimesOfDayAreTheShops holds whatever zone the process runs in.
func TestTimesOfDayAreTheShops(t *testing.T) {
	old := time.Local
	defer func() { time.Local = old }()
	lisbon, err := LoadZone("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 7, 1, 23, 30, 0, 0, time.UTC) // half past midnight in Lisbon
	for _, process := range []string{"UTC", "Asia/Tokyo", "America/Los_Angeles"} {
		if time.Local, err = time.LoadLocation(process); err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct{ got, want string }{
			{Moment{at.Local()}.Text(&Writer{Zone: lisbon}), "2 Jul 2026, 00:30"},
			{Moment{at.Local()}.Text(&Writer{Zone: lisbon, Hours12: true}), "2 Jul 2026, 12:30 am"},
			{Moment{at.Local()}.Text(nil), "1 Jul 2026, 23:30"},
			{lisbon.Moment(at).Text(nil), "2 Jul 2026, 00:30"}, // as its Raw, beside which JSON has it
			{lisbon.Near(at, at).Text(nil), "Thu 2 Jul, 00:30"},
			{Moment{at.Local()}.Raw(), "2026-07-01T23:30:00Z"},
			{lisbon.Moment(at).Raw(), "2026-07-02T00:30:00+01:00"},
			{lisbon.Near(at, at.Local()).Text(&Writer{Zone: lisbon}), "Thu 2 Jul, 00:30"},
			{lisbon.Near(at, at.AddDate(1, 0, 0)).Text(&Writer{Zone: lisbon}), "Thu 2 Jul 2026, 00:30"},
			{lisbon.Near(at, at).Raw(), "2026-07-02T00:30:00+01:00"},
			{lisbon.ClockAt(at.Local()).Text(nil), "00:30"},
			{lisbon.Day(at).String(), "2026-07-02"},
			{Zone{}.Day(at.Local()).String(), "2026-07-01"},
			{lisbon.At(NewDay(2026, 7, 2), TimeOfDay(30*time.Minute)).UTC().String(), at.String()},
		} {
			if c.got != c.want {
				t.Errorf("in %s: got %q, want %q", process, c.got, c.want)
			}
		}
	}
	if _, err := LoadZone("Local"); err == nil {
		t.Error("the zone of the process is taken for the shop's")
	}
	if !lisbon.Day(time.Time{}).IsZero() || (Moment{}).Text(nil) != "–" || lisbon.Moment(time.Time{}).Raw() != "" {
		t.Error("no instant has a day")
	}
}

func TestTimeOfDay(t *testing.T) {
	for _, c := range []struct {
		at       time.Duration
		h24, h12 string
	}{{0, "00:00", "12:00 am"}, {7 * time.Hour, "07:00", "7:00 am"}, {12*time.Hour + 5*time.Minute, "12:05", "12:05 pm"},
		{23*time.Hour + 59*time.Minute + 59*time.Second, "23:59", "11:59 pm"}, {24 * time.Hour, "24:00", "12:00 am"}} {
		if got := TimeOfDay(c.at).Text(nil); got != c.h24 {
			t.Errorf("%v is %q, want %q", c.at, got, c.h24)
		}
		if got := TimeOfDay(c.at).Text(&Writer{Hours12: true}); got != c.h12 {
			t.Errorf("%v is %q, want %q", c.at, got, c.h12)
		}
	}
}

func TestLists(t *testing.T) {
	for _, c := range []struct {
		l    List
		want string
	}{{nil, "–"}, {List{Name("a")}, "a"}, {List{Name("a"), Name("b")}, "a and b"}, {List{Name("a"), Name("b"), Whole(3)}, "a, b and 3"},
		{List{Name("thread, black"), Name("b"), Whole(1000)}, "thread, black; b; and 1,000"}, {List{Name("a"), Name("b, c")}, "a; and b, c"},
		{List{Name("cap (front, kelp)"), Name("b")}, "cap (front, kelp) and b"}} {
		if got := c.l.Text(nil); got != c.want {
			t.Errorf("%v is %q", c.l, got)
		}
	}
	if got := (List{Name("a"), Seconds(3)}).Raw(); got != "a; 3" {
		t.Errorf("a file gets %q", got)
	}
}

func BenchmarkSeconds(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		Seconds(1125).Text(nil)
	}
}
