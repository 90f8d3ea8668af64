package act

import (
	"context"
	"fmt"
	"strings"

	"needlepace/ask"
	"needlepace/book"
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
	notes := []string{}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	if o.State.Open() && !o.Due.IsZero() && o.Due.Before(w.Zone.Day(s.now())) {
		notes = append(notes, fmt.Sprintf("the due day %s has passed", o.Due.Text(nil)))
	}
	garments, err := s.garmentNotes(ctx, w, o)
	if err != nil {
		return nil, err
	}
	notes = append(notes, garments...)
	for i := range o.Lines {
		l := &o.Lines[i]
		if l.Approval.Wanted() && o.State.Open() {
			notes = append(notes, fmt.Sprintf("line %d: %s", l.Line, l.Approval.Text(w.Zone.Day(s.now())).Text(nil)))
		}
		d, err := s.store.Design(ctx, l.DesignID)
		if err != nil {
			return nil, err
		}
		if d.Removed {
			notes = append(notes, fmt.Sprintf("line %d: its design %q was taken off the list of designs; the order "+
				"keeps it, the plan leaves the line out until the design is put back", l.Line, d.Name))
			continue
		}
		whys, err := ask.NobodyMakes(ctx, s.Asked(), l)
		if err != nil {
			return nil, err
		}
		if len(whys) > 0 {
			notes = append(notes, fmt.Sprintf("line %d: no machine can make %s: %s", l.Line, d.Name,
				strings.Join(whys, "; ")))
		}
		if n := len(l.Threads); n > d.ColourStops+1 {
			notes = append(notes, fmt.Sprintf("line %d: %d thread colours for %d colour blocks; the last ones are "+
				"not used", l.Line, n, d.ColourStops+1))
		}
	}
	return notes, nil
}
