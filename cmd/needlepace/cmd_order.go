package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
	_ "time/tzdata" // the shop's time zone, also where the system has no tables

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	grid "needlepace/internal/cells"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/store"
	"needlepace/words"
)

// ShopFlags are the shop that orders and plans are kept in, and the time.
type ShopFlags struct {
	DataFlag
	Now string `help:"Do it as if it were this time in the shop's time zone, e.g. 2026-03-02T07:00. Default: now." placeholder:"TIME"`

	build string // by which run times are kept; empty: none are
}

// ColourFlag names garments of a line.
type ColourFlag struct {
	Colour string `help:"Colour of the garments, where the line's threads differ by it." placeholder:"COLOUR"`
}

// SizesFlags say what garments a line has.
type SizesFlags struct {
	Sizes      string   `help:"Garments by colour and size: a table (.csv, .xlsx), or typed: navy: S 10, M 20; white: M 3." placeholder:"TABLE"`
	On         []string `name:"threads-on" help:"Threads on garments of a colour, block by block, e.g. white=navy,red; may repeat." sep:"none" placeholder:"COLOUR=LIST"`
	Deliveries *string  `help:"Garments that come in several deliveries: 2026-03-10: 40; 2026-03-12: 60. Others come with --goods; empty: all do." placeholder:"LIST"`
	NamesFlags
	ApprovalFlags
	PartnerFlags
}

// NamesFlags are the pieces of a line that have names.
type NamesFlags struct {
	Names       string   `help:"Pieces with names: a list (.csv, .xlsx) with a row each, name and stitch file, size, colour; or typed: \"Anna,anna.dst;Jo,jo.dst\"." placeholder:"LIST"`
	NamesAlone  *bool    `help:"Each piece is sewn with its own file alone; else its lettering follows the design." negatable:""`
	NameThreads []string `help:"Threads of the lettering, block by block." placeholder:"LIST"`
}

// put gives a line its names; what is not given stays. Stitch files stand beside the
// list, or are designs of the shop.
func (f NamesFlags) put(d *desk, l *book.OrderLine, pieces bool) error {
	set(&l.NamesAlone, f.NamesAlone)
	if len(f.NameThreads) > 0 {
		l.NameThreads = f.NameThreads
	}
	if f.Names == "" {
		return nil
	}
	dir, inShop := ".", d.NameFinder(d.Context, l.Names)
	table, err := readTable(f.Names)
	if err == nil && table == nil {
		table, err = grid.Text(strings.ReplaceAll(f.Names, ";", "\n"))
	} else {
		dir = filepath.Dir(f.Names)
	}
	if err != nil {
		return usagef("--names: %v", err)
	}
	taken := map[string]string{} // each file once: a list may have it for hundreds of names
	names, bad, err := book.ReadNames(table, func(name string) (id string, err error) {
		if id, is := taken[name]; is {
			return id, nil
		}
		if _, err := os.Stat(filepath.Join(dir, filepath.FromSlash(name))); err == nil {
			if id, err = d.designFor(name, dir); err == nil {
				taken[name] = id
			}
			return id, err
		}
		if id, err = inShop(name); err != nil {
			return "", fmt.Errorf("%w, and there is no file %s", err, filepath.Join(dir, name))
		}
		return id, nil
	})
	if err == nil {
		err = book.BadNames(bad)
	}
	if err != nil {
		return usagef("--names: %v", err)
	}
	if l.Names = names; !pieces {
		l.Quantity = len(names)
	}
	return nil
}

// ApprovalFlags are the customer's word on a line's sample.
type ApprovalFlags struct {
	ApprovalDue *words.Day `help:"The day the customer's approval of the sample is expected: the line is not sewn before it." placeholder:"DAY"`
	SampleSent  *words.Day `help:"The day the sample was sent." placeholder:"DAY"`
	Approved    *words.Day `help:"The day the customer approved the sample." placeholder:"DAY"`
}

// PartnerFlags are another workshop that makes a line.
type PartnerFlags struct {
	Partner      *string       `help:"Another workshop that makes the line in place of the shop's machines; empty: none." placeholder:"NAME"`
	PartnerDays  *int          `help:"Days of the calendar until it is back from the partner." placeholder:"N"`
	PartnerPrice *money.Amount `help:"What the partner asks a piece, without tax." placeholder:"AMOUNT"`
	PartnerSent  *words.Day    `help:"The day it went to the partner." placeholder:"DAY"`
	PartnerBack  *words.Day    `help:"The day it came back, made." placeholder:"DAY"`
}

// put gives a line its partner; what is not given stays.
func (f PartnerFlags) put(l *book.OrderLine) {
	if f.Partner != nil && *f.Partner == "" {
		l.Partner = book.Partner{}
	}
	set(&l.Partner.Name, f.Partner)
	set(&l.Partner.Days, f.PartnerDays)
	set(&l.Partner.Price, f.PartnerPrice)
	set(&l.Partner.Sent, f.PartnerSent)
	set(&l.Partner.Back, f.PartnerBack)
}

// put gives a line its garments and its approval; what is not given stays.
func (f SizesFlags) put(d *desk, l *book.OrderLine, pieces bool) error {
	if err := f.NamesFlags.put(d, l, pieces); err != nil {
		return err
	}
	f.PartnerFlags.put(l)
	set(&l.Approval.Due, f.ApprovalDue)
	set(&l.Approval.Sent, f.SampleSent)
	set(&l.Approval.Given, f.Approved)
	if f.Deliveries != nil {
		all, err := book.ParseDeliveries(*f.Deliveries)
		if err != nil {
			return usagef("--deliveries: %v", err)
		}
		l.Deliveries = all
	}
	if f.Sizes != "" {
		rows, err := readSizes(f.Sizes)
		if err != nil {
			return usagef("--sizes: %v", err)
		}
		l.Sizes = rows
		if !pieces && f.Names == "" {
			l.Quantity = book.InSizes(rows)
		}
	}
	if len(f.On) > 0 {
		all, err := book.ParseThreadsOn(strings.Join(f.On, "\n"))
		if err != nil {
			return usagef("--threads-on: %v", err)
		}
		l.GarmentThreads = all
	}
	return nil
}

// readSizes reads a table of sizes: a file's, or what was typed.
func readSizes(s string) ([]book.SizeRow, error) {
	table, err := readTable(s)
	switch {
	case err != nil:
		return nil, err
	case table != nil:
		return book.SizesOf(table)
	}
	return book.ParseSizes(s)
}

// readTable reads the table of a file; nil where s is no file's name.
func readTable(s string) ([][]string, error) {
	if _, err := os.Stat(s); err != nil {
		switch strings.ToLower(filepath.Ext(s)) {
		case ".csv", ".tsv", ".txt", ".xlsx":
			return nil, err
		}
		return nil, nil
	}
	b, err := readGiven("", s, "name the table in it", grid.MaxBytes)
	if err != nil {
		return nil, err
	}
	return grid.Read(s, b)
}

// WhoFlag is who changes something.
type WhoFlag struct {
	Who string `help:"Who does it, for the history." placeholder:"NAME"`
}

// desk is an opened shop.
type desk struct {
	*Ctx
	*act.Shop
	w   *book.Workshop
	loc *time.Location
	// writer writes figures, days and times as the shop wants them.
	writer *words.Writer
	given  bool // somebody has said when the shop works
}

// use opens the shop, does something with it and closes it. It makes none.
func (f ShopFlags) use(c *Ctx, do func(*desk) error) error {
	path, there, err := f.place()
	if err != nil {
		return err
	}
	if !there {
		return usagef("there is no shop at %s; name its file with --data, or make one: needlepace plan setup, "+
			"needlepace order add, with --new where --data names it", store.Shown(path))
	}
	return f.open(c, path, do)
}

// useOrMake is use for what may be the first thing that a shop is told: it
// makes the shop where there is none, and says so.
func (f ShopFlags) useOrMake(c *Ctx, make MakeFlag, do func(*desk) error) error {
	path, there, err := f.place()
	if err != nil {
		return err
	}
	if err := make.may(f.DataFlag); err != nil {
		return err
	}
	return f.open(c, path, func(d *desk) error {
		if !there {
			shown := store.Shown(path)
			if here, err := os.Getwd(); err == nil && strings.HasPrefix(path, here+string(filepath.Separator)) {
				shown = path[len(here)+1:]
			}
			fmt.Fprintf(c.Err, "There was no shop at %s: a new one is made.\n", shown)
		}
		return do(d)
	})
}

// place is where the shop is, and whether there is one.
func (f DataFlag) place() (path string, there bool, err error) {
	if path, err = f.path(); err != nil {
		return "", false, err
	}
	there, err = store.There(context.Background(), path)
	return path, there, err
}

func (f ShopFlags) open(c *Ctx, path string, do func(*desk) error) error {
	opened, err := store.Open(c.Context, path)
	if err != nil {
		return err
	}
	var at time.Time
	opt := act.Options{Build: f.build, Now: func() time.Time {
		if at.IsZero() {
			return time.Now()
		}
		return at
	}}
	d := &desk{Ctx: c, Shop: act.New(opened, opt)}
	err = func() error {
		if why := opened.ReadOnly(); why != "" {
			fmt.Fprintf(c.Err, "needlepace: the shop is only read: %s.\n", why)
		} else if err := d.Migrate(c.Context); err != nil {
			return err
		}
		if d.w, d.given, err = d.Setups.Workshop(c.Context); err != nil {
			return err
		}
		d.loc = d.w.Location()
		set, err := d.Settings.Get(c.Context)
		if err != nil {
			return err
		}
		d.writer = &words.Writer{Zone: d.w.Zone, Inch: set.Length == "inch", Hours12: set.Hours == "12"}
		if f.Now != "" {
			if at, err = d.w.WallTime(f.Now); err != nil {
				return usagef("--now: %v", err)
			}
		}
		return do(d)
	}()
	return errors.Join(err, opened.Close())
}

// useOrder is use for what is about one order.
func (f ShopFlags) useOrder(c *Ctx, number string, do func(*desk, *book.Order) error) error {
	return f.use(c, func(d *desk) error {
		o, err := d.Orders.Get(c.Context, number)
		if err != nil {
			return err
		}
		return do(d, o)
	})
}

// find is an order by its number and a machine by its name.
func (d *desk) find(order, machine string) (*book.Order, *shop.Machine, error) {
	o, err := d.Orders.Get(d.Context, order)
	if err != nil {
		return nil, nil, err
	}
	m, err := d.Machines.Find(d.Context, machine)
	return o, m, err
}

// machineID is the ID of a machine of that name; "" of none.
func (d *desk) machineID(name string) (string, error) {
	if name == "" {
		return "", nil
	}
	m, err := d.Machines.Find(d.Context, name)
	if err != nil {
		return "", err
	}
	return m.ID, nil
}

// OrderCmd is about orders.
type OrderCmd struct {
	List    OrderListCmd    `cmd:"" default:"withargs" help:"The orders, soonest due first (the default)."`
	Show    OrderShowCmd    `cmd:"" help:"One order with its history."`
	Add     OrderAddCmd     `cmd:"" help:"Take in all orders of files (docs/orders-and-plan.md)."`
	Table   OrderTableCmd   `cmd:"" help:"Take in the orders of a table (.csv, .xlsx), or see what it would be."`
	Rough   OrderRoughCmd   `cmd:"" help:"Stitches, time and price of a design that has no stitch file yet, as ranges."`
	New     OrderNewCmd     `cmd:"" help:"Take in one order of one design."`
	Change  OrderChangeCmd  `cmd:"" help:"Change what an order asks for."`
	Move    OrderMoveCmd    `cmd:"" help:"Take an order to another state: requested, quoted, agreed, sewing, sewn, delivered, withdrawn."`
	Promise OrderPromiseCmd `cmd:"" help:"Promise the day that the plan can keep: the plan works to it from then on."`
	Came    OrderCameCmd    `cmd:"" help:"Say that garments of a line came, or that they come on another day."`
	Start   OrderStartCmd   `cmd:"" help:"Say that a line of an order is on a machine now."`
	After   OrderAfterCmd   `cmd:"" help:"How jobs that are sewn or delivered went against their quotes: time, cost, margin, and why."`
	Deliver OrderDeliverCmd `cmd:"" help:"Say that the customer got a part of an order, or all that is sewn; or take a delivery back."`
}

// OrderListCmd lists orders.
type OrderListCmd struct {
	ShopFlags
	All    bool     `help:"Delivered and withdrawn ones too."`
	State  []string `help:"Only these states." placeholder:"STATE"`
	Search string   `help:"Only those with these words." placeholder:"WORDS"`
	Sort   string   `help:"By due, number or customer." default:"due" enum:"due,number,customer"`
	JSON   bool     `name:"json" help:"One JSON object for each order, one a line."`
	CSV    bool     `name:"csv" help:"One CSV row for each line of an order."`
}

// Run lists them.
func (a *OrderListCmd) Run(c *Ctx) error {
	q := shop.OrderQuery{Search: a.Search, Sort: a.Sort, Limit: 5000}
	for _, s := range a.State {
		q.States = append(q.States, book.OrderState(s))
	}
	if len(a.State) == 0 && !a.All {
		for _, s := range book.OrderStates {
			if s.Open() {
				q.States = append(q.States, s)
			}
		}
	}
	return a.use(c, func(d *desk) error {
		orders, total, err := d.Orders.List(c.Context, q)
		if err != nil {
			return err
		}
		switch {
		case a.JSON:
			for _, o := range orders {
				if err := writeJSON(c.Out, o); err != nil {
					return err
				}
			}
			return nil
		case a.CSV:
			return ordersCSV(d, orders)
		}
		return ordersText(d, orders, total)
	})
}

// OrderShowCmd shows an order.
type OrderShowCmd struct {
	ShopFlags
	Order string `arg:"" help:"The order's number."`
	JSON  bool   `name:"json" help:"One JSON object."`
}

// Run shows it with its history.
func (a *OrderShowCmd) Run(c *Ctx) error {
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		return showOrder(d, o, a.JSON)
	})
}

// OrderAddCmd takes in files of orders.
type OrderAddCmd struct {
	ShopFlags
	Files []string `arg:"" name:"file" help:"Files of orders (TOML), or folders of them." type:"existingpath"`
	WhoFlag
	MakeFlag
}

// Run takes them in; what is wrong in one order is said, the others are kept.
func (a *OrderAddCmd) Run(c *Ctx) error {
	files, err := tomlFiles(a.Files)
	if err != nil {
		return err
	}
	return a.useOrMake(c, a.MakeFlag, func(d *desk) error {
		failed := false
		for _, path := range files {
			b, err := readSettings(path)
			if err != nil {
				return err
			}
			f, err := book.ParseOrders(path, b)
			if err != nil {
				fmt.Fprintln(c.Err, "needlepace:", err)
				failed = true
				continue
			}
			bad, err := d.addOrders(f, filepath.Dir(path), a.Who)
			if err != nil {
				return err
			}
			failed = failed || bad
		}
		if failed {
			return errPartial
		}
		return nil
	})
}

// addOrders keeps the orders of a file together and tells about each; bad reports
// whether one has something wrong. Stitch files are beside dir.
func (d *desk) addOrders(f *book.OrderFile, dir, by string) (bad bool, err error) {
	type found struct {
		id  string
		err error
	}
	known := map[string]found{} // by what the file calls it
	find := func(name string) (string, error) {
		x, is := known[name]
		if !is {
			x.id, x.err = d.designFor(name, dir)
			known[name] = x
		}
		return x.id, x.err
	}
	errs := make([]error, len(f.Order))
	var all []book.Order
	var keys []string
	for i, key := range f.Keys() {
		o, err := f.Order[i].AsOrder(find)
		if errs[i] = err; err == nil {
			all, keys = append(all, o), append(keys, key)
		}
	}
	added, err := d.AddOrders(d.Context, all, keys, by)
	if err != nil {
		return false, err
	}
	for i := range f.Order {
		if errs[i] == nil {
			x := added[0]
			added = added[1:]
			if x.Already != 0 {
				fmt.Fprintf(d.Out, "%d  %s: here already from a file that said the same, not taken in again\n", x.Already, f.Order[i].Customer)
				continue
			}
			if errs[i] = x.Err; x.Err == nil {
				d.tellOrder(x.Order, x.Notes)
				continue
			}
		}
		fmt.Fprintln(d.Err, "needlepace:", f.Errorf(fmt.Sprintf("order[%d]", i+1), "(%s): %v", f.Order[i].Customer, errs[i]))
		bad = true
	}
	return bad, nil
}

// tomlFiles expands folders into the TOML files in them.
func tomlFiles(args []string) ([]string, error) {
	var out []string
	for _, a := range args {
		info, err := os.Stat(a)
		if err != nil {
			return nil, usageError{err}
		}
		if !info.IsDir() {
			out = append(out, a)
			continue
		}
		in, err := filepath.Glob(filepath.Join(a, "*.toml"))
		if err != nil {
			return nil, err
		}
		if len(in) == 0 {
			return nil, usagef("folder %s has no .toml file", a)
		}
		out = append(out, in...)
	}
	return out, nil
}

// designFor finds a design of the shop, or takes in the stitch file of that
// name (by its path from dir).
func (d *desk) designFor(name, dir string) (string, error) {
	path := name
	if !filepath.IsAbs(path) {
		path = filepath.Join(dir, filepath.FromSlash(name))
	}
	info, err := os.Stat(path)
	if err != nil || info.IsDir() {
		des, err := d.Designs.Find(d.Context, name)
		if err != nil {
			return "", fmt.Errorf("%w, and there is no file %s", err, path)
		}
		return des.ID, nil
	}
	if info.Size() > d.Designs.Limits().FileBytes {
		return "", fmt.Errorf("%s has %d bytes; at most %d are taken in", path, info.Size(),
			d.Designs.Limits().FileBytes)
	}
	b, err := os.ReadFile(filepath.Clean(path))
	if err != nil {
		return "", err
	}
	added, err := d.AddFile(d.Context, filepath.Base(path), b)
	switch {
	case err != nil:
		return "", err
	case len(added) != 1:
		return "", fmt.Errorf("%s holds %d designs; name a file with one", path, len(added))
	case added[0].Design == nil:
		return "", fmt.Errorf("%s", added[0].Error)
	}
	return added[0].Design.ID, nil
}

// addOrder keeps an order and tells about it.
func (d *desk) addOrder(o book.Order, by string) error {
	kept, notes, err := d.AddOrder(d.Context, o, by)
	if err != nil {
		return err
	}
	d.tellOrder(kept, notes)
	return nil
}

// tellOrder tells about a new order.
func (d *desk) tellOrder(kept *book.Order, notes []string) {
	fmt.Fprintf(d.Out, "%d  %s: %s, %s, due %s\n", kept.Number, kept.Customer, plural(kept.Pieces(), "piece"),
		kept.State, dayOr(kept.Due, "any day"))
	tell(d.Ctx, notes)
}

// tell prints notes under what they are about.
func tell(c *Ctx, notes []string) {
	for _, n := range notes {
		fmt.Fprintln(c.Out, "      note:", n)
	}
}

func dayOr(day words.Day, none string) string {
	if day.IsZero() {
		return none
	}
	return day.Text(nil)
}

// OrderNewCmd takes in one order.
type OrderNewCmd struct {
	ShopFlags
	Customer  string    `required:"" help:"Whose order it is."`
	Design    string    `help:"A stitch file, or a design of the shop by its name; needed, but with --names-alone."`
	Pieces    int       `short:"n" help:"Pieces; left out: those of --sizes or --names."`
	Address   []string  `name:"customer-address" sep:"none" help:"A line of the customer's address, for the papers; may repeat." placeholder:"LINE"`
	Their     string    `name:"purchase-order" help:"The customer's own number for the order." placeholder:"NUMBER"`
	Due       words.Day `help:"The day the customer wants it, e.g. 2026-03-20." placeholder:"DAY"`
	Latest    words.Day `help:"The day after which it is of no use to the customer." placeholder:"DAY"`
	Goods     words.Day `help:"The day the garments come, where they are not here yet." placeholder:"DAY"`
	Priority  float64   `help:"Priority: what a late hour costs against an ordinary order's." default:"1"`
	Together  bool      `help:"All lines go to the customer in one delivery."`
	Agreed    bool      `help:"It is to be made; else it is only asked for."`
	Placement string    `help:"Where it is sewn, e.g. left chest."`
	Garment   string    `help:"Garment, e.g. polo, navy."`
	Threads   []string  `help:"The colour of each colour block in turn, e.g. navy,white; may repeat." placeholder:"LIST"`
	CapFrame  bool      `help:"It is sewn on a cap frame."`
	Metallic  bool      `help:"Metallic thread."`
	JobFlag
	Heavy    float64 `help:"Factor on the frame's acceleration for a heavy garment, e.g. 0.7." placeholder:"F"`
	Digitize bool    `help:"The digitizing fee is charged."`
	Note     string  `help:"Note for the floor."`
	SizesFlags
	WhoFlag
	MakeFlag
}

// Run takes it in.
func (a *OrderNewCmd) Run(c *Ctx) error {
	return a.useOrMake(c, a.MakeFlag, func(d *desk) error {
		id := ""
		if a.Design == "" && (a.NamesAlone == nil || !*a.NamesAlone) {
			return usagef("name a design with --design")
		}
		if a.Design != "" {
			var err error
			if id, err = d.designFor(a.Design, "."); err != nil {
				return err
			}
		}
		o := book.Order{Customer: a.Customer, CustomerAddress: a.Address, PurchaseOrder: a.Their, Due: a.Due, Latest: a.Latest, Goods: a.Goods, Weight: a.Priority, Note: a.Note, Together: a.Together,
			Lines: []book.OrderLine{{
				DesignID: id, Placement: a.Placement, Garment: a.Garment, Quantity: a.Pieces, Threads: a.Threads,
				Digitize:  a.Digitize,
				LineGoods: book.LineGoods{CapFrame: a.CapFrame, Metallic: a.Metallic, Heavy: a.Heavy, Job: a.Kinds},
			}}}
		if err := a.put(d, &o.Lines[0], a.Pieces != 0); err != nil {
			return err
		}
		if a.Agreed {
			o.State = book.Agreed
		}
		return d.addOrder(o, a.Who)
	})
}

// OrderChangeCmd changes an order.
type OrderChangeCmd struct {
	ShopFlags
	Order    string     `arg:"" help:"The order's number."`
	Line     int        `help:"Which line, for what is a line's." default:"1"`
	Customer *string    `help:"Whose order it is."`
	Address  []string   `name:"customer-address" sep:"none" help:"A line of the customer's address, for the papers; may repeat." placeholder:"LINE"`
	Their    *string    `name:"purchase-order" help:"The customer's own number for the order." placeholder:"NUMBER"`
	Due      *words.Day `help:"The day the customer wants it; empty for none." placeholder:"DAY"`
	Latest   *words.Day `help:"The day after which it is of no use to the customer." placeholder:"DAY"`
	Goods    *words.Day `help:"The day the garments come." placeholder:"DAY"`
	Promised *words.Day `help:"The day the customer was told." placeholder:"DAY"`
	Priority *float64   `help:"Priority: what a late hour costs against an ordinary order's."`
	Note     *string    `help:"Note for the floor."`
	Together *bool      `help:"All lines go to the customer in one delivery." negatable:""`
	Pieces   *int       `short:"n" help:"Pieces of the line."`
	Design   *string    `help:"Another design for the line: a stitch file, or a design of the shop."`
	Garment  *string    `help:"Garment of the line."`
	Threads  []string   `help:"The line's colours, block by block, e.g. navy,white; may repeat." placeholder:"LIST"`
	SizesFlags
	WhoFlag
}

// Run changes what is given and leaves the rest.
func (a *OrderChangeCmd) Run(c *Ctx) error {
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		l := o.Line(a.Line)
		if l == nil {
			return usagef("order %d has no line %d", o.Number, a.Line)
		}
		set(&o.Customer, a.Customer)
		set(&o.PurchaseOrder, a.Their)
		if len(a.Address) > 0 {
			o.CustomerAddress = a.Address
		}
		set(&o.Due, a.Due)
		set(&o.Latest, a.Latest)
		set(&o.Goods, a.Goods)
		set(&o.Promised, a.Promised)
		set(&o.Weight, a.Priority)
		set(&o.Note, a.Note)
		set(&o.Together, a.Together)
		set(&l.Quantity, a.Pieces)
		set(&l.Garment, a.Garment)
		if len(a.Threads) > 0 {
			l.Threads = a.Threads
		}
		if err := a.put(d, l, a.Pieces != nil); err != nil {
			return err
		}
		if a.Design != nil {
			if l.DesignID, err = d.designFor(*a.Design, "."); err != nil {
				return err
			}
		}
		kept, notes, err := d.ChangeOrder(c.Context, *o, a.Who)
		if err != nil {
			return err
		}
		h, err := d.Orders.History(c.Context, kept.ID)
		if err != nil {
			return err
		}
		if kept.Version == o.Version {
			fmt.Fprintf(c.Out, "%d: nothing to change\n", kept.Number)
		} else {
			fmt.Fprintf(c.Out, "%d: %s\n", kept.Number, h[len(h)-1].What)
		}
		tell(c, notes)
		return nil
	})
}

func set[T any](to *T, from *T) {
	if from != nil {
		*to = *from
	}
}

// OrderMoveCmd takes an order to another state.
type OrderMoveCmd struct {
	ShopFlags
	Order string `arg:"" help:"The order's number."`
	State string `arg:"" help:"The state it is in now."`
	Note  string `help:"Note on why, for the history."`
	WhoFlag
}

// Run moves it.
func (a *OrderMoveCmd) Run(c *Ctx) error {
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		if o, err = d.Orders.Move(c.Context, o.ID, o.Version, book.OrderState(strings.ToLower(a.State)), a.Note,
			a.Who); err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%d is %s.\n", o.Number, o.State)
		return nil
	})
}

// OrderPromiseCmd freezes the plan's day for an order, or asks which day could be.
type OrderPromiseCmd struct {
	ShopFlags
	Order  string  `arg:"" help:"The order's number."`
	Try    bool    `help:"Keep nothing: say which day can be, wherever the plan has room for it."`
	Chance float64 `help:"With --try: chance that the day is met. Default: the workshop's." placeholder:"PERCENT"`
	JSON   bool    `name:"json" help:"With --try: one JSON object."`
	WhoFlag
}

// Run promises it.
func (a *OrderPromiseCmd) Run(c *Ctx) error {
	if !a.Try && (a.Chance != 0 || a.JSON) {
		return usagef("--chance and --json go with --try: the order gets the day that the kept plan has for it")
	}
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		if a.Try {
			q := ask.PromiseQuestion{Now: d.Now(), Order: o.ID, Chance: a.Chance / 100}
			p, err := ask.Promise(c.Context, d.Asked(), q)
			if err != nil {
				return err
			}
			if a.JSON {
				return writeJSON(c.Out, p)
			}
			d.say("", p.Verdict, p.Caveats)
			return nil
		}
		p, err := ask.Promise(c.Context, d.Asked(), ask.PromiseQuestion{Now: d.Now(), Order: o.ID, AsPlanned: true})
		if err != nil {
			return err
		}
		if o, err = d.KeepPromise(c.Context, o.ID, nil, a.Who); err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%d is promised for %s.\n", o.Number, o.Promised.Text(nil))
		d.say("", p.Caveats)
		return nil
	})
}

// OrderStartCmd puts a line on a machine.
type OrderStartCmd struct {
	ShopFlags
	Order   string `arg:"" help:"The order's number."`
	Machine string `arg:"" help:"The machine's name."`
	Line    int    `help:"Which line. Default: the one that is planned on the machine." placeholder:"N"`
	Pieces  int    `short:"n" help:"How many pieces; default what the plan leaves the machine where it parts the line, else all that are left." placeholder:"N"`
	Here    bool   `name:"goods-here" help:"The goods are here, though the order says that they come later."`
	ColourFlag
	WhoFlag
}

// Run says so.
func (a *OrderStartCmd) Run(c *Ctx) error {
	return a.use(c, func(d *desk) error {
		o, m, err := d.find(a.Order, a.Machine)
		if err != nil {
			return err
		}
		if a.Line == 0 {
			if a.Line, err = d.LineOn(c.Context, o, m.ID); err != nil {
				return err
			}
		}
		if a.Here {
			if o, err = d.GoodsHere(c.Context, o.ID, a.Line, a.Who); err != nil {
				return err
			}
		}
		if o, err = d.Start(c.Context, o.ID, a.Line, m.ID, a.Pieces, a.Colour, a.Who); err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%d is on %s.\n", o.Number, m.Name)
		return nil
	})
}

// OrderCameCmd says what became of a delivery of garments.
type OrderCameCmd struct {
	ShopFlags
	Order string    `arg:"" help:"The order's number."`
	Due   words.Day `arg:"" name:"day" help:"The day they were to come, e.g. 2026-03-10."`
	Line  int       `help:"Which line." default:"1"`
	Day   words.Day `help:"The day. Default: today." placeholder:"DAY"`
	Late  words.Day `help:"They are not here: the day they come now." placeholder:"DAY"`
	WhoFlag
}

// Run says so.
func (a *OrderCameCmd) Run(c *Ctx) error {
	if !a.Late.IsZero() && !a.Day.IsZero() {
		return usagef("--day says that the garments came, --late that they did not; give one of them")
	}
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		kept, notes, err := d.GarmentsCame(c.Context, act.GarmentsQuestion{
			Order: o.ID, Line: a.Line, Due: a.Due, Came: a.Day, Late: a.Late,
		}, a.Who)
		if err != nil {
			return err
		}
		h, err := d.Orders.History(c.Context, kept.ID)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.Out, "%d: %s\n", kept.Number, h[len(h)-1].What)
		tell(c, notes)
		return nil
	})
}
