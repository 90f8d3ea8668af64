package pages

import (
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/words"
)

// designChoice is how one of the shop's designs is chosen: from a list where they are few; else by
// its name, typed, with what the shop has of it offered.
type designChoice struct {
	None bool     // there is none to choose
	Few  []option // nil: they are many
	name func(id string) string
	hint string
}

// fewDesigns are as many as one finds one's own among in a list.
const fewDesigns = 200

// designChoice is that of all designs on the list.
func (c *call) designChoice() (*designChoice, error) {
	if c.choice != nil {
		return c.choice, nil
	}
	q := shop.DesignQuery{Sort: "name", Limit: 1}
	_, n, err := c.Shop.Designs.List(c.Ctx, q)
	d := &designChoice{None: n == 0}
	if err != nil {
		return d, err
	}
	if n > fewDesigns {
		d.name, d.hint = c.designName, words.Say("timing.type-design").Text(c.writer())
		return d, nil
	}
	q.Limit = fewDesigns
	all, _, err := c.Shop.Designs.List(c.Ctx, q)
	if err != nil {
		return d, err
	}
	d.Few = []option{}
	names, ids := make([]string, len(all)), make([]string, len(all))
	for i, x := range all {
		names[i], ids[i] = x.Name, x.ID
	}
	for i, name := range ask.NamesApart(names, ids) {
		d.Few = append(d.Few, option{ids[i], name})
	}
	return d, nil
}

// designName is how a design is named that a field is filled in with: by its file or its name,
// where that is enough to find it.
func (c *call) designName(id string) string {
	d, err := c.Shop.Designs.Get(c.Ctx, id)
	if err != nil {
		return id
	}
	for _, name := range []string{d.File, d.Name} {
		if one, err := c.Shop.Designs.Find(c.Ctx, name); err == nil && one.ID == id {
			return name
		}
	}
	return id
}

// with offers a design that is not on the list, too.
func (d *designChoice) with(x *shop.Design) {
	for _, o := range d.Few {
		if o.Value == x.ID {
			return
		}
	}
	if d.Few != nil {
		d.Few = append(d.Few, option{x.ID, x.Name})
	}
}

// Design is a field, for templates, in which one is chosen; first, where it is not empty, says
// what choosing none means.
func (f *form) Design(name, label, value string, d *designChoice, first ...string) field {
	if d.Few == nil {
		if value != "" {
			value = d.name(value)
		}
		x := f.show(name, label, value)
		x.Kind, x.Hint = "design", d.hint
		return x
	}
	var all []option
	for _, none := range first {
		all = append(all, option{"", none})
	}
	return f.show(name, label, value, append(all, d.Few...)...)
}

// add is the field by which a form gets one more.
func (d *designChoice) add(name, label string) *field {
	if d.Few != nil {
		return adds(name, label, d.Few)
	}
	return &field{Name: name, Label: label, Kind: "design", Hint: d.hint, Once: true}
}

// designOf puts in place of what a form says of a design which one is meant: by its ID, its file or its name.
// What cannot be told is refused at the field.
func (c *call) designOf(f *form, name string, said *string) error {
	if *said == "" {
		return nil
	}
	d, err := c.Shop.Designs.Find(c.Ctx, *said)
	switch code := shop.CodeOf(err); {
	case err == nil:
		*said = d.ID
	case code == shop.NotFound || code == shop.Invalid:
		f.refuse(name, shop.ErrorOf(err).In(f.w))
	default:
		return err
	}
	return nil
}
