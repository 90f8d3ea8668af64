package act

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// at refuses an act upon an order that is no longer at the version that somebody
// looked at; 0: nobody did.
func at(o *book.Order, saw int) error {
	if saw == 0 || saw == o.Version {
		return nil
	}
	return shop.Saying(shop.Conflict, words.Say("refused.changed", words.Args{"order": words.Name(strconv.Itoa(o.Number)),
		"now": words.Whole(o.Version), "saw": words.Whole(saw)}))
}

// reportOf finds a report of an order that stands, and its line.
func (s *Shop) reportOf(ctx context.Context, order, ref string, saw int) (
	*book.Order, *book.OrderLine, *book.Report, book.Seen, error,
) {
	seen, err := s.store.Seen(ctx)
	if err != nil {
		return nil, nil, nil, seen, err
	}
	o, err := s.Orders.Get(ctx, order)
	if err != nil {
		return nil, nil, nil, seen, err
	}
	r, err := s.Orders.Report(ctx, o, ref)
	if err != nil {
		return nil, nil, nil, seen, err
	}
	if r.TakenBack != nil {
		return nil, nil, nil, seen, shop.Saying(shop.Conflict, words.Say("refused.back-already", words.Args{
			"report": words.Whole(r.Number), "order": words.Name(strconv.Itoa(o.Number))}))
	}
	if err := at(o, saw); err != nil {
		return nil, nil, nil, seen, err
	}
	l := o.Line(r.Line)
	if l == nil {
		return nil, nil, nil, seen, shop.Saying(shop.NotFound, words.Say("refused.no-line", words.Args{
			"order": words.Name(strconv.Itoa(o.Number)), "line": words.Whole(r.Line)}))
	}
	return o, l, r, seen, nil
}

// off counts a report's pieces no longer. Those of a part that is on the machine since before are to be sewn there again.
func off(l *book.OrderLine, r *book.Report) {
	for i := range l.Holds {
		if h := &l.Holds[i]; h.Running && h.Quantity > 0 && h.MachineID == r.MachineID && !h.At.After(r.Added) &&
			(r.Colour == "" || h.Colour == "" || h.Colour == r.Colour) {
			h.Quantity += min(r.Good, l.Good)
		}
	}
	l.Good, l.Spoilt, l.Again = max(0, l.Good-r.Good), max(0, l.Spoilt-r.Spoilt), max(0, l.Again-r.Again)
}

// standAgain puts what went off a machine with a report on it again, where nothing else is on it now.
func (s *Shop) standAgain(ctx context.Context, l *book.OrderLine, r *book.Report) error {
	for _, h := range r.Ended {
		on, err := s.Orders.SewingOn(ctx, h.MachineID)
		if err != nil {
			return err
		}
		if on == "" && !onMachine(l, h.MachineID) {
			l.Holds = append(l.Holds, h)
		}
	}
	return nil
}

// onMachine reports whether something of a line is on a machine now.
func onMachine(l *book.OrderLine, machineID string) bool {
	return slices.ContainsFunc(l.Holds, func(h book.Hold) bool { return h.Running && h.MachineID == machineID })
}

// follow gives an order the state that its pieces ask for after a report was
// taken back or corrected, and says in words where it is another.
func follow(o *book.Order, l *book.OrderLine) (string, error) {
	if l.Good < l.Delivered {
		return "", shop.Saying(shop.Invalid, words.Say("refused.delivered", words.Args{"delivered": words.Whole(l.Delivered),
			"line": words.Whole(l.Line), "good": words.Whole(l.Good)}))
	}
	was := o.State
	begun := false
	for i := range o.Lines {
		x := &o.Lines[i]
		begun = begun || x.Good+x.Spoilt > 0
		for _, h := range x.Holds {
			begun = begun || h.Running
		}
	}
	switch {
	case o.State == book.Delivered && o.Left() > 0:
		return "", shop.Saying(shop.Invalid, words.Say("refused.order-delivered", words.Args{
			"order": words.Name(strconv.Itoa(o.Number)), "left": words.Whole(o.Left())}))
	case o.State.Planned() && o.Left() == 0:
		o.State = book.Sewn
	case o.State == book.Sewn && o.Left() > 0, o.State.Planned():
		o.State = book.Agreed
		if begun {
			o.State = book.Sewing
		}
	}
	if o.State == was {
		return "", nil
	}
	return fmt.Sprintf("; the order is %s (was %s)", o.State, was), nil
}

// TakeBack takes a report back: it stays in the list and no longer counts. The
// order's pieces and its state follow, and what machines learned from it goes.
// ref is the report's number or ID; saw the version of the order that was looked
// at, 0 for whatever it is. One that was taken back meanwhile is a Conflict.
func (s *Shop) TakeBack(ctx context.Context, order, ref string, saw int, why, by string) (*book.Order, error) {
	o, l, r, seen, err := s.reportOf(ctx, order, ref, saw)
	if err != nil {
		return nil, err
	}
	if err := shop.CheckText("note", why, 1000, false); err != nil {
		return nil, shop.At("why", err)
	}
	off(l, r)
	if err := s.standAgain(ctx, l, r); err != nil {
		return nil, err
	}
	state, err := follow(o, l)
	if err != nil {
		return nil, err
	}
	what := fmt.Sprintf("report %d taken back: line %d: %s%s", r.Number, r.Line, reportWords(r)+inColour(r), state)
	if why = strings.TrimSpace(why); why != "" {
		what += ": " + why
	}
	seen = book.Seen{Workshop: seen.Workshop, Machines: seen.Machines}
	back := &shop.Back{ID: r.ID, TakenBack: book.TakenBack{At: s.now().UTC(), By: by, Why: why}}
	return s.keep(ctx, seen, o, by, what, shop.Keeping{Back: back})
}

// Correct puts another report in the place of one: the old one stays in the list
// and no longer counts. r says all of the new one; it is held against the sheet
// of now. Its line stays the old one's.
func (s *Shop) Correct(ctx context.Context, order, ref string, r book.Report, how Recording, by string) (
	*Recorded, error,
) {
	o, err := s.Orders.Get(ctx, order)
	if err != nil {
		return nil, err
	}
	if was, err := s.kept(ctx, o.ID, 0, how); was != nil || err != nil {
		return was, err
	}
	o, l, old, seen, err := s.reportOf(ctx, order, ref, how.Saw)
	if err != nil {
		return nil, err
	}
	if o.State == book.Requested || o.State == book.Quoted {
		return nil, shop.Saying(shop.Invalid, words.Say("refused.not-recorded", words.Args{
			"order": words.Name(strconv.Itoa(o.Number)), "state": words.Say("order-state." + string(o.State))}))
	}
	r.OrderID, r.Line, r.Corrects = o.ID, old.Line, old.ID
	if r.Day.IsZero() {
		r.Day = old.Day
	}
	off(l, old)
	if err := s.standAgain(ctx, l, old); err != nil {
		return nil, err
	}
	out, k, err := s.take(ctx, o, l, &r, how, by)
	if err != nil {
		return nil, err
	}
	state, err := follow(o, l)
	if err != nil {
		return nil, err
	}
	what := fmt.Sprintf("report %d corrected: line %d: %s on %s (was %s)%s", old.Number, l.Line, reportWords(&r),
		out.machine+inColour(&r), reportWords(old)+inColour(old), state)
	if n := strings.TrimSpace(r.Note); n != "" && n != old.Note {
		what += ": " + n
	}
	k.Back = &shop.Back{ID: old.ID, TakenBack: book.TakenBack{At: r.Added, By: by, Why: "corrected"}}
	r.Added = old.Added // its pieces were there by then: what is sewn since is counted from there
	seen = book.Seen{Workshop: seen.Workshop, Machines: seen.Machines}
	if out.Order, err = s.keep(ctx, seen, o, by, what, k); err != nil {
		return nil, err
	}
	out.Report = r
	return out, nil
}
