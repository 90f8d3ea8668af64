package act

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"

	"needlepace/book"
	"needlepace/demo"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/stitchfile"
)

// LoadDemo puts the invented demo shop into an empty shop: its designs, its
// machines, its shift and its mix, its hours, a week of orders and
// what it finished in the last months. What is there already is left alone, so
// that a load that broke off may be repeated; a shop with things of its own is
// a Conflict.
func (s *Shop) LoadDemo(ctx context.Context, progress func(fraction float64, what string)) error {
	if err := s.MayLoadDemo(ctx); err != nil {
		return err
	}
	act := shop.ActOf(ctx)
	ctx = shop.WithAct(ctx, &shop.Act{By: act.By, Right: act.Right, From: act.From, Final: true, Thing: "demo"})
	set, err := s.Settings.Get(ctx)
	if err != nil {
		return err
	}
	set.Demo, set.ShopName = true, demo.Shop+" (invented)"
	if err := s.Settings.Save(ctx, set); err != nil {
		return err
	}
	sheets, err := s.demoMachines(ctx)
	if err != nil {
		return err
	}
	if err := s.demoEvidence(ctx); err != nil {
		return err
	}
	for i, d := range demo.Designs() {
		progress(0.8*float64(i)/float64(len(demo.Designs())), "reading "+d.File)
		if err := s.demoDesign(ctx, d); err != nil {
			return err
		}
	}
	for kind, file := range map[shop.SetupKind]string{shop.FloorSetup: "floor/SHOP.toml",
		shop.MixSetup: "floor/MIX.toml"} {
		progress(0.9, "setting up")
		if err := s.demoSetup(ctx, kind, file, sheets); err != nil {
			return err
		}
	}
	progress(0.95, "taking in the week's orders")
	if err := s.demoOrders(ctx); err != nil {
		return err
	}
	progress(0.97, "taking in the orders that are finished")
	return s.demoDone(ctx)
}

// TakeDemoOut takes the demo shop out again: exactly what it brought, without what
// was changed since or what something of the shop's own is made from.
func (s *Shop) TakeDemoOut(ctx context.Context) (shop.SampleGone, error) {
	set, err := s.Settings.Get(ctx)
	if err != nil {
		return shop.SampleGone{}, err
	}
	if !set.Demo {
		return shop.SampleGone{}, shop.Errorf(shop.Conflict, "the sample is not in this shop, so there is nothing to take out")
	}
	act := shop.ActOf(ctx)
	ctx = shop.WithAct(ctx, &shop.Act{By: act.By, Right: act.Right, From: act.From, Final: true, Thing: "demo", Verb: "gone"})
	gone, err := s.store.TakeSampleOut(ctx)
	if err != nil {
		return gone, err
	}
	set.Demo = false
	if set.ShopName == demo.Shop+" (invented)" {
		set.ShopName = ""
	}
	return gone, s.Settings.Save(ctx, set)
}

// MayLoadDemo says why the demo shop cannot be loaded, nil where it can.
func (s *Shop) MayLoadDemo(ctx context.Context) error {
	set, err := s.Settings.Get(ctx)
	if err != nil || set.Demo {
		return err
	}
	empty, err := s.Empty(ctx)
	if err == nil && !empty {
		err = shop.Errorf(shop.Conflict,
			"the shop has things of its own; the demo shop goes into an empty one only (serve --data another file)")
	}
	return err
}

// Empty reports whether the shop has no designs and no machines yet.
func (s *Shop) Empty(ctx context.Context) (bool, error) {
	_, total, err := s.store.Designs(ctx, shop.DesignQuery{Limit: 1})
	if err != nil || total > 0 {
		return false, err
	}
	machines, _, err := s.store.Machines(ctx)
	return len(machines) == 0, err
}

func (s *Shop) demoDesign(ctx context.Context, d demo.Design) error {
	b, err := d.Read()
	if err != nil {
		return err
	}
	design, err := stitchfile.Decode(b, d.File)
	if err != nil {
		return err
	}
	desc := shop.Description{Name: d.Title, Customer: d.Customer, Note: d.Placement}
	for _, t := range d.Threads {
		desc.Threads = append(desc.Threads, book.Thread{Name: t.Name, Colour: fmt.Sprintf("#%02x%02x%02x", t.R, t.G,
			t.B)})
	}
	_, err = s.Designs.Keep(ctx, stitchfile.File{Name: d.File, Design: design, Content: b}, desc)
	return err
}

// demoEvidence takes in the learned sheets of other invented shops.
func (s *Shop) demoEvidence(ctx context.Context) error {
	files, err := fs.Glob(demo.FS, "shared/*.toml")
	if err != nil {
		return err
	}
	have, err := s.Classes.Evidence(ctx)
	if err != nil || len(have) >= len(files) {
		return err
	}
	for _, file := range files {
		b, err := fs.ReadFile(demo.FS, file)
		if err != nil {
			return err
		}
		if _, err := s.Classes.AddEvidence(ctx, file, string(b)); err != nil && shop.CodeOf(err) != shop.Invalid {
			return err
		}
	}
	return nil
}

// demoMachines adds the demo's machines and gives their names by sheet file.
func (s *Shop) demoMachines(ctx context.Context) (map[string]string, error) {
	have, err := s.Machines.List(ctx)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	files, err := fs.Glob(demo.FS, "shop/*.toml")
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		b, err := fs.ReadFile(demo.FS, file)
		if err != nil {
			return nil, err
		}
		sheet, err := machine.Parse(file, b)
		if err != nil {
			return nil, err
		}
		names[path.Base(file)] = sheet.Name
		there := false
		for _, m := range have {
			there = there || m.Name == sheet.Name
		}
		if there {
			continue
		}
		if _, err := s.Machines.Add(ctx, string(b), "of the demo shop", ""); err != nil {
			return nil, err
		}
	}
	return names, nil
}

// demoSetup adds the demo's shift or mix, its paths to sheets put as machines.
func (s *Shop) demoSetup(ctx context.Context, kind shop.SetupKind, file string, sheets map[string]string) error {
	have, err := s.Setups.List(ctx, kind)
	if err != nil || len(have) > 0 {
		return err
	}
	b, err := fs.ReadFile(demo.FS, file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	text := string(b)
	for f, name := range sheets {
		quoted, err := json.Marshal(name) // a TOML basic string too
		if err != nil {
			return err
		}
		text = strings.ReplaceAll(text, `"../shop/`+f+`"`, string(quoted))
	}
	text = strings.ReplaceAll(text, `"../designs/`, `"`)
	name := map[shop.SetupKind]string{shop.FloorSetup: "A day at the quay", shop.MixSetup: "The quay's week"}[kind]
	_, err = s.Setups.Save(ctx, shop.Setup{Kind: kind, Name: name, TOML: text})
	return err
}
