package pages

import (
	"cmp"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"needlepace/book"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/words"
)

// orderFields is the form of an order.
type orderFields struct {
	Version  *count           `toml:"version" merge:"no"`
	Was      string           `toml:"was" merge:"no"` // the form as it was made (wasForm)
	Customer string           `toml:"customer"`
	Address  string           `toml:"customer_address"` // in lines
	Their    string           `toml:"purchase_order"`
	Due      words.Day        `toml:"due"`
	Latest   words.Day        `toml:"latest"`
	Goods    words.Day        `toml:"goods"`
	Promised words.Day        `toml:"promised"`
	Weight   *amount          `toml:"weight"`
	Note     string           `toml:"note"`
	Agreed   bool             `toml:"agreed" merge:"no"` // a new order is agreed already
	Together bool             `toml:"together"`
	Line     []orderLineField `toml:"line"`
}

// orderLineField is one line in the form.
type orderLineField struct {
	Line      *count `toml:"line" merge:"no"` // its number, once it is kept
	Design    string `toml:"design"`
	Quantity  *count `toml:"quantity"`
	Placement string `toml:"placement"`
	Garment   string `toml:"garment"`
	Threads   string `toml:"threads"`    // a comma between
	Sizes     string `toml:"sizes"`      // a table, typed or pasted
	Garments  string `toml:"deliveries"` // when they come
	OnColours string `toml:"garment_threads"`
	// pieces one by one
	Names       string  `toml:"names"` // a list, typed or pasted
	NamesAlone  bool    `toml:"names_alone"`
	NameThreads string  `toml:"name_threads"` // a comma between
	Speed       *amount `toml:"speed"`
	// the customer's word on the sample
	ApprovalDue words.Day `toml:"approval_due"`
	SampleSent  words.Day `toml:"sample_sent"`
	Approved    words.Day `toml:"approved"`
	// another workshop that makes it
	Partner      string        `toml:"partner"`
	PartnerDays  *count        `toml:"partner_days"`
	PartnerPrice *money.Amount `toml:"partner_price"`
	PartnerSent  words.Day     `toml:"partner_sent"`
	PartnerBack  words.Day     `toml:"partner_back"`
	Machines     *count        `toml:"machines"`
	Cap          bool          `toml:"cap"`
	Metallic     bool          `toml:"metallic"`
	Digitize     bool          `toml:"digitize"`
	Drop         bool          `toml:"drop" merge:"no"`
}

// orderFieldsOf fills the form with an order.
func (c *call) orderFieldsOf(o *book.Order) orderFields {
	version, weight := count(o.Version), amount(o.Weight)
	in := orderFields{Version: &version, Customer: o.Customer,
		Address: strings.Join(o.CustomerAddress, "\n"), Their: o.PurchaseOrder, Due: o.Due, Latest: o.Latest, Goods: o.Goods, Promised: o.Promised,
		Weight: &weight, Note: o.Note, Together: o.Together}
	for i := range o.Lines {
		l := &o.Lines[i]
		in.Line = append(in.Line, orderLineField{Line: some(count(l.Line)), Design: l.DesignID,
			Quantity:  some(count(l.Quantity)),
			Placement: l.Placement, Garment: l.Garment, Threads: strings.Join(l.Threads,
				", "), Speed: some(amount(l.Speed)),
			Machines: some(count(l.MostMachines)), Cap: l.CapFrame, Metallic: l.Metallic, Digitize: l.Digitize,
			Sizes: book.SizesText(l.Sizes), OnColours: book.ThreadsText(l.GarmentThreads),
			Garments: book.DeliveriesText(l.Deliveries),
			Names:    c.Shop.NamesText(c.Ctx, l), NamesAlone: l.NamesAlone, NameThreads: strings.Join(l.NameThreads, ", "),
			ApprovalDue: l.Approval.Due, SampleSent: l.Approval.Sent, Approved: l.Approval.Given,
			Partner: l.Partner.Name, PartnerDays: some(count(l.Partner.Days)), PartnerPrice: someAmount(l.Partner.Price),
			PartnerSent: l.Partner.Sent, PartnerBack: l.Partner.Back})
		if !c.May(shop.SeeMoney) {
			in.Line[i].PartnerPrice = nil
		}
	}
	in.Was = wasForm(in)
	return in
}

// some is nil for 0.
func some[T amount | count](v T) *T {
	if v == 0 {
		return nil
	}
	return &v
}

// someAmount is nil for 0.
func someAmount(a money.Amount) *money.Amount {
	if a.IsZero() {
		return nil
	}
	return &a
}

// or is what a field says, or else where it is empty.
func or[T any](v *T, empty T) T {
	if v == nil {
		return empty
	}
	return *v
}

// over puts the form over an order; empty lines, and those to be taken out, are
// left out. rows are the places in the form of the order's lines.
func (in *orderFields) over(c *call, was *book.Order, f *form) (o book.Order, rows []int, err error) {
	o = *was
	o.Customer, o.Note, o.Due, o.Latest, o.Goods = in.Customer, in.Note, in.Due, in.Latest, in.Goods
	o.CustomerAddress, o.PurchaseOrder = strings.Split(in.Address, "\n"), in.Their
	o.Together = in.Together
	o.Weight, o.Version = float64(or(in.Weight, 1)), int(or(in.Version, count(was.Version)))
	o.Lines = nil
	for i, x := range in.Line {
		if x.Drop || x == (orderLineField{}) {
			continue
		}
		at := fmt.Sprintf("line[%d].", i)
		if err := c.designOf(f, at+"design", &x.Design); err != nil {
			return o, nil, err
		}
		if x.Design == "" && (!x.NamesAlone || strings.TrimSpace(x.Names) == "") {
			f.refuse(at+"design", words.Say("order-form.choose-design").Text(f.w))
		}
		var l book.OrderLine
		if k := was.Line(int(or(x.Line, 0))); k != nil {
			l = *k
		}
		names, bad, err := book.ParseNames(x.Names, c.Shop.NameFinder(c.Ctx, l.Names))
		if err == nil {
			err = book.BadNames(bad)
		}
		if err != nil {
			f.refuse(at+"names", err.Error())
		}
		sizes, err := book.ParseSizes(x.Sizes)
		if err != nil {
			f.refuse(at+"sizes", err.Error())
		}
		deliveries, err := book.ParseDeliveries(x.Garments)
		if err != nil {
			f.refuse(at+"deliveries", err.Error())
		}
		onColours, err := book.ParseThreadsOn(x.OnColours)
		if err != nil {
			f.refuse(at+"garment_threads", err.Error())
		}
		if x.Quantity == nil {
			x.Quantity = some(count(cmp.Or(len(names), book.InSizes(sizes))))
		}
		if x.Quantity == nil {
			f.refuse(at+"quantity", words.Say("order-form.give-pieces").Text(f.w))
			continue
		}
		l.Line, l.DesignID, l.Quantity = int(or(x.Line, 0)), x.Design, int(*x.Quantity)
		l.Placement, l.Garment, l.MostMachines, l.Speed = x.Placement, x.Garment, int(or(x.Machines,
			0)), float64(or(x.Speed, 0))
		l.CapFrame, l.Metallic, l.Digitize = x.Cap, x.Metallic, x.Digitize
		l.Sizes, l.GarmentThreads, l.Deliveries = sizes, onColours, deliveries
		l.Approval = book.Approval{Due: x.ApprovalDue, Sent: x.SampleSent, Given: x.Approved}
		price := or(x.PartnerPrice, money.Amount{})
		if !c.May(shop.SeeMoney) { // who may not see it leaves it as it is
			price = l.Partner.Price
		}
		l.Partner = book.Partner{Name: x.Partner, Days: int(or(x.PartnerDays, 0)), Price: price, Sent: x.PartnerSent,
			Back: x.PartnerBack}
		l.LineNames = book.LineNames{Names: names, NamesAlone: x.NamesAlone, NameThreads: listed(x.NameThreads)}
		l.Threads = listed(x.Threads)
		o.Lines, rows = append(o.Lines, l), append(rows, i)
	}
	return o, rows, nil
}

// listed are threads with commas between.
func listed(s string) (out []string) {
	for t := range strings.SplitSeq(s, ",") {
		if t = strings.TrimSpace(t); t != "" {
			out = append(out, t)
		}
	}
	return out
}

var lineKey = regexp.MustCompile(`^line\[([0-9]+)\]`)

// inRow says of an error about the n-th line of an order which line of the form
// that is.
func inRow(rows []int, err error) error {
	if e := shop.ErrorOf(err); e != nil {
		return shop.At(lineKey.ReplaceAllStringFunc(e.Key, func(s string) string {
			n, _ := strconv.Atoi(s[len("line[") : len(s)-1])
			return fmt.Sprintf("line[%d]", rows[n-1]+1)
		}), err)
	}
	return err
}

// orderForm is the page with the form of an order.
type orderForm struct {
	O       *book.Order // as it is kept; ID empty: a new one
	In      orderFields
	Designs *designChoice
	Today   string
	W       *words.Writer
	name    func(id string) string // of a design
}

// Kept is the line of the order that a line of the form is about; an empty one
// for a new one.
func (d *orderForm) Kept(l orderLineField) *book.OrderLine {
	if k := d.O.Line(int(or(l.Line, 0))); k != nil {
		return k
	}
	return &book.OrderLine{}
}

// Design is the field of the design that a line has: what is sewn stays.
func (d *orderForm) Design(f *form, name string, in *orderLineField) field {
	k := d.Kept(*in)
	if k.Good+k.Spoilt == 0 {
		return f.Design(name, words.Say("order-form.design").Text(d.W), in.Design, d.Designs, words.Say("order-form.none").Text(d.W))
	}
	return f.Choice(name, words.Say("order-form.design").Text(d.W), k.DesignID, []option{{k.DesignID, d.name(k.DesignID)}})
}

// orderPage shows the form of an order.
func (c *call) orderPage(o *book.Order, in orderFields, f *form) error {
	d, _, err := c.When()
	if err != nil {
		return err
	}
	if n := len(in.Line); n == 0 || in.Line[n-1] != (orderLineField{}) {
		in.Line = append(in.Line, orderLineField{}) // an empty one; the page adds more
	}
	data := &orderForm{O: o, In: in, Today: d.Today().String(), W: d.W, name: c.designName}
	if data.Designs, err = c.designChoice(); err != nil {
		return err
	}
	for _, l := range in.Line { // off the list
		if des, err := c.Shop.Designs.Get(c.Ctx, l.Design); err == nil {
			data.Designs.with(des)
		}
	}
	title := words.Say("order-form.new")
	if o.ID != "" {
		title = words.Say("order-form.change", words.Args{"number": words.Name(strconv.Itoa(o.Number))})
	}
	return c.show("order_form.html", &page{Title: title.Text(d.W), Nav: "orders", Data: data, Form: f})
}

func newOrder(c *call) error {
	o := &book.Order{Weight: 1, Lines: []book.OrderLine{}}
	in := c.orderFieldsOf(o)
	if id := c.asks("design"); id != "" { // from the design's page
		if _, err := c.Shop.Designs.Get(c.Ctx, id); err != nil {
			return err
		}
		in.Line = append(in.Line, orderLineField{Design: id})
	}
	return c.orderPage(o, in, nil)
}

func showOrderForm(c *call) error {
	o, err := c.Order()
	if err != nil {
		return err
	}
	return c.orderPage(o, c.orderFieldsOf(o), nil)
}

// addOrderForm takes a new order in.
func addOrderForm(c *call) error {
	var in orderFields
	none := &book.Order{}
	return c.sent(&in, func(f *form) (string, error) {
		o, rows, err := in.over(c, none, f)
		if err != nil || f.bad() {
			return "", err
		}
		if in.Agreed {
			o.State = book.Agreed
		}
		kept, _, err := c.Shop.AddOrder(c.Ctx, o, c.By())
		if err != nil {
			return "", inRow(rows, err)
		}
		return orderPath(kept) + "?new=1", nil
	}, func(f *form) error { return c.orderPage(none, in, f) })
}

func changeOrderForm(c *call) error {
	was, err := c.Order()
	if err != nil {
		return err
	}
	var in orderFields
	return c.sent(&in, func(f *form) (string, error) {
		back := orderPath(was)
		if now := c.orderFieldsOf(was); or(in.Version, *now.Version) != *now.Version {
			for i := range in.Line {
				if err := c.designOf(f, fmt.Sprintf("line[%d].design", i), &in.Line[i].Design); err != nil {
					return "", err
				}
			}
			agreed := f.meanwhile(in.Was, &now, &in)
			if in.Version, in.Was = now.Version, now.Was; !agreed {
				return "", nil
			}
			if f.merged {
				back += "?kept=both"
			}
		}
		o, rows, err := in.over(c, was, f)
		if err != nil || f.bad() {
			return "", err
		}
		o.Promised = in.Promised
		_, _, err = c.Shop.ChangeOrder(c.Ctx, o, c.By())
		return back, inRow(rows, err)
	}, func(f *form) error { return c.orderPage(was, in, f) })
}

func orderPath(o *book.Order) string { return "/orders/" + strconv.Itoa(o.Number) }
