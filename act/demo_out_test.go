package act_test

import (
	"slices"
	"strconv"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
)

// demoShop is a shop with the sample in it.
func demoShop(t *testing.T) *act.Shop {
	t.Helper()
	s, _ := newShop(t)
	must(t, s.LoadDemo(bg, func(float64, string) {}))
	return s
}

// held is what a shop has: designs, machines, orders, and whether it has hours.
func held(t *testing.T, s *act.Shop) (designs, machines, orders int, hours bool) {
	t.Helper()
	_, designs, err := s.Designs.List(bg, shop.DesignQuery{Limit: 1})
	must(t, err)
	all, err := s.Machines.List(bg)
	must(t, err)
	_, orders, err = s.Orders.List(bg, shop.OrderQuery{Limit: 1})
	must(t, err)
	_, hours, err = s.Setups.Workshop(bg)
	must(t, err)
	return designs, len(all), orders, hours
}

// The sample goes with one press: all of it, and it can be put in again.
func TestTheSampleGoesAsItCame(t *testing.T) {
	s := demoShop(t)
	_, err := s.MakePlan(bg, ask.PlanQuestion{Now: s.Now(), Seed: 1, NoBound: true, Moves: 10}, "")
	must(t, err)
	d0, m0, o0, h0 := held(t, s)
	gone, err := s.TakeDemoOut(bg)
	must(t, err)
	d, m, o, h := held(t, s)
	if d+m+o > 0 || h || len(gone.Kept) > 0 || !h0 || gone.Things < d0+m0+o0 {
		t.Errorf("%d designs, %d machines, %d orders, hours %v are left; it says %+v", d, m, o, h, gone)
	}
	if p, err := s.Plans.Last(bg); err != nil || p != nil {
		t.Errorf("there is a plan of orders that are gone: %v", err)
	}
	for _, kind := range []shop.SetupKind{shop.FloorSetup, shop.MixSetup} {
		if all, err := s.Setups.List(bg, kind); err != nil || len(all) > 0 {
			t.Errorf("%d of %s are left: %v", len(all), kind, err)
		}
	}
	if set, err := s.Settings.Get(bg); err != nil || set.Demo || set.ShopName != "" {
		t.Errorf("the settings say %+v, %v", set, err)
	}
	if all, err := s.Find(bg, "gull"); err != nil || len(all) > 0 {
		t.Errorf("it is still found: %v, %v", all, err)
	}
	if _, err := s.TakeDemoOut(bg); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("taken out twice: %v", err)
	}
	if testing.Short() {
		return
	}
	must(t, s.LoadDemo(bg, func(float64, string) {}))
	if d, m, o, h := held(t, s); d != d0 || m != m0 || o != o0 || !h {
		t.Errorf("put in again it is %d designs, %d machines, %d orders, hours %v", d, m, o, h)
	}
}

// What a person made or changed stays, and what that is made from.
func TestWhatOneMadeOrChangedStaysWithoutTheSample(t *testing.T) {
	s := demoShop(t)
	gull, err := s.Designs.Find(bg, "gull-cap.dst")
	must(t, err)
	whale, err := s.Designs.Find(bg, "whale-line.dst")
	must(t, err)
	_, err = s.Designs.Describe(bg, whale.ID, shop.Description{Name: "A whale of ours"})
	must(t, err)
	own, err := s.Orders.Add(bg, book.Order{Customer: "Ours", Weight: 1, Lines: []book.OrderLine{{DesignID: gull.ID, Quantity: 3}}}, "")
	must(t, err)
	machines, err := s.Machines.List(bg)
	must(t, err)
	ferry, err := s.Designs.Find(bg, "larkess-ferry.dst")
	must(t, err)
	_, err = s.Timings.AddRuns(bg, machines[0].ID, []shop.Run{{DesignID: ferry.ID, SetSpeed: 700, Seconds: 400, Step: 1}})
	must(t, err)
	set, err := s.Settings.Get(bg)
	must(t, err)
	set.ShopName = "Our own name"
	must(t, s.Settings.Save(bg, set))
	first, _, err := s.Orders.List(bg, shop.OrderQuery{Limit: 1, States: []book.OrderState{book.Agreed}})
	must(t, err)
	noted := *first[0]
	noted.Note = "changed here"
	_, err = s.Orders.Change(bg, noted, "")
	must(t, err)

	gone, err := s.TakeDemoOut(bg)
	must(t, err)
	why := map[string]string{}
	for _, k := range gone.Kept {
		why[k.Kind+" "+k.Name] = k.Why
	}
	for what, want := range map[string]string{
		"design A whale of ours":                 shop.SampleChanged,
		"design " + gull.Name:                    shop.SampleNeeded,
		"design " + ferry.Name:                   shop.SampleNeeded,
		"machine " + machines[0].Name:            shop.SampleNeeded,
		"order " + strconv.Itoa(first[0].Number): shop.SampleChanged,
		"machine " + machines[1].Name:            "",
		"design The house of a heron":            "",
	} {
		if why[what] != want {
			t.Errorf("%s stays for %q, want %q", what, why[what], want)
		}
	}
	if o, err := s.Orders.Get(bg, own.ID); err != nil || o.Lines[0].DesignID != gull.ID {
		t.Errorf("the order of one's own: %v", err)
	}
	if _, err := s.Designs.Get(bg, first[0].Lines[0].DesignID); err != nil {
		t.Errorf("the design of the changed order: %v", err)
	}
	if set, err := s.Settings.Get(bg); err != nil || set.Demo || set.ShopName != "Our own name" {
		t.Errorf("the settings say %+v, %v", set, err)
	}
	if _, m, o, h := held(t, s); m != 1 || o != 2 || h {
		t.Errorf("%d machines, %d orders, hours %v are left", m, o, h)
	}
	all, _, err := s.Designs.List(bg, shop.DesignQuery{Limit: 100})
	must(t, err)
	if !slices.ContainsFunc(all, func(d *shop.Design) bool { return d.Name == "A whale of ours" }) || len(all) > 6 {
		t.Errorf("%d designs are left", len(all))
	}
}
