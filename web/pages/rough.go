package pages

import (
	"html/template"
	"strconv"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/rough"
	"needlepace/shop"
	"needlepace/words"
)

// roughFields is the form of a price before there is a file.
type roughFields struct {
	Width    *amount `toml:"width"`
	Height   *amount `toml:"height"`
	Kind     string  `toml:"kind"`
	Cover    string  `toml:"cover"`
	Colours  *count  `toml:"colours"`
	Quantity *count  `toml:"quantity"`
	Cap      bool    `toml:"cap"`
	Design   string  `toml:"design"` // that came
}

// roughData is its page.
type roughData struct {
	In            *roughFields
	A             *ask.RoughAnswer // nil: nothing is asked yet
	Due           words.Day        // of a request, empty
	Kinds, Covers []option
	Files         *designChoice
	Book          template.URL // the address of its workbook
	Unpriced      template.URL // where the prices of machines without any are put in; empty: all have them
	Asked         template.URL // the address of the page with what is asked
}

func (c *call) roughPage(in *roughFields, f *form) error {
	w := c.writer()
	data := &roughData{In: in}
	data.Kinds = []option{{string(rough.Badge), words.Say("rough.badge").Text(w)},
		{string(rough.Lettering), words.Say("rough.lettering").Text(w)},
		{string(rough.JacketBack), words.Say("rough.jacket-back").Text(w)}}
	data.Covers = []option{{string(rough.Light), words.Say("rough.light").Text(w)}, {string(rough.Half), words.Say("rough.half").Text(w)},
		{string(rough.Full), words.Say("rough.full").Text(w)}}
	var err error
	if data.Files, err = c.designChoice(); err != nil {
		return err
	}
	if err := c.designOf(f, "design", &in.Design); err != nil {
		return err
	}
	p := &page{Title: words.Say("rough.title").Text(w), Nav: "orders", Data: data, Form: f}
	if in.Width != nil && in.Height != nil && !f.bad() {
		a, err := ask.Rough(c.Ctx, c.Shop.Asked(), in.question())
		if err := f.take(err); err != nil {
			return err
		}
		if a != nil && c.asks("xlsx") != "" {
			return c.workbook("before there is a file", "Rough", a.Table())
		}
		if data.A = a; a != nil {
			q := c.URL.Query()
			data.Asked = template.URL("/orders/rough?" + q.Encode())
			q.Set("xlsx", "1")
			data.Book = template.URL("/orders/rough?" + q.Encode())
			data.Unpriced = putPricesIn(a.Unpriced)
			p.addTables(w, a.Table())
			p.cards("rough")
			in.Colours, in.Quantity = some(count(a.Colours)), some(count(a.Quantity))
		}
	}
	if in.Kind == "" {
		in.Kind = string(rough.Badge)
	}
	if in.Cover == "" {
		in.Cover = string(rough.Half)
	}
	return c.show("rough.html", p)
}

// question is what the form asks.
func (in *roughFields) question() ask.RoughQuestion {
	return ask.RoughQuestion{Width: float64(or(in.Width, 0)), Height: float64(or(in.Height, 0)), Kind: in.Kind, Cover: in.Cover,
		Colours: int(or(in.Colours, 0)), Quantity: int(or(in.Quantity, 0)), CapFrame: in.Cap, Design: in.Design}
}

// keepRoughForm keeps what was said as a request.
func keepRoughForm(c *call) error {
	var in struct {
		roughFields
		Customer  string    `toml:"customer"`
		Due       words.Day `toml:"due"`
		Order     *count    `toml:"order"` // its number; none: a new one
		Placement string    `toml:"placement"`
		Garment   string    `toml:"garment"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	q := act.RoughKeeping{RoughQuestion: in.question(), New: book.Order{Customer: in.Customer, Due: in.Due, Weight: 1},
		Placement: in.Placement, Garment: in.Garment}
	if in.Order != nil {
		o, err := c.Shop.Orders.Get(c.Ctx, strconv.Itoa(int(*in.Order)))
		if err != nil {
			return shop.At("order", err)
		}
		q.Order, q.Version = o.ID, o.Version
	}
	o, err := c.Shop.KeepRough(c.Ctx, q, c.By())
	if err != nil {
		return err
	}
	return c.see(orderPath(o))
}

// roughCameForm puts the file that came in its place, or takes what was asked for out.
func roughCameForm(c *call) error {
	var in struct {
		Version count  `toml:"version"`
		Rough   count  `toml:"rough"` // which of the order's, from 1
		Design  string `toml:"design"`
		Out     bool   `toml:"out"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	switch {
	case in.Out:
		in.Design = ""
	case in.Design == "":
		return shop.At("design", shop.Invalidf("choose the design that came"))
	default:
		d, err := c.Shop.Designs.Find(c.Ctx, in.Design)
		if err != nil {
			return shop.At("design", err)
		}
		in.Design = d.ID
	}
	o, err := c.Order()
	if err != nil {
		return err
	}
	if o, err = c.Shop.RoughCame(c.Ctx, o.ID, int(in.Version), int(in.Rough), in.Design, c.By()); err != nil {
		return err
	}
	return c.see(orderPath(o))
}
