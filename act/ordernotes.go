package act

import (
	"context"
	"fmt"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// AddOrder keeps a new order. notes are what a planner should know: pieces no
// machine can make, a day that cannot be met whatever the plan.
func (s *Shop) AddOrder(ctx context.Context, o book.Order, by string) (kept *book.Order, notes []string, err error) {
	if kept, err = s.Orders.Add(ctx, o, by); err != nil {
		return nil, nil, err
	}
	said, err := s.OrderNotes(ctx, kept)
	return kept, said.Lines(), err
}

// AddedOrder is what came of one of several new orders.
type AddedOrder struct {
	Order   *book.Order // as it is kept; nil where it was here Already, or Err says why it is not
	Notes   []string    // as of AddOrder
	Already int         // number of the order that was kept with its key before; 0: none
	Err     error
}

// AddOrders keeps new orders together, those that nothing is wrong with. An order whose
// key was kept before is not kept again; nil keys: all are new. What a planner should
// know is reckoned once for all that are alike.
func (s *Shop) AddOrders(ctx context.Context, all []book.Order, keys []string, by string) ([]AddedOrder, error) {
	there, err := s.store.KeyedOrders(ctx, keys)
	if err != nil {
		return nil, err
	}
	out := make([]AddedOrder, len(all))
	var fresh []shop.NewOrder
	var of []int
	for i := range all {
		x := shop.NewOrder{Order: &all[i]}
		if keys != nil {
			x.Key, x.Digest = keys[i], keys[i]
			if out[i].Already = there[keys[i]].Number; out[i].Already != 0 {
				continue
			}
		}
		fresh, of = append(fresh, x), append(of, i)
	}
	errs, err := s.Orders.Begin(ctx, fresh, by)
	if err != nil {
		return nil, err
	}
	var good []shop.NewOrder
	for k, i := range of {
		if out[i].Err = errs[k]; errs[k] == nil {
			out[i].Order = fresh[k].Order
			good = append(good, fresh[k])
		}
	}
	if err := s.store.AddOrders(ctx, good); err != nil {
		return nil, err
	}
	n, err := s.noter(ctx)
	if err != nil {
		return nil, err
	}
	for i := range out {
		if out[i].Order != nil {
			said, err := n.notes(ctx, out[i].Order)
			if err != nil {
				return nil, err
			}
			out[i].Notes = said.Lines()
		}
	}
	return out, nil
}

// ChangeOrder changes what an order asks for, and says what a planner should
// know about it then.
func (s *Shop) ChangeOrder(ctx context.Context, o book.Order, by string) (kept *book.Order, notes []string, err error) {
	if kept, err = s.Orders.Change(ctx, o, by); err != nil {
		return nil, nil, err
	}
	said, err := s.OrderNotes(ctx, kept)
	return kept, said.Lines(), err
}

// OrderNotes is what a planner should know about an order: lines that no
// machine can make, designs taken off the list, a due day that has passed.
func (s *Shop) OrderNotes(ctx context.Context, o *book.Order) (words.Sentences, error) {
	n, err := s.noter(ctx)
	if err != nil {
		return nil, err
	}
	return n.notes(ctx, o)
}

// noter finds what a planner should know about orders, and looks up once what
// several of them ask for.
type noter struct {
	s     *Shop
	w     *book.Workshop
	today words.Day
	last  *book.Plan
	whys  map[string]words.Message // by a line: why no machine can make it
	cut   map[string]bool          // by a design: its file is cut short or damaged
}

func (s *Shop) noter(ctx context.Context) (*noter, error) {
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	last, err := s.Plans.Last(ctx)
	if err != nil {
		return nil, err
	}
	return &noter{s: s, w: w, today: w.Zone.Day(s.now()), last: last,
		whys: map[string]words.Message{}, cut: map[string]bool{}}, nil
}

func (n *noter) design(ctx context.Context, id string) (*shop.Design, error) {
	d, err := n.s.Designs.Get(ctx, id)
	return d, err
}

// unmade says why no machine can make a line; nothing where one can.
func (n *noter) unmade(ctx context.Context, l *book.OrderLine) (words.Message, error) {
	key := fmt.Sprint(l.DesignID, l.LineGoods, l.Threads, l.GarmentThreads, l.LineNames)
	if len(l.GarmentThreads) > 0 {
		key += fmt.Sprint(l.GarmentColours())
	}
	if whys, known := n.whys[key]; known {
		return whys, nil
	}
	whys, err := ask.NobodyMakes(ctx, n.s.Asked(), l)
	if err == nil {
		n.whys[key] = whys
	}
	return whys, err
}

func (n *noter) notes(ctx context.Context, o *book.Order) (words.Sentences, error) {
	notes := words.Sentences{}
	if o.State.Open() && !o.Due.IsZero() && o.Due.Before(n.today) {
		notes.Say("order-note.due-passed", words.Args{"day": o.Due})
	}
	of := func(l *book.OrderLine, what words.Value) {
		notes.Say("order-note.line", words.Args{"line": words.Whole(l.Line), "what": what})
	}
	notes = append(notes, n.garments(o)...)
	for i := range o.Lines {
		l := &o.Lines[i]
		if l.Approval.Wanted() && o.State.Open() {
			of(l, l.Approval.Text(n.today))
		}
		d, err := n.design(ctx, l.DesignID)
		if err != nil {
			return nil, err
		}
		if d.Removed {
			of(l, words.Say("order-note.design-gone", words.Args{"design": words.Name(d.Name)}))
			continue
		}
		if o.State.Open() {
			files, err := ask.CutShort(ctx, n.s.Asked(), l, n.cut)
			if err != nil {
				return nil, err
			}
			if len(files) > 0 {
				of(l, words.Say("order-note.cut", words.Args{"files": files}))
			}
		}
		if l.Partner.Sews() {
			if o.State.Open() {
				of(l, l.PartnerText(o.Goods, n.today))
			}
			continue
		}
		whys, err := n.unmade(ctx, l)
		if err != nil {
			return nil, err
		}
		if !whys.IsZero() {
			of(l, noMachine(d, whys))
		}
		if n := len(l.Threads); n > d.ColourStops+1 {
			of(l, words.Say("order-note.colours-over", words.Args{"colours": words.Whole(n), "blocks": words.Count(d.ColourStops+1, "colour-block")}))
		}
	}
	return notes, nil
}

// noMachine says why no machine can make a design.
func noMachine(d *shop.Design, why words.Message) words.Message {
	return words.Say("order-note.no-machine", words.Args{"design": words.Name(d.Name), "why": why})
}
