package act_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/demo"
	"needlepace/shop"
	"needlepace/shop/setups"
	"needlepace/store/sqlite"
	"needlepace/store/storetest"
	"needlepace/words"
)

var bg = context.Background()

// bench is a shop with the demo's machines, workshop and designs, at a time
// that tests may move.
type bench struct {
	*act.Shop
	at      time.Time
	designs map[string]string // file → ID
	m       map[string]string // machine's name → ID
	close   func() error
	orders  shop.OrderStore
}

// template is the demo shop without orders, made once.
var template = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "needlepace")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "shop.db")
	store, err := sqlite.Open(bg, path)
	if err != nil {
		return nil, err
	}
	s := act.New(store, act.Options{})
	for _, name := range []string{"gannet", "skipper", "six-sisters"} {
		toml, err := demo.FS.ReadFile("shop/" + name + ".toml")
		if err != nil {
			return nil, err
		}
		if _, err := s.Machines.Add(bg, string(toml), "", ""); err != nil {
			return nil, err
		}
	}
	for _, d := range demo.Designs() {
		content, err := d.Read()
		if err != nil {
			return nil, err
		}
		if added, err := s.AddFile(bg, d.File, content); err != nil || added[0].Design == nil {
			return nil, fmt.Errorf("%v %v", err, added)
		}
	}
	toml, err := os.ReadFile("../demo/orders/WORKSHOP.toml")
	if err != nil {
		return nil, err
	}
	if _, err := s.Setups.SaveWorkshop(bg, "WORKSHOP.toml", string(toml), setups.AnyVersion); err != nil {
		return nil, err
	}
	if err := store.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func newBench(t testing.TB, dir string) *bench {
	t.Helper()
	db, err := template()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "shop.db")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, db, 0o600); err != nil {
		t.Fatal(err)
	}
	store := storetest.Open(t, path)
	b := &bench{at: time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC), designs: map[string]string{}, m: map[string]string{}, close: store.Close, orders: store}
	b.Shop = act.New(store, act.Options{Now: func() time.Time { return b.at }})
	machines, err := b.Machines.List(bg)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range machines {
		b.m[m.Name] = m.ID
	}
	designs, _, err := b.Designs.List(bg, shop.DesignQuery{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range designs {
		b.designs[d.File] = d.ID
	}
	return b
}

// fresh is a bench of its own that is closed with the test.
func fresh(t testing.TB) *bench {
	t.Helper()
	b := newBench(t, t.TempDir())
	t.Cleanup(func() {
		if err := b.close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

// workshop keeps the demo's workshop with something replaced: old, new, ….
func (b *bench) workshop(t testing.TB, replace ...string) {
	t.Helper()
	toml, err := os.ReadFile("../demo/orders/WORKSHOP.toml")
	if err != nil {
		t.Fatal(err)
	}
	s := string(toml)
	for i := 0; i+1 < len(replace); i += 2 {
		if !strings.Contains(s, replace[i]) {
			t.Fatalf("the workshop has no %q", replace[i])
		}
		s = strings.Replace(s, replace[i], replace[i+1], 1)
	}
	if _, err := b.Setups.SaveWorkshop(bg, "WORKSHOP.toml", s, setups.AnyVersion); err != nil {
		t.Fatal(err)
	}
}

func (b *bench) order(t testing.TB, file string, quantity int, due string, state book.OrderState) *book.Order {
	t.Helper()
	day, err := words.ParseDay(due)
	if err != nil {
		t.Fatal(err)
	}
	o, _, err := b.AddOrder(bg, book.Order{Customer: "Customer of " + file, Due: day, Weight: 1, State: state, Lines: []book.OrderLine{{DesignID: b.designs[file], Quantity: quantity}}}, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func (b *bench) plan(t testing.TB) *ask.PlanAnswer {
	t.Helper()
	a, err := b.MakePlan(bg, ask.PlanQuestion{Seed: 1, Moves: 3_000, NoBound: true}, "Ada")
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestBadOrdersAreRefusedWithTheReason(t *testing.T) {
	b := fresh(t)
	good := func() book.Order {
		return book.Order{Customer: "C", Due: words.NewDay(2026, 3, 20), Weight: 1, Lines: []book.OrderLine{{DesignID: b.designs["gull-cap.dst"], Quantity: 10}}}
	}
	if err := b.Designs.Remove(bg, b.designs["whale-line.dst"]); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what   string
		change func(*book.Order)
		want   string
	}{
		{"due in the past", func(o *book.Order) { o.Due = words.NewDay(2026, 3, 1) }, "due day 1 Mar 2026 has passed: today is 2 Mar 2026"},
		{"no quantity", func(o *book.Order) { o.Lines[0].Quantity = 0 }, "the quantity is 0"},
		{"negative quantity", func(o *book.Order) { o.Lines[0].Quantity = -5 }, "the quantity is -5"},
		{"endless quantity", func(o *book.Order) { o.Lines[0].Quantity = math.MaxInt }, "at most"},
		{"no lines", func(o *book.Order) { o.Lines = nil }, "no design"},
		{"no customer", func(o *book.Order) { o.Customer = " " }, "customer is missing"},
		{"unknown design", func(o *book.Order) { o.Lines[0].DesignID = "nope" }, "no design \"nope\""},
		{"removed design", func(o *book.Order) { o.Lines[0].DesignID = b.designs["whale-line.dst"] }, "taken off the list"},
		{"priority not a number", func(o *book.Order) { o.Weight = math.NaN() }, "priority"},
		{"negative priority", func(o *book.Order) { o.Weight = -1 }, "priority"},
		{"goods after the due day", func(o *book.Order) { o.Goods = words.NewDay(2026, 3, 25) }, "after the due day"},
		{"delivered at once", func(o *book.Order) { o.State = book.Delivered }, "a new order is"},
		{"a speed out of range", func(o *book.Order) { o.Lines[0].Speed = 1e9 }, "speed"},
		{"a control character", func(o *book.Order) { o.Customer = "C\x00" }, "control character"},
	} {
		o := good()
		c.change(&o)
		_, _, err := b.AddOrder(bg, o, "")
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", c.what, err, c.want)
		}
	}
	if _, total, err := b.Orders.List(bg, shop.OrderQuery{}); err != nil || total != 0 {
		t.Errorf("refused orders were kept: %d, %v", total, err)
	}
	if _, _, err := b.AddOrder(bg, good(), ""); err != nil {
		t.Error(err)
	}
}

func TestWhatNoMachineCanMakeIsSaidAndKept(t *testing.T) {
	b := fresh(t)
	b.workshop(t, "field = [400, 450]", "field = [100, 100]", "field = [500, 350]", "field = [120, 120]", "cap_frame = true", "cap_frame = false")
	o, notes, err := b.AddOrder(bg, book.Order{Customer: "Pilots", State: book.Agreed, Weight: 1, Lines: []book.OrderLine{
		{DesignID: b.designs["harbour-jacket-back.dst"], Quantity: 5}, {DesignID: b.designs["gull-cap.dst"], Quantity: 3}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if len(notes) != 1 || !strings.Contains(notes[0], "line 1: no machine can make") || !strings.Contains(notes[0], "its field 100.0 × 100.0 mm") {
		t.Errorf("notes %q", notes)
	}
	p := b.plan(t).Plan
	if len(p.Left) != 1 || p.Left[0].Line != 1 || !strings.Contains(p.Left[0].Why, "Gannet: the design is 242.0 × 279.2 mm") {
		t.Errorf("left out: %+v", p.Left)
	}
	if len(p.Ends) != 1 || p.Ends[0].Line != 2 {
		t.Errorf("the other line must be planned: %+v", p.Ends)
	}
	if _, err := b.HoldLine(bg, o.ID, 1, b.m["Gannet"], time.Time{}, ""); err == nil || !strings.Contains(err.Error(), "cannot make it") {
		t.Errorf("held where it cannot be made: %v", err)
	}
	// Too many colours for the needles.
	names := make([]string, 9)
	for i := range names {
		names[i] = fmt.Sprint("colour ", i)
	}
	o2, notes, err := b.AddOrder(bg, book.Order{Customer: "Ferry", State: book.Agreed, Weight: 1, Lines: []book.OrderLine{{DesignID: b.designs["larkess-ferry.dst"], Quantity: 1, Threads: names}}}, "")
	if err != nil || len(notes) != 1 || !strings.Contains(notes[0], "9 thread colours for 8 colour blocks") {
		t.Errorf("%+v, %q, %v", o2, notes, err)
	}
}

func TestAnOrderOutlivesItsDesign(t *testing.T) {
	b := fresh(t)
	b.order(t, "gull-cap.dst", 12, "2026-03-20", book.Agreed)
	if n := len(b.plan(t).Plan.Lots); n != 1 {
		t.Fatalf("%d lots", n)
	}
	if err := b.Designs.Remove(bg, b.designs["gull-cap.dst"]); err != nil {
		t.Fatal(err)
	}
	a := b.plan(t)
	if len(a.Plan.Lots) != 0 || len(a.Plan.Left) != 1 || !strings.Contains(a.Plan.Left[0].Why, "taken off the list of designs") {
		t.Errorf("lots %+v, left %+v", a.Plan.Lots, a.Plan.Left)
	}
	kept, err := b.Orders.Get(bg, "1001")
	if err != nil || kept.Lines[0].Quantity != 12 || kept.State != book.Agreed {
		t.Errorf("the order: %+v, %v", kept, err)
	}
	notes, err := b.OrderNotes(bg, kept)
	if err != nil || len(notes) != 1 || !strings.Contains(notes[0].Text(nil), "the order keeps it") {
		t.Errorf("notes %q, %v", notes, err)
	}
	kept.Note = "still ours to change"
	if _, _, err := b.ChangeOrder(bg, *kept, ""); err != nil {
		t.Errorf("an order with a removed design cannot be changed: %v", err)
	}
	if err := b.Designs.Restore(bg, b.designs["gull-cap.dst"]); err != nil {
		t.Fatal(err)
	}
	if n := len(b.plan(t).Plan.Lots); n != 1 {
		t.Errorf("%d lots after the design came back", n)
	}
}

func TestStatesFollowEachOther(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 4, "2026-03-20", book.Requested)
	if _, err := b.Orders.Move(bg, o.ID, 0, book.Delivered, "", ""); err == nil || !strings.Contains(err.Error(), "it can become quoted, agreed and withdrawn") {
		t.Errorf("requested to delivered: %v", err)
	}
	if _, err := b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", ""); err == nil || !strings.Contains(err.Error(), "must be agreed before it is sewn") {
		t.Errorf("started while requested: %v", err)
	}
	if _, err := b.Orders.Move(bg, o.ID, 7, book.Agreed, "", ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("an old version: %v", err)
	}
	step := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	_, err := b.Orders.Move(bg, o.ID, 0, book.Agreed, "on the phone", "Maud")
	step(err)
	if _, err := b.Orders.Move(bg, o.ID, o.Version, book.Withdrawn, "", ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("withdrawn by somebody who saw the order before it was agreed: %v", err)
	}
	_, err = b.Start(bg, o.ID, 1, b.m["Gannet"], 0, "", "Tam")
	step(err)
	other := b.order(t, "whale-line.dst", 4, "", book.Agreed)
	if _, err := b.Start(bg, other.ID, 1, b.m["Gannet"], 0, "", ""); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("two lines on one machine: %v", err)
	}
	r, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 3, Spoilt: 1, Breaks: 0, RunTimed: 300}, act.Recording{}, "Tam")
	step(err)
	if r.Order.State != book.Sewing || r.Order.Left() != 1 || len(r.Order.Lines[0].Holds) != 1 {
		t.Errorf("after three of four: %+v", r.Order)
	}
	if _, err := b.Orders.Move(bg, o.ID, 0, book.Sewn, "", ""); err != nil {
		t.Errorf("sewn by hand: %v", err)
	}
	if _, err := b.Orders.Move(bg, o.ID, 0, book.Delivered, "", ""); err == nil || !strings.Contains(err.Error(), "1 piece still to sew") {
		t.Errorf("delivered with a piece missing: %v", err)
	}
	r, err = b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: b.m["Gannet"], Good: 1, Breaks: -1}, act.Recording{}, "Tam")
	step(err)
	if r.Order.State != book.Sewn || len(r.Order.Lines[0].Holds) != 0 {
		t.Errorf("after the last: %+v", r.Order)
	}
	_, err = b.Orders.Move(bg, o.ID, 0, book.Delivered, "", "Maud")
	step(err)
	h, err := b.Orders.History(bg, o.ID)
	step(err)
	if len(h) != 7 || !strings.Contains(h[1].What, "on the phone") || h[1].By != "Maud" || !strings.Contains(h[3].What, "3 good, 1 spoilt on Gannet") {
		t.Errorf("history %+v", h)
	}
	if rs, err := b.Timings.Runs(bg, b.m["Gannet"]); err != nil || len(rs) != 1 || rs[0].Seconds != 300 || rs[0].DesignID != b.designs["gull-cap.dst"] {
		t.Errorf("the timed run for learn: %+v, %v", rs, err)
	}
	if _, _, err := b.ChangeOrder(bg, *r.Order, ""); err == nil {
		t.Error("a delivered order was changed")
	}
}

// Whatever people do, nothing is lost: the history has every change, made
// pieces are those reported, the plan has every piece that is left exactly once
// and no machine twice at a time.
func TestNothingIsLost(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		n++
		b := newBench(t, filepath.Join(dir, fmt.Sprint(n)))
		defer b.close() //nolint:errcheck // the next one has a folder of its own
		files := []string{"gull-cap.dst", "whale-line.dst", "chowder-patch.dst", "ostrel-light.dst"}
		machines := []string{"Gannet", "Skipper", "Six Sisters"}
		var ids []string
		for range rapid.IntRange(2, 14).Draw(r, "steps") {
			what := rapid.SampledFrom([]string{"add", "add", "state", "quantity", "start", "record", "undo", "correct", "deliver", "hold", "release", "plan", "later"}).Draw(r, "what")
			if len(ids) == 0 {
				what = "add"
			}
			if what == "add" {
				// From the day it is by now: a day that has passed is refused.
				due := ""
				if in := rapid.SampledFrom([]int{0, 1, 16}).Draw(r, "due in"); in > 0 {
					due = b.at.AddDate(0, 0, in).Format(time.DateOnly)
				}
				o := b.order(t, rapid.SampledFrom(files).Draw(r, "file"), rapid.IntRange(1, 200).Draw(r, "q"), due, book.Agreed)
				ids = append(ids, o.ID)
				continue
			}
			id := rapid.SampledFrom(ids).Draw(r, "order")
			m := b.m[rapid.SampledFrom(machines).Draw(r, "machine")]
			o, err := b.Orders.Get(bg, id)
			if err != nil {
				r.Fatal(err)
			}
			switch what {
			case "state":
				_, _ = b.Orders.Move(bg, id, 0, rapid.SampledFrom(book.OrderStates).Draw(r, "to"), "", "")
			case "quantity":
				o.Lines[0].Quantity = rapid.IntRange(-1, 300).Draw(r, "q")
				_, _, _ = b.ChangeOrder(bg, *o, "")
			case "start":
				_, _ = b.Start(bg, id, 1, m, rapid.IntRange(0, 20).Draw(r, "q"), "", "")
			case "record":
				_, _ = b.Record(bg, book.Report{OrderID: id, Line: 1, MachineID: m, Good: rapid.IntRange(0, 120).Draw(r, "good"), Spoilt: rapid.IntRange(0, 3).Draw(r, "spoilt"),
					Breaks: rapid.IntRange(-1, 5).Draw(r, "breaks"), Seconds: rapid.Float64Range(0, 40000).Draw(r, "s")}, act.Recording{Off: rapid.Bool().Draw(r, "off"), Over: rapid.Bool().Draw(r, "over")}, "")
			case "undo":
				_, _ = b.TakeBack(bg, id, fmt.Sprint(rapid.IntRange(1, 4).Draw(r, "report")), 0, "", "")
			case "correct":
				_, _ = b.Correct(bg, id, fmt.Sprint(rapid.IntRange(1, 4).Draw(r, "report")), book.Report{MachineID: m,
					Good: rapid.IntRange(0, 120).Draw(r, "good"), Spoilt: rapid.IntRange(0, 3).Draw(r, "spoilt"), Breaks: -1},
					act.Recording{Over: rapid.Bool().Draw(r, "over")}, "")
			case "deliver":
				_, _, _ = b.Deliver(bg, book.HandOver{OrderID: id, Line: 1, Pieces: rapid.IntRange(0, 60).Draw(r, "q")}, 0, "")
			case "hold":
				_, _ = b.HoldLine(bg, id, 1, m, b.at.Add(time.Duration(rapid.IntRange(0, 50).Draw(r, "h"))*time.Hour), "")
			case "release":
				_, _ = b.Orders.Release(bg, id, 1, "")
			case "plan":
				b.plan(t)
			case "later":
				b.at = b.at.Add(time.Duration(rapid.IntRange(1, 30).Draw(r, "h")) * time.Hour)
			}
		}
		p := b.plan(t).Plan
		planned := map[string]int{}
		last := map[string]time.Time{}
		for _, l := range p.Lots {
			planned[l.OrderID] += l.Quantity
			if l.SetupFrom.Before(last[l.MachineID]) {
				r.Fatalf("%s has two lots at %v", l.Machine, l.SetupFrom)
			}
			if l.From.Before(l.SetupFrom) || l.To.Before(l.From) {
				r.Fatalf("times of %+v", l)
			}
			last[l.MachineID] = l.To
		}
		for _, id := range ids {
			o, err := b.Orders.Get(bg, id)
			if err != nil {
				r.Fatal(err)
			}
			h, err := b.Orders.History(bg, id)
			if err != nil || len(h) != o.Version {
				r.Fatalf("order %d at version %d has %d entries, %v", o.Number, o.Version, len(h), err)
			}
			reports, err := b.Orders.Reports(bg, id)
			if err != nil {
				r.Fatal(err)
			}
			good, spoilt := 0, 0
			for _, x := range book.Standing(reports) {
				good, spoilt = good+x.Good, spoilt+x.Spoilt
			}
			if good != o.Lines[0].Good || spoilt != o.Lines[0].Spoilt {
				r.Fatalf("order %d has %d + %d pieces, reported were %d + %d", o.Number, o.Lines[0].Good, o.Lines[0].Spoilt, good, spoilt)
			}
			if l := o.Lines[0]; l.Delivered > l.Good {
				r.Fatalf("order %d: more delivered than sewn: %+v", o.Number, l)
			}
			want := 0
			if o.State.Planned() {
				want = o.Left()
			}
			if planned[id] != want {
				r.Fatalf("order %d (%s) has %d pieces left and %d planned; left out %+v", o.Number, o.State, want, planned[id], p.Left)
			}
		}
	})
}

func TestTheRunSheetsTimeIsTheClocks(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "larkess-ferry.dst", 50, "", book.Agreed)
	r, err := b.MakeRunSheet(bg, o.ID, 1, b.m["Six Sisters"], 0)
	if err != nil {
		t.Fatal(err)
	}
	m, err := b.Machines.Get(bg, b.m["Six Sisters"])
	if err != nil {
		t.Fatal(err)
	}
	d, err := b.Designs.Stitches(bg, o.Lines[0].DesignID)
	if err != nil {
		t.Fatal(err)
	}
	job := clock.Job{Speed: float64(r.Speed)}
	for _, k := range r.Blocks {
		job.Needles = append(job.Needles, k.Needle-1)
	}
	want := clock.Run(d, m.Sheet, job)
	if math.Abs(r.RunSeconds-want.Seconds) > 1e-9 || r.Low > r.RunSeconds || r.High < r.RunSeconds {
		t.Errorf("run sheet %v (%v to %v), clock %v", r.RunSeconds, r.Low, r.High, want.Seconds)
	}
	if r.Runs != 9 || r.LastRun != 2 || r.Heads != 6 {
		t.Errorf("50 pieces on 6 heads: %d runs, the last on %d", r.Runs, r.LastRun)
	}
	sum := 0.0
	for i, k := range r.Blocks {
		if math.Abs(k.Starts-sum) > 1e-6 {
			t.Errorf("block %d begins at %v, those before it take %v", i+1, k.Starts, sum)
		}
		sum += k.Seconds
	}
	if math.Abs(sum-r.RunSeconds) > 1e-6 {
		t.Errorf("blocks add up to %v, the run to %v", sum, r.RunSeconds)
	}
	// A thread that comes again stays on its needle, and no needle has two.
	o.Lines[0].Threads = []string{"navy", "white", "Navy", "red", "red", "foam", "white", "navy"}
	if _, _, err := b.ChangeOrder(bg, *o, ""); err != nil {
		t.Fatal(err)
	}
	if r, err = b.MakeRunSheet(bg, o.ID, 1, b.m["Six Sisters"], 0); err != nil {
		t.Fatal(err)
	}
	var needles []int
	for _, k := range r.Blocks {
		needles = append(needles, k.Needle)
	}
	if fmt.Sprint(needles) != "[1 2 1 3 3 4 2 1]" || len(r.Colours) != 4 {
		t.Errorf("needles %v, %d colours", needles, len(r.Colours))
	}
}
