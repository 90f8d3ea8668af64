package book

import (
	"strings"
	"testing"
	"time"
)

const hours = `
time_zone = "Europe/Lisbon"
holidays = ["2026-03-09"]
ready_by = "16:00"
days_to_hand_over = 1
[[shift]]
days = ["mon", "tue", "wed", "thu", "fri"]
from = "07:00"
to = "15:30"
operators = 2
`

func workshopOf(t *testing.T, toml string) *Workshop {
	t.Helper()
	w, err := ParseWorkshop("w.toml", []byte(toml))
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestDaysToPromiseAreWorkingDays(t *testing.T) {
	w := workshopOf(t, hours)
	loc := w.Location()
	at := func(s string) time.Time {
		t.Helper()
		x, err := time.ParseInLocation("2006-01-02 15:04", s, loc)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, c := range []struct{ sewn, day string }{
		{"2026-03-02 15:00", "2026-03-03"}, // sewn in time: handed over the next day
		{"2026-03-02 16:01", "2026-03-04"}, // after the hour: a day later
		{"2026-03-05 15:00", "2026-03-06"},
		{"2026-03-06 15:00", "2026-03-10"}, // over the weekend and the holiday
		{"2026-03-07 09:00", "2026-03-10"},
	} {
		if got := w.DayFor(at(c.sewn)); got.String() != c.day {
			t.Errorf("sewn %s: %s, want %s", c.sewn, got, c.day)
		}
	}
	// What may be promised is in time by its own measure.
	for h := range 24 * 14 {
		sewn := at("2026-03-02 00:30").Add(time.Duration(h) * time.Hour)
		due := w.DueTime(w.DayFor(sewn))
		if due.Before(sewn) {
			t.Fatalf("sewn %v is promised for %s, which is due %v", sewn, w.DayFor(sewn), due)
		}
	}
	due := w.DueTime(dayOf(t, "2026-03-31")) // the clocks went forward on 29 March
	if !due.Equal(time.Date(2026, 3, 30, 15, 0, 0, 0, time.UTC)) {
		t.Errorf("due %v: want 16:00 of the day before, in summer time", due)
	}
}

func TestAWorkshopsMistakesAreNamed(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`"Europe/Lisbon"`, `"Middle of nowhere"`, `w.toml:2:1: time_zone is "Middle of nowhere", which is no time zone`},
		{`"2026-03-09"`, `"9 March"`, `w.toml:3:1: holidays has "9 March", which is no day`},
		{`"16:00"`, `"teatime"`, `w.toml:4:1: ready_by is "teatime"`},
		{`hand_over = 1`, `hand_over = -1`, `days_to_hand_over is -1; give 0 to 60`},
		{`"mon"`, `"moonday"`, `w.toml:7:1: shift[1].days has "moonday"`},
		{`operators = 2`, `operators = 0`, `shift[1].operators is 0`},
		{`operators = 2`, `operators = nan`, `shift[1].operators is NaN`},
		{`operators = 2`, "operators = 2\n[[machine]]\nname = \"A\"\n[[machine]]\nname = \"A\"", `machine[2].name is "A", as another machine's`},
		{`operators = 2`, "operators = 2\n[[machine]]\nname = \"A\"\nfield = [100]", `machine[1].field must be width and height`},
		{`operators = 2`, "operators = 2\n[[machine]]\nname = \"A\"\nheads = 0", `machine[1].heads is 0`},
		{`operators = 2`, "operators = 2\n[[down]]\nfrom = \"2026-03-05\"\nto = \"2026-03-04\"", `down[1].to is not after from`},
		{`operators = 2`, "operators = 2\n[money]\ncurrency = \"EUR\"", `money.`},
		{`time_zone`, `time_zoom`, `did you mean time_zone?`},
	} {
		_, err := ParseWorkshop("w.toml", []byte(strings.Replace(hours, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", c.new, err, c.want)
		}
	}
	if _, err := ParseWorkshop("w.toml", []byte(`ready_by = "17:00"`)); err == nil || !strings.Contains(err.Error(), "shift is missing") {
		t.Errorf("without a shift: %v", err)
	}
}

func FuzzWorkshopAndOrders(f *testing.F) {
	f.Add(hours)
	f.Add("[[order]]\ncustomer = \"C\"\n[[order.line]]\ndesign = \"d\"\nquantity = 3\n")
	f.Add("[[shift]]\nfrom = \"24:00\"\nto = \"00:00\"\noperators = 1e9\n")
	f.Fuzz(func(t *testing.T, toml string) {
		if w, err := ParseWorkshop("w", []byte(toml)); err == nil {
			w.Calendar("x").Windows(time.Unix(1e9, 0), 10)
			w.DayFor(time.Unix(1e9, 0))
		}
		if o, err := ParseOrders("o", []byte(toml)); err == nil && len(o.Order) == 0 {
			t.Error("an orders file without orders was taken")
		}
	})
}

func TestThreadsAreNamesWithColours(t *testing.T) {
	for _, c := range []struct{ in, name, colour string }{
		{"kelp green #2a6a56", "kelp green", "#2a6a56"}, {"#2a6a56", "#2a6a56", "#2a6a56"}, {" navy ", "navy", ""}, {"no. #12", "no. #12", ""}, {"x #gggggg", "x #gggggg", ""}, {"", "", ""},
	} {
		if n, k := SplitThread(c.in); n != c.name || k != c.colour {
			t.Errorf("%q is %q and %q", c.in, n, k)
		}
	}
}

func TestSharesOfTheStandardAreChecked(t *testing.T) {
	with := func(shares ...string) string {
		toml := hours
		for i, s := range shares {
			toml += "[[machine]]\nname = \"" + string(rune('a'+i)) + "\"\nusual_share_percent = " + s + "\n"
		}
		return toml
	}
	for _, good := range [][]string{{"0"}, {"100"}, {"33.3", "33.3", "33.4"}} {
		workshopOf(t, with(good...))
	}
	for _, c := range []struct {
		shares []string
		says   string
	}{{[]string{"-1"}, "give 0 to 100"}, {[]string{"101"}, "give 0 to 100"}, {[]string{"60", "41"}, "machine[2].usual_share_percent"}, {[]string{"nan"}, "give 0 to 100"}} {
		if _, err := ParseWorkshop("w.toml", []byte(with(c.shares...))); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("shares %q: %v, want %q", c.shares, err, c.says)
		}
	}
}
