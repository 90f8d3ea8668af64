package act_test

import (
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
)

// The book of the bench: finished orders of the last months are replayed with the
// open ones; a fleet with more is never later, and costs what it costs by hand.
func TestAFleetWithMoreIsNeverLater(t *testing.T) {
	b := fresh(t)
	for i, f := range []string{"ostrel-light.dst", "saltmere-oars.dst", "wheel-badge.dst"} {
		o := b.order(t, f, 60+24*i, "2026-03-04", book.Agreed)
		if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 60 + 24*i, Breaks: -1},
			act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	start := b.at
	b.at = b.at.Add(24 * time.Hour)
	for i, f := range []string{"ostrel-light.dst", "harbour-jacket-back.dst", "larkess-ferry.dst", "saltmere-oars.dst"} {
		b.order(t, f, 300+60*i, "2026-03-06", book.Agreed)
	}
	a, err := ask.Hindsight(bg, b.Asked(), ask.HindsightQuestion{Now: b.at, Add: "Skipper", Operators: 1, Shift: "sat 08:00-12:00 2"})
	if err != nil {
		t.Fatal(err)
	}
	if a.Finished != 3 || a.Open != 4 || len(a.Fleets) != 5 || a.Pieces != 60+84+108+300+360+420+480 {
		t.Fatalf("%d finished, %d open, %d pieces, %d fleets", a.Finished, a.Open, a.Pieces, len(a.Fleets))
	}
	base := &a.Fleets[0]
	if base.Late == 0 || base.Refused == 0 || base.Overtime <= 0 || base.LateMean < .9*float64(base.Late) {
		t.Errorf("too much for the shop, and as it is: %+v", base)
	}
	for i := range a.Fleets[1:] {
		r := &a.Fleets[1+i]
		if r.LateHours > base.LateHours+1e-6 || r.Refused > base.Refused || r.Left > base.Left {
			t.Errorf("%s: %+v, as it is %+v", r.What.Text(nil), r, base)
		}
		if !r.More.IsPositive() {
			t.Errorf("%s costs %s more", r.What.Text(nil), r.More)
		}
	}
	if all := &a.Fleets[4]; all.LateHours >= base.LateHours {
		t.Errorf("all together: %+v, as it is %+v", all, base)
	}
	// An operator more costs 19.50 an hour of the shop's hours; power hardly differs.
	w, _, err := b.Setups.Workshop(bg)
	if err != nil {
		t.Fatal(err)
	}
	hours := 0.0
	for d := a.From; !d.After(a.Until); d = d.Add(1) {
		if w.Works(d) {
			hours += 8
		}
	}
	wages, one := 19.50*hours, a.Fleets[2].More.InexactFloat64()
	if one < wages-20 || one > wages+20 {
		t.Errorf("an operator more costs %v more, by hand %v for %v h", one, wages, hours)
	}
	// What came before is not in it.
	b.at = start.AddDate(0, 1, 2)
	if a, err = ask.Hindsight(bg, b.Asked(), ask.HindsightQuestion{Now: b.at, Months: 1, Operators: 1}); err != nil {
		t.Fatal(err)
	}
	if a.Finished != 0 || a.Open != 4 {
		t.Errorf("a month later %d finished and %d open are replayed", a.Finished, a.Open)
	}
	for _, bad := range []ask.HindsightQuestion{{}, {Now: b.at, Months: 25}, {Now: b.at, Add: "the moon"},
		{Now: b.at, Without: "the moon"}, {Now: b.at, HeadsOf: "Skipper"}, {Now: b.at, Heads: 2}, {Now: b.at, Operators: -9},
		{Now: b.at, NoShift: "03:00"}, {Now: b.at, Shift: "on and on"}, {Now: b.at, Price: 5}} {
		if _, err := ask.Hindsight(bg, b.Asked(), bad); err == nil {
			t.Errorf("%+v is answered", bad)
		}
	}
}

// Where the operators are what lacks, a machine more is left unused, and it says so with what enough of them would do, no worse than two more do; where
// nothing is late, or the operators are enough, it does not.
func TestAMachineThatOnlyLacksOperatorsSaysSo(t *testing.T) {
	const lacks = "Operators are what lacks"
	for _, c := range []struct {
		operators, due string
		want           bool
	}{{"1", "2026-03-04", true}, {"1", "2026-05-04", false}, {"9", "2026-03-04", false}} {
		b := fresh(t)
		b.workshop(t, "operators = 2", "operators = "+c.operators, "hooping = { mean = 35", "hooping = { mean = 90", "load = { mean = 60", "load = { mean = 90")
		for i, f := range []string{"saltmere-oars.dst", "wheel-badge.dst", "ostrel-light.dst"} {
			b.order(t, f, 150+12*i, c.due, book.Agreed)
		}
		a, err := ask.Hindsight(bg, b.Asked(), ask.HindsightQuestion{Now: b.at, Add: "Skipper"})
		if err != nil {
			t.Fatal(err)
		}
		r, said := a.Fleets[1], a.Caveats.Text(nil)
		if strings.Contains(said, lacks) != c.want || c.want && !r.Unused {
			t.Errorf("%s operators, due %s: as it is %.1f h late, with a machine more %.1f h, unused %v: %s", c.operators, c.due, a.Fleets[0].LateHours, r.LateHours, r.Unused, said)
		}
	}
}
