package act_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// What is on a machine that goes down before it is done is advised to be taken off where the whole plan is better for it, with
// when it would then be done: so it is done once somebody does. It is said by the plan and by Today, until it is taken off.
func TestWhatStandsOnAMachineThatGoesDownIsAdvisedOff(t *testing.T) {
	for _, c := range []struct {
		what, from, due string
		held            bool // there by hand, and not begun
		busy, told      bool
	}{
		{"down in two hours", "2026-03-02 09:00", "2026-03-03", false, false, true},
		{"down already", "2026-03-02 06:00", "2026-03-03", false, false, true},
		{"down when it is done", "2026-03-04 06:00", "2026-03-03", false, false, false},
		{"down, but in time after that, and the others are late themselves", "2026-03-02 09:00", "2026-03-27", false, true, false},
		{"down in two hours, and nothing of it is there yet", "2026-03-02 09:00", "2026-03-03", true, false, false},
	} {
		b := fresh(t)
		b.workshop(t, "2026-03-04 07:00", c.from, "2026-03-04 11:30", "2026-03-05 07:00")
		o := b.order(t, "ostrel-light.dst", 40, c.due, book.Agreed)
		var err error
		if c.held {
			_, err = b.HoldLine(bg, o.ID, 1, b.m["Skipper"], time.Time{}, "")
		} else {
			_, err = b.Start(bg, o.ID, 1, b.m["Skipper"], 0, "", "")
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range []string{"Gannet", "Six Sisters"} {
			if c.busy {
				x := b.order(t, "larkess-ferry.dst", 2000, "2026-03-03", book.Agreed)
				if _, err := b.HoldLine(bg, x.ID, 1, b.m[m], time.Time{}, ""); err != nil {
					t.Fatal(err)
				}
			}
		}
		note := func() (says words.Message, today bool) {
			t.Helper()
			p := b.plan(t)
			for _, n := range p.Plan.Notes {
				if n.Say.Key == "plan-why.take-off" {
					says = n.Say.Message
				}
			}
			shown := slices.ContainsFunc(p.Watch, func(x ask.AboutOrder) bool { return strings.Contains(x.Say.Raw(), "planned anew") })
			if shown == says.IsZero() {
				t.Errorf("%s: on the plan's page %v, in the plan %q", c.what, shown, says.Raw())
			}
			a, err := ask.Today(bg, b.Asked(), ask.TodayQuestion{Now: b.at})
			if err != nil {
				t.Fatal(err)
			}
			return says, slices.ContainsFunc(a.Watch, func(x ask.TodayAttention) bool { return x.Kind == ask.WatchTakeOff && x.Number == o.Number })
		}
		says, today := note()
		if says.IsZero() == c.told || today != c.told {
			t.Errorf("%s: the plan says %q, Today tells it: %v; want %v", c.what, says.Raw(), today, c.told)
		}
		if !c.told || says.IsZero() {
			continue
		}
		is := b.plan(t).Plan.Ends[0].End
		for _, l := range words.Languages() {
			if said := says.Text(&words.Writer{Language: l}); !strings.Contains(said, "Skipper") || strings.ContainsAny(said, "[{") {
				t.Errorf("%s, in %s: %q", c.what, l.Tag, said)
			}
		}
		if _, err := b.Orders.Release(bg, o.ID, 1, ""); err != nil {
			t.Fatal(err)
		}
		then := b.plan(t).Plan.Ends[0].End
		at := func(day string) words.Value {
			x, err := time.Parse("2006-01-02 15:04", day)
			if err != nil {
				t.Fatal(err)
			}
			return words.Zone{}.Near(x, b.at)
		}
		near := func(x time.Time) words.Value { return words.Zone{}.Near(x, b.at) }
		if want := words.Say("plan-why.take-off", words.Args{"machine": words.Name("Skipper"), "from": at(c.from), "until": at("2026-03-05 07:00"),
			"then": near(then), "is": near(is)}).Raw(); says.Raw() != want {
			t.Errorf("%s: it said %q; want %q", c.what, says.Raw(), want)
		}
		if !then.Before(is) {
			t.Errorf("%s: taken off it is done at %v, not before %v", c.what, then, is)
		}
		if says, today = note(); !says.IsZero() || today {
			t.Errorf("%s: taken off, and yet %q, Today %v", c.what, says.Raw(), today)
		}
	}
}
