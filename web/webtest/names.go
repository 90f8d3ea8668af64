package webtest

import "needlepace/shop"

// Names are all data that a page of the shop may show: what people have
// called things, codes, and names of formats and of the program.
func (a *App) Names() []string {
	t := a.T
	t.Helper()
	ctx := t.Context()
	out := []string{"needlepace", "PDF", "CSV", "SVG", "PNG", "A4", "Letter", "test"}
	set, err := a.Shop.Settings.Get(ctx)
	if err != nil {
		t.Fatal(err)
	}
	out = append(out, set.ShopName)
	shopHours, _, err := a.Shop.Setups.Workshop(ctx)
	if err != nil {
		t.Fatal(err)
	}
	out = append(out, shopHours.Address...)
	orders, _, err := a.Shop.Orders.List(ctx, shop.OrderQuery{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range orders {
		out = append(out, o.Customer, o.Note)
		for _, l := range o.Lines {
			out = append(out, l.Garment, l.Placement)
			out = append(out, l.Threads...)
		}
	}
	designs, _, err := a.Shop.Designs.List(ctx, shop.DesignQuery{Limit: 500})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range designs {
		out = append(out, d.Name, d.File, d.Label, d.Customer)
		for _, th := range d.Threads {
			out = append(out, th.Name)
		}
	}
	machines, err := a.Shop.Machines.List(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range machines {
		out = append(out, m.Name)
	}
	return out
}
