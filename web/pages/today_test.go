package pages_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/web"
	"needlepace/web/webtest"
)

// Seconds are counted on the day when somebody is needed; over a weekend it says
// when that is.
func TestTodayCountsNoSecondsOverAWeekend(t *testing.T) {
	var at atomic.Pointer[time.Time]
	set := func(day, hour int) {
		now := time.Date(2026, 11, day, hour, 0, 0, 0, time.UTC)
		at.Store(&now)
	}
	set(27, 16) // a Friday
	a := webtest.New(t, web.Options{Now: func() time.Time { return *at.Load() }})
	a.Machine("compact-8", "Whelk")
	d := a.DemoDesign("ostrel-light.dst")
	a.Send("PUT", "/api/v1/workshop", map[string]any{"toml": "[[shift]]\ndays = [\"mon\"]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n"}).OK(200)
	a.Send("POST", "/api/v1/orders", map[string]any{"customer": "Ferry", "state": "agreed", "due": "2026-12-24",
		"lines": []map[string]any{{"design": d.ID, "quantity": 20}}}).OK(201)
	a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
	seconds := regexp.MustCompile(`\d:\d\d:\d\d`)
	first := func() string {
		t.Helper()
		_, body := a.Page("/today", nil)
		m := regexp.MustCompile(`<p class="big" data-until="[^"]*">([^<]*)</p>`).FindStringSubmatch(body)
		if m == nil {
			t.Fatalf("nobody is in need:\n%s", body)
		}
		return m[1]
	}
	if got := first(); seconds.MatchString(got) || !strings.Contains(got, "Mon") {
		t.Errorf("on Friday afternoon it says %q of Monday", got)
	}
	set(30, 5)
	if got := first(); got != "2:00:00" {
		t.Errorf("two hours before it says %q", got)
	}
}

// A night shift on which the clocks change has an hour more or less to sew in, in one place half an hour: what ends on the
// night after ends as much earlier or later by the wall's clock; until then nothing counts otherwise than a week before.
// Nights by the rules in force (Directive 2000/84/EC; 15 U.S.C. 260a; of New South Wales for Lord Howe, from memory).
func TestNightsWhenTheClocksChange(t *testing.T) {
	nights := []struct {
		zone, evening string
		more          time.Duration // that the shift has
	}{
		{"Europe/Berlin", "2026-10-24", time.Hour}, {"Europe/Berlin", "2026-03-28", -time.Hour},
		{"America/New_York", "2026-10-31", time.Hour}, {"America/New_York", "2026-03-07", -time.Hour},
		{"Australia/Lord_Howe", "2026-10-03", -30 * time.Minute}, {"Australia/Lord_Howe", "2026-04-04", 30 * time.Minute},
		{"Asia/Kathmandu", "2026-10-24", 0},
	}
	if testing.Short() {
		nights = []struct {
			zone, evening string
			more          time.Duration
		}{nights[0], nights[4]}
	}
	type seen struct {
		ends              time.Time
		wall, page, first string
	}
	look := func(zone *time.Location, evening time.Time) seen {
		t.Helper()
		var at atomic.Pointer[time.Time]
		at.Store(&evening)
		a := webtest.New(t, web.Options{Now: func() time.Time { return *at.Load() }})
		a.Machine("compact-8", "Whelk")
		d := a.DemoDesign("ostrel-light.dst")
		a.Send("PUT", "/api/v1/workshop", map[string]any{"toml": "time_zone = \"" + zone.String() + "\"\n[[shift]]\nfrom = \"22:00\"\nto = \"06:00\"\noperators = 1\n"}).OK(200)
		a.Send("POST", "/api/v1/orders", map[string]any{"customer": "Ferry", "state": "agreed", "lines": []map[string]any{{"design": d.ID, "quantity": 120}}}).OK(201)
		a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
		later := evening.Add(3 * time.Hour) // before any clock changes
		at.Store(&later)
		var is struct {
			Machines []struct {
				On *struct{ Ends time.Time }
			}
		}
		if err := json.Unmarshal(a.Send("GET", "/api/v1/today", nil).OK(200).Body, &is); err != nil || len(is.Machines) != 1 || is.Machines[0].On == nil {
			t.Fatal(is, err)
		}
		_, page := a.Page("/today", nil)
		_, wall := a.Page("/today/wall", nil)
		first := regexp.MustCompile(`<p class="big" data-until="[^"]*">([^<]*)</p>`).FindStringSubmatch(page)
		if first == nil {
			t.Fatalf("nobody is in need:\n%s", page)
		}
		return seen{is.Machines[0].On.Ends.In(zone), wall, page, first[1]}
	}
	for _, n := range nights {
		zone, err := time.LoadLocation(n.zone)
		if err != nil {
			t.Fatal(err)
		}
		evening, err := time.ParseInLocation("2006-01-02 15:04", n.evening+" 22:00", zone)
		if err != nil {
			t.Fatal(err)
		}
		as, is := look(zone, evening.AddDate(0, 0, -7)), look(zone, evening)
		want := as.ends.AddDate(0, 0, 7).Add(-n.more)
		if as.ends.Sub(evening.AddDate(0, 0, -7)) < 25*time.Hour || want.Hour() >= 6 {
			t.Fatalf("a week before it ends %v: not on the night after", as.ends)
		}
		if off := is.ends.Sub(want).Abs(); off > time.Second {
			t.Errorf("%s, %s: ends %v, want %v", n.zone, n.evening, is.ends, want)
		}
		if clock := is.ends.Format("15:04"); !strings.Contains(is.page, clock) {
			t.Errorf("%s, %s: the page does not say %s", n.zone, n.evening, clock)
		}
		if is.first != as.first {
			t.Errorf("%s, %s: %q until somebody is needed, a week before %q", n.zone, n.evening, is.first, as.first)
		}
	}
}

// By night what ends after midnight ends at a time, not on a day, on the wall.
func TestTheWallSaysTheTimeOverMidnight(t *testing.T) {
	now := time.Date(2026, 11, 27, 23, 30, 0, 0, time.UTC)
	a := webtest.New(t, web.Options{Now: func() time.Time { return now }})
	a.Machine("compact-8", "Whelk")
	d := a.DemoDesign("ostrel-light.dst")
	a.Send("PUT", "/api/v1/workshop", map[string]any{"toml": "[[shift]]\nfrom = \"22:00\"\nto = \"06:00\"\noperators = 1\n"}).OK(200)
	a.Send("POST", "/api/v1/orders", map[string]any{"customer": "Ferry", "state": "agreed", "lines": []map[string]any{{"design": d.ID, "quantity": 20}}}).OK(201)
	a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
	_, wall := a.Page("/today/wall", nil)
	ends := regexp.MustCompile(`<dd>0[0-5]:[0-5]\d</dd>`)
	if !ends.MatchString(wall) {
		t.Errorf("it does not say at what time it ends:\n%s", wall)
	}
}

// Of many who need a person the next stand on the page, in their order; the rest is folded under how many they are.
func TestTodayFoldsWhoIsFar(t *testing.T) {
	now := time.Date(2026, 11, 30, 8, 0, 0, 0, time.UTC)
	a := webtest.New(t, web.Options{Now: func() time.Time { return now }})
	d := a.DemoDesign("ostrel-light.dst")
	for i := range 9 {
		a.Machine("home-1", fmt.Sprint("Whelk ", i+1))
		a.Send("POST", "/api/v1/orders", map[string]any{"customer": "Ferry", "state": "agreed", "due": "2026-12-24",
			"lines": []map[string]any{{"design": d.ID, "quantity": 40}}}).OK(201)
	}
	a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
	now = now.Add(30 * time.Minute)
	today := webtest.Into[struct{ Needs []struct{ Machine string } }](a.Send("GET", "/api/v1/today", nil).OK(200))
	_, body := a.Page("/today", nil)
	_, body, _ = strings.Cut(body, `id="needs"`)
	body, _, _ = strings.Cut(body, `</section>`)
	seen, folded, _ := strings.Cut(body, "<details")
	names := regexp.MustCompile(`<li data-need.*?<b>([^<]*)</b>`)
	var all []string
	for _, m := range names.FindAllStringSubmatch(seen+folded, -1) {
		all = append(all, m[1])
	}
	if len(today.Needs) < 14 || len(all) != len(today.Needs) || len(names.FindAllString(seen, -1)) != 12 ||
		!strings.Contains(strings.ReplaceAll(folded, "\u00a0", " "), fmt.Sprintf("and %d more", len(all)-12)) {
		t.Errorf("of %d needs the page has %d, %d of them unfolded:\n%s", len(today.Needs), len(all), len(names.FindAllString(seen, -1)), folded)
	}
	for i := range min(len(all), len(today.Needs)) {
		if all[i] != today.Needs[i].Machine {
			t.Errorf("need %d is of %s, the answer has %s", i+1, all[i], today.Needs[i].Machine)
		}
	}
}

// Who is told that something should be taken off a machine that goes down comes to where it is recorded and taken off.
func TestWhatIsAdvisedOffIsTakenOffWhereTodayLeads(t *testing.T) {
	now := time.Date(2026, 11, 30, 8, 0, 0, 0, time.UTC) // a Monday
	a := webtest.New(t, web.Options{Now: func() time.Time { return now }})
	whelk := a.Machine("compact-8", "Whelk")
	a.Machine("compact-8", "Limpet")
	d := a.DemoDesign("ostrel-light.dst")
	a.Send("PUT", "/api/v1/workshop", map[string]any{"toml": "[[shift]]\ndays = [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\"]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 2\n" +
		"[[down]]\nmachine = \"Whelk\"\nfrom = \"2026-11-30 09:00\"\nto = \"2026-12-04 07:00\"\n"}).OK(200)
	a.Send("POST", "/api/v1/orders", map[string]any{"customer": "Ferry", "state": "agreed", "due": "2026-12-01",
		"lines": []map[string]any{{"design": d.ID, "quantity": 30}}}).OK(201)
	a.Send("POST", "/api/v1/orders/1001/start", map[string]any{"line": 1, "machine": whelk}).OK(200)
	a.Finish(a.Send("POST", "/api/v1/plan", map[string]any{}), "")
	_, body := a.Page("/today", nil)
	m := regexp.MustCompile(`<li><a href="([^"]*)">[^<]*taken off`).FindStringSubmatch(body)
	if m == nil {
		t.Fatalf("nothing is advised off:\n%s", body)
	}
	code, page := a.Page(strings.ReplaceAll(m[1], "&amp;", "&"), nil)
	if code != 200 || !strings.Contains(page, `name="off"`) || !regexp.MustCompile(`<option value="`+whelk+`" selected>`).MatchString(page) {
		t.Errorf("%s, %d, is not where it is taken off Whelk:\n%s", m[1], code, page)
	}
	kept := strings.ReplaceAll(m[1], "&amp;", "&") + "&kept=1"
	for _, c := range []struct {
		off  bool
		says string
	}{{false, ""}, {true, "It is off Whelk; 26 pieces left"}} {
		a.Send("POST", "/api/v1/orders/1001/reports", map[string]any{"line": 1, "machine": whelk, "good": 2, "off": c.off}).OK(201)
		_, page = a.Page(kept, nil)
		if page = strings.ReplaceAll(page, "\u00a0", " "); !strings.Contains(page, c.says) || c.says == "" && strings.Contains(page, "It is off") {
			t.Errorf("taken off %t:\n%s", c.off, page)
		}
	}
}
