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
	notes, err = s.OrderNotes(ctx, kept)
	return kept, notes, err
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
			if out[i].Notes, err = n.notes(ctx, out[i].Order); err != nil {
				return nil, err
			}
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
	notes, err = s.OrderNotes(ctx, kept)
	return kept, notes, err
}

// OrderNotes is what a planner should know about an order: lines that no
// machine can make, designs taken off the list, a due day that has passed.
func (s *Shop) OrderNotes(ctx context.Context, o *book.Order) ([]string, error) {
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
	whys  map[string]string // by a line: why no machine can make it
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
		whys: map[string]string{}}, nil
}

func (n *noter) design(ctx context.Context, id string) (*shop.Design, error) {
	d, err := n.s.Designs.Get(ctx, id)
	return d, err
}

// unmade says why no machine can make a line; nothing where one can.
func (n *noter) unmade(ctx context.Context, l *book.OrderLine) (string, error) {
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

func (n *noter) notes(ctx context.Context, o *book.Order) ([]string, error) {
	notes := []string{}
	if o.State.Open() && !o.Due.IsZero() && o.Due.Before(n.today) {
		notes = append(notes, fmt.Sprintf("the due day %s has passed", o.Due.Text(nil)))
	}
	notes = append(notes, n.garments(o)...)
	for i := range o.Lines {
		l := &o.Lines[i]
		if l.Approval.Wanted() && o.State.Open() {
			notes = append(notes, fmt.Sprintf("line %d: %s", l.Line, l.Approval.Text(n.today).Text(nil)))
		}
		d, err := n.design(ctx, l.DesignID)
		if err != nil {
			return nil, err
		}
		if d.Removed {
			notes = append(notes, fmt.Sprintf("line %d: its design %q was taken off the list of designs; the order "+
				"keeps it, the plan leaves the line out until the design is put back", l.Line, d.Name))
			continue
		}
		if l.Partner.Sews() {
			if o.State.Open() {
				notes = append(notes, fmt.Sprintf("line %d: %s", l.Line, l.PartnerText(o.Goods, n.today).Text(nil)))
			}
			continue
		}
		whys, err := n.unmade(ctx, l)
		if err != nil {
			return nil, err
		}
		if whys != "" {
			notes = append(notes, fmt.Sprintf("line %d: no machine can make %s: %s", l.Line, d.Name,
				whys))
		}
		if n := len(l.Threads); n > d.ColourStops+1 {
			notes = append(notes, fmt.Sprintf("line %d: %d thread colours for %d colour blocks; the last ones are "+
				"not used", l.Line, n, d.ColourStops+1))
		}
	}
	return notes, nil
}
