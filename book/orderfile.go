package book

import (
	"cmp"
	"fmt"
	"slices"

	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/words"
)

// OrderKeys is one [[order]] of an orders file (docs/orders-and-plan.md).
type OrderKeys struct {
	Customer string     `toml:"customer"`
	Address  []string   `toml:"customer_address"` // lines
	Their    string     `toml:"purchase_order"`   // the customer's own number for it
	Note     string     `toml:"note"`
	Due      string     `toml:"due"`
	Latest   string     `toml:"latest"` // the day after which it is of no use
	Goods    string     `toml:"goods_come"`
	Priority *float64   `toml:"priority"`
	Together bool       `toml:"together"` // all lines go in one delivery
	State    OrderState `toml:"state"`    // requested (default) or agreed
	Line     []LineKeys `toml:"line"`
}

// LineKeys is one [[order.line]].
type LineKeys struct {
	Design       string       `toml:"design"` // a stitch file by its path from this file, or a design of the shop
	Placement    string       `toml:"placement"`
	Garment      string       `toml:"garment"`
	Quantity     int          `toml:"quantity"`
	Threads      []string     `toml:"threads"`
	Digitize     bool         `toml:"digitize"`
	MostMachines int          `toml:"most_machines"`
	Speed        float64      `toml:"speed"`
	CapFrame     bool         `toml:"cap_frame"`
	Metallic     bool         `toml:"metallic"`
	Job          machine.Jobs `toml:"job"`
	Heavy        float64      `toml:"heavy"`
	// Sizes are the garments by colour and size; quantity may be left out then.
	Sizes []SizeRow `toml:"sizes"`
	// Deliveries are when the garments come.
	Deliveries []Delivery `toml:"deliveries"`
	// Approval is the customer's word on the sample.
	Approval Approval `toml:"approval"`
	// Partner makes it in place of the shop's machines.
	Partner Partner `toml:"partner"`
	// Colours are the threads on garments of a colour.
	Colours []GarmentThreads `toml:"garment_threads"`
	// Names are the pieces one by one, each with its stitch file; without one, that which
	// is called as the name. quantity may be left out then.
	Names       []NameRow `toml:"names"`
	NamesAlone  bool      `toml:"names_alone"`
	NameThreads []string  `toml:"name_threads"`
}

// OrderFile is an orders file that has been read.
type OrderFile struct {
	Order []OrderKeys `toml:"order"`
	file  *tomlfile.File
}

// ParseOrders reads an orders file; errors name key, line and column.
func ParseOrders(name string, toml []byte) (*OrderFile, error) {
	f := &OrderFile{}
	var err error
	if f.file, err = tomlfile.Decode(name, toml, f); err != nil {
		return nil, err
	}
	if len(f.Order) == 0 {
		return nil, fmt.Errorf("%s: has no [[order]]", name)
	}
	for i, o := range f.Order {
		key := fmt.Sprintf("order[%d]", i+1)
		if o.Customer == "" {
			return nil, f.Errorf(key+".customer", "is missing")
		}
		if len(o.Line) == 0 {
			return nil, f.Errorf(key+".line", "is missing: give at least one [[order.line]] with design and quantity")
		}
		for k, l := range o.Line {
			at := fmt.Sprintf("%s.line[%d]", key, k+1)
			if l.Quantity == 0 {
				l.Quantity = cmp.Or(InSizes(l.Sizes), len(l.Names))
				o.Line[k].Quantity = l.Quantity
			}
			switch {
			case l.Design == "" && !(l.NamesAlone && len(l.Names) > 0):
				return nil, f.Errorf(at+".design", "is missing: give a stitch file or a design of the shop")
			case l.Quantity < 1:
				return nil, f.Errorf(at+".quantity", "is %d; give 1 or more pieces", l.Quantity)
			}
		}
	}
	return f, nil
}

// Keys are what the orders of the file are known again by: the same from all that each
// says, and another for a second one that says the same.
func (f *OrderFile) Keys() []string {
	keys, seen := make([]string, len(f.Order)), map[string]int{}
	for i := range f.Order {
		k := digestOf([]any{"orders file", &f.Order[i]})
		seen[k]++
		keys[i] = digestOf([]any{k, seen[k]})
	}
	return keys
}

// Errorf is an error about a key of the file: "order[2].due".
func (f *OrderFile) Errorf(key, format string, a ...any) error {
	return f.file.Errorf(key, nil, format, a...)
}

// AsOrder is the order of a file; designOf finds a line's design by what the
// file calls it.
func (k *OrderKeys) AsOrder(designOf func(name string) (id string, err error)) (Order, error) {
	o := Order{Customer: k.Customer, CustomerAddress: k.Address, PurchaseOrder: k.Their, Note: k.Note, Weight: 1,
		State: k.State, Together: k.Together}
	var err error
	if o.Due, err = words.ParseDay(k.Due); err != nil {
		return o, fmt.Errorf("the due day: %w", err)
	}
	if o.Latest, err = words.ParseDay(k.Latest); err != nil {
		return o, fmt.Errorf("the latest day: %w", err)
	}
	if o.Goods, err = words.ParseDay(k.Goods); err != nil {
		return o, fmt.Errorf("the day the goods come: %w", err)
	}
	if k.Priority != nil {
		o.Weight = *k.Priority
	}
	for _, l := range k.Line {
		id := ""
		if l.Design != "" {
			if id, err = designOf(l.Design); err != nil {
				return o, err
			}
		}
		names := slices.Clone(l.Names)
		for i := range names {
			n := &names[i]
			if n.DesignID, err = designOf(cmp.Or(n.DesignID, n.Name)); err != nil {
				return o, fmt.Errorf("name %d (%s): %w", i+1, n.Name, err)
			}
		}
		o.Lines = append(o.Lines, OrderLine{
			DesignID: id, Placement: l.Placement, Garment: l.Garment, Quantity: l.Quantity,
			Threads: l.Threads, Digitize: l.Digitize, MostMachines: l.MostMachines,
			LineGoods: LineGoods{Speed: l.Speed, CapFrame: l.CapFrame, Metallic: l.Metallic, Heavy: l.Heavy, Job: l.Job},
			LinePieces: LinePieces{Sizes: l.Sizes, GarmentThreads: l.Colours, Deliveries: l.Deliveries,
				Approval: l.Approval, Partner: l.Partner, LineNames: LineNames{Names: names, NamesAlone: l.NamesAlone, NameThreads: l.NameThreads}},
		})
	}
	return o, nil
}
