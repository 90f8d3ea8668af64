package sqlite

import (
	"testing"
	"time"

	"needlepace/book"
	"needlepace/shop"
)

// What was read before is as it was while its count stands: every change of a kind counts,
// and no other.
func revision(t *testing.T, s shop.Store) {
	design, setup := exampleDesign(1), &shop.Setup{ID: "s1", Kind: shop.FloorSetup, Name: "Late", TOML: "x = 1",
		Version: 1, Changed: when}
	o := exampleOrder(1, design.ID)
	visit := &shop.Visit{ID: "v1", Name: "Saltmere", Version: 1, Made: when, Changed: when}
	report := book.Report{ID: "r", OrderID: o.ID, Line: 1, MachineID: "m", DesignID: design.ID,
		Number: 1, Good: 2, Breaks: -1, Added: when}
	before, err := s.Revision(bg)
	must(t, err)
	type count func(shop.Revision) int64
	designs := count(func(r shop.Revision) int64 { return r.Designs })
	added := count(func(r shop.Revision) int64 { return r.Added })
	machines := count(func(r shop.Revision) int64 { return r.Machines })
	orders := count(func(r shop.Revision) int64 { return r.Orders })
	reports := count(func(r shop.Revision) int64 { return r.Reports })
	plans := count(func(r shop.Revision) int64 { return r.Plans })
	setups := count(func(r shop.Revision) int64 { return r.Setups })
	kinds := map[string]count{"designs": designs, "added": added, "machines": machines, "orders": orders, "reports": reports,
		"plans": plans, "setups": setups, "rest": func(r shop.Revision) int64 { return r.Rest }, "visits": func(r shop.Revision) int64 { return r.Visits }}
	for _, c := range []struct {
		what   string
		change func() error
		kinds  []string
	}{
		{"a design", func() error {
			_, err := s.AddDesign(bg, design, []byte("x"), thumbs)
			return err
		}, []string{"added"}},
		{"its name", func() error { return s.DescribeDesign(bg, design.ID, shop.Description{Name: "Gull"}, nil) },
			[]string{"designs"}},
		{"a design off the list", func() error { return s.RemoveDesign(bg, design.ID, true) }, []string{"designs"}},
		{"a machine", func() error { addMachine(t, s, "m", "Bay 1"); return nil }, []string{"machines"}},
		{"its sheet", func() error {
			return s.AddVersion(bg, shop.SheetVersion{MachineID: "m", Version: 2, Made: when, Digest: "d", TOML: "x"}, "Bay 1")
		}, []string{"machines"}},
		{"a machine off the list", func() error { return s.RemoveMachine(bg, "m", true) }, []string{"machines"}},
		{"an order", func() error {
			return s.AddOrder(bg, o, book.Change{OrderID: o.ID, Version: 1, At: when, What: "new"})
		}, []string{"orders", "rest"}},
		{"its note", func() error {
			o.Version, o.Note, o.Changed = 2, "rush", when.Add(time.Minute)
			return s.ChangeOrder(bg, o, book.Change{OrderID: o.ID, Version: 2, At: o.Changed})
		}, []string{"orders", "rest"}},
		{"a report", func() error { return s.Keep(bg, book.Seen{}, shop.Keeping{Report: &report}) }, []string{"reports"}},
		{"a plan", func() error {
			return s.Keep(bg, book.Seen{}, shop.Keeping{Plan: &shop.KeptPlan{Version: 1, Made: when, Doc: "{}"}})
		}, []string{"plans"}},
		{"a setup", func() error { return s.SaveSetup(bg, setup) }, []string{"setups"}},
		{"its name", func() error { setup.Version, setup.Name = 2, "Early"; return s.SaveSetup(bg, setup) },
			[]string{"setups"}},
		{"a setting", func() error { return s.SetSetting(bg, "shop", []byte("{}")) }, []string{"rest"}},
		{"a kept list", func() error {
			return s.SaveList(bg, &shop.List{ID: "l", Of: shop.ListOfDesigns, Name: "Small", Query: "sort=-size"})
		}, []string{"rest"}},
		{"a visit", func() error { return s.SaveVisit(bg, visit, nil) }, []string{"visits"}},
		{"its file", func() error {
			return s.KeepVisitFiles(bg, visit.ID, []shop.VisitPut{{VisitFile: shop.VisitFile{Name: "notes/a.txt", Digest: "d1", Bytes: 1, Added: when}, Content: []byte("x")}}, nil)
		}, []string{"visits"}},
		{"its open call", func() error {
			return s.SaveCallPage(bg, &shop.CallPage{Visit: visit.ID, Name: "c1", Code: "abcdefgh", Most: 3, Open: true})
		}, []string{"visits"}},
		{"a setup gone", func() error { return s.DeleteSetup(bg, "s1") }, []string{"setups"}},
	} {
		must(t, c.change())
		after, err := s.Revision(bg)
		must(t, err)
		want := map[string]bool{}
		for _, k := range c.kinds {
			want[k] = true
		}
		for name, of := range kinds {
			if grew := of(after) > of(before); grew != want[name] || of(after) < of(before) {
				t.Errorf("%s: the count of %s went from %d to %d", c.what, name, of(before), of(after))
			}
		}
		before = after
	}
}
