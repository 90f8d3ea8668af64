package act

import (
	"context"
	"fmt"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
)

// RoughKeeping is whose a price before there is a file is to be.
type RoughKeeping struct {
	ask.RoughQuestion
	Order              string // ID of an order that asks for it too; empty: a new one is made of Customer
	Version            int    // of that order, as it was looked at; 0: whatever it is
	New                book.Order
	Placement, Garment string
}

// KeepRough keeps what is said of a design before there is a file, in an order that asks
// for it. It is not in the plan, and has no quote, before its file has come.
func (s *Shop) KeepRough(ctx context.Context, q RoughKeeping, by string) (*book.Order, error) {
	q.Design = ""
	a, err := ask.Rough(ctx, s.Asked(), q.RoughQuestion)
	if err != nil {
		return nil, err
	}
	today, err := s.today(ctx)
	if err != nil {
		return nil, err
	}
	for _, c := range []struct{ what, text string }{{"placement", q.Placement}, {"garment", q.Garment}} {
		if err := shop.CheckText(c.what, c.text, 200, false); err != nil {
			return nil, shop.At(c.what, err)
		}
	}
	r := book.RoughSaid{Width: a.Width, Height: a.Height, Kind: a.Kind, Cover: a.Cover, Colours: a.Colours, Quantity: a.Quantity,
		CapFrame: q.CapFrame, Placement: q.Placement, Garment: q.Garment, Said: today, Stitches: book.RoughRange(a.Stitches), Currency: a.Currency, Price: a.Price}
	if len(a.On) > 0 {
		r.Machine, r.Run = a.On[0].Name, book.RoughRange(a.On[0].Run)
	}
	if q.Order == "" {
		q.New.Roughs, q.New.Lines, q.New.State = []book.RoughSaid{r}, nil, book.Requested
		return s.Orders.Add(ctx, q.New, by)
	}
	o, err := s.at(ctx, q.Order, q.Version)
	if err != nil {
		return nil, err
	}
	if o.State != book.Requested && o.State != book.Quoted {
		return nil, shop.Invalidf("order %d is %s: what has no file yet is added to one that is %s", o.Number, o.State, book.Requested)
	}
	if len(o.Roughs) == book.MostRoughs {
		return nil, shop.Invalidf("order %d asks for %d designs without a file already; more are not kept", o.Number, book.MostRoughs)
	}
	o.Roughs = append(o.Roughs, r)
	return s.keep(ctx, book.Seen{}, o, by, "asked for before there is a file: "+r.What().Text(nil), shop.Keeping{})
}

// RoughCame puts the design that came in the place of what was said before there was a
// file, the n-th of the order from 1: a line like others, which remembers what was said.
// Without a design what was asked for is taken out.
func (s *Shop) RoughCame(ctx context.Context, order string, version, n int, design, by string) (*book.Order, error) {
	o, err := s.at(ctx, order, version)
	if err != nil {
		return nil, err
	}
	if n < 1 || n > len(o.Roughs) {
		return nil, shop.Errorf(shop.NotFound, "order %d asks for %d designs without a file; there is no number %d", o.Number,
			len(o.Roughs), n)
	}
	r := o.Roughs[n-1]
	o.Roughs = append(append([]book.RoughSaid{}, o.Roughs[:n-1]...), o.Roughs[n:]...)
	if design == "" {
		if len(o.Lines)+len(o.Roughs) == 0 {
			return nil, shop.Invalidf("nothing would be left of order %d: withdraw it", o.Number)
		}
		return s.keep(ctx, book.Seen{}, o, by, "taken out before its file came: "+r.What().Text(nil), shop.Keeping{})
	}
	d, err := s.Designs.Get(ctx, design)
	if err != nil {
		return nil, shop.At("design", err)
	}
	if d.Removed {
		return nil, shop.At("design", shop.Invalidf("the design %q was taken off the list of designs; put it back first", d.Name))
	}
	l := book.OrderLine{DesignID: d.ID, Quantity: r.Quantity, Placement: r.Placement, Garment: r.Garment, Threads: []string{},
		Digitize: true, LineGoods: book.LineGoods{CapFrame: r.CapFrame}, Holds: []book.Hold{}}
	for i := range o.Lines {
		l.Line = max(l.Line, o.Lines[i].Line)
	}
	l.Line++
	l.Foretold = &r
	o.Lines = append(o.Lines, l)
	what := fmt.Sprintf("line %d: the file has come: %s, %s", l.Line, d.Name, r.Came(d.Stitches).Text(nil))
	return s.keep(ctx, book.Seen{}, o, by, what, shop.Keeping{})
}
