package pages

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// orderForm is the form of an order, new or kept.
type orderForm struct {
	O       *book.Order // ID empty: a new one
	Lines   []formLine  // those of the order, then empty ones
	Designs []option
	Today   string
	Weight  string
}

// formLine is one line in the form: its fields are called line.N.…
type formLine struct {
	N int // in the form
	*book.OrderLine
	Threads string
	Made    int // pieces sewn already
	Fixed   bool
}

const spareLines = 1 // empty lines at the end of the form; the page adds more

// form fills the form with an order.
func (c *call) orderForm(o *book.Order) (*orderForm, error) {
	d, _, err := c.When()
	if err != nil {
		return nil, err
	}
	f := &orderForm{O: o, Today: d.Today().String(), Weight: raw(o.Weight)}
	if f.Designs, err = c.designOptions(); err != nil {
		return nil, err
	}
	listed := map[string]bool{}
	for _, x := range f.Designs {
		listed[x.Value] = true
	}
	for i := range o.Lines {
		l := &o.Lines[i]
		if l.DesignID != "" && !listed[l.DesignID] { // off the list, or beyond the first 500
			listed[l.DesignID] = true
			if des, _, err := c.Shop.Designs.Get(c.Ctx, l.DesignID); err == nil {
				f.Designs = append(f.Designs, option{des.ID, des.Name})
			}
		}
		f.Lines = append(f.Lines, formLine{N: i, OrderLine: l, Threads: strings.Join(l.Threads, ", "), Made: l.Good, Fixed: l.Good+l.Spoilt > 0})
	}
	for range spareLines {
		f.Lines = append(f.Lines, formLine{N: len(f.Lines), OrderLine: &book.OrderLine{}})
	}
	return f, nil
}

func newOrder(c *call) error {
	o := &book.Order{Weight: 1, Lines: []book.OrderLine{}}
	if id := c.URL.Query().Get("design"); id != "" { // from the design's page
		if _, _, err := c.Shop.Designs.Get(c.Ctx, id); err != nil {
			return err
		}
		o.Lines = append(o.Lines, book.OrderLine{DesignID: id})
	}
	f, err := c.orderForm(o)
	if err != nil {
		return err
	}
	return c.show("order_form.html", &page{Title: "New order", Nav: "orders", Data: f})
}

func showOrderForm(c *call) error {
	o, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
	if err != nil {
		return err
	}
	f, err := c.orderForm(o)
	if err != nil {
		return err
	}
	return c.show("order_form.html", &page{Title: fmt.Sprintf("Change order %d", o.Number), Nav: "orders", Data: f})
}

// addOrderForm takes a new order in; what is wrong is told above the form,
// which keeps what was written.
func addOrderForm(c *call) error {
	o, err := c.readOrder(&book.Order{})
	if err == nil {
		if c.PostForm.Get("agreed") == "1" {
			o.State = book.Agreed
		}
		var kept *book.Order
		if kept, _, err = c.Shop.AddOrder(c.Ctx, *o, c.By()); err == nil {
			return c.see(orderPath(kept) + "?new=1")
		}
	}
	return c.formAgain("New order", o, err)
}

func changeOrderForm(c *call) error {
	was, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
	if err != nil {
		return err
	}
	o, err := c.readOrder(was)
	if err == nil {
		r := formNumbers{f: c.PostForm}
		o.Promised = r.day("promised", "the promised day")
		err = r.err
	}
	if err == nil {
		var kept *book.Order
		if kept, _, err = c.Shop.ChangeOrder(c.Ctx, *o, c.By()); err == nil {
			return c.see(orderPath(kept))
		}
	}
	return c.formAgain(fmt.Sprintf("Change order %d", was.Number), o, err)
}

// formAgain shows the form with what is wrong in it.
func (c *call) formAgain(title string, o *book.Order, wrong error) error {
	switch shop.CodeOf(wrong) {
	case shop.Invalid, shop.NotFound, shop.Conflict:
	default:
		return wrong
	}
	f, err := c.orderForm(o)
	if err != nil {
		return err
	}
	return c.show("order_form.html", &page{Title: title, Nav: "orders", Data: f, Told: &told{true, []string{sentence(wrong.Error())}}})
}

func orderPath(o *book.Order) string { return "/orders/" + strconv.Itoa(o.Number) }

// readOrder reads the form's fields over an order. Lines without design and
// quantity are left out; so are those ticked away.
func (c *call) readOrder(was *book.Order) (*book.Order, error) {
	f := c.PostForm
	o := *was
	o.Customer, o.Note = f.Get("customer"), f.Get("note")
	r := formNumbers{f: f}
	o.Due, o.Goods = r.day("due", "the due day"), r.day("goods", "the day the goods come")
	o.Weight = r.number("weight", "priority", 1)
	if v := f.Get("version"); v != "" {
		o.Version = r.whole("version", "the order's version")
	}
	o.Lines = nil
	for n := range 500 {
		at := fmt.Sprintf("line.%d.", n)
		if !f.Has(at + "design") {
			if n >= len(was.Lines)+spareLines {
				break
			}
			continue
		}
		if f.Get(at+"drop") == "1" || f.Get(at+"design") == "" && f.Get(at+"quantity") == "" {
			continue
		}
		var l book.OrderLine
		if no := r.whole(at+"line", "line"); no > 0 {
			if k := was.Line(no); k != nil {
				l = *k
			}
			l.Line = no
		}
		name := fmt.Sprintf("line %d: ", n+1)
		l.DesignID, l.Placement, l.Garment = f.Get(at+"design"), f.Get(at+"placement"), f.Get(at+"garment")
		l.Quantity, l.MostMachines = r.whole(at+"quantity", name+"the quantity"), r.whole(at+"machines", name+"the number of machines")
		l.Speed = r.number(at+"speed", name+"the set speed", 0)
		l.CapFrame, l.Metallic, l.Digitize = f.Get(at+"cap") == "1", f.Get(at+"metallic") == "1", f.Get(at+"digitize") == "1"
		l.Threads = nil
		for t := range strings.SplitSeq(f.Get(at+"threads"), ",") {
			if t = strings.TrimSpace(t); t != "" {
				l.Threads = append(l.Threads, t)
			}
		}
		o.Lines = append(o.Lines, l)
	}
	for _, l := range o.Lines {
		if l.DesignID == "" && r.err == nil {
			r.err = shop.Errorf(shop.Invalid, "a line has a quantity and no design: choose its design")
		}
	}
	return &o, r.err
}

// formNumbers reads numbers of a form and remembers the first thing wrong.
type formNumbers struct {
	f   url.Values
	err error
}

func (r *formNumbers) whole(name, what string) int {
	s := strings.TrimSpace(r.f.Get(name))
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil && r.err == nil {
		r.err = shop.Errorf(shop.Invalid, "%s is %q; give a whole number", what, s)
	}
	return n
}

func (r *formNumbers) day(name, what string) words.Day {
	d, err := words.ParseDay(strings.TrimSpace(r.f.Get(name)))
	if err != nil && r.err == nil {
		r.err = shop.Errorf(shop.Invalid, "%s: %w", what, err)
	}
	return d
}

func (r *formNumbers) number(name, what string, empty float64) float64 {
	s := strings.TrimSpace(strings.ReplaceAll(r.f.Get(name), ",", "."))
	if s == "" {
		return empty
	}
	x, err := strconv.ParseFloat(s, 64)
	if (err != nil || x != x) && r.err == nil {
		r.err = shop.Errorf(shop.Invalid, "%s is %q; give a number", what, s)
		return empty
	}
	return x
}
